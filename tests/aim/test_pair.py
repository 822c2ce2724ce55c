"""Two loudspeakers, one fixed under the other, solved together: the proof against sampling."""

from dataclasses import replace

import numpy as np
import pytest
from pair_scenes import random_pair, scalar_pair_objective_db
from random_scenes import sample_placements
from second_formula import Fast

from aiming.aim.bounding import bound_and_try
from aiming.aim.boxes import COLUMN_OF, Boxes
from aiming.aim.cutting import roots
from aiming.aim.enclosure import enclose
from aiming.aim.pose import pose, settle
from aiming.aim.problem import Problem
from aiming.aim.search import SearchResult, Status, lowest_within, search
from aiming.aim.tolerance import Tolerance, worst_within
from aiming.base.arrays import FloatArray
from aiming.speaker.speaker import Placement, Placements

ROUNDING_DB = 1e-7
CAP = 1200


def sampled(problem: Problem, rng: np.random.Generator, count: int) -> Placement:
    """Random placements that keep the limits, splays among them."""
    alone = replace(problem, under=None)
    sample = sample_placements(alone, rng, count)
    fast = Fast(alone)
    sample = sample.pick(fast.allowed(sample))
    low, high = problem.splay_deg
    splay = rng.choice([low, high, *rng.uniform(low, high, 30)], len(sample))
    return Placements.of(sample.x_m, fast.height_m(sample), sample.tilt_deg, sample.flipped, splay)


def about(problem: Problem, best: Placement, rng: np.random.Generator, count: int) -> Placement:
    """Placements around one, within the ranges, that keep the limits."""
    size = 10.0 ** rng.uniform(-3.0, 0.0, count)
    hang = problem.hang
    tilt = np.clip(best.tilt_deg + 10.0 * size * rng.normal(size=count), *hang.tilt_deg)
    drop = problem.drop_m(best.tilt_deg, bool(best.flipped))
    v = float(best.height_m) - float(drop) + size * rng.normal(size=count)
    moved = problem.drop_m(tilt, bool(best.flipped))
    placement = Placements.of(
        np.clip(best.x_m + size * rng.normal(size=count), *hang.x_m),
        np.clip(v, *hang.vertical_m) + moved,
        tilt,
        np.full(count, best.flipped),
        np.clip(best.splay_deg + 10.0 * size * rng.normal(size=count), *problem.splay_deg),
    )
    good = np.flatnonzero(problem.allowed(placement))
    return Placements.of(
        *(np.asarray(of)[good] for of in (placement.x_m, placement.height_m, placement.tilt_deg)),
        flipped=np.asarray(placement.flipped)[good],
        splay_deg=np.asarray(placement.splay_deg)[good],
    )


def check_placement(problem: Problem, found: SearchResult) -> None:
    """Within the ranges, and its objective is what loops over numbers say."""
    best = found.placement
    assert best is not None
    low, high = problem.splay_deg
    assert low - 1e-9 <= best.splay_deg <= high + 1e-9
    expected = scalar_pair_objective_db(
        problem, best.x_m, best.height_m, best.tilt_deg, best.flipped, best.splay_deg
    )
    assert found.objective_db == pytest.approx(expected, abs=ROUNDING_DB)


@pytest.mark.parametrize("seed", range(60))
def test_nothing_sampled_is_better(seed: int) -> None:
    """Of thousands of placements and splays none is better by more than the gap."""
    problem = random_pair(seed)
    rng = np.random.default_rng(seed)
    found = search(problem, gap_db=0.05, most_boxes=CAP)
    spots = sampled(problem, rng, 3000)
    values = problem.objective_db(spots)
    if found.placement is None:
        assert found.status is Status.UNDECIDED or not np.isfinite(values).any()
        return
    check_placement(problem, found)
    near = problem.objective_db(about(problem, found.placement, rng, 1500))
    least = min(values.min(initial=np.inf), near.min(initial=np.inf))
    assert least >= found.objective_db - found.gap_db - ROUNDING_DB
    if found.status is Status.PROVEN:
        assert found.gap_db <= 0.05


def sub_boxes(problem: Problem, rng: np.random.Generator, count: int) -> Boxes:
    """Random boxes inside the roots, of every size from whole to a ten-thousandth."""
    whole = roots(problem)
    assert whole is not None
    of = rng.integers(0, len(whole), count)
    half = whole.half[of] * np.minimum(1.0, 10.0 ** rng.uniform(-4.0, 0.3, (count, 4)))
    centre = whole.centre[of] + (whole.half[of] - half) * rng.uniform(-1.0, 1.0, (count, 4))
    return Boxes(centre, half, whole.piece[of], whole.flipped[of])


def points_of(boxes: Boxes, t: FloatArray) -> Boxes:
    """(b·n) points without extent inside boxes, t (n, 4) of their half-widths."""
    centre = (boxes.centre[:, np.newaxis] + boxes.half[:, np.newaxis] * t).reshape(-1, 4)
    piece, flipped = (np.repeat(of, len(t)) for of in (boxes.piece, boxes.flipped))
    return Boxes(centre, np.zeros_like(centre), piece, flipped)


def spots_of(problem: Problem, points: Boxes) -> Placement:
    """The placements that points stand for."""
    tilt, height = settle(problem, points)
    x, splay = points.centre[:, 2], points.centre[:, 3]
    return Placements.of(x, height, np.degrees(tilt), points.flipped, splay)


@pytest.mark.parametrize("seed", range(50))
def test_enclosures_hold(seed: int) -> None:
    """Levels at corners and random points of random boxes lie in the boxes' enclosures."""
    problem = random_pair(seed)
    rng = np.random.default_rng(seed)
    if roots(problem) is None:
        return
    boxes = sub_boxes(problem, rng, 40)
    enclosure = enclose(problem, boxes, pose(problem, boxes))
    t = np.concatenate([rng.choice([-1.0, 1.0], (16, 4)), rng.uniform(-1.0, 1.0, (12, 4))])
    levels = problem.levels_db(spots_of(problem, points_of(boxes, t)))
    if problem.objective == "spread":
        levels = levels.mean(axis=1, keepdims=True)
    levels = levels.reshape(len(boxes), len(t), *levels.shape[1:])
    middle = enclosure.const[:, np.newaxis]
    play = np.zeros_like(middle)
    for place, k in enumerate(enclosure.active):
        gen = enclosure.gen[place][:, np.newaxis]
        if k in COLUMN_OF:
            middle = middle + gen * t[:, COLUMN_OF[k]][:, np.newaxis, np.newaxis]
        else:
            play = play + np.abs(gen)
    known = ~np.isnan(levels)
    low = middle - play + enclosure.low[:, np.newaxis]
    high = middle + play + enclosure.high[:, np.newaxis]
    assert not (known & np.isnan(low)).any()
    assert (levels >= low - ROUNDING_DB)[known].all()
    assert (levels <= high + ROUNDING_DB)[known].all()
    tiny = (boxes.half < 0.01).all(axis=1) & known.all(axis=(1, 2, 3))
    assert np.isfinite(enclosure.low[tiny]).all()


class Aside:
    """A goal that wants every bound worked out and looks at no placement."""

    enough_db = np.inf

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        """Nothing is kept."""


@pytest.mark.parametrize("seed", range(40))
def test_lower_bounds_hold(seed: int) -> None:
    """No allowed point of a box lies below its bound."""
    problem = random_pair(seed)
    rng = np.random.default_rng(1000 + seed)
    if roots(problem) is None:
        return
    boxes = sub_boxes(problem, rng, 30)
    lower, left = bound_and_try(problem, boxes, Aside())
    if not len(left):
        return
    t = np.concatenate([np.zeros((1, 4)), rng.uniform(-1.0, 1.0, (60, 4))])
    spots = spots_of(problem, points_of(left, t))
    values = np.where(problem.allowed(spots), problem.objective_db(spots), np.inf)
    assert (values.reshape(len(left), len(t)) >= lower[:, np.newaxis] - ROUNDING_DB).all()


def quiet(problem: Problem) -> Problem:
    """The same with a second loudspeaker 300 dB down."""
    assert problem.under is not None
    bands = len(problem.pattern.band_hz)
    return replace(problem, under=replace(problem.under, louder_db=np.full(bands, -300.0)))


@pytest.mark.parametrize("seed", range(0, 30, 3))
def test_an_unheard_second_changes_nothing(seed: int) -> None:
    """Then the best is that of the first alone."""
    problem = random_pair(seed)
    if problem.under is not None and np.isnan(problem.under.pattern.level_db).any():
        return
    both = search(quiet(problem), gap_db=0.05, most_boxes=CAP)
    alone = search(replace(problem, under=None), gap_db=0.05, most_boxes=CAP)
    if both.placement is None or alone.placement is None:
        return
    assert both.objective_db - both.gap_db <= alone.objective_db + 1e-9
    if problem.under is not None and problem.under.pattern.angle_deg[0] == -180.0:
        assert alone.objective_db - alone.gap_db <= both.objective_db + 1e-9


@pytest.mark.parametrize("seed", range(0, 40, 5))
def test_lowest_and_worst(seed: int) -> None:
    """The lowest keeps its distance from the best; the worst case is worse than the middle."""
    problem = random_pair(seed)
    best = search(problem, gap_db=0.05, most_boxes=CAP)
    if best.placement is None:
        return
    low = lowest_within(problem, best, within_db=0.5, gap_db=0.05, most_boxes=CAP)
    check_placement(problem, low)
    assert low.objective_db <= best.objective_db + 0.5 + 1e-9
    tolerance = Tolerance(tilt_deg=0.5, height_m=0.05, x_m=0.02)
    worst = worst_within(problem, best.placement, tolerance, gap_db=0.2)
    rng = np.random.default_rng(seed)
    if not np.isfinite(worst.objective_db):
        return
    at = best.placement
    moved = Placements.of(
        at.x_m + rng.uniform(-0.02, 0.02, 400),
        at.height_m + rng.uniform(-0.05, 0.05, 400),
        at.tilt_deg + rng.uniform(-0.5, 0.5, 400),
        at.flipped,
        at.splay_deg,
    )
    assert problem.objective_db(moved).max() <= worst.bound_db + ROUNDING_DB


def test_same_way_twice() -> None:
    """Two runs give the same to the bit."""
    assert search(random_pair(4), gap_db=0.05) == search(random_pair(4), gap_db=0.05)

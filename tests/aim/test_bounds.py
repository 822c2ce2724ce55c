"""What the proof stands on: enclosures hold, lower bounds hold, and cutting loses nothing.

Random scenes as in tests/aim/test_search.py; ROUNDING_DB likewise.
"""

from dataclasses import replace

import numpy as np
import pytest
from random_scenes import close_problem, random_problem, sample_placements
from second_formula import Fast, Sample

from aiming.aim.bounding import bound_and_try
from aiming.aim.boxes import Boxes
from aiming.aim.cutting import cut, roots
from aiming.aim.enclosure import enclose
from aiming.aim.pose import pose, settle
from aiming.aim.problem import Problem
from aiming.base.arrays import BoolArray, FloatArray
from aiming.speaker.speaker import Placement, Placements

ROUNDING_DB = 1e-7


def sub_boxes(problem: Problem, rng: np.random.Generator, count: int) -> Boxes:
    """Random boxes inside the roots, of every size from whole to a ten-thousandth."""
    whole = roots(problem)
    assert whole is not None
    of = rng.integers(0, len(whole), count)
    half = whole.half[of] * np.minimum(1.0, 10.0 ** rng.uniform(-4.0, 0.3, (count, 3)))
    play = whole.half[of] - half
    centre = whole.centre[of] + play * rng.uniform(-1.0, 1.0, (count, 3))
    return Boxes(centre, half, whole.piece[of], whole.flipped[of])


def points_of(boxes: Boxes, t: FloatArray) -> Boxes:
    """(b·n) points without extent inside boxes, t (n, 3) of their half-widths."""
    centre = boxes.centre[:, np.newaxis] + boxes.half[:, np.newaxis] * t
    count = len(t)
    return Boxes(
        centre.reshape(-1, 3),
        np.zeros((len(boxes) * count, 3)),
        np.repeat(boxes.piece, count),
        np.repeat(boxes.flipped, count),
    )


@pytest.mark.parametrize("seed", range(60))
def test_enclosures_hold(seed: int) -> None:
    """Every row and channel at points of random boxes lies in const + Σ gen·t + [low, high].

    Of the two unknowns for what is left over in tilt and height only |t| ≤ 1 is known.
    """
    problem = random_problem(seed)
    rng = np.random.default_rng(seed)
    if roots(problem) is None:
        return
    check_enclosures(problem, sub_boxes(problem, rng, 60), rng)


def check_enclosures(problem: Problem, boxes: Boxes, rng: np.random.Generator) -> None:
    """Levels at corners, centres and random points of boxes against the boxes' enclosures."""
    enclosure = enclose(problem, boxes, pose(problem, boxes))
    corners = np.array([[a, b, c] for a in (-1, 1) for b in (-1, 1) for c in (-1, 1)], dtype=float)
    t = np.concatenate([corners, np.zeros((1, 3)), rng.uniform(-1.0, 1.0, (16, 3))])
    points = points_of(boxes, t)
    tilt, height = settle(problem, points)
    levels = problem.levels_db(
        Placements.of(points.centre[:, 2], height, np.degrees(tilt), points.flipped)
    )
    if not problem.per_band:
        levels = levels.mean(axis=1, keepdims=True)
    levels = levels.reshape(len(boxes), len(t), *levels.shape[1:])
    middle = enclosure.const[:, np.newaxis]
    play = np.zeros_like(middle)
    for place, k in enumerate(enclosure.active):
        gen = enclosure.gen[place][:, np.newaxis]
        if k < 3:
            middle = middle + gen * t[:, k][:, np.newaxis, np.newaxis]
        else:
            play = play + np.abs(gen)
    known = ~np.isnan(levels)
    low = middle - play + enclosure.low[:, np.newaxis]
    high = middle + play + enclosure.high[:, np.newaxis]
    assert not (known & np.isnan(low)).any()
    assert (levels >= low - ROUNDING_DB)[known].all()
    assert (levels <= high + ROUNDING_DB)[known].all()


@pytest.mark.parametrize("seed", range(20))
def test_enclosures_hold_around_a_row(seed: int) -> None:
    """Boxes whose centre lies within millimetres of a row's ears, from tiny to metres large."""
    rng = np.random.default_rng(seed)
    problem = random_problem(seed)
    count = 30
    row = rng.integers(0, len(problem.rows), count)
    away = 10.0 ** rng.uniform(-4.0, -1.0, count)
    turn = rng.uniform(0.0, 2.0 * np.pi, count)
    half = 10.0 ** rng.uniform(-3.0, 0.7, (count, 3))
    half[:, 0] *= rng.choice([0.0, 10.0])
    boxes = Boxes(
        np.stack(
            [
                rng.uniform(-60.0, 60.0, count),
                problem.rows.z_m[row] + away * np.sin(turn),
                problem.rows.x_m[row] + away * np.cos(turn),
            ],
            axis=1,
        ),
        half,
        np.full(count, -1),
        rng.random(count) < 0.5,
    )
    check_enclosures(problem, boxes, rng)


def runs_m(problem: Problem) -> FloatArray:
    """(pieces, 2) from start to end of each piece of the audience planes."""
    return np.asarray(problem.planes.end_m - problem.planes.start_m)


def meeting(
    start_m: FloatArray, run_m: FloatArray, x_m: FloatArray, height_m: FloatArray, tilt: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Share along the line of each piece where axes meet it, and whether ahead of the box."""
    ax, az = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    dx, dz = start_m[:, 0] - x_m, start_m[:, 1] - height_m
    turn = run_m[:, 1] * ax - run_m[:, 0] * az
    q = (dx * az - dz * ax) / np.where(turn == 0.0, 1.0, turn)
    out = (dx + q * run_m[:, 0]) * ax + (dz + q * run_m[:, 1]) * az
    return q, np.asarray((turn != 0.0) & (out > 0.0))


@pytest.mark.parametrize("close", [False, True])
@pytest.mark.parametrize("seed", range(30))
def test_cutting_loses_nothing(seed: int, close: bool) -> None:
    """After many cuts each allowed placement still lies in one of the boxes."""
    problem = close_problem(seed) if close else random_problem(seed)
    rng = np.random.default_rng(seed)
    boxes = roots(problem)
    if boxes is None:
        return
    sample = sample_placements(problem, rng, 400)
    sample = sample.pick(Fast(problem).allowed(sample))
    if problem.pattern.symmetric and not boxes.flipped.any():
        sample = sample.pick(~sample.flipped)  # one orientation stands for both
    height = Fast(problem).height_m(sample)
    for _ in range(4):
        boxes = cut(problem, boxes)
        boxes = boxes.pick(np.sort(rng.permutation(len(boxes))[:400]))
        here = inside(problem, boxes, sample, height)
        sample = sample.pick(
            np.asarray(here.any(axis=1))
        )  # the others lay in boxes that were put away
        height = Fast(problem).height_m(sample)
        pieces = cut(problem, boxes)
        assert inside(problem, pieces, sample, height).any(axis=1).all()


def inside(problem: Problem, boxes: Boxes, sample: Sample, height_m: FloatArray) -> BoolArray:
    """(placements, boxes) whether a placement lies in a box, to rounding."""
    slack = 1e-9
    good = sample.flipped[:, np.newaxis] == boxes.flipped
    for value, k in ((sample.v_m, 1), (sample.x_m, 2)):
        good &= np.abs(value[:, np.newaxis] - boxes.centre[:, k]) <= boxes.half[:, k] + slack
    tilt = sample.tilt_deg[:, np.newaxis]
    in_tilt = np.abs(tilt - boxes.centre[:, 0]) <= boxes.half[:, 0] + slack
    start, run = problem.planes.start_m[boxes.piece], runs_m(problem)[boxes.piece]
    q, ahead = meeting(start, run, sample.x_m[:, np.newaxis], height_m[:, np.newaxis], tilt)
    aimed = ahead & (np.abs(q - boxes.centre[:, 0]) <= boxes.half[:, 0] + slack)
    return np.asarray(good & np.where(boxes.piece < 0, in_tilt, aimed))


@pytest.mark.parametrize("seed", range(40))
def test_every_tilt_of_an_aim_point(seed: int) -> None:
    """Trim, x and aim point may belong to several tilts: a box that holds them knows them all."""
    problem = close_problem(seed)
    rng = np.random.default_rng(seed)
    sample = sample_placements(problem, rng, 3000)
    height = Fast(problem).height_m(sample)
    piece = rng.integers(0, len(problem.planes), len(sample))
    start, run = problem.planes.start_m[piece], runs_m(problem)[piece]
    q, ahead = meeting(start, run, sample.x_m, height, sample.tilt_deg)
    hit = ahead & (q >= 0.0) & (q <= 1.0)
    half = 10.0 ** rng.uniform(-5.0, -0.5, (len(sample), 3))
    centre = np.stack([q, sample.v_m, sample.x_m], axis=1)
    centre += half * rng.uniform(-0.999, 0.999, centre.shape)
    boxes = Boxes(centre, half, piece, sample.flipped).pick(hit)
    at = pose(problem, boxes)
    off = np.radians(sample.tilt_deg[hit]) - at.tilt
    off -= 2.0 * np.pi * np.round(off / (2.0 * np.pi))
    assert (np.abs(off) <= np.abs(at.tilt_gen).sum(axis=0) + 1e-9).all()
    reach = np.hypot(height[hit] - at.height, sample.x_m[hit] - boxes.centre[:, 2])
    assert (reach <= at.reach_m + 1e-9).all()


class Aside:
    """A goal that wants every bound worked out and looks at no placement."""

    enough_db = np.inf

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        """Nothing is kept."""


@pytest.mark.parametrize("seed", range(60))
def test_lower_bounds_hold(seed: int) -> None:
    """No allowed point of a random box lies below the box's bound, nor in a box ruled out."""
    check_bounds(random_problem(seed), np.random.default_rng(1000 + seed))


@pytest.mark.parametrize("seed", range(30))
def test_lower_bounds_hold_over_the_front_row(seed: int) -> None:
    """With a limit to the view from a front row that lies below the middle of the range of x."""
    problem = random_problem(seed)
    rng = np.random.default_rng(seed)
    middle = float(rng.uniform(problem.rows.x_m.min(), problem.rows.x_m.max()))
    ear = float(problem.rows.z_m[0])
    hang = replace(
        problem.hang,
        x_m=(middle - 4.0, middle + 4.0),
        vertical_m=(ear + float(rng.uniform(-0.5, 1.0)), ear + 4.0),
    )
    check_bounds(
        replace(
            problem,
            hang=hang,
            max_front_elevation_deg=float(rng.uniform(20.0, 60.0)),
            front_ear_m=(middle, ear),
        ),
        rng,
    )


def check_bounds(problem: Problem, rng: np.random.Generator) -> None:
    """Bounds of random boxes against allowed points in them."""
    if roots(problem) is None:
        return
    boxes = sub_boxes(problem, rng, 40)
    lower, left = bound_and_try(problem, boxes, Aside())
    bound = np.full(len(boxes), np.inf)
    for value, centre, half, piece, flipped in zip(
        lower, left.centre, left.half, left.piece, left.flipped, strict=True
    ):
        same = (boxes.centre == centre).all(axis=1) & (boxes.half == half).all(axis=1)
        bound[same & (boxes.piece == piece) & (boxes.flipped == flipped)] = value
    t = np.concatenate([np.zeros((1, 3)), rng.uniform(-1.0, 1.0, (80, 3))])
    points = points_of(boxes, t)
    tilt = np.degrees(settle(problem, points)[0])
    sample = Sample(points.centre[:, 2], points.centre[:, 1], tilt, points.flipped)
    fast = Fast(problem)
    # The points' own axes meet the audience by construction, where boxes run over aim points.
    by_aim = replace(problem, axis_on_audience=problem.axis_on_audience and boxes.piece[0] < 0)
    allowed = Fast(by_aim).allowed(sample)
    values = np.where(allowed, fast.objective_db(sample), np.inf).reshape(len(boxes), len(t))
    assert (values >= bound[:, np.newaxis] - ROUNDING_DB).all()

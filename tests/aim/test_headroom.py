"""Lines that have to fit under the steel: a limit of the search like the reachable tilt.

What is allowed is read here from the hooks, turned apart from the code.
"""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from bound_scenes import boxes_of, scene
from hung_boxes import BAR, BOX, PULL
from random_scenes import random_problem, sample_placements
from second_formula import Fast

from aiming.aim.bounding import limits_over, possible_boxes
from aiming.aim.boxes import GENERATORS
from aiming.aim.limits import limited_by, reliefs
from aiming.aim.pose import pose
from aiming.aim.search import Status, search
from aiming.rigging.lines import headroom_of
from aiming.rigging.loads import loads_at
from aiming.speaker.headroom import NO_ROOM_M, Hanger, Headroom
from aiming.speaker.rigging import Line, LinePart, Rigging
from aiming.speaker.speaker import Placement

GAP_DB = 0.05


def over(under, tilt_deg, height_m):
    """How much too high a single place is: each hook's own line, by plain trigonometry."""
    most = -np.inf
    for one in under.hangers:
        tilt = radians(tilt_deg)
        hook = one.u_m * sin(tilt) + one.w_m * cos(tilt)
        if one.plumb_m:
            hook += one.plumb_m / cos(tilt)
        most = max(most, height_m + hook + sum(length for _, length in one.parts) - under.steel_m)
    return most


def random_headroom(rng, steel_m):
    hangers = [
        Hanger(
            *rng.uniform(-0.6, 0.6, 2),
            plumb_m=float(rng.choice([0.0, rng.uniform(0.1, 0.8)])),
            parts=(("hoist", float(rng.uniform(0.0, 1.0))),),
        )
        for _ in range(rng.integers(1, 3))
    ]
    return Headroom(steel_m, tuple(hangers))


def test_the_estimate_over_a_box_is_never_over_what_any_place_of_it_is():
    rng = np.random.default_rng(11)
    nearest = np.inf
    for _ in range(400):
        under = random_headroom(rng, 8.0)
        tilt = np.radians(rng.uniform(-85.0, 85.0, 3))
        tilt_gen = rng.normal(size=(GENERATORS, 3)) * rng.choice([0.002, 0.05, 0.4])
        height, height_gen = rng.uniform(2.0, 9.0, 3), 0.1 * rng.normal(size=(GENERATORS, 3))
        const, gen = under.over_m(tilt, tilt_gen, height, height_gen)
        for e in rng.uniform(-1.0, 1.0, (8, GENERATORS)):
            there = np.degrees(tilt + e @ tilt_gen)
            for k in np.flatnonzero(np.abs(there) < 89.0):
                true = over(under, there[k], height[k] + e @ height_gen[:, k])
                estimate = const[k] + e @ gen[:, k]
                assert estimate <= true + 1e-9
                nearest = min(nearest, true - estimate)
    assert nearest < 1e-3


@pytest.mark.parametrize("chunk", range(4))
def test_nothing_that_fits_under_the_steel_beats_the_best(chunk):
    bound = 0
    for seed in range(20 * chunk, 20 * chunk + 20):
        rng = np.random.default_rng(seed)
        problem = random_problem(seed)
        low, high = problem.hang.vertical_m
        steel = float(rng.uniform(low + 0.2, high + 1.2))
        turns = rng.permutation(problem.hang.orientations)[: rng.integers(1, 3)]
        under = {str(turn): random_headroom(rng, steel) for turn in turns}
        problem = replace(problem, headroom=under)
        found = search(problem, gap_db=GAP_DB, most_boxes=6000)
        heard = Fast(problem)
        sample = sample_placements(problem, rng, 2500)
        sample = sample.pick(heard.allowed(sample))
        heights = heard.height_m(sample)
        fits = np.array(
            [
                over(under[name], tilt, height) <= 0.0 if name in under else True
                for name, tilt, height in zip(
                    np.where(sample.flipped, "flipped", "upright").tolist(),
                    sample.tilt_deg.tolist(),
                    heights.tolist(),
                    strict=True,
                )
            ],
            dtype=bool,
        )
        best = np.min(heard.objective_db(sample.pick(fits)), initial=np.inf)
        if found.status is Status.INFEASIBLE:
            assert best == np.inf
            continue
        if found.placement is None:
            continue
        assert best >= found.objective_db - found.gap_db - 1e-7
        place = found.placement
        if place.orientation in under:
            much = over(under[place.orientation], float(place.tilt_deg), float(place.height_m))
            assert much <= NO_ROOM_M
            bound += much > -0.02
    assert bound


def test_boxes_over_the_steel_are_dropped_and_those_across_it_cut():
    under = Headroom(8.0, (Hanger(-0.1, 0.3, parts=(("hoist", 0.7),)),))
    problem = scene(headroom={"upright": under})
    boxes = boxes_of([[-10.0, 7.6, 0.0]], [[0.5, 0.2, 0.1]])
    assert not possible_boxes(problem, boxes, pose(problem, boxes)).any()
    turned = boxes_of([[-10.0, 7.6, 0.0]], [[0.5, 0.2, 0.1]], flipped=True)
    assert possible_boxes(problem, turned, pose(problem, turned)).all()
    lower = boxes_of([[-10.0, 7.1, 0.0]], [[0.5, 0.2, 0.1]])
    at = pose(problem, lower)
    assert possible_boxes(problem, lower, at).all()
    limits = limits_over(problem, lower, at, list(range(GENERATORS)))
    assert limits is not None
    assert limits.const.shape[0] == 1


def test_what_limits_and_what_would_relieve_it_are_named():
    under = Headroom(6.0, (Hanger(-0.1, 0.3, parts=(("clamp", 0.1), ("hoist", 0.9))),))
    problem = scene(headroom={"upright": under})
    top = float(under.highest_m(-10.0))
    at = Placement(0.0, top - 0.001, -10.0, False)
    assert "headroom" in limited_by(problem, at)
    assert "headroom" not in limited_by(problem, replace(at, height_m=top - 0.1))
    high = problem.with_hang(replace(problem.hang, vertical_m=(5.3, 9.0)))
    assert search(high, gap_db=1.0).placement is None
    [relief] = [one for one in reliefs(high) if one.limit == "headroom"]
    # The hook is least high of all over the centre where the nose is steepest up or down.
    assert 0.0 < relief.needed < 0.9
    assert "hoist" in relief.text and "clamp" not in relief.text
    raised = replace(high, headroom={"upright": under.raised(relief.needed)})
    assert search(raised, gap_db=1.0).placement is not None


@pytest.mark.parametrize("held", [BAR, PULL, Rigging("two points", ("front", "rear"))])
@pytest.mark.parametrize("tilt", [-25.0, 0.0, 12.0])
def test_at_the_highest_place_the_parts_just_fit(held, tilt):
    chain = Line((LinePart("clamp", length_m=0.12), LinePart("hoist", length_m=0.45)))
    held = replace(held, lines=(chain,), steel_height_m=9.0)
    under = headroom_of(BOX, held, flipped=False)
    top = float(under.highest_m(tilt))
    found = loads_at(BOX, held, flipped=False, tilt_deg=tilt, at_m=(0.0, top))
    spare = [line.spare_m for line in found.lines if line.spare_m is not None]
    assert min(spare) == pytest.approx(0.0, abs=1e-9)
    assert headroom_of(BOX, replace(held, steel_height_m=None), flipped=False) is None

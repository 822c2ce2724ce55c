"""Two loudspeakers together: where the lower one is, and what their sum may do."""

import math
from dataclasses import replace

import numpy as np
import pytest
from bound_scenes import boxes_of, scene, straight

from aiming.aim.boxes import Boxes
from aiming.aim.enclosure import (
    Enclosure,
    enclose,
    enclose_source,
    enclose_with_under,
    own_source,
    view_of,
    view_under,
)
from aiming.aim.hung_pair import Under
from aiming.aim.pose import pose
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray
from aiming.field.levels import power_sum_db
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Placements

JOINT_M, OWN_JOINT_M = (-0.4, -0.3), (-0.2, 0.5)
STEP = 1e-5


def under(
    *,
    splay_deg: tuple[float, float] = (4.0, 10.0),
    louder_db: tuple[float, float] = (1.0, -4.0),
    flipped: bool = False,
) -> Under:
    return Under(
        held=HungUnder("above", JOINT_M, OWN_JOINT_M, splay_deg),
        pattern=straight((0.15, -0.25), (0.3, -0.1)),
        flipped=flipped,
        louder_db=np.array(louder_db),
    )


def pair(objective: str = "worst band", **changes: object) -> Problem:
    return scene(objective=objective, under=under(), **changes)


BOXES = boxes_of(
    [[-31.0, 5.0, 1.0, 6.0], [12.0, 6.5, -1.0, 8.5]],
    [[2.0, 0.1, 0.3, 1.0], [0.3, 0.2, 0.05, 0.4]],
    flipped=[False, True],
)
FIXED = boxes_of([[-31.0, 5.0, 1.0], [12.0, 6.5, -1.0]], [[2.0, 0.1, 0.3], [0.3, 0.2, 0.05]])


def lower_one(
    boxes: Boxes, column: int, by: FloatArray | float, splay: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """x, height and tilt in radians of the lower one, a column of the box moved."""
    at = boxes.centre.copy()
    at[:, column] += by
    own = at[:, 3] if at.shape[1] > 3 else splay
    held = under().held
    place = held.placements(Placements.of(at[:, 2], at[:, 1], at[:, 0], False, own), flipped=False)
    return np.asarray(place.x_m), np.asarray(place.height_m), np.radians(place.tilt_deg)


@pytest.mark.parametrize("boxes", [BOXES, FIXED])
@pytest.mark.parametrize("flipped", [False, True])
def test_where_the_lower_one_is(boxes: Boxes, flipped: bool) -> None:
    """At the centre exactly; the forms are derivatives; R(τ) leaves over Δτ²/2 of its tangent."""
    problem = pair()
    below = view_under(under(flipped=flipped), boxes, view_of(boxes, pose(problem, boxes)))
    splay = 7.0  # the middle of its range where it is no unknown
    for found, wanted in zip(
        (below.x, below.height, below.tilt), lower_one(boxes, 0, 0.0, splay), strict=True
    ):
        np.testing.assert_allclose(found, wanted, atol=1e-12)
    np.testing.assert_array_equal(below.flipped, [flipped, flipped])
    for column in range(boxes.centre.shape[1]):
        by = STEP * boxes.half[:, column]
        ends = [lower_one(boxes, column, sign * by, splay) for sign in (-1.0, 1.0)]
        unknown = 5 if column == 3 else column
        forms = (below.x_gen, below.height_gen, below.tilt_gen)
        for form, start, end in zip(forms, *ends, strict=True):
            np.testing.assert_allclose(form[unknown], (end - start) / (2.0 * STEP), atol=1e-8)
    assert not below.x_gen[[3, 4]].any() and not below.tilt_gen[[3, 4]].any()
    swing = np.radians(boxes.half[:, 0])
    own = swing + (np.radians(boxes.half[:, 3]) if boxes.centre.shape[1] > 3 else 0.0)
    rest = 0.5 * 0.5 * swing**2 + 0.5 * math.hypot(*OWN_JOINT_M) * own**2
    assert below.rest_m is not None
    np.testing.assert_allclose(below.rest_m, rest, rtol=1e-12)
    across = np.abs(below.x_gen).sum(axis=0)
    up = np.abs(below.height_gen).sum(axis=0)
    np.testing.assert_allclose(below.reach_m, np.sqrt(across**2 + up**2) + rest, rtol=1e-12)


def test_tilts_that_fall_swing_as_far() -> None:
    """What is left over does not ask which way an unknown turns the upper one."""
    problem = pair()
    above = view_of(BOXES, pose(problem, BOXES))
    other = replace(above, tilt_gen=-above.tilt_gen)
    one, two = view_under(under(), BOXES, above), view_under(under(), BOXES, other)
    assert one.rest_m is not None and two.rest_m is not None
    np.testing.assert_array_equal(one.rest_m, two.rest_m)


def over(apart: float) -> float:
    """How far the sum of two lies over the second, the first `apart` above it."""
    return 10.0 * math.log10(1.0 + 10.0 ** (apart / 10.0))


def summed(
    one: tuple[float, list[float], float, float], other: tuple[float, list[float], float, float]
) -> tuple[float, list[float], float, float]:
    """(const, gen, low, high) of a sum of powers from those of its two, by plain numbers."""
    half_one, half_other = (0.5 * (of[3] - of[2]) for of in (one, other))
    level_one, level_other = one[0] + one[2] + half_one, other[0] + other[2] + half_other
    apart = level_one - level_other
    power_one, power_other = 10.0 ** (level_one / 10.0), 10.0 ** (level_other / 10.0)
    share = power_one / (power_one + power_other)
    gen = [share * a + (1.0 - share) * b for a, b in zip(one[1], other[1], strict=True)]
    width = half_one + half_other
    width += math.fsum(abs(a - b) for a, b in zip(one[1], other[1], strict=True))
    bend = max(
        over(apart + side * width) - over(apart) - share * side * width for side in (-1.0, 1.0)
    )
    play = share * half_one + (1.0 - share) * half_other
    return 10.0 * math.log10(power_one + power_other), gen, -play, play + bend


def numbers_of(of: Enclosure, at: tuple[int, int, int]) -> tuple[float, list[float], float, float]:
    gen = of.gen[(slice(None), *at)].tolist()
    return float(of.const[at]), gen, float(of.low[at]), float(of.high[at])


@pytest.mark.parametrize("objective", ["worst band", "deviation", "spread"])
@pytest.mark.parametrize("louder_db", [(1.0, -4.0), (-25.0, 14.0)])
def test_the_sum(objective: str, louder_db: tuple[float, float]) -> None:
    """Channel by channel by another formula; the spread's channel is the mean of the bands."""
    lower = under(louder_db=louder_db)
    problem = replace(pair(objective), under=lower)
    at = pose(problem, BOXES)
    found = enclose_with_under(problem, BOXES, at)
    active = [0, 1, 2, 5]
    assert found.active == active
    above = view_of(BOXES, at)
    below = view_under(lower, BOXES, above)
    one = enclose_source(problem, own_source(problem), above, active)
    alone = replace(problem, under=None, objective="worst band", pattern=lower.pattern)
    other = enclose_source(alone, own_source(alone), below, active)
    other = replace(other, const=other.const + np.array(louder_db)[:, np.newaxis])
    for box in range(2):
        for row in range(3):
            bands = [
                summed(numbers_of(one, (box, band, row)), numbers_of(other, (box, band, row)))
                for band in range(2)
            ]
            if objective == "spread":
                bands = [
                    (
                        0.5 * (bands[0][0] + bands[1][0]),
                        [0.5 * (a + b) for a, b in zip(bands[0][1], bands[1][1], strict=True)],
                        0.5 * (bands[0][2] + bands[1][2]),
                        0.5 * (bands[0][3] + bands[1][3]),
                    )
                ]
            assert found.const.shape[1] == len(bands)
            for band, wanted in enumerate(bands):
                const, gen, low, high = numbers_of(found, (box, band, row))
                np.testing.assert_allclose(
                    [const, *gen, low, high], [wanted[0], *wanted[1], *wanted[2:]], atol=1e-9
                )


def test_levels_far_apart() -> None:
    """A second one too quiet or too loud by thousands of decibels: the other alone counts."""
    for louder in (-9000.0, 9000.0):
        lower = under(louder_db=(louder, louder))
        problem = replace(pair(), under=lower)
        found = enclose_with_under(problem, BOXES, pose(problem, BOXES))
        above = view_of(BOXES, pose(problem, BOXES))
        active = [0, 1, 2, 5]
        if louder < 0.0:
            alone = enclose_source(problem, own_source(problem), above, active)
        else:
            one = replace(problem, under=None, pattern=lower.pattern)
            alone = enclose_source(one, own_source(one), view_under(lower, BOXES, above), active)
            alone = replace(alone, const=alone.const + louder)
        for side in ("low", "high"):
            np.testing.assert_allclose(
                found.const + getattr(found, side), alone.const + getattr(alone, side), atol=1e-9
            )
        np.testing.assert_allclose(found.gen, alone.gen, atol=1e-9)


@pytest.mark.parametrize("objective", ["worst band", "spread"])
def test_of_a_point_the_sum_is_exact(objective: str) -> None:
    problem = pair(objective)
    boxes = boxes_of(
        [[-31.0, 5.0, 1.0, 6.0], [12.0, 6.5, -1.0, 8.5]], [[0.0] * 4], flipped=[False, True]
    )
    found = enclose(problem, boxes, pose(problem, boxes))
    spots = Placements.of(
        boxes.centre[:, 2],
        boxes.centre[:, 1],
        boxes.centre[:, 0],
        boxes.flipped,
        boxes.centre[:, 3],
    )
    assert problem.under is not None
    own = replace(problem, under=None, objective="worst band").levels_db(spots)
    low = problem.under.levels_db(spots, problem.rows, problem.air_loss)
    expected = power_sum_db(np.stack([own, low]))
    if objective == "spread":
        expected = expected.mean(axis=1, keepdims=True)
    np.testing.assert_allclose(found.const + found.low, expected, atol=1e-7)
    np.testing.assert_allclose(found.const + found.high, expected, atol=1e-7)

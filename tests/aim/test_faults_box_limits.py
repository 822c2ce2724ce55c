"""Limits over boxes: boxes just in and just out, and estimates by closed forms."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bound_scenes import boxes_of, hung_by_trim, scene

from aiming.aim.bounding import limits_over, possible_boxes
from aiming.aim.boxes import Boxes
from aiming.aim.pose import pose
from aiming.aim.problem import Problem
from aiming.geometry.section import Segments
from aiming.speaker.speaker import Hang, Orientation

BOTH: tuple[Orientation, ...] = ("upright", "flipped")
ALL = list(range(6))


def free(**changes: Any) -> Problem:
    """Any axis, unless told otherwise."""
    hang = Hang(x_m=(-9.0, 30.0), vertical_m=(0.0, 20.0), orientations=BOTH)
    return scene(**{"hang": hang, "axis_on_audience": False, **changes})


def possible(problem: Problem, boxes: Boxes) -> list[bool]:
    found = possible_boxes(problem, boxes, pose(problem, boxes))
    assert found.shape == (len(boxes),)
    return list(map(bool, found))


def test_tilts_just_within_and_without() -> None:
    """A box is possible where its range of tilt touches one that its way to hang has left."""
    problem = free(
        hang=Hang(tilt_deg=(-40.0, 10.0), orientations=BOTH),
        reachable_tilt_deg={"upright": ((-90.0, -20.0), (0.0, 90.0)), "flipped": ((-5.0, 3.0),)},
    )
    cases = [
        (-43.0, 3.0, False, True),
        (-43.01, 3.0, False, False),
        (-17.0, 3.0, False, True),
        (-16.99, 3.0, False, False),
        (-10.0, 9.99, False, False),
        (-10.0, 10.0, False, True),
        (12.0, 2.0, False, True),
        (12.01, 2.0, False, False),
        (-30.0, 1.0, True, False),
        (-6.0, 1.0, True, True),
        (-6.01, 1.0, True, False),
        (4.0, 1.0, True, True),
        (4.01, 1.0, True, False),
        (5.0, 1.0, False, True),
    ]
    boxes = boxes_of(
        [[tilt, 5.0, 1.0] for tilt, *_ in cases],
        [[half, 0.1, 0.1] for _, half, *_ in cases],
        flipped=[flipped for *_, flipped, _ in cases],
    )
    assert possible(problem, boxes) == [wanted for *_, wanted in cases]


def test_the_swing_of_an_aim() -> None:
    """Whichever way the unknowns turn the axis: all of them count."""
    problem = free(planes=FORTH, axis_on_audience=True)
    at = pose(problem, AIMED)
    assert (at.tilt_gen < 0.0).any()
    for which in (0, 1):
        swing = math.fsum(abs(of) for of in at.tilt_gen[:, which].tolist())
        for side in (-1.0, 1.0):
            reached = math.degrees(float(at.tilt[which]) + side * swing)
            for off, wanted in ((-1e-6, True), (1e-6, False)):
                edge = reached + side * off
                ends = (-90.0, edge) if side < 0.0 else (edge, 90.0)
                limited = replace(problem, hang=replace(problem.hang, tilt_deg=ends))
                assert possible(limited, AIMED)[which] == wanted


# A level piece from (10, 2) to (14, 2), drawn either way.
FORTH = Segments(start_m=np.array([[10.0, 2.0]]), end_m=np.array([[14.0, 2.0]]))
BACK = Segments(start_m=FORTH.end_m, end_m=FORTH.start_m)


@pytest.mark.parametrize("planes", [FORTH, BACK])
@pytest.mark.parametrize("height_m", [6.0, -2.0])
def test_axes_just_on_and_off_the_audience(planes: Segments, height_m: float) -> None:
    """From 4 m above, or below, at x = 6: the ends lie at 45° and at atan(4/8)."""
    problem = free(planes=planes, axis_on_audience=True, hang=Hang(x_m=(6.0, 6.0)))
    side = -1.0 if height_m > 2.0 else 1.0
    steep, flat = 45.0, math.degrees(math.atan2(4.0, 8.0))
    # The box's play of a tilt swing is taken straight: |d|·swing.
    swing = 0.5
    near_end = math.degrees(math.asin(math.radians(swing)))
    cases = [
        (steep, 0.0, True),
        (steep + 1e-3, 0.0, False),
        (flat, 0.0, True),
        (flat - 1e-3, 0.0, False),
        (35.0, 0.0, True),
        (steep + near_end - 1e-3, swing, True),
        (steep + near_end + 1e-3, swing, False),
        (flat - near_end + 1e-3, swing, True),
        (flat - near_end - 1e-3, swing, False),
    ]
    boxes = boxes_of(
        [[side * tilt, height_m, 6.0] for tilt, *_ in cases], [[h, 0.0, 0.0] for _, h, _ in cases]
    )
    assert possible(problem, boxes) == [wanted for *_, wanted in cases]


@pytest.mark.parametrize("planes", [FORTH, BACK])
def test_the_play_of_a_place(planes: Segments) -> None:
    """A box that may lie r off its centre moves the axis across the ends by r."""
    problem = free(planes=planes, axis_on_audience=True)
    over = math.asin(0.5 / math.hypot(4.0, 4.0))  # r over the near end's distance
    under = math.asin(0.5 / math.hypot(4.0, 8.0))
    steep, flat = math.radians(45.0), math.atan2(4.0, 8.0)
    cases = [
        (-(steep + over) + 1e-5, True),
        (-(steep + over) - 1e-5, False),
        (-(flat - under) - 1e-5, True),
        (-(flat - under) + 1e-5, False),
    ]
    boxes = boxes_of([[math.degrees(tilt), 6.0, 6.0] for tilt, _ in cases], [[0.0, 0.3, 0.4]])
    assert possible(problem, boxes) == [wanted for *_, wanted in cases]


@pytest.mark.parametrize("planes", [FORTH, BACK])
def test_audience_behind_the_box(planes: Segments) -> None:
    """An axis whose line meets the piece backwards does not meet it."""
    problem = free(planes=planes, axis_on_audience=True)
    # From (20, 6) the piece lies behind: the lines through it rise to the right.
    rising = math.degrees(math.atan2(4.0, 8.0))
    boxes = boxes_of([[rising, 6.0, 20.0], [rising + 90.0, 6.0, 20.0]], [[0.1, 0.0, 0.0]])
    assert possible(problem, boxes) == [False, False]
    # In front of it: the same line the other way would have to tilt beyond the vertical.
    assert possible(problem, boxes_of([[-rising, 6.0, 4.0]], [[0.1, 0.0, 0.0]])) == [True]


@pytest.mark.parametrize("planes", [FORTH, BACK])
def test_the_sense_of_rotation_has_its_play(planes: Segments) -> None:
    """A box nearly level with the piece may see it from above or from below."""
    problem = free(planes=planes, axis_on_audience=True)
    for height, wanted in ((2.0 + 0.3, True), (2.0 - 0.3, True)):
        boxes = boxes_of([[0.0, height, 6.0]], [[0.0, 0.31, 0.0]])
        assert possible(problem, boxes) == [wanted]
    # Too far above for the axis, which is level, and for its place.
    assert possible(problem, boxes_of([[0.0, 2.4, 6.0]], [[0.0, 0.31, 0.0]])) == [False]
    # Level with the piece itself: it lies ahead, in line.
    assert possible(problem, boxes_of([[0.0, 2.0, 6.0]], [[0.0, 0.0, 0.0]])) == [True]


@pytest.mark.parametrize("planes", [FORTH, BACK])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_box_that_may_lie_on_either_side(planes: Segments, side: float) -> None:
    """Close over the piece and turned away from it: met only where it may lie below it."""
    problem = free(planes=planes, axis_on_audience=True)
    reach = 1.0
    for away, wanted in ((reach - 0.05, True), (reach + 0.05, False)):
        boxes = boxes_of([[side * 90.0, 2.0 + side * away, 12.0]], [[0.0, 0.6, 0.8]])
        assert possible(problem, boxes) == [wanted]


def test_a_splay_does_not_matter_to_the_axis() -> None:
    problem = free(planes=FORTH, axis_on_audience=True)
    boxes = boxes_of([[-35.0, 6.0, 6.0, 8.0], [-50.0, 6.0, 6.0, 8.0]], [[0.1, 0.1, 0.1, 3.0]])
    assert possible(problem, boxes) == [True, False]


def test_any_piece_will_do() -> None:
    planes = Segments(
        start_m=np.array([[10.0, 2.0], [16.0, 5.0]]), end_m=np.array([[14.0, 2.0], [20.0, 6.0]])
    )
    problem = free(planes=planes, axis_on_audience=True)
    tilts = [-35.0, -5.0, -20.0, 5.0]
    boxes = boxes_of([[tilt, 6.0, 6.0] for tilt in tilts], [[0.0, 0.0, 0.0]])
    assert possible(problem, boxes) == [True, True, False, False]


def test_aimed_boxes_meet_the_audience_by_themselves() -> None:
    """Nothing is asked of them but the range of tilt."""
    boxes = boxes_of([[0.5, 6.0, 6.0]], [[0.1, 0.1, 0.1]], piece=0)
    problem = free(planes=FORTH, axis_on_audience=True)
    at = pose(problem, boxes)
    nowhere = replace(problem, planes=Segments(FORTH.start_m + 90.0, FORTH.end_m + 90.0))
    assert list(possible_boxes(nowhere, boxes, at)) == [True]
    tilted = Boxes(boxes.centre, boxes.half, np.array([-1]), boxes.flipped)
    assert list(possible_boxes(nowhere, tilted, at)) == [False]
    assert list(possible_boxes(replace(nowhere, axis_on_audience=False), tilted, at)) == [True]


def limits_of(problem: Problem, boxes: Boxes, active: list[int]) -> Any:
    return limits_over(problem, boxes, pose(problem, boxes), active)


AIMED = boxes_of([[0.5, 6.0, 6.0], [0.25, 7.0, 5.0]], [[0.1, 0.2, 0.3]], piece=0)


def test_no_limits_to_add() -> None:
    problem = free(planes=FORTH, axis_on_audience=True)
    assert limits_of(problem, AIMED, ALL) is None
    tilted = boxes_of([[-30.0, 6.0, 6.0]], [[9.0, 0.1, 0.1]])
    short = free(hang=Hang(tilt_deg=(-35.0, -25.0)))
    assert limits_of(short, tilted, ALL) is None  # boxes of tilt keep to the range themselves


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_the_range_of_tilt_as_a_limit(side: float) -> None:
    """side·(tilt − edge) in degrees, as an affine form; only where some box may cross."""
    problem = free(planes=FORTH, axis_on_audience=True)
    at = pose(problem, AIMED)
    swing = np.degrees(np.abs(at.tilt_gen).sum(axis=0))
    tilt = np.degrees(at.tilt)
    edge = float((tilt + side * (swing - 0.01))[0])
    wide = (edge, 90.0) if side < 0.0 else (-90.0, edge)
    found = limits_of(replace(problem, hang=replace(problem.hang, tilt_deg=wide)), AIMED, [0, 2, 3])
    assert found.const.shape == (1, 2) and found.gen.shape == (1, 3, 2)
    np.testing.assert_allclose(found.const[0], side * (tilt - edge), atol=1e-9)
    np.testing.assert_allclose(found.gen[0], side * np.degrees(at.tilt_gen[[0, 2, 3]]), atol=1e-9)
    beyond = float((tilt + side * (swing + 0.01))[0]) if side * (tilt[0] - tilt[1]) > 0 else None
    if beyond is not None:
        wide = (beyond, 90.0) if side < 0.0 else (-90.0, beyond)
        loose = replace(problem, hang=replace(problem.hang, tilt_deg=wide))
        assert limits_of(loose, AIMED, ALL) is None


def test_both_ends_and_both_ways_to_hang() -> None:
    """The outermost ends of the ranges of each way; ±4 rad where a way has no range at all."""
    reachable = {"upright": ((-36.0, -34.0), (-33.5, -32.0)), "flipped": ((-50.0, -20.0),)}
    problem = free(planes=FORTH, axis_on_audience=True, reachable_tilt_deg=reachable)
    boxes = replace(AIMED, flipped=np.array([False, True]))
    at = pose(problem, boxes)
    found = limits_of(problem, boxes, ALL)
    tilt = np.degrees(at.tilt)
    np.testing.assert_allclose(found.const[0], -(tilt - [-36.0, -50.0]), atol=1e-9)
    np.testing.assert_allclose(found.const[1], tilt - [-32.0, -20.0], atol=1e-9)
    narrow = free(
        planes=FORTH,
        axis_on_audience=True,
        hang=Hang(tilt_deg=(-36.0, -32.0), orientations=BOTH),
        reachable_tilt_deg={"flipped": ((60.0, 70.0),)},
    )
    found = limits_of(narrow, boxes, ALL)
    four = math.degrees(4.0)
    np.testing.assert_allclose(found.const[0], -(tilt - [-36.0, -four]), atol=1e-9)
    np.testing.assert_allclose(found.const[1], tilt - [-32.0, four], atol=1e-9)


EAR_M = (8.0, 1.5)


def seen_from_the_ear(x: float, height: float) -> float:
    return math.atan2(height - EAR_M[1], abs(x - EAR_M[0]))


@pytest.mark.parametrize("x", [2.0, 13.0])
def test_the_view_from_the_front_row(x: float) -> None:
    """Elevation less its limit: the value, the slopes by differences, what is left over."""
    limit = 25.0
    problem = free(max_front_elevation_deg=limit, front_ear_m=EAR_M)
    boxes = boxes_of([[-20.0, 6.0, x]], [[1.0, 0.3, 0.4]])
    at = pose(problem, boxes)
    found = limits_of(problem, boxes, [0, 1, 2])
    r = math.hypot(x - EAR_M[0], 6.0 - EAR_M[1])
    q = 0.5 / r
    left = -math.log(1.0 - q) - q
    value = math.degrees(seen_from_the_ear(x, 6.0) - left) - limit
    assert found.const[0, 0] == pytest.approx(value, abs=1e-9)
    step = 1e-6
    by_v = (seen_from_the_ear(x, 6.0 + step) - seen_from_the_ear(x, 6.0 - step)) / (2.0 * step)
    by_x = (seen_from_the_ear(x + step, 6.0) - seen_from_the_ear(x - step, 6.0)) / (2.0 * step)
    wanted = np.degrees([0.0, by_v * 0.3, by_x * 0.4])
    np.testing.assert_allclose(found.gen[0, :, 0], wanted, atol=1e-6)
    assert found.gen.shape == (1, 3, 1)
    assert at.height_gen[1, 0] == 0.3


def test_the_view_by_trim() -> None:
    """The tilt moves the height there, and so do the others through it."""
    problem = hung_by_trim(max_front_elevation_deg=25.0, front_ear_m=EAR_M, axis_on_audience=False)
    boxes = boxes_of([[-20.0, 6.0, 2.0]], [[1.0, 0.3, 0.4]])
    at = pose(problem, boxes)
    found = limits_of(problem, boxes, ALL)
    dx, dz = 6.0, float(at.height[0]) - EAR_M[1]
    r2 = dx * dx + dz * dz
    wanted = np.degrees(dx / r2 * at.height_gen[:, 0])
    wanted[2] += math.degrees(dz / r2 * 0.4)  # x grows towards the ear
    np.testing.assert_allclose(found.gen[0, :, 0], wanted, atol=1e-9)


def test_the_view_over_the_ear_by_trim() -> None:
    """Turning up lowers this cabinet over its lowest corner: that counts downwards as well."""
    problem = hung_by_trim(max_front_elevation_deg=25.0, front_ear_m=EAR_M, axis_on_audience=False)
    boxes = boxes_of([[85.0, 6.0, 8.1]], [[2.0, 0.3, 0.4]])
    at = pose(problem, boxes)
    assert at.height_gen[0, 0] < 0.0
    lowest = float(at.height[0]) - math.fsum(abs(of) for of in at.height_gen[:, 0].tolist())
    wanted = math.degrees(math.atan2(lowest - EAR_M[1], 0.5)) - 25.0
    assert limits_of(problem, boxes, ALL).const[0, 0] == pytest.approx(wanted, abs=1e-9)


def test_the_view_over_the_ear_itself() -> None:
    """The least elevation of the box's lowest place, from as far as it may be; no slopes."""
    problem = free(max_front_elevation_deg=25.0, front_ear_m=EAR_M)
    boxes = boxes_of(
        [
            [-20.0, 6.0, 8.3],
            [-20.0, 6.0, 7.8],
            [-20.0, 1.0, 8.3],
            [-20.0, 6.0, 8.4],
            [-20.0, 2.0, 8.3],
        ],
        [[1.0, 0.3, 0.4]],
    )
    found = limits_of(problem, boxes, ALL)
    for which, away in ((0, 0.3 + 0.4), (1, 0.2 + 0.4)):
        wanted = math.degrees(math.atan2(6.0 - 0.3 - 1.5, away)) - 25.0
        assert found.const[0, which] == pytest.approx(wanted, abs=1e-9)
        assert not found.gen[0, :, which].any()
    wanted = math.degrees(math.atan2(2.0 - 0.3 - 1.5, 0.3 + 0.4)) - 25.0
    assert found.const[0, 4] == pytest.approx(wanted, abs=1e-9)
    # Where it may lie below the ears, straight below is the least.
    assert found.const[0, 2] == pytest.approx(-90.0 - 25.0)
    assert found.gen[0, 1, 3] != 0.0  # just beside the ear there is no kink


def test_boxes_that_the_front_row_sees_too_high() -> None:
    """Ruled out where even the lowest is too high, and not before."""
    boxes = boxes_of([[-20.0, 6.0, 2.0]], [[0.0, 0.0, 0.0]])
    seen = math.degrees(seen_from_the_ear(2.0, 6.0))
    for limit, wanted in ((seen + 1e-6, True), (seen - 1e-6, False)):
        problem = free(max_front_elevation_deg=limit, front_ear_m=EAR_M)
        assert possible(problem, boxes) == [wanted]
    for x in (2.0, 14.0):
        wide = boxes_of([[-20.0, 6.0, x]], [[0.0, 0.3, 0.4]])
        problem = free(max_front_elevation_deg=seen, front_ear_m=EAR_M)
        found = limits_of(problem, wide, ALL)
        least = seen + float(found.const[0, 0]) - float(np.abs(found.gen).sum())
        for limit, wanted in ((least + 1e-6, True), (least - 1e-6, False)):
            problem = free(max_front_elevation_deg=limit, front_ear_m=EAR_M)
            assert possible(problem, wide) == [wanted]


def test_level_with_the_ear_is_not_above_it() -> None:
    """No elevation at all allowed: at the ear's own height the box may hang."""
    problem = free(max_front_elevation_deg=0.0, front_ear_m=EAR_M)
    level = boxes_of([[-20.0, EAR_M[1], x] for x in (2.0, 14.0)], [[0.0, 0.0, 0.0]] * 2)
    assert possible(problem, level) == [True, True]


def test_a_box_at_the_ear() -> None:
    """No direction at all: nothing is ruled out."""
    problem = free(max_front_elevation_deg=-80.0, front_ear_m=EAR_M)
    at_ear = boxes_of([[-20.0, 1.5, 8.0], [-20.0, 1.5, 8.4]], [[0.0, 0.5, 0.1]])
    assert possible(problem, at_ear) == [True, True]

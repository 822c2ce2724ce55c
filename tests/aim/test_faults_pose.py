"""Axis and place over boxes: derivatives by differences, what is left over by its closed form."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from bound_scenes import OUTLINE_M, PIECES_M, boxes_of, hung_by_trim, moved, scene

from aiming.aim.boxes import Boxes
from aiming.aim.pose import Pose, left_over, own_reach_m, pose, settle
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray
from aiming.geometry.section import Segments
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.speaker import Hang

RADIUS_M = math.hypot(0.6, 0.45)
STEP = 1e-5


def corners(flipped: bool, tilt: float) -> list[tuple[float, float]]:
    """(x, z) of the outline's corners about the acoustic centre."""
    turned = []
    for u, as_built in OUTLINE_M:
        w = -as_built if flipped else as_built
        turned.append(
            (u * math.cos(tilt) - w * math.sin(tilt), u * math.sin(tilt) + w * math.cos(tilt))
        )
    return turned


def drop(flipped: bool, tilt: float) -> float:
    """How far the lowest corner lies below the acoustic centre."""
    return -min(z for _, z in corners(flipped, tilt))


def bend(flipped: bool, tilt: float, swing: float) -> float:
    """How far the drop may leave its tangent: another corner that becomes lowest, and R·s²/2."""
    points = corners(flipped, tilt)
    x0, z0 = min(points, key=lambda point: point[1])
    kink = max((z0 - z) + abs(x0 - x) * swing for x, z in points)
    return kink + 0.5 * RADIUS_M * swing * swing


def aim_of(boxes: Boxes, which: int) -> tuple[float, float]:
    (x0, z0), (x1, z1) = PIECES_M[boxes.piece[which]]
    q = boxes.centre[which, 0]
    return x0 + q * (x1 - x0), z0 + q * (z1 - z0)


TILTED = boxes_of(
    [[-31.0, 5.0, 1.0], [12.0, 6.5, -1.0], [85.0, 7.0, 2.0], [-80.0, 8.0, 0.0]],
    [[4.0, 0.3, 0.6], [0.1, 0.0, 0.2], [2.0, 0.4, 0.0], [1.5, 0.1, 0.1]],
    flipped=[False, True, False, True],
)
AIMED = boxes_of(
    [[0.2, 5.0, 1.0], [0.6, 6.5, -1.0], [0.9, 4.6, 2.0], [0.5, 8.0, 0.0]],
    [[0.1, 0.3, 0.6], [0.03, 0.0, 0.2], [0.2, 0.4, 0.0], [0.3, 0.1, 0.1]],
    piece=[0, 1, 0, 2],
    flipped=[False, True, True, False],
)


def test_settled_tilts_without_a_trim() -> None:
    """Both are unknowns themselves, and the height is a copy."""
    tilt, height = settle(scene(), TILTED)
    np.testing.assert_allclose(tilt, [math.radians(q) for q in (-31.0, 12.0, 85.0, -80.0)])
    np.testing.assert_array_equal(height, [5.0, 6.5, 7.0, 8.0])
    assert not np.shares_memory(height, TILTED.centre)
    _, height = settle(scene(), AIMED)
    assert not np.shares_memory(height, AIMED.centre)
    # With an outline and a height, the outline has no say.
    height_given = scene(cabinet=Cabinet(outline_m=np.array(OUTLINE_M)))
    np.testing.assert_array_equal(settle(height_given, TILTED)[1], [5.0, 6.5, 7.0, 8.0])


def test_settled_trims() -> None:
    tilt, height = settle(hung_by_trim(), TILTED)
    for which, flipped in enumerate(TILTED.flipped):
        lowest = TILTED.centre[which, 1]
        assert height[which] - drop(flipped, tilt[which]) == pytest.approx(lowest, abs=1e-12)


@pytest.mark.parametrize("make", [scene, hung_by_trim])
def test_settled_aims(make: Callable[[], Problem]) -> None:
    """The axis passes through the aim point, ahead, and the lowest corner lies at the trim."""
    tilt, height = settle(make(), AIMED)
    for which, flipped in enumerate(AIMED.flipped):
        x, z = aim_of(AIMED, which)
        _, v, own_x = AIMED.centre[which]
        fall = drop(flipped, tilt[which]) if make is hung_by_trim else 0.0
        assert height[which] == pytest.approx(v + fall, abs=1e-12)
        dx, dz = x - own_x, z - height[which]
        cos, sin = math.cos(tilt[which]), math.sin(tilt[which])
        assert dz * cos - dx * sin == pytest.approx(0.0, abs=1e-11)
        assert dx * cos + dz * sin > 1.0


def test_a_close_aim_settles_too() -> None:
    """From trim to height to tilt and back, as often as the slowest box beside a quick one asks."""
    boxes = boxes_of([[0.05, 1.3, 5.4], [1.0, 4.0, -900.0]], [[0.0, 0.0, 0.0]], piece=[0, 2])
    (tilt, _), (height, _) = settle(hung_by_trim(), boxes)
    assert height == pytest.approx(1.3 + drop(False, tilt), abs=1e-12)
    x, z = aim_of(boxes, 0)
    off = (z - height) * math.cos(tilt) - (x - 5.4) * math.sin(tilt)
    assert off == pytest.approx(0.0, abs=1e-11)


def slopes(problem: Problem, boxes: Boxes, column: int) -> tuple[FloatArray, FloatArray]:
    """(b,) change of tilt and of height over a half-width, by central differences."""
    by = STEP * boxes.half[:, column]
    (tilt0, height0), (tilt1, height1) = (
        settle(problem, moved(boxes, column, sign * by)) for sign in (-1.0, 1.0)
    )
    return (tilt1 - tilt0) / (2.0 * STEP), (height1 - height0) / (2.0 * STEP)


@pytest.mark.parametrize("make", [scene, hung_by_trim])
@pytest.mark.parametrize("boxes", [TILTED, AIMED])
def test_slopes_are_derivatives(make: Callable[[], Problem], boxes: Boxes) -> None:
    """Of tilt and height by the aim point or tilt, by height or trim, and by x."""
    problem = make()
    at = pose(problem, boxes)
    np.testing.assert_array_equal(at.tilt, settle(problem, boxes)[0])
    np.testing.assert_array_equal(at.height, settle(problem, boxes)[1])
    for column in range(3):
        tilt, height = slopes(problem, boxes, column)
        np.testing.assert_allclose(at.tilt_gen[column], tilt, atol=2e-8)
        np.testing.assert_allclose(at.height_gen[column], height, atol=2e-8)
    assert at.tilt_gen.shape == at.height_gen.shape == (6, 4)
    assert not at.tilt_gen[5].any() and not at.height_gen[5].any()


def check_reach(at: Pose, boxes: Boxes) -> None:
    """The corner of what height may do and of x."""
    up = np.abs(at.height_gen).sum(axis=0)
    np.testing.assert_allclose(at.reach_m, np.sqrt(up**2 + boxes.half[:, 2] ** 2), rtol=1e-12)


def test_left_over_of_tilts() -> None:
    """Nothing without a trim; with one, what the drop leaves of its tangent."""
    at = pose(scene(), TILTED)
    assert not at.tilt_gen[3:].any() and not at.height_gen[3:].any()
    check_reach(at, TILTED)
    at = pose(hung_by_trim(), TILTED)
    for which, flipped in enumerate(TILTED.flipped):
        swing = math.radians(TILTED.half[which, 0])
        expected = bend(flipped, at.tilt[which], swing)
        assert at.height_gen[4, which] == pytest.approx(expected, abs=1e-12)
    assert not at.tilt_gen[3:].any() and not at.height_gen[3].any()
    check_reach(at, TILTED)


def test_the_drop_keeps_to_its_tangent_and_bend() -> None:
    """Dense sampling of the true drop; close to the tangent the bend is of second order."""
    problem = hung_by_trim()
    for flipped in (False, True):
        for q in (-80.0, -31.0, -3.0, 0.0, 12.0, 60.0):
            boxes = boxes_of([[q, 5.0, 0.0]], [[3.0, 0.0, 0.0]], flipped=flipped)
            at = pose(problem, boxes)
            most = 0.0
            for t in np.linspace(-1.0, 1.0, 41).tolist():
                true = drop(flipped, math.radians(q + 3.0 * t))
                tangent = at.height[0] - 5.0 + at.height_gen[0, 0] * t
                most = max(most, abs(true - tangent))
            assert most <= at.height_gen[4, 0] + 1e-12


def piece_run(boxes: Boxes, which: int) -> tuple[float, float]:
    (x0, z0), (x1, z1) = PIECES_M[boxes.piece[which]]
    return x1 - x0, z1 - z0


def expected_left_over(rho: float, distance: float) -> float:
    """The series of ln(1 + w) beyond its first term, |w| = ρ/r: Σ q^k / k from k = 2."""
    q = rho / distance
    return math.fsum(q**k / k for k in range(2, 400))


def test_left_over_of_aims() -> None:
    at = pose(scene(), AIMED)
    for which in range(len(AIMED)):
        (x, z), (run_x, run_z) = aim_of(AIMED, which), piece_run(AIMED, which)
        half_q, half_v, half_x = AIMED.half[which]
        rho = math.hypot(abs(run_x) * half_q + half_x, abs(run_z) * half_q + half_v)
        r = math.hypot(x - AIMED.centre[which, 2], z - AIMED.centre[which, 1])
        assert at.tilt_gen[3, which] == pytest.approx(expected_left_over(rho, r), abs=1e-12)
    assert not at.tilt_gen[4:].any()
    np.testing.assert_array_equal(at.height_gen[1], AIMED.half[:, 1])
    assert not at.height_gen[[0, 2, 3, 4, 5]].any()
    check_reach(at, AIMED)


def expected_by_trim(
    boxes: Boxes, which: int, at: Pose
) -> tuple[float, float, float, float] | None:
    """(tilt3, tilt4, height3, height4) as docs/how-it-computes.md has them; None where lost."""
    flipped, tilt, height = (
        bool(boxes.flipped[which]),
        float(at.tilt[which]),
        float(at.height[which]),
    )
    (x, z), (run_x, run_z) = aim_of(boxes, which), piece_run(boxes, which)
    half_q, half_v, half_x = boxes.half[which].tolist()
    dx, dz = x - float(boxes.centre[which, 2]), z - height
    r = math.hypot(dx, dz)
    side, up = abs(run_x) * half_q + half_x, abs(run_z) * half_q + half_v
    reach = math.hypot(side, up)
    if r - reach <= 3.0 * RADIUS_M:
        return None
    swing = 2.0 * reach / (r - reach)
    brought = reach + RADIUS_M * swing
    if brought >= r or brought > swing * (r - brought):
        return None
    swing = min(swing, math.pi)
    slope = (drop(flipped, tilt + 1e-6) - drop(flipped, tilt - 1e-6)) / 2e-6
    off = bend(flipped, tilt, swing)
    rho = math.hypot(side, up + min(abs(slope) * swing + off, 2.0 * RADIUS_M))
    if rho >= r:
        return None
    by_height = -dx / (r * r)
    damping = 1.0 - by_height * slope
    tilt3, tilt4 = expected_left_over(rho, r) / damping, by_height * off / damping
    return tilt3, tilt4, slope * tilt3, off + slope * tilt4


def test_left_over_of_aims_by_trim() -> None:
    """The height follows the tilt and the tilt the height."""
    rng = np.random.default_rng(3)
    count = 200
    boxes = Boxes(
        np.stack(
            [
                rng.uniform(0.0, 1.0, count),
                rng.uniform(0.0, 7.0, count),
                rng.uniform(2.0, 22.0, count),
            ],
            axis=1,
        ),
        10.0 ** rng.uniform(-3.0, -0.2, (count, 3)),
        rng.integers(0, 3, count),
        rng.random(count) < 0.5,
    )
    at = pose(hung_by_trim(), boxes)
    lost = 0
    for which in range(count):
        expected = expected_by_trim(boxes, which, at)
        if expected is None:
            lost += 1
            expected = (2.0 * math.pi, 0.0, 0.0, 2.0 * RADIUS_M)
            np.testing.assert_array_equal(at.tilt_gen[[0, 1, 2, 5], which], 0.0)
            np.testing.assert_array_equal(at.height_gen[[0, 2, 5], which], 0.0)
            assert at.height_gen[1, which] == boxes.half[which, 1]
        found = [of[k, which] for of in (at.tilt_gen, at.height_gen) for k in (3, 4)]
        np.testing.assert_allclose(found, expected, rtol=1e-7, atol=1e-9)
    assert 20 < lost < 180
    check_reach(at, boxes)


def test_lost_without_a_trim() -> None:
    """A box that reaches its own aim point says that the tilt is anything, and keeps its height."""
    boxes = boxes_of(
        [[0.5, 2.0, 9.0], [0.5, 2.0, 9.0]], [[0.25, 0.5, 0.2], [0.01, 0.2, 0.2]], piece=0
    )
    at = pose(scene(), boxes)
    np.testing.assert_allclose(at.tilt_gen[:, 0], [0.0, 0.0, 0.0, 2.0 * math.pi, 0.0, 0.0])
    np.testing.assert_allclose(at.height_gen[:, 0], [0.0, 0.5, 0.0, 0.0, 0.0, 0.0])
    assert 0.0 < at.tilt_gen[3, 1] < 0.5
    check_reach(at, boxes)


def test_reaching_just_to_the_aim_point() -> None:
    """There the line of sight has no direction left."""
    planes = Segments(start_m=np.array([[8.0, 2.0]]), end_m=np.array([[10.0, 2.0]]))
    boxes = boxes_of([[0.5, 2.0, 6.0]], [[0.5, 0.0, 2.0]], piece=0)
    assert pose(scene(planes=planes), boxes).tilt_gen[3, 0] == 2.0 * math.pi


def test_a_splay_has_no_say() -> None:
    """A box may have it as its fourth column."""
    boxes = boxes_of([[0.5, 4.0, 6.0, 5.0]], [[0.5, 0.2, 0.1, 3.0]], piece=0)
    alone = boxes_of([[0.5, 4.0, 6.0]], [[0.5, 0.2, 0.1]], piece=0)
    one, other = pose(scene(), boxes), pose(scene(), alone)
    np.testing.assert_array_equal(one.tilt_gen, other.tilt_gen)
    np.testing.assert_array_equal(one.height, other.height)
    assert not one.tilt_gen[5].any()


def test_own_reach() -> None:
    """Three radii where a trim ties height to tilt; else nothing."""
    assert own_reach_m(hung_by_trim()) == pytest.approx(3.0 * RADIUS_M)
    assert own_reach_m(scene(cabinet=Cabinet(outline_m=np.array(OUTLINE_M)))) == 0.0
    trim = Hang(vertical="trim")
    assert own_reach_m(scene(hang=trim)) == 0.0
    assert own_reach_m(scene(hang=trim, cabinet=Cabinet())) == 0.0


def test_left_over() -> None:
    """Σ q^k / k from k = 2, and without end where the disc reaches the point."""
    rho = np.array([0.0, 0.1, 1.0, 1.9, 2.0, 3.0])
    found = left_over(rho, np.full(6, 2.0))
    expected = [expected_left_over(one, 2.0) for one in (0.0, 0.1, 1.0, 1.9)]
    np.testing.assert_allclose(found[:4], expected, rtol=1e-6, atol=1e-15)
    assert np.isinf(found[4:]).all()


def test_one_point_of_audience() -> None:
    """A piece without length: only height and x turn the axis."""
    planes = Segments(start_m=np.array([[10.0, 1.0]]), end_m=np.array([[10.0, 1.0]]))
    boxes = boxes_of([[0.5, 4.0, 6.0]], [[0.5, 0.2, 0.1]], piece=0)
    at = pose(scene(planes=planes), boxes)
    # d = (4, −3), r² = 25
    np.testing.assert_allclose(at.tilt_gen[:3, 0], [0.0, -4.0 / 25.0 * 0.2, -3.0 / 25.0 * 0.1])

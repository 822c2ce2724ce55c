"""Enclosures of levels, number by number: closed forms with a pattern that answers as told."""

import math

import numpy as np
import pytest
from bound_scenes import boxes_of, rows_at, scene, straight

from aiming.aim.boxes import Boxes
from aiming.aim.enclosure import (
    Enclosure,
    SoundSource,
    View,
    enclose,
    enclose_source,
    own_source,
    view_of,
)
from aiming.aim.pose import pose
from aiming.aim.problem import Displacement, Problem
from aiming.aim.windows import Windows
from aiming.base.arrays import FloatArray
from aiming.speaker.speaker import Placements

NEPER_DB = 20.0 / math.log(10.0)
SLOPE, LOW, HIGH = (0.7, -0.4), (-3.0, -5.0), (2.0, 4.0)


class Told(Windows):
    """Windows that say the same of every interval, and keep what they were asked."""

    def __init__(self) -> None:
        self.asked: list[tuple[FloatArray, FloatArray]] = []

    def enclose(
        self, centre_deg: FloatArray, halfwidth_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        self.asked.append((centre_deg.copy(), halfwidth_deg.copy()))
        shape = (2, *centre_deg.shape)
        slope, low, high = (
            np.broadcast_to(np.array(of)[:, np.newaxis, np.newaxis], shape).copy()
            for of in (SLOPE, LOW, HIGH)
        )
        return slope, low, high


class Hiding:
    """A shadow that says the same of every place, and keeps what it was asked."""

    def __init__(self, least_db: FloatArray, most_db: FloatArray) -> None:
        self.bounds = (least_db, most_db)
        self.asked: list[FloatArray] = []

    def loss_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
        raise AssertionError(f"not asked at {x_m}, {height_m}")

    def bounds_db(
        self, x_m: tuple[FloatArray, FloatArray], height_m: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        self.asked = [*x_m, *height_m]
        return self.bounds


def a_view(*, rest_m: float | None = None, size: float = 1.0) -> View:
    """Two loudspeakers, one of them flipped; all six unknowns turn, lift and shift them."""
    rng = np.random.default_rng(5)
    x_gen, height_gen, tilt_gen = size * rng.uniform(-0.02, 0.02, (3, 6, 2))
    x_gen[1, 0] = x_gen[4] = 0.0
    reach = np.hypot(np.abs(x_gen).sum(axis=0), np.abs(height_gen).sum(axis=0))
    return View(
        x=np.array([0.5, -2.0]),
        x_gen=x_gen,
        height=np.array([5.0, 8.0]),
        height_gen=height_gen,
        tilt=np.radians([-20.0, -35.0]),
        tilt_gen=tilt_gen,
        flipped=np.array([False, True]),
        reach_m=reach if rest_m is None else reach + rest_m,
        rest_m=None if rest_m is None else np.array([rest_m, 0.5 * rest_m]),
    )


ALL = list(range(6))
NEAR_ROW = scene(objective="worst band", rows=rows_at([(7.0, 1.3), (0.5, 5.1), (-2.0, 8.0)]))
FAR_ROWS = scene(objective="worst band")


def expected(
    problem: Problem, at: View, box: int, band: int, row: int, *, active: list[int]
) -> tuple[float, list[float], float, float, float, float]:
    """(const, gen, low, high, angle in degrees, its half-width) by docs/how-it-computes.md."""
    dx = float(problem.rows.x_m[row] - at.x[box])
    dz = float(problem.rows.z_m[row] - at.height[box])
    r = max(math.hypot(dx, dz), 1e-3)
    reach = float(at.reach_m[box])
    rest = 0.0 if at.rest_m is None else float(at.rest_m[box])
    q = reach / r
    left = min(-math.log(1.0 - q) - q, math.pi) if q < 1.0 else math.pi
    if r <= 1e-3:
        left = math.pi
    left += rest / r
    sign = -1.0 if at.flipped[box] else 1.0
    alpha = float(problem.air_loss.slope_db_per_m[band, 0])
    near = q > 0.7 or r <= 1e-3
    slope = sign * SLOPE[band] * 180.0 / math.pi
    gens, width = [], left
    for k in active:
        x, height, tilt = (float(of[k, box]) for of in (at.x_gen, at.height_gen, at.tilt_gen))
        turned = (dz * x - dx * height) / r**2 - tilt  # of the elevation less the tilt
        nearer = (dx * x + dz * height) / r  # of −r
        width += abs(turned)
        pull = 0.0 if near else (NEPER_DB / r + alpha) * nearer
        gens.append(slope * turned + pull)
    fall = NEPER_DB * left + alpha * 0.5 * reach**2 / max(r - reach, 1e-3) + alpha * rest
    rise = NEPER_DB * left + alpha * rest
    if near:
        fall = NEPER_DB * math.log((r + reach) / r) + alpha * reach
        rise = NEPER_DB * math.log(r / max(r - reach, 1e-3)) + alpha * reach
    turn = abs(slope) * left
    const = -NEPER_DB * math.log(r) - alpha * r
    angle = sign * math.degrees(math.atan2(dz, dx) - float(at.tilt[box]))
    low, high = LOW[band] - turn - fall, HIGH[band] + turn + rise
    return const, gens, low, high, angle, min(math.degrees(width), 180.0)


@pytest.mark.parametrize("problem", [FAR_ROWS, NEAR_ROW])
@pytest.mark.parametrize("rest_m", [None, 0.03])
@pytest.mark.parametrize("size", [1e-3, 1.0, 20.0, 100.0])
def test_every_number(problem: Problem, rest_m: float | None, size: float) -> None:
    told = Told()
    at = a_view(rest_m=rest_m, size=size)
    found = enclose_source(problem, SoundSource(told, None), at, ALL)
    ((centre, half),) = told.asked
    assert found.active == ALL
    assert found.gen.shape == (6, 2, 2, 3)
    for box in range(2):
        for row in range(3):
            for band in range(2):
                const, gen, low, high, angle, width = expected(
                    problem, at, box, band, row, active=ALL
                )
                assert found.const[box, band, row] == pytest.approx(const, abs=1e-10)
                np.testing.assert_allclose(
                    found.gen[:, box, band, row], gen, rtol=1e-10, atol=1e-12
                )
                assert found.low[box, band, row] == pytest.approx(low, abs=1e-10)
                assert found.high[box, band, row] == pytest.approx(high, abs=1e-10)
                assert centre[box, row] == pytest.approx(angle, abs=1e-10)
                assert half[box, row] == pytest.approx(width, abs=1e-10)


def test_where_the_straight_line_is_given_up() -> None:
    """A row that is nearer than reach/0.7; and one exactly there still has its line."""
    problem = scene(objective="worst band", rows=rows_at([(10.0, 5.0), (9.99, 5.0)]))
    gen = np.zeros((6, 1))
    gen[1] = 7.0
    at = View(
        x=np.zeros(1),
        x_gen=np.zeros((6, 1)),
        height=np.array([5.0]),
        height_gen=gen,
        tilt=np.zeros(1),
        tilt_gen=np.zeros((6, 1)),
        flipped=np.array([False]),
        reach_m=np.array([7.0]),
    )
    found = enclose_source(problem, SoundSource(Told(), None), at, [1])
    q, alpha = 0.7, float(problem.air_loss.slope_db_per_m[0, 0])
    left = -math.log(1.0 - q) - q
    turn = SLOPE[0] * 180.0 / math.pi * left
    line = LOW[0] - turn - NEPER_DB * left - alpha * 0.5 * 49.0 / 3.0
    assert found.low[0, 0, 0] == pytest.approx(line, abs=1e-9)
    q = 7.0 / 9.99
    left = -math.log(1.0 - q) - q
    turn = SLOPE[0] * 180.0 / math.pi * left
    near = LOW[0] - turn - NEPER_DB * math.log(1.0 + q) - alpha * 7.0
    assert found.low[0, 0, 1] == pytest.approx(near, abs=1e-9)


def test_only_what_is_asked_for() -> None:
    """Unknowns that do not appear are left out, and those that do not shift x cost nothing."""
    at = a_view()
    at.x_gen[:] = 0.0
    for gen in (at.height_gen, at.tilt_gen):
        gen[[0, 2, 4, 5]] = 0.0
    at.height_gen[3] = 0.0
    assert at.active() == [1, 3]
    found = enclose_source(FAR_ROWS, SoundSource(Told(), None), at, [1, 3])
    gens = expected(FAR_ROWS, at, 1, 0, 2, active=[1, 3])[1]
    np.testing.assert_allclose(found.gen[:, 1, 0, 2], gens, rtol=1e-10)
    assert found.gen.shape[0] == 2 and found.active == [1, 3]


@pytest.mark.parametrize("form", ["x_gen", "height_gen", "tilt_gen"])
def test_one_form_is_enough_to_be_active(form: str) -> None:
    at = a_view()
    for gen in (at.x_gen, at.height_gen, at.tilt_gen):
        gen[:] = 0.0
    assert at.active() == []
    getattr(at, form)[4, 1] = 0.1
    assert at.active() == [4]


def test_louder() -> None:
    """An output in each band moves what the level is, not how far it strays."""
    at = a_view()
    plain = enclose_source(FAR_ROWS, SoundSource(Told(), None), at, ALL)
    louder = enclose_source(FAR_ROWS, SoundSource(Told(), None, np.array([2.0, -7.0])), at, ALL)
    np.testing.assert_allclose(louder.const[:, 0], plain.const[:, 0] + 2.0)
    np.testing.assert_allclose(louder.const[:, 1], plain.const[:, 1] - 7.0)
    np.testing.assert_array_equal(louder.low, plain.low)


@pytest.mark.parametrize("rest_m", [None, 0.03])
def test_shadow(rest_m: float | None) -> None:
    """The largest loss from below, the least from above; asked of all places of the box."""
    at = a_view(rest_m=rest_m)
    rng = np.random.default_rng(6)
    least = rng.uniform(0.0, 3.0, (2, 2, 3))
    most = least + rng.uniform(0.0, 3.0, (2, 2, 3))
    hiding = Hiding(least, most)
    plain = enclose_source(FAR_ROWS, SoundSource(Told(), None), at, ALL)
    hidden = enclose_source(FAR_ROWS, SoundSource(Told(), hiding), at, ALL)
    np.testing.assert_allclose(hidden.low, plain.low - most)
    np.testing.assert_allclose(hidden.high, plain.high - least)
    rest = np.zeros(2) if at.rest_m is None else at.rest_m
    far_x = np.abs(at.x_gen).sum(axis=0) + rest
    far_z = np.abs(at.height_gen).sum(axis=0) + rest
    ends = (at.x - far_x, at.x + far_x, at.height - far_z, at.height + far_z)
    np.testing.assert_allclose(hiding.asked, ends)


def test_shadow_of_the_mean() -> None:
    """Of the bands' mean the losses' mean."""
    problem = scene(pattern=straight((0.2, -0.3), (0.1, -0.4)))
    least, most = np.zeros((2, 2, 3)), np.zeros((2, 2, 3))
    least[0, :, 1], most[0, :, 1] = (1.0, 2.0), (3.0, 6.0)
    boxes = boxes_of([[-20.0, 5.0, 1.0], [-30.0, 5.0, 1.0]], [[0.1, 0.1, 0.1]])
    view = view_of(boxes, pose(problem, boxes))
    plain = enclose_source(problem, own_source(problem), view, view.active())
    hidden = enclose_source(
        problem, SoundSource(problem.windows, Hiding(least, most)), view, view.active()
    )
    np.testing.assert_allclose((plain.low - hidden.low)[:, 0], [[0.0, 4.5, 0.0], [0.0] * 3])
    np.testing.assert_allclose((plain.high - hidden.high)[:, 0], [[0.0, 1.5, 0.0], [0.0] * 3])


def test_the_own_view() -> None:
    """x is an unknown itself, the third; the rest is the pose's."""
    boxes = boxes_of([[-20.0, 5.0, 1.0], [0.0, 6.0, 2.0]], [[0.1, 0.2, 0.3]], flipped=[True, False])
    problem = scene()
    at = pose(problem, boxes)
    view = view_of(boxes, at)
    np.testing.assert_array_equal(view.x, [1.0, 2.0])
    expected_gen = np.zeros((6, 2))
    expected_gen[2] = 0.3
    np.testing.assert_array_equal(view.x_gen, expected_gen)
    assert view.height is at.height and view.tilt_gen is at.tilt_gen and view.rest_m is None
    np.testing.assert_array_equal(view.flipped, [True, False])
    assert view.active() == [0, 1, 2]
    source = own_source(problem)
    assert source.windows is problem.windows and source.shadow is None and source.louder_db is None


def at_centre(problem: Problem, boxes: Boxes) -> FloatArray:
    """(b, channels, rows) levels at the centres of boxes of tilt and height."""
    spots = Placements.of(boxes.centre[:, 2], boxes.centre[:, 1], boxes.centre[:, 0], boxes.flipped)
    levels = problem.levels_db(spots)
    return levels if problem.per_band else levels.mean(axis=1, keepdims=True)


@pytest.mark.parametrize("objective", ["spread", "worst band"])
def test_of_a_point_it_is_exact(objective: str) -> None:
    problem = scene(objective=objective)
    boxes = boxes_of([[-20.0, 5.0, 1.0], [-37.0, 8.0, 2.0]], [[0.0] * 3], flipped=[True, False])
    found = enclose(problem, boxes, pose(problem, boxes))
    assert found.active == [] and found.gen.shape[0] == 0
    np.testing.assert_allclose(found.const + found.low, at_centre(problem, boxes), atol=1e-7)
    np.testing.assert_allclose(found.const + found.high, at_centre(problem, boxes), atol=1e-7)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_displacements(count: int) -> None:
    """Each has channels of its own: those of the box displaced."""
    around = (
        Displacement(),
        Displacement(tilt_deg=1.0, height_m=0.2, x_m=-0.3),
        Displacement(tilt_deg=-2.0, height_m=-0.1, x_m=0.4),
    )[:count]
    boxes = boxes_of([[-20.0, 5.0, 1.0], [-37.0, 8.0, 2.0]], [[0.5, 0.1, 0.2]])
    problem = scene(objective="worst band", around=around)
    found = enclose(problem, boxes, pose(problem, boxes))
    assert found.const.shape == (2, 2 * count, 3)
    one = scene(objective="worst band")
    for place, off in enumerate(around):
        by = np.array([off.tilt_deg, off.height_m, off.x_m])
        there = Boxes(boxes.centre + by, boxes.half, boxes.piece, boxes.flipped)
        alone = enclose(one, there, pose(one, there))
        assert found.active == alone.active
        mine = slice(2 * place, 2 * place + 2)
        for name in ("const", "low", "high"):
            np.testing.assert_allclose(getattr(found, name)[:, mine], getattr(alone, name))
        np.testing.assert_allclose(found.gen[:, :, mine], alone.gen)
    np.testing.assert_array_equal(boxes.centre[:, 2], [1.0, 2.0])


def test_a_small_box_strays_with_the_square() -> None:
    """Within a straight piece of the pattern only distance and angle bend: to second order."""
    problem = scene()
    widths = []
    for size in (0.1, 0.01):
        boxes = boxes_of([[-40.0, 8.0, 0.0]], [[10.0 * size, size, size]])
        found: Enclosure = enclose(problem, boxes, pose(problem, boxes))
        widths.append(float((found.high - found.low).max()))
    assert widths[1] == pytest.approx(widths[0] / 100.0, rel=0.05)

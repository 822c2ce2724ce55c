"""The line of uniform level by bisection on the level equation, and the coverage edge's side."""

import math

import numpy as np
import pytest
from plain_air import tones
from scipy.optimize import brentq

from aiming.aim.uniform_line import (
    POINTS,
    aim_to_edge_m,
    coverage_edge_deg,
    departure_m,
    near_side_above,
    uniform_level,
)
from aiming.base.arrays import frozen
from aiming.geometry.section import Seating, rows_of
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

ANGLES = np.array([-180.0, -60.0, -30.0, 0.0, 20.0, 50.0, 180.0])
LEVELS = np.array(
    [
        [-30.0, -14.0, -3.0, 1.0, -5.0, -13.0, -30.0],
        [-20.0, -10.0, -4.0, -2.0, -6.0, -18.0, -20.0],
    ]
)
PATTERN = Pattern(
    angle_deg=frozen(ANGLES), band_hz=(1000.0, 4000.0), level_db=frozen(LEVELS), reference="test"
)
AIR = np.array([0.005, 0.035])
THROW_M = 24.0


def lobe_db(off_axis_deg: float) -> float:
    """Mean of the two bands re the axis, by numpy's own interpolation."""
    mean = LEVELS.mean(axis=0)
    return float(np.interp(off_axis_deg, ANGLES, mean) - np.interp(0.0, ANGLES, mean))


def distance_m(off_axis_deg: float, *, air_db_per_m: float = 0.02) -> float:
    """Where 20·lg r + α·r has fallen to what the lobe leaves of the aim point's."""
    wanted = 20.0 * math.log10(THROW_M) + air_db_per_m * THROW_M + lobe_db(off_axis_deg)
    return float(
        brentq(lambda r: 20.0 * math.log10(r) + air_db_per_m * r - wanted, 1e-6, 1e4, xtol=1e-13)
    )


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize("off_axis_deg", [0.0, -12.0, -30.0, 17.0, 45.0, 120.0, -175.0])
def test_the_line_s_distance_is_the_root_of_the_level_equation(
    off_axis_deg: float, flipped: bool
) -> None:
    placement = Placement(x_m=-2.0, height_m=7.0, tilt_deg=-11.0, flipped=flipped)
    line = uniform_level(PATTERN, placement, air_loss=tones(AIR), throw_m=THROW_M)
    expected = distance_m(-off_axis_deg if flipped else off_axis_deg)
    assert float(line.distance_m(np.array(off_axis_deg))) == pytest.approx(expected, rel=1e-10)
    x, z = line.points_m(np.array([off_axis_deg]))[0]
    assert math.hypot(x + 2.0, z - 7.0) == pytest.approx(expected, rel=1e-10)
    assert math.degrees(math.atan2(z - 7.0, x + 2.0)) == pytest.approx(
        math.remainder(off_axis_deg - 11.0, 360.0), abs=1e-9
    )


def test_without_air_the_line_is_the_lobe_itself() -> None:
    placement = Placement(x_m=0.0, height_m=5.0, tilt_deg=0.0)
    line = uniform_level(PATTERN, placement, air_loss=tones(0.0 * AIR), throw_m=THROW_M)
    for off in (-30.0, -10.0, 10.0):
        expected = THROW_M * 10.0 ** (lobe_db(off) / 20.0)
        assert float(line.distance_m(np.array(off))) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("air_db_per_m", [1e-4, 0.3, 3.0])
def test_thick_air_bends_the_line_and_it_is_still_found(air_db_per_m: float) -> None:
    placement = Placement(x_m=0.0, height_m=5.0, tilt_deg=0.0)
    air = np.array([air_db_per_m, air_db_per_m])
    line = uniform_level(PATTERN, placement, air_loss=tones(air), throw_m=THROW_M)
    for off in (-60.0, -5.0, 20.0):
        expected = distance_m(off, air_db_per_m=air_db_per_m)
        assert float(line.distance_m(np.array(off))) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("flipped", [False, True])
def test_the_edge_on_each_side(flipped: bool) -> None:
    """6.0206 dB under the axis: −3.0 at −30°, −11.5 at −60°; −5.0 at 20°, −15.0 at 50°."""
    below = -(30.0 + 30.0 * (20.0 * math.log10(2.0) - 3.0) / 8.5)
    above = 20.0 + 30.0 * (20.0 * math.log10(2.0) - 5.0) / 10.0
    placement = Placement(x_m=0.0, height_m=5.0, tilt_deg=0.0, flipped=flipped)
    up = coverage_edge_deg(PATTERN, placement, above=True)
    down = coverage_edge_deg(PATTERN, placement, above=False)
    assert up == pytest.approx(-below if flipped else above, abs=1e-9)
    assert down == pytest.approx(-above if flipped else below, abs=1e-9)


def test_the_line_runs_from_the_aim_to_the_edge() -> None:
    placement = Placement(x_m=1.0, height_m=5.0, tilt_deg=-10.0)
    line = uniform_level(PATTERN, placement, air_loss=tones(AIR), throw_m=THROW_M)
    points = aim_to_edge_m(line, -40.0)
    assert points.shape == (POINTS, 2)
    turn = np.degrees(np.arctan2(points[:, 1] - 5.0, points[:, 0] - 1.0)) + 10.0
    assert turn == pytest.approx(np.linspace(0.0, -40.0, POINTS), abs=1e-9)
    assert math.hypot(points[0, 0] - 1.0, points[0, 1] - 5.0) == pytest.approx(THROW_M)
    # Without an edge: to the last direction known below the axis.
    known = LEVELS.copy()
    known[:, 0] = np.nan
    open_ended = Pattern(
        angle_deg=frozen(ANGLES), band_hz=(1000.0, 4000.0), level_db=frozen(known), reference="test"
    )
    line = uniform_level(open_ended, placement, air_loss=tones(AIR), throw_m=THROW_M)
    last = aim_to_edge_m(line, None)[-1]
    assert math.degrees(math.atan2(last[1] - 5.0, last[0] - 1.0)) == pytest.approx(-70.0, abs=1e-9)


@pytest.mark.parametrize(
    ("height_m", "tilt_deg", "above"), [(8.0, -10.0, False), (0.2, -8.0, True), (1.2, -0.5, True)]
)
def test_which_side_the_near_end_lies(height_m: float, tilt_deg: float, above: bool) -> None:
    rows = rows_of(
        (Seating(name="s", floor_m=frozen([[4.0, 0.0], [24.0, 3.0]]), row_spacing_m=4.0),)
    )
    placement = Placement(x_m=0.0, height_m=height_m, tilt_deg=tilt_deg)
    assert near_side_above(placement, rows) is above


def test_a_row_beyond_the_line_departs_positively() -> None:
    rows = rows_of(
        (Seating(name="s", floor_m=frozen([[4.0, 0.0], [40.0, 3.0]]), row_spacing_m=6.0),)
    )
    placement = Placement(x_m=0.0, height_m=6.0, tilt_deg=-6.0)
    line = uniform_level(PATTERN, placement, air_loss=tones(AIR), throw_m=THROW_M)
    found = departure_m(line, rows)
    for x, z, departure in zip(rows.x_m, rows.z_m, found, strict=True):
        off = math.degrees(math.atan2(z - 6.0, x)) + 6.0
        assert departure == pytest.approx(math.hypot(x, z - 6.0) - distance_m(off), abs=1e-8)
    assert found.min() < -0.5 < 0.5 < found.max()

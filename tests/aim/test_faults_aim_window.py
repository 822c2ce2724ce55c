"""How far tilt and height may be off, where that can be worked out by hand or by halving."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from plain_questions import EAR_M, question, tent
from second_formula import scalar_levels_db, scalar_objective_db

from aiming.aim.problem import Problem
from aiming.aim.setting_window import WITHIN_DB, height_window_m, tilt_window_deg
from aiming.base.arrays import FloatArray
from aiming.speaker.speaker import Hang, Placement

NEAR, FAR = math.degrees(math.atan2(-4.8, 4.0)), math.degrees(math.atan2(-4.8, 20.0))
FURTHER_DB = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
SLOPE_DB = 0.4
MIDDLE = 0.5 * (NEAR + FAR) + FURTHER_DB / (2.0 * SLOPE_DB)
FINE_DEG, FINE_M = 0.1 / 2400.0, 0.05 / 2400.0
"""The ends are found to 1/2400 of a step."""


def two_rows(slope_db: float = SLOPE_DB) -> Problem:
    """Ears 4 and 20 m away and 4.8 m under a box at 6 m, the axis free."""
    plain = question(tent(slope_db), rows=2, hang=Hang(vertical_m=(6.0, 6.0)))
    return replace(plain, axis_on_audience=False)


def check_ends(found: tuple[float, float], expected: tuple[float, float], fine: float) -> None:
    """Never beyond the end, and short of it by no more than the finest step."""
    low, high = expected
    assert low - 1e-9 <= found[0] <= low + 1.05 * fine
    assert high - 1.05 * fine <= found[1] <= high + 1e-9


@pytest.mark.parametrize("within_db", [0.5, 0.05, 0.003])
def test_each_degree_off_costs_twice_the_slope(within_db: float) -> None:
    """The spread is 2·s·|τ − MIDDLE| between the rows' directions."""
    assert WITHIN_DB == 0.5
    problem, by = two_rows(), within_db / (2.0 * SLOPE_DB)
    for off in (0.0, 0.4, -0.3):
        found = tilt_window_deg(problem, Placement(0.0, 6.0, MIDDLE + off), within_db=within_db)
        out = by + abs(off)
        check_ends(found, (MIDDLE - out, MIDDLE + out), FINE_DEG)


@pytest.mark.parametrize("off_deg", [0.102_1, 0.103, 0.103_5, 0.104, 4.65, 4.75, 4.852])
def test_ends_are_as_fine_wherever_they_lie_among_the_steps(off_deg: float) -> None:
    """Just after a step, and at the seams of the 48 steps that are looked at at once."""
    at = Placement(0.0, 6.0, MIDDLE)
    found = tilt_window_deg(two_rows(), at, within_db=2.0 * SLOPE_DB * off_deg)
    check_ends(found, (MIDDLE - off_deg, MIDDLE + off_deg), FINE_DEG)


def test_the_axis_leaving_the_audience_ends_the_window_where_that_is_a_limit() -> None:
    problem = replace(two_rows(), axis_on_audience=True)
    at = Placement(0.0, 6.0, FAR - 0.25)
    found = tilt_window_deg(problem, at, within_db=200.0)
    check_ends(found, (NEAR, FAR), FINE_DEG)
    # Where the placement itself breaks it, only the cost counts.
    beyond = Placement(0.0, 6.0, FAR + 0.25)
    low, high = tilt_window_deg(problem, beyond, within_db=1.0)
    alike = tilt_window_deg(two_rows(), beyond, within_db=1.0)
    assert (low, high) == alike and low < FAR < high


def test_tilts_end_at_straight_up_and_down() -> None:
    """A lobe that falls by nothing: every tilt is as good."""
    found = tilt_window_deg(two_rows(0.0), Placement(0.0, 6.0, -12.0), within_db=0.5)
    assert found == (-90.0, 90.0)
    steep = tilt_window_deg(two_rows(0.0), Placement(0.0, 6.0, -89.95), within_db=0.5)
    assert steep == (-90.0, 90.0)


def end_by_halving(good: Callable[[float], bool], inside: float, outside: float) -> float:
    assert good(inside) and not good(outside)
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        inside, outside = (middle, outside) if good(middle) else (inside, middle)
    return inside


@pytest.mark.parametrize("within_db", [0.5, 0.1])
def test_heights_around_one_that_cost_no_more(within_db: float) -> None:
    problem = two_rows()

    def spread(height: float) -> float:
        levels = scalar_levels_db(problem, 0.0, height, MIDDLE, False)
        return scalar_objective_db(problem, levels)

    for height in (6.0, 6.2):
        most = spread(height) + within_db

        def good(at: float, most: float = most) -> bool:
            return spread(at) <= most

        low, high = (end_by_halving(good, height, height + by) for by in (-1.5, 1.5))
        found = height_window_m(problem, Placement(0.0, height, MIDDLE), within_db=within_db)
        check_ends(found, (low, high), FINE_M)
        assert low < height < high


def test_a_limit_of_the_view_ends_the_heights() -> None:
    """From the front row at (4, 1.2) the box at x = 0 is at 45° when 4 m higher."""
    problem = replace(two_rows(0.01), max_front_elevation_deg=45.0, front_ear_m=(4.0, EAR_M))
    found = height_window_m(problem, Placement(0.0, 5.0, MIDDLE), within_db=9.0)
    assert EAR_M + 4.0 - 1.05 * FINE_M <= found[1] <= EAR_M + 4.0 + 1e-9


def test_a_window_has_an_end_even_where_nothing_costs() -> None:
    """Rows on one spot hear the same wherever the box is: 40 · 48 steps of 5 cm either way."""
    problem = question(tent(0.0), ears=((4.0, EAR_M), (4.0, EAR_M)), rows=2)
    problem = replace(problem, axis_on_audience=False)
    low, high = height_window_m(problem, Placement(0.0, 6.0, 0.0), within_db=0.5)
    assert (low, high) == pytest.approx((6.0 - 96.0, 6.0 + 96.0))


def test_a_window_far_wider_than_a_round_of_steps() -> None:
    """0.01 dB a degree: half a decibel is 25° either way, in steps of 0.1°."""
    problem = two_rows(0.01)
    tilt = 0.5 * (NEAR + FAR)
    middle = Placement(0.0, 6.0, tilt)
    # As long as the axis lies between the two, each degree costs 0.02 dB one way only.
    low, high = tilt_window_deg(problem, middle, within_db=0.2)
    check_ends((low, high), (tilt - 10.0, 90.0), FINE_DEG)
    fall = tilt_window_deg(problem, middle, within_db=0.5)
    assert fall == (-90.0, 90.0)


def test_what_hides_the_rows_is_worked_out_once_for_all_tilts() -> None:
    """The box stays where it is: one place is asked about, not one for each tilt."""
    asked: list[tuple[int, ...]] = []

    class Veil:
        def loss_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
            asked.append(np.broadcast_shapes(x_m.shape, height_m.shape))
            return np.zeros((*asked[-1], 1, 2))

        def bounds_db(self, x_m: object, height_m: object) -> tuple[FloatArray, FloatArray]:
            return np.zeros((1, 1, 2)), np.zeros((1, 1, 2))

    problem = replace(two_rows(), shadow=Veil())
    tilt_window_deg(problem, Placement(0.0, 6.0, MIDDLE), within_db=0.5)
    assert set(asked) == {()}

"""Check positions: what they tell, held against the whole linear model written out."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onsite_scenes import BANDS_HZ, problem

from aiming.aim.check_positions import (
    APART_M,
    BAND_DB,
    SITE_DB,
    WIDTH_DOUBT,
    band_root,
    choose_checks,
    microphone_z_m,
    tilt_doubt_deg,
)
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)


def tilt_variance(of: Problem, plan: Placement, rows: list[int]) -> float:
    """Variance of tilt (deg²) by generalised least squares with every unknown written out: tilt,
    width (with its prior), one gain per band; a second formula for what checks.py reduces."""
    step = 0.5
    high, low = (of.levels_db(replace(plan, tilt_deg=plan.tilt_deg + d)) for d in (step, -step))
    slope = (high - low) / (2.0 * step)
    off = np.degrees(np.arctan2(of.rows.z_m - plan.height_m, of.rows.x_m - plan.x_m)) - float(
        plan.tilt_deg
    )
    bands = len(slope)
    count = bands * len(rows)
    design = np.zeros((count + 1, 2 + bands))
    noise = np.zeros((count + 1, count + 1))
    for place, row in enumerate(rows):
        for band in range(bands):
            line = place * bands + band
            design[line, 0] = slope[band, row]
            design[line, 1] = slope[band, row] * off[row]
            design[line, 2 + band] = 1.0
            for other in range(bands):
                noise[line, place * bands + other] = SITE_DB**2
            noise[line, line] += BAND_DB**2
    design[count, 1] = 1.0
    noise[count, count] = WIDTH_DOUBT**2
    information = design.T @ np.linalg.inv(noise) @ design
    return float(np.linalg.pinv(information)[0, 0])


def test_band_root_squares_to_the_inverse_of_one_positions_covariance() -> None:
    for bands in (1, 4, 7):
        root = band_root(bands, site_db=0.7, band_db=1.3)
        covariance = 0.49 * np.ones((bands, bands)) + 1.69 * np.eye(bands)
        assert np.allclose(root.T @ root, np.linalg.inv(covariance), atol=1e-12)


@pytest.mark.parametrize(
    ("half", "plan"),
    [(30.0, PLAN), (20.0, Placement(0.0, 8.0, -20.0)), (45.0, Placement(-1.0, 5.0, -10.0))],
)
def test_first_three_are_the_best_three(half: float, plan: Placement) -> None:
    of = problem(half_deg=half)
    checks = choose_checks(of, plan)
    x, z = of.rows.x_m, of.rows.z_m
    best = min(
        tilt_variance(of, plan, list(rows))
        for rows in combinations(range(len(of.rows)), 3)
        if all(np.hypot(x[a] - x[b], z[a] - z[b]) >= APART_M for a, b in combinations(rows, 2))
    )
    found = tilt_variance(of, plan, [check.row for check in checks[:3]])
    assert found == pytest.approx(best, rel=1e-6)
    assert [check.reason.split(";")[0] for check in checks[:3]] == ["tells tilt"] * 3
    assert tilt_doubt_deg(of, plan, checks[:3]) == pytest.approx(1.6449 * best**0.5, rel=1e-6)


def test_more_positions_never_tell_less() -> None:
    of = problem()
    checks = choose_checks(of, PLAN)
    doubts = [tilt_doubt_deg(of, PLAN, checks[:count]) for count in range(2, len(checks) + 1)]
    assert all(b <= a + 1e-9 for a, b in pairwise(doubts))
    assert 1.0 < doubts[-1] < 10.0
    assert tilt_doubt_deg(of, PLAN, checks[:1]) == float("inf")


def test_a_degree_at_the_edge_of_a_60_degree_box_is_0_4_db_and_none_at_the_aim_point() -> None:
    # −20·lg 2·(φ/30)² has the slope 2·6.0206/30 = 0.401 dB per degree at φ = 30° (closed form).
    of = problem()
    away = np.radians(-15.0 + np.array([0.0, -30.0, 30.0]))
    rows = replace(
        of.rows.pick(np.array([0, 1, 2])),
        x_m=frozen(10.0 * np.cos(away)),
        z_m=frozen(6.0 + 10.0 * np.sin(away)),
    )
    found = {one.row: one for one in choose_checks(replace(of, rows=rows), PLAN)}
    assert found[0].level_per_degree_db == pytest.approx(0.0, abs=2e-3)
    assert found[1].level_per_degree_db == pytest.approx(-0.4014, abs=2e-3)
    assert found[2].level_per_degree_db == pytest.approx(+0.4014, abs=2e-3)


def test_loudest_softest_and_every_seating_are_visited() -> None:
    seatings = (
        Seating("stalls", np.array([[4.0, 0.0], [18.0, 1.4]])),
        Seating("circle", np.array([[14.0, 4.0], [18.0, 6.0]])),
        Seating("box", np.array([[10.0, 3.0], [11.0, 3.0]])),
    )
    of = replace(problem(), rows=rows_of(seatings), planes=plane_segments(seatings, (0, 1, 2)))
    checks = choose_checks(of, PLAN)
    design = of.levels_db(PLAN).mean(axis=0)
    rows = [check.row for check in checks]
    assert len(set(rows)) == len(rows)
    assert int(np.argmax(design)) in rows
    assert int(np.argmin(design)) in rows
    assert {int(of.rows.seating[row]) for row in rows} == {0, 1, 2}
    for check in checks:
        assert check.distance_m == pytest.approx(
            np.hypot(check.x_m - PLAN.x_m, check.z_m - PLAN.height_m)
        )
        expected = of.levels_db(PLAN)[:, check.row] - of.levels_db(PLAN)[:, checks[0].row]
        assert check.levels_db == pytest.approx(expected)
    assert checks[0].levels_db == pytest.approx(np.zeros(len(BANDS_HZ)))


def test_the_floor_is_seen_three_to_six_degrees_below_the_ears() -> None:
    of = problem(floor=((8.0, 0.0), (16.0, 0.0)))
    floor = microphone_z_m(of.rows, 0.0)
    assert floor == pytest.approx(np.zeros(len(of.rows)))
    assert microphone_z_m(of.rows, None) == pytest.approx(np.full(len(of.rows), 1.2))

    def seen(z: FloatArray) -> FloatArray:
        return np.asarray(np.degrees(np.arctan2(z - 6.0, of.rows.x_m)))

    change = seen(np.asarray(of.rows.z_m)) - seen(np.asarray(floor))
    assert (change > 3.0).all()
    assert (change < 6.5).all()


def test_rows_of_unknown_level_are_left_out() -> None:
    of = problem()
    inner = np.abs(of.pattern.angle_deg) <= 20.0
    short = Pattern(
        frozen(of.pattern.angle_deg[inner]), BANDS_HZ, frozen(of.pattern.level_db[:, inner]), "cut"
    )
    checks = choose_checks(replace(of, pattern=short), PLAN)
    assert checks
    assert all(abs(check.off_axis_deg) <= 20.0 for check in checks)
    blind = Placement(0.0, 6.0, 80.0)
    assert choose_checks(replace(of, pattern=short), blind) == ()


@settings(deadline=None, derandomize=True, max_examples=25)
@given(tilt=st.floats(-40.0, 10.0), height=st.floats(3.0, 9.0), half=st.floats(15.0, 60.0))
def test_positions_are_rows_once_each_and_the_same_each_time(
    tilt: float, height: float, half: float
) -> None:
    of, plan = problem(half_deg=half), Placement(0.0, height, tilt)
    checks, again = choose_checks(of, plan), choose_checks(of, plan)
    assert [one.row for one in checks] == [one.row for one in again]
    assert len({one.row for one in checks}) == len(checks) >= 3
    for one in checks:
        assert (one.x_m, one.z_m) == (of.rows.x_m[one.row], of.rows.z_m[one.row])


def test_one_row_alone_tells_nothing() -> None:
    of = problem()
    assert choose_checks(replace(of, rows=of.rows.pick(np.array([3]))), PLAN) == ()


def test_two_rows_are_both_taken() -> None:
    of = problem()
    two = replace(of, rows=of.rows.pick(np.array([0, 16])))
    assert sorted(one.row for one in choose_checks(two, PLAN)) == [0, 1]

"""Check positions: what they tell, held against the whole linear model written out."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onsite_scenes import BANDS_HZ, problem

from aiming.aim.check_positions import (
    APART_M,
    BAND_DB,
    DOUBT,
    EDGE_MOST,
    SITE_DB,
    SPREAD_OUT,
    _per_doubt,
    band_root,
    choose_checks,
    microphone_z_m,
)
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)


def worst_row(of: Problem, plan: Placement, rows: list[int]) -> float:
    """Largest variance (dB²) of a row's design level about the mean of all, by generalised least
    squares with every unknown written out: the six of DOUBT with their priors, one gain per band; a
    second formula for what check_positions.py reduces."""

    def level(**by: float) -> FloatArray:
        there = {"tilt_deg": plan.tilt_deg, "height_m": plan.height_m, "x_m": plan.x_m}
        moved = {name: float(value) + by.get(name, 0.0) for name, value in there.items()}
        return of.levels_db(Placement(moved["x_m"], moved["height_m"], moved["tilt_deg"]))

    slopes = []
    for name, step in (("tilt_deg", 0.5), ("height_m", 0.05), ("x_m", 0.05)):
        slopes.append((level(**{name: step}) - level(**{name: -step})) / (2.0 * step))
    off = np.degrees(np.arctan2(of.rows.z_m - plan.height_m, of.rows.x_m - plan.x_m)) - float(
        plan.tilt_deg
    )
    half = float(np.interp(6.0206, -of.pattern.level_db[0][of.pattern.angle_deg >= 0.0],
                           of.pattern.angle_deg[of.pattern.angle_deg >= 0.0]))  # fmt: skip
    out = np.clip(off / half, -EDGE_MOST, EDGE_MOST)
    ones = np.ones_like(slopes[0])
    slopes += [slopes[0] * off, ones * out**2, ones * out]
    bands, count = len(slopes[0]), len(slopes[0]) * len(rows)
    design = np.zeros((count + 6, 6 + bands))
    noise = np.zeros((count + 6, count + 6))
    for place, row in enumerate(rows):
        for band in range(bands):
            line = place * bands + band
            design[line, :6] = [slope[band, row] for slope in slopes]
            design[line, 6 + band] = 1.0
            for other in range(bands):
                noise[line, place * bands + other] = SITE_DB**2
            noise[line, line] += BAND_DB**2
    for k, doubt in enumerate(DOUBT):
        design[count + k, k] = 1.0
        noise[count + k, count + k] = doubt**2
    information = design.T @ np.linalg.inv(noise) @ design
    covariance = np.linalg.inv(information)[:6, :6]
    change = np.array([slope.mean(axis=0) for slope in slopes])
    change = change - change.mean(axis=1, keepdims=True)
    return float(np.einsum("pr,pq,qr->r", change, covariance, change).max())


def test_band_root_squares_to_the_inverse_of_one_positions_covariance() -> None:
    for bands in (1, 4, 7):
        root = band_root(bands, site_db=0.7, band_db=1.3)
        covariance = 0.49 * np.ones((bands, bands)) + 1.69 * np.eye(bands)
        assert np.allclose(root.T @ root, np.linalg.inv(covariance), atol=1e-12)


@pytest.mark.parametrize(
    ("half", "plan"),
    [(30.0, PLAN), (20.0, Placement(0.0, 8.0, -20.0)), (45.0, Placement(-1.0, 5.0, -10.0))],
)
def test_the_last_position_is_the_one_that_leaves_the_worst_row_best_known(
    half: float, plan: Placement
) -> None:
    of = problem(half_deg=half)
    five = [check.row for check in choose_checks(of, plan, count=5)]
    six = [check.row for check in choose_checks(of, plan, count=6)]
    assert set(five) < set(six)
    x, z = of.rows.x_m, of.rows.z_m
    apart = max(APART_M, float(np.ptp(x)) / SPREAD_OUT)
    free = [
        row
        for row in range(len(of.rows))
        if all(np.hypot(x[row] - x[k], z[row] - z[k]) >= apart for k in five)
    ]
    best = min(worst_row(of, plan, [*five, row]) for row in free)
    assert worst_row(of, plan, six) == pytest.approx(best, rel=1e-3)
    assert worst_row(of, plan, six) < worst_row(of, plan, [2, 3, 4, 5, 6, 7])


def test_positions_are_walked_from_front_to_back_in_every_third() -> None:
    of = problem()
    checks = choose_checks(of, PLAN, spare=2)
    main = [check for check in checks if not check.spare]
    assert len(main) == 6
    assert [check.row for check in main] == sorted(check.row for check in main)
    assert {min(3 * check.row // len(of.rows), 2) for check in main} == {0, 1, 2}
    assert [check.reason.split(";")[0] for check in checks[6:]] == ["spare"] * 2
    for one, other in combinations(main, 2):
        assert np.hypot(one.x_m - other.x_m, one.z_m - other.z_m) >= APART_M - 1e-9


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


def test_what_a_doubt_does_to_every_level_is_its_slope_times_its_size() -> None:
    """Tilt, height and x by differences a tenth as wide; the pattern's own by hand."""
    of, at = problem(), {"tilt_deg": -15.0, "height_m": 6.0, "x_m": 0.5}
    found = _per_doubt(of, Placement(**at)) / np.array(DOUBT)

    def slope(name: str, step: float) -> FloatArray:
        up, down = (of.levels_db(Placement(**{**at, name: at[name] + by})) for by in (step, -step))
        return (up - down) / (2.0 * step)

    by_tilt = slope("tilt_deg", 0.05)
    assert found[..., 0] == pytest.approx(by_tilt, abs=0.01)
    assert found[..., 1] == pytest.approx(slope("height_m", 0.005), abs=0.02)
    assert found[..., 2] == pytest.approx(slope("x_m", 0.005), abs=0.02)
    off = np.degrees(np.arctan2(of.rows.z_m - 6.0, of.rows.x_m - 0.5)) + 15.0
    assert found[..., 3] == pytest.approx(found[..., 0] * off, abs=1e-9)
    # At the edge of the 60° that it covers, 30° off, both edge and balance change by what they are.
    assert found[..., 5] == pytest.approx(np.ones_like(by_tilt) * off / 30.0, abs=0.02)
    assert found[..., 4] == pytest.approx(found[..., 5] ** 2, abs=1e-9)
    assert np.abs(off).max() < 30.0 * EDGE_MOST


def test_the_loudest_and_the_softest_row_are_told_where_they_are_taken() -> None:
    of = problem()
    told = []
    for tilt_deg in (-25.0, -15.0, -10.0, -2.0):
        plan = Placement(0.0, 6.0, tilt_deg)
        design = of.levels_db(plan).mean(axis=0)
        for one in choose_checks(of, plan, count=len(of.rows)):
            for word, extreme in (("loudest", design.argmax()), ("softest", design.argmin())):
                assert (word in one.reason) == (one.row == extreme)
                told += [word] * (word in one.reason)
            third = ("front", "middle", "back")[min(3 * one.row // len(of.rows), 2)]
            assert one.reason.startswith(third)
    assert set(told) == {"loudest", "softest"}


def test_every_seating_is_visited() -> None:
    seatings = (
        Seating("stalls", np.array([[4.0, 0.0], [18.0, 1.4]])),
        Seating("circle", np.array([[14.0, 4.0], [18.0, 6.0]])),
        Seating("box", np.array([[10.0, 3.0], [11.0, 3.0]])),
    )
    of = replace(problem(), rows=rows_of(seatings), planes=plane_segments(seatings, (0, 1, 2)))
    checks = choose_checks(of, PLAN)
    rows = [check.row for check in checks]
    assert len(set(rows)) == len(rows)
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

"""The worst case within a tolerance, against samples, a closed form and brute force."""

from dataclasses import replace
from itertools import product
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_air import tones

from aiming.aim.boxes import Boxes
from aiming.aim.cuts import upper_bounds
from aiming.aim.enclosure import enclose
from aiming.aim.pose import pose
from aiming.aim.problem import HERE, Displacement, Problem
from aiming.aim.search import Status, search
from aiming.aim.tolerance import Tolerance, best_worst, worst_within
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import EDGE_DB, Pattern
from aiming.speaker.speaker import Hang, Placement, Placements

Objective = Literal["spread", "worst band", "deviation"]
BANDS = (1000.0, 4000.0)
ALPHA = np.array([0.005, 0.03])


def problem_of(
    objective: Objective = "spread",
    *,
    pattern: Pattern | None = None,
    floor: tuple[tuple[float, float], ...] = ((4.0, 0.0), (12.0, 0.4), (20.0, 2.4)),
    rows: int | None = 12,
    hang: Hang | None = None,
) -> Problem:
    seating = Seating("floor", np.array(floor), row_count=rows)
    return Problem(
        pattern=pattern
        or nominal_pattern(above_deg=25, below_deg=35, bands_hz=BANDS, control_from_hz=2000.0),
        rows=rows_of((seating,)),
        planes=plane_segments((seating,), (0,)),
        air_loss=tones(ALPHA),
        hang=hang or Hang(vertical_m=(4.0, 8.0), tilt_deg=(-60.0, 10.0)),
        objective=objective,
    )


@settings(deadline=None, derandomize=True, max_examples=15)
@given(
    objective=st.sampled_from(["spread", "worst band", "deviation"]),
    height=st.floats(3.0, 10.0),
    tilt=st.floats(-45.0, 5.0),
    flipped=st.booleans(),
    tolerance=st.tuples(st.floats(0.0, 3.0), st.floats(0.0, 0.4), st.floats(0.0, 0.4)),
)
def test_nothing_within_the_tolerance_is_worse_than_the_bound(
    objective: Objective,
    height: float,
    tilt: float,
    flipped: bool,
    tolerance: tuple[float, float, float],
) -> None:
    problem = problem_of(objective)
    placement = Placement(0.0, height, tilt, flipped)
    size = Tolerance(*tolerance)
    worst = worst_within(problem, placement, size, gap_db=0.01)
    assert 0.0 <= worst.gap_db <= 0.01
    at = worst.displacement
    assert abs(at.tilt_deg) <= size.tilt_deg and abs(at.height_m) <= size.height_m
    assert abs(at.x_m) <= size.x_m
    assert float(problem.objective_db(at.of(placement))) == pytest.approx(
        worst.objective_db, abs=1e-9
    )
    off = np.random.default_rng(4).uniform(-1.0, 1.0, (600, 3)) * np.array(tolerance)
    tried = Placements.of(off[:, 2], height + off[:, 1], tilt + off[:, 0], flipped)
    assert problem.objective_db(tried).max() <= worst.bound_db + 1e-9


@settings(deadline=None, derandomize=True, max_examples=15)
@given(
    objective=st.sampled_from(["spread", "worst band", "deviation"]),
    height=st.floats(4.0, 10.0),
    tilt=st.floats(-40.0, 0.0),
    size=st.tuples(st.floats(0.0, 12.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
)
def test_no_objective_in_a_box_is_above_its_upper_bound(
    objective: Objective, height: float, tilt: float, size: tuple[float, float, float]
) -> None:
    problem = problem_of(objective)
    box = Boxes(
        np.array([[tilt, height, 0.0]]), np.array([size]), np.array([-1]), np.array([False])
    )
    bound, _ = upper_bounds(enclose(problem, box, pose(problem, box)), objective, problem.row_share)
    signs = np.random.default_rng(6).uniform(-1.0, 1.0, (400, 3))
    signs[:27] = list(product((-1.0, 0.0, 1.0), repeat=3))
    off = signs * np.array(size)
    tried = Placements.of(off[:, 2], height + off[:, 1], tilt + off[:, 0])
    assert problem.objective_db(tried).max() <= bound[0] + 1e-9


def test_a_tilt_error_on_two_rows_has_a_closed_form() -> None:
    """Quadratic lobe, half-angle h: levels differ by c·((φ1)² − (φ2)²)/h², linear in the tilt, so
    an error δ changes the spread of two rows by c·2·δ·(φ1 − φ2)/h², c = 20·lg 2."""
    half, tilt, delta = 30.0, -14.0, 1.5
    angle = np.linspace(-180.0, 180.0, 36001)
    level = -EDGE_DB * (angle / half) ** 2
    pattern = Pattern(angle, (1000.0,), level[np.newaxis], "quadratic, without a floor")
    problem = replace(
        problem_of(pattern=pattern, floor=((5.0, 0.0), (20.0, 0.0)), rows=2),
        air_loss=tones(np.zeros(1)),
    )
    placement = Placement(0.0, 6.0, tilt)
    seen = np.degrees(np.arctan2(problem.rows.z_m - 6.0, problem.rows.x_m)) - tilt
    here = float(problem.objective_db(placement))
    change = EDGE_DB * 2.0 * delta * abs(seen[0] - seen[1]) / half**2
    worst = worst_within(problem, placement, Tolerance(tilt_deg=delta), gap_db=0.001)
    assert worst.objective_db == pytest.approx(here + change, abs=1e-3)
    assert abs(worst.displacement.tilt_deg) == delta
    assert worst.gap_db <= 0.001


@pytest.mark.parametrize("objective", ["spread", "worst band", "deviation"])
def test_the_best_worst_case_against_brute_force(objective: Objective) -> None:
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-40.0, 5.0))
    problem = problem_of(objective, hang=hang)
    size = Tolerance(tilt_deg=1.0, height_m=0.15)
    found = best_worst(problem, size, gap_db=0.02, lower_if_within_db=0.0)
    assert found.best.status is Status.PROVEN and found.best.gap_db <= 0.02 * (1.0 + 1e-9)
    tilt = np.arange(-40.0, 5.0, 0.05)
    worst = np.zeros_like(tilt)
    for turn in np.linspace(-1.0, 1.0, 9):
        for up in (-0.15, -0.05, 0.05, 0.15):
            at = Placements.of(0.0, np.full_like(tilt, 6.0 + up), tilt + turn)
            worst = np.maximum(worst, problem.objective_db(at))
    allowed = problem.allowed(Placements.of(0.0, np.full_like(tilt, 6.0), tilt))
    brute = float(worst[allowed].min())
    assert found.best.objective_db - found.best.gap_db <= brute + 1e-9
    assert found.best.objective_db <= brute + 0.03
    plain = search(problem, gap_db=0.02)
    assert plain.placement is not None
    its_worst = worst_within(problem, plain.placement, size, gap_db=0.005)
    assert found.best.objective_db <= its_worst.bound_db + 0.02
    assert found.best.objective_db > plain.objective_db + 0.02


def test_a_tolerance_of_nothing_changes_nothing() -> None:
    problem = problem_of()
    plain = search(problem, gap_db=0.02)
    found = best_worst(problem, Tolerance(), gap_db=0.02, lower_if_within_db=0.0)
    assert found.best.objective_db == pytest.approx(plain.objective_db, abs=0.02)
    assert found.worst is not None and found.worst.displacement == HERE
    here = Placement(0.0, 6.0, -12.0)
    for tiny in (0.0, 5e-324, 1e-12):
        worst = worst_within(problem, here, Tolerance(tiny, tiny, tiny), gap_db=0.01)
        assert worst.objective_db == pytest.approx(float(problem.objective_db(here)), abs=1e-9)


def test_more_tolerance_never_costs_less() -> None:
    problem, here, before = problem_of("worst band"), Placement(0.0, 6.0, -12.0), 0.0
    for size in (0.0, 0.5, 1.0, 2.0, 4.0):
        worst = worst_within(problem, here, Tolerance(size, 0.1 * size, 0.1 * size), gap_db=0.005)
        assert worst.bound_db >= before - 0.005
        before = worst.objective_db


def test_the_lowest_that_is_good_enough_keeps_its_worst_case_too() -> None:
    problem, size = problem_of(), Tolerance(1.0, 0.1, 0.1)
    found = best_worst(problem, size, gap_db=0.05, lower_if_within_db=0.5)
    assert found.taken.placement is not None and found.best.placement is not None
    assert found.worst is not None
    assert found.taken.placement.height_m <= found.best.placement.height_m
    assert found.taken.objective_db <= found.best.objective_db + 0.5 + 0.05
    assert found.taken.objective_db == pytest.approx(found.worst.bound_db)


def test_where_a_level_may_be_unknown_the_worst_case_is_infinite() -> None:
    angle = np.linspace(-40.0, 40.0, 81)
    pattern = Pattern(angle, BANDS, np.tile(-EDGE_DB * (angle / 30.0) ** 2, (2, 1)), "to ±40°")
    problem = problem_of(pattern=pattern)
    seen = np.degrees(np.arctan2(problem.rows.z_m - 6.0, problem.rows.x_m))
    tilt = float(seen.min()) + 39.5  # half a degree is left to the end of what is known
    placement = Placement(0.0, 6.0, tilt)
    assert np.isfinite(problem.objective_db(placement))
    near = worst_within(problem, placement, Tolerance(tilt_deg=0.4), gap_db=0.01)
    beyond = worst_within(problem, placement, Tolerance(tilt_deg=0.6), gap_db=0.01)
    assert np.isfinite(near.bound_db) and np.isinf(beyond.bound_db)


def test_displacements_move_the_placement() -> None:
    moved = Displacement(1.0, -0.2, 0.3).of(Placement(0.0, 6.0, -12.0, True))
    assert (moved.x_m, moved.height_m, moved.tilt_deg, moved.flipped) == (0.3, 5.8, -11.0, True)
    assert len(Tolerance(1.0, 0.1, 0.1).corners()) == 8
    assert len(Tolerance(tilt_deg=1.0).corners()) == 2
    with pytest.raises(ValueError, match="not negative"):
        Tolerance(tilt_deg=-1.0)

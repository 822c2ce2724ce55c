"""The worst case within a tolerance, step by step, against closed forms and plain samples."""

import math
from dataclasses import fields, replace
from itertools import product
from typing import Any

import numpy as np
import pytest
from plain_questions import question, tent

from aiming.aim import tolerance as of_tolerance
from aiming.aim.boxes import Boxes
from aiming.aim.cuts import upper_bounds
from aiming.aim.enclosure import enclose
from aiming.aim.hung_pair import Under
from aiming.aim.pose import pose
from aiming.aim.problem import HERE, Displacement, Problem
from aiming.aim.search import SearchResult, Status, search
from aiming.aim.tolerance import (
    Tolerance,
    Worst,
    _agreed,
    _displacement,
    _halved,
    _look,
    _nearly_worst,
    _proven,
    best_worst,
    worst_within,
)
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang, Placement, Placements

NEAR, FAR = math.degrees(math.atan2(-4.8, 4.0)), math.degrees(math.atan2(-4.8, 20.0))
FURTHER_DB = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
SLOPE_DB = 0.4
MIDDLE = 0.5 * (NEAR + FAR) + FURTHER_DB / (2.0 * SLOPE_DB)
"""The tilt at which both rows hear the same; each degree off costs 2·SLOPE_DB."""


def two_rows(hang: Hang | None = None) -> Problem:
    """Ears 4 and 20 m away and 4.8 m under a box at 6 m."""
    return question(tent(SLOPE_DB), rows=2, hang=hang or Hang(vertical_m=(6.0, 6.0)))


# --- the tolerance itself


def test_a_tolerance_is_not_negative_in_any_of_the_three() -> None:
    assert Tolerance() == Tolerance(0.0, 0.0, 0.0)
    for less in (Tolerance(1.0), Tolerance(height_m=0.1), Tolerance(x_m=0.1)):
        values = {of.name: -getattr(less, of.name) for of in fields(less)}
        with pytest.raises(ValueError, match="not negative"):
            Tolerance(**values)
        with pytest.raises(ValueError, match="not negative"):
            Tolerance(**{name: value if value < 0.0 else 1.0 for name, value in values.items()})


def test_corners_are_the_furthest_displacements_each_once() -> None:
    assert Tolerance().corners() == (HERE,)
    assert Tolerance(height_m=0.2).corners() == (
        Displacement(height_m=-0.2),
        Displacement(height_m=0.2),
    )
    assert set(Tolerance(1.0, 0.2, 0.3).corners()) == {
        Displacement(tilt, height, x)
        for tilt, height, x in product((-1.0, 1.0), (-0.2, 0.2), (-0.3, 0.3))
    }
    assert Worst(1.5, 0.25, HERE).bound_db == 1.75


# --- the worst case of one placement


@pytest.mark.parametrize("off_deg", [0.0, 0.25, -0.75])
def test_a_tilt_off_costs_twice_the_slope(off_deg: float) -> None:
    problem = two_rows()
    placement = Placement(0.0, 6.0, MIDDLE + off_deg)
    worst = worst_within(problem, placement, Tolerance(tilt_deg=1.5), gap_db=0.001)
    exact = 2.0 * SLOPE_DB * (1.5 + abs(off_deg))
    assert worst.objective_db == pytest.approx(exact, abs=1e-9)
    assert 0.0 <= worst.gap_db <= 0.001 and worst.bound_db >= exact - 1e-9
    if off_deg:
        assert worst.displacement == Displacement(tilt_deg=math.copysign(1.5, off_deg))


def test_the_worst_may_lie_inside_and_is_found_there() -> None:
    """The axis swept over the near row: its level peaks inside, at a tilt known beforehand."""
    problem = replace(two_rows(), pattern=tent(3.0))
    centre = NEAR + 0.7
    placement = Placement(0.0, 6.0, centre)
    worst = worst_within(problem, placement, Tolerance(tilt_deg=1.5), gap_db=0.01)
    exact = 3.0 * (FAR - NEAR) + FURTHER_DB  # flat from the near row's direction outwards
    assert worst.objective_db <= exact + 1e-9
    assert worst.objective_db >= exact - 0.01
    assert worst.bound_db >= exact - 1e-9 and worst.gap_db <= 0.01


@pytest.mark.parametrize("gap_db", [0.005, 0.2])
@pytest.mark.parametrize("objective", ["spread", "worst band", "deviation"])
def test_the_worst_in_all_three_against_samples(objective: Any, gap_db: float) -> None:
    problem = question(tent(0.3, 0.5, above_db=0.7), objective=objective, air_db_per_m=0.02)
    size = Tolerance(4.0, 0.4, 0.3)
    for tilt in (-20.0, -12.0):
        worst = worst_within(problem, Placement(0.2, 6.0, tilt), size, gap_db=gap_db)
        turns, ups, sides = (np.linspace(-1.0, 1.0, count) for count in (81, 5, 5))
        grid = np.array(list(product(turns, ups, sides)))
        there = Placements.of(
            0.2 + 0.3 * grid[:, 2], 6.0 + 0.4 * grid[:, 1], tilt + 4.0 * grid[:, 0]
        )
        sampled = float(problem.objective_db(there).max())
        assert worst.bound_db >= sampled - 1e-9 and 0.0 <= worst.gap_db <= gap_db
        at = worst.displacement.of(Placement(0.2, 6.0, tilt))
        assert float(problem.objective_db(at)) == pytest.approx(worst.objective_db, abs=1e-9)
        assert worst.objective_db >= sampled - gap_db


def test_limits_of_tilt_trim_and_axis_do_not_cut_the_worst_case() -> None:
    """A box that hangs off hangs off its acoustic centre, wherever its axis then points."""
    box = Cabinet(outline_m=np.array([[-0.4, -0.2], [0.0, -0.2], [0.0, 0.5], [-0.4, 0.5]]))
    size, placement = Tolerance(2.0, 0.2, 0.1), Placement(0.0, 6.0, FAR - 0.5)
    plain = replace(two_rows(), axis_on_audience=False)
    exact = worst_within(plain, placement, size, gap_db=0.01)
    hang = Hang(vertical="trim", vertical_m=(5.8, 5.8), tilt_deg=(FAR - 1.0, FAR))
    hung = replace(two_rows(hang), cabinet=box)
    several = replace(hung, around=(Displacement(3.0), Displacement(-3.0)))
    for problem in (hung, several):
        worst = worst_within(problem, placement, size, gap_db=0.01)
        assert worst.objective_db == pytest.approx(exact.objective_db, abs=0.01)
        assert worst.displacement == exact.displacement


def test_the_splay_of_what_hangs_under_stays_as_it_is() -> None:
    held = HungUnder("above", (0.0, -0.3), (0.0, 0.3), (0.0, 40.0))
    pair = replace(two_rows(), under=Under(held, tent(0.3), True, np.array([2.0])))
    placement = Placement(0.0, 6.0, -10.0, False, 22.0)
    size = Tolerance(tilt_deg=1.0)
    worst = worst_within(pair, placement, size, gap_db=0.01)
    tilt = np.linspace(-11.0, -9.0, 401)
    sampled = float(
        pair.objective_db(Placements.of(0.0, 6.0 + 0.0 * tilt, tilt, False, 22.0)).max()
    )
    assert worst.objective_db == pytest.approx(sampled, abs=0.01)
    assert worst.bound_db >= sampled - 1e-9


def test_no_tolerance_leaves_the_placement_as_it_is() -> None:
    problem, placement = two_rows(), Placement(0.0, 6.0, MIDDLE + 1.0, True)
    worst = worst_within(problem, placement, Tolerance(), gap_db=0.01)
    assert worst.objective_db == pytest.approx(2.0 * SLOPE_DB) and worst.displacement == HERE
    assert worst.gap_db <= 1e-9


def test_unknown_levels_make_the_worst_case_unknown() -> None:
    problem = replace(two_rows(), pattern=tent(SLOPE_DB, known_deg=20.0))
    worst = worst_within(problem, Placement(0.0, 6.0, MIDDLE), Tolerance(10.0), gap_db=0.01)
    assert worst.objective_db == worst.gap_db == np.inf


def bound_of_all(problem: Problem, size: Tolerance, placement: Placement) -> float:
    """The upper bound over the whole tolerance as one box."""
    box = Boxes(
        np.array([[placement.tilt_deg, placement.height_m, placement.x_m]], dtype=np.float64),
        np.array([[size.tilt_deg, size.height_m, size.x_m]]),
        np.array([-1]),
        np.array([False]),
    )
    bound, _ = upper_bounds(
        enclose(problem, box, pose(problem, box)), problem.objective, problem.row_share
    )
    return float(bound[0])


def test_the_gap_is_what_the_bounds_leave() -> None:
    """With any gap allowed one box is enough; what its bound leaves is told, not nothing."""
    size = Tolerance(5.0, 0.5, 0.5)
    for tilt in (-30.0, -20.0, -14.0, -8.0, 0.0):
        problem = question(tent(0.3, above_db=0.9))
        placement = Placement(0.0, 6.0, tilt)
        rough = worst_within(problem, placement, size, gap_db=50.0)
        assert rough.bound_db == pytest.approx(bound_of_all(problem, size, placement))
        corners = [float(problem.objective_db(of.of(placement))) for of in size.corners()]
        assert rough.objective_db >= max(corners) - 1e-9
        assert rough.gap_db > 0.1


def test_the_cap_leaves_a_gap_that_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = question(tent(0.3, above_db=0.9))
    size, placement = Tolerance(5.0, 0.5, 0.5), Placement(0.0, 6.0, -14.0)
    exact = worst_within(problem, placement, size, gap_db=0.001)
    whole = bound_of_all(problem, size, placement)
    bounds = []
    for most in (1, 2, 3, 4):
        monkeypatch.setattr(of_tolerance, "MOST_BOXES", most)
        capped = worst_within(problem, placement, size, gap_db=0.001)
        assert capped.gap_db > 0.001 and capped.bound_db >= exact.objective_db - 1e-9
        bounds.append(capped.bound_db)
    # One box, then two more, then four more.
    assert bounds[0] == pytest.approx(whole)
    assert bounds[0] > bounds[1] + 0.01
    assert bounds[1] == bounds[2] > bounds[3] + 0.01


def test_the_worst_corner_of_each_box_is_tried() -> None:
    """Off MIDDLE on one side each degree costs more: the end further out is the worst corner."""
    problem = two_rows()
    off = np.concatenate([np.linspace(1.0, 3.0, 70), np.linspace(-3.0, -1.0, 70)])
    boxes = Boxes(
        np.column_stack([MIDDLE + off, np.full(140, 6.0), np.zeros(140)]),
        np.tile([0.25, 0.0, 0.0], (140, 1)),
        np.full(140, -1),
        np.zeros(140, dtype=bool),
    )
    upper, values, spots = _look(problem, boxes)
    np.testing.assert_allclose(values[:140], 2.0 * SLOPE_DB * np.abs(off))
    np.testing.assert_allclose(values[140:], 2.0 * SLOPE_DB * (np.abs(off) + 0.25))
    np.testing.assert_allclose(spots[140:, 0], MIDDLE + off + np.copysign(0.25, off))
    assert (upper >= values[140:] - 1e-9).all() and (upper <= values[140:] + 0.1).all()


# --- its parts


def test_boxes_are_halved_where_they_are_widest_as_a_share() -> None:
    size = np.array([2.0, 0.4, 0.0])
    boxes = Boxes(
        np.array([[1.0, 6.0, 0.5], [2.0, 7.0, 0.5]]),
        np.array([[1.0, 0.1, 0.0], [0.5, 0.2, 0.0]]),
        np.array([-1, -1]),
        np.array([False, True]),
    )
    halves = _halved(boxes, size)
    np.testing.assert_allclose(
        halves.centre, [[0.5, 6.0, 0.5], [2.0, 6.9, 0.5], [1.5, 6.0, 0.5], [2.0, 7.1, 0.5]]
    )
    np.testing.assert_allclose(
        halves.half, [[0.5, 0.1, 0.0], [0.5, 0.1, 0.0], [0.5, 0.1, 0.0], [0.5, 0.1, 0.0]]
    )
    np.testing.assert_array_equal(halves.piece, [-1] * 4)
    np.testing.assert_array_equal(halves.flipped, [False, True, False, True])


def test_a_displacement_at_the_end_is_the_tolerance_itself() -> None:
    size = np.array([1.5, 0.1, 0.0])
    off = np.array([-1.5 * (1.0 - 0.95e-9), 0.1 * (1.0 - 1.05e-9), 0.0])
    found = _displacement(off, size)
    assert found.tilt_deg == -1.5 and found.x_m == 0.0
    assert found.height_m == 0.1 * (1.0 - 1.05e-9) != 0.1
    beyond = _displacement(np.array([1.5 + 1e-14, -0.1 - 1e-15, 0.0]), size)
    assert beyond == Displacement(1.5, -0.1, 0.0)
    assert _displacement(np.array([0.5, -0.05, 0.0]), size) == Displacement(0.5, -0.05, 0.0)


def test_displacements_that_cost_nearly_most_and_their_opposites_are_looked_at() -> None:
    """Each degree off MIDDLE costs 0.8 dB: 0.03 dB are 0.0375°."""
    problem = two_rows()
    placement = Placement(0.0, 6.0, MIDDLE)
    around = tuple(Displacement(tilt_deg=off) for off in (0.5, 1.0, -0.97, -0.961, 0.2))
    few = _nearly_worst(problem, around, placement)
    assert few == tuple(Displacement(tilt_deg=off) for off in (1.0, -0.97, -1.0, 0.97))
    level = replace(problem, around=(Displacement(tilt_deg=9.0),))
    assert _nearly_worst(level, around, placement) == few
    three = _nearly_worst(problem, (Displacement(2.0, 0.1, -0.2),), placement)
    assert three == (Displacement(2.0, 0.1, -0.2), Displacement(-2.0, -0.1, 0.2))


def found_at(tilt_deg: float, objective_db: float, gap_db: float) -> SearchResult:
    return SearchResult(Status.PROVEN, Placement(0.0, 6.0, tilt_deg), objective_db, gap_db, 7)


def test_a_proof_is_capped_where_its_gap_is_wider_than_asked_for() -> None:
    found = found_at(MIDDLE, 0.5, 0.01)
    worst = Worst(0.7, 0.02, HERE)
    proven = _proven(found, worst, 0.7, 0.05)
    assert proven == replace(found, objective_db=worst.bound_db, gap_db=proven.gap_db)
    assert proven.gap_db == pytest.approx(0.02, abs=1e-12)
    assert _proven(found, worst, 0.6, 0.05).status is Status.CAPPED
    assert _proven(found, worst, 0.6, 0.05).gap_db == pytest.approx(0.12)
    assert _proven(found, worst, 0.9, 0.05).gap_db == 0.0
    near, far = 0.05 * (1.0 + 0.95e-9), 0.05 * (1.0 + 1.05e-9)
    for gap, status in ((near, Status.PROVEN), (far, Status.CAPPED)):
        zero = Worst(gap, 0.0, HERE)
        assert _proven(found, zero, 0.0, 0.05).status is status


# --- the placement whose worst case is best


@pytest.mark.parametrize("gap_db", [0.02, 0.2])
def test_the_best_worst_case_has_a_closed_form(gap_db: float) -> None:
    """Aimed at the middle, it costs 2·s·δ; anything else costs more one way."""
    problem = two_rows()
    found = best_worst(problem, Tolerance(tilt_deg=1.0), gap_db=gap_db, lower_if_within_db=0.0)
    exact = 2.0 * SLOPE_DB
    assert found.best is found.taken and found.worst is not None
    assert found.best.status is Status.PROVEN and found.best.gap_db <= gap_db * (1.0 + 1e-9)
    assert exact - 1e-9 <= found.best.objective_db <= exact + gap_db
    assert found.best.objective_db - found.best.gap_db <= exact + 1e-9
    assert found.best.objective_db == found.worst.bound_db
    assert found.best.placement is not None
    assert found.best.placement.tilt_deg == pytest.approx(MIDDLE, abs=gap_db / (2.0 * SLOPE_DB))
    assert set(found.problem.around) == {Displacement(-1.0), Displacement(1.0)}
    assert found.worst.gap_db <= 0.25 * gap_db


def test_without_a_placement_there_is_no_worst_case() -> None:
    up = two_rows(Hang(vertical_m=(6.0, 6.0), tilt_deg=(20.0, 30.0)))
    found = best_worst(up, Tolerance(1.0), gap_db=0.05, lower_if_within_db=0.5)
    assert found.best.status is Status.INFEASIBLE and found.best is found.taken
    assert found.worst is None and found.problem is up
    # Allowed, but a degree off some row is unknown.
    half = 0.5 * (FAR - NEAR) + 0.5
    few = replace(two_rows(), pattern=tent(SLOPE_DB, known_deg=half), axis_on_audience=False)
    assert search(few, gap_db=0.05).placement is not None
    off = best_worst(few, Tolerance(1.0), gap_db=0.05, lower_if_within_db=0.5)
    assert off.best.placement is None and off.taken is off.best and off.worst is None
    assert off.problem.around != (HERE,)


def standing() -> Problem:
    hang = Hang(vertical_m=(3.0, 9.0), tilt_deg=(-12.0, -12.0))
    return replace(question(tent(0.1), rows=2, hang=hang), axis_on_audience=False)


def worst_at(problem: Problem, height_m: float, by_m: float) -> float:
    """The spread falls with the height: it is worst where the box hangs lowest."""
    return float(problem.objective_db(Placement(0.0, height_m - by_m, -12.0)))


def test_the_lowest_whose_worst_case_is_good_enough() -> None:
    problem, size, within_db, gap_db = standing(), Tolerance(height_m=0.2), 0.5, 0.01
    found = best_worst(problem, size, gap_db=gap_db, lower_if_within_db=within_db)
    assert found.best.placement is not None and found.taken.placement is not None
    assert found.best.placement.height_m == pytest.approx(9.0)
    best = worst_at(problem, 9.0, 0.2)
    assert best - 1e-9 <= found.best.objective_db <= best + gap_db
    height = float(found.taken.placement.height_m)
    assert found.worst is not None
    assert found.worst.objective_db == pytest.approx(worst_at(problem, height, 0.2), abs=1e-9)
    assert found.taken.objective_db == found.worst.bound_db
    # Good enough, and 2 cm lower no more.
    assert worst_at(problem, height, 0.2) <= best + within_db + gap_db
    assert worst_at(problem, height - 0.02, 0.2) > best + within_db - gap_db
    assert found.taken.status is Status.PROVEN
    for same in (0.0, -1.0):
        alike = best_worst(problem, size, gap_db=gap_db, lower_if_within_db=same)
        assert alike.taken is alike.best and alike.best == found.best
    fixed = problem.with_hang(replace(problem.hang, vertical_m=(9.0, 9.0)))
    held = best_worst(fixed, size, gap_db=gap_db, lower_if_within_db=within_db)
    assert held.taken is held.best and held.worst is not None


def test_more_displacements_are_looked_at_until_the_worst_case_agrees(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A stand-in for the worst case names one displacement after the other."""
    named = [Worst(2.0, 0.0, Displacement(k)) for k in (1.0, 2.0, 3.0)]
    asked: list[tuple[Displacement, ...]] = []
    own_gap: list[float] = []

    def look(several: Problem) -> SearchResult:
        asked.append(several.around)
        return found_at(0.0, 1.0 + 0.3 * len(asked), 0.05)

    def stand_in(*_: object, gap_db: float) -> Worst:
        own_gap.append(gap_db)
        return named[len(asked) - 1]

    monkeypatch.setattr(of_tolerance, "worst_within", stand_in)
    problem = two_rows()
    # 2.0 − (1.3 − 0.05), then − (1.6 − 0.05): the second is within 0.5.
    several, found, worst = _agreed(problem, Tolerance(1.0), (HERE,), look, 0.5)
    assert asked == [(HERE,), (HERE, Displacement(1.0))]
    assert several.around == asked[-1] and worst == named[1]
    assert found.objective_db == 2.0 and found.gap_db == pytest.approx(0.45)
    assert found.status is Status.PROVEN and own_gap == [0.125, 0.125]
    # A displacement that is looked at already ends it too.
    asked.clear()
    around = (HERE, Displacement(1.0))
    _, found, worst = _agreed(problem, Tolerance(1.0), around, look, 0.1)
    assert asked == [around] and worst == named[0]
    assert found.status is Status.CAPPED and found.gap_db == pytest.approx(0.75)
    # Just so far apart as asked for is enough.
    asked.clear()
    _, found, _ = _agreed(problem, Tolerance(1.0), (HERE,), look, 2.0 - (1.3 - 0.05))
    assert len(asked) == 1


def test_it_ends_after_six_rounds_and_nothing_found_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[tuple[Displacement, ...]] = []

    def look(several: Problem) -> SearchResult:
        asked.append(several.around)
        return found_at(0.0, 1.0, 0.0)

    monkeypatch.setattr(
        of_tolerance,
        "worst_within",
        lambda *_, **__: Worst(9.0, 0.0, Displacement(float(len(asked)))),
    )
    _, found, worst = _agreed(two_rows(), Tolerance(1.0), (HERE,), look, 0.1)
    assert len(asked) == 6 and worst is not None and found.gap_db == 8.0

    def none(several: Problem) -> SearchResult:
        return SearchResult(Status.INFEASIBLE, None, np.inf, np.inf, 3)

    several, found, worst = _agreed(two_rows(), Tolerance(1.0), (Displacement(2.0),), none, 0.1)
    assert several.around == (Displacement(2.0),) and worst is None
    assert found == none(several)


def test_the_own_worst_case_takes_half_of_the_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half of a decibel to begin with; then half the gap, since both ends take a quarter."""
    gaps: list[float] = []

    def noted(problem: Problem, *, gap_db: float) -> SearchResult:
        gaps.append(gap_db)
        return search(problem, gap_db=gap_db)

    monkeypatch.setattr(of_tolerance, "search", noted)
    best_worst(two_rows(), Tolerance(1.0), gap_db=0.08, lower_if_within_db=0.0)
    assert gaps[:2] == [0.5, 0.04] and set(gaps[1:]) == {0.04}


@pytest.mark.parametrize(("more_db", "kept"), [(0.0, True), (0.001, False), (None, False)])
def test_a_lower_placement_whose_worst_case_misses_is_not_taken(
    monkeypatch: pytest.MonkeyPatch, more_db: float | None, kept: bool
) -> None:
    """What is looked at to lower it ends at a worst case of best + 0.25 + 0.125, or more."""
    best = found_at(-12.0, 1.0, 0.0)
    lower = replace(best, placement=Placement(0.0, 5.0, -12.0))
    at_best, at_lower = Worst(1.0, 0.0, HERE), None
    if more_db is not None:
        at_lower = Worst(1.0 + 0.25 + 0.125 + more_db, 0.0, HERE)
    ends = [(best, at_best), (lower, at_lower)]
    monkeypatch.setattr(of_tolerance, "_agreed", lambda problem, *_: (problem, *ends.pop(0)))
    problem = standing()
    found = best_worst(problem, Tolerance(1.0), gap_db=0.125, lower_if_within_db=0.25)
    assert found.best is best and not ends
    assert found.taken is (lower if kept else best)
    assert found.worst is (at_lower if kept else at_best)

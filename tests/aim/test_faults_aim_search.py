"""How a search ends and what it keeps, on questions whose answers have closed forms."""

import math
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from plain_questions import question, tent
from second_formula import scalar_levels_db, scalar_objective_db

from aiming.aim import search as lowest
from aiming.aim.problem import Objective, Problem
from aiming.aim.search import STEP_M, SearchResult, Status, _Best, _Lowest, lowest_within, search
from aiming.base.arrays import BoolArray, FloatArray
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.speaker import Hang, Placement, Placements

NEAR, FAR = math.degrees(math.atan2(-4.8, 4.0)), math.degrees(math.atan2(-4.8, 20.0))
FURTHER_DB = 20.0 * math.log10(math.hypot(20.0, 4.8) / math.hypot(4.0, 4.8))
FIXED = Hang(vertical_m=(6.0, 6.0))


def two_rows(per_degree_db: float, hang: Hang = FIXED) -> Problem:
    """Ears 4 and 20 m away and 4.8 m under a box at 6 m; the far one hears FURTHER_DB less."""
    return question(tent(per_degree_db), rows=2, hang=hang)


# --- what a search keeps


class Given(Problem):
    """The objective is the tilt, and what lies at x < 0 is not allowed."""

    def objective_db(self, placement: Placement) -> FloatArray:
        return np.asarray(placement.tilt_deg, dtype=np.float64)

    def allowed(self, placement: Placement) -> BoolArray:
        return np.asarray(np.asarray(placement.x_m) >= 0.0)


def given() -> Problem:
    plain = question()
    values: dict[str, Any] = {of.name: getattr(plain, of.name) for of in fields(plain)}
    return Given(**values)


def tried(*of: tuple[float, float, bool]) -> Placement:
    """(objective, x, flipped) each."""
    value, x, flipped = (np.array(column) for column in zip(*of, strict=True))
    return Placements.of(x, np.arange(6.0, 6.0 + len(of)), value, flipped)


def kept(*offers: Placement) -> _Best:
    best = _Best(0.5)
    for offer in offers:
        best.offer(given(), offer, np.asarray(offer.height_m))
    return best


def test_the_least_that_is_allowed_is_kept() -> None:
    first = tried((3.0, 1.0, False), (1.0, -1.0, False), (2.0, 2.0, False), (2.5, 3.0, False))
    best = kept(first)
    assert (best.objective_db, best.rank_db, best.enough_db) == (2.0, 2.0, 1.5)
    assert best.placement == Placement(2.0, 8.0, 2.0, False)
    # Nothing as good, nor what is better but not allowed, takes its place.
    same = kept(first, tried((2.0, 5.0, False), (0.0, -5.0, False)))
    assert same == best
    assert kept(first, tried((1.9, 5.0, False))).placement == Placement(5.0, 6.0, 1.9, False)
    nothing = kept(tried((1.0, -1.0, False)))
    assert nothing.placement is None and nothing.objective_db == np.inf


def test_flipped_has_to_be_better_by_more_than_rounding() -> None:
    upright, flipped = tried((2.0, 1.0, False)), tried((2.0, 2.0, True))
    for offers in ((upright, flipped), (flipped, upright)):
        best = kept(*offers)
        assert best.placement == upright.at(0) and best.objective_db == 2.0
    assert kept(upright, tried((2.0 - 0.95e-9, 2.0, True))).placement == upright.at(0)
    better = tried((2.0 - 1.05e-9, 2.0, True))
    best = kept(upright, better)
    assert best.placement == better.at(0)
    assert best.objective_db == 2.0 - 1.05e-9
    assert best.rank_db == pytest.approx(2.0 - 0.05e-9, abs=1e-12)


# --- how a search ends


def test_two_rows_are_made_alike_where_the_lobe_is_steep() -> None:
    """τ = (θ1 + θ2)/2 + 20·lg(r2/r1)/(2s): the further falls as much less as it is further."""
    problem = two_rows(0.4)
    found = search(problem, gap_db=0.01)
    assert found.status is Status.PROVEN
    assert 0.0 <= found.objective_db <= 0.01 and found.gap_db <= 0.01
    assert found.objective_db - found.gap_db <= 1e-12
    assert found.placement is not None
    tilt = 0.5 * (NEAR + FAR) + FURTHER_DB / 0.8
    assert found.placement.tilt_deg == pytest.approx(tilt, abs=0.01 / 0.8 + 1e-9)
    assert found.placement.x_m == 0.0 and found.placement.height_m == 6.0


@pytest.mark.parametrize("gap_db", [0.01, 1.0])
def test_the_gap_holds_where_the_lobe_is_too_weak(gap_db: float) -> None:
    """The best is to aim at the far row: 20·lg(r2/r1) − s·(θ2 − θ1) is left."""
    exact = FURTHER_DB - 0.1 * (FAR - NEAR)
    found = search(two_rows(0.1), gap_db=gap_db)
    assert found.status is Status.PROVEN and found.boxes >= 64
    assert exact - 1e-9 <= found.objective_db <= exact + gap_db
    assert found.objective_db - exact - 1e-9 <= found.gap_db <= gap_db
    if gap_db == 1.0:
        # The first boxes suffice; the gap told is what their bounds leave, not what was asked.
        assert 0.0 < found.gap_db < 0.9


def test_where_nothing_is_allowed_the_search_says_so() -> None:
    plain = two_rows(0.4)
    never = replace(plain, reachable_tilt_deg={"upright": ()})
    assert search(never, gap_db=0.05) == SearchResult(Status.INFEASIBLE, None, np.inf, np.inf, 0)
    up = plain.with_hang(replace(FIXED, tilt_deg=(20.0, 30.0)))
    found = search(up, gap_db=0.05)
    assert found == replace(found, status=Status.INFEASIBLE, placement=None)
    assert found.objective_db == found.gap_db == np.inf and found.boxes > 0


def narrow() -> Problem:
    """Known to ±17° only, and the rows are seen 36.7° … 13.5° apart: few tilts know both."""
    half = 0.5 * (FAR - NEAR) + 0.02
    return replace(two_rows(0.4), pattern=tent(0.4, known_deg=half), axis_on_audience=False)


def test_at_the_cap_without_a_placement_nothing_is_decided() -> None:
    capped = search(narrow(), gap_db=0.05, most_boxes=1)
    assert capped == SearchResult(Status.UNDECIDED, None, np.inf, np.inf, 64)
    found = search(narrow(), gap_db=0.05)
    assert found.status is Status.PROVEN and found.placement is not None
    assert found.placement.tilt_deg == pytest.approx(0.5 * (NEAR + FAR), abs=0.021)
    assert found.objective_db == pytest.approx(FURTHER_DB - 0.4 * 0.04, abs=0.06)


def seven_rows(per_degree_db: float, objective: Objective) -> Problem:
    hang = Hang(vertical_m=(3.0, 9.0), x_m=(-2.0, 2.0))
    return question(tent(per_degree_db), rows=7, hang=hang, objective=objective)


@pytest.mark.parametrize("objective", ["spread", "deviation"])
def test_the_cap_ends_the_search_once_it_is_reached(objective: Objective) -> None:
    problem = seven_rows(0.8, objective)
    counts = [search(problem, gap_db=0.01, most_boxes=most).boxes for most in (1, 64, 65)]
    assert counts[:2] == [64, 64] and counts[2] > 64
    best = search(problem, gap_db=0.01)
    assert best.status is Status.PROVEN
    gaps = []
    for most in (1, 65, 300, 500):
        found = search(problem, gap_db=0.01, most_boxes=most)
        assert found.status is Status.CAPPED and found.boxes >= most
        # Never less than it is off by, and no more than all of it.
        assert found.objective_db - found.gap_db <= best.objective_db + 1e-9
        assert 0.01 < found.gap_db <= found.objective_db
        gaps.append(found.gap_db)
    assert gaps == sorted(gaps, reverse=True)


# --- the lowest that is good enough


def lowest_goal(*offers: Placement) -> _Lowest:
    goal = _Lowest(target_db=2.0, gap_db=0.25, v_m=9.0)
    for offer in offers:
        goal.offer(given(), offer, np.asarray(offer.height_m))
    return goal


def test_the_lowest_that_keeps_the_target_and_the_limits_is_kept() -> None:
    assert lowest_goal().enough_db == 1.75
    assert STEP_M == 0.01
    # Heights 6, 7, 8, 9 in turn.
    goal = lowest_goal(tried((2.1, 0.0, False), (2.0, -1.0, False), (2.0, 1.0, False)))
    assert goal.v_m == 8.0 and goal.placement == Placement(1.0, 8.0, 2.0, False)
    goal = lowest_goal(tried((1.0, 1.0, False), (0.5, 1.0, False), (0.0, 1.0, False)))
    assert goal.v_m == 6.0
    goal = lowest_goal(tried(*[(9.9, 0.0, False)] * 3, (1.0, 1.0, False)))
    assert goal.v_m == 9.0 and goal.placement is None  # no lower than what is there
    again = lowest_goal(tried((1.0, 1.0, False)), tried((0.0, 2.0, True)))
    assert again.v_m == 6.0 and again.placement == Placement(1.0, 6.0, 1.0, False)


UP = Hang(vertical_m=(3.0, 9.0), tilt_deg=(-12.0, -12.0))
OUTLINE_M = ((-0.4, -0.2), (0.0, -0.2), (0.0, 0.5), (-0.4, 0.5))
BOX = Cabinet(outline_m=np.array(OUTLINE_M))


def standing(per_degree_db: float = 0.1) -> Problem:
    """Only the height is free: the spread of two rows falls as the box rises."""
    return replace(two_rows(per_degree_db, UP), axis_on_audience=False)


def spread_at(problem: Problem, height_m: float, tilt_deg: float = -12.0) -> float:
    return scalar_objective_db(problem, scalar_levels_db(problem, 0.0, height_m, tilt_deg, False))


def height_for(problem: Problem, target_db: float) -> float:
    """By halving: the height at which the spread has fallen to the target."""
    low, high = 3.0, 9.0
    assert spread_at(problem, low) > target_db > spread_at(problem, high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if spread_at(problem, middle) > target_db else (low, middle)
    return high


@pytest.mark.parametrize(
    ("within_db", "gap_db"), [(0.5, 1e-4), (0.3, 1e-4), (0.1, 1e-4), (0.02, 2.0)]
)
def test_the_lowest_height_within_a_decibel_share(within_db: float, gap_db: float) -> None:
    problem = standing()
    best = search(problem, gap_db=0.001)
    found = lowest_within(problem, best, within_db=within_db, gap_db=gap_db)
    assert found.status is Status.PROVEN and found.placement is not None
    target = best.objective_db + within_db
    height = height_for(problem, target)
    # Between the lowest that is good enough and the lowest that is so by the gap less.
    high = height_for(problem, target - min(gap_db, within_db * 0.999))
    assert height - 1e-9 <= found.placement.height_m <= high + STEP_M
    assert found.placement.tilt_deg == -12.0
    assert found.objective_db == pytest.approx(spread_at(problem, float(found.placement.height_m)))
    assert found.objective_db <= target
    assert 0.0 <= found.gap_db <= gap_db
    assert found.boxes > 64


def test_a_trim_is_lowered_as_a_trim() -> None:
    """The same place in trim: the lowest point 12° nose down, by hand, hangs under the centre."""
    turn = math.radians(-12.0)
    drop = -min(u * math.sin(turn) + w * math.cos(turn) for u, w in OUTLINE_M)
    plain = standing()
    hung = plain.with_hang(replace(UP, vertical="trim", vertical_m=(3.0 - drop, 9.0 - drop)))
    hung = replace(hung, cabinet=BOX)
    found = []
    for problem in (plain, hung):
        best = search(problem, gap_db=0.001)
        found.append(lowest_within(problem, best, within_db=0.3, gap_db=0.01).placement)
    assert found[0] is not None and found[1] is not None
    assert found[1].height_m == pytest.approx(found[0].height_m, abs=0.02)
    # Falling with the height, the best hangs lowest already: nothing is lower, with a trim too.
    for problem, by in ((plain, 0.0), (hung, drop)):
        steep = replace(problem, pattern=tent(0.5))
        at = replace(steep, hang=replace(problem.hang, vertical_m=(8.0 - by, 9.0 - by)))
        best = search(at, gap_db=0.001)
        assert best.placement is not None
        assert best.placement.height_m == pytest.approx(8.0, abs=0.01)
        assert lowest_within(at, best, within_db=3.0, gap_db=0.01) is best


def test_where_nothing_may_be_lowered_the_best_is_taken() -> None:
    problem = standing()
    best = search(problem, gap_db=0.001)
    for within_db in (0.0, -1.0):
        assert lowest_within(problem, best, within_db=within_db, gap_db=0.01) is best
    # Even where others lower down would be as good.
    many = two_rows(0.4, Hang(vertical_m=(3.0, 9.0)))
    one = search(many, gap_db=0.1)
    assert one.objective_db > 0.0 and lowest_within(many, one, within_db=0.0, gap_db=0.1) is one
    none = replace(best, placement=None)
    assert lowest_within(problem, none, within_db=1.0, gap_db=0.01) is none
    level = problem.with_hang(replace(UP, vertical_m=(5.0, 5.0)))
    held = search(level, gap_db=0.001)
    assert lowest_within(level, held, within_db=1.0, gap_db=0.01) is held


@pytest.mark.parametrize("objective", ["spread", "deviation"])
def test_a_capped_lowering_says_so_and_keeps_the_target(objective: Objective) -> None:
    problem = seven_rows(0.2, objective)
    best = search(problem, gap_db=0.01)
    assert best.placement is not None
    for most in (1, 65, 200):
        found = lowest_within(problem, best, within_db=0.5, gap_db=0.01, most_boxes=most)
        assert found.status is Status.CAPPED and found.placement is not None
        assert found.placement.height_m < best.placement.height_m
        assert found.objective_db <= best.objective_db + 0.5
        assert float(problem.objective_db(found.placement)) == pytest.approx(found.objective_db)
        assert found.boxes >= most + 64


def test_where_the_cap_ends_it_before_anything_lower_is_found_that_is_said() -> None:
    problem = seven_rows(0.4, "spread")
    best = search(problem, gap_db=0.01)
    found = lowest_within(problem, best, within_db=0.5, gap_db=0.01, most_boxes=1)
    assert best.status is Status.PROVEN
    assert found == replace(best, status=Status.CAPPED)
    assert lowest_within(problem, best, within_db=0.5, gap_db=0.01, most_boxes=64) == found


def test_the_cap_ends_the_lowering_once_it_is_reached() -> None:
    problem = seven_rows(0.2, "deviation")
    best = search(problem, gap_db=0.01)
    counts = []
    for most in (1, 64, 65):
        found = lowest_within(problem, best, within_db=0.5, gap_db=0.01, most_boxes=most)
        assert found.placement is not None
        level = replace(problem.hang, vertical_m=(float(found.placement.height_m),) * 2)
        there = search(problem.with_hang(level), gap_db=0.01, most_boxes=most)
        counts.append(found.boxes - there.boxes)
    assert counts[:2] == [64, 64] and counts[2] > 64


@pytest.mark.parametrize("objective", ["spread", "deviation"])
@pytest.mark.parametrize("most", [65, 200, 10_000])
def test_at_the_lowest_height_the_best_is_taken(objective: Objective, most: int) -> None:
    problem = seven_rows(0.2, objective)
    best = search(problem, gap_db=0.01)
    found = lowest_within(problem, best, within_db=0.5, gap_db=0.01, most_boxes=most)
    assert found.placement is not None
    level = replace(problem.hang, vertical_m=(float(found.placement.height_m),) * 2)
    there = search(problem.with_hang(level), gap_db=0.01, most_boxes=most)
    assert replace(found, boxes=there.boxes, status=there.status) == there


@pytest.mark.parametrize(
    ("off_db", "left_db"),
    [(None, 0.0), (0.1, 0.7), (0.1, 0.0)],
)
def test_where_the_height_is_proven_roughly_the_placement_that_led_there_is_kept(
    monkeypatch: pytest.MonkeyPatch, off_db: float | None, left_db: float
) -> None:
    """The search at the height found nothing, or off_db more than the target and left_db open."""
    problem = standing()
    best = search(problem, gap_db=0.001)
    target = best.objective_db + 0.3
    rough = SearchResult(Status.UNDECIDED, None, np.inf, np.inf, 70)
    if off_db is not None:
        elsewhere = Placement(9.0, 9.0, 9.0)
        rough = SearchResult(Status.PROVEN, elsewhere, target + off_db, left_db, 70)
    monkeypatch.setattr(lowest, "search", lambda *_, **__: rough)
    found = lowest_within(problem, best, within_db=0.3, gap_db=0.001)
    assert found.placement is not None
    height = float(found.placement.height_m)
    assert height == pytest.approx(height_for(problem, target), abs=STEP_M)
    own = spread_at(problem, height)
    assert found.objective_db == pytest.approx(own)
    least = 0.0 if off_db is None else target + off_db - left_db
    assert found.gap_db == pytest.approx(max(0.0, own - least), abs=1e-9)
    assert found.status is (Status.CAPPED if off_db is None else Status.PROVEN)
    assert found.boxes >= 64 + 70

"""The proven search: branch and bound over boxes of placements.

Boxes are cut in two, bounded from below (cuts.py), and dropped once their bound shows that nothing
in them is better than the best placement found by more than the wanted gap.  No random numbers:
the same problem takes the same way.
"""

from dataclasses import dataclass, replace
from enum import Enum
from typing import Protocol

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..speaker.speaker import Placement, Placements
from .bounding import Goal, bound_and_try
from .boxes import Boxes, V, joined
from .cutting import cut, first_boxes
from .nearby import FIRST_STEP, LAST_STEP, nearby
from .problem import Problem

MOST_BOXES = 200_000
BATCH = 192
_FEW = 8
_MOST_STEPS = 200
_WORTH_DB = 1e-5
"""A step of the polish at the cap that brings less is followed by shorter ones."""
TIE_DB = 1e-9
"""Flipped has to be better by this: where turning changes nothing, a box hangs upright."""


class Status(Enum):
    """How a search ended."""

    PROVEN = "proven to the gap"
    CAPPED = "stopped at the cap, gap as reported"
    INFEASIBLE = "no placement meets the limits"
    UNDECIDED = "stopped at the cap before any placement was found that meets the limits"


@dataclass(frozen=True)
class SearchResult:
    """A search's result.

    placement, objective_db: the best placement, None and inf where there is none
    gap_db: proven distance of objective_db from the true optimum
    boxes: how many were bounded
    """

    status: Status
    placement: Placement | None
    objective_db: float
    gap_db: float
    boxes: int


class _Looking(Goal, Protocol):
    """What a search looks for: where it may still be, and where to look first."""

    def may_hold(self, boxes: Boxes, lower_db: FloatArray) -> BoolArray:
        """(n,) boxes that are not ruled out."""
        ...

    def order(self, boxes: Boxes, lower_db: FloatArray) -> IntArray:
        """(n,) the boxes to cut first."""
        ...


def _cut_down(
    problem: Problem, goal: _Looking, most_boxes: int
) -> tuple[Boxes, FloatArray, int] | None:
    """Cut boxes in two until none may hold what is looked for, or the cap is reached.

    The boxes that are left, their bounds (n,), and how many were bounded; None where the limits
    leave no box to begin with.
    """
    boxes = first_boxes(problem)
    if boxes is None:
        return None
    bounded = len(boxes)
    lower, boxes = bound_and_try(problem, boxes, goal)
    while True:
        left = goal.may_hold(boxes, lower)
        boxes, lower = boxes.pick(left), lower[left]
        if len(boxes) == 0 or bounded >= most_boxes:
            return boxes, lower, bounded
        order = goal.order(boxes, lower)
        chosen, rest = order[:BATCH], order[BATCH:]
        pieces = cut(problem, boxes.pick(chosen))
        bounded += len(pieces)
        new_lower, pieces = bound_and_try(problem, pieces, goal)
        boxes = joined([boxes.pick(rest), pieces])
        lower = np.concatenate([lower[rest], new_lower])


@dataclass
class _Best:
    """The goal of the smallest objective: the best placement so far, ties to upright.

    dropped_db: the least bound among the boxes that were ruled out
    """

    gap_db: float
    placement: Placement | None = None
    objective_db: float = np.inf
    rank_db: float = np.inf
    dropped_db: float = np.inf

    @property
    def enough_db(self) -> float:
        return self.objective_db - self.gap_db

    def may_hold(self, boxes: Boxes, lower_db: FloatArray) -> BoolArray:
        gone = lower_db >= self.enough_db
        self.dropped_db = min(self.dropped_db, float(lower_db[gone].min(initial=np.inf)))
        return ~gone

    def order(self, boxes: Boxes, lower_db: FloatArray) -> IntArray:
        return np.argsort(lower_db, kind="stable")

    def offer(self, problem: Problem, tried: Placements, v_m: FloatArray) -> None:
        value = problem.objective_db(tried)
        rank = value + TIE_DB * np.asarray(tried.flipped)
        better = np.flatnonzero(rank < self.rank_db)
        at = _first_allowed(problem, tried, better[np.argsort(rank[better], kind="stable")])
        if at is not None:
            self.objective_db, self.rank_db = float(value[at]), float(rank[at])
            self.placement = tried.at(at)


def _first_allowed(problem: Problem, tried: Placements, order: IntArray) -> int | None:
    """The first of these (k,) out of (n,) that keeps the limits: mostly one of the first few."""
    for some in (order[:_FEW], order[_FEW:]):
        if len(some) == 0:
            break
        kept = some[problem.allowed(tried.pick(some))]
        if len(kept):
            return int(kept[0])
    return None


def search(problem: Problem, *, gap_db: float, most_boxes: int = MOST_BOXES) -> SearchResult:
    """The best placement, proven to within gap_db.

    Where no placement is allowed, or none was found, the status says which; the objective is inf.
    """
    best = _Best(gap_db)
    ended = _cut_down(problem, best, most_boxes)
    if ended is None:
        return SearchResult(Status.INFEASIBLE, None, np.inf, np.inf, 0)
    boxes, lower, bounded = ended
    if best.placement is None:
        status = Status.INFEASIBLE if len(boxes) == 0 else Status.UNDECIDED
        return SearchResult(status, None, np.inf, np.inf, bounded)
    if len(boxes):
        _polish(problem, best)
    least = min(best.dropped_db, float(lower.min(initial=np.inf)))
    gap = max(0.0, best.objective_db - least)
    proven = len(boxes) == 0 or gap <= gap_db
    status = Status.PROVEN if proven else Status.CAPPED
    return SearchResult(status, best.placement, best.objective_db, gap, bounded)


def improved_db(problem: Problem, placement: Placement) -> float:
    """The objective that a short local search from an allowed placement comes to; no proof."""
    best = _Best(0.0, placement, float(problem.objective_db(placement)))
    best.rank_db = best.objective_db
    _polish(problem, best)
    return best.objective_db


def _polish(problem: Problem, best: _Best) -> None:
    """Offer what lies about the best, ever closer, for as long as that is better.

    At the cap the best found may be far from what a few steps find; what is proven stays as it is.
    """
    share = FIRST_STEP
    for _ in range(_MOST_STEPS):
        assert best.placement is not None
        before_db = best.objective_db
        best.offer(problem, *nearby(problem, best.placement, share))
        if best.objective_db > before_db - _WORTH_DB:
            share *= 0.5
            if share < LAST_STEP:
                return


# The lowest placement that is good enough.
#
# A free height mostly runs to its top limit for a few hundredths of a decibel.  So the best is
# proven first; then the lowest placement within a stated distance of it is looked for, by the
# same boxes.

STEP_M = 0.01
"""Nothing lower than the answer by more than this is good enough, to within the gap."""


@dataclass
class _Lowest:
    """The goal of the lowest placement whose objective does not exceed a target."""

    target_db: float
    gap_db: float
    v_m: float
    placement: Placement | None = None

    @property
    def enough_db(self) -> float:
        return self.target_db - self.gap_db

    def may_hold(self, boxes: Boxes, lower_db: FloatArray) -> BoolArray:
        return (lower_db < self.enough_db) & (_lowest_v_m(boxes) < self.v_m - STEP_M)

    def order(self, boxes: Boxes, lower_db: FloatArray) -> IntArray:
        return np.lexsort((lower_db, _lowest_v_m(boxes)))

    def offer(self, problem: Problem, tried: Placements, v_m: FloatArray) -> None:
        lower = np.flatnonzero(v_m < self.v_m)
        lower = lower[problem.objective_db(tried.pick(lower)) <= self.target_db]
        at = _first_allowed(problem, tried, lower[np.argsort(v_m[lower], kind="stable")])
        if at is not None:
            self.v_m = float(v_m[at])
            self.placement = tried.at(at)


def _lowest_v_m(boxes: Boxes) -> FloatArray:
    return np.asarray(boxes.centre[:, V] - boxes.half[:, V])


def lowest_within(
    problem: Problem,
    best: SearchResult,
    *,
    within_db: float,
    gap_db: float,
    most_boxes: int = MOST_BOXES,
) -> SearchResult:
    """The best placement at the lowest height (or trim) that costs at most within_db.

    Its gap_db refers to the best at that height.  Proven: every placement lower by more than
    STEP_M misses best + within_db − gap_db; where the cap ends the search, the lowest found.
    """
    low, high = problem.hang.vertical_m
    if best.placement is None or within_db <= 0.0 or low == high:
        return best
    target = best.objective_db + within_db
    drop = float(problem.drop_m(best.placement.tilt_deg, best.placement.flipped))
    goal = _Lowest(target, min(gap_db, within_db), best.placement.height_m - drop)
    ended = _cut_down(problem, goal, most_boxes)
    assert ended is not None
    boxes, _, bounded = ended
    if goal.placement is None:
        return best if len(boxes) == 0 else replace(best, status=Status.CAPPED)
    at_height = problem.with_hang(replace(problem.hang, vertical_m=(goal.v_m, goal.v_m)))
    found = search(at_height, gap_db=gap_db, most_boxes=most_boxes)
    if found.placement is None or found.objective_db > target:
        # Proven to a gap only, the best at this height may have missed the target that the
        # placement which led here keeps.
        own = float(problem.objective_db(goal.placement))
        least = 0.0 if found.placement is None else found.objective_db - found.gap_db
        found = replace(
            found, placement=goal.placement, objective_db=own, gap_db=max(0.0, own - least)
        )
    decided = len(boxes) == 0 and found.status is Status.PROVEN
    status = Status.PROVEN if decided else Status.CAPPED
    return replace(found, status=status, boxes=found.boxes + bounded)

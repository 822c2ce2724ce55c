"""The proven search: branch and bound over boxes of placements.

Boxes are cut in two, bounded from below (cuts.py), and dropped once their bound shows that nothing
in them is better than the best placement found by more than the wanted gap.  No random numbers:
the same problem takes the same way.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..arrays import FloatArray
from ..speaker.speaker import Placement
from .bounding import bound_and_try
from .boxes import joined
from .cutting import cut, roots
from .problem import Problem

MOST_BOXES = 200_000
BATCH = 192
TIE_DB = 1e-9
"""Flipped has to be better by this: where turning changes nothing, a box hangs upright."""


class Status(Enum):
    """How a search ended."""

    PROVEN = "proven to the gap"
    CAPPED = "stopped at the cap, gap as reported"
    INFEASIBLE = "no placement meets the limits"
    UNDECIDED = "stopped at the cap before any placement was found that meets the limits"


@dataclass(frozen=True)
class Found:
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


@dataclass
class _Best:
    """The goal of the smallest objective: the best placement so far, ties to upright."""

    gap_db: float
    placement: Placement | None = None
    objective_db: float = np.inf
    rank_db: float = np.inf

    @property
    def enough_db(self) -> float:
        return self.objective_db - self.gap_db

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        value = problem.objective_db(tried)
        rank = value + TIE_DB * np.asarray(tried.flipped)
        better = np.flatnonzero(rank < self.rank_db)
        better = better[problem.allowed(tried.pick(better))]
        if len(better):
            at = int(better[np.argmin(rank[better])])
            self.objective_db, self.rank_db = float(value[at]), float(rank[at])
            self.placement = tried.at(at)


def search(problem: Problem, *, gap_db: float, most_boxes: int = MOST_BOXES) -> Found:
    """The best placement, proven to within gap_db.

    Where no placement is allowed, or none was found, the status says which; the objective is inf.
    """
    best = _Best(gap_db)
    boxes = roots(problem)
    if boxes is None:
        return Found(Status.INFEASIBLE, None, np.inf, np.inf, 0)
    boxes = cut(problem, boxes)
    bounded = len(boxes)
    lower, boxes = bound_and_try(problem, boxes, best)
    dropped = np.inf  # the least bound among the boxes that were dropped
    while True:
        gone = lower >= best.enough_db
        dropped = min(dropped, float(lower[gone].min(initial=np.inf)))
        boxes, lower = boxes.pick(~gone), lower[~gone]
        if len(boxes) == 0 or bounded >= most_boxes:
            break
        order = np.argsort(lower, kind="stable")
        chosen, rest = order[:BATCH], order[BATCH:]
        pieces = cut(problem, boxes.pick(chosen))
        bounded += len(pieces)
        new_lower, pieces = bound_and_try(problem, pieces, best)
        boxes = joined([boxes.pick(rest), pieces])
        lower = np.concatenate([lower[rest], new_lower])
    if best.placement is None:
        status = Status.INFEASIBLE if len(boxes) == 0 else Status.UNDECIDED
        return Found(status, None, np.inf, np.inf, bounded)
    least = min(dropped, float(lower.min(initial=np.inf)))
    gap = max(0.0, best.objective_db - least)
    status = Status.PROVEN if len(boxes) == 0 else Status.CAPPED
    return Found(status, best.placement, best.objective_db, gap, bounded)

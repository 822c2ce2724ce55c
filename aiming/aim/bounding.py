"""One round of a search: bounds of boxes from below, and placements tried on the way."""

from typing import Protocol

import numpy as np

from ..arrays import BoolArray, FloatArray
from ..speaker.speaker import Placement
from .box_limits import limits_over, possible_boxes
from .boxes import COLUMN_OF, Boxes, joined
from .cuts import lower_bounds
from .cutting import by_kind
from .enclosing import enclose
from .pose import Pose, pose, settle
from .problem import Problem

_TRIED = 12


class Goal(Protocol):
    """What the boxes are searched for."""

    @property
    def enough_db(self) -> float:
        """A box whose bound reaches this is dropped."""
        ...

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        """Look at an array of placements (n,) that keep every limit or not; v_m as in boxes."""
        ...


def bound_and_try(problem: Problem, boxes: Boxes, goal: Goal) -> tuple[FloatArray, Boxes]:
    """Bounds of the boxes that may hold an allowed placement, trying placements on the way."""
    done = [_bound_and_try(problem, kind, goal) for kind in by_kind(boxes)]
    return np.concatenate([lower for lower, _ in done]), joined([left for _, left in done])


def _bound_and_try(problem: Problem, boxes: Boxes, goal: Goal) -> tuple[FloatArray, Boxes]:
    """Bounds of the boxes that may hold an allowed placement, trying placements on the way."""
    at = pose(problem, boxes)
    possible = possible_boxes(problem, boxes, at)
    if not possible.all():
        boxes = boxes.pick(possible)
        at = _pick_pose(at, possible)
    if len(boxes) == 0:
        return np.zeros(0), boxes
    enclosure = enclose(problem, boxes, at)
    known: BoolArray = np.asarray(~np.isnan(enclosure.low).any(axis=(1, 2)))
    if not known.all():
        # Some row is surely beyond the known pattern: nothing allowed in there.
        boxes, at = boxes.pick(known), _pick_pose(at, known)
        if len(boxes) == 0:
            return np.zeros(0), boxes
        enclosure = enclose(problem, boxes, at)
    limits = limits_over(problem, boxes, at, enclosure.active)
    bound = lower_bounds(
        enclosure,
        objective=problem.objective,
        row_share=problem.row_share,
        limits=limits,
        enough_db=goal.enough_db,
        displacements=len(problem.around),
    )
    lower = np.maximum(bound.lower_db, 0.0)
    # Until one placement is known, every box may be the one that shows it.
    most = _TRIED if np.isfinite(goal.enough_db) else len(lower)
    tried = np.argsort(lower, kind="stable")[:most]
    _try(problem, boxes.pick(tried), bound.lowest_at[:, tried], enclosure.active, goal)
    return lower, boxes


def _pick_pose(at: Pose, which: BoolArray) -> Pose:
    return Pose(
        at.tilt[which],
        at.tilt_gen[:, which],
        at.height[which],
        at.height_gen[:, which],
        at.reach_m[which],
    )


def _try(
    problem: Problem, boxes: Boxes, lowest_at: FloatArray, active: list[int], goal: Goal
) -> None:
    """Offer the boxes' centres, and the places where their bounds are smallest, also lowered."""
    moved = boxes.centre.copy()
    for place, k in enumerate(active):
        column = COLUMN_OF.get(k)
        if column is not None:
            moved[:, column] += boxes.half[:, column] * lowest_at[place]
    lowered = moved.copy()
    lowered[:, 1] = boxes.centre[:, 1] - boxes.half[:, 1]
    spots = joined(
        [boxes] + [Boxes(to, boxes.half, boxes.piece, boxes.flipped) for to in (moved, lowered)]
    )
    tilt, height = settle(problem, spots)
    tilt_deg = np.degrees(tilt)
    for turn in (False, True):
        mine = spots.flipped == turn
        if mine.any():
            tilt_deg[mine] = _nearest(tilt_deg[mine], problem.tilt_ranges(turn))
    if problem.from_trim:
        drop = np.where(
            spots.flipped, problem.drop_m(tilt_deg, True), problem.drop_m(tilt_deg, False)
        )
        height = spots.centre[:, 1] + drop
    splay_deg = spots.centre[:, 3] if problem.under is not None else 0.0
    placement = Placement(spots.centre[:, 2], height, tilt_deg, spots.flipped, splay_deg)
    goal.offer(problem, placement, spots.centre[:, 1])


def _nearest(tilt_deg: FloatArray, ranges: tuple[tuple[float, float], ...]) -> FloatArray:
    """The nearest tilt within the ranges."""
    options = np.stack([np.clip(tilt_deg, low, high) for low, high in ranges])
    return np.asarray(
        np.take_along_axis(
            options, np.argmin(np.abs(options - tilt_deg), axis=0)[np.newaxis], axis=0
        )[0]
    )

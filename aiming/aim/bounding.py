"""Limits over boxes: which hold no allowed placement, and what the limits add to a bound."""

from dataclasses import replace
from typing import Protocol

import numpy as np

from ..base.arrays import BoolArray, FloatArray
from ..speaker.headroom import FAR_M, NO_ROOM_M
from ..speaker.speaker import Placements
from .boxes import COLUMN_OF, GENERATORS, SPLAY, Boxes, V, X, joined
from .cuts import Limits, lower_bounds
from .cutting import aimed, by_kind
from .enclosure import Enclosure, enclose
from .pose import Pose, left_over, pose, settle
from .problem import HERE, Problem


def possible_boxes(problem: Problem, boxes: Boxes, at: Pose) -> BoolArray:
    """(b,) False where surely no placement of the box keeps the limits."""
    swing = np.abs(at.tilt_gen).sum(axis=0)
    low, high = np.degrees(at.tilt - swing), np.degrees(at.tilt + swing)
    good = np.zeros(len(boxes), dtype=bool)
    for turn in (False, True):
        for a, b in problem.tilt_ranges(turn):
            good |= (boxes.flipped == turn) & (high >= a - 1e-9) & (low <= b + 1e-9)
    if problem.axis_on_audience and boxes.piece[0] < 0:
        good &= _may_hit(problem, boxes, at, swing)
    if problem.headroom:
        const, gen = _over_steel(problem, boxes, at, list(range(GENERATORS)))
        good &= const - np.abs(gen).sum(axis=0) <= NO_ROOM_M
    if problem.max_front_elevation_deg is not None:
        const, gen = _front_limit(problem, boxes, at, list(range(GENERATORS)))
        good &= const - np.abs(gen).sum(axis=0) <= 0.0
    return good


def _may_hit(problem: Problem, boxes: Boxes, at: Pose, swing: FloatArray) -> BoolArray:
    """(b,) whether some axis of the box may meet a served plane, ahead of the box.

    An axis meets a piece where it points between the piece's ends as seen from the box: one end
    on either hand, and the right one, which the sense of rotation from end to end tells.
    """
    cos, sin = np.cos(at.tilt)[:, np.newaxis], np.sin(at.tilt)[:, np.newaxis]
    reach = at.reach_m[:, np.newaxis]
    across, seen = [], []
    for point in (problem.planes.start_m, problem.planes.end_m):
        dx = point[:, 0] - boxes.centre[:, 2:3]
        dz = point[:, 1] - at.height[:, np.newaxis]
        play = reach + np.hypot(dx, dz) * swing[:, np.newaxis] + 1e-6
        across.append((dz * cos - dx * sin - play, dz * cos - dx * sin + play))
        seen.append((dx, dz))
    (low0, high0), (low1, high1) = across
    (dx0, dz0), (dx1, dz1) = seen
    turn = dx0 * dz1 - dz0 * dx1
    play = reach * np.hypot(dx1 - dx0, dz1 - dz0) + 1e-6
    upwards = (turn + play >= 0.0) & (low0 <= 0.0) & (high1 >= 0.0)
    downwards = (turn - play <= 0.0) & (high0 >= 0.0) & (low1 <= 0.0)
    return np.asarray((upwards | downwards).any(axis=1))


def limits_over(problem: Problem, boxes: Boxes, at: Pose, active: list[int]) -> Limits | None:
    """The limits of tilt, headroom and the view from the front row, where they may cut a box."""
    const, gen = [], []
    swing = np.abs(at.tilt_gen).sum(axis=0)
    for low, high, side in ((at.tilt - swing, at.tilt, -1.0), (at.tilt, at.tilt + swing, 1.0)):
        edge = np.full(len(boxes), side * np.inf)
        for turn in (False, True):
            ranges = problem.tilt_ranges(turn)
            if ranges:
                outer = ranges[0][0] if side < 0.0 else ranges[-1][1]
                edge[boxes.flipped == turn] = np.radians(outer)
        crossing = (low < edge) if side < 0.0 else (high > edge)
        if crossing.any() and aimed(problem):
            # side·(tilt − edge) ≤ 0 wherever the placement is allowed.
            finite = np.where(np.isfinite(edge), edge, side * 4.0)
            const.append(side * (at.tilt - finite))
            gen.append(side * at.tilt_gen[active])
    if problem.max_front_elevation_deg is not None:
        front_const, front_gen = _front_limit(problem, boxes, at, active)
        const.append(front_const)
        gen.append(front_gen)
    if problem.headroom:
        steel_const, steel_gen = _over_steel(problem, boxes, at, active)
        const.append(steel_const)
        gen.append(steel_gen)
    if not const:
        return None
    scale = 180.0 / np.pi
    return Limits(const=scale * np.stack(const), gen=scale * np.stack(gen))


def _over_steel(
    problem: Problem, boxes: Boxes, at: Pose, active: list[int]
) -> tuple[FloatArray, FloatArray]:
    """Lower estimate of how much too high the box is for its lines, metres."""
    const, gen = np.full(len(boxes), -FAR_M), np.zeros((GENERATORS, len(boxes)))
    for name, under in (problem.headroom or {}).items():
        over, slope = under.over_m(at.tilt, at.tilt_gen, at.height, at.height_gen)
        mine = boxes.flipped == (name == "flipped")
        const, gen = np.where(mine, over, const), np.where(mine, slope, gen)
    return const, gen[active]


def _front_limit(
    problem: Problem, boxes: Boxes, at: Pose, active: list[int]
) -> tuple[FloatArray, FloatArray]:
    """Lower estimate of (elevation of the box from the front row − limit), radians."""
    assert problem.front_ear_m is not None and problem.max_front_elevation_deg is not None
    ear_x, ear_z = problem.front_ear_m
    dx, dz = np.abs(ear_x - boxes.centre[:, X]), at.height - ear_z
    toward = np.sign(boxes.centre[:, X] - ear_x)
    r = np.hypot(dx, dz)
    r2 = np.maximum(r * r, 1e-9)
    left = np.minimum(left_over(at.reach_m, np.maximum(r, 1e-9)), 4.0)
    const = np.arctan2(dz, dx) - left
    gen = dx / r2 * at.height_gen
    gen[X] += -dz / r2 * toward * boxes.half[:, X]
    # |Δx| bends nothing on either side.  Over the ear itself it has a kink: there the least
    # elevation is that of the box's lowest place, seen from as far as it may be.
    over = dx < boxes.half[:, X]
    lowest = dz - np.abs(at.height_gen).sum(axis=0)
    farthest = np.where(lowest > 0.0, dx + boxes.half[:, X], 0.0)
    const = np.where(over, np.arctan2(lowest, farthest), const)
    const -= np.radians(problem.max_front_elevation_deg)
    gen = np.where(over, 0.0, gen)
    return const, gen[active]


def _least_level(problem: Problem, boxes: Boxes, at: Pose, whole: Enclosure) -> Limits:
    """Lower estimates of (least level − softest row), dB, by the row that may break it most.

    The last row's distance is taken as large as it may be anywhere in the box.
    """
    assert problem.softest_db is not None
    one = whole
    if problem.around != (HERE,):
        one = enclose(replace(problem, around=(HERE,)), boxes, at)
        assert one.active == whole.active
    over = (one.const + one.high).mean(axis=1)
    gen = one.gen.mean(axis=2)
    dx = problem.last_ears_m[:, 0] - boxes.centre[:, X, np.newaxis]
    dz = problem.last_ears_m[:, 1] - at.height[:, np.newaxis]
    farthest = np.hypot(dx, dz).max(axis=1) + at.reach_m
    least = problem.softest_db + problem.last_row_could_db(farthest)
    lowest = least[:, np.newaxis] - over - np.abs(gen).sum(axis=0)
    row = np.argmax(lowest, axis=1)
    index = np.arange(len(boxes))
    return Limits(const=(least - over[index, row])[np.newaxis], gen=-gen[:, index, row][np.newaxis])


# One round of a search: bounds of boxes from below, and placements tried on the way.

_TRIED = 12


class Goal(Protocol):
    """What the boxes are searched for."""

    @property
    def enough_db(self) -> float:
        """A box whose bound reaches this is dropped."""
        ...

    def offer(self, problem: Problem, tried: Placements, v_m: FloatArray) -> None:
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
    if problem.least_level:
        soft = _least_level(problem, boxes, at, enclosure)
        loud_enough = soft.const[0] - np.abs(soft.gen[0]).sum(axis=0) <= 0.0
        if not loud_enough.all():
            boxes, at = boxes.pick(loud_enough), _pick_pose(at, loud_enough)
            if len(boxes) == 0:
                return np.zeros(0), boxes
            enclosure, soft = enclosure.pick(loud_enough), soft.pick(loud_enough)
            limits = None if limits is None else limits.pick(loud_enough)
        if (soft.const[0] + np.abs(soft.gen[0]).sum(axis=0) > 0.0).any():
            limits = soft if limits is None else limits.and_also(soft)
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
    lowered[:, V] = boxes.centre[:, V] - boxes.half[:, V]
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
        height = spots.centre[:, V] + drop
    splay_deg = spots.centre[:, COLUMN_OF[SPLAY]] if problem.under is not None else 0.0
    tried_at = Placements.of(spots.centre[:, X], height, tilt_deg, spots.flipped, splay_deg)
    goal.offer(problem, tried_at, spots.centre[:, V])


def _nearest(tilt_deg: FloatArray, ranges: tuple[tuple[float, float], ...]) -> FloatArray:
    """The nearest tilt within the ranges."""
    options = np.stack([np.minimum(np.maximum(tilt_deg, low), high) for low, high in ranges])
    return np.asarray(
        np.take_along_axis(
            options, np.argmin(np.abs(options - tilt_deg), axis=0)[np.newaxis], axis=0
        )[0]
    )

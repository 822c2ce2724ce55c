"""The proven search: branch and bound over boxes of placements.

Boxes are cut in two, bounded from below (cuts.py), and dropped once their bound shows that nothing
in them is better than the best placement found by more than the wanted gap.  No random numbers:
the same problem takes the same way.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Protocol

import numpy as np

from ..arrays import BoolArray, FloatArray
from ..speaker.speaker import Placement
from .cuts import Limits, lower_bounds
from .enclosure import (
    COLUMN_OF,
    GENERATORS,
    Boxes,
    Pose,
    enclose,
    joined,
    left_over,
    own_reach_m,
    pose,
    settle,
)
from .problem import Problem

MOST_BOXES = 200_000
BATCH = 192
_FILL = 64
"""Few boxes cost as much as this many, so they are cut on until there are as many."""
_TRIED = 12
_NEAR_M = 0.5


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


class Goal(Protocol):
    """What the boxes are searched for."""

    @property
    def enough_db(self) -> float:
        """A box whose bound reaches this is dropped."""
        ...

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        """Look at an array of placements (n,) that keep every limit or not; v_m as in boxes."""
        ...


@dataclass
class _Best:
    """The goal of the smallest objective: the best placement so far."""

    gap_db: float
    placement: Placement | None = None
    objective_db: float = np.inf

    @property
    def enough_db(self) -> float:
        return self.objective_db - self.gap_db

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        value = np.where(problem.allowed(tried), problem.objective_db(tried), np.inf)
        at = int(np.argmin(value))
        if value[at] < self.objective_db:
            self.objective_db = float(value[at])
            self.placement = tried.at(at)


def roots(problem: Problem) -> Boxes | None:
    """Boxes that together hold every allowed placement; None where there is surely none."""
    hang = problem.hang
    (v_low, v_high), (x_low, x_high) = hang.vertical_m, hang.x_m
    turns = [name == "flipped" for name in hang.orientations]
    if len(turns) == 2 and problem.pattern.symmetric and not _turn_matters(problem):
        turns = turns[:1]
    parts = []
    for flipped in turns:
        ranges = problem.tilt_ranges(flipped)
        if not ranges:
            continue
        if aimed(problem):
            count = len(problem.planes)
            q, half_q, piece = np.full(count, 0.5), np.full(count, 0.5), np.arange(count)
        else:
            q = np.array([0.5 * (low + high) for low, high in ranges])
            half_q = np.array([0.5 * (high - low) for low, high in ranges])
            piece = np.full(len(ranges), -1)
        ones = np.ones(len(piece))
        spans = [(v_low, v_high), (x_low, x_high)]
        if problem.under is not None:
            spans.append(problem.splay_deg)
        parts.append(
            Boxes(
                centre=np.stack([q, *(0.5 * (low + high) * ones for low, high in spans)], axis=1),
                half=np.stack(
                    [half_q, *(0.5 * (high - low) * ones for low, high in spans)], axis=1
                ),
                piece=piece,
                flipped=np.full(len(piece), flipped),
            )
        )
    return joined(parts) if parts else None


def aimed(problem: Problem) -> bool:
    """Whether boxes run over the aim point along the audience plane rather than over the tilt."""
    fixed = all(
        low == high
        for name in problem.hang.orientations
        for low, high in problem.tilt_ranges(name == "flipped")
    )
    return problem.axis_on_audience and not fixed


def _turn_matters(problem: Problem) -> bool:
    """Whether anything but the pattern tells upright from flipped."""
    return problem.from_trim or bool(problem.reachable_tilt_deg)


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


def cut(problem: Problem, boxes: Boxes) -> Boxes:
    """Each box in two, and on, until there are enough of them to be worth a round."""
    while True:
        boxes = joined([_cut_in_two(problem, kind) for kind in _by_kind(boxes)])
        if len(boxes) >= _FILL:
            return boxes


def _by_kind(boxes: Boxes) -> list[Boxes]:
    """Boxes of tilt and boxes of aim points, each kind apart."""
    tilted = boxes.piece < 0
    return [boxes.pick(kind) for kind in (tilted, ~tilted) if kind.any()]


def _cut_in_two(problem: Problem, boxes: Boxes) -> Boxes:
    """Each box halved along the direction in which the levels' differences move most."""
    spot = settle(problem, boxes)
    freed = []
    if boxes.piece[0] >= 0:
        near = _too_near(problem, boxes, spot[1])
        if near.any():
            freed = [_tilts_instead(problem, boxes.pick(near))]
            boxes, spot = boxes.pick(~near), (spot[0][~near], spot[1][~near])
            if len(boxes) == 0:
                return freed[0]
    weight = _split_weight(problem, boxes, spot[1])
    along = np.argmax(weight, axis=1)
    index = np.arange(len(boxes))
    half = boxes.half.copy()
    half[index, along] *= 0.5
    step = np.zeros_like(half)
    step[index, along] = half[index, along]
    halves = Boxes(
        np.concatenate([boxes.centre - step, boxes.centre + step]),
        np.concatenate([half, half]),
        np.concatenate([boxes.piece, boxes.piece]),
        np.concatenate([boxes.flipped, boxes.flipped]),
    )
    return joined([halves, *freed])


def _too_near(problem: Problem, boxes: Boxes, height_m: FloatArray) -> BoolArray:
    """(b,) where the aim point may lie in the loudspeaker itself, wherever along it is cut."""
    planes = problem.planes
    start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
    half = boxes.half[:, :1] * np.abs(end - start)
    aim = start + boxes.centre[:, :1] * (end - start)
    distance = np.hypot(aim[:, 0] - boxes.centre[:, 2], aim[:, 1] - height_m)
    reach = np.hypot(half[:, 0] + boxes.half[:, 2], half[:, 1] + boxes.half[:, 1])
    own = own_reach_m(problem)
    return np.asarray((distance <= reach + own) & (reach <= _NEAR_M + own))


def _tilts_instead(problem: Problem, boxes: Boxes) -> Boxes:
    """Boxes of tilt with the same places: so near, an aim point says nothing about the tilt."""
    places = np.column_stack([boxes.flipped, boxes.centre[:, 1:], boxes.half[:, 1:]])
    centre, half, flipped = [], [], []
    other = boxes.centre.shape[1] - 1
    for turn, *place in sorted({tuple(row) for row in places.tolist()}):
        for low, high in problem.tilt_ranges(bool(turn)):
            centre.append([0.5 * (low + high), *place[:other]])
            half.append([0.5 * (high - low), *place[other:]])
            flipped.append(bool(turn))
    return Boxes(np.array(centre), np.array(half), np.full(len(half), -1), np.array(flipped))


def _split_weight(problem: Problem, boxes: Boxes, height_m: FloatArray) -> FloatArray:
    """(b, 3 or 4) how much each half-width turns off-axis angles, by the nearest row's distance."""
    x, z = problem.rows.x_m, problem.rows.z_m
    dx, dz = x - boxes.centre[:, 2:3], z - height_m[:, np.newaxis]
    near = np.sqrt((dx * dx + dz * dz).min(axis=1)) + 1e-3
    weight = boxes.half / near[:, np.newaxis]
    weight[:, 3:] = np.radians(boxes.half[:, 3:])
    if boxes.piece[0] < 0:
        weight[:, 0] = np.radians(boxes.half[:, 0])
    else:
        planes = problem.planes
        start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
        run = end - start
        aim = start + boxes.centre[:, :1] * run
        ax, az = aim[:, 0] - boxes.centre[:, 2], aim[:, 1] - height_m
        # Nearer than the box is large, cutting the aim point alone leads nowhere.
        r2 = ax * ax + az * az + boxes.half[:, 1] ** 2 + boxes.half[:, 2] ** 2 + 1e-9
        weight[:, 0] = boxes.half[:, 0] * np.abs(ax * run[:, 1] - az * run[:, 0]) / r2
        # A piece in line with the loudspeaker still must be cut until the forms hold.
        rho = boxes.half[:, 0] * np.hypot(run[:, 0], run[:, 1])
        weight[:, 0] = np.maximum(weight[:, 0], 0.5 * rho**2 / r2)
    return np.asarray(weight)


def bound_and_try(problem: Problem, boxes: Boxes, goal: Goal) -> tuple[FloatArray, Boxes]:
    """Bounds of the boxes that may hold an allowed placement, trying placements on the way."""
    done = [_bound_and_try(problem, kind, goal) for kind in _by_kind(boxes)]
    return np.concatenate([lower for lower, _ in done]), joined([left for _, left in done])


def _bound_and_try(problem: Problem, boxes: Boxes, goal: Goal) -> tuple[FloatArray, Boxes]:
    """Bounds of the boxes that may hold an allowed placement, trying placements on the way."""
    at = pose(problem, boxes)
    possible = _possible(problem, boxes, at)
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
    limits = _limits(problem, boxes, at, enclosure.active)
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


def _possible(problem: Problem, boxes: Boxes, at: Pose) -> BoolArray:
    """(b,) False where surely no placement of the box keeps the limits."""
    swing = np.abs(at.tilt_gen).sum(axis=0)
    low, high = np.degrees(at.tilt - swing), np.degrees(at.tilt + swing)
    good = np.zeros(len(boxes), dtype=bool)
    for turn in (False, True):
        for a, b in problem.tilt_ranges(turn):
            good |= (boxes.flipped == turn) & (high >= a - 1e-9) & (low <= b + 1e-9)
    if problem.axis_on_audience and boxes.piece[0] < 0:
        good &= _may_hit(problem, boxes, at, swing)
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


def _limits(problem: Problem, boxes: Boxes, at: Pose, active: list[int]) -> Limits | None:
    """The limits of tilt and of the view from the front row, where they may cut a box."""
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
    if not const:
        return None
    scale = 180.0 / np.pi
    return Limits(const=scale * np.stack(const), gen=scale * np.stack(gen))


def _front_limit(
    problem: Problem, boxes: Boxes, at: Pose, active: list[int]
) -> tuple[FloatArray, FloatArray]:
    """Lower estimate of (elevation of the box from the front row − limit), radians."""
    assert problem.front_ear_m is not None and problem.max_front_elevation_deg is not None
    ear_x, ear_z = problem.front_ear_m
    dx, dz = np.abs(ear_x - boxes.centre[:, 2]), at.height - ear_z
    toward = np.sign(boxes.centre[:, 2] - ear_x)
    r = np.hypot(dx, dz)
    r2 = np.maximum(r * r, 1e-9)
    left = np.minimum(left_over(at.reach_m, np.maximum(r, 1e-9)), 4.0)
    const = np.arctan2(dz, dx) - left
    gen = dx / r2 * at.height_gen
    gen[2] += -dz / r2 * toward * boxes.half[:, 2]
    # |Δx| bends nothing on either side.  Over the ear itself it has a kink: there the least
    # elevation is that of the box's lowest place, seen from as far as it may be.
    over = dx < boxes.half[:, 2]
    lowest = dz - np.abs(at.height_gen).sum(axis=0)
    farthest = np.where(lowest > 0.0, dx + boxes.half[:, 2], 0.0)
    const = np.where(over, np.arctan2(lowest, farthest), const)
    const -= np.radians(problem.max_front_elevation_deg)
    gen = np.where(over, 0.0, gen)
    return const, gen[active]

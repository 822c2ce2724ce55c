"""The first boxes of a search, and how boxes are cut."""

from functools import lru_cache

import numpy as np

from ..base.arrays import BoolArray, FloatArray
from .boxes import Boxes, Q, V, X, joined
from .pose import own_reach_m, settle
from .problem import Problem

FILL = 64
"""Few boxes cost as much as this many, so they are cut on until there are as many."""
_NEAR_M = 0.5


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
        spans = [(v_low, v_high), (x_low, x_high)]
        if problem.under is not None:
            spans.append(problem.splay_deg)
        parts.append(
            Boxes(
                centre=_columns(q, [0.5 * (low + high) for low, high in spans]),
                half=_columns(half_q, [0.5 * (high - low) for low, high in spans]),
                piece=piece,
                flipped=np.full(len(piece), flipped),
            )
        )
    return joined(parts) if parts else None


@lru_cache(maxsize=4)
def first_boxes(problem: Problem) -> Boxes | None:
    """The roots, cut to a first round of boxes: where several searches of one question begin."""
    boxes = roots(problem)
    return None if boxes is None else cut(problem, boxes)


def _columns(first: FloatArray, others: list[float]) -> FloatArray:
    """A column, and numbers beside it that are alike in every row."""
    return np.column_stack([first, np.tile(others, (len(first), 1))])


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
    return problem.from_trim or bool(problem.reachable_tilt_deg) or bool(problem.headroom)


def cut(problem: Problem, boxes: Boxes) -> Boxes:
    """Each box in two, and on, until there are enough of them to be worth a round."""
    while True:
        boxes = joined([_cut_in_two(problem, kind) for kind in by_kind(boxes)])
        if len(boxes) >= FILL:
            return boxes


def by_kind(boxes: Boxes) -> list[Boxes]:
    """Boxes of tilt and boxes of aim points, each kind apart."""
    tilted = boxes.piece < 0
    return [boxes.pick(kind) for kind in (tilted, ~tilted) if kind.any()]


def _cut_in_two(problem: Problem, boxes: Boxes) -> Boxes:
    """Each box halved along the direction in which the levels' differences move most."""
    height = settle(problem, boxes)[1]
    freed = []
    if boxes.piece[0] >= 0:
        near = _too_near(problem, boxes, height)
        if near.any():
            freed = [_tilts_instead(problem, boxes.pick(near))]
            boxes, height = boxes.pick(~near), height[~near]
            if len(boxes) == 0:
                return freed[0]
    weight = _split_weight(problem, boxes, height)
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
    distance = np.hypot(aim[:, 0] - boxes.centre[:, X], aim[:, 1] - height_m)
    reach = np.hypot(half[:, 0] + boxes.half[:, X], half[:, 1] + boxes.half[:, V])
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
        weight[:, 0] = np.radians(boxes.half[:, Q])
    else:
        planes = problem.planes
        start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
        run = end - start
        aim = start + boxes.centre[:, :1] * run
        ax, az = aim[:, 0] - boxes.centre[:, X], aim[:, 1] - height_m
        # Nearer than the box is large, cutting the aim point alone leads nowhere.
        r2 = ax * ax + az * az + boxes.half[:, V] ** 2 + boxes.half[:, X] ** 2 + 1e-9
        weight[:, 0] = boxes.half[:, Q] * np.abs(ax * run[:, 1] - az * run[:, 0]) / r2
        # A piece in line with the loudspeaker still must be cut until the forms hold.
        rho = boxes.half[:, Q] * np.hypot(run[:, 0], run[:, 1])
        weight[:, 0] = np.maximum(weight[:, 0], 0.5 * rho**2 / r2)
    return np.asarray(weight)

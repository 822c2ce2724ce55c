"""Where the joint search sets out from: settings spread over the ranges, the best of them kept."""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..geometry.section import elevation_deg
from .joint_polish import tilt_span_deg
from .joint_problem import GAIN, SPLAY, TILT, UNKNOWNS, JointLevels, JointProblem, V, X, heard_at

_PLACES = 48
"""Placements looked at for each loudspeaker."""
_COMBINED = 3000
_LOOKED_AT_ROWS = 24
_BELOW_DB = 10.0
"""How far under its ceiling, or its highest gain, a fill is tried."""
_APART = 0.15


@dataclass(frozen=True, eq=False)
class Starts:
    """settings: (n, members, 5); flipped: (n, members); best first."""

    settings: FloatArray
    flipped: BoolArray


def starts(question: JointProblem, *, most: int) -> Starts:
    """Settings spread over everything that is allowed, distinct ones with the best objective.

    Their number is small where few are allowed at all.  No random numbers: an additive recurrence
    spreads them.
    """
    members = question.members
    few = question.at_rows(_few_rows(len(question.rows)))
    places = [_places(question, one) for one in range(len(members))]
    if any(len(at) == 0 for at, _ in places):
        return Starts(
            np.zeros((0, len(members), UNKNOWNS)), np.zeros((0, len(members)), dtype=bool)
        )
    heard = [
        member.heard(member.placements(at, turn))
        for member, (at, turn) in zip(few.members, places, strict=True)
    ]
    draw = _spread(_COMBINED, 2 * len(members))
    chosen: list[IntArray] = []
    alone: list[FloatArray] = []
    is_open: list[BoolArray] = []
    gains = np.zeros((len(draw), len(members)))
    for one, member in enumerate(members):
        levels, seen = heard[one]
        index = np.minimum((draw[:, 2 * one] * len(levels)).astype(np.intp), len(levels) - 1)
        low, high = member.gain_db
        top = np.full(len(draw), high)
        if low < high and member.fills is not None:
            # Under its ceiling, or about as loud as what it fills.
            main, main_open = alone[member.fills], is_open[member.fills]
            apart = (levels[index] - main).mean(axis=1)
            allowed_over = member.ceiling_db if np.isfinite(member.ceiling_db) else 6.0
            over = np.where(main_open[:, : apart.shape[1]], apart, -np.inf).max(axis=1)
            over = np.where(np.isfinite(over), over, apart.max(axis=1))
            top = np.minimum(top, allowed_over - np.where(np.isfinite(over), over, 0.0))
        gains[:, one] = np.clip(top - _BELOW_DB * draw[:, 2 * one + 1] ** 2, low, high)
        chosen.append(index)
        alone.append(levels[index] + gains[:, one, np.newaxis, np.newaxis])
        is_open.append(seen[index])
    judged = heard_at(few, np.stack(alone), np.stack(is_open))
    settings = np.stack([at[index] for (at, _), index in zip(places, chosen, strict=True)], axis=1)
    flipped = np.stack(
        [turn[index] for (_, turn), index in zip(places, chosen, strict=True)], axis=1
    )
    settings[..., GAIN] = gains
    return _distinct(question, settings, flipped, judged, most=most)


def _distinct(
    question: JointProblem,
    settings: FloatArray,
    flipped: BoolArray,
    judged: JointLevels,
    *,
    most: int,
) -> Starts:
    """The best that lie apart from one another."""
    merit = judged.objective_db + 2.0 * np.maximum(judged.over_db, 0.0)
    order = np.argsort(merit, kind="stable")
    order = order[np.isfinite(merit[order])]
    size = np.maximum(question.ranges[..., 1] - question.ranges[..., 0], 1e-9)
    size[:, TILT] = np.minimum(size[:, TILT], 60.0)
    size[:, GAIN] = np.minimum(size[:, GAIN], 20.0)
    kept: list[int] = []
    for index in order.tolist():
        if len(kept) == most:
            break
        apart = np.abs(settings[kept] - settings[index]) / size
        other = (flipped[kept] != flipped[index]).any(axis=1)
        if (other | (apart.max(axis=(1, 2)) > _APART)).all():
            kept.append(index)
    return Starts(settings[kept], flipped[kept])


def _places(question: JointProblem, one: int) -> tuple[FloatArray, BoolArray]:
    """(n, 5) placements of one member spread over what its limits allow, and how they hang."""
    member = question.members[one]
    problem = member.problem
    draw = _spread(4 * _PLACES, 4)
    at = np.zeros((len(draw), UNKNOWNS))
    low, high = question.ranges[one, :, 0], question.ranges[one, :, 1]
    for column, source in ((V, 0), (X, 1), (SPLAY, 2)):
        at[:, column] = low[column] + (high[column] - low[column]) * draw[:, source]
    flipped = np.zeros(len(draw), dtype=bool)
    turns = [name == "flipped" for name in problem.hang.orientations]
    flipped[:] = [turns[k % len(turns)] for k in range(len(draw))]
    points = np.vstack([problem.planes.start_m, problem.planes.end_m])
    height = np.asarray(member.placements(at, flipped).height_m)
    if problem.axis_on_audience:
        start, end = problem.planes.start_m, problem.planes.end_m
        length = np.append(0.0, np.cumsum(np.hypot(*(end - start).T)))
        way = draw[:, 3] * length[-1]
        piece = np.clip(np.searchsorted(length, way, side="right") - 1, 0, len(start) - 1)
        along = (way - length[piece]) / np.maximum(length[piece + 1] - length[piece], 1e-9)
        aim = start[piece] + along[:, np.newaxis] * (end[piece] - start[piece])
        at[:, TILT] = elevation_deg(aim[:, 0] - at[:, X], aim[:, 1] - height)
    else:
        seen = elevation_deg(
            points[:, 0] - at[:, X, np.newaxis], points[:, 1] - height[:, np.newaxis]
        )
        near, far = seen.min(axis=1) - 5.0, seen.max(axis=1) + 15.0
        at[:, TILT] = near + (far - near) * draw[:, 3]
    for _ in range(2):
        at[:, TILT] = np.clip(at[:, TILT], *tilt_span_deg(member, at, flipped))
    good = problem.allowed(member.placements(at, flipped))
    kept = np.flatnonzero(good)
    _, first = np.unique(np.column_stack([at, flipped])[kept].round(6), axis=0, return_index=True)
    kept = kept[np.sort(first)][:_PLACES]
    return at[kept], flipped[kept]


def _few_rows(count: int) -> IntArray:
    return np.unique(np.linspace(0, count - 1, min(count, _LOOKED_AT_ROWS)).round().astype(np.intp))


def _spread(count: int, columns: int) -> FloatArray:
    """(count, columns) in [0, 1), evenly spread: the additive recurrence of the generalised golden
    ratio, the positive root of g^(columns+1) = g + 1 (from memory)."""
    ratio = 2.0
    for _ in range(60):
        ratio = (1.0 + ratio) ** (1.0 / (columns + 1))
    step = ratio ** -np.arange(1.0, columns + 1.0)
    return np.mod(0.5 + np.arange(1, count + 1)[:, np.newaxis] * step, 1.0)

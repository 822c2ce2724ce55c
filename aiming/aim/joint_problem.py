"""The question put to the joint search: several loudspeakers, heard together at every row.

Each member is one loudspeaker, with what hangs under it, inside its own limits.  Unknown are each
one's tilt, height or trim, x, splay and orientation, and the gains that are left to choose.  What
counts is the power sum over all rows, under the same objectives as for one alone.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..field.diffraction import GRAZING_DB
from ..field.levels import levels_db, power_sum_db
from ..geometry.section import Rows
from ..speaker.speaker import Placement, Placements, Range
from . import measures
from .problem import Objective, Problem

TILT, V, X, SPLAY, GAIN = range(5)
UNKNOWNS = 5
"""Columns of a setting: tilt, height or trim, x, splay of what hangs under, gain."""
LIMIT_SLACK_DB = 1e-6


@dataclass(frozen=True, eq=False)
class Member:
    """One loudspeaker of several.

    problem: about it alone, with its own planes and limits, but over the rows of all
    output_db: (bands,) its output at a gain of 0 dB
    gain_db: range of its gain, ends alike where it is given
    fills: index of the member that it fills, None where it fills none
    ceiling_db: its design level may exceed that one's by this where that one is not hidden
    """

    name: str
    problem: Problem
    output_db: FloatArray
    gain_db: Range = (0.0, 0.0)
    fills: int | None = None
    ceiling_db: float = np.inf

    @cached_property
    def ranges(self) -> tuple[Range, ...]:
        """What is left to choose, by column."""
        hang = self.problem.hang
        return (hang.tilt_deg, hang.vertical_m, hang.x_m, self.problem.splay_deg, self.gain_db)

    def placements(self, settings: FloatArray, flipped: BoolArray) -> Placements:
        """(n,) placements at settings (n, 5)."""
        tilt, v, x, splay, _ = settings.T
        height = v
        if self.problem.from_trim:
            up, down = (self.problem.drop_m(tilt, turn) for turn in (False, True))
            height = v + np.where(flipped, down, up)
        return Placements.of(x, height, tilt, flipped, splay)

    def setting(self, placement: Placement, gain_db: float) -> FloatArray:
        """(5,) the setting of one placement."""
        tilt = placement.tilt_deg
        v = placement.height_m - float(self.problem.drop_m(tilt, placement.flipped))
        return np.array([tilt, v, placement.x_m, placement.splay_deg, gain_db])

    def heard(self, placements: Placements) -> tuple[FloatArray, BoolArray]:
        """Levels (n, bands, rows) at a gain of 0 dB, and (n, rows) whether no edge hides it.

        Behind an edge the loss is over GRAZING_DB in some band.  Where one hangs under it, the row
        is open that either is not hidden from.
        """
        problem = self.problem
        own, loss = _own_levels(problem, placements)
        if problem.under is None:
            return own + self.output_db[:, np.newaxis], _open(loss, own)
        under, rows = problem.under, problem.rows
        below = under.levels_db(placements, rows, problem.air_loss)
        both = power_sum_db(np.stack([own, below]))
        is_open = _open(loss, own)
        if under.shadow is not None:
            there = under.held.placements(placements, flipped=under.flipped)
            is_open |= _open(under.shadow.loss_db(there.x_m, there.height_m), own)
        else:
            is_open[:] = True
        return both + self.output_db[:, np.newaxis], is_open


def _own_levels(problem: Problem, placements: Placements) -> tuple[FloatArray, FloatArray]:
    loss = np.zeros((1, 1, 1))
    if problem.shadow is not None:
        loss = problem.shadow.loss_db(placements.x_m, placements.height_m)
    own = levels_db(
        problem.pattern,
        placements,
        problem.rows.x_m,
        problem.rows.z_m,
        air_loss=problem.air_loss,
        shadow_db=loss,
    )
    return own, loss


def _open(loss_db: FloatArray, levels: FloatArray) -> BoolArray:
    """(n, rows) whether the loss is below that of an edge that grazes."""
    seen = loss_db.max(axis=-2) < GRAZING_DB
    return np.array(np.broadcast_to(seen, (levels.shape[0], levels.shape[2])))


@dataclass(frozen=True, eq=False)
class JointProblem:
    """Which placements and gains of these loudspeakers together serve these rows best.

    members: over the same rows, each after what it fills
    softest_db: no row's design level may be below this, None for no limit
    """

    members: tuple[Member, ...]
    objective: Objective = "spread"
    softest_db: float | None = None

    @property
    def rows(self) -> Rows:
        """All rows that count."""
        return self.members[0].problem.rows

    @cached_property
    def row_share(self) -> FloatArray:
        """(rows,) weights that sum to 1."""
        return self.members[0].problem.row_share

    @cached_property
    def ranges(self) -> FloatArray:
        """(members, 5, 2) low and high of every unknown."""
        return np.array([member.ranges for member in self.members], dtype=np.float64)

    @property
    def open(self) -> bool:
        """Whether anything is left to choose."""
        turns = any(len(one.problem.hang.orientations) > 1 for one in self.members)
        return turns or bool((self.ranges[..., 0] < self.ranges[..., 1]).any())

    @cached_property
    def fills(self) -> tuple[tuple[int, int, float], ...]:
        """(fill, what it fills, ceiling in dB) wherever a ceiling binds."""
        return tuple(
            (one, member.fills, member.ceiling_db)
            for one, member in enumerate(self.members)
            if member.fills is not None and np.isfinite(member.ceiling_db)
        )

    def channels(self, levels: FloatArray) -> FloatArray:
        """(…, channels, rows) what the objective looks at: the bands' mean, or every band."""
        return levels.mean(axis=-2, keepdims=True) if self.objective == "spread" else levels

    def objective_db(self, levels: FloatArray) -> FloatArray:
        """(…) of levels (…, bands, rows); +inf where one is unknown."""
        if self.objective == "deviation":
            value = measures.deviation_db(levels, self.rows.weight)
        else:
            value = measures.worst_band_spread_db(self.channels(levels))
        return np.where(np.isnan(value), np.inf, value)

    def with_ceilings(self, more_db: float) -> "JointProblem":
        """The same with every ceiling moved."""
        members = tuple(replace(one, ceiling_db=one.ceiling_db + more_db) for one in self.members)
        return replace(self, members=members)

    def at_rows(self, which: IntArray) -> "JointProblem":
        """The same question about some rows only."""
        return replace(
            self,
            members=tuple(
                replace(one, problem=at_rows(one.problem, which)) for one in self.members
            ),
        )


def at_rows(problem: Problem, which: IntArray) -> Problem:
    """The problem about some of its rows only; its limits stay."""
    shadow, under = problem.shadow, problem.under
    if under is not None and under.shadow is not None:
        under = replace(under, shadow=under.shadow.at_rows(which))
    return replace(
        problem,
        rows=problem.rows.pick(which),
        shadow=None if shadow is None else shadow.at_rows(which),
        under=under,
    )


@dataclass(frozen=True, eq=False)
class JointLevels:
    """Settings (n, members, 5) as they are heard.

    alone: (members, n, bands, rows) at the gains set; levels: (n, bands, rows) the power sum
    is_open: (members, n, rows) rows that no edge hides
    objective_db: (n,); over_db: (n,) by how much ceilings and the least level are broken
    """

    alone: FloatArray
    is_open: BoolArray
    levels: FloatArray
    objective_db: FloatArray
    over_db: FloatArray


def hear(question: JointProblem, settings: FloatArray, flipped: BoolArray) -> JointLevels:
    """Levels, objective and broken limits of settings (n, members, 5), flipped (n, members)."""
    alone, is_open = [], []
    for one, member in enumerate(question.members):
        at, turn = settings[:, one], flipped[:, one]
        if (at[1:, :GAIN] == at[:1, :GAIN]).all() and (turn[1:] == turn[:1]).all():
            at, turn = at[:1], turn[:1]  # one that stays is heard once
        levels, seen = member.heard(member.placements(at, turn))
        alone.append(levels + settings[:, one, GAIN, np.newaxis, np.newaxis])
        is_open.append(np.broadcast_to(seen, (len(settings), seen.shape[1])))
    return heard_at(question, np.stack(alone), np.stack(is_open))


def heard_at(question: JointProblem, alone: FloatArray, is_open: BoolArray) -> JointLevels:
    """The same from each one's levels and open rows."""
    levels = power_sum_db(alone)
    over = np.zeros(levels.shape[0])
    for excess in excesses_db(question, alone, is_open):
        np.maximum(over, excess.max(axis=-1, initial=0.0), out=over)
    if question.softest_db is not None:
        soft = question.softest_db - levels.mean(axis=-2).min(axis=-1)
        over = np.maximum(over, np.where(np.isnan(soft), np.inf, soft))
    return JointLevels(alone, is_open, levels, question.objective_db(levels), over)


def excesses_db(question: JointProblem, alone: FloatArray, is_open: BoolArray) -> list[FloatArray]:
    """For each ceiling (n, rows): how far the fill is over it; −inf where it does not hold."""
    design = alone.mean(axis=-2)
    return [
        np.where(is_open[main], design[fill] - design[main] - ceiling, -np.inf)
        for fill, main, ceiling in question.fills
    ]


def allowed(question: JointProblem, settings: FloatArray, flipped: BoolArray) -> BoolArray:
    """(n,) whether every member keeps the limits of its own placement."""
    good = np.ones(len(settings), dtype=bool)
    for one, member in enumerate(question.members):
        good &= member.problem.allowed(member.placements(settings[:, one], flipped[:, one]))
    low, high = question.ranges[..., 0], question.ranges[..., 1]
    inside = (settings >= low - 1e-9) & (settings <= high + 1e-9)
    return np.asarray(good & inside.all(axis=(1, 2)))

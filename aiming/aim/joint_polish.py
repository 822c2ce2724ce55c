"""Settings of several loudspeakers made better together, many starts at once.

Every unknown moves at the same time: the levels are followed by their tangents within a trust
region, which leaves a linear programme (least u − l with every row between l and u), or for the
deviation a least-squares one, with ceilings and limits beside it (interior.py).  A step is taken
where the exact levels bear it out; a fill that ends over its ceiling is turned down to it.
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..geometry.section import elevation_deg
from ..speaker.speaker import Placements
from .interior import minimum
from .joint_problem import (
    GAIN,
    TILT,
    JointLevels,
    JointProblem,
    Member,
    V,
    excesses_db,
    hear,
    heard_at,
)
from .problem import Problem

_STEP = np.array([0.02, 0.002, 0.002, 0.02])
"""Degrees and metres by which tangents are taken; a gain's is exact."""
_REACH = np.array([6.0, 1.0, 1.0, 4.0, 4.0])
"""The trust region at its widest: degrees, metres, metres, degrees, dB."""
_PRICE = 300.0
"""What 1 dB or 1° over a limit costs, in dB of the objective."""
_MARGIN_DB = 1e-5
_ROUNDS = 40
_SMALLEST = 2e-3
_LEAST_GAIN_DB = 1e-4
_LOOKED_AT = 28
"""Rows at either end that a programme looks at, per channel, and for each limit."""


@dataclass(frozen=True, eq=False)
class Polished:
    """Settings (n, members, 5), best first, with their objective and what is over a limit (n,)."""

    settings: FloatArray
    flipped: BoolArray
    objective_db: FloatArray
    over_db: FloatArray

    def pick(self, which: IntArray | BoolArray | slice) -> "Polished":
        """These of them."""
        return Polished(
            self.settings[which],
            self.flipped[which],
            self.objective_db[which],
            self.over_db[which],
        )


def polished(
    question: JointProblem,
    settings: FloatArray,
    flipped: BoolArray,
    *,
    rounds: int = _ROUNDS,
    within_db: float | None = None,
    reach: float = 1.0,
) -> Polished:
    """Starts (n, members, 5), each led to where no small step makes it better; best first.

    within_db: where given, the heights and gains are made small instead, the objective staying
        within this
    reach: how far the first step may go, as a share of the trust region at its widest
    """
    polish = _Polish(question, within_db)
    now = polish.settled(settings, flipped)
    heard, merit = polish.judged(now, flipped)
    size = np.full(len(now), reach)
    open_ones = np.arange(len(now))
    for _ in range(rounds):
        open_ones = open_ones[(size[open_ones] > _SMALLEST) & np.isfinite(merit[open_ones])]
        if len(open_ones) == 0 or not polish.free:
            break
        some = _some(heard, open_ones)
        there, promised = polish.step(now[open_ones], flipped[open_ones], some, size[open_ones])
        new, new_merit = polish.judged(there, flipped[open_ones])
        hoped = merit[open_ones] - promised
        gained = merit[open_ones] - new_merit
        better = gained > np.maximum(0.05 * hoped, 0.0)
        share = np.where(hoped > 1e-12, gained / np.maximum(hoped, 1e-12), 0.0)
        size[open_ones] *= np.where(share > 0.7, 2.0, np.where(share < 0.25, 0.35, 1.0))
        size = np.minimum(size, 1.0)
        size[open_ones[hoped < _LEAST_GAIN_DB]] = 0.0
        taken = open_ones[better]
        now[taken], merit[taken] = there[better], new_merit[better]
        _put(heard, taken, new, better)
    order = np.argsort(merit, kind="stable")
    return Polished(now[order], flipped[order], heard.objective_db[order], heard.over_db[order])


def _some(heard: JointLevels, which: IntArray) -> JointLevels:
    return JointLevels(
        heard.alone[:, which],
        heard.is_open[:, which],
        heard.levels[which],
        heard.objective_db[which],
        heard.over_db[which],
    )


def _put(heard: JointLevels, at: IntArray, new: JointLevels, which: BoolArray) -> None:
    heard.alone[:, at] = new.alone[:, which]
    heard.is_open[:, at] = new.is_open[:, which]
    heard.levels[at] = new.levels[which]
    heard.objective_db[at] = new.objective_db[which]
    heard.over_db[at] = new.over_db[which]


class _Polish:
    """What the steps of one polish share."""

    def __init__(self, question: JointProblem, within_db: float | None) -> None:
        self.question = question
        self.within_db = within_db
        low, high = question.ranges[..., 0], question.ranges[..., 1]
        self.low, self.high = low, high
        self.free = [
            (one, column)
            for one in range(len(question.members))
            for column in range(low.shape[1])
            if low[one, column] < high[one, column]
        ]

    def settled(self, settings: FloatArray, flipped: BoolArray) -> FloatArray:
        """The nearest settings in the ranges, with every axis on its audience."""
        now = np.clip(settings, self.low, self.high)
        for one, member in enumerate(self.question.members):
            for _ in range(3 if member.problem.from_trim else 1):
                span = tilt_span_deg(member, now[:, one], flipped[:, one])
                now[:, one, TILT] = np.clip(now[:, one, TILT], *span)
        return now

    def judged(self, settings: FloatArray, flipped: BoolArray) -> tuple[JointLevels, FloatArray]:
        """What is heard, fills turned down to their ceilings (in place), and its merit (n,)."""
        question = self.question
        heard = hear(question, settings, flipped)
        turned = False
        for place, (fill, _, _) in enumerate(question.fills):
            low, high = question.members[fill].gain_db
            if low < high:
                excess = excesses_db(question, heard.alone, heard.is_open)[place].max(axis=-1)
                by = np.clip(excess, 0.0, settings[:, fill, GAIN] - low)
                by = np.where(np.isfinite(by), by, 0.0)
                if by.any():
                    settings[:, fill, GAIN] -= by
                    heard.alone[fill] -= by[:, np.newaxis, np.newaxis]
                    turned = True
        if turned:
            heard = heard_at(question, heard.alone, heard.is_open)
        merit = self._goal(settings, heard) + _PRICE * np.maximum(heard.over_db, 0.0)
        for one, member in enumerate(question.members):
            front = _front_deg(member, settings[:, one], flipped[:, one])
            if front is not None:
                heard.over_db[:] = np.maximum(heard.over_db, front)
                merit += _PRICE * np.maximum(front, 0.0)
        return heard, np.where(np.isfinite(heard.objective_db), merit, np.inf)

    def _goal(self, settings: FloatArray, heard: JointLevels) -> FloatArray:
        if self.within_db is None:
            return heard.objective_db
        over = np.maximum(heard.objective_db - self.within_db, 0.0)
        return self._cost(settings) + _PRICE * over

    def _cost(self, settings: FloatArray) -> FloatArray:
        """Heights in metres, and gains a little."""
        return np.asarray(settings[..., V].sum(axis=1) + 0.02 * settings[..., GAIN].sum(axis=1))

    def step(
        self, settings: FloatArray, flipped: BoolArray, heard: JointLevels, size: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Where the tangents lead (n, members, 5), and the merit that they promise (n,)."""
        question = self.question
        slopes = self._slopes(settings, flipped, heard)
        scale = size[:, np.newaxis] * np.array([_REACH[column] for _, column in self.free])
        rows = self._rows(settings, flipped, heard, slopes, scale)
        hessian, slope, floor = rows.objective(question, self.within_db, heard, settings)
        normal, bound = rows.stacked()
        found = minimum(hessian, slope, normal, bound, rows.low, rows.high, accuracy=1e-5).x
        promised = floor + (slope * found).sum(axis=1)
        if hessian is not None:
            promised += 0.5 * np.einsum("ni,nij,nj->n", found, hessian, found)
        there = settings.copy()
        for place, (one, column) in enumerate(self.free):
            there[:, one, column] += scale[:, place] * found[:, place]
        return self.settled(there, flipped), promised

    def _slopes(self, settings: FloatArray, flipped: BoolArray, heard: JointLevels) -> FloatArray:
        """(n, free, bands, rows) slopes of each one's own levels by its unknowns, per unit."""
        question, count = self.question, len(settings)
        found = np.empty((count, len(self.free), *heard.levels.shape[1:]))
        for one, member in enumerate(question.members):
            mine = [k for k, (of, column) in enumerate(self.free) if of == one and column != GAIN]
            for k, (of, column) in enumerate(self.free):
                if of == one and column == GAIN:
                    found[:, k] = 1.0
            if not mine:
                continue
            moved, by = _moved(settings[:, one], [self.free[k][1] for k in mine], self.high[one])
            turn = np.tile(flipped[:, one], len(mine))
            levels, _ = member.heard(member.placements(moved.reshape(-1, moved.shape[-1]), turn))
            levels = levels.reshape(len(mine), count, *levels.shape[1:])
            here = heard.alone[one] - settings[:, one, GAIN, np.newaxis, np.newaxis]
            for place, k in enumerate(mine):
                step = by[place][:, np.newaxis, np.newaxis]
                found[:, k] = (levels[place] - here) / step
        return np.nan_to_num(found, nan=0.0, posinf=0.0, neginf=0.0)

    def _rows(
        self,
        settings: FloatArray,
        flipped: BoolArray,
        heard: JointLevels,
        slopes: FloatArray,
        scale: FloatArray,
    ) -> "_Programme":
        question = self.question
        width = scale[:, :, np.newaxis, np.newaxis]
        share = 10.0 ** ((heard.alone - heard.levels) / 10.0)
        owner = [one for one, _ in self.free]
        own = slopes * width
        whole = own * np.moveaxis(share[owner], 0, 1)
        channels, turned = question.channels(heard.levels), question.channels(whole)
        programme = _Programme(len(settings), len(self.free), channels, turned)
        low = np.stack([self.low[of] - settings[:, of[0], of[1]] for of in self.free], axis=1)
        high = np.stack([self.high[of] - settings[:, of[0], of[1]] for of in self.free], axis=1)
        programme.bounded(np.maximum(low / scale, -1.0), np.minimum(high / scale, 1.0))
        if question.objective != "deviation":
            programme.between()
        design = own.mean(axis=2)
        for (fill, main, _), excess in zip(
            question.fills, excesses_db(question, heard.alone, heard.is_open), strict=True
        ):
            sign = np.array([float(of == fill) - float(of == main) for of in owner])
            programme.limited(excess, design * sign[:, np.newaxis])
        if question.softest_db is not None:
            soft = question.softest_db + _MARGIN_DB - heard.levels.mean(axis=1)
            programme.limited(soft, -whole.mean(axis=2))
        for one, member in enumerate(question.members):
            mine = [k for k, of in enumerate(owner) if of == one and self.free[k][1] != GAIN]
            if mine:
                columns = [self.free[k][1] for k in mine]
                value, by = _limits_deg(
                    member, settings[:, one], flipped[:, one], columns, self.high[one]
                )
                full = np.zeros((len(settings), len(self.free), value.shape[1]))
                full[:, mine] = by * scale[:, mine, np.newaxis]
                programme.limited(value, full)
        programme.cost = (
            np.array(
                [1.0 if column == V else 0.02 if column == GAIN else 0.0 for _, column in self.free]
            )
            * scale
        )
        return programme


class _Programme:
    """The rows of a batch of programmes in (steps, u and l of each channel, w, e).

    levels: (n, channels, rows); slopes: (n, k, channels, rows) per whole step
    """

    def __init__(self, count: int, free: int, levels: FloatArray, slopes: FloatArray) -> None:
        self.free, self.channels = free, levels.shape[1]
        self.size = free + 2 * self.channels + 2
        self.middle = 0.5 * (levels.max(axis=-1) + levels.min(axis=-1))[..., np.newaxis]
        self.levels, self.slopes = levels - self.middle, slopes
        self.normal: list[FloatArray] = []
        self.bound: list[FloatArray] = []
        self.count = count
        self.cost = np.zeros((count, free))
        last = np.zeros((count, 1, self.size))
        last[..., -1] = -1.0
        self._add(last, np.zeros((count, 1)))

    def _add(self, normal: FloatArray, bound: FloatArray) -> None:
        self.normal.append(normal)
        self.bound.append(bound)

    def stacked(self) -> tuple[FloatArray, FloatArray]:
        return np.concatenate(self.normal, axis=1), np.concatenate(self.bound, axis=1)

    def bounded(self, low: FloatArray, high: FloatArray) -> None:
        """low ≤ steps ≤ high, with room for an inside."""
        self.low, self.high = np.minimum(low, -1e-6), np.maximum(high, 1e-6)

    def between(self) -> None:
        """Every row between l and u of its channel, and u − l ≤ w in each."""
        for channel in range(self.channels):
            levels, slopes = self.levels[:, channel], self.slopes[:, :, channel]
            play = np.abs(slopes).sum(axis=1)
            for sign, place in (
                (1.0, self.free + channel),
                (-1.0, self.free + self.channels + channel),
            ):
                which = _first(sign * levels + play)
                normal = np.zeros((self.count, which.shape[1], self.size))
                normal[..., : self.free] = sign * _taken(slopes, which)
                normal[..., place] = -sign
                self._add(normal, -sign * np.take_along_axis(levels, which, axis=1))
            apart = np.zeros((self.count, 1, self.size))
            apart[..., self.free + channel] = 1.0
            apart[..., self.free + self.channels + channel] = -1.0
            apart[..., -2] = -1.0
            self._add(apart, np.zeros((self.count, 1)))

    def limited(self, value: FloatArray, slopes: FloatArray) -> None:
        """value + slopes·step ≤ e for values (n, r) and slopes (n, k, r)."""
        which = _first(value + np.abs(slopes).sum(axis=1))
        bound = -np.take_along_axis(value, which, axis=1)
        normal = np.zeros((self.count, which.shape[1], self.size))
        normal[..., : self.free] = _taken(slopes, which)
        normal[..., -1] = -1.0
        none = ~np.isfinite(bound)
        normal[none] = 0.0
        normal[none, -1] = -1.0
        self._add(normal, np.where(none, 1.0, bound))

    def objective(
        self,
        question: JointProblem,
        within_db: float | None,
        heard: JointLevels,
        settings: FloatArray,
    ) -> tuple[FloatArray | None, FloatArray, FloatArray]:
        """(H, c, what they leave out) of the merit."""
        slope = np.zeros((self.count, self.size))
        slope[:, -1] = _PRICE
        floor = np.zeros(self.count)
        hessian = None
        if question.objective == "deviation":
            root = np.sqrt(question.row_share / self.channels)
            share = question.row_share
            apart = self.levels - (self.levels * share).sum(axis=-1, keepdims=True)
            turn = self.slopes - (self.slopes * share).sum(axis=-1, keepdims=True)
            apart, turn = apart * root, turn * root
            size = np.maximum(heard.objective_db, 1e-6)[:, np.newaxis]
            steep = np.einsum("nkcr,ncr->nk", turn, apart) / size
            if within_db is None:
                hessian = np.zeros((self.count, self.size, self.size))
                flat = turn.reshape(self.count, self.free, -1)
                hessian[:, : self.free, : self.free] = flat @ flat.transpose(0, 2, 1)
                hessian /= size[:, :, np.newaxis]
                # u, l and w play no part, but want a place.
                rest = np.arange(self.free, self.size - 1)
                hessian[:, rest, rest] = 1.0
                slope[:, : self.free] = steep
                return hessian, slope, heard.objective_db.copy()
            self._linear_target(heard.objective_db - within_db, steep)
        elif within_db is None:
            slope[:, -2] = 1.0
            return hessian, slope, floor
        else:
            target = np.zeros((self.count, 1, self.size))
            target[..., -2], target[..., -1] = 1.0, -1.0
            self._add(target, np.full((self.count, 1), within_db))
        slope[:, : self.free] = self.cost
        cost = settings[..., V].sum(axis=1) + 0.02 * settings[..., GAIN].sum(axis=1)
        return hessian, slope, cost

    def _linear_target(self, over: FloatArray, steep: FloatArray) -> None:
        normal = np.zeros((self.count, 1, self.size))
        normal[:, 0, : self.free] = steep
        normal[..., -1] = -1.0
        self._add(normal, -over[:, np.newaxis])
        for place in range(self.free, self.size - 1):
            for sign in (1.0, -1.0):
                box = np.zeros((self.count, 1, self.size))
                box[..., place] = sign
                self._add(box, np.ones((self.count, 1)))


def _first(value: FloatArray) -> IntArray:
    """(n, at most _LOOKED_AT) the largest of (n, r)."""
    if value.shape[1] <= _LOOKED_AT:
        return np.broadcast_to(np.arange(value.shape[1]), value.shape)
    return np.argpartition(-value, _LOOKED_AT, axis=1)[:, :_LOOKED_AT]


def _taken(slopes: FloatArray, which: IntArray) -> FloatArray:
    """(n, picked, k) of slopes (n, k, r)."""
    return np.take_along_axis(slopes, which[:, np.newaxis], axis=2).transpose(0, 2, 1)


def _moved(
    settings: FloatArray, columns: list[int], high: FloatArray
) -> tuple[FloatArray, list[FloatArray]]:
    """(columns, n, 5) settings each moved a little along one column, inwards, and by how much."""
    moved, by = [], []
    for column in columns:
        there = settings.copy()
        step = np.where(
            there[:, column] + _STEP[column] > high[column], -_STEP[column], _STEP[column]
        )
        there[:, column] += step
        moved.append(there)
        by.append(step)
    return np.stack(moved), by


def _limits_deg(
    member: Member,
    settings: FloatArray,
    flipped: BoolArray,
    columns: list[int],
    high: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """(n, limits) degrees over audience's ends and view; (n, columns, limits) their slopes."""
    chain = _chain(member.problem, member.placements(settings, flipped))
    moved, by = _moved(settings, columns, high)
    turn = np.tile(flipped, len(columns))
    value = _limit_values(member, settings, flipped, chain)
    there = _limit_values(
        member, moved.reshape(-1, settings.shape[1]), turn, np.tile(chain, len(columns))
    ).reshape(len(columns), *value.shape)
    slope = (there - value) / np.stack(by)[..., np.newaxis]
    return value, np.moveaxis(slope, 0, 1)


def _limit_values(
    member: Member, settings: FloatArray, flipped: BoolArray, chain: IntArray
) -> FloatArray:
    tilt = settings[:, TILT]
    low, high = _tilt_span_deg(member, settings, flipped, chain)
    values = [low - tilt, tilt - high]
    front = _front_deg(member, settings, flipped)
    if front is not None:
        values.append(front + 1e-4)
    if member.problem.headroom:
        over = member.problem.over_steel_m(member.placements(settings, flipped))
        values.append(over + 1e-4)
    return np.stack(values, axis=1)


def _front_deg(member: Member, settings: FloatArray, flipped: BoolArray) -> FloatArray | None:
    """(n,) how far the front row sees the acoustic centre over the limit; None without one."""
    problem = member.problem
    if problem.max_front_elevation_deg is None or problem.front_ear_m is None:
        return None
    x, z = problem.front_ear_m
    at = member.placements(settings, flipped)
    run = np.abs(x - np.asarray(at.x_m))
    return elevation_deg(run, np.asarray(at.height_m) - z) - problem.max_front_elevation_deg


def tilt_span_deg(
    member: Member, settings: FloatArray, flipped: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """(low, high), each (n,): tilts around that at hand that ranges, rigging and audience leave."""
    return _tilt_span_deg(
        member, settings, flipped, _chain(member.problem, member.placements(settings, flipped))
    )


def _tilt_span_deg(
    member: Member, settings: FloatArray, flipped: BoolArray, chain: IntArray
) -> tuple[FloatArray, FloatArray]:
    problem, tilt = member.problem, settings[:, TILT]
    low, high = np.full(len(tilt), -90.0), np.full(len(tilt), 90.0)
    for turn in (False, True):
        ranges = np.array(problem.tilt_ranges(turn)).reshape(-1, 2)
        mine = flipped == turn
        if mine.any() and len(ranges):
            past = np.maximum(
                ranges[:, 0] - tilt[:, np.newaxis], tilt[:, np.newaxis] - ranges[:, 1]
            )
            nearest = np.argmin(past, axis=1)
            low = np.where(mine, ranges[nearest, 0], low)
            high = np.where(mine, ranges[nearest, 1], high)
    if problem.axis_on_audience:
        ends = _chain_ends_deg(problem, member.placements(settings, flipped))
        index = np.arange(len(tilt))
        seen_low, seen_high = ends[0][index, chain], ends[1][index, chain]
        # Ranges that hold no tilt with its axis on the audience leave what they can.
        low, high = np.clip(seen_low, low, high), np.clip(seen_high, low, high)
    return low, high


def _chain_points(problem: Problem) -> tuple[FloatArray, IntArray]:
    """Corners (n, 2) of the audience planes, chain after chain, and where each chain begins.

    A chain is pieces that follow one another.
    """
    start, end = problem.planes.start_m, problem.planes.end_m
    last = np.append(np.any(start[1:] != end[:-1], axis=1), True)
    ends = np.flatnonzero(last) + 1
    return np.insert(start, ends, end[last], axis=0), np.append(
        0, ends[:-1] + np.arange(1, len(ends))
    )


def _chain_ends_deg(problem: Problem, placements: Placements) -> tuple[FloatArray, FloatArray]:
    """(n, chains) lowest and highest elevation under which each chain is seen."""
    points, first = _chain_points(problem)
    seen = elevation_deg(
        points[:, 0] - placements.x_m[:, np.newaxis],
        points[:, 1] - placements.height_m[:, np.newaxis],
    )
    return np.minimum.reduceat(seen, first, axis=1), np.maximum.reduceat(seen, first, axis=1)


def _chain(problem: Problem, placements: Placements) -> IntArray:
    """(n,) the chain that the axis meets, or is nearest to meeting."""
    if not problem.axis_on_audience:
        return np.zeros(len(placements.tilt_deg), dtype=np.intp)
    low, high = _chain_ends_deg(problem, placements)
    tilt = placements.tilt_deg[:, np.newaxis]
    return np.asarray(np.argmin(np.maximum(low - tilt, tilt - high), axis=1))

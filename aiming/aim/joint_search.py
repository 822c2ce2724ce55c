"""The proven joint search: branch and bound over placements and gains of several loudspeakers.

As for one (search.py), with two differences.  The bounds look at few rows (joint_bound.py), and
candidates are judged on all of them.  And the search feeds the polish: every so often the lowest
boxes are start points, since starts that agree prove nothing.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..speaker.speaker import Placements
from .joint_bound import Bounded, Frame, JointBoxes, all_of
from .joint_polish import Polished, polished
from .joint_pool import Pool
from .joint_problem import GAIN, LIMIT_SLACK_DB, JointProblem, allowed, excesses_db, hear

MOST_BOXES = 12_000
MOST_ENCLOSED = 9_000
"""Boxes of placements whose enclosures are held at once: about 10 kB each."""
MOST_ROOTS = 4_000
_BATCH = 128
_TRIED = 3
_POLISHED = 3
_EVERY_NTH = 12
_EXTREMES = 3
_ROWS_APART_DB = 0.3
_MORE_ROWS_DB = 0.01


@dataclass(frozen=True, eq=False)
class JointFound:
    """settings (members, 5), flipped (members,): the best found, and its objective.

    gap_db: no setting within the ranges is better by more; infinite where nothing was proven
    proven: whether that is the gap that was asked for; boxes: how many were bounded
    """

    settings: FloatArray
    flipped: BoolArray
    objective_db: float
    gap_db: float
    proven: bool
    boxes: int


def pinned(
    question: JointProblem,
    settings: FloatArray,
    flipped: BoolArray,
    *,
    moving: tuple[int, ...],
    gains: tuple[int, ...],
) -> JointProblem:
    """The same question with all but some members' placements, and all but some gains, given."""
    members = []
    for one, member in enumerate(question.members):
        problem, gain = member.problem, member.gain_db
        if one not in moving:
            tilt, v, x, splay, _ = settings[one].tolist()
            problem = problem.at_splay(splay)
            problem = problem.with_hang(
                replace(
                    problem.hang,
                    tilt_deg=(tilt, tilt),
                    vertical_m=(v, v),
                    x_m=(x, x),
                    orientations=("flipped",) if flipped[one] else ("upright",),
                )
            )
        if one not in gains:
            gain = (float(settings[one, GAIN]),) * 2
        members.append(replace(member, problem=problem, gain_db=gain))
    return replace(question, members=tuple(members))


def search_together(
    question: JointProblem,
    start: Polished,
    *,
    gap_db: float,
    most_boxes: int = MOST_BOXES,
) -> JointFound:
    """The best setting from these starts on, and how far it is proven.

    start: settings that keep every limit come first; at least one
    """
    search = _Search(question, start)
    if not search.moving and not search.gains:
        return search.found(search.best_db, proven=True, bounded=1)
    boxes = search.roots() if most_boxes > 0 else None
    if boxes is None:
        return search.found(np.inf, proven=False, bounded=0)
    bounded, rounds, next_polish = len(boxes), 0, 6
    at = search.bound(boxes, np.zeros(len(boxes)), gap_db)
    dropped = np.inf
    while True:
        gone = at.lower_db >= search.best_db - gap_db
        dropped = min(dropped, float(at.lower_db[gone].min(initial=np.inf)))
        at = _pick(at, ~gone)
        if len(at.boxes) == 0 or bounded >= most_boxes or search.full:
            break
        order = np.argsort(at.lower_db, kind="stable")
        if rounds == next_polish:
            next_polish *= 2
            search.polish(_pick(at, order[:_POLISHED]))
            rounds += 1
            continue
        pieces, parents = search.cut(_pick(at, order[:_BATCH]))
        bounded += len(pieces)
        at = _joined(_pick(at, order[_BATCH:]), search.bound(pieces, parents, gap_db))
        rounds += 1
    least = min(dropped, float(at.lower_db.min(initial=np.inf)))
    return search.found(least, proven=len(at.boxes) == 0, bounded=bounded)


def _pick(at: Bounded, which: IntArray | BoolArray) -> Bounded:
    return Bounded(
        at.boxes.pick(which), at.lower_db[which], at.lowest_at[:, which], at.across[which]
    )


def _joined(one: Bounded, other: Bounded) -> Bounded:
    return Bounded(
        all_of([one.boxes, other.boxes]),
        np.concatenate([one.lower_db, other.lower_db]),
        np.concatenate([one.lowest_at, other.lowest_at], axis=1),
        np.concatenate([one.across, other.across]),
    )


class _Search:
    """The state of one search: the best so far, the pools of boxes, the rows looked at."""

    def __init__(self, question: JointProblem, start: Polished) -> None:
        self.question = question
        self.settings, self.flipped = start.settings[0], start.flipped[0]
        self.best_db = np.inf
        self.offer(start)
        self.moving = [
            one
            for one, member in enumerate(question.members)
            if not (member.problem.hang.fixed and np.ptp(member.problem.splay_deg) == 0.0)
        ]
        self.gains = [
            one for one, member in enumerate(question.members) if np.ptp(member.gain_db) > 0.0
        ]
        self.rows = _rows(question, start)
        self.frame = self._framed([])

    def _framed(self, pools: list[Pool]) -> Frame:
        """The frame at the rows looked at; boxes of earlier pools keep their numbers."""
        few = self.question.at_rows(self.rows)
        held = {}
        for one, member in enumerate(few.members):
            if one not in self.moving:
                levels, is_open = member.heard(
                    member.placements(self.settings[one : one + 1], self.flipped[one : one + 1])
                )
                gain = 0.0 if one in self.gains else member.gain_db[0]
                held[one] = (levels[0] + gain, is_open[0])
        new = [Pool(few.members[one]) for one in self.moving]
        for pool, earlier in zip(new, pools, strict=False):
            pool.take_over(earlier)
        return Frame(few, new, self.moving, self.gains, held)

    @property
    def full(self) -> bool:
        """Whether no more enclosures can be held."""
        return sum(len(pool) for pool in self.frame.pools) > MOST_ENCLOSED

    def roots(self) -> JointBoxes | None:
        """Boxes that hold everything; None where there are too many to begin with."""
        each = [pool.roots() for pool in self.frame.pools]
        count = int(np.prod([len(roots) for roots in each], dtype=np.float64))
        if count == 0 or count > MOST_ROOTS:
            return None
        ranges = [self.question.members[one].gain_db for one in self.gains]
        number = np.array(list(product(*(roots.tolist() for roots in each))), dtype=np.intp)
        middle = np.array([0.5 * (low + high) for low, high in ranges])
        half = np.array([0.5 * (high - low) for low, high in ranges])
        return JointBoxes(
            number.reshape(count, len(each)),
            np.tile(middle, (count, 1)),
            np.tile(half, (count, 1)),
        )

    def bound(self, boxes: JointBoxes, parents_db: FloatArray, gap_db: float) -> Bounded:
        """Bounds of boxes, trying the settings where the lowest are smallest.

        parents_db: (n,) bounds of the boxes that they were cut from, which hold for them too
        """
        found = self.frame.bound(boxes, parents_db, self.best_db - gap_db)
        if len(found.boxes):
            few = np.argsort(found.lower_db, kind="stable")[:_TRIED]
            settings, flipped = self._settings(_pick(found, few))
            self.offer(polished(self.question, settings, flipped, rounds=0))
        return found

    def _settings(self, at: Bounded) -> tuple[FloatArray, BoolArray]:
        """(n, members, 5) and (n, members): where the boxes' bounds are smallest."""
        frame, count = self.frame, len(at.boxes)
        settings = np.tile(self.settings, (count, 1, 1))
        flipped = np.tile(self.flipped, (count, 1))
        for place, one in enumerate(self.moving):
            own = at.lowest_at[frame.first[place] : frame.first[place + 1]]
            placement = frame.pools[place].placements(at.boxes.number[:, place], own.T)
            settings[:, one] = _of(frame.pools[place], placement)
            flipped[:, one] = placement.flipped
        for place, one in enumerate(self.gains):
            by = at.lowest_at[frame.first[-1] + place] * at.boxes.half_gain[:, place]
            settings[:, one, GAIN] = at.boxes.gain[:, place] + by
        return settings, flipped

    def offer(self, tried: Polished) -> None:
        """Take the best of them that keeps every limit, where it is better."""
        good = (tried.over_db <= LIMIT_SLACK_DB) & (tried.objective_db < self.best_db)
        index = np.flatnonzero(good)
        index = index[np.argsort(tried.objective_db[index], kind="stable")]
        for one in index.tolist():
            here = slice(one, one + 1)
            if allowed(self.question, tried.settings[here], tried.flipped[here])[0]:
                self.best_db = float(tried.objective_db[one])
                self.settings, self.flipped = tried.settings[one], tried.flipped[one]
                return

    def polish(self, at: Bounded) -> None:
        """Follow the lowest boxes to where they lead; look at more rows where few tell little."""
        settings, flipped = self._settings(at)
        tried = polished(self.question, settings, flipped, reach=0.3)
        self.offer(tried)
        telling = polished(self.question, settings, flipped, rounds=0)
        few = self.frame.question
        short = telling.objective_db - hear(few, telling.settings, telling.flipped).objective_db
        if (short[np.isfinite(short)] > _MORE_ROWS_DB).any():
            more = np.union1d(self.rows, _extreme_rows(self.question, telling))
            if len(more) > len(self.rows):
                self.rows = more
                self.frame = self._framed(self.frame.pools)

    def cut(self, at: Bounded) -> tuple[JointBoxes, FloatArray]:
        """Each box in two, across the direction that leads rows furthest apart; its bound (n,)."""
        frame, boxes = self.frame, at.boxes
        along = np.argmax(at.across, axis=1)
        parts, bounds = [], []
        for direction, (place, column) in enumerate(frame.directions):
            mine = boxes.pick(along == direction)
            lower = at.lower_db[along == direction]
            if len(mine) == 0:
                continue
            if place < 0:
                half = mine.half_gain.copy()
                half[:, column] *= 0.5
                for sign in (-1.0, 1.0):
                    gain = mine.gain.copy()
                    gain[:, column] += sign * half[:, column]
                    parts.append(JointBoxes(mine.number, gain, half))
                    bounds.append(lower)
                continue
            children = frame.pools[place].children(mine.number[:, place], column)
            again = np.repeat(np.arange(len(mine)), [len(own) for own in children])
            pieces = mine.pick(again)
            pieces.number[:, place] = np.concatenate(children)
            parts.append(pieces)
            bounds.append(lower[again])
        return all_of(parts), np.concatenate(bounds)

    def found(self, least_db: float, *, proven: bool, bounded: int) -> JointFound:
        gap = max(0.0, self.best_db - least_db) if proven or bounded else np.inf
        return JointFound(self.settings, self.flipped, self.best_db, gap, proven, bounded)


def _of(pool: Pool, placements: Placements) -> FloatArray:
    """(n, 5) settings of placements, without gain."""
    tilt = placements.tilt_deg
    drop = np.where(
        placements.flipped, pool.problem.drop_m(tilt, True), pool.problem.drop_m(tilt, False)
    )
    columns = [tilt, placements.height_m - drop, placements.x_m, placements.splay_deg, np.zeros(1)]
    return np.stack([np.broadcast_to(column, tilt.shape) for column in columns], axis=1)


def _rows(question: JointProblem, start: Polished) -> IntArray:
    """The rows that bounds look at: the extreme ones of the starts, and some of all."""
    seating = question.rows.seating
    ends = np.flatnonzero(np.diff(seating))
    last = len(seating) - 1
    step = max(1, round(len(seating) / _EVERY_NTH))
    spread = np.concatenate([np.arange(0, len(seating), step), ends, ends + 1, [0, last]])
    return np.unique(np.concatenate([spread, _extreme_rows(question, start)]))


def _extreme_rows(question: JointProblem, at: Polished) -> IntArray:
    """Rows that are loudest or softest at these settings, or where a ceiling binds."""
    heard = hear(question, at.settings, at.flipped)
    channels = question.channels(heard.levels)
    channels = channels[np.isfinite(at.objective_db)]
    rows = []
    for sign in (1.0, -1.0):
        order = np.argsort(-sign * channels, axis=-1)[..., :_EXTREMES]
        value = np.take_along_axis(sign * channels, order, axis=-1)
        rows.append(order[value >= value[..., :1] - _ROWS_APART_DB])
    for excess in excesses_db(question, heard.alone, heard.is_open):
        row = np.argmax(excess, axis=1)
        rows.append(row[np.take_along_axis(excess, row[:, np.newaxis], axis=1)[:, 0] > -1.0])
    return np.unique(np.concatenate(rows))

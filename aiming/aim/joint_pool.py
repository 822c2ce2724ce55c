"""Boxes of placements of one loudspeaker among several, each enclosed once.

A box of the joint search is a choice of one such box per loudspeaker and an interval for each gain.
Many of them share the same boxes of placements, whose enclosures cost the most.
"""

from dataclasses import replace

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..field.diffraction import GRAZING_DB
from ..speaker.speaker import Placements
from .bounding import limits_over, possible_boxes
from .boxes import COLUMN_OF, GENERATORS, Boxes, joined
from .cutting import _split_weight, _tilts_instead, _too_near, roots
from .enclosure import Enclosure, enclose, view_of, view_under
from .joint_problem import Member
from .pose import Pose, pose, settle
from .problem import Problem

_LIMITS = 3
_NEVER = -1e3


class Pool:
    """Boxes of placements of one member; each has a number that stays.

    Arrays by box: const, play (boxes, bands, rows): the middle of the enclosure and half its width;
    gen (boxes, unknowns, bands, rows); is_open (boxes, rows): surely not hidden by an edge;
    weight (boxes, unknowns): how much each half-width turns the view; limit (boxes, 3) and
    limit_gen (boxes, 3, unknowns); possible (boxes,).
    The unknowns are those of boxes.py that this member has.
    """

    def __init__(self, member: Member) -> None:
        self.member = member
        self.problem: Problem = replace(member.problem, objective="worst band")
        self.boxes: Boxes | None = None
        self._number: dict[bytes, int] = {}
        self._children: dict[tuple[int, int], IntArray] = {}
        self.unknowns = _unknowns(self.problem)
        self.columns = sorted({COLUMN_OF[k] for k in self.unknowns if k in COLUMN_OF})
        self._arrays: dict[str, FloatArray] = {}
        self._size = 0

    def __len__(self) -> int:
        return self._size

    def array(self, name: str) -> FloatArray:
        """(boxes, …) of every box so far."""
        return self._arrays[name][: self._size]

    def roots(self) -> IntArray:
        """Numbers of the boxes that together hold every allowed placement."""
        boxes = roots(self.problem)
        return np.zeros(0, dtype=np.intp) if boxes is None else self.add(boxes)

    def take_over(self, earlier: "Pool") -> None:
        """The same boxes under the same numbers, seen at other rows."""
        if earlier.boxes is not None:
            self.add(earlier.boxes)
        self._children = earlier._children

    def add(self, boxes: Boxes) -> IntArray:
        """The numbers of these boxes, each enclosed if it is new."""
        table = np.column_stack([boxes.centre, boxes.half, boxes.piece, boxes.flipped])
        table = np.ascontiguousarray(table, dtype=np.float64)
        numbers = np.empty(len(boxes), dtype=np.intp)
        new: list[int] = []
        for place in range(len(table)):
            key = table[place].tobytes()
            number = self._number.get(key)
            if number is None:
                number = self._size + len(new)
                self._number[key] = number
                new.append(place)
            numbers[place] = number
        if new:
            self._enclose(boxes.pick(np.array(new)))
        return numbers

    def children(self, numbers: IntArray, column: int) -> list[IntArray]:
        """For each box its parts, cut across one column."""
        wanted = [n for n in dict.fromkeys(numbers.tolist()) if (n, column) not in self._children]
        if wanted:
            assert self.boxes is not None
            boxes = self.boxes.pick(np.array(wanted))
            near = np.zeros(len(wanted), dtype=bool)
            aimed = np.flatnonzero(boxes.piece >= 0)
            if len(aimed):
                some = boxes.pick(aimed)
                near[aimed] = _too_near(self.problem, some, settle(self.problem, some)[1])
            parts = []
            for place in range(len(wanted)):
                one = boxes.pick(np.array([place]))
                parts.append(
                    _tilts_instead(self.problem, one) if near[place] else _halved(one, column)
                )
            numbered = self.add(joined(parts))
            ends = np.cumsum([len(part) for part in parts])
            for n, own in zip(wanted, np.split(numbered, ends[:-1]), strict=True):
                self._children[(n, column)] = own
        return [self._children[(n, column)] for n in numbers.tolist()]

    def placements(self, numbers: IntArray, at: FloatArray) -> Placements:
        """Placements in these boxes at at (n, unknowns) in [−1, 1]."""
        assert self.boxes is not None
        boxes = self.boxes.pick(numbers)
        centre = boxes.centre.copy()
        for place, k in enumerate(self.unknowns):
            if k in COLUMN_OF:
                column = COLUMN_OF[k]
                centre[:, column] += boxes.half[:, column] * at[:, place]
        spots = replace(boxes, centre=centre)
        tilt, height = np.empty(len(spots)), np.empty(len(spots))
        for kind in (spots.piece < 0, spots.piece >= 0):
            if kind.any():
                tilt[kind], height[kind] = settle(self.problem, spots.pick(kind))
        splay = centre[:, 3] if self.problem.under is not None else np.zeros(len(spots))
        return Placements.of(centre[:, 2], height, np.degrees(tilt), spots.flipped, splay)

    def _enclose(self, boxes: Boxes) -> None:
        """Append boxes with all that is known of them."""
        order = [np.flatnonzero(boxes.piece < 0), np.flatnonzero(boxes.piece >= 0)]
        count, start = len(boxes), self._size
        self.boxes = boxes if self.boxes is None else joined([self.boxes, boxes])
        rows, bands = len(self.problem.rows), len(self.problem.pattern.band_hz)
        size = len(self.unknowns)
        self._room("const", start + count, bands, rows)
        self._room("play", start + count, bands, rows)
        self._room("gen", start + count, size, bands, rows)
        self._room("is_open", start + count, rows)
        self._room("weight", start + count, 4)
        self._room("limit", start + count, _LIMITS)
        self._room("limit_gen", start + count, _LIMITS, size)
        self._room("possible", start + count)
        self._size = start + count
        for kind in order:
            if len(kind):
                self._enclose_kind(boxes.pick(kind), start + kind)

    def _enclose_kind(self, boxes: Boxes, at: IntArray) -> None:
        problem = self.problem
        there = pose(problem, boxes)
        possible = possible_boxes(problem, boxes, there)
        enclosure = enclose(problem, boxes, there)
        known = ~np.isnan(enclosure.low).any(axis=(1, 2))
        self._arrays["possible"][at] = possible & known
        half = 0.5 * (enclosure.high - enclosure.low)
        self._arrays["const"][at] = enclosure.const + enclosure.low + half
        self._arrays["const"][at] += self.member.output_db[:, np.newaxis]
        self._arrays["play"][at] = half
        gen = np.zeros((len(boxes), len(self.unknowns), *half.shape[1:]))
        for place, k in enumerate(enclosure.active):
            gen[:, self.unknowns.index(k)] = enclosure.gen[place]
        self._arrays["gen"][at] = gen
        self._arrays["is_open"][at] = _surely_open(problem, boxes, there, enclosure)
        height = settle(problem, boxes)[1]
        weight = _split_weight(problem, boxes, height)
        self._arrays["weight"][at] = 0.0
        self._arrays["weight"][at, : weight.shape[1]] = weight
        limits = limits_over(problem, boxes, there, self.unknowns)
        self._arrays["limit"][at] = _NEVER
        self._arrays["limit_gen"][at] = 0.0
        if limits is not None:
            for place, (const, by) in enumerate(zip(limits.const, limits.gen, strict=True)):
                self._arrays["limit"][at, place] = const
                self._arrays["limit_gen"][at, place] = by.T

    def _room(self, name: str, count: int, *shape: int) -> None:
        """An array of this name with room for so many boxes."""
        held = self._arrays.get(name)
        if held is None:
            self._arrays[name] = np.zeros((max(64, count), *shape))
        elif len(held) < count:
            larger = np.zeros((2 * count, *shape))
            larger[: self._size] = held[: self._size]
            self._arrays[name] = larger


def _unknowns(problem: Problem) -> list[int]:
    """Which of the unknowns of boxes.py can appear at all."""
    hang = problem.hang
    found = {0, 3}
    if hang.vertical_m[0] < hang.vertical_m[1]:
        found.add(1)
    if hang.x_m[0] < hang.x_m[1]:
        found.add(2)
    if problem.from_trim:
        found |= {1, 4}
    if problem.splay_deg[0] < problem.splay_deg[1]:
        found.add(5)
    return [k for k in range(GENERATORS) if k in found]


def _surely_open(problem: Problem, boxes: Boxes, at: Pose, enclosure: Enclosure) -> BoolArray:
    """(b, rows) where no edge hides the row from anywhere in the box."""
    shape = (len(boxes), enclosure.const.shape[-1])
    view = view_of(boxes, at)
    views = [(problem.shadow, view)]
    if problem.under is not None:
        views.append((problem.under.shadow, view_under(problem.under, boxes, view)))
    is_open = np.zeros(shape, dtype=bool)
    for shadow, seen in views:
        if shadow is None:
            return np.ones(shape, dtype=bool)
        x, z = seen.play_m()
        _, most = shadow.bounds_db((seen.x - x, seen.x + x), (seen.height - z, seen.height + z))
        is_open |= most.max(axis=1) < GRAZING_DB
    return is_open


def _halved(boxes: Boxes, column: int) -> Boxes:
    """Each box cut in two across one column."""
    half = boxes.half.copy()
    half[:, column] *= 0.5
    step = np.zeros_like(half)
    step[:, column] = half[:, column]
    return Boxes(
        np.concatenate([boxes.centre - step, boxes.centre + step]),
        np.concatenate([half, half]),
        np.concatenate([boxes.piece] * 2),
        np.concatenate([boxes.flipped] * 2),
    )

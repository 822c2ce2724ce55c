"""Bounds from below for several loudspeakers together, over boxes of placements and gains.

Each one's level is affine in its unknowns but for what its enclosure leaves over (enclosure.py); a
gain enters as one more unknown with slope 1.  The sum of powers is convex in the levels: the plane
that touches it at the middle, whose slopes are each one's share of the power, is never above it,
and what the sum rises over the plane is largest at a corner of the levels' ranges.  The rest is as
for one loudspeaker: cuts over the rows (cuts.py), with ceilings and the least level as limits.  Any
subset of the rows gives a bound for all of them, so few rows are looked at.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..field.levels import power_sum_db
from .boxes import COLUMN_OF
from .cuts import Limits, lower_bounds
from .enclosure import Enclosure
from .interior import Minimum, minimum
from .joint_pool import Pool
from .joint_problem import LIMIT_SLACK_DB, JointProblem

_C = 10.0 / np.log(10.0)
_ACCURACY = 1e-3
_STEPS = 10
_BOX_PRICE = 0.5
_PRICE = 50.0
"""The most that 1 dB over a limit may count for in a bound, in dB of the objective."""


@dataclass(frozen=True, eq=False)
class JointBoxes:
    """(n,) boxes: number (n, moving) of each one's box in its pool; gain, half_gain (n, gains)."""

    number: IntArray
    gain: FloatArray
    half_gain: FloatArray

    def __len__(self) -> int:
        return len(self.number)

    def pick(self, which: IntArray | BoolArray) -> "JointBoxes":
        """These of them."""
        return JointBoxes(self.number[which], self.gain[which], self.half_gain[which])


def all_of(parts: list[JointBoxes]) -> JointBoxes:
    """All boxes of several sets."""
    return JointBoxes(
        np.concatenate([part.number for part in parts]),
        np.concatenate([part.gain for part in parts]),
        np.concatenate([part.half_gain for part in parts]),
    )


@dataclass(frozen=True, eq=False)
class Bounded:
    """boxes: those that may hold an allowed setting; lower_db (n,); lowest_at (unknowns, n).

    across: (n, directions) how much would be gained by cutting each, as Frame.directions lists them
    """

    boxes: JointBoxes
    lower_db: FloatArray
    lowest_at: FloatArray
    across: FloatArray


class Frame:
    """What all boxes of one search share: who moves, which gains are open, at which rows.

    directions: (moving member, column of its boxes) or (−1, gain) for each way to cut a box
    """

    def __init__(
        self,
        question: JointProblem,
        pools: list[Pool],
        moving: list[int],
        gains: list[int],
        held: dict[int, tuple[FloatArray, BoolArray]],
    ) -> None:
        """question: about the rows looked at; held: levels (bands, rows), open rows of others."""
        self.question, self.pools, self.moving, self.gains, self.held = (
            question,
            pools,
            moving,
            gains,
            held,
        )
        self.unknowns = sum(len(pool.unknowns) for pool in pools) + len(gains)
        self.first: list[int] = np.cumsum([0, *(len(pool.unknowns) for pool in pools)]).tolist()
        self.directions = [
            (place, column) for place, pool in enumerate(pools) for column in pool.columns
        ] + [(-1, gain) for gain in range(len(gains))]
        self.given = [one for one in held if one not in gains]

    def bound(self, boxes: JointBoxes, parents_db: FloatArray, enough_db: float) -> Bounded:
        """Bounds of boxes that may hold an allowed setting; none is below its parent's (n,)."""
        possible = np.ones(len(boxes), dtype=bool)
        for place, pool in enumerate(self.pools):
            possible &= pool.array("possible")[boxes.number[:, place]] > 0.0
        boxes, parents_db = boxes.pick(possible), parents_db[possible]
        if len(boxes) == 0:
            none = np.zeros(0)
            return Bounded(
                boxes, none, np.zeros((self.unknowns, 0)), np.zeros((0, len(self.directions)))
            )
        heard = _Heard(self, boxes)
        limits, broken = heard.limits()
        if broken.any():
            return self.bound(boxes.pick(~broken), parents_db[~broken], enough_db)
        enclosure = heard.enclosure()
        found = lower_bounds(
            enclosure,
            objective=self.question.objective,
            row_share=self.question.row_share,
            limits=limits,
            enough_db=enough_db,
        )
        lower, lowest_at = found.lower_db, found.lowest_at
        left = np.flatnonzero(lower < enough_db)
        if self.question.objective != "deviation" and len(left):
            lower = lower.copy()
            closer, lowest_at[:, left] = least_spread(
                enclosure.pick(left), None if limits is None else limits.pick(left)
            )
            lower[left] = np.maximum(lower[left], closer)
        return Bounded(boxes, np.maximum(lower, parents_db), lowest_at, heard.across(enclosure))


def least_spread(enclosure: Enclosure, limits: Limits | None) -> tuple[FloatArray, FloatArray]:
    """(n,) no spread in a box is smaller; (unknowns, n) where in the box it is about that.

    The least w with every row of a channel between its u and l, and u − l ≤ w, is a linear
    programme.  Whatever prices it is left with, scaled so that those of the upper and of the lower
    rows add up to 1 in the same shares of the channels, make a cut as in cuts.py: so the number is
    a bound however well the programme was solved.
    """
    under, over = enclosure.const + enclosure.low, enclosure.const + enclosure.high
    count, channels, rows = under.shape
    unknowns = len(enclosure.gen)
    gen = np.moveaxis(enclosure.gen, 0, -1)
    middle = 0.5 * (under.max(axis=-1) + over.min(axis=-1))[..., np.newaxis]
    under, over = under - middle, over - middle
    extra = 0 if limits is None else len(limits.const)
    per = 2 * channels * rows
    normal = np.zeros((count, per + channels + extra + 1, unknowns + 2 * channels + 2))
    bound = np.zeros(normal.shape[:2])
    for channel in range(channels):
        loud = slice(channel * rows, (channel + 1) * rows)
        soft = slice((channels + channel) * rows, (channels + channel + 1) * rows)
        u, low = unknowns + channel, unknowns + channels + channel
        normal[:, loud, :unknowns], normal[:, loud, u] = gen[:, channel], -1.0
        bound[:, loud] = -under[:, channel]
        normal[:, soft, :unknowns], normal[:, soft, low] = -gen[:, channel], 1.0
        bound[:, soft] = over[:, channel]
        normal[:, per + channel, u] = 1.0
        normal[:, per + channel, low] = normal[:, per + channel, -2] = -1.0
    if limits is not None:
        own = slice(per + channels, per + channels + extra)
        normal[:, own, :unknowns] = limits.gen.transpose(2, 0, 1)
        normal[:, own, -1] = -1.0
        bound[:, own] = -limits.const.T
    normal[:, -1, -1] = -1.0
    slope = np.zeros((count, normal.shape[2]))
    slope[:, -2], slope[:, -1] = 1.0, _PRICE
    box = np.ones((count, unknowns))
    x = np.zeros_like(slope)
    x[:, unknowns : unknowns + channels] = under.max(axis=2) + 1.0
    x[:, unknowns + channels : unknowns + 2 * channels] = over.min(axis=2) - 1.0
    x[:, -2] = (under.max(axis=2) - over.min(axis=2)).max(axis=1) + 3.0
    price = np.full_like(bound, 1.0 / (channels * rows))
    price[:, per : per + channels] = 1.0 / channels
    x[:, -1], price[:, -1] = 1.0, _PRICE
    if limits is not None:
        x[:, -1] += np.maximum(limits.const.max(axis=0), 0.0)
        price[:, per + channels :] = _PRICE / (2.0 * extra)
        price[:, -1] = 0.5 * _PRICE
    start = Minimum(x, price, _BOX_PRICE)
    found = minimum(
        None, slope, normal, bound, -box, box, start=start, accuracy=_ACCURACY, steps=_STEPS
    )
    loud_price = found.price[:, : per // 2].reshape(count, channels, rows)
    soft_price = found.price[:, per // 2 : per].reshape(count, channels, rows)
    share = loud_price.sum(axis=2) + soft_price.sum(axis=2)
    share = (share / share.sum(axis=1, keepdims=True))[..., np.newaxis]
    loud = share * loud_price / loud_price.sum(axis=2, keepdims=True)
    soft = share * soft_price / soft_price.sum(axis=2, keepdims=True)
    const = (loud * under - soft * over).sum(axis=(1, 2))
    cut = np.einsum("ncr,ncrk->nk", loud - soft, gen)
    if limits is not None:
        price = found.price[:, per + channels : per + channels + extra]
        const += (price * limits.const.T).sum(axis=1)
        cut += np.einsum("nl,lkn->nk", price, limits.gen)
    lower = const - np.abs(cut).sum(axis=1)
    return lower, np.clip(found.x[:, :unknowns], -1.0, 1.0).T


class _Heard:
    """Some boxes as they are heard at the frame's rows."""

    def __init__(self, frame: Frame, boxes: JointBoxes) -> None:
        self.frame, self.boxes = frame, boxes
        count = len(boxes)
        self.middle: dict[int, FloatArray] = {}
        self.play: dict[int, FloatArray] = {}
        self.gen: dict[int, FloatArray] = {}
        self.width: dict[int, FloatArray] = {}
        for place, one in enumerate(frame.moving):
            pool, number = frame.pools[place], boxes.number[:, place]
            self.middle[one] = pool.array("const")[number]
            self.play[one] = pool.array("play")[number]
            self.gen[one] = pool.array("gen")[number]
            self.width[one] = self.play[one] + np.abs(self.gen[one]).sum(axis=1)
        for one, (levels, _) in frame.held.items():
            self.middle[one] = np.broadcast_to(levels, (count, *levels.shape))
        for place, one in enumerate(frame.gains):
            self.middle[one] = self.middle[one] + boxes.gain[:, place, np.newaxis, np.newaxis]
            half = boxes.half_gain[:, place, np.newaxis, np.newaxis]
            self.width[one] = self.width[one] + half if one in self.width else half
        self._sum()

    def _sum(self) -> None:
        """The tangent plane of the sum and what it rises over it."""
        frame = self.frame
        parts = [self.middle[one] for one in self.width]
        if frame.given:
            given = np.stack([self.middle[one][:1] for one in frame.given])
            parts.append(np.broadcast_to(power_sum_db(given), parts[0].shape))
        whole = np.stack(np.broadcast_arrays(*parts))
        self.level = power_sum_db(whole)
        share = np.exp((whole - self.level) / _C)
        self.share = dict(zip(self.width, share, strict=False))
        rest = share[-1] if frame.given else 0.0
        up, down, turn = [], [], []
        for one, width in self.width.items():
            factor = np.exp(width / _C)
            up.append(self.share[one] * factor)
            down.append(self.share[one] / factor)
            turn.append(self.share[one] * width)
        bend = np.zeros_like(self.level)
        for signs in product((True, False), repeat=len(up)):
            power, plane = rest, 0.0
            for place, high in enumerate(signs):
                power = power + (up[place] if high else down[place])
                plane = plane + (turn[place] if high else -turn[place])
            np.maximum(bend, _C * np.log(power) - plane, out=bend)
        self.bend = bend
        self.left = sum(
            (self.share[one] * play for one, play in self.play.items()), np.zeros_like(self.level)
        )

    def _channels(self, values: FloatArray) -> FloatArray:
        """(…, bands, rows) as the objective looks at them."""
        return self.frame.question.channels(values)

    def enclosure(self) -> Enclosure:
        """Of the sum, in the objective's channels."""
        frame = self.frame
        middle = self._channels(self.level)
        gen = np.zeros((frame.unknowns, *middle.shape))
        for place, one in enumerate(frame.moving):
            own = slice(frame.first[place], frame.first[place + 1])
            if frame.question.objective == "spread":
                mean = np.einsum("nbr,nkbr->knr", self.share[one], self.gen[one])
                gen[own, :, 0] = mean / self.level.shape[1]
            else:
                gen[own] = np.moveaxis(self.share[one][:, np.newaxis] * self.gen[one], 1, 0)
        for place, one in enumerate(frame.gains):
            half = self.boxes.half_gain[:, place, np.newaxis, np.newaxis]
            gen[frame.first[-1] + place] = self._channels(self.share[one]) * half
        return Enclosure(
            const=middle,
            gen=gen,
            low=-self._channels(self.left),
            high=self._channels(self.left + self.bend),
            active=list(range(frame.unknowns)),
        )

    def limits(self) -> tuple[Limits | None, BoolArray]:
        """Limits to cut with, and (n,) where one is surely broken all over the box."""
        frame, count = self.frame, len(self.boxes)
        const: list[FloatArray] = []
        gen: list[FloatArray] = []
        broken = np.zeros(count, dtype=bool)
        for place, pool in enumerate(frame.pools):
            number = self.boxes.number[:, place]
            value, by = pool.array("limit")[number], pool.array("limit_gen")[number]
            broken |= (value - np.abs(by).sum(axis=2) > 0.0).any(axis=1)
            for k in range(value.shape[1]):
                if (value[:, k] + np.abs(by[:, k]).sum(axis=1) > 0.0).any():
                    whole = np.zeros((frame.unknowns, count))
                    whole[frame.first[place] : frame.first[place + 1]] = by[:, k].T
                    const.append(value[:, k])
                    gen.append(whole)
        for fill, main, ceiling in frame.question.fills:
            value, by = self._apart(fill, main)
            value = np.where(self._open(main), value - ceiling - LIMIT_SLACK_DB, -np.inf)
            broken |= self._limit(value, by, const, gen)
        softest = frame.question.softest_db
        if softest is not None:
            value = softest - LIMIT_SLACK_DB - (self.level + self.left + self.bend).mean(axis=1)
            by = np.zeros((frame.unknowns, count, value.shape[1]))
            for place, one in enumerate(frame.moving):
                own = slice(frame.first[place], frame.first[place + 1])
                by[own] = -np.einsum("nbr,nkbr->knr", self.share[one], self.gen[one])
                by[own] /= self.level.shape[1]
            for place, one in enumerate(frame.gains):
                half = self.boxes.half_gain[:, place, np.newaxis]
                by[frame.first[-1] + place] = -self.share[one].mean(axis=1) * half
            broken |= self._limit(value, by, const, gen)
        if not const:
            return None, broken
        return Limits(const=np.stack(const), gen=np.stack(gen)), broken

    def _apart(self, fill: int, main: int) -> tuple[FloatArray, FloatArray]:
        """(n, rows) and (unknowns, n, rows): design level of one less another's, from below."""
        frame = self.frame
        value = self.middle[fill].mean(axis=1) - self.middle[main].mean(axis=1)
        by = np.zeros((frame.unknowns, *value.shape))
        for sign, one in ((1.0, fill), (-1.0, main)):
            if one in frame.moving:
                place = frame.moving.index(one)
                value = value - self.play[one].mean(axis=1)
                own = slice(frame.first[place], frame.first[place + 1])
                by[own] = sign * self.gen[one].mean(axis=2).transpose(1, 0, 2)
            if one in frame.gains:
                place = frame.gains.index(one)
                by[frame.first[-1] + place] = sign * self.boxes.half_gain[:, place, np.newaxis]
        return value, by

    def _open(self, one: int) -> BoolArray:
        """(n, rows) where no edge hides it, anywhere in the box."""
        frame = self.frame
        if one in frame.moving:
            place = frame.moving.index(one)
            return frame.pools[place].array("is_open")[self.boxes.number[:, place]] > 0.0
        return np.broadcast_to(frame.held[one][1], (len(self.boxes), len(frame.held[one][1])))

    def _limit(
        self, value: FloatArray, by: FloatArray, const: list[FloatArray], gen: list[FloatArray]
    ) -> BoolArray:
        """Keep the rows that bind most; (n,) where some row is surely over."""
        play = np.abs(by).sum(axis=0)
        surely = value - play
        boxes = np.arange(len(value))
        for rank in (value, surely):
            row = np.argmax(rank, axis=1)
            at = value[boxes, row]
            usable = np.isfinite(at)
            const.append(np.where(usable, at, -1e3))
            gen.append(np.where(usable, by[:, boxes, row], 0.0))
        return np.asarray((surely > 0.0).any(axis=1))

    def across(self, enclosure: Enclosure) -> FloatArray:
        """(n, directions) how far apart rows are led by each direction a box can be cut in.

        What the enclosures leave over goes to the directions that it comes from.
        """
        frame, boxes = self.frame, self.boxes
        led = np.ptp(enclosure.gen.mean(axis=2), axis=-1)
        bend = self.bend.mean(axis=(1, 2))
        width = sum(
            (np.broadcast_to(w, self.level.shape).mean(axis=(1, 2)) for w in self.width.values()),
            np.zeros(len(boxes)),
        )
        per_width = bend / np.maximum(width, 1e-12)
        found = np.zeros((len(boxes), len(frame.directions)))
        for at, (place, column) in enumerate(frame.directions):
            if place < 0:
                found[:, at] = (
                    led[frame.first[-1] + column] + per_width * boxes.half_gain[:, column]
                )
                continue
            one, pool = frame.moving[place], frame.pools[place]
            weight = pool.array("weight")[boxes.number[:, place]]
            own = weight[:, column] / np.maximum(weight.sum(axis=1), 1e-12)
            left = 2.0 * (self.share[one] * self.play[one]).mean(axis=1).max(axis=-1)
            mean = np.abs(self.gen[one]).mean(axis=(2, 3))
            spare = per_width * self.play[one].mean(axis=(1, 2))
            for index, k in enumerate(pool.unknowns):
                if COLUMN_OF.get(k) == column:
                    found[:, at] += led[frame.first[place] + index] + per_width * mean[:, index]
                elif k not in COLUMN_OF:
                    left = left + led[frame.first[place] + index]
                    spare = spare + per_width * mean[:, index]
            found[:, at] += own * (left + spare)
        return found

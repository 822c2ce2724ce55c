"""Lower bounds of an objective over a box, from affine enclosures of the levels.

Every objective here is a seminorm of the levels: f(L) = max over y of y·L, with y out of a convex
set (spread: +1 on one row, −1 on another).  So each y gives a bound that is affine in t,

    f ≥ y·const + Σ (y·gen[k])·t[k] + Σ y⁺·low − Σ y⁻·high,

called a cut, and so does each convex mix of cuts; over t in [−1, 1] the least value of
c + g·t is c − Σ|g|.  The best mix is looked for by exact line searches between the cut at hand and
the one that is largest where the cut at hand is smallest.  A limit (p ≤ 0 for every allowed
placement) may be added with any factor that is not negative.  However far the looking goes, the
number is a bound.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from .enclosure import Enclosure
from .problem import Objective

ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Limits:
    """Affine lower estimates of limits, each of which is ≤ 0 wherever a placement is allowed.

    const: (limits, b); gen: (limits, active, b)
    """

    const: FloatArray
    gen: FloatArray

    def pick(self, boxes: BoolArray | IntArray) -> "Limits":
        """Of these boxes only."""
        return Limits(self.const[:, boxes], self.gen[:, :, boxes])

    def and_also(self, other: "Limits") -> "Limits":
        """Both of the same boxes."""
        return Limits(
            np.concatenate([self.const, other.const]), np.concatenate([self.gen, other.gen])
        )


@dataclass(frozen=True, eq=False)
class Bound:
    """lower_db: (b,) proven; lowest_at: (active, b) where in the box the last cut is smallest."""

    lower_db: FloatArray
    lowest_at: FloatArray


def lower_bounds(
    enclosure: Enclosure,
    *,
    objective: Objective,
    row_share: FloatArray,
    limits: Limits | None,
    enough_db: float,
    displacements: int = 1,
) -> Bound:
    """Bounds of all boxes (b,); a box whose bound reaches enough_db is not worked on further.

    displacements: into how many equal groups the channels fall; the worst group's objective counts
    """
    boxes = enclosure.const.shape[0]
    active = len(enclosure.active)
    under = enclosure.const + enclosure.low
    over = enclosure.const + enclosure.high
    gen = enclosure.gen
    lower = np.full(boxes, -np.inf)
    lowest_at = np.zeros((active, boxes))
    left = np.arange(boxes)
    at = np.zeros((active, boxes))
    cut_c = np.zeros(boxes)
    cut_g = np.zeros((active, boxes))
    for turn in range(1 + ROUNDS):
        new_c, new_g = _cut(objective, row_share, under, over, gen, at, displacements)
        if turn == 0:
            cut_c, cut_g = new_c, new_g
        else:
            share = _best_share(cut_c, cut_g, new_c - cut_c, new_g - cut_g, most=1.0)
            cut_c = cut_c + share * (new_c - cut_c)
            cut_g = cut_g + share * (new_g - cut_g)
        if limits is not None:
            for limit_c, limit_g in zip(limits.const, limits.gen, strict=True):
                share = _best_share(cut_c, cut_g, limit_c, limit_g, most=np.inf)
                cut_c = cut_c + share * limit_c
                cut_g = cut_g + share * limit_g
        value = cut_c - np.abs(cut_g).sum(axis=0)
        at = -np.sign(np.where(np.abs(cut_g) > 1e-9, cut_g, 0.0))
        lower[left] = np.maximum(lower[left], value)
        lowest_at[:, left] = at
        keep = lower[left] < enough_db
        if not keep.any():
            break
        if not keep.all():
            left, at, cut_c, cut_g = left[keep], at[:, keep], cut_c[keep], cut_g[:, keep]
            under, over, gen = under[keep], over[keep], gen[:, keep]
            limits = None if limits is None else limits.pick(keep)
    return Bound(lower_db=lower, lowest_at=lowest_at)


def _cut(
    objective: Objective,
    row_share: FloatArray,
    under: FloatArray,
    over: FloatArray,
    gen: FloatArray,
    at: FloatArray,
    displacements: int,
) -> tuple[FloatArray, FloatArray]:
    """(c, g): the cut that is largest at t = at (active, b), for boxes (b, channels, rows)."""
    move = np.zeros_like(under)
    if at.any():
        for k in range(len(gen)):
            move += gen[k] * at[k][:, np.newaxis, np.newaxis]
    boxes = np.arange(len(under))
    if objective == "deviation":
        middle = 0.5 * (under + over) + move
        grouped = middle.reshape(len(middle), displacements, -1, middle.shape[-1])
        apart = grouped - (grouped * row_share).sum(axis=-1, keepdims=True)
        size = np.sqrt((row_share * apart**2).sum(axis=-1).mean(axis=-1))
        worst = np.argmax(size, axis=1)
        y = row_share * apart / np.maximum(size, 1e-12)[..., np.newaxis, np.newaxis]
        y /= grouped.shape[2]
        counts = np.zeros(size.shape)
        counts[boxes, worst] = 1.0
        y = (y * counts[..., np.newaxis, np.newaxis]).reshape(middle.shape)
        const = (np.maximum(y, 0.0) * under + np.minimum(y, 0.0) * over).sum(axis=(1, 2))
        return const, np.asarray((y * gen).sum(axis=(2, 3)))
    low, high = under + move, over + move
    if under.shape[1] == 1:
        channel = np.zeros(len(under), dtype=np.intp)
    else:
        channel = np.argmax(low.max(axis=-1) - high.min(axis=-1), axis=-1)
    loud = np.argmax(low[boxes, channel], axis=-1)
    soft = np.argmin(high[boxes, channel], axis=-1)
    const = under[boxes, channel, loud] - over[boxes, channel, soft]
    return const, gen[:, boxes, channel, loud] - gen[:, boxes, channel, soft]


def _best_share(
    c: FloatArray, g: FloatArray, step_c: FloatArray, step_g: FloatArray, *, most: float
) -> FloatArray:
    """(b,) the share in [0, most] that makes (c + share·step_c) − Σ|g + share·step_g| largest.

    Concave and piecewise linear in the share, so the largest sits at an end or where one of the
    terms in the sum passes zero.  An infinite end counts as no gain.
    """
    places = np.zeros((len(g) + 2, len(c)))
    with np.errstate(divide="ignore", invalid="ignore"):
        np.divide(-g, step_g, out=places[:-2])
    places[~np.isfinite(places)] = 0.0
    places = np.minimum(np.maximum(places, 0.0), most)
    if np.isfinite(most):
        places[-1] = most
    values = c + places * step_c
    for k in range(len(g)):
        values -= np.abs(g[k] + places * step_g[k])
    best = np.argmax(values, axis=0)
    return np.asarray(places[best, np.arange(len(c))])


# Upper bounds of an objective over a box, from affine enclosures of the levels.
#
# Every objective here is convex in the levels, so that of the affine part is largest at a corner of
# the box; what the enclosure leaves over adds to it.


def upper_bounds(
    enclosure: Enclosure, objective: Objective, row_share: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(b,) no objective in a box is larger; (b, 3) the corner where that of the affine part is.

    Infinite where a level is unknown.
    """
    boxes, active = len(enclosure.const), enclosure.active
    best = np.full(boxes, -np.inf)
    corner = np.zeros((boxes, 3))
    for signs in product((-1.0, 1.0), repeat=len(active)):
        move = np.zeros_like(enclosure.const)
        for gen, sign in zip(enclosure.gen, signs, strict=True):
            move += sign * gen
        if objective == "deviation":
            middle = enclosure.const + move + 0.5 * (enclosure.low + enclosure.high)
            apart = middle - (middle * row_share).sum(axis=-1, keepdims=True)
            off = 0.5 * (enclosure.high - enclosure.low)
            value = _size(apart, row_share) + _size(off, row_share)
        else:
            loud = (enclosure.const + move + enclosure.high).max(axis=-1)
            soft = (enclosure.const + move + enclosure.low).min(axis=-1)
            value = (loud - soft).max(axis=-1)
        value = np.where(np.isnan(value), np.inf, value)
        here = np.zeros(3)
        for k, sign in zip(active, signs, strict=True):
            if k < 3:
                here[k] = sign
        corner[value > best] = here
        best = np.maximum(best, value)
    return best, corner


def _size(levels: FloatArray, row_share: FloatArray) -> FloatArray:
    """(b,) root of the weighted mean square over rows, mean over channels."""
    return np.asarray(np.sqrt((row_share * levels**2).sum(axis=-1).mean(axis=-1)))

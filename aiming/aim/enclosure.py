"""Affine enclosures of every row's level over boxes of placements.

With t in [−1, 1] for each unknown of a box (boxes.py), every row and channel obeys

    const + Σ gen[k]·t[k] + low  ≤  L  ≤  const + Σ gen[k]·t[k] + high

Distance and angle follow the straight line of ln d (pose.py), the pattern a straight line over its
window (windows.py).  docs/how-it-computes.md writes it out.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..field.levels import NEAREST_M
from .boxes import COLUMN_OF, GENERATORS, SPLAY, Boxes, X
from .hung_pair import Shadow, Under
from .pose import Pose, left_over
from .problem import Problem
from .windows import Windows

NEPER_DB = 20.0 / np.log(10.0)
_NEAR_SHARE = 0.7
_DEG = 180.0 / np.pi


@dataclass(frozen=True, eq=False)
class Enclosure:
    """const, low, high: (b, channels, rows); gen: (active, b, channels, rows); all in dB.

    active: which of the six unknowns appear at all
    """

    const: FloatArray
    gen: FloatArray
    low: FloatArray
    high: FloatArray
    active: list[int]

    def pick(self, boxes: BoolArray | IntArray) -> "Enclosure":
        """Of these boxes only."""
        return Enclosure(
            self.const[boxes], self.gen[:, boxes], self.low[boxes], self.high[boxes], self.active
        )


@dataclass(frozen=True, eq=False)
class View:
    """Axis and place of one loudspeaker over (b,) boxes as affine forms, radians and metres.

    x, height, tilt: at the centre; x_gen, height_gen, tilt_gen: (6, b)
    reach_m: (b,) how far it may lie from its place at the centre
    rest_m: (b,) how far it may lie from its affine forms; None where they are exact
    """

    x: FloatArray
    x_gen: FloatArray
    height: FloatArray
    height_gen: FloatArray
    tilt: FloatArray
    tilt_gen: FloatArray
    flipped: BoolArray
    reach_m: FloatArray
    rest_m: FloatArray | None = None

    def play_m(self) -> tuple[FloatArray, FloatArray]:
        """(b,) how far it may lie to either side, and up or down."""
        rest = 0.0 if self.rest_m is None else self.rest_m
        return np.abs(self.x_gen).sum(axis=0) + rest, np.abs(self.height_gen).sum(axis=0) + rest

    def active(self) -> list[int]:
        """Which of the unknowns appear."""
        forms = (self.tilt_gen, self.height_gen, self.x_gen)
        return [k for k in range(GENERATORS) if any(gen[k].any() for gen in forms)]


@dataclass(frozen=True, eq=False)
class SoundSource:
    """What of a loudspeaker does not depend on where it is; channels as in the windows."""

    windows: Windows
    shadow: Shadow | None
    louder_db: FloatArray | None = None


def own_source(problem: Problem) -> SoundSource:
    """The loudspeaker that the question is about."""
    return SoundSource(problem.windows, problem.shadow)


def view_of(boxes: Boxes, at: Pose) -> View:
    """The same loudspeaker's forms."""
    x_gen = np.zeros_like(at.height_gen)
    x_gen[X] = boxes.half[:, X]
    return View(
        x=boxes.centre[:, X],
        x_gen=x_gen,
        height=at.height,
        height_gen=at.height_gen,
        tilt=at.tilt,
        tilt_gen=at.tilt_gen,
        flipped=boxes.flipped,
        reach_m=at.reach_m,
    )


def enclose_source(problem: Problem, source: SoundSource, at: View, active: list[int]) -> Enclosure:
    """One loudspeaker's affine enclosures in these unknowns."""
    dx = problem.rows.x_m - at.x[:, np.newaxis]
    dz = problem.rows.z_m - at.height[:, np.newaxis]
    r2 = np.maximum(dx * dx + dz * dz, NEAREST_M**2)
    inverse = 1.0 / r2
    r = np.sqrt(r2)
    reach = at.reach_m[:, np.newaxis]
    left = np.where(r > NEAREST_M, np.minimum(left_over(reach, r), np.pi), np.pi)
    if at.rest_m is not None:
        left = left + at.rest_m[:, np.newaxis] / r

    # Angle: elevation − tilt, signed so that a flipped box reads its own table.
    sign = np.where(at.flipped, -1.0, 1.0)[:, np.newaxis]
    by_height = -dx * inverse
    by_x = dz * inverse
    along_x = [bool(gen.any()) for gen in at.x_gen]
    gen = np.empty((len(active), *dx.shape))
    width = np.zeros(dx.shape)
    for place, k in enumerate(active):
        np.multiply(by_height, at.height_gen[k][:, np.newaxis], out=gen[place])
        if along_x[k]:
            gen[place] += by_x * at.x_gen[k][:, np.newaxis]
        gen[place] -= at.tilt_gen[k][:, np.newaxis]
        width += np.abs(gen[place])
    width = (width + left) * _DEG
    angle = (np.arctan2(dz, dx) - at.tilt[:, np.newaxis]) * _DEG
    slope, low, high = source.windows.enclose(sign * angle, np.minimum(width, 180.0))
    slope = np.moveaxis(slope, 0, 1) * (sign * _DEG)[:, np.newaxis]
    low, high = np.moveaxis(low, 0, 1), np.moveaxis(high, 0, 1)

    # Spreading and air: −K·ln r − α·r, gradient −(K/r² + α/r)·d, α the slope of the loss here;
    # elsewhere in reach the loss lies under that straight line, by no more than its sag.
    air_loss = problem.channel_air_loss
    alpha, air_at_zero = air_loss.line(r)
    sag = air_loss.sag_db(r, reach)
    pull = NEPER_DB * inverse[:, np.newaxis] + alpha / r[:, np.newaxis]
    clear = np.maximum(r - reach, NEAREST_M)
    rise = NEPER_DB * left
    fall = rise[:, np.newaxis] + alpha * (0.5 * reach**2 / clear)[:, np.newaxis]
    rise = rise[:, np.newaxis] + sag
    if at.rest_m is not None:
        air = alpha * at.rest_m[:, np.newaxis, np.newaxis]
        fall, rise = fall + air, rise + air
    near = (reach > _NEAR_SHARE * r) | (r <= NEAREST_M)
    if near.any():
        # No straight line, only how near and how far the row may be.
        near, air = near[:, np.newaxis], alpha * reach[:, np.newaxis]
        pull = np.where(near, 0.0, pull)
        fall = np.where(near, NEPER_DB * np.log1p(reach / r)[:, np.newaxis] + air, fall)
        rise = np.where(near, NEPER_DB * np.log(r / clear)[:, np.newaxis] + air + sag, rise)
    const = -0.5 * NEPER_DB * np.log(r2)[:, np.newaxis] - alpha * r[:, np.newaxis] - air_at_zero
    whole = np.empty((len(active), *const.shape))
    for place, k in enumerate(active):
        nearer = dz * at.height_gen[k][:, np.newaxis]
        if along_x[k]:
            nearer += dx * at.x_gen[k][:, np.newaxis]
        np.multiply(slope, gen[place][:, np.newaxis], out=whole[place])
        whole[place] += pull * nearer[:, np.newaxis]
    turn = np.abs(slope) * left[:, np.newaxis]
    low = low - turn - fall
    high = high + turn + rise
    if source.louder_db is not None:
        const = const + source.louder_db[:, np.newaxis]
    if source.shadow is not None:
        far_x, far_z = at.play_m()
        least, most = source.shadow.bounds_db(
            (at.x - far_x, at.x + far_x), (at.height - far_z, at.height + far_z)
        )
        if not problem.per_band:
            least, most = least.mean(axis=1, keepdims=True), most.mean(axis=1, keepdims=True)
        low, high = low - most, high - least
    return Enclosure(const=const, gen=whole, low=low, high=high, active=active)


# Enclosures of two loudspeakers heard together: one fixed under the other.
#
# Where the first is tilted by τ and holds the second at a splay σ, the second's axis is at τ − σ
# and its acoustic centre at c + R(τ)·j − R(τ − σ)·o (j and o the joint in either's axes).
# Rotations are followed by their tangents, which leave over at most |j|·Δτ²/2 + |o|·Δ(τ − σ)²/2.
#
# The sum of powers f(A, B) = 10·lg(10^(A/10) + 10^(B/10)) is convex, and B + g(A − B) with a
# convex g.  So the plane that touches it at the middle is never above it, and what f rises over
# the plane is largest where A − B is farthest from its middle.

_C = 10.0 / np.log(10.0)


def enclose_with_under(problem: Problem, boxes: Boxes, at: Pose) -> Enclosure:
    """Both loudspeakers together; the spread's single channel is the mean of the bands."""
    under = problem.under
    assert under is not None
    above = view_of(boxes, at)
    below = view_under(under, boxes, above)
    active = sorted({*above.active(), *below.active()})
    second = SoundSource(under.windows, under.shadow, under.louder_db)
    both = _summed(
        enclose_source(problem, own_source(problem), above, active),
        enclose_source(problem, second, below, active),
    )
    if problem.objective != "spread":
        return both
    return Enclosure(
        const=both.const.mean(axis=1, keepdims=True),
        gen=both.gen.mean(axis=2, keepdims=True),
        low=both.low.mean(axis=1, keepdims=True),
        high=both.high.mean(axis=1, keepdims=True),
        active=active,
    )


def view_under(under: Under, boxes: Boxes, above: View) -> View:
    """The affine forms of the loudspeaker below from those of the one above."""
    count = len(boxes)
    if boxes.centre.shape[1] > 3:
        splay, half = (
            np.radians(boxes.centre[:, COLUMN_OF[SPLAY]]),
            np.radians(boxes.half[:, COLUMN_OF[SPLAY]]),
        )
    else:
        splay = np.full(count, np.radians(0.5 * sum(under.held.splay_deg)))
        half = np.zeros(count)
    joint = _turned(under.held.joint_m, above.tilt)
    own = -_turned(under.held.own_joint_m, above.tilt - splay)
    offset = joint + own
    # A rotation moves a point (x, z) along (−z, x).
    x_gen = above.x_gen - offset[1] * above.tilt_gen
    height_gen = above.height_gen + offset[0] * above.tilt_gen
    tilt_gen = above.tilt_gen.copy()
    x_gen[SPLAY] += own[1] * half
    height_gen[SPLAY] -= own[0] * half
    tilt_gen[SPLAY] -= half
    swing = np.abs(above.tilt_gen).sum(axis=0)
    rest = 0.5 * np.hypot(*under.held.joint_m) * swing**2
    rest += 0.5 * np.hypot(*under.held.own_joint_m) * (swing + half) ** 2
    reach = np.hypot(np.abs(x_gen).sum(axis=0), np.abs(height_gen).sum(axis=0)) + rest
    return View(
        x=above.x + offset[0],
        x_gen=x_gen,
        height=above.height + offset[1],
        height_gen=height_gen,
        tilt=above.tilt - splay,
        tilt_gen=tilt_gen,
        flipped=np.full(count, under.flipped),
        reach_m=reach,
        rest_m=rest,
    )


def _turned(point: tuple[float, float], tilt: FloatArray) -> FloatArray:
    """(2, b) x, z of a body point at tilts (b,) in radians."""
    u, w = point
    return np.stack([u * np.cos(tilt) - w * np.sin(tilt), u * np.sin(tilt) + w * np.cos(tilt)])


def _summed(one: Enclosure, other: Enclosure) -> Enclosure:
    """The enclosure of the sum of powers of two, channel by channel."""
    half_one, half_other = 0.5 * (one.high - one.low), 0.5 * (other.high - other.low)
    level_one = one.const + one.low + half_one
    level_other = other.const + other.low + half_other
    apart = level_one - level_other
    share = 1.0 / (1.0 + np.exp(-np.maximum(apart / _C, -700.0)))
    rest = 1.0 - share
    width = half_one + half_other
    gen = np.empty_like(one.gen)
    for k in range(len(gen)):
        width = width + np.abs(one.gen[k] - other.gen[k])
        gen[k] = share * one.gen[k] + rest * other.gen[k]
    here = _over(apart)
    bend = np.maximum(
        _over(apart + width) - here - share * width, _over(apart - width) - here + share * width
    )
    play = share * half_one + rest * half_other
    return Enclosure(
        const=level_other + here,
        gen=gen,
        low=-play,
        high=play + np.maximum(bend, 0.0),
        active=one.active,
    )


def _over(apart: FloatArray) -> FloatArray:
    """g: how far the sum lies over the second, the first being `apart` above it; dB."""
    return np.asarray(np.maximum(apart, 0.0) + _C * np.log1p(np.exp(-np.abs(apart) / _C)))


# The enclosures of a whole question: every displacement of a tolerance, and what hangs under.


def enclose(problem: Problem, boxes: Boxes, at: Pose) -> Enclosure:
    """The affine enclosures of all rows; low is NaN where a row is surely unknown.

    Where the objective is taken at several displacements, each has its own channels, one after the
    other: a displacement moves the centre of a box and leaves its unknowns as they are.
    """
    parts = []
    for off in problem.around:
        found_out = problem.turned_out(off.other) if off.other else problem
        centre = boxes.centre.copy()
        centre[:, X] += off.x_m
        there = replace(
            at, tilt=at.tilt + np.radians(off.tilt_deg), height=at.height + off.height_m
        )
        moved = replace(boxes, centre=centre)
        if problem.under is None:
            view = view_of(moved, there)
            parts.append(enclose_source(found_out, own_source(found_out), view, view.active()))
        else:
            parts.append(enclose_with_under(problem, moved, there))
    if len(parts) == 1:
        return parts[0]
    return Enclosure(
        const=np.concatenate([part.const for part in parts], axis=1),
        gen=np.concatenate([part.gen for part in parts], axis=2),
        low=np.concatenate([part.low for part in parts], axis=1),
        high=np.concatenate([part.high for part in parts], axis=1),
        active=parts[0].active,
    )

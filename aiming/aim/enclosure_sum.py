"""Enclosures of two loudspeakers heard together: one fixed under the other.

Where the first is tilted by τ and holds the second at a splay σ, the second's axis is at τ − σ and
its acoustic centre at c + R(τ)·j − R(τ − σ)·o (j and o the joint in either's axes).  Rotations are
followed by their tangents, which leave over at most |j|·Δτ²/2 + |o|·Δ(τ − σ)²/2.

The sum of powers f(A, B) = 10·lg(10^(A/10) + 10^(B/10)) is convex, and B + g(A − B) with a convex
g.  So the plane that touches it at the middle is never above it, and what f rises over the plane is
largest where A − B is farthest from its middle.
"""

import numpy as np

from ..arrays import FloatArray
from .boxes import SPLAY, Boxes
from .enclosure import Enclosure, Source, View, enclose_source, own_source, view_of
from .pose import Pose
from .problem import Problem
from .under import Under

_C = 10.0 / np.log(10.0)


def enclose_with_under(problem: Problem, boxes: Boxes, at: Pose) -> Enclosure:
    """Both loudspeakers together; the spread's single channel is the mean of the bands."""
    under = problem.under
    assert under is not None
    above = view_of(boxes, at)
    below = view_under(under, boxes, above)
    active = sorted({*above.active(), *below.active()})
    second = Source(under.windows, under.shadow, under.louder_db)
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
        splay, half = np.radians(boxes.centre[:, 3]), np.radians(boxes.half[:, 3])
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

"""Upper bounds of an objective over a box, from affine enclosures of the levels.

Every objective here is convex in the levels, so that of the affine part is largest at a corner of
the box; what the enclosure leaves over adds to it.
"""

from itertools import product

import numpy as np

from ..arrays import FloatArray
from .enclosure import Enclosure
from .problem import Objective


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

"""Straight ways from many sources to fixed targets, and which edges can ever stand in them.

For sources that stay within a range, an edge can only come between a source and a target T where it
meets the hull of the range and T:

     +-----+
     |range|-----.___
     +-----+----------''=· T       edges outside are never asked
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import BoolArray, FloatArray, IntArray
from ..sight import crossed_each
from ..speaker.speaker import Range
from .walls import Walls

_SLACK_M = 1e-6


@dataclass(frozen=True, eq=False)
class Rays:
    """Targets, and the pairs of target and edge that have to be looked at, by target.

    target_m: (t, 2)
    pair_target, pair_edge: (k,) indices, targets ascending
    """

    walls: Walls
    target_m: FloatArray
    pair_target: IntArray
    pair_edge: IntArray

    def __len__(self) -> int:
        return len(self.pair_edge)

    def clear(self, source_m: FloatArray) -> BoolArray:
        """(p, t) whether nothing stands between sources (p, 2) and the targets."""
        clear = np.ones((len(source_m), len(self.target_m)), dtype=np.bool_)
        if not len(self.pair_edge):
            return clear
        hit = crossed_each(
            source_m[:, np.newaxis],
            self.target_m[self.pair_target],
            self.walls.start_m[self.pair_edge],
            self.walls.end_m[self.pair_edge],
        )
        hit &= ~self.walls.touching(source_m)[:, self.pair_edge]
        target, first = np.unique(self.pair_target, return_index=True)
        clear[:, target] = ~np.logical_or.reduceat(hit, first, axis=1)
        return clear


def rays_to(
    walls: Walls,
    target_m: FloatArray,
    *,
    but_not: BoolArray,
    x_m: Range,
    height_m: Range,
) -> Rays:
    """Rays to targets (t, 2) from sources within ranges.

    but_not: (t, e) edges that hide nothing from the target, such as those that it lies on
    """
    target, edge = np.nonzero(~but_not & _can_meet(walls, target_m, x_m, height_m))
    return Rays(walls=walls, target_m=target_m, pair_target=target, pair_edge=edge)


def _can_meet(walls: Walls, target_m: FloatArray, x_m: Range, height_m: Range) -> BoolArray:
    """(t, e) whether the hull of the range and a target may meet an edge: no axis parts them."""
    start, end = walls.start_m, walls.end_m
    corner = np.array([[x, z] for x in x_m for z in height_m])
    # The range's own axes: the extents of hull and edge.
    low = np.minimum(corner.min(axis=0), target_m)[:, np.newaxis] - _SLACK_M
    high = np.maximum(corner.max(axis=0), target_m)[:, np.newaxis] + _SLACK_M
    meets = (np.maximum(start, end) >= low).all(axis=2)
    meets &= (np.minimum(start, end) <= high).all(axis=2)
    # The edge's normal: the whole hull on one side of the edge's line.
    along = end - start
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.hypot(along[:, 0], along[:, 1]), _SLACK_M)[:, np.newaxis]
    level = (start * normal).sum(axis=1)
    of_corners = corner @ normal.T - level
    of_target = target_m @ normal.T - level
    meets &= np.minimum(of_corners.min(axis=0), of_target) <= _SLACK_M
    meets &= np.maximum(of_corners.max(axis=0), of_target) >= -_SLACK_M
    # The lines from the target past the range: the hull on one side, the edge on the other.
    for one in corner:
        out = one - target_m
        turned = np.stack([-out[:, 1], out[:, 0]], axis=1)
        own = (target_m * turned).sum(axis=1)
        range_at = turned @ corner.T - own[:, np.newaxis]
        first = turned @ start.T - own[:, np.newaxis]
        second = turned @ end.T - own[:, np.newaxis]
        slack = (_SLACK_M * (1.0 + np.hypot(out[:, 0], out[:, 1])))[:, np.newaxis]
        left = range_at.min(axis=1, keepdims=True) >= -slack
        right = range_at.max(axis=1, keepdims=True) <= slack
        meets &= ~(left & (np.maximum(first, second) < -slack))
        meets &= ~(right & (np.minimum(first, second) > slack))
    return np.asarray(meets)

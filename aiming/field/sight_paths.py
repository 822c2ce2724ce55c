"""Straight ways from many sources to fixed targets, and which edges can ever stand in them.

For sources that stay within a range, an edge can only come between a source and a target T where it
meets the hull of the range and T:

     +-----+
     |range|-----.___
     +-----+----------''=· T       edges outside are never asked
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..geometry.sight_lines import crossed_each
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
    # The edge's normal, as long as the edge: the whole hull on one side of the edge's line.
    along = end - start
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
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


# How ways round corners change while the source moves within a disc.
#
# A way from S round corner E to row R changes with S as |S − E| − |S − R| does, whose gradient is
# the difference of two directions, small near grazing.  Each direction turns by at most the
# distance moved over the distance away.

_TINY_M = 1e-9


@dataclass(frozen=True, eq=False)
class Ways:
    """Ways round corners within discs, (k, v) for k pairs of disc and row.

    rate: change of the path difference per metre of moving, at the centre
    turn: how much the rate can grow per metre, 1/m
    active: whether the way can be the shortest somewhere, and make a difference to the loss
    """

    rate: FloatArray
    turn: FloatArray
    active: BoolArray

    def most_moved_m(self, radius_m: FloatArray) -> FloatArray:
        """(k,) how far the clipped path difference can move within radii (k,).

        Only a corner that can be the bend somewhere moves it.
        """
        fastest = np.max(self.rate, axis=1, where=self.active, initial=0.0)
        sharpest = np.max(self.turn, axis=1, where=self.active, initial=0.0)
        whole = radius_m * fastest + 0.5 * radius_m**2 * sharpest
        return np.asarray(np.minimum(whole, 2.0 * radius_m))


def ways_round(
    corner_m: FloatArray,
    onward_m: FloatArray,
    row_m: FloatArray,
    *,
    centre_m: FloatArray,
    radius_m: FloatArray,
    disc: IntArray,
    row: IntArray,
    middle_m: FloatArray,
    lit_m: float,
    capped_m: float,
) -> Ways:
    """Ways round corners (v, 2), and (v, rows) onward to rows, for k pairs of disc and row.

    centre_m, radius_m: (discs, 2), (discs,); disc, row: (k,) indices
    middle_m: (k,) path difference at the disc's centre
    lit_m, capped_m: the loss changes only for differences between −lit and capped
    """
    radius = radius_m[disc]
    to_row = row_m[row] - centre_m[disc]
    direct = np.maximum(np.hypot(to_row[:, 0], to_row[:, 1]), _TINY_M)
    to_corner = corner_m - centre_m[:, np.newaxis]
    reach = np.maximum(np.hypot(to_corner[..., 0], to_corner[..., 1]), _TINY_M)
    unit = (to_corner / reach[..., np.newaxis])[disc]
    cosine = unit[..., 0] * (to_row[:, :1] / direct[:, np.newaxis])
    cosine += unit[..., 1] * (to_row[:, 1:] / direct[:, np.newaxis])
    rate = np.sqrt(np.maximum(2.0 - 2.0 * cosine, 0.0))
    turn = 1.0 / np.maximum(reach - radius_m[:, np.newaxis], _TINY_M)[disc]
    turn += (1.0 / np.maximum(direct - radius, _TINY_M))[:, np.newaxis]
    r = radius[:, np.newaxis]
    change = np.minimum(r * rate + 0.5 * r**2 * turn, 2.0 * r)
    nearest = reach[disc] + onward_m.T[row] - direct[:, np.newaxis] - change
    farthest = np.minimum(np.maximum(middle_m + 2.0 * radius, lit_m), capped_m)
    return Ways(rate=rate, turn=turn, active=nearest <= farthest[:, np.newaxis])


def straight_m(walls: Walls, row_m: FloatArray) -> FloatArray:
    """(v, rows) from corner to row where they see each other, inf elsewhere."""
    return np.where(walls.sees_corner(row_m).T, distance_m(walls.corner_m, row_m), np.inf)


def halved(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Boxes (n, 2) cut in two along every axis that has an extent."""
    for axis in np.flatnonzero((high > low).any(axis=0)):
        middle = 0.5 * (low[:, axis] + high[:, axis])
        before, after = high.copy(), low.copy()
        before[:, axis] = after[:, axis] = middle
        low, high = np.vstack([low, after]), np.vstack([before, high])
    return low, high


def distance_m(from_m: FloatArray, to_m: FloatArray) -> FloatArray:
    """(p, q) between points (p, 2) and (q, 2)."""
    away = from_m[:, np.newaxis] - to_m
    return np.asarray(np.hypot(away[..., 0], away[..., 1]))


def shortest_m(first_m: FloatArray, then_m: FloatArray) -> FloatArray:
    """(p, n) shortest of first (p, v) plus then (v, n) over v; inf where there is none."""
    whole = first_m[..., np.newaxis] + then_m
    return np.asarray(whole.min(axis=1, initial=np.inf))

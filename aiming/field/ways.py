"""How ways round corners change while the source moves within a disc.

A way from S round corner E to row R changes with S as |S − E| − |S − R| does, whose gradient is the
difference of two directions, small near grazing.  Each direction turns by at most the distance
moved over the distance away.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays import BoolArray, FloatArray, IntArray
from .walls import Walls

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

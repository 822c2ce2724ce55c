"""Which rows walls hide, by how much per band, and guaranteed bounds over boxes of placements.

The path difference of a row is the shortest way to it round all walls minus the straight way; where
the row is seen, it is minus the smallest detour over any corner that both sides see.  So it passes
through zero without a jump as the row slides into the shadow.  Moving the source by d changes a
way round corner E by the difference of the directions to E and to the row, at most 2·d and much
less near grazing; integrated over a box that gives the bounds.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from ..arrays import BoolArray, FloatArray, IntArray
from ..sight import crossed, edge_distance_m
from ..speaker.speaker import Range
from .screening import capped_from_m, lit_margin_m, screening_loss_db
from .walls import JOIN_M, Walls

Kind = TypeVar("Kind", np.bool_, np.float64)
_TINY_M = 1e-9
_FINEST_CUTS = 7
_COARSE_CUTS = 3
_CHUNK = 400_000
"""Most numbers in one temporary array."""


@dataclass(frozen=True, eq=False)
class Screening:
    """Walls between placements and these rows.

    row_x_m, row_z_m: (rows,) ears
    midband_hz: (bands,) exact mid-bands
    first: the corners that a way to a row can bend round first; None for any
    """

    walls: Walls
    row_x_m: FloatArray
    row_z_m: FloatArray
    midband_hz: FloatArray
    c_m_s: float
    first: IntArray | None = None

    @cached_property
    def _near(self) -> Walls:
        """The walls with only those corners that come first."""
        return self.walls if self.first is None else self.walls.with_corners(self.first)

    @cached_property
    def _row_m(self) -> FloatArray:
        return np.stack([self.row_x_m, self.row_z_m], axis=1)

    @cached_property
    def _row_touches(self) -> BoolArray:
        """(rows, e) edges on which an ear lies, which hide nothing from it."""
        return self.walls.touching(self._row_m)

    @cached_property
    def _straight_m(self) -> FloatArray:
        """(v, rows) from first corner to row where they see each other, inf elsewhere."""
        return _straight_m(self._near, self._row_m)

    @cached_property
    def _onward_m(self) -> FloatArray:
        """(v, rows) shortest way from first corner to row, over any others."""
        last = _straight_m(self.walls, self._row_m)
        way = np.full(last.shape, np.inf)
        for between, straight in zip(self.walls.between_m.T, last, strict=True):
            np.minimum(way, between[:, np.newaxis] + straight, out=way)
        return way if self.first is None else way[self.first]

    def visible(self, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> BoolArray:
        """(…, rows) whether no wall stands between acoustic centres (…) and the rows."""
        return self._by_parts(x_m, height_m, self._visible, np.bool_)

    def path_difference_m(self, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
        """(…, rows) extra way round the walls; negative in the light, ±inf far from any edge."""
        return self._by_parts(x_m, height_m, self._difference_m, np.float64)

    def loss_db(self, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
        """(…, bands, rows) loss for acoustic centres (…)."""
        difference = self.path_difference_m(x_m, height_m)
        return screening_loss_db(difference, self.midband_hz, c_m_s=self.c_m_s)

    def bounds_db(
        self, x_m: tuple[FloatArray, FloatArray], height_m: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """(least, largest), each (boxes, bands, rows), over boxes of (low, high) (boxes,) each.

        No loss anywhere in a box lies outside.  Where a wall passes through a box the bounds are 0
        and the largest loss there is; elsewhere they close in as fast as the box shrinks.
        """
        low, high = np.stack([x_m[0], height_m[0]], axis=1), np.stack([x_m[1], height_m[1]], axis=1)
        centre, half = 0.5 * (low + high), 0.5 * (high - low)
        radius = np.hypot(half[:, 0], half[:, 1])
        least = np.empty((len(centre), len(self.row_x_m)))
        largest = np.empty_like(least)
        step = max(1, _CHUNK // max(1, self._onward_m.size))
        for start in range(0, len(centre), step):
            part = slice(start, start + step)
            least[part], largest[part] = self._difference_bounds_m(centre[part], radius[part])
        lowest = screening_loss_db(least, self.midband_hz, c_m_s=self.c_m_s)
        deepest = screening_loss_db(largest, self.midband_hz, c_m_s=self.c_m_s)
        return lowest, deepest

    def never_hides(self, x_m: Range, height_m: Range) -> bool:
        """Whether it is certain that no placement in these ranges loses anything at any row."""
        low, high = np.array([[x_m[0], height_m[0]]]), np.array([[x_m[1], height_m[1]]])
        for _ in range(_FINEST_CUTS):
            _, largest = self.bounds_db((low[:, 0], high[:, 0]), (low[:, 1], high[:, 1]))
            doubtful = largest.any(axis=(1, 2))
            if not doubtful.any():
                return True
            low, high = _halved(low[doubtful], high[doubtful])
            if self.loss_db(low[:, 0], low[:, 1]).any():
                return False
        return False

    def within(self, x_m: Range, height_m: Range) -> "Screening":
        """The same screening for placements in these ranges alone: faster, with the same losses.

        Corners that no way from there to a row can bend round first are no longer asked.
        """
        low, high = np.array([[x_m[0], height_m[0]]]), np.array([[x_m[1], height_m[1]]])
        for _ in range(_COARSE_CUTS):
            low, high = _halved(low, high)
        centre, radius = 0.5 * (low + high), 0.5 * np.hypot(*(high - low).T)
        wanted = np.zeros(len(self._near.corner_m), dtype=np.bool_)
        row = np.arange(len(self.row_x_m))
        for one in range(len(centre)):
            box = np.full(len(row), one)
            middle = self._difference_m(centre[one : one + 1])[0]
            if self._gap_m(centre[one : one + 1])[0] <= radius[one] + JOIN_M:
                middle = np.full(len(row), np.inf)
            wanted |= self._ways(centre, radius, box, row, middle).active.any(axis=0)
        first = np.arange(len(self.walls.corner_m)) if self.first is None else self.first
        return replace(self, first=first[wanted])

    def _by_parts(
        self,
        x_m: npt.ArrayLike,
        height_m: npt.ArrayLike,
        of: Callable[[FloatArray], npt.NDArray[Kind]],
        kind: type[Kind],
    ) -> npt.NDArray[Kind]:
        x, z = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(height_m, float))
        source = np.stack([x.ravel(), z.ravel()], axis=1)
        rows = len(self.row_x_m)
        result = np.empty((len(source), rows), dtype=kind)
        cost = rows * max(len(self.walls.start_m), len(self.walls.corner_m), 1)
        step = max(1, _CHUNK // cost)
        for start in range(0, len(source), step):
            part = slice(start, start + step)
            result[part] = of(source[part])
        return result.reshape(*x.shape, rows)

    def _visible(self, source_m: FloatArray) -> BoolArray:
        walls = self.walls
        # Every ray lies within the extents of its ends, so only edges that reach in matter.
        every = np.vstack([source_m, self._row_m])
        near = (np.maximum(walls.start_m, walls.end_m) >= every.min(axis=0)).all(axis=1)
        near &= (np.minimum(walls.start_m, walls.end_m) <= every.max(axis=0)).all(axis=1)
        hit = crossed(source_m[:, np.newaxis], self._row_m, walls.start_m[near], walls.end_m[near])
        hit &= ~self._row_touches[:, near]
        hit &= ~walls.touching(source_m)[:, np.newaxis, near]
        return np.asarray(~hit.any(axis=-1))

    def _difference_m(self, source_m: FloatArray) -> FloatArray:
        direct = _distance_m(source_m, self._row_m)
        to_corner = np.where(
            self._near.sees_corner(source_m), _distance_m(source_m, self._near.corner_m), np.inf
        )
        lit = self._visible(source_m)
        round_walls = _shortest(to_corner, self._onward_m) - direct
        detour = _shortest(to_corner, self._straight_m) - direct
        # Rounding may make a way round a corner on the ray itself a hair shorter than the ray.
        return np.where(lit, -np.maximum(detour, 0.0), np.maximum(round_walls, 0.0))

    def _difference_bounds_m(
        self, centre_m: FloatArray, radius_m: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """(low, high), each (boxes, rows), of the path difference within discs about the centres.

        The difference is clipped to where the loss changes at all, from lit to capped.
        """
        lit = lit_margin_m(self.midband_hz, c_m_s=self.c_m_s)
        capped = capped_from_m(self.midband_hz, c_m_s=self.c_m_s)
        middle = self._difference_m(centre_m)
        low = np.clip(middle, -lit, capped)
        high = low.copy()
        across = 2.0 * radius_m[:, np.newaxis]
        reach = _distance_m(centre_m, self._near.corner_m)
        direct = _distance_m(centre_m, self._row_m)
        # The others are clear of every edge, or deep behind one, all over their box.
        changing = (_shortest(reach, self._onward_m) - direct - across <= lit) | (middle > 0.0)
        changing &= middle - across < capped
        box, row = np.nonzero(changing)
        if len(box):
            ways = self._ways(centre_m, radius_m, box, row, middle[box, row])
            moved = ways.most_moved_m(radius_m[box])
            low[box, row] = np.maximum(low[box, row] - moved, middle[box, row] - across[box, 0])
            high[box, row] = np.minimum(high[box, row] + moved, middle[box, row] + across[box, 0])
        through = (radius_m > 0.0) & (self._gap_m(centre_m) <= radius_m + JOIN_M)
        low[through], high[through] = -np.inf, np.inf
        return low, high

    def _gap_m(self, point_m: FloatArray) -> FloatArray:
        """(p,) distance of points (p, 2) from the nearest wall."""
        away = edge_distance_m(point_m, self.walls.start_m, self.walls.end_m)
        return np.asarray(away.min(axis=1, initial=np.inf))

    def _ways(
        self,
        centre_m: FloatArray,
        radius_m: FloatArray,
        box: IntArray,
        row: IntArray,
        middle_m: FloatArray,
    ) -> "_Ways":
        """How the ways round each corner change within discs, for k pairs of box and row.

        middle_m: (k,) the path difference at the disc's centre
        """
        radius = radius_m[box]
        to_row = self._row_m[row] - centre_m[box]
        direct = np.maximum(np.hypot(to_row[:, 0], to_row[:, 1]), _TINY_M)
        to_corner = self._near.corner_m - centre_m[:, np.newaxis]
        reach = np.maximum(np.hypot(to_corner[..., 0], to_corner[..., 1]), _TINY_M)
        unit = (to_corner / reach[..., np.newaxis])[box]
        # How fast the way round each corner changes: the difference of two directions, which
        # themselves turn by at most the radius over the distance.
        cosine = unit[..., 0] * (to_row[:, :1] / direct[:, np.newaxis])
        cosine += unit[..., 1] * (to_row[:, 1:] / direct[:, np.newaxis])
        rate = np.sqrt(np.maximum(2.0 - 2.0 * cosine, 0.0))
        turn = 1.0 / np.maximum(reach - radius_m[:, np.newaxis], _TINY_M)[box]
        turn += (1.0 / np.maximum(direct - radius, _TINY_M))[:, np.newaxis]
        r = radius[:, np.newaxis]
        change = np.minimum(r * rate + 0.5 * r**2 * turn, 2.0 * r)
        nearest = reach[box] + self._onward_m.T[row] - direct[:, np.newaxis] - change
        lit = lit_margin_m(self.midband_hz, c_m_s=self.c_m_s)
        capped = capped_from_m(self.midband_hz, c_m_s=self.c_m_s)
        farthest = np.minimum(np.maximum(middle_m + 2.0 * radius, lit), capped)
        return _Ways(rate=rate, turn=turn, active=nearest <= farthest[:, np.newaxis])


@dataclass(frozen=True, eq=False)
class _Ways:
    """Ways round corners within discs, (k, v).

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


def _straight_m(walls: Walls, row_m: FloatArray) -> FloatArray:
    """(v, rows) from corner to row where they see each other, inf elsewhere."""
    return np.where(walls.sees_corner(row_m).T, _distance_m(walls.corner_m, row_m), np.inf)


def _halved(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Boxes (n, 2) cut in two along every axis that has an extent."""
    for axis in np.flatnonzero((high > low).any(axis=0)):
        middle = 0.5 * (low[:, axis] + high[:, axis])
        before, after = high.copy(), low.copy()
        before[:, axis] = after[:, axis] = middle
        low, high = np.vstack([low, after]), np.vstack([before, high])
    return low, high


def _distance_m(from_m: FloatArray, to_m: FloatArray) -> FloatArray:
    """(p, q) between points (p, 2) and (q, 2)."""
    away = from_m[:, np.newaxis] - to_m
    return np.asarray(np.hypot(away[..., 0], away[..., 1]))


def _shortest(first_m: FloatArray, then_m: FloatArray) -> FloatArray:
    """(p, n) shortest of first (p, v) plus then (v, n) over v; inf where there is none."""
    whole = first_m[..., np.newaxis] + then_m
    return np.asarray(whole.min(axis=1, initial=np.inf))

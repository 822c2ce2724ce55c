"""Which rows walls hide, by how much per band, and guaranteed bounds over boxes of placements.

The path difference of a row is the shortest way to it round all walls minus the straight way; where
the row is seen, it is minus the smallest detour over any corner that both sides see.  So it passes
through zero without a jump as the row slides into the shadow.  Moving the source by d changes a
way round corner E by the difference of the directions to E and to the row, at most 2·d and much
less near grazing; integrated over a box that gives the bounds.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from ..arrays import BoolArray, FloatArray, IntArray
from ..sight import crossed, edge_distance_m
from .screening import capped_from_m, lit_margin_m, screening_loss_db
from .walls import JOIN_M, Walls

Kind = TypeVar("Kind", np.bool_, np.float64)
_TINY_M = 1e-9
_CHUNK = 400_000
"""Most numbers in one temporary array."""


@dataclass(frozen=True, eq=False)
class Screening:
    """Walls between placements and these rows.

    row_x_m, row_z_m: (rows,) ears
    midband_hz: (bands,) exact mid-bands
    """

    walls: Walls
    row_x_m: FloatArray
    row_z_m: FloatArray
    midband_hz: FloatArray
    c_m_s: float

    @cached_property
    def _row_m(self) -> FloatArray:
        return np.stack([self.row_x_m, self.row_z_m], axis=1)

    @cached_property
    def _row_touches(self) -> BoolArray:
        """(rows, e) edges on which an ear lies, which hide nothing from it."""
        return self.walls.touching(self._row_m)

    @cached_property
    def _straight_m(self) -> FloatArray:
        """(v, rows) from corner to row where they see each other, inf elsewhere."""
        away = self.walls.corner_m[:, np.newaxis] - self._row_m
        seen = self.walls.sees_corner(self._row_m).T
        return np.where(seen, np.hypot(away[..., 0], away[..., 1]), np.inf)

    @cached_property
    def _onward_m(self) -> FloatArray:
        """(v, rows) shortest way from corner to row."""
        way = np.full(self._straight_m.shape, np.inf)
        for between, straight in zip(self.walls.between_m.T, self._straight_m, strict=True):
            np.minimum(way, between[:, np.newaxis] + straight, out=way)
        return way

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

    def never_hides(self, x_m: tuple[float, float], height_m: tuple[float, float]) -> bool:
        """Whether it is certain that no placement in these ranges loses anything at any row."""
        cuts = [np.linspace(low, high, 33 if high > low else 2) for low, high in (x_m, height_m)]
        x_low, z_low = (grid.ravel() for grid in np.meshgrid(cuts[0][:-1], cuts[1][:-1]))
        x_high, z_high = (grid.ravel() for grid in np.meshgrid(cuts[0][1:], cuts[1][1:]))
        _, largest = self.bounds_db((x_low, x_high), (z_low, z_high))
        return not largest.any()

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
            self.walls.sees_corner(source_m), _distance_m(source_m, self.walls.corner_m), np.inf
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
        reach = _distance_m(centre_m, self.walls.corner_m)
        direct = _distance_m(centre_m, self._row_m)
        # The others are clear of every edge, or deep behind one, all over their box.
        changing = (_shortest(reach, self._onward_m) - direct - across <= lit) | (middle > 0.0)
        changing &= middle - across < capped
        box, row = np.nonzero(changing)
        if len(box):
            moved = self._most_moved_m(centre_m, radius_m, box, row, middle[box, row])
            low[box, row] = np.maximum(low[box, row] - moved, middle[box, row] - across[box, 0])
            high[box, row] = np.minimum(high[box, row] + moved, middle[box, row] + across[box, 0])
        gap = edge_distance_m(centre_m, self.walls.start_m, self.walls.end_m).min(
            axis=1, initial=np.inf
        )
        through = (radius_m > 0.0) & (gap <= radius_m + JOIN_M)
        low[through], high[through] = -np.inf, np.inf
        return low, high

    def _most_moved_m(
        self,
        centre_m: FloatArray,
        radius_m: FloatArray,
        box: IntArray,
        row: IntArray,
        middle_m: FloatArray,
    ) -> FloatArray:
        """(k,) how far the clipped path difference of a row can move within a box, for k pairs.

        middle_m: (k,) the path difference at the box's centre
        """
        radius = radius_m[box]
        to_row = self._row_m[row] - centre_m[box]
        direct = np.maximum(np.hypot(to_row[:, 0], to_row[:, 1]), _TINY_M)
        to_corner = self.walls.corner_m - centre_m[:, np.newaxis]
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
        # Only a corner that can be the bend somewhere in the box moves the difference.
        lit = lit_margin_m(self.midband_hz, c_m_s=self.c_m_s)
        capped = capped_from_m(self.midband_hz, c_m_s=self.c_m_s)
        farthest = np.minimum(np.maximum(middle_m + 2.0 * radius, lit), capped)
        active = nearest <= farthest[:, np.newaxis]
        fastest = np.max(rate, axis=1, where=active, initial=0.0)
        sharpest = np.max(turn, axis=1, where=active, initial=0.0)
        whole = radius * fastest + 0.5 * radius**2 * sharpest
        return np.asarray(np.minimum(whole, 2.0 * radius))


def _distance_m(from_m: FloatArray, to_m: FloatArray) -> FloatArray:
    """(p, q) between points (p, 2) and (q, 2)."""
    away = from_m[:, np.newaxis] - to_m
    return np.asarray(np.hypot(away[..., 0], away[..., 1]))


def _shortest(first_m: FloatArray, then_m: FloatArray) -> FloatArray:
    """(p, n) shortest of first (p, v) plus then (v, n) over v; inf where there is none."""
    whole = first_m[..., np.newaxis] + then_m
    return np.asarray(whole.min(axis=1, initial=np.inf))

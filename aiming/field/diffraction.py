"""The loss behind an edge, from the path difference round it.

Kurze and Anderson's fit of Maekawa's measurements on a thin screen (U. J. Kurze and G. S. Anderson,
"Sound attenuation by barriers", Applied Acoustics 4, 1971, 35-53; formula from memory, checked
against ISO 9613-2:1996 eq. 14 with C2 = 40, which agrees within 0.7 dB):

    N = 2·δ/λ, the Fresnel number; δ the way round the edge minus the straight way
    in the shadow   loss = 5 dB + 20·lg(√(2πN) / tanh √(2πN)), 5 dB at N = 0
    in the light    loss = 5 dB + 20·lg(√(2π|N|) / tan √(2π|N|)), down to 0 dB at N = −0.19

Limits.  The formula is for a point source and a thin, long, straight screen across the section.  It
knows no thickness, absorption, slot or reflection behind the edge; a path over several edges is
taken as one of the same length, which errs on the loud side.  The loss is held at 20 dB, the most
that ISO 9613-2:1996, 7.4 allows a single edge (from memory): scattered and reflected sound fill
deeper shadows.  The lit margin is never taken wider than that of 1 kHz (our own limit): lower down
the wave feels the seated floor as a whole, and its nosings are no screens.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ..base.arrays import BoolArray, FloatArray, IntArray
from ..geometry.sight_lines import edge_distance_m
from ..speaker.speaker import Range
from .sight_paths import Rays, Ways, distance_m, halved, rays_to, shortest_m, straight_m, ways_round
from .walls import JOIN_M, Walls

DEEPEST_DB = 20.0
GRAZING_DB = 5.0
LIT_FROM = -0.2
"""Fresnel number below which the formula's loss in the light is nil."""
CAPPED_FROM = 5.04
"""Fresnel number beyond which the loss is DEEPEST_DB in any case: 10^((20 − 5)/10)/2π = 5.033."""
_MARGIN_HZ = 1000.0


def screening_loss_db(
    difference_m: FloatArray, midband_hz: FloatArray, *, c_m_s: float
) -> FloatArray:
    """(…, bands, n) loss for path differences (…, n), positive in the shadow, below 0 in the light.

    Continuous, and never less for a larger difference; ±inf are deep shadow and clear light.
    """
    frequency = np.asarray(midband_hz, dtype=np.float64)
    loss = np.zeros((*difference_m.shape[:-1], len(frequency), difference_m.shape[-1]))
    # Most rows are clear of every edge: at 1 kHz, where the margin is widest, and so in all bands.
    near = difference_m > 0.51 * LIT_FROM * c_m_s / _MARGIN_HZ
    some = difference_m[near]
    for band, hz in enumerate(frequency):
        fresnel = np.where(
            some >= 0.0, 2.0 * some * hz / c_m_s, 2.0 * some * max(hz, _MARGIN_HZ) / c_m_s
        )
        loss[..., band, :][near] = _loss_db(np.clip(fresnel, LIT_FROM, CAPPED_FROM))
    return loss


def lit_margin_m(midband_hz: FloatArray, *, c_m_s: float) -> float:
    """Detour round an edge beyond which it takes nothing from the light, in any band."""
    return -LIT_FROM * 0.5 * c_m_s / max(float(np.min(midband_hz)), _MARGIN_HZ)


def capped_from_m(midband_hz: FloatArray, *, c_m_s: float) -> float:
    """Path difference beyond which every band has the largest loss."""
    return CAPPED_FROM * 0.5 * c_m_s / float(np.min(midband_hz))


def _loss_db(fresnel: FloatArray) -> FloatArray:
    loss = np.zeros(fresnel.shape)
    touched = fresnel > LIT_FROM
    some = fresnel[touched]
    x = np.sqrt(2.0 * np.pi * np.abs(some))  # both ratios tend to 1 with it
    turned = np.where(some >= 0.0, np.tanh(x), np.tan(x))
    ratio = np.divide(x, turned, out=np.ones_like(x), where=x > 0.0)
    loss[touched] = np.clip(GRAZING_DB + 20.0 * np.log10(ratio), 0.0, DEEPEST_DB)
    return loss


# Which rows walls hide, by how much per band, and guaranteed bounds over boxes of placements.
#
# The path difference of a row is the shortest way to it round all walls minus the straight way;
# where the row is seen, it is minus the smallest detour over any corner that both sides see.  So
# it passes through zero without a jump as the row slides into the shadow.  Moving the source by d
# changes a way round a corner by at most 2·d, and much less near grazing; over a box that gives
# the bounds.

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
    ranges_m: x and height of the placements that will be asked; None for any
    whole: what placements outside the ranges are asked of
    lit: whether it is certain that nothing inside the ranges is hidden
    """

    walls: Walls
    row_x_m: FloatArray
    row_z_m: FloatArray
    midband_hz: FloatArray
    c_m_s: float
    first: IntArray | None = None
    ranges_m: tuple[Range, Range] | None = None
    whole: "Screening | None" = None
    lit: bool = False

    @cached_property
    def _near(self) -> Walls:
        """The walls with only those corners that come first."""
        return self.walls if self.first is None else self.walls.with_corners(self.first)

    @cached_property
    def _row_m(self) -> FloatArray:
        return np.stack([self.row_x_m, self.row_z_m], axis=1)

    @cached_property
    def _exempt(self) -> BoolArray:
        """(rows + v, e) edges that hide nothing from a row or a first corner: it lies on them."""
        return np.vstack([self.walls.touching(self._row_m), self._near.at_corner])

    def _rays_within(self, x_m: Range, height_m: Range) -> Rays:
        """To the rows, then to the first corners."""
        target = np.vstack([self._row_m, self._near.corner_m])
        return rays_to(self.walls, target, but_not=self._exempt, x_m=x_m, height_m=height_m)

    @cached_property
    def _known_rays(self) -> Rays | None:
        return None if self.ranges_m is None else self._rays_within(*self.ranges_m)

    def _clear(self, source_m: FloatArray) -> BoolArray:
        """(p, rows + v) whether nothing stands between sources (p, 2) and rows, first corners."""
        rays = self._known_rays
        if rays is None:
            (x_low, z_low), (x_high, z_high) = source_m.min(axis=0), source_m.max(axis=0)
            rays = self._rays_within((x_low, x_high), (z_low, z_high))
        return rays.clear(source_m)

    @cached_property
    def _straight_m(self) -> FloatArray:
        """(v, rows) from first corner to row where they see each other, inf elsewhere."""
        return straight_m(self._near, self._row_m)

    @cached_property
    def _onward_m(self) -> FloatArray:
        """(v, rows) shortest way from first corner to row, over any others."""
        last = self._straight_m if self.first is None else straight_m(self.walls, self._row_m)
        way = np.full(last.shape, np.inf)
        for corner, straight in enumerate(last):
            np.minimum(way, self.walls.between_m[:, corner, np.newaxis] + straight, out=way)
        return way if self.first is None else way[self.first]

    @cached_property
    def _sources_at_once(self) -> int:
        """How many fit within arrays of a fair size."""
        rays = self._exempt.size // 4 if self._known_rays is None else len(self._known_rays)
        return max(1, _CHUNK // max(1, rays, self._onward_m.size))

    def path_difference_m(self, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
        """(…, rows) extra way round the walls; negative in the light, ±inf far from any edge."""
        x, z = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(height_m, float))
        # A loudspeaker that is only turned stays where it is.
        source, which = _distinct(np.stack([x.ravel(), z.ravel()], axis=1))
        result = np.empty((len(source), len(self.row_x_m)))
        outside = self._outside(source)
        if self.whole is not None and outside.any():
            result[outside] = self.whole.path_difference_m(*source[outside].T)
        inside = np.flatnonzero(~outside)
        step = self._sources_at_once
        for start in range(0, len(inside), step):
            part = inside[start : start + step]
            result[part] = self._difference_m(source[part])
        return result[which].reshape(*x.shape, len(self.row_x_m))

    def loss_db(self, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
        """(…, bands, rows) loss for acoustic centres (…)."""
        if self.lit and self.whole is not None:
            x, z = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(height_m, float))
            outside = self._outside(np.stack([x.ravel(), z.ravel()], axis=1)).reshape(x.shape)
            loss = np.zeros((*x.shape, len(self.midband_hz), len(self.row_x_m)))
            if outside.any():
                loss[outside] = self.whole.loss_db(x[outside], z[outside])
            return loss
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
        if self.whole is not None and (self._outside(low) | self._outside(high)).any():
            return self.whole.bounds_db(x_m, height_m)
        if self.lit:
            none = np.zeros((len(low), len(self.midband_hz), len(self.row_x_m)))
            return none, none
        centre, half = 0.5 * (low + high), 0.5 * (high - low)
        radius = np.hypot(half[:, 0], half[:, 1])
        least = np.empty((len(centre), len(self.row_x_m)))
        largest = np.empty_like(least)
        step = self._sources_at_once
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
            low, high = halved(low[doubtful], high[doubtful])
            if self.loss_db(low[:, 0], low[:, 1]).any():
                return False
        return False

    def lit_within(self, x_m: Range, height_m: Range) -> "Screening":
        """The same screening, of which it is certain that it hides nothing in these ranges."""
        return replace(self, ranges_m=(x_m, height_m), whole=self.whole or self, lit=True)

    def within(self, x_m: Range, height_m: Range) -> "Screening":
        """The same screening, faster for placements in these ranges, with the same losses.

        Placements elsewhere are asked of the whole.  Corners that no way from inside to a row can
        bend round first are no longer asked, nor are edges that no such way can meet.
        """
        low, high = np.array([[x_m[0], height_m[0]]]), np.array([[x_m[1], height_m[1]]])
        for _ in range(_COARSE_CUTS):
            low, high = halved(low, high)
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
        whole = self.whole or self
        return replace(self, first=first[wanted], ranges_m=(x_m, height_m), whole=whole)

    def at_rows(self, which: IntArray) -> "Screening":
        """The same screening of some of the rows."""
        return replace(
            self,
            row_x_m=self.row_x_m[which],
            row_z_m=self.row_z_m[which],
            whole=None if self.whole is None else self.whole.at_rows(which),
        )

    def _outside(self, source_m: FloatArray) -> BoolArray:
        """(p,) whether sources (p, 2) lie outside the ranges."""
        if self.ranges_m is None:
            return np.zeros(len(source_m), dtype=np.bool_)
        low, high = np.array(self.ranges_m).T
        return np.asarray(((source_m < low - JOIN_M) | (source_m > high + JOIN_M)).any(axis=1))

    def _difference_m(self, source_m: FloatArray) -> FloatArray:
        direct = distance_m(source_m, self._row_m)
        clear = self._clear(source_m)
        lit, open_way = clear[:, : direct.shape[1]], clear[:, direct.shape[1] :]
        open_way &= self._near.opens_to(source_m)
        to_corner = np.where(open_way, distance_m(source_m, self._near.corner_m), np.inf)
        round_walls = shortest_m(to_corner, self._onward_m) - direct
        detour = shortest_m(to_corner, self._straight_m) - direct
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
        reach = distance_m(centre_m, self._near.corner_m)
        direct = distance_m(centre_m, self._row_m)
        # The others are clear of every edge, or deep behind one, all over their box.
        changing = (shortest_m(reach, self._onward_m) - direct - across <= lit) | (middle > 0.0)
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
        disc: IntArray,
        row: IntArray,
        middle_m: FloatArray,
    ) -> Ways:
        """Ways round the first corners for k pairs of disc and row."""
        return ways_round(
            self._near.corner_m,
            self._onward_m,
            self._row_m,
            centre_m=centre_m,
            radius_m=radius_m,
            disc=disc,
            row=row,
            middle_m=middle_m,
            lit_m=lit_margin_m(self.midband_hz, c_m_s=self.c_m_s),
            capped_m=capped_from_m(self.midband_hz, c_m_s=self.c_m_s),
        )


def _distinct(point_m: FloatArray) -> tuple[FloatArray, IntArray]:
    """The places (d, 2) among points (p, 2), and (p,) at which of them each is."""
    order = np.lexsort(point_m.T)
    sorted_m = point_m[order]
    first = np.ones(len(order), dtype=np.bool_)
    first[1:] = (sorted_m[1:] != sorted_m[:-1]).any(axis=1)
    which = np.empty(len(order), dtype=np.intp)
    which[order] = np.cumsum(first) - 1
    return sorted_m[first], which

r"""Sound that misses: first reflections off surfaces, and what the pattern's sound lands on.

       S ·           Image source: the reflection comes from S mirrored in the surface's line.  It
          \    · P   is there where the line from the mirrored S' to P meets the surface itself
    _______\_/___    and nothing stands in the way of either part.
            Q
       S'·           level re direct = pattern(S→Q) − pattern(S→P) − 20·lg(r'/r) − α·(r' − r)
                                       + 10·lg(1 − absorption) + what the direct sound loses

Limits: mirror-like reflection from surfaces that are long against the wavelength; no scattering, no
second reflection, nothing from the side walls.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from ..base.air import AirLoss
from ..base.arrays import FloatArray, IntArray
from ..geometry.section import Seating, Surface, elevation_deg
from ..speaker.pattern import Pattern
from ..speaker.speaker import Placement
from .levels import NEAREST_M
from .walls import JOIN_M, Walls, clear

_RAYS = 3600


@dataclass(frozen=True, eq=False)
class ReflectedPaths:
    """First reflections (k,), by surface, then by point.

    surface: index of the surface; point: index of the point
    at_m: (k, 2) where it is sent back
    distance_m: whole way by the surface; delay_ms: after the direct sound
    level_db: (bands, k) relative to the direct sound at the point; NaN where a level is unknown
    """

    surface: IntArray
    point: IntArray
    at_m: FloatArray
    distance_m: FloatArray
    delay_ms: FloatArray
    level_db: FloatArray

    def __len__(self) -> int:
        return len(self.surface)


def first_reflections(
    pattern: Pattern,
    placement: Placement,
    point_m: FloatArray,
    *,
    surfaces: Sequence[Surface],
    walls: Walls,
    air_loss: AirLoss,
    c_m_s: float,
    direct_loss_db: npt.ArrayLike = 0.0,
) -> ReflectedPaths:
    """Reflections of one placement off every surface at points (n, 2).

    pattern: as built; its bands are those of the result and of air_loss
    direct_loss_db: what the direct sound loses by shadow; broadcasts to (bands, n)
    Surfaces that absorb everything, or on which the loudspeaker or the point lies, send nothing.
    """
    source = np.array([placement.x_m, placement.height_m])
    to_point = np.maximum(np.hypot(*(point_m - source).T), NEAREST_M)
    start, end, surface_of_edge = _edges(surfaces)
    edge, point_of, at = _off_edges(source, point_m, start, end)
    seen = clear(walls, source[np.newaxis], at) & clear(walls, at, point_m[point_of])
    surface_of, point_of, at = surface_of_edge[edge][seen], point_of[seen], at[seen]
    way = np.hypot(*(at - source).T) + np.hypot(*(point_m[point_of] - at).T)
    # The joint of two pieces of one surface sends one reflection, not two.
    order = np.lexsort((way, point_of, surface_of))
    surface_of, point_of, at, way = surface_of[order], point_of[order], at[order], way[order]
    twin = (np.diff(surface_of) == 0) & (np.diff(point_of) == 0)
    twin &= np.hypot(*np.diff(at, axis=0).T) <= JOIN_M
    once = np.append(np.full(min(1, len(way)), True), ~twin)
    surface_of, point_of, at, way = surface_of[once], point_of[once], at[once], way[once]

    direct = to_point[point_of]
    kept = np.array([1.0 - one.absorption for one in surfaces])
    loss = np.broadcast_to(
        np.asarray(direct_loss_db, np.float64), (len(pattern.band_hz), len(point_m))
    )
    level = (
        _read_db(pattern, placement, at - source)
        - _read_db(pattern, placement, point_m[point_of] - source)
        - 20.0 * np.log10(way / direct)
        - (air_loss.at_db(way) - air_loss.at_db(direct))
        + 10.0 * np.log10(kept[surface_of])
        + loss[:, point_of]
    )
    return ReflectedPaths(
        surface=surface_of,
        point=point_of,
        at_m=at,
        distance_m=way,
        delay_ms=1e3 * (way - direct) / c_m_s,
        level_db=level,
    )


def _edges(surfaces: Sequence[Surface]) -> tuple[FloatArray, FloatArray, IntArray]:
    """Start and end (e, 2) of every piece that sends anything back, and the surface it is of."""
    pieces = [
        (start, end, index)
        for index, surface in enumerate(surfaces)
        if surface.absorption < 1.0
        for start, end in pairwise(surface.line_m)
        if np.hypot(*(end - start)) > JOIN_M
    ]
    start, end = (np.array([one[of] for one in pieces]).reshape(-1, 2) for of in (0, 1))
    return start, end, np.array([one[2] for one in pieces], dtype=np.intp)


def _off_edges(
    source_m: FloatArray, point_m: FloatArray, start_m: FloatArray, end_m: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Which edges (e, 2) send sound to which points (n, 2), (k,) each; off which place (k, 2)."""
    along = end_m - start_m
    length = np.hypot(*along.T)
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / length[:, np.newaxis]
    own = ((source_m - start_m) * normal).sum(axis=1)[:, np.newaxis]
    off = ((point_m - start_m[:, np.newaxis]) * normal[:, np.newaxis]).sum(axis=2)
    same_side = (own * off > 0.0) & (np.abs(off) > JOIN_M) & (np.abs(own) > JOIN_M)
    edge, point = np.nonzero(same_side)
    # From image to point, the edge's line is met at this share of the way.
    share = own[edge, 0] / (own[edge, 0] + off[edge, point])
    image = (source_m - 2.0 * own * normal)[edge]
    at = image + share[:, np.newaxis] * (point_m[point] - image)
    place = ((at - start_m[edge]) * along[edge]).sum(axis=1) / length[edge]
    on = (place >= 0.0) & (place <= length[edge])
    return edge[on], point[on], at[on]


def _read_db(pattern: Pattern, placement: Placement, way_m: FloatArray) -> FloatArray:
    """(bands, k) the pattern's level along ways (k, 2) from the acoustic centre."""
    off_axis = elevation_deg(way_m[:, 0], way_m[:, 1]) - placement.tilt_deg
    return pattern.read_db(-off_axis if placement.flipped else off_axis)


@dataclass(frozen=True, eq=False)
class LandingShares:
    """Where the sound of the section goes first, as shares of the pattern's energy in the section.

    seating: (bands, seatings) on the rows of each, from above
    surface: (bands, surfaces)
    beneath: (bands,) on the undersides of floors
    nowhere: (bands,) past everything
    known_deg: (bands,) how much of the circle the pattern knows; the shares are of that, and NaN
        where it knows nothing
    """

    seating: FloatArray
    surface: FloatArray
    beneath: FloatArray
    nowhere: FloatArray
    known_deg: FloatArray


def landing(
    pattern: Pattern,
    placement: Placement,
    *,
    seatings: Sequence[Seating],
    surfaces: Sequence[Surface],
) -> LandingShares:
    """Which share of the pattern's energy in the section lands on seating, on surfaces, nowhere.

    Rays every 0.1 degree, each to the first thing it meets: an audience plane, or a floor from
    above, is seating; a floor from beneath is not.  Energy is 10^(level/10) per degree.
    """
    step = 360.0 / _RAYS
    angle = np.radians(step * np.arange(0.5, _RAYS))
    heading = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    level = _read_db(pattern, placement, heading)
    known = np.isfinite(level)
    energy = np.where(known, 10.0 ** (level / 10.0), 0.0)

    starts, ends, kinds, floors = [], [], [], []
    beneath, nowhere = len(seatings) + len(surfaces), len(seatings) + len(surfaces) + 1
    for index, seating in enumerate(seatings):
        for line in (seating.audience_plane_m, seating.floor_m):
            starts.append(line[:-1])
            ends.append(line[1:])
            kinds.append(np.full(len(line) - 1, index))
            floors.append(np.full(len(line) - 1, line is seating.floor_m))
    for index, surface in enumerate(surfaces, start=len(seatings)):
        starts.append(surface.line_m[:-1])
        ends.append(surface.line_m[1:])
        kinds.append(np.full(len(surface.line_m) - 1, index))
        floors.append(np.full(len(surface.line_m) - 1, False))
    start, end, kind = np.concatenate(starts), np.concatenate(ends), np.concatenate(kinds)
    source = np.array([placement.x_m, placement.height_m])
    distance, from_above = _met(source, heading, start, end)
    first = np.argmin(distance, axis=1)
    ray = np.arange(_RAYS)
    met = kind[first]
    underside = np.concatenate(floors)[first] & ~from_above[ray, first]
    met = np.where(underside, beneath, met)
    met = np.where(np.isfinite(distance[ray, first]), met, nowhere)
    total = energy.sum(axis=1)
    share = np.stack([energy[:, met == one].sum(axis=1) for one in range(nowhere + 1)], axis=1)
    share = np.divide(share.T, total, out=np.full_like(share.T, np.nan), where=total > 0.0).T
    return LandingShares(
        seating=share[:, : len(seatings)],
        surface=share[:, len(seatings) : beneath],
        beneath=share[:, beneath],
        nowhere=share[:, nowhere],
        known_deg=known.sum(axis=1) * step,
    )


def _met(
    source_m: FloatArray, heading: FloatArray, start_m: FloatArray, end_m: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """(rays, e) distance at which rays meet edges (inf where not), and whether from above.

    Above is the left of an edge that runs towards the audience.
    """
    along = end_m - start_m
    to = start_m - source_m
    turned = heading[:, :1] * along[:, 1] - heading[:, 1:] * along[:, 0]
    safe = np.where(turned == 0.0, 1.0, turned)
    distance = (to[:, 0] * along[:, 1] - to[:, 1] * along[:, 0]) / safe
    place = (to[:, 0] * heading[:, 1:] - to[:, 1] * heading[:, :1]) / safe
    meets = (turned != 0.0) & (distance > NEAREST_M) & (place >= 0.0) & (place <= 1.0)
    return np.where(meets, distance, np.inf), np.asarray(turned > 0.0)

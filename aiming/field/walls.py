"""What can stand between a loudspeaker and a row: solid lines, and the corners sound bends round.

R ·          · S          A ray is blocked where it crosses an edge.  The shortest way round
    ·      ·              bends only at corners: free ends, and joints seen from their wide
       ·\\·                side (more than 180 degrees open).  On its narrow side a joint is
         |  wall           closed: nothing slips through where two edges meet.
_________|_______________
          floor           A wall that stands on a floor is closed at its foot.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..geometry.section import Seating, Surface
from ..geometry.sight_lines import crossed, edge_distance_m, side_of

JOIN_M = 1e-3
"""Points this close are one point."""
SEAL_M = 0.05
"""A free end this close to another edge closes the gap: drawings and surveys are no finer."""
_SLACK_RAD = 1e-9
_DEEP_M = 1e5
_CHUNK = 100_000
"""Most numbers in one temporary array, which keeps it in the processor's own memory."""


@dataclass(frozen=True, eq=False)
class Walls:
    """Solid edges and the corners that a path can bend round.

    start_m, end_m: (e, 2) x, z
    corner_m: (v, 2)
    at_corner: (v, e) whether the edge begins or ends at the corner
    open_from_rad, open_rad: (v,) where the corner's open side begins, and how wide it is,
        anticlockwise
    between_m: (v, v) shortest way from corner to corner, inf where there is none
    """

    start_m: FloatArray
    end_m: FloatArray
    corner_m: FloatArray
    at_corner: BoolArray
    open_from_rad: FloatArray
    open_rad: FloatArray
    between_m: FloatArray

    def with_corners(self, which: IntArray) -> "Walls":
        """The same walls, of whose corners only these are asked; ways between them stay."""
        return replace(
            self,
            corner_m=self.corner_m[which],
            at_corner=self.at_corner[which],
            open_from_rad=self.open_from_rad[which],
            open_rad=self.open_rad[which],
            between_m=self.between_m[np.ix_(which, which)],
        )

    def opens_to(self, point_m: FloatArray) -> BoolArray:
        """(p, v) whether points (p, 2) lie on the corners' open sides."""
        away = point_m[:, np.newaxis] - self.corner_m
        angle = np.arctan2(away[..., 1], away[..., 0])
        turned = np.mod(angle - self.open_from_rad + _SLACK_RAD, 2.0 * np.pi)
        return np.asarray(turned <= self.open_rad + 2.0 * _SLACK_RAD)

    def touching(self, point_m: FloatArray) -> BoolArray:
        """(p, e) which edges points (p, 2) lie on: such an edge hides nothing from them."""
        return np.asarray(edge_distance_m(point_m, self.start_m, self.end_m) <= JOIN_M)

    def sees_corner(self, point_m: FloatArray) -> BoolArray:
        """(p, v) whether nothing stands between points (p, 2) and the corners."""
        sees = self.opens_to(point_m)
        here = np.where(self.touching(point_m), 0, side_of(point_m, self.start_m, self.end_m))
        there = side_of(self.corner_m, self.start_m, self.end_m)
        at_once = max(1, _CHUNK // max(1, len(self.start_m)))
        # As `crossed`, from one corner after the other, with what lies on which side asked once:
        # of a picture's many points that takes a quarter of the time and little memory.
        for corner, corner_m in enumerate(self.corner_m):
            edge = np.flatnonzero(there[corner])
            start_m, end_m = self.start_m[edge] - corner_m, self.end_m[edge] - corner_m
            open_to = np.flatnonzero(sees[:, corner])
            for first in range(0, len(open_to), at_once):
                some = open_to[first : first + at_once]
                run, rise = (corner_m - point_m[some]).T[..., np.newaxis]
                parted = (run * start_m[:, 1] >= rise * start_m[:, 0]) != (
                    run * end_m[:, 1] >= rise * end_m[:, 0]
                )
                parted &= here[some[:, np.newaxis], edge] * there[corner, edge] < 0
                sees[some, corner] = ~parted.any(axis=1)
        return sees


def clear(walls: Walls, from_m: FloatArray, to_m: FloatArray) -> BoolArray:
    """(k,) whether nothing stands between points (k, 2) and (k, 2), each to each, or one to all."""
    hit = crossed(from_m, to_m, walls.start_m, walls.end_m)
    return np.asarray(~(hit & ~walls.touching(from_m) & ~walls.touching(to_m)).any(axis=1))


def walls_of(seatings: Sequence[Seating], surfaces: Sequence[Surface] = ()) -> Walls:
    """The floors of all seatings, and all surfaces, as they stand.

    A floor with no other beneath it, be that ground or a slab, stands on solid ground, so nothing
    passes beneath it; neither does anything beneath a surface whose foot is level with the ground
    or lower.  Other floors are slabs, open at both ends unless a surface closes them.  The walls of
    one house are worked out once.
    """
    return _walls_of(tuple(seatings), tuple(surfaces))


@lru_cache(maxsize=8)
def _walls_of(seatings: tuple[Seating, ...], surfaces: tuple[Surface, ...]) -> Walls:
    lines = [seating.floor_m for seating in seatings] + [one.line_m for one in surfaces]
    solid = solid_of(seatings, surfaces)
    return walls_from(lines, ground_m=solid.ground_m, standing_m=solid.standing_m)


@dataclass(frozen=True, eq=False)
class Solid:
    """What is taken as solid though no line says so: a guess, so a drawing shows it.

    ground_m: floors (n, 2) beneath which all is solid
    standing_m: feet (2,) of surfaces beneath which all is solid
    """

    ground_m: tuple[FloatArray, ...]
    standing_m: tuple[FloatArray, ...]

    @property
    def tops_m(self) -> tuple[FloatArray, ...]:
        """(n, 2) each: the lines and the feet that it reaches up to."""
        return (*self.ground_m, *(foot[np.newaxis] for foot in self.standing_m))


def solid_of(seatings: Sequence[Seating], surfaces: Sequence[Surface] = ()) -> Solid:
    """The ground, by the rule of walls_of."""
    ground: list[FloatArray] = []
    lower: list[FloatArray] = []
    for seating in sorted(seatings, key=lambda one: float(one.floor_m[:, 1].mean())):
        line = seating.floor_m
        if all(line[0, 0] >= other[-1, 0] or line[-1, 0] <= other[0, 0] for other in lower):
            ground.append(line)
        lower.append(line)
    standing = []
    for surface in surfaces:
        for point in (surface.line_m[0], surface.line_m[-1]):
            inside = any(g[0, 0] <= point[0] <= g[-1, 0] for g in ground)
            ends = [end for g in ground for end in (g[0], g[-1])]
            if ends and not inside:
                nearest = min(ends, key=lambda end: abs(float(end[0] - point[0])))
                if point[1] <= nearest[1] + SEAL_M:
                    standing.append(point)
    return Solid(tuple(ground), tuple(standing))


def walls_from(
    lines_m: Sequence[FloatArray],
    *,
    ground_m: Sequence[FloatArray] = (),
    standing_m: Sequence[FloatArray] = (),
) -> Walls:
    """Walls of lines (n, 2).

    ground_m: those of the lines that are solid beneath, x never decreasing
    standing_m: points below which all is solid
    """
    pieces = [(line[k], line[k + 1]) for line in lines_m for k in range(len(line) - 1)]
    feet = [*standing_m, *(end for line in ground_m for end in (line[0], line[-1]))]
    pieces += [(point, np.array([point[0], point[1] - _DEEP_M])) for point in feet]
    points, ends = _numbered(pieces)
    points, ends = _sealed(points, ends)
    deep = points[:, 1] < points[:, 1].max(initial=0.0) - 0.5 * _DEEP_M
    corner, from_rad, open_rad = _corners(points, ends)
    kept = ~deep[corner]
    if ground_m:
        # Nothing comes to a corner of the ground from beneath.
        away = points[corner, np.newaxis] - np.concatenate(ground_m)
        on_ground = (np.hypot(away[..., 0], away[..., 1]) <= JOIN_M).any(axis=1)
        up = np.mod(0.5 * np.pi - from_rad, 2.0 * np.pi)
        kept &= ~on_ground | ((up > 1e-6) & (up < open_rad - 1e-6))
    corner, from_rad, open_rad = corner[kept], from_rad[kept], open_rad[kept]
    walls = Walls(
        start_m=frozen(points[ends[:, 0]]),
        end_m=frozen(points[ends[:, 1]]),
        corner_m=frozen(points[corner]),
        at_corner=(ends[np.newaxis] == corner[:, np.newaxis, np.newaxis]).any(axis=2),
        open_from_rad=frozen(from_rad),
        open_rad=frozen(open_rad),
        between_m=np.zeros((len(corner), len(corner))),
    )
    return replace(walls, between_m=frozen(_between_m(walls)))


def _numbered(pieces: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, IntArray]:
    """(n, 2) points and (e, 2) their numbers for each edge; points within JOIN_M are one."""
    every = np.array(pieces, dtype=np.float64).reshape(2 * len(pieces), 2)
    number = np.full(len(every), -1)
    points: list[FloatArray] = []
    for index in range(len(every)):
        if number[index] < 0:
            near = np.hypot(*(every - every[index]).T) <= JOIN_M
            number[near & (number < 0)] = len(points)
            points.append(every[index])
    ends = number.reshape(len(pieces), 2)
    ends = ends[ends[:, 0] != ends[:, 1]]
    _, first = np.unique(np.sort(ends, axis=1), axis=0, return_index=True)
    return np.array(points).reshape(len(points), 2), ends[np.sort(first)]


def _sealed(points: FloatArray, ends: IntArray) -> tuple[FloatArray, IntArray]:
    """The same with every end that nearly touches another edge joined to it."""
    for point in range(len(points)):
        own = (ends == point).any(axis=1)
        away = edge_distance_m(points[point : point + 1], points[ends[:, 0]], points[ends[:, 1]])[0]
        limit = SEAL_M if own.sum() == 1 else JOIN_M
        near = np.flatnonzero(~own & (away <= limit))
        if not len(near):
            continue
        edge = int(near[np.argmin(away[near])])
        a, b = (int(n) for n in ends[edge])
        along = points[b] - points[a]
        share = float(np.dot(points[point] - points[a], along) / np.dot(along, along))
        length = float(np.hypot(*along))
        if min(share, 1.0 - share) * length <= JOIN_M:
            foot = a if share < 0.5 else b
        elif away[edge] <= JOIN_M:
            foot = point
        else:
            foot = len(points)
            points = np.vstack([points, points[a] + share * along])
        extra = [] if foot in (a, b) else [(a, foot), (foot, b)]
        if foot != point:
            extra.append((point, foot))
        kept = np.delete(ends, edge, axis=0) if foot not in (a, b) else ends
        ends = np.vstack([kept, np.array(extra).reshape(len(extra), 2)])
    return points, ends


def _corners(points: FloatArray, ends: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Points with a side of more than 180 degrees: (v,) number, where that begins, its width."""
    corner, from_rad, open_rad = [], [], []
    for point in range(len(points)):
        other = np.concatenate([ends[ends[:, 0] == point, 1], ends[ends[:, 1] == point, 0]])
        away = points[other] - points[point]
        angle = np.sort(np.arctan2(away[:, 1], away[:, 0]))
        gap = np.diff(np.append(angle, angle[:1] + 2.0 * np.pi))
        if len(gap) and gap.max() > np.pi + 1e-6:
            corner.append(point)
            from_rad.append(angle[int(np.argmax(gap))])
            open_rad.append(gap.max())
    return np.array(corner, dtype=np.intp), np.array(from_rad), np.array(open_rad)


def _between_m(walls: Walls) -> FloatArray:
    """(v, v) shortest ways between corners, over any number of others."""
    corner = walls.corner_m
    hit = crossed(corner[:, np.newaxis], corner, walls.start_m, walls.end_m)
    opens = walls.opens_to(corner)
    clear = ~hit.any(axis=-1) & opens & opens.T
    straight = np.hypot(*(corner[:, np.newaxis] - corner).transpose(2, 0, 1))
    way = np.where(clear, straight, np.inf)
    np.fill_diagonal(way, 0.0)
    for through in range(len(corner)):
        np.minimum(way, way[:, through, np.newaxis] + way[through], out=way)
    return np.asarray(way)

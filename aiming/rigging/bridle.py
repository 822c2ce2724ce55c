"""Bridles: legs from two or three points of the structure to one apex, the load plumb below.

    1 o                 o 2        V drop, H reach of each leg, both counted from the apex
       \\ L1         L2 /          ΣX:  T1·H1/L1 = T2·H2/L2
        \\     a      / V           ΣZ:  T1·V1/L1 + T2·V2/L2 = W
         \\___ ___ __/              D = V1·H2 + V2·H1
          H1   o  H2               T1 = W·L1·H2/D,  T2 = W·L2·H1/D
               ↓ W

In plan, with r the way from the apex to each point and q = T/L of each leg:

    Σ q·r = 0,  Σ q·V = W:   q1 : q2 : q3 = A1 : A2 : A3

where A is the area that the apex spans with the two *other* points (so the apex must lie inside
the triangle).  With two legs it must lie on the line between them, and q1 : q2 = H2 : H1.  The legs
weigh nothing and do not stretch.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from .body import RiggingError

IN_PLANE_M = 0.005
"""How far beside the line of its two points, in plan, an apex may be given: a tape's reading."""
PLUMB_M = 1e-9
FLAT = 1e-6
"""A triangle whose area is this little of its size squared is a line."""

Place = tuple[float, float, float]
"""x, y, z: along the section, aside (positive to the left as one looks along x), up."""


@dataclass(frozen=True)
class Leg:
    """One leg.

    share: tension over the load; elevation_deg: above horizontal
    leg_factor: 1/sin(elevation), what the angle costs against a plumb line
    vertical_n, horizontal_n: what it puts on its point of the structure, down and inwards
    take_up_m: what hardware takes up of its length; cut_m: what is left for the leg itself
    """

    drop_m: float
    reach_m: float
    length_m: float
    elevation_deg: float
    tension_n: float
    share: float
    leg_factor: float
    vertical_n: float
    horizontal_n: float
    take_up_m: float
    cut_m: float


@dataclass(frozen=True)
class Bridle:
    """A bridle of two or three legs at rest.

    horizontal_n: the largest level pull of a leg on its point; of two legs each pulls the same
    included_deg: the widest angle between two legs at the apex
    """

    load_n: float
    legs: tuple[Leg, ...]
    horizontal_n: float
    included_deg: float


def leg_factor(elevation_deg: float) -> float:
    """1/sin(angle above horizontal): tension of one of two like legs over half the load."""
    return float(1.0 / np.sin(np.radians(elevation_deg)))


def bridle(
    *,
    load_n: float,
    drops_m: tuple[float, float],
    reaches_m: tuple[float, float],
    take_up_m: tuple[float, float] = (0.0, 0.0),
) -> Bridle:
    """Tensions and angles of a two-leg bridle under a plumb load (see the sketch above).

    drops_m: V of both legs, above the apex; reaches_m: H of both, to opposite sides of it
    take_up_m: what shackles, rings and the like take up of each leg's length
    Raises RiggingError where a leg does not rise from the apex, where both points lie on the same
    side, where hardware is longer than its leg, or where both legs are plumb (how they share is
    then unknown).
    """
    (v1, v2), (h1, h2) = drops_m, reaches_m
    _refuse_load(load_n)
    if not (v1 > 0.0 and v2 > 0.0):
        raise RiggingError(f"drops: {v1:g} and {v2:g} m; both points must lie above the apex")
    if h1 < 0.0 or h2 < 0.0:
        raise RiggingError(
            f"reaches: {h1:g} and {h2:g} m; count each outwards from the apex, to opposite sides"
        )
    determinant = v1 * h2 + v2 * h1
    if determinant <= 0.0:
        raise RiggingError(
            "both legs are plumb: how they share the load depends on their stretch, so it cannot "
            "be computed; this is one line, not a bridle"
        )
    legs = (
        _leg(load_n, v1, h1, h2 / determinant, take_up_m[0]),
        _leg(load_n, v2, h2, h1 / determinant, take_up_m[1]),
    )
    return Bridle(
        load_n=load_n,
        legs=legs,
        horizontal_n=load_n * h1 * h2 / determinant,
        included_deg=180.0 - legs[0].elevation_deg - legs[1].elevation_deg,
    )


def bridle_to_points(
    *, load_n: float, apex_m: Place, points_m: tuple[Place, ...], take_up_m: tuple[float, ...] = ()
) -> Bridle:
    """A bridle of two or three legs to points given in plan and height.

    apex_m, points_m: (x, y, z), all from one datum; take_up_m: per leg, none where left out
    Raises RiggingError for other than two or three points, a point not above the apex, an apex
    that does not hang there (beside the line of two points, outside the triangle of three), or
    points whose pulls cannot be told apart.
    """
    _refuse_load(load_n)
    if len(points_m) not in (2, 3):
        raise RiggingError(
            f"points: {len(points_m)}; a bridle at rest can be worked out for two or three: with "
            "more of them, how the legs share depends on stretch and length"
        )
    take_up = take_up_m or (0.0,) * len(points_m)
    if len(take_up) != len(points_m):
        raise RiggingError(f"take-up for {len(take_up)} legs; the bridle has {len(points_m)}")
    ways = np.asarray(points_m, dtype=np.float64) - np.asarray(apex_m, dtype=np.float64)
    for number, rise in enumerate(ways[:, 2].tolist(), start=1):
        if not rise > 0.0:
            raise RiggingError(
                f"point {number} lies {abs(rise):.2f} m below the apex; it must be above"
            )
    plan: list[list[float]] = ways[:, :2].tolist()
    parts = _densities(plan)
    total = float(np.dot(parts, ways[:, 2]))
    legs = tuple(
        _leg(load_n, float(z), float(np.hypot(x, y)), part / total, used)
        for (x, y, z), part, used in zip(ways.tolist(), parts, take_up, strict=True)
    )
    along = ways / np.linalg.norm(ways, axis=1)[:, np.newaxis]
    between = [float(along[i] @ along[j]) for i, j in combinations(range(len(legs)), 2)]
    return Bridle(
        load_n=load_n,
        legs=legs,
        horizontal_n=max(leg.horizontal_n for leg in legs),
        included_deg=float(np.degrees(np.arccos(np.clip(min(between), -1.0, 1.0)))),
    )


def _refuse_load(load_n: float) -> None:
    if not load_n > 0.0:
        raise RiggingError(f"load: {load_n:g} N; more than 0 is needed")


def _densities(plan: list[list[float]]) -> list[float]:
    """q = T/L of each leg up to a common factor, none negative, from the ways in plan."""
    if len(plan) == 2:
        return _two_densities(plan)
    first, second, third = plan
    parts = [_cross(second, third), _cross(third, first), _cross(first, second)]
    whole = sum(parts)
    if abs(whole) < FLAT * max(x * x + y * y for x, y in plan):
        raise RiggingError(
            "the three points lie on one line in plan: how their legs share the load cannot be "
            "computed; use two of them"
        )
    parts = [part / whole for part in parts]
    if min(parts) < -PLUMB_M:
        worst = 1 + int(np.argmin(parts))
        raise RiggingError(
            f"in plan the apex lies outside the triangle of the points: leg {worst} would have to "
            "push; move the apex, or use the other two points"
        )
    return [max(0.0, part) for part in parts]


def _two_densities(plan: list[list[float]]) -> list[float]:
    first, second = plan
    apart = float(np.hypot(second[0] - first[0], second[1] - first[1]))
    if apart < PLUMB_M:
        raise RiggingError(
            "both points lie above one another in plan: how the legs share the load cannot be "
            "computed; this is one line, not a bridle"
        )
    beside = abs(_cross(first, second)) / apart
    if beside > IN_PLANE_M:
        raise RiggingError(
            f"in plan the apex lies {beside:.3f} m beside the line of its two points: it would "
            "swing onto that line; move it there, or use a third leg"
        )
    way = [(second[axis] - first[axis]) / apart for axis in (0, 1)]
    out = [-(first[0] * way[0] + first[1] * way[1]), second[0] * way[0] + second[1] * way[1]]
    if min(out) < -PLUMB_M:
        raise RiggingError(
            "in plan both points lie on the same side of the apex: it would swing towards them"
        )
    return [max(0.0, out[1]), max(0.0, out[0])]


def _cross(one: list[float], other: list[float]) -> float:
    return one[0] * other[1] - one[1] * other[0]


def _leg(load_n: float, drop_m: float, reach_m: float, share_per_m: float, take_up_m: float) -> Leg:
    length = float(np.hypot(drop_m, reach_m))
    if not 0.0 <= take_up_m < length:
        raise RiggingError(
            f"take-up of {take_up_m:g} m on a leg of {length:.3f} m: the hardware does not fit"
        )
    return Leg(
        drop_m=drop_m,
        reach_m=reach_m,
        length_m=length,
        elevation_deg=float(np.degrees(np.arctan2(drop_m, reach_m))),
        tension_n=load_n * length * share_per_m,
        share=length * share_per_m,
        leg_factor=length / drop_m,
        vertical_n=load_n * drop_m * share_per_m,
        horizontal_n=load_n * reach_m * share_per_m,
        take_up_m=take_up_m,
        cut_m=length - take_up_m,
    )

"""A two-leg bridle: two legs from two points of the structure to one apex, the load plumb below.

    1 o                 o 2        V drop, H reach of each leg, both counted from the apex
       \\ L1         L2 /          ΣX:  T1·H1/L1 = T2·H2/L2
        \\     a      / V           ΣZ:  T1·V1/L1 + T2·V2/L2 = W
         \\___ ___ __/              D = V1·H2 + V2·H1
          H1   o  H2               T1 = W·L1·H2/D,  T2 = W·L2·H1/D
               ↓ W

The legs weigh nothing and do not stretch.
"""

from dataclasses import dataclass

import numpy as np

from .body import RiggingError


@dataclass(frozen=True)
class Leg:
    """One leg.

    share: tension over the load; elevation_deg: above horizontal
    leg_factor: 1/sin(elevation), what the angle costs against a plumb line
    vertical_n, horizontal_n: what it puts on its point of the structure, down and inwards
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


@dataclass(frozen=True)
class Bridle:
    """A two-leg bridle at rest.

    horizontal_n: the pull that each leg puts on the other, and on its point of the structure
    included_deg: angle between the legs at the apex
    """

    load_n: float
    legs: tuple[Leg, Leg]
    horizontal_n: float
    included_deg: float


def leg_factor(elevation_deg: float) -> float:
    """1/sin(angle above horizontal): tension of one of two like legs over half the load."""
    return float(1.0 / np.sin(np.radians(elevation_deg)))


def bridle(
    *, load_n: float, drops_m: tuple[float, float], reaches_m: tuple[float, float]
) -> Bridle:
    """Tensions and angles of a bridle under a plumb load (see the sketch above).

    drops_m: V of both legs, above the apex; reaches_m: H of both, to opposite sides of it
    Raises RiggingError where a leg does not rise from the apex, where both points lie on the same
    side, or where both legs are plumb (how they share is then unknown).
    """
    (v1, v2), (h1, h2) = drops_m, reaches_m
    if not load_n > 0.0:
        raise RiggingError(f"load: {load_n:g} N; more than 0 is needed")
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
    horizontal = load_n * h1 * h2 / determinant
    legs = (
        _leg(load_n, v1, h1, h2 / determinant),
        _leg(load_n, v2, h2, h1 / determinant),
    )
    return Bridle(
        load_n=load_n,
        legs=legs,
        horizontal_n=horizontal,
        included_deg=180.0 - legs[0].elevation_deg - legs[1].elevation_deg,
    )


def _leg(load_n: float, drop_m: float, reach_m: float, share_per_m: float) -> Leg:
    length = float(np.hypot(drop_m, reach_m))
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
    )

"""Ground stacks: whether a stack on its base tips or slides, at rest and in wind.

           ____
    wind  |    |  ← F at z_F         tipping over an edge at horizontal distance m:
    ────► | G  |                     at rest by itself on a slope of atan(m/z_G);
          |_↓__|                     safety  W·m / (F·z_F)
         /wedge|                     sliding μ·W / F
    ─────o─────o─────
       rear  front                   F = c_f·½ρv²·A, from behind over the front edge and back

Uplift, gusts against a swaying stack and the ground's own slope are not in it.
"""

from dataclasses import dataclass

import numpy as np

from ..base.limit import Limit
from ..base.units import G_M_S2
from .body import Point, RiggingError, combined
from .limits import STACK_MARGIN

AIR_DENSITY_KG_M3 = 1.25
"""EN 1991-1-4, recommended value (read in a secondary text)."""
FORCE_COEFFICIENT = 1.8
"""Sign-boards in EN 1991-1-4 (read in a secondary text); on the cautious side for a box."""


@dataclass(frozen=True)
class Block:
    """One thing of a stack: a box, a riser, ballast.

    at_m: (x, z) of its centre of gravity, z above the ground that the base stands on
    wind_area_m2, wind_z_m: area that the wind sees, and the height of its middle
    """

    name: str
    mass_kg: float
    at_m: Point
    wind_area_m2: float = 0.0
    wind_z_m: float = 0.0


@dataclass(frozen=True)
class Edge:
    """Tipping over one edge.

    margin_m: horizontal distance of the centre of gravity inside the edge; negative: it falls
    tip_deg: slope at which it would tip by itself
    safety: holding over upsetting moment in the wind; None where there is no wind
    ballast_arm_m: horizontal distance of the ballast inside the edge
    ballast_kg: least mass there that brings the safety to the margin asked for; None
        where none can
    """

    name: str
    margin_m: float
    tip_deg: float
    safety: float | None
    ballast_arm_m: float
    ballast_kg: float | None


@dataclass(frozen=True)
class Stability:
    """A stack's margins.

    gust_speed_m_s … friction: what was given
    wind_area_m2, wind_z_m: everything that the wind sees, and the height of its middle
    pressure_pa, wind_n: q and the force on everything; tip over front in wind from behind
    sliding_safety: friction over wind; None without wind or without a friction coefficient
    sliding_ballast_kg: least mass against sliding; ballast_kg: the largest of the three, None
        where an edge has none
    asked: the margin that ballast is computed for, with where it comes from
    """

    mass_kg: float
    centre_of_gravity_m: Point
    gust_speed_m_s: float
    density_kg_m3: float
    force_coefficient: float
    friction: float | None
    wind_area_m2: float
    wind_z_m: float
    pressure_pa: float
    wind_n: float
    front: Edge
    rear: Edge
    sliding_safety: float | None
    sliding_ballast_kg: float
    ballast_kg: float | None
    asked: Limit


def wind_pressure_pa(speed_m_s: float, *, density_kg_m3: float = AIR_DENSITY_KG_M3) -> float:
    """q = ½ρv² (EN 1991-1-4, eq. 4.10 without its site factors)."""
    return 0.5 * density_kg_m3 * speed_m_s**2


def stack_stability(
    blocks: tuple[Block, ...],
    *,
    front_x_m: float,
    rear_x_m: float,
    gust_speed_m_s: float = 0.0,
    friction: float | None = None,
    force_coefficient: float = FORCE_COEFFICIENT,
    density_kg_m3: float = AIR_DENSITY_KG_M3,
    ballast_x_m: float | None = None,
    asked: Limit = STACK_MARGIN,
) -> Stability:
    """Margins of everything that stands on one base between two edges.

    ballast_x_m: where ballast would go; the middle of the base where not given
    Raises RiggingError for an empty stack, a mass that is not positive, or edges out of order.
    """
    if not blocks:
        raise RiggingError("a stack needs at least one box")
    for block in blocks:
        if not block.mass_kg > 0.0:
            raise RiggingError(f"{block.name}: mass {block.mass_kg:g} kg; more than 0 is needed")
    if not front_x_m > rear_x_m:
        raise RiggingError(
            f"base from {rear_x_m:g} to {front_x_m:g} m; the front edge must lie ahead of the rear"
        )
    mass_kg, (x_m, z_m) = combined(tuple((block.mass_kg, block.at_m) for block in blocks))
    pressure = wind_pressure_pa(gust_speed_m_s, density_kg_m3=density_kg_m3)
    areas = np.array([block.wind_area_m2 for block in blocks])
    heights = np.array([block.wind_z_m for block in blocks])
    area_m2 = float(areas.sum())
    wind_n = force_coefficient * pressure * area_m2
    upsetting_nm = force_coefficient * pressure * float(areas @ heights)
    weight_n = mass_kg * G_M_S2
    ballast_x = 0.5 * (front_x_m + rear_x_m) if ballast_x_m is None else ballast_x_m

    def edge(name: str, margin_m: float, ballast_arm_m: float) -> Edge:
        short_nm = asked.value * upsetting_nm - weight_n * margin_m
        ballast: float | None = 0.0
        if short_nm > 0.0:
            per_kg = G_M_S2 * ballast_arm_m
            ballast = short_nm / per_kg if per_kg > 0.0 else None
        return Edge(
            name=name,
            margin_m=margin_m,
            tip_deg=float(np.degrees(np.arctan2(margin_m, z_m))),
            safety=weight_n * margin_m / upsetting_nm if upsetting_nm > 0.0 else None,
            ballast_arm_m=ballast_arm_m,
            ballast_kg=ballast,
        )

    front = edge("front", front_x_m - x_m, front_x_m - ballast_x)
    rear = edge("rear", x_m - rear_x_m, ballast_x - rear_x_m)
    sliding, against_sliding = None, 0.0
    if friction is not None and wind_n > 0.0:
        sliding = friction * weight_n / wind_n
        short_n = asked.value * wind_n / friction - weight_n
        against_sliding = max(0.0, short_n / G_M_S2)
    ballasts = (front.ballast_kg, rear.ballast_kg, against_sliding)
    known = [ballast for ballast in ballasts if ballast is not None]
    return Stability(
        mass_kg=mass_kg,
        centre_of_gravity_m=(x_m, z_m),
        gust_speed_m_s=gust_speed_m_s,
        density_kg_m3=density_kg_m3,
        force_coefficient=force_coefficient,
        friction=friction,
        wind_area_m2=area_m2,
        wind_z_m=float(areas @ heights) / area_m2 if area_m2 > 0.0 else 0.0,
        pressure_pa=pressure,
        wind_n=wind_n,
        front=front,
        rear=rear,
        sliding_safety=sliding,
        sliding_ballast_kg=against_sliding,
        ballast_kg=max(known) if len(known) == len(ballasts) else None,
        asked=asked,
    )

"""What wind does to a box that hangs free: its push, and how far it swings the lines.

    steel ──┬──            the box hangs from plumb lines and is pushed level by F:
            │\\             θ = atan(F/W),  T = √(W² + F²)  in all lines together
          θ │ \\
            ▼  □ → F       F = c_f·½ρv²·A  (EN 1991-1-4 eq. 4.10, without its site factors)
            W

Gusts swing what hangs, and a swinging box pulls more than a still one; none of that is in it, nor
uplift, nor how two lines share the push, nor a turn about the lines.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

AIR_DENSITY_KG_M3 = 1.25
"""EN 1991-1-4, recommended value (read in a secondary text)."""
FORCE_COEFFICIENT = 1.8
"""Sign-boards in EN 1991-1-4 (read in a secondary text); on the cautious side for a box."""
WIND_SOURCE = "EN 1991-1-4 (read in a secondary text), without its site factors"


@dataclass(frozen=True)
class FlownWind:
    """A steady wind on what hangs."""

    gust_speed_m_s: Annotated[float, "m/s"]
    density_kg_m3: Annotated[float, "of the air, kg/m³"]
    force_coefficient: Annotated[float, "of the wind force"]
    area_m2: Annotated[float, "that the wind sees, m²"]
    pressure_pa: Annotated[float, "½ρv², Pa"]
    force_n: Annotated[float, "level push, N"]
    lean_deg: Annotated[float, "how far the lines lean from plumb then, degrees"]
    pull_n: Annotated[float, "in all lines together, N"]
    more_share: Annotated[float, "how much more that is than the weight, as a share of it"]
    source: Annotated[str, "whose formula"] = WIND_SOURCE


def wind_pressure_pa(speed_m_s: float, *, density_kg_m3: float = AIR_DENSITY_KG_M3) -> float:
    """q = ½ρv² (EN 1991-1-4, eq. 4.10 without its site factors)."""
    return 0.5 * density_kg_m3 * speed_m_s**2


def wind_on_hung(
    *,
    weight_n: float,
    area_m2: float,
    gust_speed_m_s: float,
    force_coefficient: float = FORCE_COEFFICIENT,
) -> FlownWind:
    """Push and lean of a box of this weight (everything that hangs), area seen by the wind."""
    pressure = wind_pressure_pa(gust_speed_m_s)
    force = force_coefficient * pressure * area_m2
    pull = float(np.hypot(weight_n, force))
    return FlownWind(
        gust_speed_m_s=gust_speed_m_s,
        density_kg_m3=AIR_DENSITY_KG_M3,
        force_coefficient=force_coefficient,
        area_m2=area_m2,
        pressure_pa=pressure,
        force_n=force,
        lean_deg=float(np.degrees(np.arctan2(force, weight_n))),
        pull_n=pull,
        more_share=pull / weight_n - 1.0,
    )

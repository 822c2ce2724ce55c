"""How a cabinet is declared to be held, as the scenario gives it.  The statics are in rigging/."""

from dataclasses import dataclass
from typing import Literal

Method = Literal["two points", "one point", "pull-back"]

DEFAULT_WLL_SHARE = 0.5
"""Half the marked working load limit over people: DGUV Information 215-313, Table 1."""


@dataclass(frozen=True)
class Rigging:
    """The declared rigging of one orientation.

    picks: names of the cabinet's picks; for "pull-back" the carrying one, then the pulled one
    extra_mass_kg: frame, hardware, cable
    extra_at_m: (u, w) where the extra mass acts, body axes as hung; None: the centre of gravity
    wll_share: share of a marked working load limit that may be used
    """

    method: Method
    picks: tuple[str, ...] = ()
    extra_mass_kg: float = 0.0
    extra_at_m: tuple[float, float] | None = None
    wll_share: float = DEFAULT_WLL_SHARE

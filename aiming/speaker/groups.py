"""How one loudspeaker goes with another: a fill with its main, a box hung under a box."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray
from .speaker import OneOrMany, Placement, Placements, Range

BEHIND_MS = 10.0
"""How far a fill arrives behind its main unless the file says otherwise: the low end of the 10 to
20 ms that handbooks of sound reinforcement give."""
CEILING_DB = 6.0
"""A fill is nowhere louder than its main by more than this, where the main is not hidden, unless
the file says otherwise: within the 5 to 7 dB by which, in published listening tests, a sound that
comes 15 to 35 ms later may be louder and still not be heard as the source."""
CHOSEN_GAIN_DB: Range = (-30.0, 12.0)
"""What a fill's gain is chosen from unless the file gives it."""


@dataclass(frozen=True)
class Fill:
    """A loudspeaker that is matched to another at a handover row.

    main: name of the other; handover_row: index into the scenario's rows, None where it follows
        from who serves what
    behind_ms: by how much its sound is to arrive after the main's there
    ceiling_db: how much louder than the main it may be at any row that the main is not hidden from
    gain_given, delay_given: whether the file fixes them: then they are judged, not found
    """

    main: str
    handover_row: int | None = None
    behind_ms: float = BEHIND_MS
    ceiling_db: float = CEILING_DB
    gain_given: bool = False
    delay_given: bool = False


@dataclass(frozen=True)
class HungUnder:
    """A loudspeaker fixed under another, turning with it.

    above: name of the other
    joint_m: (u, w) of the joint in the other's axes as hung; own_joint_m: the same point in its own
        axes as hung
    splay_deg: range of how much further nose-down it points: its tilt is the other's minus this
    """

    above: str
    joint_m: tuple[float, float]
    own_joint_m: tuple[float, float]
    splay_deg: Range

    @property
    def reach_m(self) -> float:
        """How far its acoustic centre can lie from the other's."""
        return float(np.hypot(*self.joint_m) + np.hypot(*self.own_joint_m))

    def offset_m(self, tilt_deg: npt.ArrayLike, splay_deg: npt.ArrayLike) -> FloatArray:
        """(…, 2) its acoustic centre from the other's, x and z, the other's tilt given (…)."""
        tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
        own = tilt - np.radians(np.asarray(splay_deg, dtype=np.float64))
        (u, w), (p, q) = self.joint_m, self.own_joint_m
        x = u * np.cos(tilt) - w * np.sin(tilt) - p * np.cos(own) + q * np.sin(own)
        z = u * np.sin(tilt) + w * np.cos(tilt) - p * np.sin(own) - q * np.cos(own)
        return np.stack(np.broadcast_arrays(x, z), axis=-1)

    def placement(self, above: Placement, *, flipped: bool) -> Placement:
        """Where it is when the other is there and holds it at its splay."""
        x, z = self.offset_m(above.tilt_deg, above.splay_deg).tolist()
        tilt_deg = above.tilt_deg - above.splay_deg
        return Placement(above.x_m + x, above.height_m + z, tilt_deg, flipped)

    def placements(self, above: OneOrMany, *, flipped: bool) -> Placements:
        """The same of as many places of the other."""
        offset = self.offset_m(above.tilt_deg, above.splay_deg)
        return Placements.of(
            above.x_m + offset[..., 0],
            above.height_m + offset[..., 1],
            np.asarray(above.tilt_deg) - above.splay_deg,
            flipped,
        )


@dataclass(frozen=True)
class Company:
    """Who goes with whom, by the name of the loudspeaker that follows.

    coherent: whether sums count the relative phase that path and delay bring
    reference_m: (x, z) on stage that arrivals are counted from; None where there is none
    all_at_once: whether placements and gains are chosen for the sum over all rows
    gain_range_db: by name, gains that the file leaves to choose
    """

    fills: dict[str, Fill] = field(default_factory=dict)
    hung_under: dict[str, HungUnder] = field(default_factory=dict)
    coherent: bool = False
    reference_m: tuple[float, float] | None = None
    all_at_once: bool = True
    gain_range_db: dict[str, Range] = field(default_factory=dict)

    @property
    def attached(self) -> bool:
        """Whether one loudspeaker's figures depend on where another is."""
        return bool(self.fills or self.hung_under or self.coherent)

    def under(self, name: str) -> str | None:
        """The loudspeaker that hangs under this one; None where none does."""
        return next((of for of, held in self.hung_under.items() if held.above == name), None)

"""A loudspeaker as the section sees it: pattern, output, cabinet, and where it may hang."""

from dataclasses import dataclass, field, replace
from typing import Annotated, Literal

import numpy as np
import numpy.typing as npt

from ..base.arrays import BoolArray, FloatArray, IntArray
from .cabinet import Cabinet
from .lobes import Lobe
from .pattern import Pattern

Mount = Literal["flown", "stacked"]
Orientation = Literal["upright", "flipped"]
RangeName = Literal["x_m", "vertical_m", "tilt_deg"]
Range = tuple[float, float]
"""(low, high); equal ends mean a fixed value."""


@dataclass(frozen=True)
class Placement:
    """Where one loudspeaker hangs.

    splay_deg: how much further nose-down a box hung under it points, where there is one
    """

    x_m: Annotated[float, "acoustic centre, m from the datum"]
    height_m: Annotated[float, "acoustic centre, m above the datum"]
    tilt_deg: Annotated[float, "elevation of the axis, degrees, positive up"]
    flipped: bool = False
    splay_deg: float = 0.0

    @property
    def orientation(self) -> Annotated[Orientation, "`upright` or `flipped`"]:
        """upright or flipped."""
        return "flipped" if self.flipped else "upright"

    @property
    def shape(self) -> tuple[int, ...]:
        """As of placements: it is one."""
        return ()

    def displaced(self, *, tilt_deg: float, height_m: float, x_m: float) -> "Placement":
        """That much off it."""
        return replace(
            self,
            tilt_deg=self.tilt_deg + tilt_deg,
            height_m=self.height_m + height_m,
            x_m=self.x_m + x_m,
        )

    def varied(
        self,
        *,
        height_m: FloatArray | None = None,
        tilt_deg: FloatArray | None = None,
    ) -> "Placements":
        """As many as these arrays give, alike in the rest."""
        return Placements.of(
            self.x_m,
            self.height_m if height_m is None else height_m,
            self.tilt_deg if tilt_deg is None else tilt_deg,
            self.flipped,
            self.splay_deg,
        )


@dataclass(frozen=True, eq=False)
class Placements:
    """Where one loudspeaker could hang: the fields of a placement as arrays.

    They broadcast to one shape (…): what is alike in all of them need not be repeated, and what
    walls hide is then worked out once.
    """

    x_m: FloatArray
    height_m: FloatArray
    tilt_deg: FloatArray
    flipped: BoolArray
    splay_deg: FloatArray

    @classmethod
    def of(
        cls,
        x_m: npt.ArrayLike,
        height_m: npt.ArrayLike,
        tilt_deg: npt.ArrayLike,
        flipped: npt.ArrayLike = False,
        splay_deg: npt.ArrayLike = 0.0,
    ) -> "Placements":
        """From numbers and arrays."""
        return cls(
            np.asarray(x_m, dtype=np.float64),
            np.asarray(height_m, dtype=np.float64),
            np.asarray(tilt_deg, dtype=np.float64),
            np.asarray(flipped, dtype=np.bool_),
            np.asarray(splay_deg, dtype=np.float64),
        )

    @property
    def shape(self) -> tuple[int, ...]:
        """(…) of all of them."""
        fields = (self.x_m, self.height_m, self.tilt_deg, self.flipped, self.splay_deg)
        return np.broadcast_shapes(*(of.shape for of in fields))

    def displaced(self, *, tilt_deg: float, height_m: float, x_m: float) -> "Placements":
        """That much off them."""
        return replace(
            self,
            tilt_deg=self.tilt_deg + tilt_deg,
            height_m=self.height_m + height_m,
            x_m=self.x_m + x_m,
        )

    def at(self, index: int) -> Placement:
        """One out of (n,)."""
        shape = self.shape
        return Placement(
            x_m=float(np.broadcast_to(self.x_m, shape)[index]),
            height_m=float(np.broadcast_to(self.height_m, shape)[index]),
            tilt_deg=float(np.broadcast_to(self.tilt_deg, shape)[index]),
            flipped=bool(np.broadcast_to(self.flipped, shape)[index]),
            splay_deg=float(np.broadcast_to(self.splay_deg, shape)[index]),
        )

    def pick(self, which: IntArray | BoolArray) -> "Placements":
        """These out of (n,); the one place that all hang at stays one."""
        shape = self.shape

        def picked(of: FloatArray) -> FloatArray:
            return of if of.ndim == 0 else np.broadcast_to(of, shape)[which]

        return Placements(
            x_m=picked(self.x_m),
            height_m=picked(self.height_m),
            tilt_deg=np.broadcast_to(self.tilt_deg, shape)[which],
            flipped=np.broadcast_to(self.flipped, shape)[which],
            splay_deg=picked(self.splay_deg),
        )


OneOrMany = Placement | Placements


@dataclass(frozen=True)
class Hang:
    """What the placement leaves to choose.

    vertical: "height" (z of the acoustic centre) or "trim" (z of the cabinet's lowest point)
    vertical_m: the range of that; a stack's base is a trim with equal ends
    """

    mount: Mount = "flown"
    x_m: Range = (0.0, 0.0)
    vertical: Literal["height", "trim"] = "height"
    vertical_m: Range = (0.0, 0.0)
    tilt_deg: Range = (-90.0, 90.0)
    orientations: tuple[Orientation, ...] = ("upright",)

    def with_range(self, name: RangeName, ends: Range) -> "Hang":
        """The same with another range of this name."""
        return replace(
            self,
            x_m=ends if name == "x_m" else self.x_m,
            vertical_m=ends if name == "vertical_m" else self.vertical_m,
            tilt_deg=ends if name == "tilt_deg" else self.tilt_deg,
        )

    @property
    def fixed(self) -> bool:
        """Whether nothing is left to choose."""
        ranges = (self.x_m, self.vertical_m, self.tilt_deg)
        return len(self.orientations) == 1 and all(low == high for low, high in ranges)


DOUBT_PERCENT = 10.0
"""How far a data sheet's coverage angle may be off unless the file says: our own, no source."""


@dataclass(frozen=True)
class Nominal:
    """What a data sheet says of a pattern, and what is assumed with it.

    above_deg, below_deg: half-angles, as built
    control_from_hz: below it both grow; None where they never do
    control_height_m: of horn or cabinet, where control_from_hz is estimated from it
    doubt_percent: how far the coverage angle may be off, in % of it
    """

    above_deg: float
    below_deg: float
    lobe: Lobe
    lowest_db: float
    control_from_hz: float | None = None
    control_height_m: float | None = None
    doubt_percent: float = DOUBT_PERCENT


@dataclass(frozen=True, eq=False)
class Speaker:
    """One loudspeaker.

    pattern: as built, over every band that is reported: the design bands first, then the others
    offset_db: (bands,) sensitivity + gain + eq, in the pattern's band order; NaN where sensitivity
        is given by band, but not for this one
    serves: indices of the seatings that it must serve
    coverage_only: True where only a coverage angle is known and the lobe's shape is assumed
    max_level_db: at 1 m on axis as given: one number for the whole signal, or one by band
    tone_hz: bands of interest for tone, ascending, all of them in the pattern
    sensitivity_db: as given, one number or by band; None where it is not
    nominal: the data-sheet figures of a coverage-only pattern
    """

    name: str
    pattern: Pattern
    offset_db: FloatArray
    serves: tuple[int, ...]
    hang: Hang
    cabinet: Cabinet | None = None
    delay_ms: float = 0.0
    gain_db: float = 0.0
    eq_db: dict[float, float] = field(default_factory=dict)
    max_level_db: float | dict[float, float] | None = None
    coverage_only: bool = False
    tone_hz: tuple[float, ...] = ()
    sensitivity_db: float | dict[float, float] | None = None
    nominal: Nominal | None = None

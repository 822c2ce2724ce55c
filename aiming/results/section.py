"""What a picture of the section shows: its extent, coverage edges, curves by row, levels."""

from dataclasses import dataclass, field

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Extent:
    """A part of the section, in metres."""

    x_from: float
    x_to: float
    z_from: float
    z_to: float

    @property
    def width_m(self) -> float:
        """Along x."""
        return self.x_to - self.x_from

    @property
    def height_m(self) -> float:
        """Along z."""
        return self.z_to - self.z_from

    def widened(self, ratio: float) -> "Extent":
        """The same, grown to a ratio of width to height; upwards, and to both sides."""
        width = max(self.width_m, self.height_m * ratio)
        height = max(self.height_m, self.width_m / ratio)
        middle = 0.5 * (self.x_from + self.x_to)
        return Extent(middle - 0.5 * width, middle + 0.5 * width, self.z_from, self.z_from + height)

    def joined(self, other: "Extent") -> "Extent":
        """The smallest extent that holds both."""
        return Extent(
            min(self.x_from, other.x_from),
            max(self.x_to, other.x_to),
            min(self.z_from, other.z_from),
            max(self.z_to, other.z_to),
        )


@dataclass(frozen=True)
class Edges:
    """Elevation of the coverage edges above and below the axis (degrees, positive up), or None."""

    above_deg: float | None
    below_deg: float | None


@dataclass(frozen=True, eq=False)
class ServedCurve:
    """One loudspeaker alone: level_db (s,) design level about its mean over the rows it serves.

    rows: (s,) indices into the answer's rows
    """

    rows: IntArray
    level_db: FloatArray


@dataclass(frozen=True, eq=False)
class Curves:
    """All loudspeakers together.

    mean_db: weighted mean design level; NaN where no row's level is known
    design_db: (n,) design level minus that mean
    by_band_db: (bands, n) each band minus its own weighted mean
    complete: False where a row's level is unknown, so that the means leave it out
    further_hz, further_db: octaves of interest beside the design bands, likewise (bands, n)
    alone: each loudspeaker by itself
    """

    mean_db: float
    design_db: FloatArray
    by_band_db: FloatArray
    complete: bool
    further_hz: tuple[float, ...] = ()
    further_db: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))
    alone: dict[str, ServedCurve] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class LevelMap:
    """Design level of all loudspeakers together: direct sound, and what bends round the edges.

    x_m (w,), z_m (h,): the grid; design_level_db (h, w), by_band_db (bands, h, w): NaN where a
    pattern is unknown
    """

    x_m: FloatArray
    z_m: FloatArray
    design_level_db: FloatArray
    by_band_db: FloatArray


@dataclass(frozen=True, eq=False)
class ShadowLines:
    """Of one loudspeaker.

    lines_m: each (2, 2) from the edge that hides to between the last row seen and the first hidden
    hidden: (rows,) that it serves and does not see
    """

    lines_m: tuple[FloatArray, ...]
    hidden: BoolArray


@dataclass(frozen=True, eq=False)
class SectionMap:
    """What a drawn section needs beside the answer: levels over the section, shadows by name."""

    levels: LevelMap
    shadows: dict[str, ShadowLines]

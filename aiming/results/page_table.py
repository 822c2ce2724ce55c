"""Many placements of one loudspeaker, for a page that has no solver."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..base.arrays import FloatArray, IntArray
from ..rigging.loads import Loads
from ..speaker.pattern import Pattern
from ..speaker.speaker import Hang, Orientation, Range
from .section import LevelMap

if TYPE_CHECKING:
    from .answer import Caution


MOST_ROWS = 120
"""Rows drawn on the page; figures are over all of them."""


@dataclass(frozen=True, eq=False)
class Axes:
    """What can be moved.

    x_m: (xs,) ascending; tilt_deg: (tilts,) ascending, finest near the answer's; vertical_m:
        (heights,) ascending, heights of the acoustic centre or, where vertical is "trim", of the
        vertical limit's own point
    at_x, at_tilt, at_vertical: indices of the answer's own placement; orientation: the answer's
    tilt_given, vertical_given: whether the file fixes them, so that other values are only shown
    """

    x_m: FloatArray
    tilt_deg: FloatArray
    vertical: str
    vertical_m: FloatArray
    at_x: int
    at_tilt: int
    at_vertical: int
    orientation: Orientation
    tilt_given: bool
    vertical_given: bool

    @property
    def own(self) -> tuple[int, int, int]:
        """The answer's own placement in shapes that end in (xs, heights, tilts)."""
        return self.at_x, self.at_vertical, self.at_tilt

    def hang(self, hang: Hang) -> Hang:
        """The placement left as open as this lattice is."""
        ends = [(float(of[0]), float(of[-1])) for of in (self.x_m, self.vertical_m, self.tilt_deg)]
        return replace(hang, x_m=ends[0], vertical_m=ends[1], tilt_deg=ends[2])


@dataclass(frozen=True, eq=False)
class Turned:
    """One loudspeaker in one orientation over its lattice; shapes end in (xs, heights, tilts).

    edges_deg: off-axis angle of the coverage edges below and above the axis, None where unknown
    height_m, trim_m, throw_m: throw is NaN where the axis meets no served plane
    aim_row: index into the answer's rows, −1 for none
    line_m: (points, …) distance of the uniform-level line at equal steps of off-axis angle
    line_end_deg: the off-axis angle at which it ends
    shadow_db: (bands, rows, xs, heights, tilts, or 1 where it is alike at all of them) what walls
        take; None where nothing hides any row
    loads: [x][height][tilt], None where nothing could be computed
    cautions: the distinct lists of cautions; caution_list: which of them holds
    """

    orientation: Orientation
    edges_deg: tuple[float | None, float | None]
    height_m: FloatArray
    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
    line_m: FloatArray
    line_end_deg: FloatArray
    shadow_db: FloatArray | None
    loads: tuple[tuple[tuple[Loads | None, ...], ...], ...]
    cautions: "tuple[tuple[Caution, ...], ...]"
    caution_list: IntArray


@dataclass(frozen=True, eq=False)
class Lattice:
    """One loudspeaker: what can be moved, what comes of it, and what its levels are made of.

    pattern: as built, in the design bands; offset_db: (bands,), without the gain
    air_m, air_db: (k,) distances and (bands, k) what the air takes there, straight in between
    gain_db, delay_ms: the answer's, as the page begins with them
    gain_range_db, delay_range_ms: what may be chosen; None where the file fixes it
    """

    name: str
    axes: Axes
    turned: tuple[Turned, ...]
    pattern: Pattern
    offset_db: FloatArray
    air_m: FloatArray
    air_db: FloatArray
    gain_db: float
    delay_ms: float
    gain_range_db: Range | None
    delay_range_ms: Range | None


@dataclass(frozen=True, eq=False)
class PageTable:
    """What the page that travels shows: every loudspeaker's lattice, and the map of the own aim."""

    lattices: tuple[Lattice, ...]
    levels: LevelMap

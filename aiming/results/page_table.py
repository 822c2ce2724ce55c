"""Many placements of one loudspeaker, for a page that has no solver."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ..base.arrays import FloatArray, IntArray
from ..rigging.loads import Loads
from ..speaker.speaker import Hang, Orientation

if TYPE_CHECKING:
    from .answer import Caution


MOST_ROWS = 120
"""Rows drawn on the page; figures are over all of them."""


@dataclass(frozen=True, eq=False)
class Axes:
    """What can be moved.

    tilt_deg: (tilts,) ascending; vertical_m: (heights,) ascending, heights of the acoustic centre
        or, where vertical is "trim", of the vertical limit's own point
    at_tilt, at_vertical: indices of the answer's own placement; orientation: the answer's
    tilt_given, vertical_given: whether the file fixes them, so that other values are only shown
    """

    tilt_deg: FloatArray
    vertical: str
    vertical_m: FloatArray
    at_tilt: int
    at_vertical: int
    orientation: Orientation
    tilt_given: bool
    vertical_given: bool

    def hang(self, hang: Hang) -> Hang:
        """The placement left as open as this lattice is."""
        vertical = float(self.vertical_m[0]), float(self.vertical_m[-1])
        tilt = float(self.tilt_deg[0]), float(self.tilt_deg[-1])
        return replace(hang, vertical_m=vertical, tilt_deg=tilt)


@dataclass(frozen=True, eq=False)
class Heard:
    """Levels and figures; channel 0 is the design level, the others are the design bands.

    rows: (n,) indices into the answer's rows
    level_db: (channels, n, heights, tilts) about the channel's own weighted mean
    mean_db, spread_db: (channels, …); loudest, softest: the same shape, indices into the answer's
        rows, −1 where a level is unknown
    worst_band_spread_db, deviation_db, within_percent: (…)
    NaN where unknown.
    """

    rows: IntArray
    level_db: FloatArray
    mean_db: FloatArray
    spread_db: FloatArray
    loudest: IntArray
    softest: IntArray
    worst_band_spread_db: FloatArray
    deviation_db: FloatArray
    within_percent: FloatArray


@dataclass(frozen=True, eq=False)
class Turned:
    """One loudspeaker in one orientation over its lattice; shapes end in (heights, tilts).

    edges_deg: off-axis angle of the coverage edges below and above the axis, None where unknown
    height_m, trim_m, throw_m: throw is NaN where the axis meets no served plane
    aim_row: index into the answer's rows, −1 for none
    aim_db: design level at the aim point, about the mean over the rows that it serves
    line_m: (points, …) distance of the uniform-level line at equal steps of off-axis angle
    line_end_deg: the off-axis angle at which it ends
    alone: over the rows that it serves; together: all loudspeakers, all rows, where there are more
    loads: [height][tilt], None where nothing could be computed
    cautions: the distinct lists of cautions; caution_list: which of them holds
    """

    orientation: Orientation
    edges_deg: tuple[float | None, float | None]
    height_m: FloatArray
    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
    aim_db: FloatArray
    line_m: FloatArray
    line_end_deg: FloatArray
    alone: Heard
    together: Heard | None
    loads: tuple[tuple[Loads | None, ...], ...]
    cautions: "tuple[tuple[Caution, ...], ...]"
    caution_list: IntArray


@dataclass(frozen=True, eq=False)
class Lattice:
    """One loudspeaker: what can be moved, and what comes of it in each orientation."""

    name: str
    axes: Axes
    turned: tuple[Turned, ...]

"""What an answer says of the sound beside the design level: tone, absolute level, other lobes.

Each knows how it stands in the answer's dictionary; arrays and NaN are made plain there.
"""

from dataclasses import dataclass
from typing import Any

from ..base.arrays import FloatArray, IntArray
from ..speaker.lobes import Lobe
from ..speaker.output import PROGRAMME_SOURCES, Programme, Weighting
from ..speaker.speaker import Nominal


@dataclass(frozen=True, eq=False)
class Tone:
    """How one loudspeaker's tone changes over the rows that it serves.

    bands_hz: (b,) the bands of interest, ascending
    row: (s,) indices into the answer's rows
    relative_db: (b, s) level re the aim point, NaN where unknown or where there is no aim point
    change_db: (s,) highest band against lowest, both re the aim point: negative sounds duller
    worst_change_db: the largest of their magnitudes, worst_row where that is; None where one is
        unknown
    range_db: largest minus smallest of highest band against lowest over the rows, aim point or not
    """

    bands_hz: tuple[float, ...]
    row: IntArray
    relative_db: FloatArray
    change_db: FloatArray
    worst_change_db: float | None
    worst_row: int | None
    range_db: float | None

    @property
    def low_hz(self) -> float:
        """The lowest band of interest."""
        return self.bands_hz[0]

    @property
    def high_hz(self) -> float:
        """The highest band of interest."""
        return self.bands_hz[-1]

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return {
            "bands": self.bands_hz,
            "low_hz": self.low_hz,
            "high_hz": self.high_hz,
            "worst_change_db": self.worst_change_db,
            "worst_row": self.worst_row,
            "range_db": self.range_db,
            "rows": [
                {
                    "row": int(row),
                    "relative_db": dict(zip(self.bands_hz, map(float, level), strict=True)),
                    "change_db": float(change),
                }
                for row, level, change in zip(
                    self.row, self.relative_db.T, self.change_db, strict=True
                )
            ],
        }


@dataclass(frozen=True, eq=False)
class Played:
    """Absolute levels at the rows when the loudspeaker plays the programme, driven one way.

    bands_hz: (b,) the bands that are summed: those of the programme whose pattern and output are
        known
    levels_db: (b, n) at every row of the scenario; total_db, a_db: (n,) their sums, weighted as the
        target is and A-weighted
    softest, loudest: index of the row, among those that it serves; None where a level is unknown
    limited_by_hz: the band that reaches its greatest level first
    headroom_db: total at the softest row less the target
    needed_w: power that gives the target there
    """

    bands_hz: tuple[float, ...]
    levels_db: FloatArray
    total_db: FloatArray
    a_db: FloatArray
    softest: int | None
    loudest: int | None
    limited_by_hz: float | None = None
    headroom_db: float | None = None
    needed_w: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""

        def at(row: int | None) -> dict[str, Any] | None:
            if row is None:
                return None
            return {
                "row": row,
                "level_db": float(self.total_db[row]),
                "a_weighted_db": float(self.a_db[row]),
                "levels_db": dict(
                    zip(self.bands_hz, map(float, self.levels_db[:, row]), strict=True)
                ),
            }

        return {
            "bands": self.bands_hz,
            "softest": at(self.softest),
            "loudest": at(self.loudest),
            "limited_by_hz": self.limited_by_hz,
            "headroom_db": self.headroom_db,
            "needed_w": self.needed_w,
        }


@dataclass(frozen=True, eq=False)
class Loudness:
    """What one loudspeaker alone gives with a named programme.

    missing_hz: bands of the programme that are left out of the sums, their pattern or output being
        unknown
    one_watt: with 1 W of the programme before gain and equaliser; None without a sensitivity
    greatest: driven to its greatest level; None without one
    """

    programme: Programme
    weighting: Weighting
    target_db: float | None
    missing_hz: tuple[float, ...]
    one_watt: Played | None
    greatest: Played | None

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return {
            "programme": self.programme,
            "source": PROGRAMME_SOURCES[self.programme],
            "weighting": self.weighting,
            "target_db": self.target_db,
            "missing_bands": self.missing_hz,
            "one_watt": None if self.one_watt is None else self.one_watt.to_dict(),
            "greatest": None if self.greatest is None else self.greatest.to_dict(),
        }


@dataclass(frozen=True)
class LobeAnswer:
    """Had the lobe this shape: the spread of the placement taken, and the best tilt there.

    best_tilt_deg, best_spread_db: of a scan over the tilts, not proven; None where none is allowed
    """

    lobe: Lobe
    spread_db: float | None
    best_tilt_deg: float | None
    best_spread_db: float | None


@dataclass(frozen=True)
class LobeFamily:
    """Every shape of lobe that fits the data sheet, so that figures are read as ranges."""

    nominal: Nominal
    lobes: tuple[LobeAnswer, ...]

    @property
    def spread_db(self) -> tuple[float, float] | None:
        """Least and largest spread of the placement taken."""
        return _range([one.spread_db for one in self.lobes])

    @property
    def best_spread_db(self) -> tuple[float, float] | None:
        """Least and largest of the best spreads at this place."""
        return _range([one.best_spread_db for one in self.lobes])

    @property
    def best_tilt_deg(self) -> tuple[float, float] | None:
        """Lowest and highest of the best tilts at this place."""
        return _range([one.best_tilt_deg for one in self.lobes])

    def to_dict(self) -> dict[str, Any]:
        """Under the answer's names."""
        return {
            "assumed": self.nominal.lobe,
            "coverage_deg": {
                "above": self.nominal.above_deg,
                "below": self.nominal.below_deg,
            },
            "control_from_hz": self.nominal.control_from_hz,
            "control_height_m": self.nominal.control_height_m,
            "spread_db": self.spread_db,
            "best_spread_db": self.best_spread_db,
            "best_tilt_deg": self.best_tilt_deg,
            "lobes": [dict(vars(one)) for one in self.lobes],
        }


def _range(values: list[float | None]) -> tuple[float, float] | None:
    """Least and largest, or None where one is unknown."""
    known = [value for value in values if value is not None]
    return (min(known), max(known)) if known and len(known) == len(values) else None

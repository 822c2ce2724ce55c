"""What was found on site: the same names in Python and in JSON."""

from dataclasses import dataclass
from typing import Any

from ..base.arrays import FloatArray
from ..geometry.section import Rows
from ..results.serialise import known, plain
from ..speaker.speaker import Placement
from .judge import StandsOut


@dataclass(frozen=True)
class Interval:
    """A value with its 90 % interval."""

    value: float
    low: float
    high: float

    @classmethod
    def about(cls, value: float, half: float) -> "Interval":
        return cls(float(value), float(value - half), float(value + half))

    @property
    def half(self) -> float:
        """Half of its width."""
        return 0.5 * (self.high - self.low)

    def less(self, plan: float) -> "Interval":
        """The departure from a planned value."""
        return Interval(self.value - plan, self.low - plan, self.high - plan)

    def holds(self, value: float) -> bool:
        """Whether the value lies in the interval."""
        return self.low <= value <= self.high

    def to_dict(self) -> dict[str, float]:
        """value, low, high."""
        return {"value": self.value, "low": self.low, "high": self.high}


@dataclass(frozen=True)
class ReadingFound:
    """What one reading by itself says: degrees of tilt or metres of height."""

    text: str
    tilt_deg: Interval | None
    height_m: Interval | None


@dataclass(frozen=True)
class PositionFound:
    """Levels at one position by band.

    predicted_db, found_db: by the plan, and for what was found to hang; both shifted per band by
    what brings them nearest to the measured levels, since every band has its own unknown gain
    """

    name: str
    x_m: float
    z_m: float
    distance_m: float
    off_axis_deg: float
    measured_db: dict[float, float | None]
    predicted_db: dict[float, float | None]
    found_db: dict[float, float | None]


@dataclass(frozen=True)
class Coverage:
    """How even the audience hears this loudspeaker alone, over the rows that it serves."""

    spread_db: float | None
    rows_within_3db_percent: float | None


@dataclass(frozen=True, eq=False)
class Found:
    """One loudspeaker, held against what was measured.

    tilt_error_deg, height_error_m: hung minus planned; from the readings where they tell it,
        otherwise from the levels; None where neither does
    pattern_scale: how much wider the real pattern is than its data, as a factor
    levels_tilt_error_deg: what the levels alone say of the tilt
    confirmed: whether the levels agree with a tilt that was read; None without both
    explained: whether aim and gain explain the levels; None where too few positions could tell
    hung: where it hangs, as far as known; corrected: where it should; None without a correction
    now, after, planned_coverage: over the rows, as it hangs, corrected, and as planned
    points: the microphones; rows, served rows of the audience
    """

    title: str
    datum: str
    speaker: str
    bands_hz: tuple[float, ...]
    site_db: float
    band_db: float
    plan: Placement
    tilt_error_deg: Interval | None
    height_error_m: Interval | None
    pattern_scale: Interval | None
    levels_tilt_error_deg: Interval | None
    confirmed: bool | None
    explained: bool | None
    stands_out: tuple[StandsOut, ...]
    hung: Placement | None
    corrected: Placement | None
    planned_coverage: Coverage
    now: Coverage
    after: Coverage
    advice: str
    positions: tuple[PositionFound, ...]
    readings: tuple[ReadingFound, ...]
    notes: tuple[str, ...]
    rows: Rows

    @property
    def spread_now_db(self) -> float | None:
        """Of the design level over the rows served, as it hangs."""
        return self.now.spread_db

    @property
    def spread_corrected_db(self) -> float | None:
        """The same after the correction."""
        return self.after.spread_db

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""

        def interval(one: Interval | None) -> dict[str, float] | None:
            return None if one is None else one.to_dict()

        return {
            "tilt_error_deg": interval(self.tilt_error_deg),
            "height_error_m": interval(self.height_error_m),
            "pattern_scale": interval(self.pattern_scale),
            "explained": self.explained,
            "spread_now_db": self.spread_now_db,
            "spread_corrected_db": self.spread_corrected_db,
            "advice": self.advice,
            "positions": positions_dict(self.positions),
            "speaker": self.speaker,
            "levels_tilt_error_deg": interval(self.levels_tilt_error_deg),
            "confirmed": self.confirmed,
            "spread_planned_db": self.planned_coverage.spread_db,
            "rows_within_3db_percent": {
                "planned": self.planned_coverage.rows_within_3db_percent,
                "now": self.now.rows_within_3db_percent,
                "corrected": self.after.rows_within_3db_percent,
            },
            "planned": _placement(self.plan),
            "hung": _placement(self.hung),
            "corrected": _placement(self.corrected),
            "stands_out": [
                {
                    "position": one.position,
                    "band_hz": one.band_hz,
                    "left_db": one.left_db,
                }
                for one in self.stands_out
            ],
            "readings": [
                {
                    "text": one.text,
                    "tilt_deg": interval(one.tilt_deg),
                    "height_m": interval(one.height_m),
                }
                for one in self.readings
            ],
            "notes": list(self.notes),
        }


def positions_dict(found: tuple[PositionFound, ...]) -> list[dict[str, Any]]:
    """Positions ready for JSON."""
    return [
        {
            "name": one.name,
            "measured_db": plain(one.measured_db),
            "predicted_db": plain(one.predicted_db),
            "found_db": plain(one.found_db),
            "x_m": one.x_m,
            "z_m": one.z_m,
            "distance_m": one.distance_m,
            "off_axis_deg": one.off_axis_deg,
        }
        for one in found
    ]


def _placement(one: Placement | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "x_m": float(one.x_m),
        "height_m": float(one.height_m),
        "tilt_deg": float(one.tilt_deg),
        "orientation": one.orientation,
    }


def by_band(bands_hz: tuple[float, ...], levels_db: FloatArray) -> dict[float, float | None]:
    """Levels (bands,) under their bands; None where unknown."""
    return {band: known(level) for band, level in zip(bands_hz, levels_db, strict=True)}

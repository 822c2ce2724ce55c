"""The answer: the same names in Python and in JSON.  Inside, rows are arrays.

Every figure is in the unit of its name; an unknown figure is None, never NaN or infinite.
"""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from ..arrays import FloatArray
from ..bands import band_key
from ..speaker.speaker import Mount, Orientation, Placement
from .company import Adds, Match, Pair
from .in_room import InRoom
from .misses import Misses
from .sound import LobeFamily, Loudness, Tone
from .tolerated import Tolerated

Severity = Literal["stop", "caution", "note"]
SCHEMA = 1


@dataclass(frozen=True)
class Caution:
    """One thing that a careful colleague would say.

    code: stable, with dashes; value, limit: in unit, None where there is no figure
    speaker: which loudspeaker it is about, None for the whole scenario
    """

    code: str
    severity: Severity
    text: str
    value: float | None = None
    unit: str | None = None
    limit: float | None = None
    speaker: str | None = None


@dataclass(frozen=True)
class Best:
    """The best there is in the ranges, whatever is taken in the end."""

    objective_db: float
    x_m: float
    height_m: float
    tilt_deg: float
    orientation: Orientation


@dataclass(frozen=True)
class Window:
    """At this place, the tilts (and at this tilt, the heights) that cost at most within_db more."""

    tilt_deg: tuple[float, float]
    height_m: tuple[float, float]
    within_db: float


@dataclass(frozen=True)
class Shortcut:
    """The common practice to compare with: same place, axis at the farthest seating's last row."""

    tilt_deg: float
    spread_db: float | None


@dataclass(frozen=True)
class BandFigures:
    """One band over the rows: loudest and softest are indices into the answer's rows."""

    spread_db: float | None
    loudest: int | None
    softest: int | None


@dataclass(frozen=True, eq=False)
class UniformLine:
    """points_m: (n, 2) from the aim point to the coverage edge; edge: its end there, or None."""

    points_m: FloatArray
    edge: tuple[float, float] | None


@dataclass(frozen=True)
class CheckPosition:
    """A microphone position that tells something about the hang.

    levels_db: per band relative to the first position; level_per_degree_db: what a degree of tilt
    does to the design level there
    """

    name: str
    x_m: float
    z_m: float
    distance_m: float
    off_axis_deg: float
    levels_db: dict[float, float | None]
    level_per_degree_db: float | None = None
    reason: str = ""


@dataclass(frozen=True, eq=False)
class SpeakerAnswer:
    """One loudspeaker alone, over the rows that it serves."""

    name: str
    mount: Mount
    orientation: Orientation
    x_m: float
    height_m: float
    trim_m: float
    tilt_deg: float
    aim_point: tuple[float, float] | None
    aim_seating: str | None
    aim_row: int | None
    spread_db: float | None
    worst_band_spread_db: float | None
    deviation_db: float | None
    rows_within_3db_percent: float | None
    best: Best | None
    gap_db: float | None
    limited_by: tuple[str, ...]
    window: Window | None
    shortcut: Shortcut
    by_band: dict[float, BandFigures]
    uniform_line: UniformLine | None
    check_positions: tuple[CheckPosition, ...] = ()
    loads: dict[str, Any] | None = None
    stack: dict[str, Any] | None = None
    tone: Tone | None = None
    output: Loudness | None = None
    lobe_family: LobeFamily | None = None
    gain_db: float = 0.0
    delay_ms: float = 0.0
    match: Match | None = None
    adds: Adds | None = None
    pair: Pair | None = None
    hung_under: str | None = None
    tolerance: Tolerated | None = None
    room: InRoom | None = None
    misses: Misses | None = None

    @property
    def placement(self) -> Placement:
        """Where it is, and the splay of what hangs under it."""
        splay = 0.0 if self.pair is None else self.pair.splay_deg
        return Placement(
            self.x_m, self.height_m, self.tilt_deg, self.orientation == "flipped", splay
        )


@dataclass(frozen=True, eq=False)
class SpeakerRows:
    """One loudspeaker at every row, whatever it serves.

    distance_m, off_axis_deg, departure_db, departure_m: (n,); levels_db, shadow_db: (bands, n)
    arrival_ms: (n,) its delay and the way; after_reference_ms: after sound from the time reference
    after_main_ms, re_main_db: (n,) of a fill, its time and design level against its main's
    """

    distance_m: FloatArray
    off_axis_deg: FloatArray
    levels_db: FloatArray
    shadow_db: FloatArray
    departure_db: FloatArray
    departure_m: FloatArray
    arrival_ms: FloatArray | None = None
    after_reference_ms: FloatArray | None = None
    after_main_ms: FloatArray | None = None
    re_main_db: FloatArray | None = None

    def further(self) -> dict[str, FloatArray]:
        """What of time and level against others is known, by its name."""
        names = ("arrival_ms", "after_reference_ms", "after_main_ms", "re_main_db")
        return {name: of for name in names if (of := getattr(self, name)) is not None}


@dataclass(frozen=True, eq=False)
class RowsAnswer:
    """All loudspeakers together at every row: z_m of the ear; levels_db (bands, n)."""

    name: tuple[str, ...]
    seating: tuple[str, ...]
    x_m: FloatArray
    z_m: FloatArray
    levels_db: FloatArray
    design_level_db: FloatArray
    by_speaker: dict[str, SpeakerRows]

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True)
class Together:
    """All loudspeakers, all rows."""

    spread_db: float | None
    worst_band_spread_db: float | None
    by_band: dict[float, BandFigures]
    rows_within_3db_percent: float | None = None
    summed: Literal["power", "coherent"] = "power"


@dataclass(frozen=True, eq=False)
class Answer:
    """What a scenario comes to."""

    version: str
    title: str
    bands_hz: tuple[float, ...]
    speakers: tuple[SpeakerAnswer, ...]
    together: Together | None
    rows: RowsAnswer
    cautions: tuple[Caution, ...]
    schema: int = SCHEMA
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def stopped(self) -> bool:
        """Whether a caution of severity stop stands."""
        return any(caution.severity == "stop" for caution in self.cautions)

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings under the contract's names, ready for JSON."""
        return {
            "schema": self.schema,
            "version": self.version,
            "title": self.title,
            "speakers": [_speaker_dict(one) for one in self.speakers],
            "together": None if self.together is None else _together_dict(self.together),
            "rows": _rows_list(self.rows, self.bands_hz),
            "cautions": [
                {
                    "code": one.code,
                    "severity": one.severity,
                    "text": one.text,
                    "value": one.value,
                    "unit": one.unit,
                    "limit": one.limit,
                    "speaker": one.speaker,
                }
                for one in self.cautions
            ],
            **{name: plain(value) for name, value in self.extra.items()},
        }


def known(value: float | np.floating[Any] | FloatArray) -> float | None:
    """A number, or an array () of one, as a float; None for NaN and infinity."""
    number = float(value)
    return number if np.isfinite(number) else None


def plain(value: Any) -> Any:
    """Arrays, tuples and numpy numbers as lists and Python numbers; NaN and infinity as None."""
    if isinstance(value, dict):
        return {
            band_key(key) if isinstance(key, float) else str(key): plain(of)
            for key, of in value.items()
        }
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return known(value)
    if isinstance(value, np.integer):
        return int(value)
    return value


def _by_band(figures: dict[float, BandFigures]) -> dict[str, Any]:
    return {
        band_key(band): {
            "spread_db": one.spread_db,
            "loudest": one.loudest,
            "softest": one.softest,
        }
        for band, one in figures.items()
    }


def _together_dict(together: Together) -> dict[str, Any]:
    return {
        "spread_db": together.spread_db,
        "worst_band_spread_db": together.worst_band_spread_db,
        "by_band": _by_band(together.by_band),
        "rows_within_3db_percent": together.rows_within_3db_percent,
        "sum": together.summed,
    }


def _speaker_dict(one: SpeakerAnswer) -> dict[str, Any]:
    line = one.uniform_line
    return {
        "name": one.name,
        "mount": one.mount,
        "orientation": one.orientation,
        "x_m": one.x_m,
        "height_m": one.height_m,
        "trim_m": one.trim_m,
        "tilt_deg": one.tilt_deg,
        "aim_point": plain(one.aim_point),
        "aim_seating": one.aim_seating,
        "aim_row": one.aim_row,
        "spread_db": one.spread_db,
        "worst_band_spread_db": one.worst_band_spread_db,
        "deviation_db": one.deviation_db,
        "rows_within_3db_percent": one.rows_within_3db_percent,
        "best": None if one.best is None else dict(vars(one.best)),
        "gap_db": one.gap_db,
        "limited_by": list(one.limited_by),
        "window": None
        if one.window is None
        else {
            "tilt_deg": plain(one.window.tilt_deg),
            "height_m": plain(one.window.height_m),
            "within_db": one.window.within_db,
        },
        "shortcut": dict(vars(one.shortcut)),
        "by_band": _by_band(one.by_band),
        "uniform_line": None
        if line is None
        else {"points": plain(line.points_m), "edge": plain(line.edge)},
        "check_positions": [
            {
                "name": position.name,
                "x_m": position.x_m,
                "z_m": position.z_m,
                "distance_m": position.distance_m,
                "off_axis_deg": position.off_axis_deg,
                "levels_db": plain(position.levels_db),
                "level_per_degree_db": position.level_per_degree_db,
                "reason": position.reason,
            }
            for position in one.check_positions
        ],
        "loads": plain(one.loads),
        "stack": plain(one.stack),
        "tone": None if one.tone is None else plain(one.tone.to_dict()),
        "output": None if one.output is None else plain(one.output.to_dict()),
        "lobe_family": None if one.lobe_family is None else plain(one.lobe_family.to_dict()),
        "tolerance": None if one.tolerance is None else plain(dict(vars(one.tolerance))),
        "gain_db": one.gain_db,
        "delay_ms": one.delay_ms,
        "match": None if one.match is None else plain(one.match.to_dict()),
        "adds": None if one.adds is None else plain(one.adds.to_dict()),
        "pair": None if one.pair is None else plain(one.pair.to_dict()),
        "hung_under": one.hung_under,
        "room": None if one.room is None else plain(one.room.to_dict()),
        "reflections": None if one.misses is None else plain(one.misses.reflections_list()),
        "lands_percent": None if one.misses is None else plain(one.misses.lands_dict()),
    }


def _rows_list(rows: RowsAnswer, bands_hz: tuple[float, ...]) -> list[dict[str, Any]]:
    keys = [band_key(band) for band in bands_hz]

    def by_band(table: FloatArray, row: int) -> dict[str, float | None]:
        return {key: known(level) for key, level in zip(keys, table[:, row], strict=True)}

    return [
        {
            "name": rows.name[row],
            "seating": rows.seating[row],
            "x_m": float(rows.x_m[row]),
            "z_m": float(rows.z_m[row]),
            "levels_db": by_band(rows.levels_db, row),
            "design_level_db": known(rows.design_level_db[row]),
            "by_speaker": {
                name: {
                    "distance_m": float(one.distance_m[row]),
                    "off_axis_deg": float(one.off_axis_deg[row]),
                    "levels_db": by_band(one.levels_db, row),
                    "shadow_db": by_band(one.shadow_db, row),
                    "departure_db": known(one.departure_db[row]),
                    "departure_m": known(one.departure_m[row]),
                    **{of: known(table[row]) for of, table in one.further().items()},
                }
                for name, one in rows.by_speaker.items()
            },
        }
        for row in range(len(rows))
    ]

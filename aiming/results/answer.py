"""The answer: the same names in Python and in JSON.  Inside, rows are arrays.

Every figure is in the unit of its name; an unknown figure is None, never NaN or infinite.
"""

from dataclasses import dataclass
from typing import Any, Literal

from ..analysis.clearances import InRoom
from ..analysis.reflections import Misses
from ..analysis.tolerance import Tolerated
from ..base.arrays import FloatArray
from ..scenario.scenario import Scenario
from ..speaker.speaker import Mount, Orientation, Placement
from .explanation import Explanation
from .groups import Adds, Match, Pair
from .sound import LobeFamily, Loudness, Tone

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

    @property
    def points(self) -> FloatArray:
        """points_m under the name that it has in JSON."""
        return self.points_m


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


@dataclass(frozen=True)
class LeftToFill:
    """Front rows that a loudspeaker leaves to a front fill, out of every figure of evenness.

    rows: indices into the answer's rows, the foremost first
    distance_m: (least, most) from the acoustic centre
    short_db: (least, most) by which they fall short of the mean of the rows that count, in the band
        band_hz; None where a level is unknown
    """

    rows: tuple[int, ...]
    distance_m: tuple[float, float]
    short_db: tuple[float, float] | None
    band_hz: float


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
    softest_db: float | None = None
    left_to_fill: LeftToFill | None = None
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
    """What a scenario comes to.

    scenario: as it was set, with every change that was asked for
    explanation: why the aim is what it is; None until it is asked for
    """

    version: str
    title: str
    bands_hz: tuple[float, ...]
    speakers: tuple[SpeakerAnswer, ...]
    together: Together | None
    rows: RowsAnswer
    cautions: tuple[Caution, ...]
    scenario: Scenario
    explanation: Explanation | None = None
    schema: int = SCHEMA

    @property
    def stopped(self) -> bool:
        """Whether a caution of severity stop stands."""
        return any(caution.severity == "stop" for caution in self.cautions)

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings under the contract's names, ready for JSON."""
        from .serialise import answer_dict

        return answer_dict(self)

"""What was found on site: the same names in Python and in JSON."""

from dataclasses import dataclass, field
from typing import Annotated, Any, cast

import numpy as np

from ..base.arrays import FloatArray
from ..base.described import Named
from ..geometry.section import Rows
from ..results.serialise import known, plain
from ..speaker.speaker import Placement
from .arrival import Arrival
from .estimate import Interval
from .traces import Trace
from .weighing import Weighed

__all__ = ["Evenness", "Found", "Interval", "PositionFound", "ReadingFound", "RowFound"]


@dataclass(frozen=True)
class ReadingFound:
    """What one reading by itself says, and the state that it is most likely in."""

    text: Annotated[str, "the reading in words"]
    tilt_deg: Annotated[
        Interval | None, "the tilt that it means, degrees; null where it tells none"
    ]
    height_m: Annotated[Interval | None, "the height that it means, m; null where it tells none"]
    x_m: Annotated[Interval | None, "the x that it means, m; null where it tells none"]
    state: Annotated[str, "`right`, `sign lost` or `gross`, whichever is likeliest"]
    likely: Annotated[float, "how likely that is by everything, 0 to 1"]


@dataclass(frozen=True)
class PositionFound:
    """Levels at one position by band."""

    name: Annotated[str, "the microphone's"]
    x_m: Annotated[float, "m from the datum; on the ground, ahead of the acoustic centre"]
    z_m: Annotated[
        float, "m above the datum; on the ground, aside of the axis towards the box's top"
    ]
    distance_m: Annotated[float, "from the acoustic centre as planned, m"]
    off_axis_deg: Annotated[float, "as planned, degrees, positive above the axis"]
    measured_db: Annotated[dict[float, float | None], "as measured, dB; null where it was not"]
    predicted_db: Annotated[
        dict[float, float | None],
        "by the plan, shifted per band to lie nearest to the measured levels, since every band "
        "has its own unknown gain, dB; null where unknown",
    ]
    found_db: Annotated[
        dict[float, float | None], "the same for what was found to hang, dB; null where unknown"
    ]
    doubt_db: Annotated[
        dict[float, float | None],
        "half of the 90 % interval within which the plan would let it lie, dB; null on the ground "
        "in bands beside the design bands",
    ]
    stands_out: Annotated[tuple[float, ...], "bands whose level does not fit what was found, Hz"]
    off_db: Annotated[
        float | None,
        "measured minus planned, mean over the bands, dB; null where none was measured",
    ]


@dataclass(frozen=True)
class RowFound:
    """The design level of one row about the mean of all rows served."""

    name: Annotated[str, "the row"]
    x_m: float
    planned_db: Annotated[
        float | None,
        "design level as planned, about the mean of all rows, dB; null where a level is unknown",
    ]
    now_db: Annotated[Interval | None, "the same as it hangs, dB; null likewise"]
    after_db: Annotated[float | None, "the same after the move, dB; null where none is advised"]


@dataclass(frozen=True)
class Evenness:
    """How even the audience hears this loudspeaker alone, over the rows that it serves."""

    spread_db: float | None
    rows_within_3db_percent: float | None


@dataclass(frozen=True)
class RowsWithin:
    """Rows within ±3 dB, of those served, %."""

    planned: Annotated[float | None, "as planned; null where a level is unknown"]
    now: Annotated[float | None, "as it hangs, expected; null with `spread_now_db`"]
    corrected: Annotated[float | None, "after the move, expected; null with `spread_corrected_db`"]


@dataclass(frozen=True)
class StandsOut:
    """A position, in one band or in all of them, that fits only as a slip."""

    position: Annotated[str, "the microphone's"]
    band_hz: Annotated[float | None, "the band; null for all of them"]
    left_db: Annotated[float, "measured minus what fits the rest, dB"]
    likely: Annotated[float, "how likely that it is the slip, 0 to 1"]


@dataclass(frozen=True)
class Heard:
    """What the microphones say beside the estimate, and what of it does not fit.

    swapped: two positions that fit swapped; misfit: whether nothing that may be explains the levels
    """

    positions: tuple[PositionFound, ...] = ()
    stands_out: tuple[StandsOut, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    swapped: tuple[str, str] | None = None
    misfit: bool = False

    @property
    def fits(self) -> bool:
        """Whether the levels can be explained, and every microphone stood where it is said to."""
        return not self.misfit and not any(one.elsewhere for one in self.arrivals)


@dataclass(frozen=True)
class Stop:
    """What comes before every question of sound: loads as read."""

    text: Annotated[str, "what was read, and against what"]
    stops: Annotated[bool, "whether nothing may go on before it is cleared"]
    utilisation: Annotated[
        float | None, "share of the allowed load; null where it is no single cell's"
    ] = None


@dataclass(frozen=True)
class Ripple:
    """A floor's reflection found in a finely resolved trace, and taken out of it."""

    position: Annotated[str, "the microphone's"]
    share: Annotated[float, "of the sound pressure that comes back"]
    first_notch_hz: Annotated[float, "Hz"]
    detour_m: Annotated[float, "how much longer the way over the floor is, m"]


@dataclass(frozen=True, eq=False)
class Found:
    """One loudspeaker, held against what was measured.

    now, after, planned_coverage: over the rows, as it hangs, corrected, and as planned
    hangs: how it hangs in words, "" where not known
    before: what the set before this one told
    """

    headline: Annotated[str, "the one thing to do"]
    outcome: Annotated[str, "what the rows hear now and after"]
    reasons: Annotated[tuple[str, ...], "why"]
    speaker: Annotated[str, "the loudspeaker measured"]
    tilt_error_deg: Annotated[
        Interval | None,
        "hung minus planned, degrees, positive up, by readings and levels together; where a "
        "reading tells it, if that reading is right; null where nothing tells it",
    ]
    height_error_m: Annotated[
        Interval | None,
        "the same of the height, m; null where no reading tells it and the levels would not to "
        "within 0.3 m",
    ]
    x_error_m: Annotated[Interval | None, "hung minus planned, m; null where no reading tells it"]
    pattern_scale: Annotated[
        Interval | None,
        "how much wider the real pattern is than its data, as a factor; null where the levels do "
        "not tell it to within 20 %",
    ]
    levels_tilt_error_deg: Annotated[
        Interval | None,
        "what the levels alone say of the tilt, degrees; null where they do not tell it to within "
        "20°",
    ]
    tilt_assumes: Annotated[str, "what the interval of the tilt rests on"]
    explained: Annotated[
        bool | None,
        "whether levels and readings fit without a slip; null where too few positions could tell, "
        "or none was measured",
    ]
    against: Annotated[
        float | None,
        Named("against_reading"),
        "how many times better the levels fit the tilts that may be than the one that was read; "
        "null without both",
    ]
    blind_deg: Annotated[
        float | None,
        "an inclinometer wrong by less than this would pass unseen in one site of ten or more, "
        "degrees; null where no error tried would be seen, or nothing was read",
    ]
    gain_db: Annotated[
        float | None,
        "what the best move would take off the spread, expected, dB; null where there is none",
    ]
    worse_share: Annotated[
        float | None, "the chance that it would make the spread larger; null with `gain_db`"
    ]
    spread_now: Annotated[
        Interval | None,
        Named("spread_now_interval_db"),
        "of the spread as it hangs, dB; null where unknown",
    ]
    stands_out: Annotated[
        tuple[StandsOut, ...], "positions that fit only as a slip, the likeliest first"
    ]
    swapped: Annotated[tuple[str, str] | None, "two positions that fit swapped; null where none do"]
    arrivals: Annotated[
        tuple[Arrival, ...],
        "what the phases tell of where the microphones of the first set stood; empty where they "
        "tell nothing",
    ]
    stops: Annotated[tuple[Stop, ...], "what load cells forbid or warn of"]
    plan: Annotated[Placement, Named("planned"), "where it was to hang"]
    hung: Annotated[
        Placement | None, "where it hangs, as far as known; null where the tilt is unknown"
    ]
    corrected: Annotated[Placement | None, "where it should; null where no move is advised"]
    positions: Annotated[
        tuple[PositionFound, ...], "the microphones; empty without measured levels"
    ]
    rows_found: Annotated[
        tuple[RowFound, ...], Named("rows"), "the rows served, in the scenario's order"
    ]
    readings: Annotated[tuple[ReadingFound, ...], "what each reading by itself says"]
    ripples: Annotated[
        tuple[Ripple, ...],
        Named("floor_ripples"),
        "the floor's reflection where a trace shows it, taken out",
    ]
    notes: Annotated[tuple[str, ...], "what was assumed or left out"]
    title: str
    datum: str
    bands_hz: tuple[float, ...]
    planned_coverage: Evenness
    now: Evenness
    after: Evenness
    hangs: str
    rows: Rows
    traces: tuple[Trace, ...] = ()
    before: "Found | None" = field(default=None)
    weighed: Annotated[
        Weighed | None,
        "what load cells told of the centre of gravity, level and tilted; null where nothing was "
        "weighed",
    ] = None

    @property
    def stopped(self) -> bool:
        """Whether what was read forbids going on."""
        return any(one.stops for one in self.stops)

    @property
    def advice(self) -> Annotated[str, "headline, outcome and reasons in one"]:
        """Headline, outcome and reasons in one text."""
        return " ".join(
            f"{one.rstrip('.')}." for one in (self.headline, self.outcome, *self.reasons) if one
        )

    @property
    def move(self) -> Annotated[bool, "whether a move is advised"]:
        """Whether a move is advised."""
        return self.corrected is not None

    @property
    def spread_planned_db(
        self,
    ) -> Annotated[float | None, "as planned, dB; null where a level is unknown"]:
        """Of the design level over the rows served, as planned."""
        return self.planned_coverage.spread_db

    @property
    def spread_now_db(
        self,
    ) -> Annotated[
        float | None,
        "over the rows served, as it hangs, the middle of what may be, dB; null where a level is "
        "unknown",
    ]:
        """Of the design level over the rows served, as it hangs."""
        return self.now.spread_db

    @property
    def spread_corrected_db(
        self,
    ) -> Annotated[
        float | None,
        "expected after the move, dB, or as it hangs where it is left; null where something does "
        "not fit",
    ]:
        """The same after the correction."""
        return self.after.spread_db

    @property
    def rows_within_3db_percent(self) -> Annotated[RowsWithin, "of the rows served, %"]:
        """The shares as planned, now and corrected."""
        of = (self.planned_coverage, self.now, self.after)
        return RowsWithin(*(one.rows_within_3db_percent for one in of))

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return cast(dict[str, Any], plain(self))


def by_band(bands_hz: tuple[float, ...], levels_db: FloatArray) -> dict[float, float | None]:
    """Levels (bands,) under their bands; None where unknown."""
    return {band: known(np.float64(level)) for band, level in zip(bands_hz, levels_db, strict=True)}

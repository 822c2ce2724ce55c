"""The answer: one frozen value that holds everything that any face shows, under one set of names.

A field with a description stands in the data that `to_dict` gives; the others are for Python
alone.  Every figure is in the unit of its name; an unknown figure is None, in an array NaN.
"""

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

from ..base.arrays import FloatArray
from ..base.described import BY_BAND, Columns, Keyed, Kind, Named, Point
from ..rigging.ground_stack import Stability
from ..rigging.loads import Loads
from ..scenario.scenario import Objective, Scenario
from ..speaker.speaker import Mount, Orientation, Placement, Range
from .choices import Choice
from .groups import Adds, HeldBy, HigherCeilings, Match, Pair, TogetherProof
from .room import Landing, Reflections, Room
from .section import Curves, Edges, Extent, SectionMap
from .sound import LobeFamily, Loudness, Refraction, Tone
from .support import Support

if TYPE_CHECKING:
    from .explanation import Explanation
    from .hang_sheet import Calculation, HangSheet
    from .page_table import PageTable

Part = TypeVar("Part")


def needed(part: Part | None, name: str) -> Part:
    """A part of an answer that must have been asked for before.  Raises LookupError."""
    if part is None:
        raise LookupError(f'this answer has no {name} yet: complete(answer, ("{name}",))')
    return part


Ends = tuple[str | None, str | None]
Severity = Literal["stop", "caution", "note"]
SCHEMA = 1


@dataclass(frozen=True)
class Caution:
    """One thing that a careful colleague would say."""

    code: Annotated[str, "stable; every one stands in [cautions](cautions.md)"]
    severity: Annotated[Severity, "`stop`, `caution` or `note`"]
    text: Annotated[str, "the sentence as printed"]
    value: Annotated[
        float | None,
        "the figure that brought it about, in `unit`; null where there is none",
    ] = None
    unit: Annotated[
        str | None,
        "such as `m`, `°`, `dB`, `times`, `rows`; null where there is no figure",
    ] = None
    limit: Annotated[float | None, "the threshold, in `unit`; null where there is none"] = None
    speaker: Annotated[
        str | None,
        "the loudspeaker that it is about; null for the whole scenario",
    ] = None


@dataclass(frozen=True)
class Best:
    """The best there is in the ranges, whatever is taken in the end."""

    objective_db: Annotated[
        float,
        'the objective there, dB: spread, worst band or deviation, with `objective_at = "worst"` '
        "its worst case",
    ]
    x_m: Annotated[float, "acoustic centre there, m from the datum"]
    height_m: Annotated[float, "acoustic centre there, m above the datum"]
    tilt_deg: Annotated[float, "axis there, degrees, positive up"]
    orientation: Annotated[Orientation, "`upright` or `flipped`"]


@dataclass(frozen=True)
class Bind:
    """A limit that holds the best, or the placement taken, and what lies past it."""

    limit: Annotated[str, "its name, as in `limited_by`"]
    step: Annotated[float, "how far past it was looked, in `unit`"]
    unit: Annotated[str, "`m`, `°` or `dB`"]
    gains_db: Annotated[
        float,
        "by how much that makes the objective smaller, all else following near the placement, dB; "
        "0 where the limit costs nothing",
    ]


@dataclass(frozen=True)
class Window:
    """How far tilt and height may be set off."""

    tilt_deg: Annotated[
        Range,
        "at this place, the tilts that cost at most `within_db` more spread, degrees",
    ]
    height_m: Annotated[Range, "at this tilt and x, such heights, m above the datum"]
    within_db: Annotated[float, "0.5 dB"]
    of: Annotated[
        Literal["own", "all"],
        "whose spread: `own`, over the rows that it serves, or `all`, where several are aimed all "
        "at once: of all together, the others and all gains as they stand",
    ] = "own"
    tilt_rules: Annotated[
        Ends,
        Kind("list of texts or nulls"),
        "what ends the tilts on either side: a rule of the file by its name in `limited_by`; null "
        "where it is the sound",
    ] = (None, None)
    height_rules: Annotated[
        Ends, Kind("list of texts or nulls"), "the same of the heights; null likewise"
    ] = (None, None)
    by_sound_tilt_deg: Annotated[
        Range | None, Kind("[low, high]"), "the tilts that the sound alone would leave, degrees"
    ] = None
    by_sound_height_m: Annotated[
        Range | None, Kind("[low, high]"), "the heights likewise, m above the datum"
    ] = None


@dataclass(frozen=True)
class Shortcut:
    """The common practice to compare with: same place, axis at the farthest seating's last row."""

    tilt_deg: Annotated[float, "its tilt, degrees, positive up"]
    spread_db: Annotated[float | None, "its spread, dB; null where a level is unknown"]


@dataclass(frozen=True)
class BandFigures:
    """One band over the rows."""

    spread_db: Annotated[
        float | None,
        "largest minus smallest level, dB; null where one is unknown",
    ]
    loudest: Annotated[int | None, "index into `rows`; null likewise"]
    softest: Annotated[int | None, "index into `rows`; null likewise"]


@dataclass(frozen=True, eq=False)
class UniformLine:
    """Where the design level equals the aim point's; points_m is (n, 2)."""

    points_m: Annotated[
        FloatArray,
        Named("points"),
        Kind("list of [x, z]"),
        "m from the datum, the aim point first",
    ]
    edge: Annotated[
        Point | None,
        "its end at the coverage edge; null where the pattern has no edge on that side",
    ]

    @property
    def points(self) -> FloatArray:
        """points_m under the name that it has in the data."""
        return self.points_m


@dataclass(frozen=True)
class CheckPosition:
    """A microphone position that tells something about the hang."""

    name: Annotated[str, "of the row"]
    x_m: Annotated[float, "microphone, m from the datum"]
    z_m: Annotated[float, "microphone, m above the datum"]
    distance_m: Annotated[float, "from the acoustic centre, m"]
    off_axis_deg: Annotated[float, "degrees, positive above the axis"]
    levels_db: Annotated[
        dict[float, float | None],
        "predicted level **relative to the first position**, which has 0 in every band, dB; null "
        "where unknown",
    ]
    level_per_degree_db: Annotated[
        float,
        "what a degree of tilt upwards does to the design level there, dB",
    ] = 0.0
    reason: Annotated[str, "what the position is for"] = ""


@dataclass(frozen=True)
class Tolerated:
    """The worst case of one placement within the scenario's tolerance."""

    tilt_deg: Annotated[float, "the file's tolerance either way, degrees"]
    height_m: Annotated[float, "the same of the height, m"]
    x_m: Annotated[float, "the same of x, m"]
    objective: Annotated[Objective, "`spread`, `worst band` or `deviation`"]
    worst_db: Annotated[float, "nothing within the tolerance has a larger objective; proven, dB"]
    gap_db: Annotated[float, "at most this much above the true worst case, dB"]
    worst_at: Annotated[
        tuple[float, float, float],
        Kind("list of numbers"),
        "by how much tilt (degrees), height (m) and x (m) are off where it is worst",
    ]
    costs_db: Annotated[float, "the worst case minus the objective of the placement itself, dB"]
    tilt_costs_db: Annotated[float, "the same with the tilt alone off, dB"]
    place_costs_db: Annotated[float, "the same with height and x alone off, dB"]
    coverage_percent: Annotated[float, "the file's tolerance of the coverage angle, in % of it"] = (
        0.0
    )
    coverage_costs_db: Annotated[float, "the same with the coverage angle alone off, dB"] = 0.0


@dataclass(frozen=True)
class LeftToFill:
    """Front rows that a loudspeaker leaves to a front fill, out of every figure of evenness."""

    rows: Annotated[tuple[int, ...], "indices into `rows`, the foremost first"]
    distance_m: Annotated[Range, Kind("[least, most]"), "from the acoustic centre, m"]
    short_db: Annotated[
        Range | None,
        Kind("[least, most] or null"),
        "how far they fall short of the mean of the rows that count, dB; negative where louder; "
        "null where a level is unknown",
    ]
    band_hz: Annotated[float, "in this design band, the nearest to 4 kHz"]


@dataclass(frozen=True, eq=False)
class SpeakerAnswer:
    """One loudspeaker alone, over the rows that it serves.

    support: what holds it, worked out once for everything that shows it
    """

    name: Annotated[str, "as in the file"]
    mount: Annotated[Mount, "`flown` or `stacked`"]
    orientation: Annotated[Orientation, "`upright` or `flipped`, as it is placed"]
    x_m: Annotated[float, "acoustic centre, m from the datum, positive towards the audience"]
    height_m: Annotated[float, "acoustic centre, m above the datum"]
    trim_m: Annotated[
        float,
        "lowest point of the outline as placed, m above the datum; the height without an outline",
    ]
    tilt_deg: Annotated[float, "elevation of the axis, degrees, positive up"]
    aim_point: Annotated[
        Point | None,
        "where the axis meets the audience plane served, m from the datum; null where it meets "
        "none",
    ]
    aim_seating: Annotated[str | None, "the seating of the aim point; null without one"]
    aim_row: Annotated[
        int | None,
        "index into `rows` of that seating's row nearest to the aim point; null without one",
    ]
    spread_db: Annotated[
        float | None,
        "largest minus smallest design level, dB; null where a level is unknown",
    ]
    worst_band_spread_db: Annotated[
        float | None,
        "the largest spread of any one design band, dB; null likewise",
    ]
    deviation_db: Annotated[
        float | None,
        "weighted standard deviation about each band's own mean, variances averaged over the "
        "design bands, dB; null likewise",
    ]
    rows_within_3db_percent: Annotated[
        float | None,
        "share of rows, counted, whose design level is within ±3 dB of the weighted mean, %; "
        "null likewise",
    ]
    best: Annotated[
        Best | None,
        "the best there is in the ranges, whatever is taken in the end; null where nothing was "
        "searched: in `evaluate`, without ranges, and for what hangs under another",
    ]
    gap_db: Annotated[
        float | None,
        "proven: `best.objective_db` is at most this far from the true optimum, dB of the "
        "objective; null with `best`",
    ]
    limited_by: Annotated[
        tuple[str, ...],
        "what holds the best, then the placement taken: `axis_on_audience`, `rigging`, "
        "`headroom`, `max_front_elevation_deg`, `softest_db`, or a range's end such as "
        "`height high`, `tilt low`",
    ]
    window: Annotated[
        Window | None,
        "how far it may be set off; null where a level is unknown, and for what hangs under "
        "another",
    ]
    shortcut: Annotated[
        Shortcut,
        "the common practice to compare with: same place, axis at the last row of the farthest "
        "seating served",
    ]
    by_band: Annotated[dict[float, BandFigures], "one design band over the rows served"]
    uniform_line: Annotated[
        UniformLine | None,
        "where the design level equals the aim point's, from there to the coverage edge; null "
        "without an aim point",
    ]
    check_positions: Annotated[
        tuple[CheckPosition, ...],
        "where a microphone tells something of the hang, the most telling first; at ear height",
    ] = ()
    support: Support | None = None
    settable_tilt_deg: Annotated[
        Range | None,
        "the part of the window's tilts in which nothing stops, degrees; null without a window and "
        "where the placement itself stops",
    ] = None
    binds: Annotated[
        tuple[Bind, ...],
        "what each limit of `limited_by` costs: what a step past it would gain",
    ] = ()
    tone: Annotated[
        Tone | None,
        "over the rows served; null where only one band is of interest",
    ] = None
    output: Annotated[
        Loudness | None,
        "absolute levels of it alone; null without a sensitivity or a greatest level",
    ] = None
    refraction: Annotated[
        Refraction | None,
        "how far stated wind and temperature bend the sound; null where the file states none",
    ] = None
    lobe_family: Annotated[
        LobeFamily | None,
        "the same for every shape of lobe that fits the data sheet; null for a measured pattern",
    ] = None
    tolerance: Annotated[
        Tolerated | None,
        "the worst case within the file's tolerance; null without one, for what hangs under "
        "another, and where a level may be unknown within it",
    ] = None
    softest_db: Annotated[
        float | None,
        "the softest row's design level against what this loudspeaker would give the farthest last "
        "row, in free sight, with its axis on it, dB; null where a level is unknown",
    ] = None
    left_to_fill: Annotated[
        LeftToFill | None,
        "front rows left to a front fill and so out of every figure of evenness; null where "
        "`left_to_fill` leaves none",
    ] = None
    gain_db: Annotated[float, "as set: the file's, or that found for a fill, dB"] = 0.0
    delay_ms: Annotated[float, "likewise, ms"] = 0.0
    match: Annotated[
        Match | None,
        "how a fill is matched to its main; null for what is no fill",
    ] = None
    adds: Annotated[Adds | None, "all others without it; null where it is the only one"] = None
    pair: Annotated[Pair | None, "it and the one that hangs under it; null where none does"] = None
    hung_under: Annotated[
        str | None,
        "the loudspeaker that it hangs under; null where it has a place of its own",
    ] = None
    room: Annotated[Room | None, Kind("table"), "what it is near, and whose view it takes"] = None
    reflections: Annotated[
        Reflections | None,
        Kind("list of tables"),
        "first reflections at rows and `[[point]]`s",
    ] = None
    lands_percent: Annotated[
        Landing | None,
        Kind("table"),
        "where the pattern's sound of the section goes first, share of its energy",
    ] = None

    @property
    def loads(
        self,
    ) -> Annotated[
        Loads | None,
        Kind("table or null"),
        "of what hangs; null where it stands or hangs under another, and where something is "
        "missing, which a caution names",
    ]:
        """Worked out once, with what holds it."""
        return None if self.support is None else self.support.loads

    @property
    def stack(
        self,
    ) -> Annotated[
        Stability | None,
        Kind("table or null"),
        "of what stands; null where it hangs, and where something is missing",
    ]:
        """Worked out once, with what holds it."""
        return None if self.support is None else self.support.stack

    @property
    def placement(self) -> Placement:
        """Where it is, and the splay of what hangs under it."""
        splay = 0.0 if self.pair is None else self.pair.splay_deg
        return Placement(
            self.x_m, self.height_m, self.tilt_deg, self.orientation == "flipped", splay
        )


@dataclass(frozen=True, eq=False)
class SpeakerRows(Columns):
    """One loudspeaker at every row, whatever it serves: (n,), levels and shadow (bands, n)."""

    distance_m: Annotated[FloatArray, "from the acoustic centre, m"]
    off_axis_deg: Annotated[FloatArray, "degrees in ±180, positive above the axis"]
    levels_db: Annotated[
        FloatArray,
        BY_BAND,
        "its level, shadow taken off, dB; null where the pattern is unknown",
    ]
    shadow_db: Annotated[FloatArray, BY_BAND, "loss by what stands in the way, dB, 0 or positive"]
    departure_db: Annotated[
        FloatArray,
        "design level minus the aim point's, dB, positive is louder; null where the pattern is "
        "unknown or without an aim point",
    ]
    departure_m: Annotated[
        FloatArray,
        "along the ray, from the uniform-level line to the row, m, positive beyond it; null "
        "likewise",
    ]
    arrival_ms: Annotated[FloatArray | None, Kind("number"), "its delay and the way, ms"] = None
    after_reference_ms: Annotated[
        FloatArray | None,
        Kind("number"),
        "after sound from the time reference, ms; only there with `[time] reference`",
    ] = None
    after_main_ms: Annotated[
        FloatArray | None,
        Kind("number"),
        "of a fill, after its main, ms; only there for a fill",
    ] = None
    re_main_db: Annotated[
        FloatArray | None,
        Kind("number or null"),
        "of a fill, its design level minus its main's, dB; only there for a fill; null where one "
        "is unknown",
    ] = None


@dataclass(frozen=True, eq=False)
class RowsAnswer(Columns):
    """Every row: (n,), levels_db (bands, n)."""

    name: Annotated[tuple[str, ...], "the row's"]
    seating: Annotated[tuple[str, ...], "its seating"]
    x_m: Annotated[FloatArray, "m from the datum"]
    z_m: Annotated[FloatArray, "of the ear, m above the datum"]
    levels_db: Annotated[
        FloatArray,
        BY_BAND,
        "all loudspeakers together, dB; null where one is unknown",
    ]
    design_level_db: Annotated[FloatArray, "mean over the design bands, dB; null likewise"]
    by_speaker: Annotated[
        dict[str, SpeakerRows],
        Keyed("SPEAKER"),
        Kind("table"),
        "every loudspeaker at every row, whatever it serves",
    ]

    def __len__(self) -> int:
        return len(self.name)


@dataclass(frozen=True)
class Together:
    """All loudspeakers, all rows."""

    spread_db: Annotated[float | None, "of the design level, dB; null where a level is unknown"]
    worst_band_spread_db: Annotated[
        float | None,
        "the largest spread of any one design band, dB; null likewise",
    ]
    by_band: Annotated[dict[float, BandFigures], "one design band"]
    rows_within_3db_percent: Annotated[
        float | None,
        "share of rows, counted, within ±3 dB of the weighted mean, %; null likewise",
    ] = None
    summed: Annotated[
        Literal["power", "coherent"],
        Named("sum"),
        "how they add up: `power` or `coherent`",
    ] = "power"
    proof: Annotated[
        TogetherProof | None,
        "where they were chosen together, what is proven; null elsewhere",
    ] = None
    one_by_one_db: Annotated[
        float | None,
        "spread if each were aimed alone, dB; null where they were not chosen together",
    ] = None
    higher_ceilings: Annotated[
        HigherCeilings | None,
        "what higher ceilings would give; null where there is none",
    ] = None
    held_by: Annotated[
        HeldBy | None,
        "the rows that hold the spread; null where a level is unknown",
    ] = None
    coherent_spread_db: Annotated[
        float | None,
        "spread if they added up with the phase that path and delay bring, over each band's "
        "width, dB; null for one alone, or where `sum` says so already",
    ] = None
    none_found: Annotated[
        bool,
        "whether they were to be chosen together and nothing was found that keeps every limit, so "
        "that they are aimed one by one",
    ] = False


@dataclass(frozen=True, eq=False, kw_only=True)
class Answer:
    """What a scenario comes to.

    bands_hz: the design bands; scenario: as it was set, with every change that was asked for
    extent: what of the section is worth showing; edges: by loudspeaker; curves: levels by row
    The rest is None until it is asked for (analysis/complete.py):
    explanation: why the aim is what it is; section: levels over the section, and shadows
    page: by loudspeaker, what comes of other tilts and heights, and a coarse map of levels
    sheets: what the rigger's pages show; calculations: the statics step by step
    """

    schema: Annotated[
        int,
        "version of this form, 1; fields may be added under it, none changes meaning",
    ] = SCHEMA
    version: Annotated[str, "of aiming"]
    title: Annotated[str, "as in the file"]
    bands_hz: tuple[float, ...]
    speakers: Annotated[
        tuple[SpeakerAnswer, ...],
        "one per loudspeaker, in the file's order; empty where no placement meets the limits",
    ]
    together: Annotated[
        Together | None,
        "all loudspeakers over all rows; null where no placement meets the limits",
    ]
    rows: Annotated[RowsAnswer, "every row of every seating, in the file's order; empty likewise"]
    cautions: Annotated[tuple[Caution, ...], "never empty"]
    scenario: Scenario
    extent: Extent
    edges: dict[str, Edges]
    curves: Curves
    choices: Annotated[
        tuple[Choice, ...],
        "the decision as it was taken, then what each other one would buy and cost, those that "
        "differ most first; with several loudspeakers each alone over the rows that it serves, in "
        "turn, and where they are aimed all at once only as taken, then at most six about all of "
        "them; empty where no placement meets the limits",
    ] = ()
    explanation: "Explanation | None" = None
    section: SectionMap | None = None
    page: "PageTable | None" = None
    sheets: "tuple[HangSheet, ...] | None" = None
    calculations: "tuple[Calculation, ...] | None" = None

    @property
    def stopped(self) -> bool:
        """Whether a caution of severity stop stands."""
        return any(caution.severity == "stop" for caution in self.cautions)

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings under the contract's names, ready for JSON."""
        from .serialise import plain

        data: dict[str, Any] = plain(self)
        return data

    def plot(self) -> Any:
        """Draw the section to scale, with the levels by row under it.

        Returns
        -------
        matplotlib.figure.Figure
            A4 on its side; lengths in the scenario's unit, levels in dB about their mean.
        """
        return _faces().plot(self)

    def write(self, folder: str | Path, *, replace: bool = False) -> tuple[Path, ...]:
        """Write what `aiming solve --out` writes: drawing, page, sheets and data.

        Parameters
        ----------
        folder : str or path
            Made where it is not there.
        replace : bool
            Write even where the folder holds something else than an earlier answer of this
            scenario; what is not ours stays.

        Returns
        -------
        tuple of Path
            The files written, by name; all of them or none.

        Raises
        ------
        AimingError
            Where the folder holds something else, or cannot be written.
        """
        written: tuple[Path, ...] = _faces().write(self, folder, replace=replace)
        return written

    def _repr_html_(self) -> str:
        """A small table and the section, in a notebook."""
        text: str = _faces().html(self)
        return text


def _faces() -> Any:
    """What shows an answer lies above it, and is reached only when something is to be shown."""
    return import_module("aiming.faces")

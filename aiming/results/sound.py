"""What an answer says of the sound beside the design level: tone, absolute level, other lobes."""

from dataclasses import dataclass
from typing import Annotated

from ..base.arrays import FloatArray, IntArray
from ..base.described import BY_BAND, Columns, Kind, Named
from ..speaker.lobes import Lobe
from ..speaker.output import PROGRAMME_SOURCES, Programme, Weighting
from ..speaker.speaker import Range


@dataclass(frozen=True, eq=False)
class ToneRows(Columns):
    """The rows served (s,); relative_db (bands of interest, s)."""

    bands_hz: tuple[float, ...]
    row: Annotated[IntArray, Kind("whole number"), "index into the answer's `rows`"]
    relative_db: Annotated[
        FloatArray,
        BY_BAND,
        "level against the same band at the aim point, dB; null where unknown or without an aim "
        "point",
    ]
    change_db: Annotated[
        FloatArray,
        "highest band against lowest, both against the aim point, dB; negative sounds duller; null "
        "likewise",
    ]


@dataclass(frozen=True, eq=False)
class Tone:
    """How one loudspeaker's tone changes over the rows that it serves."""

    bands_hz: Annotated[tuple[float, ...], Named("bands"), "the bands of interest, Hz, ascending"]
    worst_change_db: Annotated[
        float | None,
        "largest magnitude of `rows[].change_db`, dB; null where one is unknown or the axis meets "
        "no audience",
    ]
    worst_row: Annotated[int | None, "index into the answer's `rows` where that is; null likewise"]
    range_db: Annotated[
        float | None,
        "largest minus smallest of highest band against lowest over the rows, aim point or not, "
        "dB; null where one is unknown",
    ]
    rows: Annotated[ToneRows, "of the rows served"]

    @property
    def low_hz(self) -> Annotated[float, "the lowest of them"]:
        """The lowest band of interest."""
        return self.bands_hz[0]

    @property
    def high_hz(self) -> Annotated[float, "the highest of them"]:
        """The highest band of interest."""
        return self.bands_hz[-1]


@dataclass(frozen=True)
class PlayedRow:
    """The programme at one row."""

    row: Annotated[int, "index into the answer's `rows`"]
    level_db: Annotated[float, "sum over the bands with the target's weighting, dB re 20 µPa"]
    a_weighted_db: Annotated[float, "the same, A-weighted"]
    levels_db: Annotated[dict[float, float], "by band, unweighted, dB re 20 µPa"]


@dataclass(frozen=True, eq=False)
class Played:
    """Absolute levels at the rows when the loudspeaker plays the programme, driven one way.

    levels_db: (b, n) at every row of the scenario; total_db, a_db: (n,) their sums, weighted as the
        target is and A-weighted
    """

    bands_hz: Annotated[tuple[float, ...], Named("bands"), "the bands that are summed, Hz"]
    levels_db: FloatArray
    total_db: FloatArray
    a_db: FloatArray
    softest: Annotated[PlayedRow | None, "the softest row served; null where a level is unknown"]
    loudest: Annotated[PlayedRow | None, "the loudest; null likewise"]
    limited_by_hz: Annotated[
        float | None,
        "the band that reaches its greatest level first; null where limits by band are not given, "
        "and in `one_watt`",
    ] = None
    headroom_db: Annotated[
        float | None,
        "`softest.level_db` less the target, dB; null without a target, and in `one_watt`",
    ] = None
    needed_w: Annotated[
        float | None,
        "power that gives the target at the softest row, W, thermal compression left out; null "
        "without a target, and in `greatest`",
    ] = None


@dataclass(frozen=True, eq=False)
class Loudness:
    """What one loudspeaker alone gives with a named programme."""

    programme: Annotated[Programme, "`pink`, `speech 2011` or `speech 2020`"]
    weighting: Annotated[Weighting, "of the target and of `level_db`: `A` or `Z`"]
    target_db: Annotated[
        float | None,
        "level wanted at every row, dB re 20 µPa; null where the file gives none",
    ]
    missing_hz: Annotated[
        tuple[float, ...],
        Named("missing_bands"),
        "bands of the programme that are left out of the sums, pattern or output being unknown, Hz",
    ]
    one_watt: Annotated[
        Played | None,
        "1 W of the programme into gain and equaliser; null without a sensitivity",
    ]
    greatest: Annotated[Played | None, "driven to its greatest level; null without one"]

    @property
    def source(self) -> Annotated[str, "where that spectrum is from"]:
        """Where the programme's spectrum is from."""
        return PROGRAMME_SOURCES[self.programme]


@dataclass(frozen=True)
class LobeAnswer:
    """Had the lobe this shape: the spread of the placement taken, and the best tilt there."""

    lobe: Annotated[Lobe, "the shape"]
    spread_db: Annotated[float | None, "of the placement taken, dB; null where a level is unknown"]
    best_tilt_deg: Annotated[
        float | None,
        "best tilt at this place, scanned, not proven, degrees; null where none is allowed",
    ]
    best_spread_db: Annotated[float | None, "its spread, dB; null likewise"]


@dataclass(frozen=True)
class Refraction:
    """How far stated wind and temperature bend the sound on its way to the farthest last row."""

    gradient_per_s: Annotated[float, "mean dc/dz between box and ears, 1/s; positive downwind"]
    throw_m: Annotated[float, "to that row, m"]
    turned_deg: Annotated[float, "how far its direction turns on the way, degrees; positive down"]
    leaves_deg: Annotated[
        float,
        "how much higher than the straight line the sound leaves that arrives there, degrees",
    ]
    last_row_db: Annotated[
        float | None,
        "what that changes there by the pattern, dB; null where it is unknown",
    ]


@dataclass(frozen=True)
class HalfAngles:
    """Coverage as built."""

    above: Annotated[float, "degrees above the axis"]
    below: Annotated[float, "degrees below it"]


@dataclass(frozen=True)
class LobeFamily:
    """Every shape of lobe that fits the data sheet, so that figures are read as ranges."""

    assumed: Annotated[
        Lobe,
        "the shape that the aim was worked with: `quadratic`, `piston` or `flat`",
    ]
    coverage_deg: Annotated[HalfAngles, "half-angles as built"]
    control_from_hz: Annotated[
        float | None,
        "below it the coverage angle grows; null where it never does",
    ]
    control_height_m: Annotated[
        float | None,
        "of horn or cabinet, m, where `control_from_hz` is estimated from it; null where it is not",
    ]
    lobes: Annotated[tuple[LobeAnswer, ...], "one per shape that fits the data sheet"]
    doubt_percent: Annotated[float, "how far the coverage angle may be off, in % of it"] = 0.0
    doubted: Annotated[
        tuple[LobeAnswer, ...],
        "the same shapes with the coverage angle smaller, then larger, by that",
    ] = ()
    beyond_rows: Annotated[
        tuple[int, ...],
        "indices into `rows` of those beyond the coverage angle, of which it says nothing: left "
        "out of the spreads of the placement taken",
    ] = ()

    @property
    def spread_db(
        self,
    ) -> Annotated[
        Range | None,
        "least and largest spread of the placement taken over the shapes, dB; null where one is "
        "unknown",
    ]:
        """Least and largest spread of the placement taken."""
        return _range([one.spread_db for one in (*self.lobes, *self.doubted)])

    @property
    def best_spread_db(
        self,
    ) -> Annotated[
        Range | None,
        "the same of the best at this place, dB; null likewise",
    ]:
        """Least and largest of the best spreads at this place."""
        return _range([one.best_spread_db for one in (*self.lobes, *self.doubted)])

    @property
    def best_tilt_deg(
        self,
    ) -> Annotated[
        Range | None,
        "lowest and highest of the best tilts, degrees; null likewise",
    ]:
        """Lowest and highest of the best tilts at this place."""
        return _range([one.best_tilt_deg for one in (*self.lobes, *self.doubted)])


def _range(values: list[float | None]) -> Range | None:
    """Least and largest, or None where one is unknown."""
    known = [value for value in values if value is not None]
    return (min(known), max(known)) if known and len(known) == len(values) else None

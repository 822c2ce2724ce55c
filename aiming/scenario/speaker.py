"""A loudspeaker: output, placement, and what else its table holds: keys, rules, construction."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import Field, Tag

from ..base.arrays import FloatArray, frozen
from ..base.bands import band_key
from ..base.errors import found_text
from ..base.units import parse_tilt_deg
from ..files.toml_places import Path
from ..geometry.section import Seating
from ..speaker.pattern import Pattern
from ..speaker.speaker import Hang, Nominal, Orientation, Range, Speaker
from .aim import design_bands
from .cabinet import CabinetModel, build_cabinet, cabinet_rules
from .keys import (
    BY_KIND,
    ByBand,
    DecibelRange,
    Decibels,
    DecibelsOrByBand,
    Length,
    LengthRange,
    Name,
    Number,
    Point,
    Strict,
    TiltRange,
)
from .pattern import (
    PatternModel,
    lobe_of,
    measured_pattern,
    nominal_of,
    pattern_rules,
    tone_bands_hz,
    usual_tone_hz,
)
from .raw import (
    Gathered,
    Problem,
    Raw,
    Table,
    number,
    reversed_range,
    table_in,
)
from .rigging import ORIENTATIONS, RiggingsModel, rigging_rules
from .stack import StackModel, stack_rules

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile


class OutputModel(Strict):
    """What the loudspeaker puts out."""

    sensitivity_db: DecibelsOrByBand | None = Field(
        None, description="Level for 1 W at 1 m on the axis in dB: one number, or by band"
    )
    max_level_db: DecibelsOrByBand | None = Field(
        None, description="Greatest level at 1 m on the axis in dB, for headroom: one or by band"
    )


class PlacementModel(Strict):
    """Where it may hang: a number fixes a value, [low, high] lets the solver choose."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "height": ("trim", "base"),
        "trim": ("height", "base"),
        "base": ("height", "trim"),
    }

    mount: Literal["flown", "stacked"] = Field("flown", description='"flown" or "stacked"')
    x: LengthRange = Field(
        0.0, description="x of the acoustic centre, negative behind the datum; default 0"
    )
    height: LengthRange | None = Field(None, description="z of the acoustic centre")
    trim: LengthRange | None = Field(
        None, description="Instead of height: z of the cabinet's lowest point as it hangs"
    )
    base: Length | None = Field(
        None, description="Stacked: z of the top of the stage, riser or stack it stands on"
    )
    tilt: TiltRange = Field(
        default_factory=lambda: [-90.0, 90.0],
        description='Elevation of the axis in degrees, positive up, or "nose down 12"; '
        "default [-90, 90]",
    )
    pan_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] | None = Field(
        None,
        description="For the paper: how far this section is turned from the centre line, degrees, "
        "positive to the left as one looks along the centre line at the audience",
    )
    off_centre: Length | None = Field(
        None,
        description="For the paper: how far the acoustic centre is from the centre line, positive "
        "to the left likewise",
    )
    orientation: Literal["upright", "flipped", "either"] = Field(
        "upright", description='"upright" (default), "flipped" or "either"'
    )

    @classmethod
    def displaced_by(cls, key: str, value: object) -> tuple[str, ...]:
        if key == "mount":
            return {"flown": ("base",), "stacked": ("trim",)}.get(str(value), ())
        return super().displaced_by(key, value)


SplayDeg = Annotated[Number, Field(ge=-90.0, le=90.0)]
Splay = Annotated[
    Annotated[SplayDeg, Tag("single")]
    | Annotated[Annotated[list[SplayDeg], Field(min_length=2, max_length=2)], Tag("list")],
    BY_KIND,
]


class SpeakerModel(Strict):
    """One loudspeaker."""

    name: Name = Field(description="The loudspeaker's name, unlike any other's")
    serves: list[Name] | None = Field(
        None, description="Names of the seatings that it must serve; default all of them"
    )
    gain_db: DecibelRange = Field(
        0.0,
        description="Gain of its channel in dB, or [low, high], to be chosen; of a fill without it "
        "chosen from −30 to 12",
    )
    delay_ms: Annotated[Number, Field(ge=0.0, le=1e6)] = Field(
        0.0, description="Delay in milliseconds"
    )
    eq_db: ByBand = Field(default_factory=dict, description="Equalisation in dB by band")
    pattern: PatternModel = Field(description="Its directivity")
    output: OutputModel = Field(
        default_factory=dict, validate_default=True, description="What it puts out"
    )
    cabinet: CabinetModel | None = Field(None, description="Its body, as far as it is known")
    rigging: RiggingsModel | None = Field(None, description="How it is held, per orientation")
    stack: StackModel | None = Field(None, description="How it stands, where it is stacked")
    placement: PlacementModel = Field(
        default_factory=dict,
        validate_default=True,
        description="Where it may hang; of one with hung_under its orientation alone",
    )
    fills: Name | None = Field(
        None, description="The loudspeaker that it is matched to and aligned with, as a fill"
    )
    handover: Name | None = Field(
        None,
        description='Where they are matched: a row ("F", or "F of stalls"), or a seating for its '
        "first row towards the main; default follows from what both serve",
    )
    behind_ms: Annotated[Number, Field(ge=-1000.0, le=1000.0)] | None = Field(
        None, description="By how much its sound arrives after the main's there, in ms; default 10"
    )
    ceiling_db: Decibels | None = Field(
        None,
        description="How much louder than the main it may be at any row that the main is not "
        "hidden from, in dB; default 6",
    )
    hung_under: Name | None = Field(
        None, description="The loudspeaker that it is fixed under, turning with it"
    )
    splay: Splay | None = Field(
        None,
        description="How much further nose-down it points than the one above, in degrees: a number "
        "or [low, high]",
    )
    joint: Point | None = Field(
        None, description="[u, w] of the joint in the axes of the loudspeaker above, as hung"
    )
    own_joint: Point | None = Field(
        None, description="[u, w] of the same joint in its own axes, as hung"
    )


# Keys that exclude or need one another.

LENGTH_RANGES = ("x", "height", "trim")


def speaker_rules(raw: Raw) -> Iterator[Problem]:
    """What a loudspeaker's table must give once, or not together."""
    bands = design_bands(raw)
    for path, speaker in raw.tables("speaker"):
        yield from _placement((*path, "placement"), speaker, raw)
        yield from _gain(path, speaker)
        yield from pattern_rules((*path, "pattern"), speaker)
        yield from rigging_rules(path, speaker, raw)
        yield from cabinet_rules(path, speaker)
        yield from stack_rules(path, speaker, raw)
        output = table_in(speaker, "output")
        for key in ("sensitivity_db", "max_level_db"):
            lacking = [
                band_key(band) for band in bands if band_key(band) not in table_in(output, key)
            ]
            if isinstance(output.get(key), dict) and lacking:
                yield (
                    (*path, "output", key),
                    f"no value for {', '.join(lacking)} Hz; give one for every design band, "
                    "or one number",
                )


def _gain(path: Path, speaker: Table) -> Iterator[Problem]:
    gain = speaker.get("gain_db")
    ends = [number(end) for end in gain] if isinstance(gain, list) else []
    if len(ends) == 2 and ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
        shown = ", ".join(found_text(end) for end in ends)
        yield (*path, "gain_db"), f"[{shown}]; must be [low, high], with low not above high"


def _placement(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    if not isinstance(speaker.get("placement"), dict) or speaker.get("hung_under") is not None:
        return
    placement = speaker["placement"]
    for key in LENGTH_RANGES:
        yield from reversed_range((*path, key), placement.get(key), raw)
    tilt = placement.get("tilt")
    if isinstance(tilt, list) and len(tilt) == 2:
        low, high = _tilt(tilt[0]), _tilt(tilt[1])
        if low is not None and high is not None and low > high:
            shown = ", ".join(found_text(end) for end in tilt)
            yield (*path, "tilt"), f"[{shown}]; must be [low, high], with low not above high"
    given = [key for key in ("height", "trim", "base") if placement.get(key) is not None]
    stacked = placement.get("mount") == "stacked"
    if "trim" in given and len(given) > 1:
        yield (*path, "trim"), f"{' and '.join(given)}; give one of them"
    elif stacked and "trim" in given:
        yield (
            (*path, "trim"),
            "a trim for a stack; give base, the top of what it stands on, or height",
        )
    elif not stacked and "base" in given:
        yield (*path, "base"), 'a base without mount = "stacked"; give height or trim'
    elif given == ["base"] and all(
        table_in(speaker, "cabinet").get(key) is None for key in ("outline", "height")
    ):
        yield (*path, "base"), "base alone; give base and the cabinet's outline, or a height"
    elif not given:
        allowed = "base or height" if stacked else "height or trim"
        yield (*path, "height"), f"missing; give {allowed}"
    yield from _orientation(path, placement, speaker)


def _tilt(value: object) -> float | None:
    try:
        return parse_tilt_deg(value) if isinstance(value, str) else number(value)
    except ValueError:
        return None


def _orientation(path: Path, placement: Table, speaker: Table) -> Iterator[Problem]:
    """Once any rigging is given, an orientation without one cannot be flown."""
    declared = [key for key in ("upright", "flipped") if key in table_in(speaker, "rigging")]
    wanted = placement.get("orientation", "upright")
    if placement.get("mount", "flown") != "flown" or not declared or wanted == "either":
        return
    if wanted in ("upright", "flipped") and wanted not in declared:
        yield (
            (*path, "orientation"),
            f"{found_text(wanted)}, but rigging is given for {declared[0]} alone; "
            f'give rigging.{wanted} too, or "{declared[0]}" here',
        )


# Loudspeakers from their tables: pattern, output, cabinet, what the placement leaves to choose.


def build_speaker(
    table: SpeakerModel,
    *,
    path: Path,
    seatings: tuple[Seating, ...],
    bands_hz: tuple[float, ...],
    tone_hz: tuple[float, ...] | None = None,
    gathered: Gathered,
) -> "tuple[Speaker | None, PatternFile | None]":
    """One loudspeaker and its pattern file; None where that cannot be read.

    bands_hz: design bands; tone_hz: bands of interest, None for the usual ones
    """
    measured: PatternFile | None = None
    pattern: Pattern | None = None
    nominal: Nominal | None = None
    also_hz = tuple(sorted({*usual_tone_hz(bands_hz), *(tone_hz or ())}))
    if table.pattern.file is not None:
        measured = measured_pattern(table.pattern.file, path, bands_hz, also_hz, gathered)
        pattern = measured.pattern if measured else None
    else:
        nominal = nominal_of(table.pattern)
        further = tuple(band for band in also_hz if band not in bands_hz)
        pattern = lobe_of(nominal, (*bands_hz, *further))
    if pattern is None:
        return None, None
    speaker = Speaker(
        name=table.name,
        pattern=pattern,
        offset_db=_offset_db(table, pattern.band_hz),
        serves=_served(table, seatings),
        hang=_hang(table, gathered),
        cabinet=None if table.cabinet is None else build_cabinet(table.cabinet),
        delay_ms=table.delay_ms,
        gain_db=_gain_db(table),
        eq_db=dict(table.eq_db),
        max_level_db=table.output.max_level_db,
        coverage_only=measured is None,
        tone_hz=tone_bands_hz(pattern, nominal, bands_hz, tone_hz),
        sensitivity_db=table.output.sensitivity_db,
        nominal=nominal,
    )
    return speaker, measured


def _gain_db(table: SpeakerModel) -> float:
    """The gain given, or of a range the one nearest to 0 dB, until one is chosen."""
    low, high = _range(table.gain_db)
    return min(max(0.0, low), high)


def _offset_db(table: SpeakerModel, bands_hz: tuple[float, ...]) -> FloatArray:
    """(bands,) sensitivity + gain + eq."""
    given = table.output.sensitivity_db
    return frozen(
        [
            (given.get(band, math.nan) if isinstance(given, dict) else given or 0.0)
            + _gain_db(table)
            + table.eq_db.get(band, 0.0)
            for band in bands_hz
        ]
    )


def _served(table: SpeakerModel, seatings: tuple[Seating, ...]) -> tuple[int, ...]:
    """Indices of the seatings that it serves, ascending; all where the file does not say."""
    return tuple(
        index
        for index, seating in enumerate(seatings)
        if table.serves is None or seating.name in table.serves
    )


def _range(value: float | list[float]) -> Range:
    return (value[0], value[1]) if isinstance(value, list) else (value, value)


def _hang(table: SpeakerModel, gathered: Gathered) -> Hang:
    placement = table.placement
    vertical, vertical_m = _vertical(placement)
    orientations: tuple[Orientation, ...] = (
        ORIENTATIONS if placement.orientation == "either" else (placement.orientation,)
    )
    declared = [held for held in ORIENTATIONS if table.rigging and getattr(table.rigging, held)]
    if placement.mount == "flown" and declared:
        for left_out in [held for held in orientations if held not in declared]:
            gathered.notes.append(
                f"loudspeaker {table.name}: {left_out} is left out of the search, "
                "since no rigging is given for it"
            )
        orientations = tuple(held for held in orientations if held in declared)
    return Hang(
        mount=placement.mount,
        x_m=_range(placement.x),
        vertical="trim" if vertical == "trim" else "height",
        vertical_m=vertical_m,
        tilt_deg=_range(placement.tilt),
        orientations=orientations,
    )


def _vertical(placement: PlacementModel) -> tuple[str, Range]:
    """A stack's base is the trim of what stands on it, unless its height is given."""
    if placement.height is not None:
        return "height", _range(placement.height)
    if placement.trim is not None:
        return "trim", _range(placement.trim)
    if placement.base is None:  # hung under another, from which its place follows
        return "height", (0.0, 0.0)
    return "trim", (placement.base, placement.base)

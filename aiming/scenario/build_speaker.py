"""Loudspeakers from their tables: pattern, output, cabinet, what the placement leaves to choose."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..base.arrays import FloatArray, frozen
from ..base.units import G_M_S2, Unit, length_text
from ..files.toml_places import Path
from ..geometry.section import Seating
from ..speaker.cabinet import Cabinet, Pick
from ..speaker.pattern import Pattern
from ..speaker.rigging import Rigging
from ..speaker.speaker import Hang, Nominal, Orientation, Range, Speaker
from .build_pattern import lobe_of, measured_pattern, nominal_of, tone_bands_hz, usual_tone_hz
from .build_rigging import pair
from .gather import Gathered
from .models.cabinet import CabinetModel, PickModel
from .models.speaker import PlacementModel, SpeakerModel

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile

ORIENTATIONS: tuple[Orientation, ...] = ("upright", "flipped")


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
        cabinet=None if table.cabinet is None else _cabinet(table.cabinet),
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


def _cabinet(table: CabinetModel) -> Cabinet:
    outline, gravity, assumed = table.outline, pair(table.centre_of_gravity), []
    if table.height is not None and table.depth is not None:
        half = 0.5 * table.height
        outline = [[-table.depth, -half], [0.0, -half], [0.0, half], [-table.depth, half]]
        assumed.append("acoustic centre")
        if gravity is None:
            gravity = (-0.5 * table.depth, 0.0)
            assumed.append("centre of gravity")
    return Cabinet(
        mass_kg=table.mass if table.mass_kg is None else table.mass_kg,
        outline_m=None if outline is None else frozen(outline),
        centre_of_gravity_m=gravity,
        assumed=tuple(assumed),
        picks=tuple(
            Pick(
                name=pick.name,
                at_m=(pick.at[0], pick.at[1]),
                wll_n=_wll_n(pick),
            )
            for pick in table.picks
        ),
        laser_at_m=pair(table.laser_at),
        reference_face_deg=table.reference_face_deg,
    )


def _wll_n(table: PickModel) -> float | None:
    if table.wll_kg is not None:
        return table.wll_kg * G_M_S2
    return table.wll if table.wll_kn is None else table.wll_kn * 1000.0


_DOUBT_M = 0.05


def assumed_notes(
    speaker: Speaker, rigging: dict[Orientation, Rigging], unit: Unit
) -> Iterator[str]:
    """What was assumed of the body, with what it costs where it is wrong."""
    cabinet = speaker.cabinet
    if cabinet is None or not cabinet.assumed:
        return
    doubt = length_text(_DOUBT_M, unit)
    text = (
        f"loudspeaker {speaker.name}: assumed, until a drawing is at hand: the acoustic centre "
        f"amid the front; {doubt} elsewhere, heights and distances are wrong by as much"
    )
    if "centre of gravity" in cabinet.assumed:
        text += "; the centre of gravity amid the box"
        apart_m = [
            abs(cabinet.pick(held.picks[0]).at_m[0] - cabinet.pick(held.picks[1]).at_m[0])
            for held in rigging.values()
            if len(held.picks) == 2
        ]
        if apart_m and min(apart_m) > 0.0:
            share = 100.0 * min(1.0, _DOUBT_M / min(apart_m))
            text += (
                f"; each {doubt} further back moves {share:.0f} % of the weight from the front "
                "point to the rear one"
            )
    yield text

"""Cautions about the sound: unknown patterns, grazing, near field, arrays, a level limit."""

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from ..analysis.placed_speaker import Placed
from ..analysis.tone_and_level import every_band, greatest_a_db, loudness_of
from ..base.bands import band_label, exact_midband_hz
from ..base.units import length_text
from ..results.answer import Answer, Caution
from ..results.sound import Loudness
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern, edge_deg
from ..speaker.pattern_figures import control_from_hz
from .rule import threshold

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile


def sound_cautions(
    scenario: Scenario, at: Placed, answer: Answer, *, capped: bool
) -> Iterator[Caution]:
    """Of one loudspeaker at its placement; capped: whether its search stopped at its cap."""
    yield from _levels(scenario, at, answer)
    yield from _axis(scenario, at)
    yield from _far_field(scenario, at)
    yield from _narrow(scenario, at)
    yield from _grazing(scenario, at)
    name = at.speaker.name
    if capped:
        yield Caution(
            "proof-capped",
            "caution",
            "the search stopped at its cap of boxes; the gap reported is what is left",
            speaker=name,
        )


def level_cautions(scenario: Scenario, placed: list[Placed]) -> Iterator[Caution]:
    """The loudest row against the level limit that the scenario names, all loudspeakers together.

    The programme (pink noise unless named) at the greatest output stated, A-weighted.
    """
    limit, where = scenario.cautions.level_limit_db, scenario.cautions.level_limit_name
    if limit is None:
        return
    greatest = [greatest_a_db(scenario, at.speaker, at.placement) for at in placed]
    lacking = [at.speaker.name for at, level in zip(placed, greatest, strict=True) if level is None]
    if lacking:
        yield Caution(
            "level-not-checked",
            "caution",
            f"the level limit {limit:g} dB ({where}) was not checked: no greatest output given for "
            + ", ".join(lacking),
            limit=limit,
            unit="dB",
        )
        return
    energy = np.zeros(len(scenario.rows))
    for level in greatest:
        if level is not None:
            energy += 10.0 ** (level / 10.0)
    if np.isnan(energy).any():
        return  # said already: the pattern's data do not reach every row
    row = int(np.argmax(energy))
    loudest = float(10.0 * np.log10(energy[row]))
    if loudest > limit:
        yield Caution(
            "level-over-limit",
            "caution",
            f"{_programme(scenario)} at the greatest output stated gives {loudest:.1f} dB, "
            f"A-weighted, at {scenario.rows.label(row)}: over {limit:g} dB ({where})",
            value=loudest,
            unit="dB",
            limit=limit,
        )


def _programme(scenario: Scenario) -> str:
    name = scenario.programme.spectrum if scenario.programme else "pink"
    return "pink noise" if name == "pink" else name


def _levels(scenario: Scenario, at: Placed, answer: Answer) -> Iterator[Caution]:
    name, rows = at.speaker.name, scenario.rows
    unknown = np.isnan(answer.rows.by_speaker[name].levels_db).any(axis=0)
    served = np.zeros(len(rows), dtype=np.bool_)
    served[at.served] = True
    for these, figures in (
        (unknown & served, "; figures over those rows are unknown"),
        (
            unknown & ~served,
            ", which it does not serve: its own figures stand, those of all loudspeakers together "
            "are unknown",
        ),
    ):
        if not these.any():
            continue
        first, last = (rows.label(int(row)) for row in np.flatnonzero(these)[[0, -1]])
        which = first if first == last else f"{first} to {last}"
        yield Caution(
            "pattern-unknown",
            "caution",
            f"the pattern data do not reach {which}{figures}",
            value=float(these.sum()),
            unit="rows",
            speaker=name,
        )


def _axis(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    if at.throw_m is None and scenario.aim.axis_on_audience:
        yield Caution(
            "axis-off-audience",
            "caution",
            "the axis meets no audience plane that this loudspeaker serves",
            speaker=at.speaker.name,
        )


def _far_field(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """A row nearer than h²/2λ, h the cabinet's height, λ of the highest design band."""
    height = at.speaker.cabinet.height_m if at.speaker.cabinet else None
    if height is None:
        return
    highest = max(scenario.aim.bands_hz)
    wavelength = scenario.air.speed_of_sound_m_s / exact_midband_hz(highest)
    far = height**2 / (2.0 * wavelength)
    place, rows, unit = at.placement, at.problem.rows, scenario.units
    distance = np.hypot(rows.x_m - float(place.x_m), rows.z_m - float(place.height_m))
    nearest = float(distance.min())
    if nearest < far:
        yield Caution(
            "near-field",
            "caution",
            f"the nearest row is {length_text(nearest, unit)} away, inside the far field of a "
            f"{length_text(height, unit)} high box at {band_label(highest)} "
            f"({length_text(far, unit)}): its level is less certain",
            value=nearest,
            unit="m",
            limit=far,
            speaker=at.speaker.name,
        )


def _narrow(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """How tall a box would have to be for the coverage claimed (Keele's relation)."""
    if not at.speaker.coverage_only:
        return
    tallest, where = _tallest_m(at.problem.pattern)
    most = threshold(scenario, "tallest_box")
    if tallest > most:
        yield Caution(
            "array-like-coverage",
            "caution",
            f"so narrow a coverage at {band_label(where)} asks for a source about "
            f"{length_text(tallest, scenario.units)} high: that is a tall array, and this is a "
            "tool for single boxes",
            value=tallest,
            unit="m",
            limit=most,
            speaker=at.speaker.name,
        )


@lru_cache(maxsize=64)
def _tallest_m(pattern: Pattern) -> tuple[float, float]:
    """The greatest height of a source that has the pattern's coverage, and its band (Hz)."""
    tallest, where = 0.0, pattern.band_hz[0]
    for band, level in zip(pattern.band_hz, pattern.level_db, strict=True):
        up = edge_deg(pattern.angle_deg, level, above=True)
        down = edge_deg(pattern.angle_deg, level, above=False)
        if up is None or down is None:
            continue
        size = control_from_hz(coverage_deg=up - down, mouth_m=1.0) / band
        if size > tallest:
            tallest, where = size, band
    return tallest, where


def _grazing(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """Rows that see the loudspeaker at a small angle to their own audience plane."""
    rows, place, planes = at.problem.rows, at.placement, at.problem.planes
    x = rows.x_m[:, np.newaxis]
    on = (planes.seating == rows.seating[:, np.newaxis]) & (planes.start_m[:, 0] <= x)
    piece = np.argmax(on & (x <= planes.end_m[:, 0]), axis=1)
    run, climb = (planes.end_m - planes.start_m)[piece].T
    slope = np.arctan2(np.where(run > 0.0, climb, 0.0), np.where(run > 0.0, run, 1.0))
    seen = np.arctan2(float(place.height_m) - rows.z_m, rows.x_m - float(place.x_m))
    angles = np.degrees(np.abs(seen + slope))
    row = int(np.argmin(angles))
    limit = threshold(scenario, "grazing_deg")
    if angles[row] < limit:
        yield Caution(
            "grazing",
            "caution",
            f"the sound grazes the audience, at {angles[row]:.1f}° at {rows.label(row)}: heads in "
            "front shadow the rows behind at high frequencies, which is not in these figures",
            value=float(angles[row]),
            unit="°",
            limit=limit,
            speaker=at.speaker.name,
        )


# Cautions about the pattern's data, about estimates made for want of data, and about output.


def pattern_cautions(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """What reading its pattern file noted and doubted, or what a data sheet leaves open."""
    name = at.speaker.name
    file = scenario.pattern_files.get(name)
    if file is not None:
        if holes := _told(file, "hole"):
            yield Caution("pattern-hole", "caution", holes, speaker=name)
        if gaps := _told(file, "gap"):
            yield Caution("pattern-gap", "caution", gaps, speaker=name)
        if steps := _told(file, "step"):
            yield Caution("pattern-step", "caution", steps, speaker=name)
        if alike := _told(file, "identical"):
            yield Caution("pattern-identical", "caution", alike, speaker=name)
        for text in file.notes:
            yield Caution("pattern-note", "note", f"pattern file: {text}", speaker=name)
    yield from _assumed(scenario, at)


def _told(file: "PatternFile", code: str) -> str:
    """All doubts of one kind in one sentence; nothing where there is none."""
    texts = [doubt.text for doubt in file.doubts if doubt.code == code]
    more = f"; and {len(texts) - 1} more like it" if len(texts) > 1 else ""
    return f"pattern file: {texts[0]}{more}" if texts else ""


def _assumed(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    nominal, name = at.speaker.nominal, at.speaker.name
    if nominal is None:
        return
    yield Caution(
        "lobe-assumed",
        "note",
        f"only a coverage angle is known; the shape of the lobe ({nominal.lobe}) is assumed: "
        "other shapes with this angle give other spreads, printed as a range",
        speaker=name,
    )
    if nominal.control_height_m is not None and nominal.control_from_hz is not None:
        yield Caution(
            "control-estimated",
            "note",
            f"that the coverage holds down to about {float(f'{nominal.control_from_hz:.2g}'):.0f} "
            f"Hz is an estimate from a height of "
            f"{length_text(nominal.control_height_m, scenario.units)} (Keele's relation)",
            value=nominal.control_from_hz,
            unit="Hz",
            speaker=name,
        )


def output_cautions(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """Whether the level wanted is reached, and what the sums of bands leave out."""
    wanted, name = scenario.programme, at.speaker.name
    if wanted is None:
        return
    found = loudness_of(scenario, at, every_band(scenario, at.speaker, at.placement))
    target = wanted.target_db
    if target is not None and at.speaker.max_level_db is None:
        yield Caution(
            "target-not-checked",
            "note",
            f"whether {target:g} dB is reached was not checked: no greatest level is given",
            speaker=name,
        )
    if found is None:
        return
    yield from _short(scenario, found, name)
    if found.missing_hz:
        left_out = ", ".join(band_label(band) for band in found.missing_hz)
        yield Caution(
            "bands-left-out",
            "note",
            f"pattern or output is not known at {left_out}: the levels of {found.programme} leave "
            "those bands out",
            speaker=name,
        )


def _short(scenario: Scenario, found: Loudness, name: str) -> Iterator[Caution]:
    played, target = found.greatest, found.target_db
    if played is None or played.headroom_db is None or played.softest is None or target is None:
        return
    if played.headroom_db < 0.0:
        level = float(played.total_db[played.softest])
        yield Caution(
            "target-out-of-reach",
            "caution",
            f"at its greatest level it gives {level:.1f} dB ({found.weighting}-weighted, "
            f"{found.programme}) at {scenario.rows.label(played.softest)}: "
            f"{-played.headroom_db:.1f} dB less than the {target:g} dB wanted",
            value=played.headroom_db,
            unit="dB",
            speaker=name,
        )

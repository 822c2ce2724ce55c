"""Cautions about the sound: unknown patterns, grazing, near field, arrays, a level limit."""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from ..bands import band_label, exact_midband_hz
from ..scenario.scenario import Scenario
from ..speaker.figures import control_from_hz
from ..speaker.pattern import Pattern, edge_deg
from ..units import length_text
from .caution_limits import threshold
from .loudness import greatest_a_db
from .model import Answer, Caution
from .placed import Placed


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

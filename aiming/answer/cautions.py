"""What a careful colleague would say: each caution with its code, figure and limit.

Order: the plain one first, then what stops, then cautions, then notes.
"""

from dataclasses import replace

import numpy as np

from ..bands import band_label, exact_midband_hz
from ..scenario.scenario import Scenario
from ..speaker.figures import control_from_hz
from ..speaker.pattern import edge_deg
from .figures import Placed
from .model import Answer, Caution

GRAZING_DEG = 7.0
"""Below this angle to the audience plane the front rows' heads shadow those behind; common
practice, no source."""
TALLEST_BOX_M = 1.2
"""A single box taller than this is no longer a single box; our own choice."""
_ORDER = {"stop": 0, "caution": 1, "note": 2}


def cautions_of(
    scenario: Scenario, placed: list[Placed], answer: Answer, *, capped: tuple[str, ...]
) -> Answer:
    """The answer with its cautions."""
    told = [_plain()]
    rest: list[Caution] = []
    for at in placed:
        rest += _levels(at, answer)
        rest += _axis(scenario, at)
        rest += _far_field(scenario, at)
        rest += _narrow(scenario, at)
        rest += _grazing(at)
        if at.speaker.name in capped:
            rest.append(
                Caution(
                    code="proof-capped",
                    severity="caution",
                    text="the search stopped at its cap of boxes; the gap reported is what is left",
                    speaker=at.speaker.name,
                )
            )
        if at.speaker.coverage_only:
            rest.append(
                Caution(
                    code="lobe-assumed",
                    severity="note",
                    text="only a coverage angle is known; the shape of the lobe is assumed",
                    speaker=at.speaker.name,
                )
            )
    rest += [Caution(code="reader", severity="note", text=text) for text in scenario.notes]
    rest += [_section_only(), _not_checked()]
    rest.sort(key=lambda one: _ORDER[one.severity])
    return replace(answer, cautions=tuple(told + rest))


def _plain() -> Caution:
    return Caution(
        code="no-rigging-design",
        severity="caution",
        text=(
            "This is no rigging design. Local codes, the maker's data and a competent or "
            "licensed person prevail over everything printed here."
        ),
    )


def _section_only() -> Caution:
    return Caution(
        code="section-only",
        severity="note",
        text=(
            "Computed in one vertical section: direct sound, still air. Nothing is claimed beside "
            "the section, of the room's sound, or of wind and temperature layers outdoors."
        ),
    )


def _not_checked() -> Caution:
    return Caution(
        code="structure-not-checked",
        severity="note",
        text=(
            "Not checked: the structure's capacity, hardware and its condition, secondary "
            "suspension, access, and what happens beside this section."
        ),
    )


def _levels(at: Placed, answer: Answer) -> list[Caution]:
    levels = answer.rows.by_speaker[at.speaker.name].levels_db[:, at.served]
    unknown = np.isnan(levels).any(axis=0)
    if not unknown.any():
        return []
    rows = at.problem.rows
    first, last = (rows.label(int(row)) for row in np.flatnonzero(unknown)[[0, -1]])
    which = first if first == last else f"{first} to {last}"
    return [
        Caution(
            code="pattern-unknown",
            severity="caution",
            text=f"the pattern data do not reach {which}; figures over those rows are unknown",
            value=float(unknown.sum()),
            unit="rows",
            speaker=at.speaker.name,
        )
    ]


def _axis(scenario: Scenario, at: Placed) -> list[Caution]:
    if at.throw_m is not None or not scenario.aim.axis_on_audience:
        return []
    return [
        Caution(
            code="axis-off-audience",
            severity="caution",
            text="the axis meets no audience plane that this loudspeaker serves",
            speaker=at.speaker.name,
        )
    ]


def _far_field(scenario: Scenario, at: Placed) -> list[Caution]:
    """A row nearer than h²/2λ, h the cabinet's height, λ of the highest design band."""
    height = at.speaker.cabinet.height_m if at.speaker.cabinet else None
    if height is None:
        return []
    highest = max(scenario.aim.bands_hz)
    wavelength = scenario.air.speed_of_sound_m_s / exact_midband_hz(highest)
    far = height**2 / (2.0 * wavelength)
    place = at.placement
    rows = at.problem.rows
    distance = np.hypot(rows.x_m - float(place.x_m), rows.z_m - float(place.height_m))
    nearest = float(distance.min())
    if nearest >= far:
        return []
    return [
        Caution(
            code="near-field",
            severity="caution",
            text=(
                f"the nearest row is {nearest:.1f} m away, inside the far field of a "
                f"{height:.2f} m high box at {band_label(highest)} ({far:.1f} m): "
                "its level is less certain"
            ),
            value=nearest,
            unit="m",
            limit=far,
            speaker=at.speaker.name,
        )
    ]


def _narrow(scenario: Scenario, at: Placed) -> list[Caution]:
    """How tall a box would have to be for the coverage claimed (Keele's relation)."""
    pattern = at.problem.pattern
    tallest, where = 0.0, pattern.band_hz[0]
    for band, level in zip(pattern.band_hz, pattern.level_db, strict=True):
        up = edge_deg(pattern.angle_deg, level, above=True)
        down = edge_deg(pattern.angle_deg, level, above=False)
        if up is None or down is None:
            continue
        size = control_from_hz(coverage_deg=up - down, mouth_m=1.0) / band
        if size > tallest:
            tallest, where = size, band
    if not at.speaker.coverage_only or tallest <= TALLEST_BOX_M:
        return []
    return [
        Caution(
            code="array-like-coverage",
            severity="caution",
            text=(
                f"so narrow a coverage at {band_label(where)} asks for a source about "
                f"{tallest:.1f} m high: that is a tall array, and this is a tool for single boxes"
            ),
            value=tallest,
            unit="m",
            limit=TALLEST_BOX_M,
            speaker=at.speaker.name,
        )
    ]


def _grazing(at: Placed) -> list[Caution]:
    """Rows that see the loudspeaker at a small angle to their own audience plane."""
    rows, place, planes = at.problem.rows, at.placement, at.problem.planes
    x, z = rows.x_m[:, np.newaxis], rows.z_m
    on = (planes.seating == rows.seating[:, np.newaxis]) & (planes.start_m[:, 0] <= x)
    piece = np.argmax(on & (x <= planes.end_m[:, 0]), axis=1)
    run, climb = (planes.end_m - planes.start_m)[piece].T
    slope = np.arctan2(np.where(run > 0.0, climb, 0.0), np.where(run > 0.0, run, 1.0))
    seen = np.arctan2(float(place.height_m) - z, rows.x_m - float(place.x_m))
    least = float(np.degrees(np.abs(seen + slope)).min())
    if least >= GRAZING_DEG:
        return []
    return [
        Caution(
            code="grazing",
            severity="caution",
            text=(
                f"the sound grazes the audience at {least:.1f}°: heads in front shadow the rows "
                "behind at high frequencies, which is not in these figures"
            ),
            value=least,
            unit="°",
            limit=GRAZING_DEG,
            speaker=at.speaker.name,
        )
    ]

"""From a scenario to the question that the search answers, one loudspeaker at a time."""

from ..aim.problem import Problem
from ..air import absorption_db_per_m
from ..arrays import FloatArray
from ..bands import exact_midband_hz
from ..rigging.body import NotChecked
from ..rigging.reach import reachable_tilt_deg
from ..scenario.scenario import Scenario
from ..section import plane_segments
from ..speaker.speaker import Orientation, Range, Speaker
from .hiding import hiding_for


def band_absorption_db_per_m(scenario: Scenario, bands_hz: tuple[float, ...]) -> FloatArray:
    """(bands,) at the exact mid-bands, ISO 9613-1."""
    return absorption_db_per_m([exact_midband_hz(band) for band in bands_hz], scenario.air)


def problem_of(scenario: Scenario, speaker: Speaker) -> Problem:
    """What the search is asked for this loudspeaker."""
    bands = scenario.aim.bands_hz
    rows = scenario.rows.pick(scenario.rows.of(speaker.serves))
    return Problem(
        pattern=speaker.pattern.only(bands),
        rows=rows,
        planes=plane_segments(scenario.seatings, speaker.serves),
        absorption_db_per_m=band_absorption_db_per_m(scenario, bands),
        hang=speaker.hang,
        cabinet=speaker.cabinet,
        objective=scenario.aim.objective,
        axis_on_audience=scenario.aim.axis_on_audience,
        shadow=hiding_for(scenario, rows, speaker),
        reachable_tilt_deg=reachable(scenario, speaker),
    )


def reachable(scenario: Scenario, speaker: Speaker) -> dict[Orientation, tuple[Range, ...]] | None:
    """Per orientation the intervals of tilt that the declared rigging holds; None without one.

    A pulling line to a fixed point limits the search only where the place is given: elsewhere it
    depends on what the search is to find, and the placement found is checked afterwards.
    """
    declared = scenario.rigging.get(speaker.name, {})
    if speaker.hang.mount != "flown" or not declared:
        return None
    found: dict[Orientation, tuple[Range, ...]] = {}
    at_m = _given_place_m(speaker)
    for orientation, rigging in declared.items():
        reach = reachable_tilt_deg(
            speaker.cabinet, rigging, flipped=orientation == "flipped", at_m=at_m
        )
        if isinstance(reach, NotChecked):
            continue
        if reach.tilts_deg is None:
            found[orientation] = reach.intervals_deg
        else:
            found[orientation] = tuple((tilt, tilt) for tilt in sorted(set(reach.tilts_deg)))
    return found or None


def _given_place_m(speaker: Speaker) -> tuple[float, float] | None:
    """x, z of the acoustic centre where the placement leaves nothing of it open."""
    hang = speaker.hang
    if hang.vertical != "height" or hang.x_m[0] != hang.x_m[1]:
        return None
    return (hang.x_m[0], hang.vertical_m[0]) if hang.vertical_m[0] == hang.vertical_m[1] else None

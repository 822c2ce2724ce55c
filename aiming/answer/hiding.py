"""What hides rows of a scenario: surfaces, and the floors of all seatings."""

import numpy as np

from ..aim.tolerance import Tolerance
from ..bands import exact_midband_hz
from ..field.shadow import Screening
from ..field.walls import walls_of
from ..scenario.scenario import Scenario
from ..section import Rows
from ..speaker.cabinet import drop_m
from ..speaker.speaker import Range, Speaker


def screening_of(scenario: Scenario, rows: Rows, bands_hz: tuple[float, ...]) -> Screening:
    """What hides these rows, in these bands."""
    return Screening(
        walls=walls_of(scenario.seatings, scenario.surfaces),
        row_x_m=rows.x_m,
        row_z_m=rows.z_m,
        midband_hz=np.array([exact_midband_hz(band) for band in bands_hz]),
        c_m_s=scenario.air.speed_of_sound_m_s,
    )


def hiding_for(scenario: Scenario, rows: Rows, speaker: Speaker) -> Screening | None:
    """The screening of these rows in the design bands, from wherever the loudspeaker may hang,
    and from wherever it may be off within the tolerance.

    None where nothing can hide any of them: then nothing has to be computed.
    """
    screening = screening_of(scenario, rows, scenario.aim.bands_hz)
    hang = speaker.hang
    off = scenario.aim.tolerance or Tolerance()
    x_m, height_m = _wider(hang.x_m, off.x_m), _wider(_height_range_m(speaker), off.height_m)
    if screening.never_hides(x_m, height_m):
        return None
    return screening.within(x_m, height_m)


def _height_range_m(speaker: Speaker) -> Range:
    """Where the acoustic centre may lie, whatever the tilt."""
    low, high = speaker.hang.vertical_m
    if speaker.hang.vertical == "height":
        return low, high
    tilt = np.linspace(-90.0, 90.0, 181)
    drops = [drop_m(speaker.cabinet, tilt_deg=tilt, flipped=turn) for turn in (False, True)]
    return low + float(np.min(drops)), high + float(np.max(drops))


def _wider(range_m: Range, by_m: float) -> Range:
    return range_m[0] - by_m, range_m[1] + by_m

"""The whole comparison: a scenario, what was measured and read, and what that says."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..aim.check_positions import BAND_DB, SITE_DB
from ..aim.problem import Problem
from ..analysis.problems import problem_of
from ..analysis.solve import solve
from ..base.errors import AimingError
from ..results.answer import Answer
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement, Speaker
from .advice import Correction, advice_text, correction, coverage
from .compare import Compared, compared_with, positions_found
from .fit import Noise
from .hung import Hung, hung_from
from .judge import Estimate
from .model import Coverage, Found, Interval
from .places import Point, microphones, place_points, read_places, refuse_mixed
from .prediction import whole
from .reading_equations import Box
from .readings import read_readings
from .traces import Magnitude, measured_traces

CONFIRMS = 2.5758 / 1.6449
"""Reading and levels agree within the 99 % interval of their difference."""


class OnSiteError(AimingError):
    """A comparison that cannot be made; the text says what would allow it."""


def onsite(
    scenario: Scenario,
    measured: str | Path | None = None,
    *,
    at: Mapping[str, str | Path] | None = None,
    places: str | Path | None = None,
    readings: str | Path | None = None,
    speaker: str | None = None,
    mic_height_m: float | None = None,
    magnitude: Magnitude | None = None,
    site_db: float = SITE_DB,
    band_db: float = BAND_DB,
    answer: Answer | None = None,
) -> Found:
    """Hold one loudspeaker's plan against measured levels and readings.

    measured: CSV with position, frequency_hz, level_db and optionally coherence
    at: one text file per position, by its name
    places: CSV with position, x, z for positions that are no rows
    readings: CSV of inclinometer, laser, load cells and heights (see readings.py)
    speaker: which one was measured, alone; needed where there are several
    mic_height_m: of the microphones above the floor; None puts them at the ears
    magnitude: what magnitudes are, where they may be linear or dB
    site_db, band_db: the noise model, standard deviations
    answer: the plan, where it has been solved already

    Raises ScenarioError for every fault of the files, OnSiteError where nothing can be compared.
    """
    box = speaker_of(scenario, speaker)
    plan, noise = _plan(answer or solve(scenario, choices=False), box.name), Noise(site_db, band_db)
    audience = problem_of(scenario, box)
    audience = replace(audience, pattern=whole(audience.pattern))
    traces = measured_traces(measured, at, magnitude=magnitude) if measured or at else ()
    hung = None
    if readings is not None:
        read = read_readings(readings, unit=scenario.units)
        hung = hung_from(Box(scenario, box, plan, read))
    if not traces and hung is None:
        raise OnSiteError("nothing to compare: measured levels, or readings, are needed")
    compared = None
    if traces:
        table: dict[str, Point] = {}
        if places is not None:
            read_table = read_places(places, unit=scenario.units)
            refuse_mixed(traces, read_table, mic_height_m)
            table = read_table.points
        points = place_points(traces, microphones(scenario.rows, mic_height_m), table)
        rise = hung.height_m.value - float(plan.height_m) if hung and hung.height_m else None
        compared = compared_with(
            scenario, box, plan, traces, points, height_error_m=rise, noise=noise
        )
    return _found(scenario, box, audience, plan, hung, compared, noise)


def speaker_of(scenario: Scenario, name: str | None) -> Speaker:
    """The loudspeaker of this name, or the only one; raises OnSiteError."""
    names = [one.name for one in scenario.speakers]
    if name is None and len(names) > 1:
        raise OnSiteError(
            f"the scenario has several loudspeakers ({', '.join(names)}): say which one was "
            "measured, the others being off"
        )
    if name is not None and name not in names:
        raise OnSiteError(f'there is no loudspeaker "{name}"; {", ".join(names)}')
    return scenario.speaker(name or names[0])


def _plan(answer: Answer, name: str) -> Placement:
    one = next(one for one in answer.speakers if one.name == name)
    return Placement(one.x_m, one.height_m, one.tilt_deg, one.orientation == "flipped")


def _found(
    scenario: Scenario,
    speaker: Speaker,
    audience: Problem,
    plan: Placement,
    hung: Hung | None,
    compared: Compared | None,
    noise: Noise,
) -> Found:
    found = compared.estimate if compared else None
    levels_tilt = _fitted(found, "tilt_deg")
    read_tilt = hung.tilt_deg.less(float(plan.tilt_deg)) if hung and hung.tilt_deg else None
    tilt = read_tilt or levels_tilt
    height = hung.height_m.less(float(plan.height_m)) if hung and hung.height_m else None
    height = height or _fitted(found, "height_m")
    scale = _fitted(found, "pattern_scale")
    confirmed = _confirmed(read_tilt, levels_tilt, found)
    explained = found.explained if found else None
    if explained is False and read_tilt is None:
        tilt = height = scale = None
    change: Correction | None = None
    if tilt is not None:
        change = correction(
            audience, plan, tilt_error_deg=tilt, height_error_m=height, pattern_scale=scale
        )
    refused = explained is False or confirmed is False
    planned = coverage(audience, plan)
    nothing = Coverage(None, None)
    return Found(
        title=scenario.title,
        datum=scenario.datum,
        speaker=speaker.name,
        bands_hz=scenario.aim.bands_hz,
        site_db=noise.site_db,
        band_db=noise.band_db,
        plan=plan,
        tilt_error_deg=tilt,
        height_error_m=height,
        pattern_scale=scale,
        levels_tilt_error_deg=levels_tilt,
        confirmed=confirmed,
        explained=explained,
        stands_out=found.stands_out if found else (),
        hung=change.hung if change else None,
        corrected=None if change is None or refused else change.corrected,
        planned_coverage=planned,
        now=change.now if change else nothing,
        after=change.after if change and not refused else nothing,
        advice=advice_text(
            unit=scenario.units,
            estimate=found,
            correction=change,
            tilt_error_deg=tilt,
            height_error_m=height,
            pattern_scale=scale,
            from_readings=read_tilt is not None,
            levels_tilt=levels_tilt,
            confirmed=confirmed,
            planned=planned,
        ),
        positions=positions_found(compared) if compared else (),
        readings=hung.readings if hung else (),
        notes=(*(hung.notes if hung else ()), *(compared.notes if compared else ())),
        rows=audience.rows,
    )


def _fitted(found: Estimate | None, name: str) -> Interval | None:
    if found is None or name not in found.fit.free:
        return None
    return Interval(*found.fit.interval(name))


def _confirmed(
    read: Interval | None, levels: Interval | None, found: Estimate | None
) -> bool | None:
    if read is None or levels is None or found is None or found.explained is False:
        return None
    apart = abs(read.value - levels.value)
    return bool(apart <= CONFIRMS * float(np.hypot(read.half, levels.half)))

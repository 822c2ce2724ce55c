"""From the checked models to the scenario."""

from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import numpy as np

from ..aim.tolerance import Tolerance
from ..base.air import Air, stated_accuracy_percent
from ..base.bands import band_label, exact_midband_hz
from ..geometry.section import rows_of
from ..speaker.speaker import Speaker
from .build_company import build_company, hung_within
from .build_place import build_focus, build_points, build_seatings, build_surfaces
from .build_rigging import build_rigging, order_notes, pair
from .build_speaker import assumed_notes, build_speaker
from .build_stack import build_stacks
from .gather import Gathered
from .models.cautions import CautionsModel
from .models.root import ScenarioModel
from .scenario import (
    SOFTEST_DB,
    AimSettings,
    CautionSettings,
    Pan,
    ProgrammeSettings,
    Scenario,
    Variant,
    Weather,
)

if TYPE_CHECKING:
    from ..files.pattern_result import PatternFile


def build(
    model: ScenarioModel, gathered: Gathered, *, file: str, document: dict[str, Any], text: str
) -> Scenario | None:
    """The scenario; None where a file that it names gave faults, which are then in gathered."""
    air = Air(model.air.temperature_c, model.air.humidity_percent, model.air.pressure_kpa)
    bands_hz = tuple(sorted(model.aim.bands))
    gathered.notes.extend(_air_notes(air, bands_hz))
    seatings = build_seatings(model, gathered)
    surfaces = build_surfaces(model, gathered)
    speakers: list[Speaker] = []
    pattern_files: dict[str, PatternFile] = {}
    for index, table in enumerate(model.speaker):
        speaker, measured = build_speaker(
            table,
            path=("speaker", index),
            seatings=seatings,
            bands_hz=bands_hz,
            tone_hz=None if model.aim.tone_bands is None else tuple(sorted(model.aim.tone_bands)),
            gathered=gathered,
        )
        if speaker is not None:
            speakers.append(speaker)
        if measured is not None:
            pattern_files[table.name] = measured
        gathered.notes.extend(order_notes(table))
        if speaker is not None:
            gathered.notes.extend(assumed_notes(speaker, build_rigging(table), model.units))
    if not gathered.clean:
        return None
    rows = rows_of(seatings)
    company = build_company(model, rows, gathered)
    if not gathered.clean:
        return None
    scenario = Scenario(
        title=model.title or ("untitled" if file == "-" else FilePath(file).stem),
        file=file,
        folder=gathered.folder,
        units=model.units,
        datum=model.datum.name,
        air=air,
        seatings=seatings,
        rows=rows,
        surfaces=surfaces,
        points=build_points(model),
        focus=build_focus(model),
        speakers=hung_within(speakers, company),
        company=company,
        aim=AimSettings(
            bands_hz=bands_hz,
            objective=model.aim.objective,
            axis_on_audience=model.aim.axis_on_audience,
            gap_db=model.aim.gap_db,
            lower_if_within_db=model.aim.lower_if_within_db,
            tolerance=_tolerance(model),
            at_worst=model.aim.objective_at == "worst",
            max_front_elevation_deg=model.aim.max_front_elevation_deg,
            left_to_fill=model.aim.left_to_fill,
            softest_db=_softest_db(model.aim.softest_db),
            softest_stated=model.aim.softest_db is not None,
        ),
        rigging={table.name: held for table in model.speaker if (held := build_rigging(table))},
        stacks=build_stacks(model),
        cautions=_cautions(model.cautions),
        outdoors=model.outdoors is not None,
        gust_speed_m_s=None if model.outdoors is None else model.outdoors.gust_speed,
        weather=_weather(model),
        base_m={
            table.name: table.placement.base
            for table in model.speaker
            if table.placement.base is not None
        },
        pans={
            table.name: Pan(table.placement.pan_deg, table.placement.off_centre)
            for table in model.speaker
            if (table.placement.pan_deg, table.placement.off_centre) != (None, None)
        },
        pattern_files=pattern_files,
        variants=tuple(Variant(one.name, dict(one.set)) for one in model.variant),
        notes=tuple(gathered.notes),
        survey_notes=tuple(gathered.survey_notes),
        programme=None
        if model.programme is None
        else ProgrammeSettings(
            spectrum=model.programme.spectrum,
            target_db=model.programme.target_db,
            weighting=model.programme.weighting,
        ),
        document=document,
        text=text,
    )
    _check_left_to_fill(scenario, gathered)
    return scenario if gathered.clean else None


def _check_left_to_fill(scenario: Scenario, gathered: Gathered) -> None:
    """Every loudspeaker keeps a row: what leaves all of them to a fill serves nobody."""
    count = scenario.aim.left_to_fill
    if not isinstance(count, int):
        return
    for speaker in scenario.speakers:
        rows = scenario.rows.of(speaker.serves)
        front = scenario.front_rows(speaker.name)
        if np.isin(rows, front[:count]).all():
            most = next(n for n in range(count, -1, -1) if not np.isin(rows, front[:n]).all())
            text = f"{count}, every row that {speaker.name} serves; {most} at most"
            gathered.problems.append((("aim", "left_to_fill"), text))
            return


def _cautions(table: CautionsModel) -> CautionSettings:
    beside = {"stage_focus", "level_limit_db", "level_limit_name"}
    given = table.model_dump(exclude=beside, exclude_none=True)
    return CautionSettings(
        thresholds=given,
        stage_focus_m=pair(table.stage_focus) or (0.0, 0.0),
        level_limit_db=table.level_limit_db,
        level_limit_name=table.level_limit_name or "",
    )


def _air_notes(air: Air, bands_hz: tuple[float, ...]) -> list[str]:
    """Bands whose air absorption is known less well than the standard's best."""
    accuracy = {band: stated_accuracy_percent(exact_midband_hz(band), air) for band in bands_hz}
    notes = []
    for percent in sorted({value for value in accuracy.values() if value > 10.0}):
        bands = ", ".join(band_label(band) for band in bands_hz if accuracy[band] == percent)
        notes.append(
            f"air absorption at {bands}: outside the range in which ISO 9613-1 states ±10 %; "
            f"there ±{percent:g} %"
        )
    return notes


def _softest_db(given: float | str | None) -> float | None:
    if given is None:
        return SOFTEST_DB
    return given if isinstance(given, float) else None


def _tolerance(model: ScenarioModel) -> Tolerance | None:
    given = model.aim.tolerance
    if given is None:
        return None
    return Tolerance(
        tilt_deg=given.tilt,
        height_m=given.height,
        x_m=given.x,
        coverage_percent=given.coverage_percent,
    )


def _weather(model: ScenarioModel) -> Weather | None:
    given = model.outdoors
    if given is None or (given.wind_speed is None and given.temperature_gradient is None):
        return None
    return Weather(
        wind_speed_m_s=given.wind_speed or 0.0,
        wind_height_m=given.wind_height,
        temperature_gradient_c_m=given.temperature_gradient or 0.0,
    )

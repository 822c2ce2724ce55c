"""What a drawn page shows of an answer, as plain values: the one thing that its scripts draw.

Lengths are metres, levels dB about the mean over the rows, as they are printed; texts are ready to
be shown.  The page that travels makes its views from its tables, the live page is sent them.
"""

from math import isfinite
from typing import Any

import numpy as np

from ...base.arrays import FloatArray
from ...base.bands import band_label
from ...base.units import Unit, length_text, tilt_text, x_text
from ...results.answer import Answer, Caution, SpeakerAnswer
from ...results.section import Edges, LevelMap, ShadowLines
from ...scenario.scenario import Scenario
from ...speaker.speaker import Hang
from ..figures.section import left_rows
from ..text.words import db_text, loudest_softest, mass_of_text, row_text, throw_m

View = dict[str, Any]
UNITS: tuple[Unit, Unit] = ("m", "ft")
DESIGN = "mean of the bands"
MAP_STEP_DB = 0.5
"""The map's levels are whole numbers of these."""


def view_of(answer: Answer, shadows: dict[str, ShadowLines]) -> View:
    """Everything that the section and the chart draw, loads too; no map and no cautions."""
    scenario = answer.scenario
    along, edges = answer.curves, answer.edges
    rows = scenario.rows
    return {
        "title": scenario.title,
        "datum": scenario.datum,
        "unit": scenario.units,
        "channels": [DESIGN, *(band_label(band) for band in answer.bands_hz)],
        **house_view(scenario),
        "rows": {
            "name": list(rows.names),
            "seating": [int(of) for of in rows.seating],
            "x": _rounded(rows.x_m, 3),
            "z": _rounded(rows.z_m, 3),
            "left": [bool(of) for of in left_rows(answer)],
        },
        "level": [levels_list(along.design_db), *(levels_list(of) for of in along.by_band_db)],
        "speakers": [
            _speaker(answer, one, edges[one.name], shadows[one.name]) for one in answer.speakers
        ],
        "together": _together(answer),
        "several": len(answer.speakers) > 1,
    }


def house_view(scenario: Scenario) -> View:
    """Floors, ears, surfaces and what else stands still."""
    return {
        "solid": [_points(of) for of in scenario.solid_tops_m],
        "seatings": [
            {"name": of.name, "floor": _points(of.floor_m), "ears": _points(of.audience_plane_m)}
            for of in scenario.seatings
        ],
        "surfaces": [{"name": of.name, "line": _points(of.line_m)} for of in scenario.surfaces],
        "points": [{"name": of.name, "at": list(of.at_m)} for of in scenario.points],
        "focus": None if scenario.focus is None else list(scenario.focus.at_m),
    }


def _points(points_m: FloatArray) -> list[list[float]]:
    return [[round(float(x), 4), round(float(z), 4)] for x, z in points_m]


def _rounded(values: FloatArray, places: int) -> list[float]:
    return [round(float(of), places) for of in values]


def levels_list(level_db: FloatArray) -> list[float | None]:
    """As they are printed, to the tenth; None where unknown."""
    return [float(f"{of:.1f}") + 0.0 if isfinite(of) else None for of in level_db]


def about_mean_db(level_db: FloatArray, weight: FloatArray) -> FloatArray:
    """Levels (n,) about their weighted mean; unknown ones are left out of it."""
    known = np.isfinite(level_db)
    if not known.any():
        return level_db
    return np.asarray(level_db - np.average(level_db[known], weights=weight[known]))


def _speaker(answer: Answer, one: SpeakerAnswer, edges: Edges, shadow: ShadowLines) -> View:
    scenario = answer.scenario
    speaker = scenario.speaker(one.name)
    outline = None if speaker.cabinet is None else speaker.cabinet.outline_m
    line = one.uniform_line
    served = scenario.rows.of(speaker.serves)
    levels = answer.rows.by_speaker[one.name].levels_db[:, served]
    every = np.concatenate([levels.mean(axis=0)[np.newaxis], levels])
    return {
        "name": one.name,
        "x": one.x_m,
        "height": one.height_m,
        "trim": one.trim_m,
        "tilt": one.tilt_deg,
        "flipped": one.orientation == "flipped",
        "outline": None if outline is None else outline.tolist(),
        "aim": None if one.aim_point is None else list(one.aim_point),
        "edges": [edges.below_deg, edges.above_deg],
        "uniform": [] if line is None else _points(line.points_m),
        "hidden": [int(of) for of in np.flatnonzero(shadow.hidden)],
        "shadows": [_points(of) for of in shadow.lines_m],
        "rows": [int(of) for of in served],
        "level": [levels_list(about_mean_db(of, scenario.rows.weight[served])) for of in every],
        "handover": None if one.match is None else one.match.handover_row,
        "hungUnder": one.hung_under,
        "range": range_view(speaker.hang),
        "best": None
        if one.best is None
        else [one.best.x_m, one.best.height_m, one.best.tilt_deg, one.best.objective_db],
        "gap": one.gap_db,
        "text": speaker_texts(answer, one),
        "figures": _figures(
            answer,
            (one.spread_db, one.worst_band_spread_db, one.rows_within_3db_percent),
            served,
            every[0],
        ),
        "loads": _loads(one),
    }


def range_view(hang: Hang) -> View:
    """What may be chosen; an end of each range can be dragged."""
    return {
        "x": list(hang.x_m),
        "vertical": list(hang.vertical_m),
        "of": hang.vertical,
        "tilt": list(hang.tilt_deg),
        "mount": hang.mount,
    }


def speaker_texts(answer: Answer, one: SpeakerAnswer) -> View:
    """What is hung, in words, lengths in both units."""
    cabinet = answer.scenario.speaker(one.name).cabinet
    outline = cabinet is not None and cabinet.outline_m is not None
    throw = throw_m(one)
    aim = None
    if one.aim_row is not None and throw is not None:
        row = row_text(answer, one.aim_row)
        aim = {unit: f"the ears of {row}, {length_text(throw, unit)} away" for unit in UNITS}
    setting = None
    if len(answer.speakers) > 1:
        setting = f"gain {db_text(one.gain_db, signed=True)}, delay {one.delay_ms:.1f} ms"
    return {
        "tilt": tilt_text(one.tilt_deg),
        "height": length_texts(one.height_m),
        "trim": length_texts(one.trim_m) if outline else None,
        "x": {unit: x_text(one.x_m, unit) for unit in UNITS},
        "hung": f"{one.mount}, {one.orientation}",
        "throw": None if throw is None else length_texts(throw),
        "aim": aim,
        "setting": setting,
    }


def length_texts(length_m: float) -> dict[str, str]:
    """One length in words, in both units."""
    return {unit: length_text(length_m, unit) for unit in UNITS}


def _together(answer: Answer) -> View | None:
    every = answer.together
    if every is None:
        return None
    return _figures(
        answer,
        (every.spread_db, every.worst_band_spread_db, every.rows_within_3db_percent),
        np.arange(len(answer.rows)),
        answer.rows.design_level_db,
    )


def _figures(
    answer: Answer,
    figures: tuple[float | None, float | None, float | None],
    rows: Any,
    level_db: FloatArray,
) -> View:
    spread, worst, within = figures
    ends = None
    if len(rows) and np.isfinite(level_db).all():
        loudest, softest = (rows[place] for place in loudest_softest(level_db))
        ends = (
            f"from {row_text(answer, int(loudest))} (loudest) "
            f"to {row_text(answer, int(softest))} (softest)"
        )
    return {
        "spread": db_text(spread),
        "worst": db_text(worst),
        "within": None if within is None else f"{within:.0f} %",
        "ends": ends,
    }


def _loads(one: SpeakerAnswer) -> View | None:
    """Weight, and what hangs on each point, as masses; None where nothing is computed."""
    loads = one.loads
    if loads is None or not loads.points:
        return None
    points = [
        {
            "name": point.name,
            "force": mass_texts(point.tension_n),
            "share": f"{100 * point.share:.0f} %",
            "use": None
            if point.utilisation is None or point.tension_n < 0.0
            else f"{100 * point.utilisation:.0f} %",
            "slack": point.tension_n < 0.0,
        }
        for point in loads.points
    ]
    return {"weight": mass_texts(loads.weight_n), "points": points}


def mass_texts(force_n: float) -> dict[str, str]:
    """What a load weighs, in words, in both units."""
    return {unit: mass_of_text(force_n, unit) for unit in UNITS}


def map_view(mean_db: float, found: LevelMap) -> View:
    """The design level over the section, re the mean over the rows.

    level: row by row from the lowest, in steps of MAP_STEP_DB; None where unknown
    """
    about = found.design_level_db - mean_db
    steps = np.clip(np.rint(np.nan_to_num(about, nan=-999.0) / MAP_STEP_DB), -127, 127)
    known = np.isfinite(about)
    return {
        "extent": map_extent(found),
        "size": [len(found.x_m), len(found.z_m)],
        "step": MAP_STEP_DB,
        "level": [
            int(of) if here else None for of, here in zip(steps.ravel(), known.ravel(), strict=True)
        ],
    }


def map_extent(found: LevelMap) -> list[float]:
    """x from, x to, z from, z to: half a step beyond the outermost points, as each has a size."""
    ends = []
    for axis in (found.x_m, found.z_m):
        half = 0.5 * float(axis[1] - axis[0])
        ends += [float(axis[0]) - half, float(axis[-1]) + half]
    return ends


def cautions_view(answer: Answer) -> list[View]:
    """Stops first, then cautions, then notes."""
    several = len(answer.speakers) > 1
    return [caution_view(of, several) for of in sorted(answer.cautions, key=_severity)]


def _severity(one: Caution) -> int:
    return ("stop", "caution", "note").index(one.severity)


def caution_view(one: Caution, several: bool) -> View:
    """Whose it is only where there are several loudspeakers."""
    speaker = one.speaker if several else None
    return {"severity": one.severity, "text": one.text, "speaker": speaker}

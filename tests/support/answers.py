"""Answers put together by hand, so that reports are tested without the solver."""

from dataclasses import replace
from typing import Any

import numpy as np

from aiming.aim import measures
from aiming.analysis.complete import complete
from aiming.analysis.section_map import curves_of, edges_of, extent_of
from aiming.analysis.tone_and_level import every_band
from aiming.base.air import air_loss
from aiming.field.levels import levels_db, power_sum_db, sight
from aiming.results.answer import (
    Answer,
    BandFigures,
    Best,
    Bind,
    Caution,
    RowsAnswer,
    Shortcut,
    SpeakerAnswer,
    SpeakerRows,
    Together,
    UniformLine,
    Window,
)
from aiming.results.section import Curves
from aiming.scenario import Scenario, load
from aiming.speaker.cabinet import drop_m
from aiming.speaker.speaker import Placement

HALL = """
title = "Assembly hall of a school, speech"
units = "{units}"
[datum]
name = "stage front edge, hall floor"
[[seating]]
name = "floor"
line = [["3 m", 0.0], ["17.4 m", "1.0 m"]]
row_spacing = "0.9 m"
row_names = ["A", "B", "C"]
[[surface]]
name = "back wall"
line = [["19 m", 0.0], ["19 m", "6.5 m"]]
[[speaker]]
name = "main"
[speaker.pattern]
coverage = 60
[speaker.cabinet]
outline = [["-0.38 m", "-0.20 m"], ["0.02 m", "-0.20 m"], ["0.02 m", "0.44 m"],
           ["-0.38 m", "0.44 m"]]
[speaker.placement]
height = ["3 m", "6 m"]
"""

HOUSE = """
title = "Three tiers and four loudspeakers"
[datum]
name = "setting line, house floor"
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [26.0, 1.1]]
[[seating]]
name = "circle"
line = [[16.0, 4.2], [27.0, 7.4]]
ears = "seated"
[[seating]]
name = "gallery"
line = [[19.0, 8.6], [29.0, 13.2]]
[[surface]]
name = "circle front"
line = [[15.6, 4.9], [15.6, 3.6], [27.0, 3.9]]
[[surface]]
name = "gallery front"
line = [[18.6, 9.4], [18.6, 8.0], [28.0, 8.4]]
{speakers}
"""

SPEAKER = """
[[speaker]]
name = "{name}"
serves = ["{serves}"]
gain_db = {gain_db}
[speaker.pattern]
coverage = {coverage}
[speaker.cabinet]
outline = [[-0.40, -0.25], [0.03, -0.35], [0.03, 0.35], [-0.40, 0.25]]
[speaker.placement]
x = {x}
height = {height}
tilt = {tilt}
"""

_KEYS = ("name", "serves", "gain_db", "coverage", "x", "height", "tilt")
FOUR = tuple(
    dict(zip(_KEYS, values, strict=True))
    for values in (
        ("stalls main", "stalls", 0, 50, 0.5, 7.5, -22),
        ("circle", "circle", 1, 40, 0.2, 9.0, -7),
        ("gallery", "gallery", 3, 30, 0, 10.5, 2),
        ("under circle", "stalls", -9, 90, 15, 3.5, -25),
    )
)


def hall(units: str = "m") -> Scenario:
    """One loudspeaker, one block."""
    return load("-", stdin_text=HALL.format(units=units))


def house() -> Scenario:
    """Three tiers, four loudspeakers."""
    speakers = "".join(SPEAKER.format(**one) for one in FOUR)
    return load("-", stdin_text=HOUSE.format(speakers=speakers))


def answer_of(
    scenario: Scenario,
    placements: dict[str, Placement],
    cautions: tuple[Caution, ...] = (),
) -> Answer:
    """The answer for given placements; windows and proofs are made up."""
    bands, rows = scenario.aim.bands_hz, scenario.rows
    by_speaker = {
        speaker.name: _rows(scenario, speaker.name, placements[speaker.name])
        for speaker in scenario.speakers
    }
    together = power_sum_db(np.stack([one.levels_db for one in by_speaker.values()]))
    every = np.arange(len(rows))
    speakers = tuple(
        _speaker(scenario, name, placement, by_speaker[name])
        for name, placement in placements.items()
    )
    answer = Answer(
        version="0.1.0",
        title=scenario.title,
        bands_hz=bands,
        speakers=speakers,
        together=Together(
            spread_db=float(measures.spread_db(together)),
            worst_band_spread_db=float(measures.worst_band_spread_db(together)),
            by_band=_bands(together, bands, every),
        ),
        rows=RowsAnswer(
            name=rows.names,
            seating=tuple(scenario.seatings[of].name for of in rows.seating),
            x_m=rows.x_m,
            z_m=rows.z_m,
            levels_db=together,
            design_level_db=measures.design_level_db(together),
            by_speaker=by_speaker,
        ),
        cautions=cautions,
        scenario=scenario,
        extent=extent_of(scenario, speakers),
        edges=edges_of(scenario, speakers),
        curves=NO_CURVES,
    )
    return complete(with_curves(answer), ("section",))


NO_CURVES = Curves(float("nan"), np.zeros(0), np.zeros((0, 0)), complete=False)


def with_curves(answer: Answer) -> Answer:
    """The answer with the curves that its rows have."""
    scenario = answer.scenario
    every = {
        one.name: every_band(scenario, scenario.speaker(one.name), one.placement)
        for one in answer.speakers
    }
    curves = curves_of(scenario, answer.speakers, answer.rows, every)
    return replace(answer, curves=curves)


def hall_answer(scenario: Scenario | None = None, **changes: Any) -> Answer:
    """The hall's loudspeaker nose down 13°, 4.4 m up."""
    scenario = scenario or hall()
    answer = answer_of(scenario, {"main": Placement(0.0, 4.4, -13.0)}, CAUTIONS)
    return replace(answer, **changes)


def house_answer(scenario: Scenario | None = None) -> Answer:
    """The house's four loudspeakers where their file has them."""
    scenario = scenario or house()
    return answer_of(
        scenario,
        {
            str(one["name"]): Placement(float(one["x"]), float(one["height"]), float(one["tilt"]))
            for one in FOUR
        },
        CAUTIONS,
    )


CAUTIONS = (
    Caution(
        code="no-rigging-design",
        severity="caution",
        text=(
            "No rigging design: local codes, the makers' data and a competent or licensed person "
            "prevail over everything printed here. Assumed: rigid bodies at rest, straight lines, "
            "masses and places as stated, dynamic factor 1.0. Not checked: the structure, "
            "hardware and its condition, how it is put up, secondary suspension, access, wind on "
            "what hangs, anything beside this section."
        ),
    ),
    Caution(
        code="section-only",
        severity="note",
        text=(
            "Computed in one vertical section: direct sound, still air. Nothing is claimed beside "
            "the section, of the room's sound, or of wind and temperature layers outdoors."
        ),
    ),
)
STOP = Caution(
    code="slack-pick",
    severity="stop",
    text="The front pick goes slack at this tilt.",
    value=-12.5,
    unit="N",
    limit=0.0,
    speaker="main",
)


def _rows(scenario: Scenario, name: str, placement: Placement) -> SpeakerRows:
    speaker, rows, bands = scenario.speaker(name), scenario.rows, scenario.aim.bands_hz
    seen = sight(placement, rows.x_m, rows.z_m)
    levels = levels_db(
        speaker.pattern.only(bands),
        placement,
        rows.x_m,
        rows.z_m,
        air_loss=air_loss(bands, scenario.air, width="octave"),
        offset_db=speaker.offset_db[[speaker.pattern.band_hz.index(band) for band in bands]],
    )
    design = measures.design_level_db(levels)
    return SpeakerRows(
        distance_m=seen.distance_m,
        off_axis_deg=seen.off_axis_deg,
        levels_db=levels,
        shadow_db=np.zeros_like(levels),
        departure_db=design - design[int(np.argmin(np.abs(seen.off_axis_deg)))],
        departure_m=np.zeros_like(design),
    )


def _bands(levels: Any, bands: tuple[float, ...], index: Any) -> dict[float, BandFigures]:
    return {
        band: BandFigures(
            float(np.ptp(level)), int(index[np.argmax(level)]), int(index[np.argmin(level)])
        )
        for band, level in zip(bands, levels, strict=True)
    }


def _speaker(
    scenario: Scenario, name: str, placement: Placement, rows: SpeakerRows
) -> SpeakerAnswer:
    speaker = scenario.speaker(name)
    served = scenario.rows.of(speaker.serves)
    levels = rows.levels_db[:, served]
    weight = scenario.rows.weight[served]
    tilt, height = float(placement.tilt_deg), float(placement.height_m)
    aim_row = int(served[np.argmin(np.abs(rows.off_axis_deg[served]))])
    aim = (float(scenario.rows.x_m[aim_row]), float(scenario.rows.z_m[aim_row]))
    first = int(served[0])
    near = (float(scenario.rows.x_m[first]), float(scenario.rows.z_m[first]))
    spread = float(measures.spread_db(levels))
    return SpeakerAnswer(
        name=name,
        mount="flown",
        orientation=placement.orientation,
        x_m=float(placement.x_m),
        height_m=height,
        trim_m=height - float(drop_m(speaker.cabinet, tilt_deg=tilt, flipped=False)),
        tilt_deg=tilt,
        aim_point=aim,
        aim_seating=scenario.seatings[scenario.rows.seating[aim_row]].name,
        aim_row=aim_row,
        spread_db=spread,
        worst_band_spread_db=float(measures.worst_band_spread_db(levels)),
        deviation_db=float(measures.deviation_db(levels, weight)),
        rows_within_3db_percent=float(measures.rows_within_percent(levels, weight)),
        best=Best(spread - 0.4, float(placement.x_m), height + 0.9, tilt - 2.0, "upright"),
        gap_db=0.031,
        limited_by=("height high",),
        binds=(Bind("height high", 0.5, "m", 0.3),),
        window=Window((tilt - 1.4, tilt + 1.1), (height - 0.3, height + 0.4), 0.5),
        shortcut=Shortcut(tilt + 5.0, spread + 1.7),
        by_band=_bands(levels, scenario.aim.bands_hz, served),
        uniform_line=UniformLine(np.array([aim, near]), near),
    )

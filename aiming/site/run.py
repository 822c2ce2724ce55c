"""The whole comparison: a scenario, what was measured and read, and what that says."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..aim import measures
from ..analysis.laser import laser_marks
from ..analysis.problems import with_hung_masses
from ..analysis.solve import solve
from ..base.arrays import FloatArray
from ..base.errors import AimingError, Fault, ScenarioError
from ..base.units import length_text, signed_text
from ..results.answer import Answer
from ..results.serialise import known
from ..rigging.limits import UTILISATION_FULL, WEIGHT_MISMATCH
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Placement, Speaker
from . import words
from .cells import cell_stops
from .compare import (
    Measured,
    as_planned,
    heard_at,
    measured_at,
    prediction_of,
)
from .decide import WORTH_DB, Decision, Move, decide
from .estimate import Estimate, Interval, estimate, quantile_interval
from .evidence import BAND_DB, SITE_DB
from .model import Evenness, Found, Heard, ReadingFound, RowFound, Stop
from .places import Point, microphones, place_points, read_places, refuse_mixed
from .prediction import Prediction
from .reading_equations import INTERVAL, Box, Equation, face_deg
from .readings import Reading, read_readings
from .telling import blind_deg
from .traces import Files, Magnitude, measured_traces
from .weighing import Weighed, stated_weight_n, weighed


class OnSiteError(AimingError):
    """A comparison that cannot be made; the text says what would allow it."""


def onsite(
    scenario: Scenario,
    measured: str | Path | None = None,
    *,
    at: Mapping[str, Files] | None = None,
    places: str | Path | None = None,
    readings: str | Path | None = None,
    speaker: str | None = None,
    mic_height_m: float | None = None,
    magnitude: Magnitude | None = None,
    site_db: float = SITE_DB,
    band_db: float = BAND_DB,
    move_if_gains_db: float = WORTH_DB,
    answer: Answer | None = None,
) -> Found:
    """Hold one loudspeaker's plan against measured levels and readings.

    Parameters
    ----------
    scenario : Scenario
        From `aiming.load`.
    measured : str or path, optional
        Table of position, frequency_hz, level_db and optionally coherence.
    at : mapping of str to str or path, optional
        Text files by the name of their position, several of one position as takes.
    places : str or path, optional
        Table of position, x, z for positions that are no rows.
    readings : str or path, optional
        Table of inclinometer, laser, load cells, heights and x (docs/on-site.md).
    speaker : str, optional
        Which one was measured, alone; needed where there are several.
    mic_height_m : float, optional
        Of the microphones above the floor, m; at the ears where it is left out.
    magnitude : str, optional
        What magnitudes are, where they may be linear or dB.
    site_db, band_db : float
        The usual errors of a place and of a band, standard deviations in dB.
    move_if_gains_db : float
        A move is advised from this much less spread on, dB.
    answer : Answer, optional
        The plan, where it has been solved already.

    Returns
    -------
    Found
        What was found, with 90 % intervals, and the one thing to do.

    Raises
    ------
    ScenarioError
        With every fault of the files.
    OnSiteError
        Where nothing can be compared.
    """
    box = speaker_of(scenario, speaker)
    planned = answer or solve(scenario, choices=False)
    plan = plan_of(planned, box.name)
    prediction = prediction_of(scenario, box, plan)
    traces = measured_traces(measured, at, magnitude=magnitude) if measured or at else ()
    read: tuple[Reading, ...] = ()
    if readings is not None:
        read = read_readings(readings, unit=scenario.units)
    if not traces and not read:
        raise OnSiteError("nothing to compare: measured levels, or readings, are needed")
    splays = {one.name: one.pair.splay_deg for one in planned.speakers if one.pair is not None}
    body = Box(with_hung_masses(scenario, splays), box, plan, read)
    equations = body.equations()
    weighing, stops = _weighing_and_stops(body)
    levels: Measured | None = None
    if traces:
        table: dict[str, Point] = {}
        if places is not None:
            read_table = read_places(places, unit=scenario.units)
            refuse_mixed(traces, read_table, mic_height_m)
            table = read_table.points
        rows = place_points(traces, microphones(scenario.rows, mic_height_m), table)
        levels = measured_at(
            scenario, box, prediction, traces, rows, site_db=site_db, band_db=band_db
        )
    found = estimate(
        prediction,
        levels.points if levels else None,
        levels.evidence if levels else None,
        equations,
    )
    decision = decide(found, worth_db=move_if_gains_db)
    told = _told(scenario, box, found, decision, levels, stops, move_if_gains_db)
    if weighing is not None and not stops and not traces and not equations:
        told = replace(
            told,
            headline=words.weighed_headline(weighing),
            outcome="Nothing was read yet of how it hangs",
            reasons=(),
        )
    return replace(told, weighed=weighing)


def _weighing_and_stops(body: Box) -> tuple[Weighed | None, tuple[Stop, ...]]:
    """What a weighing tells of the centre of gravity, and what the cells forbid."""
    cells = [one for one in body.readings if one.kind == "load"]
    if not cells:
        return None, ()
    try:
        rigging = body.rigging
        hung = body.planned_loads if any(one.tilt_deg is None for one in cells) else None
    except ValueError as error:
        raise ScenarioError([Fault(cells[0].file, *cells[0].place, "load", str(error))]) from None
    scenario, box = body.scenario, body.speaker
    full = threshold(scenario, UTILISATION_FULL)
    weighing = weighed(box, rigging, body.plan, body.readings, full=full)
    loads = hung if weighing is None or weighing.loads is None else weighing.loads
    stops = cell_stops(
        box,
        rigging,
        loads,
        cells,
        weight_n=stated_weight_n(box, rigging),
        mismatch_share=threshold(scenario, WEIGHT_MISMATCH),
        unit=scenario.units,
    )
    return weighing, stops


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


def plan_of(answer: Answer, name: str) -> Placement:
    """Where one loudspeaker of an answer hangs."""
    one = next(one for one in answer.speakers if one.name == name)
    return Placement(one.x_m, one.height_m, one.tilt_deg, one.orientation == "flipped")


def _told(
    scenario: Scenario,
    speaker: Speaker,
    found: Estimate,
    decision: Decision,
    levels: Measured | None,
    stops: tuple[Stop, ...],
    worth_db: float,
) -> Found:
    """Everything that the faces show."""
    heard = heard_at(levels, found) if levels else Heard()
    readings = tuple(_reading(one, found, number) for number, one in enumerate(found.equations))
    read_tilt = any(one.tilt_deg is not None for one in readings)
    sound = found.sound and heard.fits
    stopped = any(one.stops for one in stops)
    decision = _held_back(decision, stopped=stopped, heard=heard, told=bool(levels or read_tilt))
    move = decision.move if decision.advised else None
    tilt = found.interval("tilt") if sound or read_tilt else None
    levels_tilt = found.interval("tilt", levels_only=True) if levels else None
    spread_now = _spread(found)
    planned, now, after = _coverages(found, decision, spread_now, left=sound and not stopped)
    if stopped:
        headline = words.stop_headline(stops)
    elif move is not None:
        headline = _move_headline(scenario, speaker, decision, read_tilt=read_tilt)
    else:
        headline = words.leave_headline(heard, readings, sound)
    against, blind = None, None
    if levels is not None and read_tilt:
        against = found.against
        blind = blind_deg(found.prediction, levels.points, levels.evidence)
    warned = [one.text for one in stops if not one.stops]
    why = words.reasons(
        decision=None if stopped else decision,
        worth_db=worth_db,
        heard=heard,
        readings=readings,
        mirrored_texts={
            one.text: signed_text(-one.reading.value, "°")
            for one in found.equations
            if one.mirrored
        },
        against=against,
        blind_deg=blind,
        told_by_levels=levels_tilt is not None,
    )
    assumes = words.tilt_assumes_text(readings, levels=levels is not None)
    plan = found.prediction.plan
    return Found(
        title=scenario.title,
        datum=scenario.datum,
        speaker=speaker.name,
        bands_hz=scenario.aim.bands_hz,
        plan=plan,
        tilt_error_deg=tilt,
        height_error_m=found.interval("height"),
        x_error_m=found.interval("x"),
        pattern_scale=found.interval("width") if levels else None,
        levels_tilt_error_deg=levels_tilt,
        tilt_assumes=assumes,
        hangs="" if tilt is None else words.hangs_text(tilt, plan.tilt_deg, assumes),
        explained=False if not sound else True if len(heard.positions) >= 3 else None,
        against=against,
        blind_deg=blind,
        stands_out=heard.stands_out,
        swapped=heard.swapped,
        arrivals=heard.arrivals,
        stops=stops,
        hung=None if tilt is None and move is None else decision.hung,
        corrected=None if move is None else move.target,
        gain_db=decision.move.gain_db if decision.move else None,
        worse_share=decision.move.worse if decision.move else None,
        planned_coverage=planned,
        now=now,
        after=after,
        spread_now=spread_now,
        headline=headline,
        outcome=words.outcome_text(decision, spread_now, after, planned),
        reasons=tuple(f"{one[0].upper()}{one[1:]}" for one in (*warned, *why)),
        positions=heard.positions,
        rows_found=_rows(found, move),
        readings=readings,
        ripples=levels.ripples if levels else (),
        notes=levels.notes if levels else (),
        rows=found.prediction.problem.rows,
        traces=levels.traces if levels else (),
    )


def _held_back(decision: Decision, *, stopped: bool, heard: Heard, told: bool) -> Decision:
    """The decision, not to be carried out where cells stop it, levels or arrivals do not fit, or
    nothing was measured or read that tells the tilt."""
    why = "blunder" if stopped or not heard.fits else decision.why or ("" if told else "unknown")
    return replace(decision, why=why, after_db=decision.now_db) if why else decision


def _coverages(
    found: Estimate, decision: Decision, spread_now: Interval | None, *, left: bool
) -> tuple[Evenness, Evenness, Evenness]:
    """As planned, now, and after the move that is advised; without one, as now where it is left."""
    now = Evenness(spread_now.value if spread_now else None, _within(found, 0.0))
    after = now if left else Evenness(None, None)
    if decision.advised and decision.move is not None:
        share = _within(found, decision.move.turn_deg)
        after = Evenness(known(np.float64(decision.after_db)), share)
    return _evenness(found.prediction, as_planned_rows(found.prediction)), now, after


def _move_headline(
    scenario: Scenario, speaker: Speaker, decision: Decision, *, read_tilt: bool
) -> str:
    """How far, and the figures that it is set by."""
    assert decision.move is not None, "asked for with a move only"
    target = decision.move.target
    degrees = target.tilt_deg + face_deg(speaker, target)
    return words.move_headline(
        decision,
        inclinometer_deg=degrees if read_tilt else None,
        lines=_lines(scenario, speaker, decision),
        laser=_laser(scenario, speaker, target) if read_tilt else "",
        unit=scenario.units,
    )


def _reading(one: Equation, found: Estimate, number: int) -> ReadingFound:
    """What it says by itself, all else as planned."""
    plan = found.prediction.plan
    near = one.near(plan)
    interval = None
    if near:
        at = {"tilt": plan.tilt_deg, "height": plan.height_m, "x": plan.x_m}[one.tells]
        value, half = float(at) + near[0].value, INTERVAL * near[0].deviation / 1.5
        interval = Interval(value, value - half, value + half)
    return ReadingFound(
        text=one.text,
        tilt_deg=interval if one.tells == "tilt" else None,
        height_m=interval if one.tells == "height" else None,
        x_m=interval if one.tells == "x" else None,
        state=found.state(number),
        likely=float(found.states[number].max()),
    )


def as_planned_rows(prediction: Prediction) -> FloatArray:
    """(rows,) design level as planned."""
    return np.asarray(prediction.rows_db(as_planned(prediction.bands))[0])


def _evenness(prediction: Prediction, level_db: FloatArray) -> Evenness:
    """Spread and rows within ±3 dB of design levels (rows,)."""
    within = measures.rows_within_percent(level_db[np.newaxis], prediction.problem.rows.weight)
    return Evenness(known(np.float64(np.ptp(level_db))), known(np.float64(within)))


def _within(found: Estimate, turned_deg: float) -> float | None:
    """Rows within ±3 dB, expected over what may be, with the box turned this far."""
    prediction = found.prediction
    level = prediction.rows_db(found.kept, turned_deg=np.array([turned_deg]))
    share = measures.rows_within_percent(level, prediction.problem.rows.weight)
    return known(np.float64(share.mean()))


def _spread(found: Estimate) -> Interval | None:
    spread = np.ptp(found.rows_db, axis=1)
    if not np.isfinite(spread).all():
        return None
    return quantile_interval(spread, np.full(len(spread), 1.0 / len(spread)))


def _rows(found: Estimate, move: Move | None) -> tuple[RowFound, ...]:
    """Rows in the section's own order."""
    prediction = found.prediction
    rows = prediction.problem.rows
    planned = as_planned_rows(prediction)
    planned = planned - planned.mean()
    middle, low, high = found.row_intervals
    after = np.full(len(rows), np.nan)
    if move is not None:
        turned = prediction.rows_db(found.kept, turned_deg=np.array([move.turn_deg]))[:, 0]
        after = np.median(turned - turned.mean(axis=1, keepdims=True), axis=0)
    return tuple(
        RowFound(
            name=rows.label(n),
            x_m=float(rows.x_m[n]),
            planned_db=known(np.float64(planned[n])),
            now_db=Interval(float(middle[n]), float(low[n]), float(high[n]))
            if np.isfinite(middle[n])
            else None,
            after_db=known(np.float64(after[n])),
        )
        for n in range(len(rows))
    )


def _lines(scenario: Scenario, speaker: Speaker, decision: Decision) -> str:
    """What the move does to the difference of the two hooks' heights; "" without two lines."""
    rigging = scenario.rigging.get(speaker.name, {}).get(decision.hung.orientation)
    cabinet = speaker.cabinet
    if rigging is None or cabinet is None or rigging.method != "two points":
        return ""
    if len(rigging.picks) != 2 or decision.move is None:
        return ""
    front, rear = rigging.picks

    def front_drop(tilt_deg: float) -> float:
        turned = [
            turned_m(cabinet.pick(name).at_m, tilt_deg=tilt_deg, flipped=decision.hung.flipped)
            for name in (front, rear)
        ]
        return float(turned[1][1] - turned[0][1])

    target, hung = decision.move.target, decision.move.hung
    longer = front_drop(target.tilt_deg) - front_drop(hung.tilt_deg)
    return words.lines_text(1000.0 * longer, front)


def _laser(scenario: Scenario, speaker: Speaker, target: Placement) -> str:
    """Where its laser's dot is to be; "" without a laser that can be seen in a row."""
    marks = laser_marks(scenario, speaker, target, aim_row=None)
    if marks is None or not 0.0 <= marks.above_floor_m <= 3.0 or marks.wall:
        return ""
    height = length_text(marks.above_floor_m, scenario.units)
    return f"laser mark {height} above the floor in {scenario.rows.label(marks.row)}"

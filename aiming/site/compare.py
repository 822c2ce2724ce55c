"""Measured levels at points, in the design bands, ready to be weighed against the plan."""

from dataclasses import dataclass, replace

import numpy as np

from ..analysis.problems import hiding_for, problem_of
from ..base.arrays import BoolArray, FloatArray, IntArray
from ..base.errors import Fault, ScenarioError
from ..field.levels import sight
from ..geometry.section import Rows
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement, Speaker
from .arrival import Arrival, arrivals, exchanged
from .banding import in_bands
from .draws import QUANTITIES, Draws
from .estimate import Estimate
from .evidence import Blunder, Evidence
from .model import Heard, PositionFound, Ripple, StandsOut, by_band
from .prediction import Points, Prediction, image_m
from .reading_equations import INTERVAL
from .ripple import ripples_taken_out
from .traces import Trace

OCTAVES = {True: 1.0, False: 1.0 / 3.0}
CLEAR_M = 0.5
"""What hides a microphone nearer to the floor than this is looked for from here."""
STANDS_OUT = 2.8
"""Standard deviations beyond which one level of a table stands out; our own choice."""


@dataclass(frozen=True, eq=False)
class Measured:
    """Levels in bands at points, and what they are held against.

    traces: as measured; evidence: after known ripples were taken out
    """

    prediction: Prediction
    points: Points
    rows: Rows
    traces: tuple[Trace, ...]
    evidence: Evidence
    ripples: tuple[Ripple, ...]
    notes: tuple[str, ...]


def prediction_of(scenario: Scenario, speaker: Speaker, plan: Placement) -> Prediction:
    """The plan of one loudspeaker over the rows that it serves."""
    bands = scenario.aim.bands_hz
    steps = np.diff(np.log2(bands)) if len(bands) > 1 else np.array([1.0])
    return Prediction(
        problem_of(scenario, speaker),
        plan,
        speed_m_s=scenario.air.speed_of_sound_m_s,
        width_octaves=OCTAVES[bool(np.min(np.abs(steps)) > 0.6)],
    )


def points_of(scenario: Scenario, speaker: Speaker, prediction: Prediction, rows: Rows) -> Points:
    """Microphones as points: their images under the floor, and what hides them."""
    plan = prediction.plan
    # A boundary microphone is not hidden by the floor that it lies on.
    image = image_m(scenario.seatings, rows.x_m, rows.z_m)
    over = 0.5 * np.hypot(rows.x_m - image[:, 0], rows.z_m - image[:, 1])
    clear = np.where(over < CLEAR_M, rows.z_m + CLEAR_M - over, rows.z_m)
    screening = hiding_for(scenario, replace(rows, z_m=clear), speaker)
    shadow: FloatArray | float = 0.0
    if screening is not None:
        shadow = np.asarray(
            screening.loss_db(np.asarray(plan.x_m), np.asarray(plan.height_m)), dtype=np.float64
        )
    return Points(rows.x_m, rows.z_m, image, shadow)


def measured_at(
    scenario: Scenario,
    speaker: Speaker,
    prediction: Prediction,
    traces: tuple[Trace, ...],
    rows: Rows,
    *,
    site_db: float,
    band_db: float,
) -> Measured:
    """Put traces into the design bands, without the floor's ripple where it can be seen.

    Raises ScenarioError where fewer than two positions share a band.
    """
    bands = scenario.aim.bands_hz
    points = points_of(scenario, speaker, prediction, rows)
    cleaned, ripples = ripples_taken_out(traces, prediction, points)
    taken = [trace.position in {one.position for one in ripples} for trace in traces]
    points = replace(points, image_m=np.where(np.array(taken)[:, None], np.nan, points.image_m))
    banded = in_bands(cleaned, bands)
    level = np.array(banded.level_db)
    unknown = _unknown(speaker, prediction.plan, bands, rows)
    level[:, unknown] = np.nan
    notes = tuple(
        f"{rows.names[n]} is left out: the pattern is not known in its direction"
        for n in np.flatnonzero(unknown)
    )
    notes += tuple(
        f"{one.position}: {one.takes} takes averaged, {one.takes_apart_db:.1f} dB apart"
        for one in traces
        if one.takes > 1
    )
    level = shared_only(level, bands, traces[0])
    names = sorted({trace.set for trace in traces})
    sets = np.array([names.index(trace.set) for trace in traces], dtype=np.intp)
    evidence = Evidence(level, banded.doubt_db, site_db=site_db, band_db=band_db, sets=sets)
    return Measured(prediction, points, rows, traces, evidence, ripples, notes)


def _unknown(
    speaker: Speaker, plan: Placement, bands_hz: tuple[float, ...], rows: Rows
) -> BoolArray:
    """(n,) whether a band of the pattern is unknown in the direction of a point."""
    off_axis = sight(plan, rows.x_m, rows.z_m).off_axis_deg * (-1.0 if plan.flipped else 1.0)
    level = speaker.pattern.only(bands_hz).read_db(off_axis)
    return np.asarray(~np.isfinite(level).all(axis=0))


def shared_only(level_db: FloatArray, bands_hz: tuple[float, ...], first: Trace) -> FloatArray:
    """Levels (bands, n) without the bands that fewer than two positions have.

    Raises ScenarioError, at the first trace, where no band is left.
    """
    shared = np.isfinite(level_db).sum(axis=1) >= 2
    if not shared.any():
        bands = ", ".join(f"{band:g}" for band in bands_hz)
        low, high = first.frequency_hz[0], first.frequency_hz[-1]
        text = (
            "no common frequencies: no band has a known level at two positions; the bands are "
            f"{bands} Hz, and this position has {low:g} to {high:g} Hz"
        )
        raise ScenarioError([Fault(first.file, first.line, 1, "frequency", text)])
    return np.where(shared[:, np.newaxis], level_db, np.nan)


def heard_at(measured: Measured, found: Estimate) -> Heard:
    """What the microphones say of the plan, of one another and of their places."""
    arrived = _arrived(measured)
    level = measured.prediction.levels_db(measured.points, found.kept)
    return Heard(
        positions=positions_found(measured, found),
        stands_out=stands_out(found, measured.points, measured.rows.names),
        arrivals=arrived,
        swapped=exchanged(arrived) or swapped_names(measured, found),
        misfit=measured.evidence.misfit(level),
    )


def _arrived(measured: Measured) -> tuple[Arrival, ...]:
    """What the phases of the first set tell of where its microphones stood."""
    plan, rows = measured.prediction.plan, measured.rows
    own = [n for n, one in enumerate(measured.traces) if one.set == measured.traces[0].set]
    way = np.hypot(rows.x_m[own] - plan.x_m, rows.z_m[own] - plan.height_m)
    traces = tuple(measured.traces[n] for n in own)
    return arrivals(traces, way, measured.prediction.speed_m_s)


def positions_found(measured: Measured, found: Estimate) -> tuple[PositionFound, ...]:
    """Measured, planned and found levels by position, the last two shifted per band."""
    prediction, points, rows = measured.prediction, measured.points, measured.rows
    level = measured.evidence.level_db
    bands = prediction.problem.pattern.band_hz
    seen = sight(prediction.plan, rows.x_m, rows.z_m)
    sets = measured.evidence.sets
    planned = shifted(prediction.levels_db(points, as_planned(prediction.bands))[0], level, sets)
    at = prediction.levels_db(points, found.kept)
    for one in np.unique(sets):
        own = sets == one
        at[..., own] -= median(at[..., own] - level[:, own])[..., np.newaxis]
    middle = at.mean(axis=0)
    noise = np.hypot(measured.evidence.site_db, measured.evidence.band_db)
    wide = np.sqrt(at.var(axis=0) + noise**2)
    # What the plan itself would let levels lie within: its own doubt at the planned aim.
    prior = found.prior_levels(points)
    prior = prior - np.median(prior, axis=2, keepdims=True)
    doubt = INTERVAL * np.sqrt(prior.var(axis=0) + noise**2)
    off = level - planned
    return tuple(
        PositionFound(
            name=name,
            x_m=float(rows.x_m[n]),
            z_m=float(rows.z_m[n]),
            distance_m=float(seen.distance_m[n]),
            off_axis_deg=float(seen.off_axis_deg[n]),
            measured_db=by_band(bands, level[:, n]),
            predicted_db=by_band(bands, planned[:, n]),
            found_db=by_band(bands, middle[:, n]),
            doubt_db=by_band(bands, doubt[:, n]),
            stands_out=tuple(
                band
                for k, band in enumerate(bands)
                if abs(level[k, n] - middle[k, n]) > STANDS_OUT * wide[k, n]
            ),
            off_db=float(np.nanmean(off[:, n])) if np.isfinite(off[:, n]).any() else None,
        )
        for n, name in enumerate(rows.names)
    )


def as_planned(bands: int) -> Draws:
    """One draw: everything as planned."""
    nothing = np.zeros(1)
    return Draws(
        tilt_deg=nothing,
        height_m=nothing,
        x_m=nothing,
        width=np.ones(1),
        shape=np.ones(1),
        edge_db=nothing,
        skew_db=nothing,
        own_db=np.zeros((1, bands)),
        floor=nothing,
        room_db=np.full(1, -np.inf),
        z=np.zeros((1, QUANTITIES + bands)),
        log_weight=nothing,
    )


def shifted(predicted_db: FloatArray, level_db: FloatArray, sets: IntArray) -> FloatArray:
    """Predicted levels (bands, n) moved, band by band and set by set, by the median of what lies
    between; NaN where a band was not measured."""
    moved = np.full(level_db.shape, np.nan)
    for one in np.unique(sets):
        own = sets == one
        off = median(level_db[:, own] - predicted_db[:, own])
        moved[:, own] = predicted_db[:, own] + off[:, np.newaxis]
    return moved


def median(value_db: FloatArray) -> FloatArray:
    """(…) over the last axis, of what is known; NaN where nothing is."""
    known = np.isfinite(value_db)
    held = np.where(known.any(axis=-1, keepdims=True), value_db, 0.0)
    return np.asarray(np.where(known.any(axis=-1), np.nanmedian(held, axis=-1), np.nan))


def stands_out(found: Estimate, points: Points, names: tuple[str, ...]) -> tuple[StandsOut, ...]:
    """The slips of levels that are likelier than none, the likeliest first.

    points, names (n,): where the levels were measured
    """
    assert found.evidence is not None, "asked for with levels only"
    bands = found.prediction.problem.pattern.band_hz
    level = found.prediction.levels_db(points, found.kept)
    told = []
    for one, likely in sorted(found.blunders, key=lambda pair: -pair[1]):
        if one.kind in ("microphone", "band") and likely > max(0.25, found.none * 0.5):
            size = found.evidence.size_db(one, level)
            band = bands[one.band] if one.kind == "band" else None
            told.append(StandsOut(names[one.places[0]], band, size, likely))
    return tuple(told)


def swapped_names(measured: Measured, found: Estimate) -> tuple[str, str] | None:
    """The two positions that fit swapped, where that is likelier than not."""
    best: tuple[Blunder, float] = found.likeliest_blunder
    if best[0].kind != "swapped" or best[1] < 0.4:
        return None
    a, b = best[0].places
    return measured.rows.names[a], measured.rows.names[b]

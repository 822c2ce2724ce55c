"""Measured levels held against the plan at the same points."""

from dataclasses import dataclass, replace

import numpy as np

from ..analysis.problems import hiding_for, problem_of
from ..base.arrays import BoolArray, FloatArray
from ..base.errors import Fault, ScenarioError
from ..field.levels import sight
from ..geometry.section import Rows
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern
from ..speaker.speaker import Placement, Speaker
from .banding import in_bands
from .fit import Levels, Noise
from .judge import Estimate, estimate
from .model import PositionFound, by_band
from .prediction import Departure, Scene, whole
from .traces import Trace

MOST_ROUNDS = 4


@dataclass(frozen=True, eq=False)
class Compared:
    """The levels in bands, the scene they were held against, and what was found."""

    scene: Scene
    levels: Levels
    estimate: Estimate
    notes: tuple[str, ...]


def compared_with(
    scenario: Scenario,
    speaker: Speaker,
    plan: Placement,
    traces: tuple[Trace, ...],
    points: Rows,
    *,
    height_error_m: float | None,
    noise: Noise,
) -> Compared:
    """Hold the traces' levels at these points against the plan.

    height_error_m: what readings have settled; None leaves it to the levels
    Raises ScenarioError where fewer than two positions share a band.
    """
    scene = scene_of(scenario, speaker, plan, points)
    pattern = speaker.pattern.only(scenario.aim.bands_hz)
    banded = in_bands(traces, scenario.aim.bands_hz)
    start = Departure(height_m=height_error_m or 0.0)
    known = frozenset[str]() if height_error_m is None else frozenset({"height_m"})
    level, unknown = np.array(banded.level_db), np.zeros(len(points), dtype=bool)
    there = Departure()
    # What the fit turns out of the known part of the pattern is left out, and the rest fitted anew.
    for _ in range(MOST_ROUNDS):
        unknown |= _unknown(pattern, plan, there, points)
        level[:, unknown] = np.nan
        levels = Levels(shared_only(level, scenario.aim.bands_hz, traces[0]), banded.doubt_db)
        found = estimate(scene, levels, start=start, noise=noise, known=known)
        there = found.fit.departure
        if not (_unknown(pattern, plan, there, points) & ~unknown).any():
            break
    notes = tuple(
        f"{points.names[n]} is left out: the pattern is not known in its direction"
        for n in np.flatnonzero(unknown)
    )
    return Compared(scene, levels, found, notes)


def _unknown(pattern: Pattern, plan: Placement, there: Departure, points: Rows) -> BoolArray:
    """(n,) whether a departure puts points where a band of the pattern is unknown."""
    off_axis = sight(there.of(plan), points.x_m, points.z_m).off_axis_deg / there.pattern_scale
    turn = -1.0 if plan.flipped else 1.0
    return np.asarray(~np.isfinite(pattern.read_db(turn * off_axis)).all(axis=0))


def scene_of(scenario: Scenario, speaker: Speaker, plan: Placement, points: Rows) -> Scene:
    """The plan as microphones at these points see it."""
    problem = problem_of(scenario, speaker)
    return Scene(
        replace(
            problem,
            pattern=whole(problem.pattern),
            rows=points,
            shadow=hiding_for(scenario, points, speaker),
        ),
        plan,
    )


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


def positions_found(compared: Compared) -> tuple[PositionFound, ...]:
    """Measured, planned and found levels by position, the last two shifted per band."""
    scene, level = compared.scene, compared.levels.level_db
    points, bands = scene.problem.rows, scene.problem.pattern.band_hz
    seen = sight(scene.plan, points.x_m, points.z_m)
    predicted = _shifted(scene.levels_db(Departure()), level)
    found = _shifted(scene.levels_db(compared.estimate.fit.departure), level)
    return tuple(
        PositionFound(
            name=name,
            x_m=float(points.x_m[n]),
            z_m=float(points.z_m[n]),
            distance_m=float(seen.distance_m[n]),
            off_axis_deg=float(seen.off_axis_deg[n]),
            measured_db=by_band(bands, level[:, n]),
            predicted_db=by_band(bands, predicted[:, n]),
            found_db=by_band(bands, found[:, n]),
        )
        for n, name in enumerate(points.names)
    )


def _shifted(predicted_db: FloatArray, level_db: FloatArray) -> FloatArray:
    """Predicted levels moved, band by band, by the median of what lies between."""
    moved = np.full(level_db.shape, np.nan)
    for band, (predicted, level) in enumerate(zip(predicted_db, level_db, strict=True)):
        has = np.isfinite(level)
        if has.any():
            moved[band] = predicted + float(np.median((level - predicted)[has]))
    return moved

"""A ground trial's levels held against the pattern, and kept as a coarse check of it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..aim.checks import BAND_DB, SITE_DB
from ..errors import Fault, ScenarioError
from ..field.levels import loss_db, sight
from .advice import unexplained_text
from .banding import in_bands
from .compare import Compared, positions_found, shared_only
from .ground import GroundTrial
from .judge import StandsOut, estimate
from .linear import Levels, Noise
from .model import Interval, PositionFound, positions_dict
from .scene import Departure
from .trace_files import measured_traces
from .traces import Magnitude


@dataclass(frozen=True, eq=False)
class GroundFound:
    """The pattern as the trial has it; the box is taken as turned by eye along its axis.

    pattern_scale: how much wider than its data, as a factor; None where the levels do not carry it
    explained: whether that and gains explain the levels; None where too few positions could tell
    coarse_csv: the directions measured, as a pattern file
    """

    trial: GroundTrial
    pattern_scale: Interval | None
    explained: bool | None
    stands_out: tuple[StandsOut, ...]
    advice: str
    positions: tuple[PositionFound, ...]
    coarse_csv: str

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return {
            "speaker": self.trial.speaker,
            "distance_m": self.trial.distance_m,
            "pattern_scale": None if self.pattern_scale is None else self.pattern_scale.to_dict(),
            "explained": self.explained,
            "advice": self.advice,
            "positions": positions_dict(self.positions),
            "notes": list(self.trial.notes),
        }


def compare_on_ground(
    trial: GroundTrial,
    measured: str | Path | None = None,
    *,
    at: Mapping[str, str | Path] | None = None,
    magnitude: Magnitude | None = None,
    site_db: float = SITE_DB,
    band_db: float = BAND_DB,
) -> GroundFound:
    """Hold the trial's measured levels against the pattern.

    measured, at, magnitude, site_db, band_db: as for a comparison on site; positions go by the
    trial's names.  Raises ScenarioError.
    """
    traces = measured_traces(measured, at, magnitude=magnitude)
    names = [point.name for point in trial.points]
    faults = [
        Fault(
            trace.file,
            trace.line,
            1,
            "position",
            f'"{trace.position}" is no position of the trial; {", ".join(names)}',
        )
        for trace in traces
        if trace.position not in names
    ]
    if faults:
        raise ScenarioError(faults)
    place = np.array([names.index(trace.position) for trace in traces])
    problem = trial.scene.problem
    scene = replace(trial.scene, problem=replace(problem, rows=problem.rows.pick(place)))
    banded = in_bands(traces, trial.bands_hz)
    levels = Levels(shared_only(banded.level_db, trial.bands_hz, traces[0]), banded.doubt_db)
    found = estimate(
        scene,
        levels,
        start=Departure(),
        noise=Noise(site_db, band_db),
        known=frozenset({"height_m", "tilt_deg"}),
    )
    compared = Compared(scene, levels, found, trial.notes)
    scale = None
    if "pattern_scale" in found.fit.free and found.explained is not False:
        scale = Interval(*found.fit.interval("pattern_scale"))
    return GroundFound(
        trial=trial,
        pattern_scale=scale,
        explained=found.explained,
        stands_out=found.stands_out,
        advice=_advice(scale, found.explained, found.stands_out),
        positions=positions_found(compared),
        coarse_csv=coarse_pattern_csv(trial, compared),
    )


def _advice(
    scale: Interval | None, explained: bool | None, stands_out: tuple[StandsOut, ...]
) -> str:
    if explained is False:
        return unexplained_text(stands_out)
    if scale is None:
        return "The levels cannot tell how wide the pattern is: it is taken as its data say."
    wide = 100.0 * (scale.value - 1.0)
    doubt = f"±{100.0 * scale.half:.0f} %, 90 %"
    if scale.holds(1.0):
        return f"The pattern is as wide as its data say ({wide:+.0f} %, {doubt})."
    word = "wider" if wide > 0.0 else "narrower"
    return (
        f"The pattern is {abs(wide):.0f} % {word} than its data ({doubt}). Check that the box "
        "pointed along the axis before its data are doubted."
    )


def coarse_pattern_csv(trial: GroundTrial, compared: Compared) -> str:
    """What the trial says of the pattern, as a pattern file: the axis and the directions measured.

    Spreading and air are taken out; positions in one direction are averaged in dB.  A few
    directions are a check, not a pattern to aim with.  "" where the axis, or every other direction,
    was not measured.
    """
    scene = compared.scene
    rows = scene.problem.rows
    seen = sight(scene.plan, rows.x_m, rows.z_m)
    loss = loss_db(seen.distance_m, scene.problem.absorption_db_per_m)
    freed = compared.levels.level_db + loss
    angle = np.round(seen.off_axis_deg, 3)
    directions = np.unique(angle)
    if 0.0 not in directions or len(directions) < 2:
        return ""
    table = np.array([freed[:, angle == one].mean(axis=1) for one in directions])
    table -= table[directions == 0.0]
    has = np.isfinite(table).any(axis=0)
    lines = [
        f"# coarse check of {trial.speaker} on the ground at {trial.distance_m:g} m: "
        f"{len(directions)} directions only, no pattern to aim with",
        "angle_deg," + ",".join(f"{band:g}" for band in np.array(trial.bands_hz)[has]),
    ]
    for one, levels in zip(directions, table, strict=True):
        cells = [f"{level:.2f}" if np.isfinite(level) else "" for level in levels[has]]
        lines.append(f"{one:g}," + ",".join(cells))
    return "\n".join(lines) + "\n"

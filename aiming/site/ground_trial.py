"""A trial on the ground before the show: the box on its side, its vertical pattern in the yard.

    aside (below the axis)
      ^   o edge at d
      |       o halfway
    box-->----o d---------o 2d        ahead; d lies beyond the far field

The box lies on its side so that its vertical pattern is in the ground plane, its acoustic centre
near the ground and the microphones on it: there the ground's reflection is the same everywhere.
The same geometry as a section then holds, with "up" lying on the ground.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..aim.check_positions import BAND_DB, SITE_DB
from ..aim.problem import Problem
from ..base.air import absorption_db_per_m
from ..base.arrays import frozen
from ..base.bands import exact_midband_hz
from ..base.errors import Fault, ScenarioError
from ..field.levels import loss_db, sight
from ..geometry.section import Rows, Seating, Segments
from ..results.serialise import plain
from ..scenario.scenario import Scenario
from ..speaker.pattern import EDGE_DB, Pattern, edge_deg
from ..speaker.speaker import Hang, Placement, Speaker
from .advice import unexplained_text
from .banding import in_bands
from .compare import Compared, positions_found, shared_only
from .fit import Levels, Noise
from .judge import StandsOut, estimate
from .model import Interval, PositionFound, by_band, positions_dict
from .prediction import Departure, Scene, whole
from .traces import Magnitude, measured_traces

DEFAULT_DISTANCE_M = 8.0
EDGE_RULE = (
    f"On the axis every doubling of the distance costs 6 dB, and the air a little more at high "
    f"frequencies; the coverage edge at d is as loud as the axis at 2d ({EDGE_DB:.0f} dB down); "
    "low frequencies hardly change at the edge (common practice)."
)
AXIS, TWICE, EDGE, HALFWAY = "axis at d", "axis at 2d", "edge at d", "halfway"


@dataclass(frozen=True)
class GroundPoint:
    """Where to put a microphone: metres ahead of the acoustic centre and aside of the axis.

    aside_m: positive towards the box's top; levels_db: by band, re the first point
    """

    name: str
    ahead_m: float
    aside_m: float
    distance_m: float
    off_axis_deg: float
    levels_db: dict[float, float | None]


@dataclass(frozen=True, eq=False)
class GroundTrial:
    """The layout in the yard and what to expect there.

    distance_m: d; far_field_m: from where on the pattern has settled
    edge_deg: the design pattern's coverage edge on the side that faces the near seats, None where
        it has none: then the positions at the edge are left out
    """

    speaker: str
    bands_hz: tuple[float, ...]
    distance_m: float
    far_field_m: float | None
    edge_deg: float | None
    points: tuple[GroundPoint, ...]
    scene: Scene
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return {
            "speaker": self.speaker,
            "distance_m": self.distance_m,
            "far_field_m": self.far_field_m,
            "edge_deg": self.edge_deg,
            "points": [{**vars(one), "levels_db": plain(one.levels_db)} for one in self.points],
            "notes": list(self.notes),
        }


def ground_trial(
    scenario: Scenario,
    speaker: Speaker,
    *,
    distance_m: float | None = None,
    flipped: bool = False,
) -> GroundTrial:
    """Positions and levels for a trial of one loudspeaker on the ground.

    distance_m: d; by default beyond the far field, to the next half metre
    flipped: whether it is to hang flipped, which turns the near seats' side
    """
    bands = tuple(sorted(speaker.pattern.band_hz))
    far_field = far_field_m(scenario, speaker)
    design = speaker.pattern.only(scenario.aim.bands_hz)
    notes = []
    if distance_m is None:
        distance_m = DEFAULT_DISTANCE_M
        if far_field is not None:
            distance_m = max(2.0, float(np.ceil(2.0 * far_field)) / 2.0)
    if far_field is None:
        notes.append("the cabinet has no outline, so its far field is not known: d is a guess")
    elif distance_m < far_field:
        notes.append(f"d is nearer than the far field, which begins at about {far_field:.1f} m")
    edge = edge_deg(design.angle_deg, design.mean(), above=flipped)
    if edge is None:
        notes.append("the design pattern has no coverage edge on the near seats' side")
    x, z = _layout(distance_m, edge)
    names = [AXIS, TWICE, *([EDGE, HALFWAY] if edge is not None else [])]
    scene = _scene(scenario, speaker.pattern.only(bands), x, z, tuple(names))
    levels = scene.levels_db(Departure())
    points = tuple(
        GroundPoint(
            name=name,
            ahead_m=x[n],
            aside_m=z[n],
            distance_m=float(np.hypot(x[n], z[n])),
            off_axis_deg=float(np.degrees(np.arctan2(z[n], x[n]))),
            levels_db=by_band(bands, levels[:, n] - levels[:, 0]),
        )
        for n, name in enumerate(names)
    )
    return GroundTrial(
        speaker.name, bands, float(distance_m), far_field, edge, points, scene, tuple(notes)
    )


def far_field_m(scenario: Scenario, speaker: Speaker) -> float | None:
    """Where the way from the rim of the cabinet is a quarter wave longer than from its middle, in
    the highest design band, r = h²/(2·λ); common practice, no source.  None without an outline."""
    height = speaker.cabinet.height_m if speaker.cabinet else None
    if height is None:
        return None
    top = exact_midband_hz(max(scenario.aim.bands_hz))
    return float(height**2 * top / (2.0 * scenario.air.speed_of_sound_m_s))


def _layout(d: float, edge: float | None) -> tuple[list[float], list[float]]:
    """Ahead and aside of the points, in the order of their names."""
    x, z = [d, 2.0 * d], [0.0, 0.0]
    if edge is not None:
        at = np.radians(edge)
        x_edge, z_edge = d * float(np.cos(at)), d * float(np.sin(at))
        x += [x_edge, 0.5 * (x_edge + 2.0 * d)]
        z += [z_edge, 0.5 * z_edge]
    return x, z


def _scene(
    scenario: Scenario,
    pattern: Pattern,
    x: list[float],
    z: list[float],
    names: tuple[str, ...],
) -> Scene:
    yard = Seating(name="yard", floor_m=np.zeros((1, 2)))
    rows = Rows(
        x_m=frozen(x),
        z_m=frozen(z),
        weight=frozen(np.ones(len(x))),
        seating=np.zeros(len(x), dtype=np.intp),
        names=names,
        seatings=(yard,),
    )
    nothing = np.zeros((0, 2))
    problem = Problem(
        pattern=whole(pattern),
        rows=rows,
        planes=Segments(nothing, nothing),
        absorption_db_per_m=absorption_db_per_m(
            [exact_midband_hz(band) for band in pattern.band_hz], scenario.air
        ),
        hang=Hang(),
    )
    return Scene(problem, Placement(0.0, 0.0, 0.0))


# A ground trial's levels held against the pattern, and kept as a coarse check of it.


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

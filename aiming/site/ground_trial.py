"""A trial on the ground before the show: the trade's rule laid out in a yard, to be walked.

    aside (below the axis)
      ^   o edge at d
      |    ` .  halfway
      |        o .
    box-->-----o----` ---o         ahead; d lies beyond the far field
      |      axis      axis
      |      at d      at 2d
      |   o other edge at d

The box lies on its side so that its vertical pattern is in the ground plane, its acoustic centre
near the ground and the microphones on it: there the ground's reflection is the same everywhere.
The same geometry as a section then holds, with "up" lying on the ground.  Both edges are measured,
since one of them alone cannot tell a wide pattern from a box that was turned by eye.
"""

import re
from dataclasses import dataclass, replace
from typing import Annotated, Any, cast

import numpy as np

from ..aim.problem import Problem
from ..analysis.problems import band_air_loss
from ..base.air import AirLoss
from ..base.arrays import FloatArray, frozen
from ..base.bands import exact_midband_hz
from ..base.described import Kind
from ..field.levels import levels_db
from ..geometry.section import Rows, Seating, Segments
from ..results.serialise import plain
from ..scenario.scenario import Scenario
from ..speaker.pattern import EDGE_DB, Pattern, edge_deg
from ..speaker.speaker import Hang, Placement, Speaker
from .model import by_band
from .prediction import Prediction, whole

DEFAULT_DISTANCE_M = 8.0
EDGE_RULE = (
    f"on the axis every doubling of the distance costs 6 dB, and the air a little more at high "
    f"frequencies; the coverage edge at d is as loud as the axis at 2d ({EDGE_DB:.0f} dB down); "
    "along the line between the two it stays nearly as loud; low frequencies hardly change at the "
    "edge (common practice)"
)
AXIS, TWICE, EDGE, OTHER, HALFWAY = (
    "axis at d",
    "axis at 2d",
    "edge at d",
    "other edge at d",
    "halfway",
)
LINE_AT = re.compile(r"line at (0?\.\d+|0|1(?:\.0+)?)")
"""A position on the line from the edge at d (0) to the axis at 2d (1)."""
LINE_STEPS = 21


@dataclass(frozen=True)
class GroundPoint:
    """Where to put a microphone."""

    name: Annotated[str, "`axis at d`, `axis at 2d`, `edge at d`, `other edge at d`, `halfway`"]
    line_share: Annotated[
        float | None,
        "how far along the line from the edge at d to the axis at 2d; null beside it",
    ]
    ahead_m: Annotated[float, "along the axis from the acoustic centre, m"]
    aside_m: Annotated[float, "aside of the axis, m, positive towards the box's top"]
    distance_m: Annotated[float, "from the acoustic centre, m"]
    off_axis_deg: Annotated[float, "degrees, positive above the axis"]
    levels_db: Annotated[
        dict[float, float | None], "relative to the first point, dB; null where unknown"
    ]


@dataclass(frozen=True, eq=False)
class GroundTrial:
    """The layout in the yard and what to expect there.

    line_db: (LINE_STEPS,), or () without an edge
    prediction: of the design bands; pattern: of every band
    """

    speaker: Annotated[str, "the loudspeaker"]
    bands_hz: tuple[float, ...]
    design_hz: tuple[float, ...]
    distance_m: Annotated[float, "d, m"]
    far_field_m: Annotated[
        float | None, "from where on the pattern has settled, m; null without an outline"
    ]
    edge_deg: Annotated[
        float | None,
        "the coverage edge towards the near seats, degrees off axis; null where there is none: "
        "then the positions there are left out",
    ]
    other_edge_deg: Annotated[float | None, "the edge on the other side; null where there is none"]
    points: Annotated[tuple[GroundPoint, ...], "where to lay the microphones"]
    line_db: Annotated[
        FloatArray,
        Kind("list of numbers"),
        "design level along that line, evenly spaced, against the edge, dB",
    ]
    prediction: Prediction
    pattern: Pattern
    air_loss: AirLoss
    notes: Annotated[tuple[str, ...], "what to expect and what was left out"]

    @property
    def coverage_deg(
        self,
    ) -> Annotated[float | None, "between the two by the data, degrees; null without both"]:
        """By its data."""
        if self.edge_deg is None or self.other_edge_deg is None:
            return None
        return abs(self.edge_deg - self.other_edge_deg)

    def point(self, name: str) -> GroundPoint | None:
        """One of the points, or one on the line ("line at 0.25"); None for any other name."""
        for one in self.points:
            if one.name == name:
                return one
        match = LINE_AT.fullmatch(name)
        if match is None or self.edge_deg is None:
            return None
        return self.point_at(name, *self.on_line(float(match[1])), float(match[1]))

    def on_line(self, share: float) -> tuple[float, float]:
        """Ahead and aside of the point this far along the line from edge to far axis."""
        assert self.edge_deg is not None, "asked for with an edge only"
        d, at = self.distance_m, np.radians(self.edge_deg)
        edge = d * np.array([np.cos(at), np.sin(at)])
        x, z = edge + share * (np.array([2.0 * d, 0.0]) - edge)
        return float(x), float(z)

    def levels_db(self, ahead_m: FloatArray, aside_m: FloatArray) -> FloatArray:
        """(bands, n) by the data, of every band."""
        return levels_db(
            self.pattern,
            Placement(0.0, 0.0, 0.0),
            ahead_m,
            aside_m,
            air_loss=self.air_loss,
        )

    def point_at(self, name: str, x: float, z: float, share: float | None) -> GroundPoint:
        """A microphone ahead and aside of the box."""
        level = self.levels_db(np.array([x, self.distance_m]), np.array([z, 0.0]))
        return GroundPoint(
            name=name,
            ahead_m=x,
            aside_m=z,
            distance_m=float(np.hypot(x, z)),
            off_axis_deg=float(np.degrees(np.arctan2(z, x))),
            levels_db=by_band(self.bands_hz, level[:, 0] - level[:, 1]),
            line_share=share,
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain lists, numbers and strings, ready for JSON."""
        return cast(dict[str, Any], plain(self))


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
    edges = [edge_deg(design.angle_deg, design.mean(), above=above) for above in (False, True)]
    near, other = edges[::-1] if flipped else edges
    if near is None:
        notes.append("the design pattern has no coverage edge on the near seats' side")
    if other is None:
        notes.append("the design pattern has no coverage edge on the other side")
    trial = GroundTrial(
        speaker=speaker.name,
        bands_hz=bands,
        design_hz=scenario.aim.bands_hz,
        distance_m=float(distance_m),
        far_field_m=far_field,
        edge_deg=near,
        other_edge_deg=other,
        points=(),
        line_db=np.zeros(0),
        prediction=_prediction(scenario, design),
        pattern=whole(speaker.pattern.only(bands)),
        air_loss=band_air_loss(scenario, bands),
        notes=tuple(notes),
    )
    return _with_points(trial)


def _with_points(trial: GroundTrial) -> GroundTrial:
    d = trial.distance_m
    places: list[tuple[str, float, float, float | None]] = [
        (AXIS, d, 0.0, None),
        (TWICE, 2.0 * d, 0.0, 1.0),
    ]
    line = np.zeros(0)
    for name, edge in ((EDGE, trial.edge_deg), (OTHER, trial.other_edge_deg)):
        if edge is not None:
            at = np.radians(edge)
            share = 0.0 if name == EDGE else None
            places.append((name, d * float(np.cos(at)), d * float(np.sin(at)), share))
    if trial.edge_deg is not None:
        places.append((HALFWAY, *trial.on_line(0.5), 0.5))
        along = np.array([trial.on_line(s) for s in np.linspace(0.0, 1.0, LINE_STEPS)])
        level = trial.levels_db(along[:, 0], along[:, 1])
        design = [trial.bands_hz.index(band) for band in trial.design_hz]
        line = level[design].mean(axis=0)
        line = line - line[0]
    points = tuple(trial.point_at(*one) for one in places)
    return replace(trial, points=points, line_db=frozen(line))


def far_field_m(scenario: Scenario, speaker: Speaker) -> float | None:
    """Where the way from the rim of the cabinet is a quarter wave longer than from its middle, in
    the highest design band, r = h²/(2·λ); common practice, no source.  None without an outline."""
    height = speaker.cabinet.height_m if speaker.cabinet else None
    if height is None:
        return None
    top = exact_midband_hz(max(scenario.aim.bands_hz))
    return float(height**2 * top / (2.0 * scenario.air.speed_of_sound_m_s))


def _prediction(scenario: Scenario, pattern: Pattern) -> Prediction:
    yard = Seating(name="yard", floor_m=np.zeros((1, 2)))
    rows = Rows(
        x_m=frozen([1.0]),
        z_m=frozen([0.0]),
        weight=frozen([1.0]),
        seating=np.zeros(1, dtype=np.intp),
        names=("yard",),
        seatings=(yard,),
    )
    nothing = np.zeros((0, 2))
    problem = Problem(
        pattern=whole(pattern),
        rows=rows,
        planes=Segments(nothing, nothing),
        air_loss=band_air_loss(scenario, pattern.band_hz),
        hang=Hang(),
    )
    return Prediction(
        problem,
        Placement(0.0, 0.0, 0.0),
        speed_m_s=scenario.air.speed_of_sound_m_s,
        width_octaves=1.0,
    )

"""A trial on the ground before the show: the box on its side, its vertical pattern in the yard.

    aside (below the axis)
      ^   o edge at d
      |       o halfway
    box-->----o d---------o 2d        ahead; d lies beyond the far field

The box lies on its side so that its vertical pattern is in the ground plane, its acoustic centre
near the ground and the microphones on it: there the ground's reflection is the same everywhere.
The same geometry as a section then holds, with "up" lying on the ground.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..aim.problem import Problem
from ..air import absorption_db_per_m
from ..answer.plain import plain
from ..arrays import frozen
from ..bands import exact_midband_hz
from ..scenario.scenario import Scenario
from ..section import Rows, Seating, Segments
from ..speaker.pattern import EDGE_DB, Pattern, edge_deg
from ..speaker.speaker import Hang, Placement, Speaker
from .model import by_band
from .scene import Departure, Scene, whole

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

"""One loudspeaker where it is to hang, and where its axis meets the audience."""

from dataclasses import dataclass

import numpy as np

from ..aim.line import UniformLevel, uniform_level
from ..aim.problem import Problem, first_hit
from ..arrays import IntArray
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.speaker import Placement, Speaker


@dataclass(frozen=True, eq=False)
class Placed:
    """A loudspeaker where it is to hang.

    served: (s,) indices of its rows among the scenario's rows
    throw_m: to the aim point, None where the axis meets no served plane
    aim_piece: index of the plane's piece there
    together: the question about it and the one that hangs under it; None where none does
    """

    speaker: Speaker
    problem: Problem
    placement: Placement
    served: IntArray
    throw_m: float | None
    aim_piece: int | None
    together: Problem | None = None

    @property
    def question(self) -> Problem:
        """What the search was, or would be, asked."""
        return self.problem if self.together is None else self.together


def placed(
    scenario: Scenario,
    speaker: Speaker,
    problem: Problem,
    placement: Placement,
    *,
    together: Problem | None = None,
) -> Placed:
    """The loudspeaker, with where its axis meets the audience."""
    one = Placement(
        x_m=np.array([placement.x_m]),
        height_m=np.array([placement.height_m]),
        tilt_deg=np.array([placement.tilt_deg]),
    )
    distance, piece = first_hit(one, problem.planes)
    hit = bool(np.isfinite(distance[0]))
    return Placed(
        speaker=speaker,
        problem=problem,
        placement=placement,
        served=scenario.rows.of(speaker.serves),
        throw_m=float(distance[0]) if hit else None,
        aim_piece=int(piece[0]) if hit else None,
        together=together,
    )


def trim_m(at: Placed) -> float:
    """z of the cabinet's lowest point; the height where there is no outline."""
    tilt, flipped = float(at.placement.tilt_deg), bool(at.placement.flipped)
    drop = drop_m(at.speaker.cabinet, tilt_deg=tilt, flipped=flipped)
    return float(at.placement.height_m) - float(drop)


def aim_point_m(at: Placed) -> tuple[float, float] | None:
    """x, z where the axis first meets a served audience plane."""
    if at.throw_m is None:
        return None
    tilt = np.radians(float(at.placement.tilt_deg))
    return (
        float(at.placement.x_m) + at.throw_m * float(np.cos(tilt)),
        float(at.placement.height_m) + at.throw_m * float(np.sin(tilt)),
    )


def aim_seating_and_row(scenario: Scenario, at: Placed) -> tuple[str | None, int | None]:
    """The seating that the axis meets, and the row nearest to the aim point in it."""
    point = aim_point_m(at)
    if point is None or at.aim_piece is None:
        return None, None
    seating = int(at.problem.planes.seating[at.aim_piece])
    rows = scenario.rows
    index = rows.of((seating,))
    away = np.hypot(rows.x_m[index] - point[0], rows.z_m[index] - point[1])
    return scenario.seatings[seating].name, int(index[int(np.argmin(away))])


def uniform_of(at: Placed) -> UniformLevel | None:
    """The uniform-level line through the aim point."""
    if at.throw_m is None:
        return None
    return uniform_level(
        at.problem.pattern,
        at.placement,
        absorption_db_per_m=at.problem.absorption_db_per_m,
        throw_m=at.throw_m,
    )

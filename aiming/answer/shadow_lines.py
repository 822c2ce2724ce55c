"""Where the shadow of an edge begins among the rows, for pictures."""

from dataclasses import dataclass

import numpy as np

from ..arrays import BoolArray, FloatArray
from ..field.walls import Walls, clear, walls_of
from ..scenario.scenario import Scenario
from .model import Answer, SpeakerAnswer

_HAIR_M = 1e-3


@dataclass(frozen=True, eq=False)
class ShadowLines:
    """Of one loudspeaker.

    lines_m: each (2, 2) from the edge that hides to between the last row seen and the first hidden
    hidden: (rows,) that it serves and does not see
    """

    lines_m: tuple[FloatArray, ...]
    hidden: BoolArray


def shadow_lines(scenario: Scenario, answer: Answer) -> dict[str, ShadowLines]:
    """By loudspeaker, over the rows that it serves."""
    walls = walls_of(scenario.seatings, scenario.surfaces)
    return {one.name: _of(scenario, walls, one) for one in answer.speakers}


def _of(scenario: Scenario, walls: Walls, one: SpeakerAnswer) -> ShadowLines:
    rows, source = scenario.rows, np.array([one.x_m, one.height_m])
    ears = np.stack([rows.x_m, rows.z_m], axis=1)
    served = np.isin(rows.seating, scenario.speaker(one.name).serves)
    hidden = served & ~clear(walls, np.broadcast_to(source, ears.shape), ears)
    lines = []
    for row in np.flatnonzero(hidden[1:] != hidden[:-1]):
        if rows.seating[row] == rows.seating[row + 1]:
            seen, lost = (ears[row], ears[row + 1])[:: -1 if hidden[row] else 1]
            line = _line(walls, source, seen, lost)
            if line is not None:
                lines.append(line)
    return ShadowLines(lines_m=tuple(lines), hidden=hidden)


def _line(
    walls: Walls, source: FloatArray, seen: FloatArray, lost: FloatArray
) -> FloatArray | None:
    """From the corner that the ray passes on its way between the two rows; None for none."""
    to_seen, to_lost, to_corner = seen - source, lost - source, walls.corner_m - source
    side = np.sign(_turn(to_seen, to_lost))
    between = (side * _turn(to_seen, to_corner) >= -_HAIR_M) & (
        side * _turn(to_corner, to_lost) >= -_HAIR_M
    )
    away = np.hypot(*to_corner.T)
    between &= (to_corner @ to_lost > 0.0) & (away < np.hypot(*to_lost)) & (away > _HAIR_M)
    between &= clear(walls, np.broadcast_to(source, walls.corner_m.shape), walls.corner_m)
    found = np.flatnonzero(between)
    if len(found) == 0:
        return None
    # The farthest corner is the one whose shadow falls on the rows.
    corner = int(found[np.argmax(away[found])])
    reach = 0.5 * (np.hypot(*to_seen) + np.hypot(*to_lost))
    end = source + to_corner[corner] * max(float(reach / away[corner]), 1.0)
    return np.stack([walls.corner_m[corner], end])


def _turn(a: FloatArray, b: FloatArray) -> FloatArray:
    """Positive where b lies anticlockwise of a."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])

"""Small scenes with closed forms, for tests of the bounds one function at a time."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from plain_air import tones

from aiming.aim.boxes import Boxes
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray
from aiming.geometry.section import Rows, Segments
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang

OUTLINE_M = ((-0.7, -0.25), (0.1, -0.35), (0.15, 0.4), (-0.6, 0.45))
PIECES_M = (((6.0, 1.2), (14.0, 1.9)), ((15.0, 2.5), (21.0, 4.5)), ((26.0, 6.0), (23.0, 5.0)))


def straight(*tables: tuple[float, float], middle_db: float = 0.0) -> Pattern:
    """Bands with level_db = middle + below·φ below the axis and middle + above·φ above it."""
    return Pattern(
        np.array([-180.0, 0.0, 180.0]),
        tuple(1000.0 * 2**place for place in range(len(tables))),
        np.array(
            [
                [middle_db - 180.0 * below, middle_db, middle_db + 180.0 * above]
                for below, above in tables
            ]
        ),
        "invented",
    )


def rows_at(points_m: Sequence[tuple[float, float]], weight: Sequence[float] = ()) -> Rows:
    """Rows with ears at these points."""
    x, z = np.array(points_m).T
    count = len(points_m)
    return Rows(
        x_m=x,
        z_m=z,
        weight=np.array(weight) if weight else np.ones(count),
        seating=np.zeros(count, dtype=np.intp),
        names=tuple(str(place) for place in range(count)),
        seatings=(),
    )


def scene(**changes: Any) -> Problem:
    """Three rows, three pieces of audience, the last drawn backwards; free height, x and tilt."""
    values: dict[str, Any] = {
        "pattern": straight((0.2, -0.3), (0.1, -0.4)),
        "rows": rows_at([(7.0, 1.3), (12.0, 1.7), (20.0, 4.1)], [1.0, 2.0, 1.5]),
        "planes": Segments(
            start_m=np.array([piece[0] for piece in PIECES_M]),
            end_m=np.array([piece[1] for piece in PIECES_M]),
        ),
        "air_loss": tones(np.array([0.004, 0.03])),
        "hang": Hang(x_m=(-2.0, 3.0), vertical_m=(4.0, 9.0)),
    }
    return Problem(**{**values, **changes})


def hung_by_trim(**changes: Any) -> Problem:
    """The same with a cabinet whose lowest corner is what the range of height is about."""
    hang = Hang(x_m=(-2.0, 3.0), vertical="trim", vertical_m=(4.0, 9.0))
    return scene(**{"hang": hang, "cabinet": Cabinet(outline_m=np.array(OUTLINE_M)), **changes})


def boxes_of(
    centre: Sequence[Sequence[float]],
    half: Sequence[Sequence[float]],
    *,
    piece: int | Sequence[int] = -1,
    flipped: bool | Sequence[bool] = False,
) -> Boxes:
    """Boxes, one a row."""
    count = len(centre)
    return Boxes(
        np.array(centre, dtype=float),
        np.broadcast_to(np.array(half, dtype=float), np.shape(centre)).copy(),
        np.broadcast_to(np.asarray(piece, dtype=np.intp), count).copy(),
        np.broadcast_to(np.asarray(flipped, dtype=bool), count).copy(),
    )


def moved(boxes: Boxes, column: int, by: FloatArray | float) -> Boxes:
    """The same with centres moved along one of their columns."""
    centre = boxes.centre.copy()
    centre[:, column] += by
    return Boxes(centre, boxes.half, boxes.piece, boxes.flipped)

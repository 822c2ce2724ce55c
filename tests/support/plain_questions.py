"""Questions so plain that their answers have closed forms, for tests of single functions.

The lobe is a tent: it falls by the same amount with each degree, so that the level of a row is
linear in the tilt on either side of the axis, and reading its table errs by nothing.
"""

import numpy as np
from plain_air import tones

from aiming.aim.problem import Objective, Problem
from aiming.base.arrays import FloatArray
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang

EAR_M = 1.2


def tent(*per_degree_db: float, above_db: float | None = None, known_deg: float = 180.0) -> Pattern:
    """Falls by so much with each degree off axis, a number for each band; above it may differ."""
    down = np.array(per_degree_db)
    up = down if above_db is None else np.full_like(down, above_db)
    levels = np.stack([-known_deg * down, np.zeros_like(down), -known_deg * up], axis=1)
    bands = tuple(1000.0 * 2.0**k for k in range(len(per_degree_db)))
    return Pattern(np.array([-known_deg, 0.0, known_deg]), bands, levels, "a tent")


def question(
    pattern: Pattern | None = None,
    *,
    ears: tuple[tuple[float, float], ...] = ((4.0, EAR_M), (20.0, EAR_M)),
    rows: int = 9,
    hang: Hang | None = None,
    air_db_per_m: float | FloatArray = 0.0,
    objective: Objective = "spread",
) -> Problem:
    """One block of rows along a line of ears, a tent of 0.2 dB a degree, no air."""
    floor = np.array(ears) - np.array([0.0, EAR_M])
    seating = Seating("floor", floor, ear_height_m=EAR_M, row_count=rows)
    lobe = pattern or tent(0.2)
    return Problem(
        pattern=lobe,
        rows=rows_of((seating,)),
        planes=plane_segments((seating,), (0,)),
        air_loss=tones(np.broadcast_to(np.asarray(air_db_per_m), len(lobe.band_hz))),
        hang=hang or Hang(vertical_m=(6.0, 6.0)),
        objective=objective,
    )

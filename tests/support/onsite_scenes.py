"""Invented sites for the tests of what is measured on site."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from aiming.aim.check_positions import choose_checks
from aiming.aim.problem import Problem
from aiming.base.air import Air, absorption_db_per_m
from aiming.base.arrays import FloatArray
from aiming.base.bands import exact_midband_hz
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.site.fit import Levels
from aiming.site.prediction import Departure, Scene, whole
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Hang, Placement

BANDS_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
ALPHA = absorption_db_per_m([exact_midband_hz(band) for band in BANDS_HZ], Air())

SCENARIO = """
schema = 1
title = "Tannery yard"        # an invented place
[datum]
name = "kerb"
[[seating]]
name = "yard"
line = [[4.0, 0.0], [18.0, 1.4]]
[[speaker]]
name = "main"
[speaker.pattern]
coverage = 60
[speaker.cabinet]
mass_kg = 45.0
outline = [[-0.5, -0.35], [0.0, -0.35], [0.0, 0.35], [-0.5, 0.35]]
centre_of_gravity = [-0.28, 0.0]
picks = [{ name = "front", at = [0.0, 0.35] }, { name = "rear", at = [-0.5, 0.35] }]
laser_at = [-0.02, 0.40]
reference_face_deg = 2.0
[speaker.rigging.upright]
method = "two points"
picks = ["front", "rear"]
[speaker.placement]           # as the rigger has it
x = 0.0
height = 6.0                  # acoustic centre
tilt = -15.0
"""


def problem(
    *,
    half_deg: float = 30.0,
    floor: tuple[tuple[float, float], ...] = ((4.0, 0.0), (18.0, 1.4)),
    bands_hz: tuple[float, ...] = BANDS_HZ,
) -> Problem:
    """One seating before a nominal loudspeaker."""
    seatings = (Seating("yard", np.array(floor)),)
    pattern = nominal_pattern(above_deg=half_deg, below_deg=half_deg, bands_hz=bands_hz)
    return Problem(
        pattern=pattern,
        rows=rows_of(seatings),
        planes=plane_segments(seatings, (0,)),
        absorption_db_per_m=absorption_db_per_m([exact_midband_hz(b) for b in bands_hz], Air()),
        hang=Hang(),
    )


def site(
    of: Problem, plan: Placement, *, count: int | None = None, rows: list[int] | None = None
) -> Scene:
    """The plan seen from its own check positions, or from given rows."""
    at = rows if rows is not None else [one.row for one in choose_checks(of, plan)[:count]]
    return Scene(replace(of, pattern=whole(of.pattern), rows=of.rows.pick(np.array(at))), plan)


def measured(
    scene: Scene,
    true: Departure,
    rng: np.random.Generator | None = None,
    *,
    site_db: float = 0.7,
    band_db: float = 1.0,
) -> FloatArray:
    """(bands, n) levels by the noise model, with gains of any size; exact without rng."""
    level = scene.levels_db(true)
    if rng is None:
        return level + np.array([[3.0], [-40.0], [12.0], [0.5]])[: len(level)]
    bands, points = level.shape
    return np.asarray(
        level
        + rng.normal(0.0, 20.0, (bands, 1))
        + rng.normal(0.0, site_db, points)
        + rng.normal(0.0, band_db, (bands, points))
    )


def levels(level_db: FloatArray) -> Levels:
    """Without coherence."""
    return Levels(level_db, np.zeros_like(level_db))


def long_csv(path: Path, names: list[str], bands_hz: tuple[float, ...], level: FloatArray) -> Path:
    """Levels (bands, n) as the table that the command reads."""
    rows = ["position,frequency_hz,level_db"]
    for n, name in enumerate(names):
        rows += [
            f"{name},{band:g},{level[k, n]:.3f}"
            for k, band in enumerate(bands_hz)
            if np.isfinite(level[k, n])
        ]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path

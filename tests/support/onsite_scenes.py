"""Invented sites for the tests of what is measured on site."""

from pathlib import Path

import numpy as np
from plain_air import tones

from aiming.aim.problem import Problem
from aiming.base.air import Air, absorption_db_per_m
from aiming.base.arrays import FloatArray
from aiming.base.bands import exact_midband_hz
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.site.prediction import Points, Prediction, image_m
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
        air_loss=tones(absorption_db_per_m([exact_midband_hz(b) for b in bands_hz], Air())),
        hang=Hang(),
    )


def levels_at(
    x_m: FloatArray,
    z_m: FloatArray,
    *,
    tilt_deg: float = -15.0,
    height_m: float = 6.0,
    half_deg: float = 30.0,
    rng: np.random.Generator | None = None,
    site_db: float = 0.7,
    band_db: float = 1.0,
) -> FloatArray:
    """(bands, n) by a formula of its own, with gains of any size; without errors where rng is None.

    A quadratic lobe: 6.0206 dB down at half_deg, 24 dB at most.
    """
    dx, dz = x_m, z_m - height_m
    r = np.hypot(dx, dz)
    off = np.degrees(np.arctan2(dz, dx)) - tilt_deg
    lobe = np.maximum(-20.0 * np.log10(2.0) * (off / half_deg) ** 2, -24.0)
    level = lobe - 20.0 * np.log10(r) - ALPHA[:, np.newaxis] * r
    level = level + np.array([[3.0], [-40.0], [12.0], [0.5]])
    if rng is None:
        return np.asarray(level)
    return np.asarray(
        level + rng.normal(0.0, site_db, level.shape[1]) + rng.normal(0.0, band_db, level.shape)
    )


def prediction(of: Problem, plan: Placement) -> Prediction:
    """The plan over the rows of a problem."""
    return Prediction(of, plan, speed_m_s=343.2, width_octaves=1.0)


def points(of: Problem, rows: list[int], *, floor: bool = True) -> Points:
    """Microphones at these rows; floor: their images under it are known."""
    at = np.array(rows)
    x, z = of.rows.x_m[at], of.rows.z_m[at]
    nowhere = np.full((len(at), 2), np.nan)
    return Points(x, z, image_m(of.rows.seatings, x, z) if floor else nowhere)


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

"""Directivity index of the baffled piston: Q = (ka)²/(1 − J1(2ka)/ka), the hemisphere's integral.

Kinsler et al., Fundamentals of Acoustics, §7.6 (place from memory; values from the closed form).
"""

from collections.abc import Iterator

import numpy as np
from pattern_samples import even_layout, piston, unit

from aiming.base.arrays import FloatArray, frozen
from aiming.speaker.pattern_figures import Sphere, sphere_directivity_index_db

from .check import Check

# dB by ka
PISTON_DI_DB = {0.1: 3.018, 1: 3.734, 2: 5.880, 3: 9.159, 5: 14.017, 10: 20.029}
WITHIN_DB = 0.03
"""The integral is a sum over some thousand directions."""


def piston_sphere(ka: float, azimuth_elevation: FloatArray) -> Sphere:
    direction = unit(azimuth_elevation)
    off = np.minimum(np.arccos(np.clip(direction[:, 0], -1.0, 1.0)), np.pi / 2)
    level = 20 * np.log10(np.maximum(piston(ka, off), 1e-9))
    # The half share of a cell that the baffle cuts: its intensity at half.
    level = np.where(np.abs(direction[:, 0]) < 1e-9, level - 10 * np.log10(2.0), level)
    level = np.where(direction[:, 0] < -1e-9, -180.0, level)
    return Sphere(frozen(direction), (1000.0,), frozen(level[np.newaxis]))


def index_db(ka: float) -> float:
    found = sphere_directivity_index_db(piston_sphere(ka, even_layout(6_000)))
    assert found is not None
    return float(found[0])


def checks() -> Iterator[Check]:
    for ka, published in PISTON_DI_DB.items():
        yield Check(
            "Patterns", f"piston in a baffle, directivity index at ka {ka}, from 6,000 directions",
            "Kinsler et al., Fundamentals of Acoustics, §7.6 (place from memory)", "C", published,
            WITHIN_DB, "dB", lambda ka=ka: index_db(ka),
        )  # fmt: skip

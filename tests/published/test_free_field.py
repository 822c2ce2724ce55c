"""Free-field levels: distance, sums and power, as the handbooks print them.

20·lg r: status C.  Sums: Davis and Patronis, Sound System Engineering, §2.15, equations 2-32 to
2-34, status V.  Power for a level at a distance: secondary text, status V2.  Doubling the distance
costs 6 dB: common practice of the trade (P), and the closed form.
"""

import math

import numpy as np
import pytest

from aiming.air import Air, absorption_db_per_m
from aiming.bands import exact_midband_hz
from aiming.field.levels import levels_db, loss_db, power_sum_db
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Placement

NO_AIR = np.zeros(1)


@pytest.mark.parametrize(
    ("distance_m", "loss"),
    [(2, 6.021), (4, 12.041), (8, 18.062), (16, 24.082), (50, 33.979), (100, 40.0)],
)
def test_inverse_square(distance_m: float, loss: float) -> None:
    """Tolerance: half the last printed digit."""
    found = loss_db(np.array([float(distance_m)]), NO_AIR)
    assert found.shape == (1, 1)
    assert float(found[0, 0]) == pytest.approx(loss, abs=0.0005)


@pytest.mark.parametrize(
    ("one", "other", "total"), [(90, 90, 93.01), (90, 96, 96.97), (62, 73, 73.33), (80, 85, 86.19)]
)
def test_incoherent_sums(one: float, other: float, total: float) -> None:
    """§2.15, eqs 2-32 and 2-33.  Tolerance 0.01 dB, the print's last digit."""
    assert float(power_sum_db(np.array([one, other], dtype=float))) == pytest.approx(
        total, abs=0.01
    )


def test_nothing_adds_nothing() -> None:
    """A silent source changes no sum; two silent sources are silent."""
    silent = -math.inf
    assert float(power_sum_db(np.array([80.0, silent]))) == 80.0
    assert float(power_sum_db(np.array([silent, silent]))) == silent


def test_sum_along_an_axis() -> None:
    levels = np.array([[80.0, 90.0], [85.0, 90.0], [-math.inf, 20.0]])
    np.testing.assert_allclose(power_sum_db(levels), [86.19, 93.01], atol=0.01)
    np.testing.assert_allclose(power_sum_db(levels.T, axis=-1), [86.19, 93.01], atol=0.01)


def test_power_for_a_level() -> None:
    """105 dB at 2.5 m from 89 dB at 1 W and 1 m needs 248.8 W.  V2, tolerance 0.1 W."""
    pattern = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=(1000.0,))
    gain_db = 10.0 * math.log10(248.8)
    found = levels_db(
        pattern,
        Placement(x_m=0.0, height_m=0.0, tilt_deg=0.0),
        np.array([2.5]),
        np.array([0.0]),
        absorption_db_per_m=NO_AIR,
        offset_db=[89.0 + gain_db],
    )
    watts = 248.8 * 10.0 ** ((105.0 - float(found[0, 0])) / 10.0)
    assert watts == pytest.approx(248.8, abs=0.1)


def test_doubling_the_distance() -> None:
    """20 to 40 m: 6.02 dB at every frequency, and at 8 kHz 2.08 dB more from air (C, 0.005 dB)."""
    bands = (125.0, 8000.0)
    alpha = absorption_db_per_m([exact_midband_hz(f) for f in bands], Air())
    near, far = loss_db(np.array([20.0, 40.0]), alpha).T
    assert far[0] - near[0] == pytest.approx(6.02 + 20.0 * 0.000445, abs=0.005)
    assert far[1] - near[1] == pytest.approx(6.02 + 2.08, abs=0.006)

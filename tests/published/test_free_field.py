"""Sums with silence and along an axis, and twice the distance.  Printed values: free_field.py."""

import math

import numpy as np
import pytest
from plain_air import tones

from aiming.base.air import Air, absorption_db_per_m
from aiming.base.bands import exact_midband_hz
from aiming.field.levels import loss_db, power_sum_db


def test_nothing_adds_nothing() -> None:
    """A silent source changes no sum; two silent sources are silent."""
    silent = -math.inf
    assert float(power_sum_db(np.array([80.0, silent]))) == 80.0
    assert float(power_sum_db(np.array([silent, silent]))) == silent


def test_sum_along_an_axis() -> None:
    levels = np.array([[80.0, 90.0], [85.0, 90.0], [-math.inf, 20.0]])
    np.testing.assert_allclose(power_sum_db(levels), [86.19, 93.01], atol=0.01)
    np.testing.assert_allclose(power_sum_db(levels.T, axis=-1), [86.19, 93.01], atol=0.01)


def test_doubling_the_distance() -> None:
    """20 to 40 m: 6.02 dB at every frequency, and at 8 kHz 2.08 dB more from air (C, 0.005 dB)."""
    bands = (125.0, 8000.0)
    alpha = tones(absorption_db_per_m([exact_midband_hz(f) for f in bands], Air()))
    near, far = loss_db(np.array([20.0, 40.0]), alpha).T
    assert far[0] - near[0] == pytest.approx(6.02 + 20.0 * 0.000445, abs=0.005)
    assert far[1] - near[1] == pytest.approx(6.02 + 2.08, abs=0.006)

"""Kinsler et al., Fundamentals of Acoustics, §7.4: circular piston in a baffle, |2·J1(x)/x|.

Place in the book from memory; values at x = ka·sin θ are in patterns.py.  The core computes the
Bessel function itself; scipy is the second opinion here.
"""

import math

import numpy as np
import pytest
from scipy.special import j1

from aiming.speaker.lobes import PISTON_EDGE, piston_db
from aiming.speaker.pattern import EDGE_DB

from .patterns import piston_at


def test_first_null() -> None:
    """Null at x = 3.831706: at least 100 dB down there, and not so 0.01 to either side."""
    assert piston_at(3.831706) < -100.0
    assert piston_at(3.821706) > -60.0
    assert piston_at(3.841706) > -60.0


def test_first_side_lobe() -> None:
    """Its top lies at x = 5.135622: lower to either side."""
    top = piston_at(5.135622)
    assert piston_at(5.1) < top
    assert piston_at(5.17) < top


def test_against_scipy() -> None:
    """The core's own Bessel integral against scipy.special.j1, 1e-9 dB above the nulls."""
    for half_deg in (3.0, 12.5, 30.0, 60.0, 90.0):
        angle = np.linspace(0.01, 90.0, 4001)
        x = 2.215089 * np.sin(np.radians(angle)) / math.sin(math.radians(half_deg))
        exact = 20.0 * np.log10(np.abs(2.0 * j1(x) / x))
        high = exact > -80.0
        np.testing.assert_allclose(
            piston_db(angle, half_deg)[high], exact[high], rtol=0.0, atol=1e-9
        )


def test_edge_constant() -> None:
    """2·J1(x)/x is half at the constant, to its last digit."""
    assert 2.0 * j1(PISTON_EDGE) / PISTON_EDGE == pytest.approx(0.5, abs=3e-7)
    assert pytest.approx(20.0 * math.log10(2.0), rel=1e-15) == EDGE_DB

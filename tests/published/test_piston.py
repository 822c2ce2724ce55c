"""Kinsler et al., Fundamentals of Acoustics, §7.4: circular piston in a baffle, |2·J1(x)/x|.

Location from memory (status M); the values are recomputed from the closed form (status C).  With
x = ka·sin θ.  The core computes the Bessel function itself; scipy is the second opinion here.
"""

import math

import numpy as np
import pytest
from scipy.special import j1

from aiming.speaker.lobes import PISTON_EDGE, nominal_pattern, piston_db
from aiming.speaker.pattern import EDGE_DB, edge_deg


def at_x(x: float, *, half_deg: float = 10.0) -> float:
    """The core's lobe where ka·sin θ is x, for a piston whose coverage half-angle is half_deg."""
    sine = x * math.sin(math.radians(half_deg)) / 2.215089
    return float(piston_db(np.array(math.degrees(math.asin(sine))), half_deg))


@pytest.mark.parametrize(
    ("x", "level_db"), [(2.215089, -6.0206), (2.21179, -6.0), (1.61374, -3.0), (2.73138, -10.0)]
)
def test_levels(x: float, level_db: float) -> None:
    """Tolerance 1e-4 dB: x is printed to 1e-5, and the slope stays below 10 dB per unit of x."""
    assert at_x(x) == pytest.approx(level_db, abs=1e-4)


def test_first_null() -> None:
    """Null at x = 3.831706: at least 100 dB down there, and not so 0.01 to either side."""
    assert at_x(3.831706) < -100.0
    assert at_x(3.821706) > -60.0
    assert at_x(3.841706) > -60.0


def test_first_side_lobe() -> None:
    """Side lobe at x = 5.135622, −17.57015 dB, 1e-5; lower to either side."""
    top = at_x(5.135622)
    assert top == pytest.approx(-17.57015, abs=1e-5)
    assert at_x(5.1) < top
    assert at_x(5.17) < top


@pytest.mark.parametrize(
    ("ka", "full_angle_deg"),
    [(3, 95.18), (4, 67.25), (5, 52.59), (6, 43.33), (8, 32.15), (10, 25.60), (20, 12.72)],
)
def test_coverage_of_ka(ka: float, full_angle_deg: float) -> None:
    """−6.02 dB full angle of ka.  Status C, tolerance 0.01°.

    The table reads to 0.001 dB, and the slope is above 0.3 dB/°: its edge agrees to 0.004°.
    """
    half_deg = math.degrees(math.asin(PISTON_EDGE / ka))
    assert 2.0 * half_deg == pytest.approx(full_angle_deg, abs=0.01)
    pattern = nominal_pattern(
        above_deg=half_deg, below_deg=half_deg, bands_hz=(1000.0,), lobe="piston"
    )
    edge = edge_deg(pattern.angle_deg, pattern.level_db[0], above=True)
    assert edge == pytest.approx(half_deg, abs=0.004)


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

"""The trade's rule of thumb for aiming one box: what holds of it whatever the lobe.

The numbers along its line are in rule_of_thumb.py.
"""

import math

import numpy as np
import pytest
from plain_air import tones
from scipy.optimize import brentq

from aiming.aim.ideal import ideal
from aiming.field.levels import levels_db
from aiming.speaker.pattern import EDGE_DB
from aiming.speaker.speaker import Placement

from .rule_of_thumb import FORMULA, NARROW_SHARE, NEAR_M, TABLE, level_along, lobe


@pytest.mark.parametrize("name", FORMULA)
@pytest.mark.parametrize("half_deg", [row[0] for row in TABLE])
def test_both_ends_are_equally_loud_and_nothing_between_is_softer(
    name: str, half_deg: float
) -> None:
    level = level_along(name, half_deg)
    assert level[0] == pytest.approx(level[-1], abs=0.002)
    assert level.min() > level[0] - 0.002


@pytest.mark.parametrize("half_deg", [row[0] for row in TABLE])
def test_far_throw_of_a_line(half_deg: float) -> None:
    """Law of cosines: L/√(5/4 − cos φ), twice the near throw."""
    found = ideal(coverage_deg=2.0 * half_deg, near_m=(3.0, 1.2), far_m=(23.0, 1.2))
    far_m = 20.0 / math.sqrt(1.25 - math.cos(math.radians(half_deg)))
    assert found.far_throw_m == pytest.approx(far_m, rel=1e-12)
    assert found.near_throw_m == pytest.approx(0.5 * far_m, rel=1e-12)


def test_small_angles() -> None:
    """The limit for the quadratic lobe solved: (1 + s)² = 4·ln 2·(1 − s)."""
    s = float(brentq(lambda s: (1.0 + s) ** 2 - 4.0 * math.log(2.0) * (1.0 - s), 0.0, 1.0))
    assert s == pytest.approx(NARROW_SHARE, abs=5e-5)


def test_true_uniform_line() -> None:
    """r(θ) = 2d·10^(D(θ)/20) is equally loud everywhere, to the table's reading error 0.001 dB."""
    half_deg = 30.0
    off_axis = np.linspace(-half_deg, 0.0, 301)
    r = 2.0 * NEAR_M * 10.0 ** (-EDGE_DB * (off_axis / half_deg) ** 2 / 20.0)
    level = levels_db(
        lobe("quadratic", half_deg),
        Placement(x_m=0.0, height_m=0.0, tilt_deg=0.0),
        r * np.cos(np.radians(off_axis)),
        r * np.sin(np.radians(off_axis)),
        air_loss=tones(np.zeros(1)),
    )[0]
    assert np.ptp(level) < 0.002
    assert r[0] == pytest.approx(NEAR_M)

"""The trade's rule of thumb for aiming one box, and how far it holds.

The rule (common practice of the trade, status P, no source): a point at distance d on the coverage
edge is as loud as a point at 2d on the axis.  What follows from it (status C, closed forms): the
straight line between the two has length d·√(5 − 4·cos φ), φ the half-angle; meets the axis at
atan(sin φ/(2 − cos φ)); so a straight audience line of length L has an ideal far throw
L/√(5/4 − cos φ), by the law of cosines.  Along that straight line the level is not even: it rises
by 2 to 3 dB roughly a third of the way from the near end.  No loss in air throughout.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from aiming.arrays import FloatArray, frozen
from aiming.field.levels import levels_db
from aiming.speaker.lobes import Lobe, nominal_pattern, piston_db, quadratic_db
from aiming.speaker.pattern import EDGE_DB, Pattern
from aiming.speaker.speaker import Placement

NEAR_M = 10.0

# half-angle, L/d, β; per lobe: excess over the ends in dB, where from the near end, angle off axis
TABLE = (
    (15.0, 1.06597, 14.05, (2.093, 0.348, 7.26), (2.204, 0.330), (2.231, 0.326)),
    (20.0, 1.11410, 17.88, (2.152, 0.349, 9.66), (2.243, 0.334), (2.270, 0.330)),
    (30.0, 1.23931, 23.79, (2.321, 0.351, 14.40), (2.356, 0.346), (2.382, 0.342)),
    (45.0, 1.47363, 28.68, (2.711, 0.355, 21.36), (2.616, 0.367), (2.642, 0.364)),
    (52.5, 1.60155, 29.69, (2.971, 0.357, 24.78), (2.788, 0.379), (2.814, 0.376)),
)
HALF_ANGLES = [row[0] for row in TABLE]


def uniform_line_pattern(half_deg: float) -> Pattern:
    """sin x/x with x = 1.895494·sin θ/sin φ, half amplitude at the edge.

    Beranek and Mellow, Acoustics, 2nd ed., eq. 13.318; V for the form, C for the number.
    """
    angle = np.linspace(-90.0, 90.0, 36001)
    x = 1.895494 * np.sin(np.radians(angle)) / math.sin(math.radians(half_deg))
    level = 20.0 * np.log10(np.maximum(np.abs(np.sinc(x / np.pi)), 1e-6))
    return Pattern(frozen(angle), (1000.0,), frozen(level[np.newaxis]), "uniform line")


def pattern(lobe: Lobe, half_deg: float) -> Pattern:
    return nominal_pattern(above_deg=half_deg, below_deg=half_deg, bands_hz=(1000.0,), lobe=lobe)


TILT_DEG = -17.0


def line_points_m(half_deg: float, share: FloatArray) -> FloatArray:
    """(n, 2) from the near end on the coverage edge to the far end on the axis; box at (3, 8)."""
    tilt, edge = math.radians(TILT_DEG), math.radians(TILT_DEG - half_deg)
    far = 2.0 * NEAR_M * np.array([math.cos(tilt), math.sin(tilt)])
    near = NEAR_M * np.array([math.cos(edge), math.sin(edge)])
    return np.asarray(near + share[:, np.newaxis] * (far - near) + [3.0, 8.0])


def check_excess(of: Pattern, half_deg: float, expected: float, where: float) -> None:
    """Through the table and the field function.

    Excess to 0.005 dB.  The top is flat, about 17 dB times the square of the share: a table that
    errs by up to 0.001 dB may move it by 0.008; so the place to 0.009.
    """
    share = np.linspace(0.0, 1.0, 20001)
    points = line_points_m(half_deg, share)
    level = levels_db(
        of,
        Placement(x_m=3.0, height_m=8.0, tilt_deg=TILT_DEG),
        points[:, 0],
        points[:, 1],
        absorption_db_per_m=np.zeros(1),
    )[0]
    assert level[0] == pytest.approx(level[-1], abs=0.002)  # the rule: both ends equally loud
    assert level.min() > level[0] - 0.002  # never softer than the ends
    top = int(np.argmax(level))
    assert level[top] - level[0] == pytest.approx(expected, abs=0.005)
    assert share[top] == pytest.approx(where, abs=0.009)


def check_place(
    formula: Callable[[FloatArray, float], FloatArray],
    half_deg: float,
    where: float,
    angle_deg: float | None = None,
) -> None:
    """On the lobe's formula: 0.002 in share, 0.1° (the angle moves 0.06° for 0.002 of the line)."""
    share = np.linspace(0.0, 1.0, 20001)
    dx, dz = (line_points_m(half_deg, share) - [3.0, 8.0]).T
    off_axis = np.degrees(np.arctan2(dz, dx)) - TILT_DEG
    level = formula(off_axis, half_deg) - 10.0 * np.log10(dx**2 + dz**2)
    top = int(np.argmax(level))
    assert share[top] == pytest.approx(where, abs=0.002)
    if angle_deg is not None:
        assert -off_axis[top] == pytest.approx(angle_deg, abs=0.1)


@pytest.mark.parametrize("half_deg", HALF_ANGLES)
def test_line_between_the_points(half_deg: float) -> None:
    """Length and angle of the line.  Status C, half the last printed digit."""
    row = TABLE[HALF_ANGLES.index(half_deg)]
    cosine = math.cos(math.radians(half_deg))
    assert math.sqrt(5.0 - 4.0 * cosine) == pytest.approx(row[1], abs=6e-6)
    beta = math.degrees(math.atan2(math.sin(math.radians(half_deg)), 2.0 - cosine))
    assert beta == pytest.approx(row[2], abs=0.006)
    # Far throw 2d for a line of that length: twice the near one.
    far = NEAR_M * row[1] / math.sqrt(1.25 - cosine)
    assert far == pytest.approx(2.0 * NEAR_M, rel=1e-5)


@pytest.mark.parametrize("half_deg", HALF_ANGLES)
def test_excess_quadratic(half_deg: float) -> None:
    """Quadratic lobe."""
    excess, *place = TABLE[HALF_ANGLES.index(half_deg)][3]
    check_excess(pattern("quadratic", half_deg), half_deg, excess, place[0])
    check_place(quadratic_db, half_deg, *place)


@pytest.mark.parametrize("half_deg", HALF_ANGLES)
def test_excess_piston(half_deg: float) -> None:
    """Piston lobe."""
    excess, *place = TABLE[HALF_ANGLES.index(half_deg)][4]
    check_excess(pattern("piston", half_deg), half_deg, excess, place[0])
    check_place(piston_db, half_deg, *place)


@pytest.mark.parametrize("half_deg", HALF_ANGLES)
def test_excess_uniform_line(half_deg: float) -> None:
    """sin x/x lobe, as a table that the core did not make itself."""
    excess, where = TABLE[HALF_ANGLES.index(half_deg)][5]
    check_excess(uniform_line_pattern(half_deg), half_deg, excess, where)


def test_small_angles() -> None:
    """Limit for the quadratic lobe: (1 + s)² = 4·ln 2·(1 − s), s = 0.3463, +2.018 dB."""
    s = float(brentq(lambda s: (1.0 + s) ** 2 - 4.0 * math.log(2.0) * (1.0 - s), 0.0, 1.0))
    assert s == pytest.approx(0.3463, abs=5e-5)
    check_excess(pattern("quadratic", 2.0), 2.0, 2.018, s)
    check_place(quadratic_db, 2.0, s)


def test_true_uniform_line() -> None:
    """r(θ) = 2d·10^(D(θ)/20) is equally loud everywhere, to the table's reading error 0.001 dB."""
    half_deg = 30.0
    of = pattern("quadratic", half_deg)
    off_axis = np.linspace(-half_deg, 0.0, 301)
    r = 2.0 * NEAR_M * 10.0 ** (-EDGE_DB * (off_axis / half_deg) ** 2 / 20.0)
    level = levels_db(
        of,
        Placement(x_m=0.0, height_m=0.0, tilt_deg=0.0),
        r * np.cos(np.radians(off_axis)),
        r * np.sin(np.radians(off_axis)),
        absorption_db_per_m=np.zeros(1),
    )[0]
    assert np.ptp(level) < 0.002
    assert r[0] == pytest.approx(NEAR_M)

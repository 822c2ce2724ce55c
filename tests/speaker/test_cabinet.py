"""The cabinet as it hangs: turned, flipped, and how far its lowest point drops."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.arrays import frozen
from aiming.speaker.cabinet import Cabinet, Pick, drop_m, turned_m

OUTLINE = frozen([[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]])
BOX = Cabinet(outline_m=OUTLINE, picks=(Pick("front", (-0.06, 0.44)),))


def test_signs() -> None:
    """Nose up 90°: forward becomes up, up becomes backward."""
    np.testing.assert_allclose(turned_m((1.0, 0.0), tilt_deg=90.0), [0.0, 1.0], atol=1e-15)
    np.testing.assert_allclose(turned_m((0.0, 1.0), tilt_deg=90.0), [-1.0, 0.0], atol=1e-15)
    np.testing.assert_allclose(
        turned_m((0.0, 1.0), tilt_deg=90.0, flipped=True), [1.0, 0.0], atol=1e-15
    )
    # Nose down 30°: a point ahead drops by half.
    assert turned_m((1.0, 0.0), tilt_deg=-30.0)[1] == pytest.approx(-0.5)


def test_shapes() -> None:
    assert turned_m(OUTLINE, tilt_deg=np.zeros((5, 3))).shape == (5, 3, 4, 2)
    assert turned_m((0.1, 0.2), tilt_deg=0.0).shape == (2,)
    assert drop_m(BOX, tilt_deg=np.zeros((5, 3)), flipped=False).shape == (5, 3)


def test_drop() -> None:
    """Level: the base, 0.20 m below; flipped: 0.44 m; nose straight down: the front, 0.02 m."""
    assert float(drop_m(BOX, tilt_deg=0.0, flipped=False)) == pytest.approx(0.20)
    assert float(drop_m(BOX, tilt_deg=0.0, flipped=True)) == pytest.approx(0.44)
    assert float(drop_m(BOX, tilt_deg=-90.0, flipped=False)) == pytest.approx(0.02)
    assert float(drop_m(BOX, tilt_deg=90.0, flipped=False)) == pytest.approx(0.38)


def test_without_an_outline_trim_is_height() -> None:
    assert float(drop_m(None, tilt_deg=-12.0, flipped=False)) == 0.0
    assert float(drop_m(Cabinet(), tilt_deg=-12.0, flipped=True)) == 0.0
    assert Cabinet().height_m is None
    assert Cabinet().radius_m == 0.0


def test_size() -> None:
    assert BOX.height_m == pytest.approx(0.64)
    assert BOX.radius_m == pytest.approx(math.hypot(0.38, 0.44))
    assert BOX.pick("front").at_m == (-0.06, 0.44)
    with pytest.raises(KeyError):
        BOX.pick("rear")


@settings(derandomize=True, deadline=None)
@given(tilt=st.floats(-90.0, 90.0), flipped=st.booleans())
def test_second_formula(tilt: float, flipped: bool) -> None:
    """Every corner by complex numbers: (u ± iw)·e^(iτ); lengths kept, the lowest is the drop."""
    corners = [
        complex(u, -w if flipped else w) * complex(math.cos(a), math.sin(a))
        for u, w in OUTLINE.tolist()
        for a in (math.radians(tilt),)
    ]
    found = turned_m(OUTLINE, tilt_deg=tilt, flipped=flipped)
    np.testing.assert_allclose(found[:, 0], [c.real for c in corners], atol=1e-12)
    np.testing.assert_allclose(found[:, 1], [c.imag for c in corners], atol=1e-12)
    drop = float(drop_m(BOX, tilt_deg=tilt, flipped=flipped))
    assert drop == pytest.approx(-min(c.imag for c in corners), abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(tilt=st.floats(-90.0, 90.0))
def test_mirror(tilt: float) -> None:
    """A flipped box tilted by τ is the mirror image of an upright one tilted by −τ."""
    flipped = turned_m(OUTLINE, tilt_deg=tilt, flipped=True)
    upright = turned_m(OUTLINE, tilt_deg=-tilt, flipped=False)
    np.testing.assert_allclose(flipped, upright * [1.0, -1.0], atol=1e-12)

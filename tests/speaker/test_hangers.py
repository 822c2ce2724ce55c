"""How high a line's top lies over the acoustic centre: as a turned vector, and from below."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aiming.speaker.headroom import Hanger, Headroom

place = st.floats(-0.8, 0.8)
plumb = st.sampled_from([0.0, 0.05, 0.4])
PARTS = (("clamp", 0.12), ("hoist", 0.45))


@given(u=place, w=place, p=plumb, tilt_deg=st.floats(-85.0, 85.0))
def test_a_hook_rises_as_its_turned_vector(u: float, w: float, p: float, tilt_deg: float) -> None:
    turned = complex(u, w) * np.exp(1j * np.radians(tilt_deg))
    rise = Hanger(u, w, plumb_m=p, parts=PARTS).rise_m(np.radians(np.array([tilt_deg])))[0]
    assert rise == pytest.approx(turned.imag + p / np.cos(np.radians(tilt_deg)) + 0.57, abs=1e-12)


@given(
    u=place, w=place, p=plumb, tilt_deg=st.floats(-89.9, 89.9), swing_deg=st.floats(0.0, 40.0),
    share=st.floats(-1.0, 1.0),
)  # fmt: skip
def test_a_tangent_lies_below_and_touches(
    u: float, w: float, p: float, tilt_deg: float, swing_deg: float, share: float
) -> None:
    hanger = Hanger(u, w, plumb_m=p, parts=PARTS)
    tilt, swing = np.radians(np.array([tilt_deg])), np.radians(np.array([swing_deg]))
    value, slope = hanger.tangent_m(tilt, swing)
    there = tilt + share * swing
    if abs(there[0]) < np.radians(89.95):
        assert value[0] + slope[0] * (there - tilt)[0] <= hanger.rise_m(there)[0] + 1e-9
    still, slope = hanger.tangent_m(tilt, np.zeros(1))
    if abs(tilt_deg) < 80.0:
        assert still == pytest.approx(hanger.rise_m(tilt), abs=1e-12)
        step = 1e-6
        rise = hanger.rise_m(tilt + step) - hanger.rise_m(tilt - step)
        assert slope == pytest.approx(rise / (2.0 * step), abs=1e-6)


def test_the_longest_line_counts() -> None:
    """Front hook 0.3 forward, rear 0.3 back: nose up the front one rises, nose down the rear."""
    under = Headroom(8.0, (Hanger(0.3, 0.4, parts=PARTS), Hanger(-0.3, 0.4, parts=PARTS)))
    for tilt_deg in (-30.0, 0.0, 30.0):
        up = 0.15 if tilt_deg else 0.0
        rise = up + 0.4 * np.cos(np.radians(tilt_deg)) + 0.57
        assert under.highest_m(tilt_deg) == pytest.approx(8.0 - rise)
        assert under.raised(1.0).highest_m(tilt_deg) == pytest.approx(9.0 - rise)
    assert under.highest_m([-30.0, 30.0]).shape == (2,)
    assert under.parts_of(0.45) == ("hoist",)
    assert under.parts_of(0.46) == ()
    assert under.parts_of(0.12) == ("clamp", "hoist")


def test_over_a_box_each_line_is_read_at_the_centre() -> None:
    """Two boxes at once, nose up and nose down, without a swing: what a single place is over."""
    under = Headroom(6.0, (Hanger(0.3, 0.4, parts=PARTS), Hanger(-0.3, 0.4, plumb_m=0.1)))
    tilt, height = np.radians([25.0, -35.0]), np.array([5.5, 5.2])
    nothing, up = np.zeros((3, 2)), np.array([[0.1, 0.0], [0.0, 0.2], [0.0, 0.0]])
    over, gen = under.over_m(tilt, nothing, height, up)
    assert over == pytest.approx(height - under.highest_m([25.0, -35.0]), abs=1e-12)
    np.testing.assert_array_equal(gen, up)
    step = 1e-5
    over, gen = under.over_m(tilt, np.full((1, 2), step), height, np.zeros((1, 2)))
    ends = [height - under.highest_m(np.degrees(tilt + side * step)) for side in (-1.0, 1.0)]
    assert gen[0] == pytest.approx(0.5 * (ends[1] - ends[0]), rel=1e-4)

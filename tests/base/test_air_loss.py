"""What bands of noise lose to the air: against a sum of tones, and as the proof needs it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import air_db

from aiming.base.air import Air, AirLoss, absorption_db_per_m, air_loss
from aiming.base.bands import OCTAVES_HZ, edges_hz, exact_midband_hz

CLIMATE = {"celsius": 12.0, "humid": 35.0, "kpa": 98.0}
AIR = Air(temperature_c=12.0, humidity_percent=35.0, pressure_kpa=98.0)
BANDS = OCTAVES_HZ[3:10]


@pytest.mark.parametrize("width", ["octave", "third"])
@pytest.mark.parametrize("distance", [0.1, 3.0, 17.3, 60.0, 141.0, 700.0])
def test_a_band_loses_what_the_power_of_its_tones_does(width: str, distance: float) -> None:
    found = air_loss(BANDS, AIR, width=width).at_db(np.array([distance]))[:, 0]
    octaves = 1.0 if width == "octave" else 1.0 / 3.0
    wanted = [air_db(hz, distance, octaves=octaves, **CLIMATE) for hz in BANDS]
    np.testing.assert_allclose(found, wanted, rtol=0.0, atol=2e-4)


def test_a_third_is_a_third_whatever_the_others_are() -> None:
    """1,250 Hz is no octave; 1 kHz is as wide as the design bands are."""
    octave, both = (air_loss((1000.0, 1250.0), AIR, width=of) for of in ("octave", "third"))
    at = np.array([500.0])
    assert octave.at_db(at)[1, 0] == both.at_db(at)[1, 0]
    assert octave.at_db(at)[0, 0] != pytest.approx(both.at_db(at)[0, 0], abs=1e-3)


def test_near_by_the_tone_is_nearly_the_band_and_far_away_it_says_too_much() -> None:
    loss = air_loss((8000.0,), Air(humidity_percent=30.0), width="octave")
    alpha = float(absorption_db_per_m(exact_midband_hz(8000.0), Air(humidity_percent=30.0)))
    near, far = (alpha * r - float(loss.at_db(np.array([r]))[0, 0]) for r in (2.0, 60.0))
    assert abs(near) < 0.02 and far == pytest.approx(0.71, abs=0.01)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(r=st.floats(0.0, 400.0), reach=st.floats(0.0, 1.0), share=st.floats(-1.0, 1.0))
def test_the_line_here_lies_over_the_table_by_no_more_than_its_sag(r, reach, share) -> None:
    """What the proof asks: everywhere in reach the loss lies under the line, but not far."""
    for loss in (air_loss(BANDS, AIR, width="octave"), air_loss(BANDS, AIR, width="third").mean()):
        reach_m = reach * r
        here, there = np.array([r]), np.array([r + share * reach_m])
        slope, at_zero = loss.line(here)
        over = slope * there + at_zero - loss.at_db(there)
        assert (over >= -1e-9).all()
        assert (over <= loss.sag_db(here, np.array([reach_m])) + 1e-9).all()


def test_losses_rise_ever_more_slowly_and_means_are_means() -> None:
    loss = air_loss(BANDS, AIR, width="octave")
    at = np.geomspace(0.01, 3e5, 4000)
    assert (np.diff(loss.at_db(at), axis=1) > 0.0).all()
    assert (np.diff(loss.slope_db_per_m, axis=1) <= 1e-12).all()
    np.testing.assert_allclose(loss.mean().at_db(at)[0], loss.at_db(at).mean(axis=0), atol=1e-9)


def test_at_the_loudspeaker_nothing_is_lost() -> None:
    """To rounding; and all pieces of the table meet, nearest ones too."""
    loss = air_loss(BANDS, AIR, width="octave")
    assert np.abs(loss.at_db(np.zeros(1))).max() < 1e-14
    assert loss.mean().at_db(np.zeros(1)).shape == (1, 1)


@pytest.mark.parametrize("farthest_m", [0.1, 0.25, 3.0, 61.7, 140.0])
def test_the_table_holds_as_far_as_it_is_asked(farthest_m: float) -> None:
    loss = air_loss(BANDS, AIR, width="octave")
    ends, there = loss.table(farthest_m)
    assert ends[0] == 0.0 and ends[-1] >= farthest_m
    assert ends[-1] <= 1.03 * farthest_m + 0.26
    at = np.linspace(0.0, farthest_m, 101)
    between = [np.interp(at, ends, band) for band in there]
    np.testing.assert_allclose(between, loss.at_db(at), atol=1e-12)


def test_many_ways_at_once_are_the_same_ways() -> None:
    """(2, 3, n) at once as each alone; straight loss per metre as well, where one piece is all."""
    ways = np.random.default_rng(4).uniform(0.05, 200.0, (2, 3, 5))
    alpha = AirLoss(np.array([[0.01], [0.02]]), np.zeros((2, 1)))
    for loss in (air_loss(BANDS, AIR, width="octave"), alpha):
        found = loss.at_db(ways)
        for one, other in np.ndindex(2, 3):
            np.testing.assert_array_equal(found[one, other], loss.at_db(ways[one, other]))
    np.testing.assert_allclose(alpha.at_db(ways)[..., 1, :], 0.02 * ways)


def test_the_sag_is_that_of_a_chord_where_the_loss_bends_most() -> None:
    """Far from any end, half the bend times the reach squared, and a hundredth of the way more."""
    loss = air_loss((8000.0,), AIR, width="octave")
    at, reach = np.array([20.0]), np.array([4.0])
    one, double = loss.sag_db(at, reach), loss.sag_db(at, 2.0 * reach)
    bend = one / (0.5 * 16.0 + 0.02 * 4.0 * 24.0)
    np.testing.assert_allclose(double, bend * (0.5 * 64.0 + 0.02 * 8.0 * 28.0))
    assert (loss.sag_db(at, np.zeros(1)) == 0.0).all()


def test_the_bend_is_that_of_the_spread_of_the_tones() -> None:
    """L = −10·lg⟨10^(−αr/10)⟩ bends at r = 0 by ln 10/10 times the variance of α in the band."""
    loss = air_loss((8000.0,), AIR, width="octave")
    edges = np.log(edges_hz(exact_midband_hz(8000.0), per_octave=1))
    alpha = absorption_db_per_m(np.exp(np.linspace(*edges, 20001)), AIR)
    bend = np.log(10.0) / 10.0 * float(np.var(alpha))
    at, reach = np.array([1.0]), np.array([0.5])
    play = 0.5 * (0.5 * 0.5 + 2.0 * 0.01 * (1.0 + 0.5))
    assert loss.sag_db(at, reach)[0, 0] == pytest.approx(bend * play, rel=0.02)

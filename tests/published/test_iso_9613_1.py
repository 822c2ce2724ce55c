"""ISO 9613-1:1993, Acoustics: attenuation of sound during propagation outdoors, part 1.

Table 1 (pure-tone attenuation in dB/km at exact mid-bands), equations (3) to (5), A.5 (speed of
sound), clause 7 (accuracy).  Status V: values read in the published table; V2 for clause 7, read in
a secondary text only.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.air import Air, absorption_db_per_m, stated_accuracy_percent
from aiming.bands import exact_midband_hz

# °C, % relative humidity, nominal Hz, dB/km
TABLE_1 = (
    (20, 10, 1000, 14.1), (20, 70, 1000, 4.98), (20, 100, 1000, 5.42), (20, 10, 4000, 109),
    (20, 100, 4000, 19.4), (20, 50, 125, 0.445), (20, 70, 125, 0.339), (20, 15, 6300, 175),
    (10, 70, 1000, 3.66), (10, 70, 4000, 32.8), (15, 10, 4000, 87.3), (15, 70, 4000, 26.4),
    (0, 10, 1000, 14.0), (0, 15, 1000, 18.3), (0, 70, 1000, 4.64),
    (30, 50, 1000, 7.03), (30, 10, 4000, 96.0), (30, 70, 4000, 23.1),
    (50, 10, 8000, 155), (50, 70, 8000, 80.3), (-20, 70, 1000, 11.5), (-20, 10, 8000, 10.9),
)  # fmt: skip

SPEED_M_S = {-20: 318.93, 0: 331.29, 10: 337.30, 20: 343.20, 30: 349.00, 40: 354.71}


@pytest.mark.parametrize(("celsius", "humidity", "hz", "db_per_km"), TABLE_1)
def test_table_1(celsius: float, humidity: float, hz: float, db_per_km: float) -> None:
    """Table 1, status V.  Tolerance 0.5 %: the print carries three figures."""
    air = Air(temperature_c=celsius, humidity_percent=humidity)
    found = 1000.0 * float(absorption_db_per_m(exact_midband_hz(hz), air))
    assert found == pytest.approx(db_per_km, rel=0.005)


@pytest.mark.parametrize(("celsius", "speed"), SPEED_M_S.items())
def test_speed_of_sound(celsius: float, speed: float) -> None:
    """A.5, status V.  Tolerance: the print's last digit."""
    assert Air(temperature_c=celsius).speed_of_sound_m_s == pytest.approx(speed, abs=0.01)


@pytest.mark.parametrize(
    ("celsius", "humidity", "hz", "percent"),
    [
        (20, 50, 1000, 10.0),
        (50, 70, 8000, 20.0),  # more than 5 % of water
        (-20, 10, 8000, 20.0),  # less than 0.05 % of water
        (-20, 0.1, 1000, 50.0),  # less than 0.005 %
        (20, 50, 20, 50.0),  # below 4e-4 Hz/Pa
    ],
)
def test_stated_accuracy(celsius: float, humidity: float, hz: float, percent: float) -> None:
    """Clause 7, status V2."""
    air = Air(temperature_c=celsius, humidity_percent=humidity)
    assert stated_accuracy_percent(hz, air) == percent


def second_formula_db_per_m(
    hz: float, celsius: float, humidity: float, pressure_kpa: float
) -> float:
    """Equations (3) to (5) once more, in another arrangement: relaxation as a share per wave."""
    kelvin = celsius + 273.15
    ratio, warm = pressure_kpa / 101.325, kelvin / 293.15
    saturation = math.exp(
        math.log(10.0) * (4.6151 - 6.8346 * math.exp(1.261 * math.log(273.16 / kelvin)))
    )
    water = humidity * saturation / ratio
    oxygen_hz = ratio * (24.0 + 40400.0 * water * (0.02 + water) / (0.391 + water))
    nitrogen_hz = ratio / math.sqrt(warm) * (
        9.0 + 280.0 * water * math.exp(4.170 * (1.0 - math.exp(-math.log(warm) / 3.0)))
    )  # fmt: skip
    loss = 8.686 * 1.84e-11 * hz * hz / ratio * math.sqrt(warm)
    for strength, theta, relax_hz in ((0.01275, 2239.1, oxygen_hz), (0.1068, 3352.0, nitrogen_hz)):
        share = hz / relax_hz / (1.0 + (hz / relax_hz) ** 2)
        loss += 8.686 * warm**-2.5 * strength * math.exp(-theta / kelvin) * hz * share
    return loss


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    hz=st.floats(50.0, 12000.0),
    celsius=st.floats(-20.0, 50.0),
    humidity=st.floats(1.0, 100.0),
    pressure_kpa=st.floats(60.0, 110.0),
)
def test_second_formula(hz: float, celsius: float, humidity: float, pressure_kpa: float) -> None:
    """The same equations typed anew agree to rounding, at any pressure."""
    air = Air(temperature_c=celsius, humidity_percent=humidity, pressure_kpa=pressure_kpa)
    expected = second_formula_db_per_m(hz, celsius, humidity, pressure_kpa)
    assert float(absorption_db_per_m(hz, air)) == pytest.approx(expected, rel=1e-11)


def test_array_equals_scalars() -> None:
    hz = np.array([[125.0, 1000.0], [4000.0, 8000.0]])
    whole = absorption_db_per_m(hz, Air())
    assert whole.shape == hz.shape
    for place, one in np.ndenumerate(hz):
        assert whole[place] == float(absorption_db_per_m(float(one), Air()))

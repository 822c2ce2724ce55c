"""ISO 9613-1:1993, Acoustics: attenuation of sound during propagation outdoors, part 1.

Equations (3) to (5), read in the published text.  Printed values: air.py.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.air import Air, absorption_db_per_m


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

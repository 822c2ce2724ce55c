"""Air: absorption by ISO 9613-1:1993 and the speed of sound."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .arrays import FloatArray

T0_K = 293.15
T01_K = 273.16
REFERENCE_PRESSURE_KPA = 101.325


@dataclass(frozen=True)
class Air:
    """The air between loudspeaker and audience; the defaults are the contract's."""

    temperature_c: float = 20.0
    humidity_percent: float = 50.0
    pressure_kpa: float = REFERENCE_PRESSURE_KPA

    @property
    def temperature_k(self) -> float:
        return self.temperature_c + 273.15

    @property
    def speed_of_sound_m_s(self) -> float:
        """343.2·√(T/T0), ISO 9613-1:1993 (A.5)."""
        return 343.2 * float(np.sqrt(self.temperature_k / T0_K))

    @property
    def water_percent(self) -> float:
        """Molar concentration of water vapour in %, ISO 9613-1:1993 (B.1 to B.3)."""
        exponent = -6.8346 * (T01_K / self.temperature_k) ** 1.261 + 4.6151
        saturation = float(10.0**exponent)
        return self.humidity_percent * saturation * REFERENCE_PRESSURE_KPA / self.pressure_kpa


def absorption_db_per_m(frequency_hz: npt.ArrayLike, air: Air) -> FloatArray:
    """Pure-tone attenuation (dB/m) at exact frequencies (any shape), ISO 9613-1:1993 (3) to (5)."""
    f2 = np.asarray(frequency_hz, dtype=np.float64) ** 2
    pressure = air.pressure_kpa / REFERENCE_PRESSURE_KPA
    warmth = air.temperature_k / T0_K
    water = air.water_percent
    oxygen_hz = pressure * (24.0 + 4.04e4 * water * (0.02 + water) / (0.391 + water))
    nitrogen_hz = (
        pressure
        * warmth**-0.5
        * (9.0 + 280.0 * water * np.exp(-4.170 * (warmth ** (-1.0 / 3.0) - 1.0)))
    )
    classical = 1.84e-11 / pressure * np.sqrt(warmth)
    oxygen = 0.01275 * np.exp(-2239.1 / air.temperature_k) / (oxygen_hz + f2 / oxygen_hz)
    nitrogen = 0.1068 * np.exp(-3352.0 / air.temperature_k) / (nitrogen_hz + f2 / nitrogen_hz)
    return np.asarray(8.686 * f2 * (classical + warmth**-2.5 * (oxygen + nitrogen)))


def stated_accuracy_percent(frequency_hz: float, air: Air) -> float:
    """Accuracy (±%) that ISO 9613-1:1993 clause 7 states: 10, 20 or 50."""
    ratio = frequency_hz / (air.pressure_kpa * 1000.0)
    inside = air.pressure_kpa < 200.0 and 4e-4 <= ratio <= 10.0
    if inside and -20.0 <= air.temperature_c <= 50.0 and 0.05 <= air.water_percent <= 5.0:
        return 10.0
    return 20.0 if inside and air.water_percent >= 0.005 else 50.0

"""Air: absorption by ISO 9613-1:1993, of tones and of bands of noise, and the speed of sound.

A band of noise loses less than its mid-band tone, for on the way its lower half comes to outweigh
the upper one.  The standard's own remark (clause 8.2, from memory): the tone stands for an octave
within ±0.5 dB while path times mid-band squared is below 3 km·kHz², for a third below 6 km·kHz²;
at 8 kHz that is 48 m and 95 m.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from .arrays import FloatArray, frozen
from .bands import OCTAVES_HZ, Width, edges_hz, exact_midband_hz

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


_FIRST_M, _STEP, _FARTHEST_M = 0.25, 0.01, 3e5
_PARTS = 24


@dataclass(frozen=True, eq=False)
class AirLoss:
    """What bands lose to the air on the way: per band straight pieces over distance.

    slope_db_per_m, at_zero_db: (bands, pieces).  The first piece ends at 0.25 m, each other one is
    a hundredth longer than what lies before it.  Losses rise, ever more slowly, so that the table
    is the least of its lines, and no line through one of its points lies below it.
    """

    slope_db_per_m: FloatArray
    at_zero_db: FloatArray

    def line(self, distance_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(…, bands, n) slope, dB/m, and loss at zero of the lines that hold on ways (…, n)."""
        most = self.slope_db_per_m.shape[1] - 1
        along = np.log(np.maximum(distance_m, _FIRST_M) / _FIRST_M) / np.log1p(_STEP)
        piece = np.fmin(1.0 + along, most).astype(np.intp)
        piece[distance_m < _FIRST_M] = 0
        slope, at_zero = (
            np.moveaxis(of.take(piece, axis=1), 0, -2)
            for of in (self.slope_db_per_m, self.at_zero_db)
        )
        return slope, at_zero

    def at_db(self, distance_m: FloatArray) -> FloatArray:
        """(…, bands, n) on ways of (…, n)."""
        slope, at_zero = self.line(distance_m)
        return np.asarray(slope * distance_m[..., np.newaxis, :] + at_zero)

    def table(self, farthest_m: float) -> tuple[FloatArray, FloatArray]:
        """(k,) distances in m and (bands, k) the loss there, straight in between, to this far."""
        ends = _ends_m()[: self.slope_db_per_m.shape[1] + 1]
        ends = ends[: int(np.searchsorted(ends, farthest_m)) + 2]
        return ends, self.at_db(ends)

    def sag_db(self, distance_m: FloatArray, reach_m: FloatArray) -> FloatArray:
        """(…, bands, n) how far a line of the table lies above it, at most, within a reach."""
        bend = self._bend_db_per_m2
        play = reach_m * (0.5 * reach_m + 2.0 * _STEP * (distance_m + reach_m))
        return np.asarray(bend * play[..., np.newaxis, :])

    @cached_property
    def _bend_db_per_m2(self) -> FloatArray:
        """(bands, 1) by how much the slope falls from piece to piece per metre, at most."""
        length = np.diff(_ends_m()[: self.slope_db_per_m.shape[1] + 1])
        fall = -np.diff(self.slope_db_per_m, axis=1) / (0.5 * (length[1:] + length[:-1]))
        return np.asarray(fall.max(axis=1, initial=0.0)[:, np.newaxis])

    def mean(self) -> "AirLoss":
        """One band, which loses the mean of what all lose."""
        count = len(self.slope_db_per_m)
        return self.mixed(np.full((1, count), 1.0 / count))

    def mixed(self, share: FloatArray) -> "AirLoss":
        """Bands that lose these shares (k, bands), none negative, of what each loses."""
        return AirLoss(frozen(share @ self.slope_db_per_m), frozen(share @ self.at_zero_db))


@lru_cache(maxsize=1)
def _ends_m() -> FloatArray:
    """The ends of all pieces; the farthest is out of any scenario's reach."""
    count = int(np.log(_FARTHEST_M / _FIRST_M) / np.log1p(_STEP)) + 1
    return frozen(np.append(0.0, _FIRST_M * (1.0 + _STEP) ** np.arange(count)))


@lru_cache(maxsize=64)
def air_loss(bands_hz: tuple[float, ...], air: Air, *, width: Width) -> AirLoss:
    """What nominal bands of pink noise lose to the air, to 0.0001 dB.

    width: of the bands that octaves and thirds have in common; the others are thirds
    """
    ends = _ends_m()
    loss = np.array(
        [
            _loss_at_ends_db(
                band, air, per_octave=1 if band in OCTAVES_HZ and width == "octave" else 3
            )
            for band in bands_hz
        ]
    )
    slope = np.diff(loss, axis=1) / np.diff(ends)
    return AirLoss(frozen(slope), frozen(loss[:, :-1] - slope * ends[:-1]))


@lru_cache(maxsize=256)
def _loss_at_ends_db(band_hz: float, air: Air, *, per_octave: int) -> FloatArray:
    """Of one band, at the ends of all pieces.

    The band's power is that of its parts, equal over ln f, each with its own pure-tone loss.
    """
    ends = _ends_m()
    low, high = np.log(edges_hz(exact_midband_hz(band_hz), per_octave=per_octave))
    place, share = np.polynomial.legendre.leggauss(_PARTS)
    parts = absorption_db_per_m(np.exp(0.5 * (low + high + (high - low) * place)), air)
    least = parts.min()
    with np.errstate(under="ignore"):  # from afar nothing is left of a band's upper end
        left = 10.0 ** (-0.1 * (parts - least) * ends[:, np.newaxis]) @ (0.5 * share)
    return frozen(least * ends - 10.0 * np.log10(left))

"""Frequency bands: exact mid-bands, nominal names, edges, weightings, programme spectra.

Sources: IEC 61260-1:2014 (base-ten mid-bands and edges), ISO 266 (nominal names),
IEC 61672-1:2013 (A-weighting), IEC 60268-16:2011 and 2020 (male speech spectrum).
A band travels under its nominal frequency in Hz; formulas use the exact mid-band.
"""

from typing import Literal

import numpy as np
import numpy.typing as npt

from .arrays import FloatArray

OCTAVE_RATIO = 10.0**0.3
"""G of IEC 61260-1."""

Width = Literal["octave", "third"]

THIRDS_HZ = (
    10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0,
    250.0, 315.0, 400.0, 500.0, 630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3150.0,
    4000.0, 5000.0, 6300.0, 8000.0, 10000.0, 12500.0, 16000.0, 20000.0,
)  # fmt: skip
"""Nominal one-third-octave mid-bands, ISO 266."""

OCTAVES_HZ = THIRDS_HZ[2::3]
"""Nominal octave mid-bands, 16 Hz to 16 kHz, ISO 266."""

DEFAULT_DESIGN_HZ = (1000.0, 2000.0, 4000.0, 8000.0)


def exact_midband_hz(nominal_hz: float) -> float:
    """Exact base-ten mid-band (Hz) of a nominal octave or third: 10^(n/10), IEC 61260-1 (5.4)."""
    return float(10.0 ** (round(10.0 * np.log10(nominal_hz)) / 10.0))


def edges_hz(midband_hz: float, *, per_octave: int) -> tuple[float, float]:
    """Band edges f·G^(∓1/2b), IEC 61260-1 (5.6), for bands of 1/b octave (Hz)."""
    half = OCTAVE_RATIO ** (1.0 / (2 * per_octave))
    return midband_hz / half, midband_hz * half


def width_of(bands_hz: tuple[float, ...]) -> Width:
    """Octave where every band is an octave mid-band, otherwise third."""
    return "octave" if all(band in OCTAVES_HZ for band in bands_hz) else "third"


def band_key(nominal_frequency_hz: float) -> str:
    """The shortest decimal of a nominal frequency: 1000 → "1000", 31.5 → "31.5"."""
    return f"{nominal_frequency_hz:.10g}"


def band_label(nominal_frequency_hz: float) -> str:
    """As screens write it: "125 Hz", "1 kHz", "6.3 kHz"."""
    if nominal_frequency_hz < 1000.0:
        return f"{nominal_frequency_hz:.10g} Hz"
    return f"{nominal_frequency_hz / 1000.0:.10g} kHz"


def short_band_label(nominal_frequency_hz: float) -> str:
    """As an axis in Hz writes it: "125", "1k", "6.3k"."""
    return band_label(nominal_frequency_hz).removesuffix(" Hz").replace(" kHz", "k")


# Pole frequencies of the A-weighting, IEC 61672-1:2013 annex E, and its gain at 1 kHz.
_POLES_HZ = (20.598997, 107.65265, 737.86223, 12194.217)


def a_weighting_db(frequency_hz: npt.ArrayLike) -> FloatArray:
    """A-weighting (dB re 1 kHz) at any frequency, IEC 61672-1:2013 (E.6)."""

    def gain(f: FloatArray) -> FloatArray:  # but for a factor, which cancels below
        f1, f2, f3, f4 = _POLES_HZ
        squared = f * f
        return np.asarray(
            squared**2
            / (
                (squared + f1**2)
                * np.sqrt((squared + f2**2) * (squared + f3**2))
                * (squared + f4**2)
            )
        )

    frequency = np.asarray(frequency_hz, dtype=np.float64)
    return np.asarray(20.0 * np.log10(gain(frequency) / gain(np.asarray(1000.0))))


SPEECH_2011_DB = dict(
    zip(OCTAVES_HZ[3:10], (2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8), strict=True)
)
"""Male speech, octaves 125 Hz–8 kHz, dB re the A-weighted level, IEC 60268-16:2011 Table A.4."""

SPEECH_2020_DB = dict(
    zip(OCTAVES_HZ[3:10], (-2.5, 0.5, 0.0, -6.0, -12.0, -18.0, -24.0), strict=True)
)
"""Male speech, octaves 125 Hz–8 kHz, dB re the A-weighted level, IEC 60268-16:2020."""

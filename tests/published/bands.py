"""IEC 61260-1:2014, IEC 61672-1:2013 and IEC 60268-16: bands, weighting, programme spectra."""

from collections.abc import Iterator, Sequence

import numpy as np

from aiming.base.bands import (
    OCTAVES_HZ,
    SPEECH_2011_DB,
    SPEECH_2020_DB,
    THIRDS_HZ,
    a_weighting_db,
    edges_hz,
    exact_midband_hz,
)

from .check import Check

EXACT_OCTAVES_HZ = {
    63.0: 63.096, 125.0: 125.893, 250.0: 251.189, 500.0: 501.187, 1000.0: 1000.0,
    2000.0: 1995.262, 4000.0: 3981.072, 8000.0: 7943.282, 16000.0: 15848.93,
}  # fmt: skip
EDGES_HZ = {1: (707.9457843841, 1412.5375446228), 3: (891.2509381337, 1122.0184543020)}
# Thirds from 10 Hz to 20 kHz.
A_WEIGHTING_DB = (
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
    -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1,
    -1.1, -2.5, -4.3, -6.6, -9.3,
)  # fmt: skip
PINK_DB = {
    "octaves 63 Hz to 8 kHz": (OCTAVES_HZ[2:10], -2.057),
    "31 thirds from 20 Hz to 20 kHz": (THIRDS_HZ[3:34], -2.987),
}
# Sums of the octaves re the A-weighted level, plain and A-weighted.
SPEECH = {
    "IEC 60268-16:2011, Table A.4": (SPEECH_2011_DB, 6.998, 0.032),
    "IEC 60268-16:2020": (SPEECH_2020_DB, 4.798, 0.0),
}  # fmt: skip


def total_db(levels_db: Sequence[float] | np.ndarray) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (np.asarray(levels_db) / 10.0))))


def weighted_db(bands_hz: Sequence[float], levels_db: Sequence[float] | np.ndarray) -> float:
    """A-weighted sum."""
    weights = a_weighting_db([exact_midband_hz(f) for f in bands_hz])
    return total_db(np.asarray(levels_db) + weights)


def checks() -> Iterator[Check]:
    topic, rule = "Bands and weighting", "IEC 61260-1:2014"
    for nominal, exact in EXACT_OCTAVES_HZ.items():
        yield Check(
            topic, f"exact mid-band of {nominal:g} Hz", rule, "V", exact,
            0.006 if exact > 1e4 else 0.0006, "Hz", lambda f=nominal: exact_midband_hz(f),
        )  # fmt: skip
    for per_octave, ends in EDGES_HZ.items():
        for place, name in enumerate(("lower", "upper")):
            yield Check(
                topic, f"{name} edge of 1 kHz, {'octave' if per_octave == 1 else 'third'}", rule,
                "V", ends[place], 1e-9, "Hz",
                lambda n=per_octave, k=place: edges_hz(1000.0, per_octave=n)[k],
            )  # fmt: skip
    for hz, printed in zip(THIRDS_HZ, A_WEIGHTING_DB, strict=True):
        yield Check(
            topic, f"A-weighting at {hz:g} Hz", "IEC 61672-1:2013, Table 3", "V", printed, 0.0501,
            "dB", lambda f=hz: float(a_weighting_db(exact_midband_hz(f))),
        )  # fmt: skip
    for name, (bands_hz, printed) in PINK_DB.items():
        yield Check(
            topic, f"pink noise, A-weighted re plain, {name}", "sum over IEC 61672-1, annex E",
            "C", printed, 0.005, "dB",
            lambda b=bands_hz: weighted_db(b, np.zeros(len(b))) - total_db(np.zeros(len(b))),
        )  # fmt: skip
    for source, (spectrum, plain, weighted) in SPEECH.items():
        yield Check(
            topic, "male speech, plain sum re A-weighted", f"sum over {source}", "C", plain, 0.005,
            "dB", lambda s=spectrum: total_db(list(s.values())),
        )  # fmt: skip
        yield Check(
            topic, "male speech, A-weighted sum", f"sum over {source}", "C", weighted, 0.005,
            "dB", lambda s=spectrum: weighted_db(list(s), list(s.values())),
        )  # fmt: skip

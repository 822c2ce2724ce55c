"""Absolute levels: what arrives, what could arrive, and against which programme.

Levels here are per band at rows, (b, n) in dB.  A programme is a spectrum of band levels whose
energy adds to 0 dB, so that adding a broadband level to it gives that level in bands.
"""

from typing import Literal

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import (
    SPEECH_2011_DB,
    SPEECH_2020_DB,
    a_weighting_db,
    band_label,
    exact_midband_hz,
)

Programme = Literal["pink", "speech 2011", "speech 2020"]
Weighting = Literal["A", "Z"]
_SPEECH = {"speech 2011": SPEECH_2011_DB, "speech 2020": SPEECH_2020_DB}
PROGRAMME_SOURCES: dict[Programme, str] = {
    "pink": "pink noise: equal energy in every band",
    "speech 2011": "male speech, IEC 60268-16:2011, Table A.4",
    "speech 2020": "male speech, IEC 60268-16:2020",
}


def programme_db(programme: Programme, bands_hz: tuple[float, ...]) -> FloatArray:
    """(b,) band levels of a programme over these bands (nominal, Hz); their energy adds to 0 dB.

    Speech is tabled in the octaves 125 Hz to 8 kHz.  Raises ValueError for a band without a figure.
    """
    if programme == "pink":
        return np.full(len(bands_hz), -10.0 * np.log10(len(bands_hz)))
    table = _SPEECH[programme]
    missing = [band_label(band) for band in bands_hz if band not in table]
    if missing:
        raise ValueError(f"{programme} has no figure for {', '.join(missing)}; 125 Hz to 8 kHz")
    level = np.array([table[band] for band in bands_hz])
    return np.asarray(level - 10.0 * np.log10(np.sum(10.0 ** (level / 10.0))))


def sum_db(
    level_db: FloatArray, bands_hz: tuple[float, ...], *, weighting: Weighting = "A"
) -> FloatArray:
    """(…) energy sum over the bands of levels (b, …) in dB, A-weighted (IEC 61672-1) or not (Z).

    The weighting is taken at each exact mid-band.  A sum over a part of the spectrum is the level
    of that part only.
    """
    weight = np.zeros(len(bands_hz))
    if weighting == "A":
        weight = a_weighting_db([exact_midband_hz(band) for band in bands_hz])
    weighted = level_db + weight.reshape(len(weight), *([1] * (level_db.ndim - 1)))
    return np.asarray(10.0 * np.log10(np.sum(10.0 ** (weighted / 10.0), axis=0)))


def at_limit_db(
    bands_hz: tuple[float, ...],
    *,
    max_level_db: float | dict[float, float],
    programme: Programme = "pink",
    eq_db: FloatArray | None = None,
) -> tuple[FloatArray, float | None]:
    """(b,) band levels at 1 m on axis when a programme drives the loudspeaker to its limit.

    max_level_db: at 1 m on axis.  One number limits the unweighted sum of the bands there; by band,
        each limits its own band, the first to be reached limits them all, and a band without a
        figure limits nothing
    eq_db: (b,) shapes what is played, so it spends of the limit where it lifts

    The band that reaches its limit first comes too; None where the limit is one number.
    """
    spectrum = programme_db(programme, bands_hz)
    if eq_db is not None:
        spectrum = spectrum + eq_db
    if not isinstance(max_level_db, dict):
        drive = float(max_level_db) - float(sum_db(spectrum, bands_hz, weighting="Z"))
        return spectrum + drive, None
    given = [band for band in bands_hz if band in max_level_db]
    if not given:
        raise ValueError("no greatest level is given in any of the bands")
    room = [
        max_level_db[band] - level
        for band, level in zip(bands_hz, spectrum, strict=True)
        if band in max_level_db
    ]
    return spectrum + min(room), given[int(np.argmin(room))]

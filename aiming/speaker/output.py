"""Absolute levels: what arrives, what could arrive, and against which programme.

Levels here are per band at rows, (b, n) in dB.  A programme is a spectrum of band levels whose
energy adds to 0 dB, so that adding a broadband level to it gives that level in bands.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from ..arrays import FloatArray
from ..bands import (
    SPEECH_2011_DB,
    SPEECH_2020_DB,
    a_weighting_db,
    band_label,
    exact_midband_hz,
)

Programme = Literal["pink", "speech 2011", "speech 2020"]
PROGRAMMES: tuple[Programme, ...] = get_args(Programme)
Weighting = Literal["A", "Z"]
_SPEECH = {"speech 2011": SPEECH_2011_DB, "speech 2020": SPEECH_2020_DB}
PROGRAMME_SOURCES: dict[Programme, str] = {
    "pink": "pink noise: equal energy in every band",
    "speech 2011": "male speech, IEC 60268-16:2011, Table A.4",
    "speech 2020": "male speech, IEC 60268-16:2020",
}


def programme_bands_hz(programme: Programme, bands_hz: tuple[float, ...]) -> tuple[float, ...]:
    """Those of the bands that the programme has a figure for."""
    if programme == "pink":
        return bands_hz
    return tuple(band for band in bands_hz if band in _SPEECH[programme])


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
    weighted = level_db + weight.reshape(-1, *([1] * (level_db.ndim - 1)))
    return np.asarray(10.0 * np.log10(np.sum(10.0 ** (weighted / 10.0), axis=0)))


def by_band(value_db: float | dict[float, float], bands_hz: tuple[float, ...]) -> FloatArray:
    """(b,) a figure that is one number for all bands, or one per band.

    Raises ValueError for a band without a figure: none is invented.
    """
    if not isinstance(value_db, dict):
        return np.full(len(bands_hz), float(value_db))
    missing = [band_label(band) for band in bands_hz if band not in value_db]
    if missing:
        raise ValueError(f"no figure for {', '.join(missing)}")
    return np.array([value_db[band] for band in bands_hz], dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Headroom:
    """What the loudspeaker can do where it is softest, for one programme.

    row: index of the softest row; level_db: (b,) its highest band levels with this programme
    broadband_db: their sum, weighted as the target is
    headroom_db: broadband level minus target; below 0 the target is out of reach
    limited_by_hz: the band that reaches its limit first; None where the limit is one number
    """

    row: int
    bands_hz: tuple[float, ...]
    level_db: FloatArray
    broadband_db: float
    target_db: float
    headroom_db: float
    limited_by_hz: float | None
    programme: Programme
    weighting: Weighting


def headroom(
    path_db: FloatArray,
    *,
    bands_hz: tuple[float, ...],
    max_level_db: float | dict[float, float],
    target_db: float,
    eq_db: FloatArray | None = None,
    programme: Programme = "pink",
    weighting: Weighting = "A",
) -> Headroom:
    """Level and headroom at the softest row when the loudspeaker is driven to its limit.

    path_db: (b, n) level at each row relative to 1 m on axis: pattern, spreading, air, shadow
    max_level_db: at 1 m on axis.  One number limits the unweighted broadband level there; by band,
        each limits its own band and the first to be reached limits them all
    target_db: broadband level wanted at every row, A-weighted or not as `weighting` says
    eq_db: (b,) shapes what the loudspeaker plays, so it spends of the limit where it lifts

    Raises ValueError where a level is unknown (NaN): the softest row is then not known either.
    """
    if np.isnan(path_db).any():
        raise ValueError("a level is unknown, so the softest row is not known")
    spectrum = programme_db(programme, bands_hz)
    if eq_db is not None:
        spectrum = spectrum + eq_db
    limited_by: float | None = None
    if isinstance(max_level_db, dict):
        room = by_band(max_level_db, bands_hz) - spectrum
        limited_by = bands_hz[int(np.argmin(room))]
        drive = float(room.min())
    else:
        drive = float(max_level_db) - float(sum_db(spectrum, bands_hz, weighting="Z"))
    level_db = path_db + (spectrum + drive)[:, np.newaxis]
    broadband = sum_db(level_db, bands_hz, weighting=weighting)
    row = int(np.argmin(broadband))
    return Headroom(
        row=row,
        bands_hz=bands_hz,
        level_db=level_db[:, row],
        broadband_db=float(broadband[row]),
        target_db=target_db,
        headroom_db=float(broadband[row]) - target_db,
        limited_by_hz=limited_by,
        programme=programme,
        weighting=weighting,
    )

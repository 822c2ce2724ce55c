"""IEC 61672-1:2013, Sound level meters: Table 3 and Annex E, A-weighting.  Status V.

With the programme spectra that travel with it: male speech of IEC 60268-16:2011 Table A.4 and of
the 2020 edition (status V), and pink noise (status C, closed sum over bands).
"""

import numpy as np
import pytest

from aiming.bands import (
    OCTAVES_HZ,
    SPEECH_2011_DB,
    SPEECH_2020_DB,
    THIRDS_HZ,
    a_weighting_db,
    exact_midband_hz,
)

TABLE_3_DB = (
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
    -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1,
    -1.1, -2.5, -4.3, -6.6, -9.3,
)  # fmt: skip


def total_db(levels_db: np.ndarray) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (levels_db / 10.0))))


def test_table_3() -> None:
    """Thirds 10 Hz to 20 kHz.  Tolerance 0.05 dB: half the last printed digit."""
    found = a_weighting_db([exact_midband_hz(f) for f in THIRDS_HZ])
    np.testing.assert_allclose(found, TABLE_3_DB, rtol=0.0, atol=0.0501)


def test_nothing_at_1_khz() -> None:
    assert float(a_weighting_db(1000.0)) == 0.0


@pytest.mark.parametrize(
    ("bands_hz", "expected_db"), [(OCTAVES_HZ[2:10], -2.057), (THIRDS_HZ[3:34], -2.987)]
)
def test_pink_noise(bands_hz: tuple[float, ...], expected_db: float) -> None:
    """A-weighted re unweighted pink noise, octaves 63 Hz–8 kHz and 31 thirds.  C, 0.005 dB."""
    weights = a_weighting_db([exact_midband_hz(f) for f in bands_hz])
    assert total_db(weights) - total_db(np.zeros(len(bands_hz))) == pytest.approx(
        expected_db, abs=0.005
    )


@pytest.mark.parametrize(
    ("spectrum", "levels", "unweighted_db", "weighted_db"),
    [
        (SPEECH_2011_DB, (2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8), 6.998, 0.032),
        (SPEECH_2020_DB, (-2.5, 0.5, 0.0, -6.0, -12.0, -18.0, -24.0), 4.798, 0.0),
    ],
)
def test_male_speech(
    spectrum: dict[float, float],
    levels: tuple[float, ...],
    unweighted_db: float,
    weighted_db: float,
) -> None:
    """IEC 60268-16 male speech, octaves 125 Hz–8 kHz re the A-level: V; sums C, 0.005 dB."""
    assert tuple(spectrum) == OCTAVES_HZ[3:10]
    assert tuple(spectrum.values()) == levels
    found = np.array(levels)
    assert total_db(found) == pytest.approx(unweighted_db, abs=0.005)
    weights = a_weighting_db([exact_midband_hz(f) for f in spectrum])
    assert total_db(found + weights) == pytest.approx(weighted_db, abs=0.005)

"""Absolute levels: programmes, A-weighting, headroom.

A-weighting and pink noise: IEC 61672-1:2013, from its poles at exact mid-bands.  Male speech:
IEC 60268-16:2011 Table A.4 and the 2020 edition.
"""

import numpy as np
import pytest

from aiming.base.bands import OCTAVES_HZ, SPEECH_2011_DB, SPEECH_2020_DB, THIRDS_HZ, a_weighting_db
from aiming.base.bands import exact_midband_hz as exact
from aiming.speaker.output import (
    at_limit_db,
    programme_db,
    sum_db,
)

SPEECH_HZ = OCTAVES_HZ[3:10]
DESIGN_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
# IEC 61672-1:2013 Table 3, thirds 10 Hz to 20 kHz.
A_DB = (
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4,
    -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1,
    -2.5, -4.3, -6.6, -9.3,
)  # fmt: skip


def test_a_weighting_table() -> None:
    found = a_weighting_db([exact(f) for f in THIRDS_HZ])
    np.testing.assert_allclose(found, A_DB, atol=0.0501)


@pytest.mark.parametrize(
    ("bands", "a_sum_db"), [(OCTAVES_HZ[2:10], -2.057), (THIRDS_HZ[3:34], -2.987)]
)
def test_pink_noise_a_weighted(bands: tuple[float, ...], a_sum_db: float) -> None:
    level = programme_db("pink", bands)
    assert float(sum_db(level, bands, weighting="Z")) == pytest.approx(0.0, abs=1e-12)
    assert float(sum_db(level, bands)) == pytest.approx(a_sum_db, abs=0.005)


@pytest.mark.parametrize(
    ("table", "z_sum_db", "a_sum_db"),
    [(SPEECH_2011_DB, 6.998, 0.032), (SPEECH_2020_DB, 4.798, 0.0)],
)
def test_speech_sums(table: dict[float, float], z_sum_db: float, a_sum_db: float) -> None:
    level = np.array([table[band] for band in SPEECH_HZ])
    assert float(sum_db(level, SPEECH_HZ, weighting="Z")) == pytest.approx(z_sum_db, abs=0.005)
    assert float(sum_db(level, SPEECH_HZ)) == pytest.approx(a_sum_db, abs=0.005)


def test_a_programme_keeps_the_shape_of_its_table() -> None:
    found = programme_db("speech 2020", SPEECH_HZ)
    table = np.array([SPEECH_2020_DB[band] for band in SPEECH_HZ])
    np.testing.assert_allclose(found - found[3], table - table[3], atol=1e-12)
    assert 10 * np.log10(np.sum(10 ** (found / 10))) == pytest.approx(0.0, abs=1e-12)


def test_speech_has_no_16_khz() -> None:
    with pytest.raises(ValueError, match="speech 2011 has no figure for 16 kHz"):
        programme_db("speech 2011", (8000.0, 16000.0))


def test_sums_of_equal_and_unequal_levels() -> None:
    # Davis & Patronis, Sound System Engineering, §2.15: 90 + 90 = 93.01, 90 + 96 = 96.97.
    levels = np.array([[90.0, 90.0], [90.0, 96.0]])
    found = sum_db(levels, (1000.0, 2000.0), weighting="Z")
    np.testing.assert_allclose(found, [93.01, 96.97], atol=0.005)


def test_one_limit_holds_the_whole_signal() -> None:
    played, limited_by = at_limit_db(DESIGN_HZ, max_level_db=128.0)
    assert limited_by is None
    np.testing.assert_allclose(played, 128.0 - 10 * np.log10(4))
    assert float(sum_db(played, DESIGN_HZ, weighting="Z")) == pytest.approx(128.0, abs=1e-12)


def test_limits_by_band_are_set_by_the_first_band_to_reach_its_own() -> None:
    limits = {1000.0: 126.0, 2000.0: 120.0, 4000.0: 124.0, 8000.0: 118.0}
    played, limited_by = at_limit_db(DESIGN_HZ, max_level_db=limits)
    assert limited_by == 8000.0
    np.testing.assert_allclose(played, 118.0)
    # Speech asks less of the highest band: now another one is first.
    played, limited_by = at_limit_db(DESIGN_HZ, max_level_db=limits, programme="speech 2020")
    assert limited_by == 1000.0
    np.testing.assert_allclose(played, 126.0 - np.array([0.0, 6.0, 12.0, 18.0]))
    # A band without a limit plays along, and limits nothing.
    played, limited_by = at_limit_db(DESIGN_HZ, max_level_db={2000.0: 120.0})
    assert limited_by == 2000.0
    np.testing.assert_allclose(played, 120.0)
    with pytest.raises(ValueError, match="no greatest level"):
        at_limit_db(DESIGN_HZ, max_level_db={125.0: 120.0})


def test_an_equaliser_spends_what_it_lifts() -> None:
    lift = np.array([0.0, 0.0, 0.0, 6.0])
    played, _ = at_limit_db(DESIGN_HZ, max_level_db=120.0, eq_db=lift)
    assert float(sum_db(played, DESIGN_HZ, weighting="Z")) == pytest.approx(120.0, abs=1e-12)
    np.testing.assert_allclose(played - played[0], lift)
    played, _ = at_limit_db(DESIGN_HZ, max_level_db=dict.fromkeys(DESIGN_HZ, 114.0), eq_db=lift)
    np.testing.assert_allclose(played, [108.0, 108.0, 108.0, 114.0])

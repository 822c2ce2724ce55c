"""Measured frequencies into bands, by energy (IEC 61260-1:2014 exact mid-bands and edges)."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.bands import OCTAVES_HZ, THIRDS_HZ, Width, edges_hz, exact_midband_hz
from aiming.files.banding import band_levels_db, plan_bands


def test_thirds_into_an_octave_take_a_third_each() -> None:
    plan = plan_bands(np.array(THIRDS_HZ), bands_hz=(1000.0, 4000.0), width=None)
    kilo = [THIRDS_HZ.index(f) for f in (800.0, 1000.0, 1250.0)]
    np.testing.assert_allclose(plan.share[kilo, 0], 1 / 3, atol=1e-9)
    assert np.count_nonzero(plan.share[:, 0]) == 3
    level = np.full((1, len(THIRDS_HZ)), -100.0)
    level[0, kilo] = [0.0, -3.0, -10.0]
    energy = 10 * np.log10((1.0 + 10**-0.3 + 0.1) / 3)
    assert band_levels_db(level, plan)[0, 0] == pytest.approx(energy, abs=1e-6)
    assert plan.notes == ()


def test_octaves_into_octaves_and_thirds_into_thirds_are_unchanged() -> None:
    for bands in (OCTAVES_HZ[2:], THIRDS_HZ[8:]):
        for columns in (bands, tuple(exact_midband_hz(f) for f in bands)):
            plan = plan_bands(np.array(columns), bands_hz=None, width=None)
            assert plan.band_hz == bands
            np.testing.assert_allclose(plan.share, np.eye(len(bands)), atol=1e-9)
            assert (plan.notes, plan.missing) == ((), ())


def test_bands_come_in_the_order_asked() -> None:
    plan = plan_bands(np.array(OCTAVES_HZ), bands_hz=(4000.0, 1000.0), width=None)
    level = np.array(OCTAVES_HZ)[np.newaxis] / -1000.0
    np.testing.assert_allclose(band_levels_db(level, plan)[:, 0], [-4.0, -1.0])


def test_further_bands_are_taken_where_they_are() -> None:
    plan = plan_bands(np.array(OCTAVES_HZ[4:]), bands_hz=(1000.0, 2000.0),
                      also_hz=(63.0, 250.0, 1000.0), width="octave")  # fmt: skip
    assert (plan.band_hz, plan.missing) == ((1000.0, 2000.0, 250.0), ())


def test_coarser_data_say_so_and_take_the_nearest() -> None:
    plan = plan_bands(np.array([500.0, 1000.0, 2000.0]), bands_hz=(800.0, 1000.0, 1250.0),
                      width="third")  # fmt: skip
    level = np.array([[-5.0, -10.0, -20.0]])
    np.testing.assert_allclose(band_levels_db(level, plan)[:, 0], -10.0, atol=1e-9)
    assert "coarser than the third bands 800 Hz, 1 kHz, 1.25 kHz" in plan.notes[0]
    assert plan.column == (1, 1, 1)


def test_a_flat_spectrum_is_flat_in_every_band() -> None:
    lines = np.arange(10.0, 24000.0, 10.0)
    plan = plan_bands(lines, bands_hz=None, width="third")
    level = band_levels_db(np.full((2, len(lines)), -7.0), plan)
    np.testing.assert_allclose(level, -7.0, atol=1e-12)
    assert {100.0, 1000.0, 16000.0} <= set(plan.band_hz)


def test_lines_are_weighted_as_pink_noise() -> None:
    # ∫ f dln f over the octave is (f2 − f1), over its width ln(f2/f1).
    lines = np.arange(5.0, 20000.0, 5.0)
    plan = plan_bands(lines, bands_hz=(1000.0,), width="octave")
    low, high = edges_hz(1000.0, per_octave=1)
    mean = (high - low) / np.log(high / low)
    found = band_levels_db(10 * np.log10(lines)[np.newaxis], plan)[0, 0]
    assert found == pytest.approx(10 * np.log10(mean), abs=0.001)


def test_a_gap_in_frequency_is_not_bridged() -> None:
    plan = plan_bands(np.array([100.0, 125.0, 1000.0, 1250.0]), bands_hz=(315.0, 1000.0),
                      width="third")  # fmt: skip
    assert plan.missing == (315.0,)
    assert plan.band_hz == (1000.0,)


def test_a_part_of_a_band_is_said() -> None:
    plan = plan_bands(np.array([4000.0, 5000.0, 6300.0, 8000.0]), bands_hz=(8000.0,), width=None)
    assert plan.notes == ("measured over a part of the band only: 8 kHz (67 %)",)
    np.testing.assert_allclose(plan.share[2:, 0], 0.5, atol=1e-9)


def test_a_hole_makes_its_band_unknown_and_no_other() -> None:
    plan = plan_bands(np.array(THIRDS_HZ), bands_hz=(1000.0, 4000.0), width=None)
    level = np.zeros((2, len(THIRDS_HZ)))
    level[1, THIRDS_HZ.index(1250.0)] = np.nan
    found = band_levels_db(level, plan)
    assert np.isnan(found).tolist() == [[False, True], [False, False]]


@settings(deadline=None, derandomize=True, max_examples=80)
@given(
    columns=st.lists(st.floats(20.0, 20000.0), min_size=1, max_size=60, unique=True),
    width=st.sampled_from(["octave", "third"]),
    seed=st.integers(0, 2**31),
)
def test_a_band_lies_between_its_columns(columns: list[float], width: Width, seed: int) -> None:
    frequency = np.unique(np.round(columns, 2))
    plan = plan_bands(frequency, bands_hz=None, width=width)
    np.testing.assert_allclose(plan.share.sum(axis=0), 1.0, atol=1e-12)
    assert plan.share.min(initial=0.0) >= 0.0
    level = np.random.default_rng(seed).uniform(-60.0, 10.0, (3, len(frequency)))
    if plan.band_hz:
        found = band_levels_db(level, plan)
        assert found.max() <= level.max() + 1e-9
        assert found.min() >= level.min() - 1e-9

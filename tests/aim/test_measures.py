"""Spread, worst-band spread, deviation, rows within 3 dB: by hand, and their symmetries."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.aim import measures

LEVELS = np.array([[90.0, 88.0, 83.0], [80.0, 84.0, 81.0]])  # two bands, three rows
WEIGHT = np.array([1.0, 2.0, 1.0])


def test_by_hand() -> None:
    """Design levels 85, 86, 82; spreads 7 and 4 dB; weighted means 87.25 and 82.25."""
    np.testing.assert_allclose(measures.design_level_db(LEVELS), [85.0, 86.0, 82.0])
    assert float(measures.spread_db(LEVELS)) == 4.0
    np.testing.assert_allclose(measures.band_spreads_db(LEVELS), [7.0, 4.0])
    assert float(measures.worst_band_spread_db(LEVELS)) == 7.0
    first = (2.75**2 + 2 * 0.75**2 + 4.25**2) / 4
    second = (2.25**2 + 2 * 1.75**2 + 1.25**2) / 4
    expected = math.sqrt((first + second) / 2)
    assert float(measures.deviation_db(LEVELS, WEIGHT)) == pytest.approx(expected, rel=1e-12)


def test_rows_within() -> None:
    """Weighted mean design level 84.75: 85, 86 and 82 lie within 3 dB; only two within 1.25 dB."""
    assert float(measures.rows_within_percent(LEVELS, WEIGHT)) == 100.0
    assert float(measures.rows_within_percent(LEVELS, WEIGHT, within_db=1.25)) == pytest.approx(
        200.0 / 3.0
    )


def test_unknown_stays_unknown() -> None:
    holed = LEVELS.copy()
    holed[1, 2] = np.nan
    for figure in (
        measures.spread_db(holed),
        measures.worst_band_spread_db(holed),
        measures.deviation_db(holed, WEIGHT),
        measures.rows_within_percent(holed, WEIGHT),
    ):
        assert math.isnan(float(figure))


def test_many_at_once() -> None:
    stack = np.stack([LEVELS, LEVELS[::-1], LEVELS + 3.0])
    np.testing.assert_allclose(measures.spread_db(stack), 4.0)
    np.testing.assert_allclose(measures.worst_band_spread_db(stack), 7.0)
    assert measures.deviation_db(stack, WEIGHT).shape == (3,)
    assert measures.rows_within_percent(stack, WEIGHT).shape == (3,)


@settings(derandomize=True, deadline=None)
@given(seed=st.integers(0, 10_000), gains=st.tuples(*[st.floats(-20.0, 20.0)] * 3))
def test_output_moves_no_figure(seed: int, gains: tuple[float, float, float]) -> None:
    """A constant per band shifts levels and changes no spread, no deviation, no share."""
    rng = np.random.default_rng(seed)
    levels, weight = rng.normal(80.0, 4.0, (3, 7)), rng.uniform(0.1, 3.0, 7)
    moved = levels + np.array(gains)[:, np.newaxis]
    for figure in (measures.spread_db, measures.worst_band_spread_db):
        assert float(figure(moved)) == pytest.approx(float(figure(levels)), abs=1e-9)
    assert float(measures.deviation_db(moved, weight)) == pytest.approx(
        float(measures.deviation_db(levels, weight)), abs=1e-9
    )
    # Twice the weights, the same figure; deviation never exceeds half the worst spread.
    assert float(measures.deviation_db(levels, 2.0 * weight)) == pytest.approx(
        float(measures.deviation_db(levels, weight)), rel=1e-12
    )
    assert measures.deviation_db(levels, weight) <= 0.5 * measures.worst_band_spread_db(levels)
    assert measures.spread_db(levels) <= measures.worst_band_spread_db(levels) + 1e-9

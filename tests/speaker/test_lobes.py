"""Nominal lobes: the table reads as the formula does, to 0.001 dB, and the formulas are right."""

import math

import numpy as np
import pytest
from scipy.special import j1

from aiming.base.arrays import FloatArray
from aiming.speaker.lobes import Lobe, flat_db, nominal_pattern, piston_db, quadratic_db
from aiming.speaker.pattern import EDGE_DB, edge_deg

LOBES: tuple[Lobe, ...] = ("quadratic", "piston", "flat")
DENSE = np.linspace(-180.0, 180.0, 144_001)[1:]
"""(−180, 180]: straight behind is read from above, where an asymmetric lobe has two values."""


def formula_db(lobe: Lobe, angle: FloatArray, above: float, below: float) -> FloatArray:
    """The lobes typed anew, without the floor; scipy's Bessel function for the piston."""
    half = np.where(angle >= 0.0, above, below)
    edge = 20.0 * math.log10(2.0)
    if lobe == "quadratic":
        return -edge * (angle / half) ** 2
    if lobe == "flat":
        return -edge * (angle / half) ** 4
    held = np.minimum(np.abs(angle), 90.0)
    x = 2.215089 * np.sin(np.radians(held)) / np.sin(np.radians(np.minimum(half, 90.0)))
    with np.errstate(divide="ignore", invalid="ignore"):
        level = 20.0 * np.log10(np.abs(2.0 * j1(x) / x))
    return np.where(x < 1e-9, 0.0, level)


@pytest.mark.parametrize("lobe", LOBES)
@pytest.mark.parametrize(("above", "below"), [(30.0, 30.0), (20.0, 40.0), (5.0, 2.5), (80.0, 45.0)])
def test_reading_error(lobe: Lobe, above: float, below: float) -> None:
    """At 144,000 angles and the formula's own kink at the floor: at most 0.001 dB."""
    pattern = nominal_pattern(above_deg=above, below_deg=below, bands_hz=(1000.0,), lobe=lobe)
    expected = np.maximum(formula_db(lobe, DENSE, above, below), -24.0)
    error = np.abs(pattern.read_db(DENSE)[0] - expected)
    assert error.max() <= 0.001
    assert pattern.symmetric == (above == below)


@pytest.mark.parametrize("lobe", LOBES)
def test_reading_error_of_widened_bands(lobe: Lobe) -> None:
    """Below 4 kHz the half-angles grow as 4000/f, f exact; all bands share one table of angles."""
    bands = (500.0, 1000.0, 2000.0, 4000.0, 8000.0)
    pattern = nominal_pattern(
        above_deg=8.0, below_deg=11.0, bands_hz=bands, lobe=lobe, control_from_hz=4000.0
    )
    read = pattern.read_db(DENSE)
    for band, exact_hz in enumerate((501.187, 1000.0, 1995.262, 3981.072, 7943.282)):
        wider = max(1.0, 4000.0 / exact_hz)
        expected = np.maximum(formula_db(lobe, DENSE, 8.0 * wider, 11.0 * wider), -24.0)
        assert np.abs(read[band] - expected).max() <= 0.001
    assert np.abs(read[3] - read[4]).max() > 0.01  # 4 kHz is exactly 3981 Hz


@pytest.mark.parametrize("lobe", LOBES)
def test_edge_and_axis(lobe: Lobe) -> None:
    """0 dB on the axis; 6.02 dB down at the coverage edge: 0.004° where 0.001 dB may err."""
    pattern = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=(1000.0,), lobe=lobe)
    assert float(pattern.read_db(0.0)[0]) == 0.0
    assert edge_deg(pattern.angle_deg, pattern.level_db[0], above=True) == pytest.approx(
        20.0, abs=0.004
    )
    assert edge_deg(pattern.angle_deg, pattern.level_db[0], above=False) == pytest.approx(
        -40.0, abs=0.008
    )


@pytest.mark.parametrize("lobe", LOBES)
def test_alike_to_the_bit_above_and_below(lobe: Lobe) -> None:
    """Turning over a box with one half-angle changes nothing; with two, it swaps them."""
    bands = (500.0, 1000.0, 4000.0)
    for half in np.arange(5.0, 90.0, 1.5):
        one = nominal_pattern(
            above_deg=float(half), below_deg=float(half), bands_hz=bands, lobe=lobe,
            control_from_hz=800.0,
        )  # fmt: skip
        assert one.symmetric
    steep, wide = (
        nominal_pattern(above_deg=above, below_deg=below, bands_hz=bands, lobe=lobe)
        for above, below in ((17.0, 41.0), (41.0, 17.0))
    )
    np.testing.assert_array_equal(steep.flipped().level_db, wide.level_db)


@pytest.mark.parametrize("lowest_db", [-12.0, -24.0, -60.0])
def test_floor(lowest_db: float) -> None:
    """No direction falls below lowest_db; behind the box a quadratic lobe lies on it."""
    pattern = nominal_pattern(
        above_deg=15.0, below_deg=15.0, bands_hz=(1000.0,), lowest_db=lowest_db
    )
    assert pattern.level_db.min() == lowest_db
    assert float(pattern.read_db(180.0)[0]) == lowest_db


def test_piston_held_beyond_a_right_angle() -> None:
    """Behind the baffle plane the level stays that of ±90°; a half-angle of 90° falls 6.02 dB."""
    pattern = nominal_pattern(above_deg=90.0, below_deg=90.0, bands_hz=(1000.0,), lobe="piston")
    np.testing.assert_allclose(pattern.read_db([90.0, 120.0, 180.0, -95.0])[0], -EDGE_DB, atol=1e-5)


def test_whole_circle_is_known() -> None:
    pattern = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=(1000.0, 8000.0))
    assert (pattern.angle_deg[0], pattern.angle_deg[-1]) == (-180.0, 180.0)
    assert np.isfinite(pattern.level_db).all()
    assert "60°" in pattern.reference


def test_formulas_on_single_angles() -> None:
    """Half-way to the edge: a quarter of 6.02 dB, a sixteenth of it."""
    angle = np.array([15.0, -15.0, 30.0, 0.0])
    np.testing.assert_allclose(
        quadratic_db(angle, 30.0), [-EDGE_DB / 4, -EDGE_DB / 4, -EDGE_DB, 0.0]
    )
    np.testing.assert_allclose(flat_db(angle, 30.0), [-EDGE_DB / 16, -EDGE_DB / 16, -EDGE_DB, 0.0])
    np.testing.assert_allclose(piston_db(angle, 30.0)[2:], [-EDGE_DB, 0.0], atol=1e-5)

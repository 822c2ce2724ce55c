"""Straight-line enclosures of tables: dense sampling inside random intervals finds no way out."""

import numpy as np
import pytest
from random_scenes import rough_pattern

from aiming.aim.windows import Windows, windows_of
from aiming.base.arrays import FloatArray
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import Pattern, read_table_db

INSIDE = np.linspace(-1.0, 1.0, 161)
ROUNDING_DB = 1e-8
"""Steps of 3 dB over 0.001° turn rounding of an angle (1e-13°) into 1e-9 dB."""


def check(
    angle_deg: FloatArray, level_db: FloatArray, centre_deg: FloatArray, half_deg: FloatArray
) -> None:
    windows = Windows(angle_deg, level_db)
    slope, low, high = windows.enclose(centre_deg, half_deg)
    assert slope.shape == low.shape == high.shape == (len(level_db), *centre_deg.shape)
    move = half_deg[..., np.newaxis] * INSIDE
    asked = centre_deg[..., np.newaxis] + move
    # Nodes inside an interval are where extremes sit: sample them too.
    nodes = angle_deg + 360.0 * np.round((centre_deg[..., np.newaxis] - angle_deg) / 360.0)
    inside = np.abs(nodes - centre_deg[..., np.newaxis]) <= half_deg[..., np.newaxis]
    asked = np.concatenate([asked, np.where(inside, nodes, centre_deg[..., np.newaxis])], axis=-1)
    move = asked - centre_deg[..., np.newaxis]
    read = read_table_db(angle_deg, level_db, asked)
    rest = read - slope[..., np.newaxis] * move
    known = ~np.isnan(read)
    assert (rest >= low[..., np.newaxis] - ROUNDING_DB)[known].all()
    assert (rest <= high[..., np.newaxis] + ROUNDING_DB)[known].all()
    # NaN says that nothing is known in there.
    assert not known[np.isnan(low)].any()


@pytest.mark.parametrize("seed", range(40))
def test_random_tables(seed: int) -> None:
    """Notches, steps, holes, partial ranges; intervals from nothing to the whole circle."""
    rng = np.random.default_rng(seed)
    pattern = rough_pattern(
        rng, (1000.0, 2000.0), above_deg=rng.uniform(8, 60), below_deg=rng.uniform(8, 60)
    )
    centre = rng.uniform(-540.0, 540.0, (30, 8))
    half = 10.0 ** rng.uniform(-5.0, np.log10(180.0), (30, 8))
    half[0] = 0.0
    half[1] = 180.0
    # Some right at nodes and at the seam.
    centre[2] = rng.choice(pattern.angle_deg, 8)
    centre[3] = [180.0, -180.0, 179.999, -179.999, 540.0, -540.0, 0.0, 360.0]
    check(pattern.angle_deg, pattern.level_db, centre, half)


@pytest.mark.parametrize("half_deg", [0.0, 1e-6, 0.01, 1.0, 20.0, 179.0])
def test_jump_at_the_seam(half_deg: float) -> None:
    """A table may end at −3 dB at +180° and start at −15 dB at −180°: one direction, two values."""
    angle = np.array([-180.0, -170.0, 0.0, 160.0, 180.0])
    level = np.array([[-15.0, -18.0, 0.0, -9.0, -3.0]])
    centre = np.array([180.0, -180.0, 179.9, -179.9, 175.0, -175.0, 181.0])
    check(angle, level, centre, np.full(len(centre), half_deg))


def test_exact_on_a_straight_piece() -> None:
    """Within one straight piece the enclosure is the line itself."""
    windows = Windows(np.array([-180.0, 0.0, 180.0]), np.array([[-36.0, 0.0, -72.0]]))
    slope, low, high = windows.enclose(np.array([40.0, -70.0]), np.array([3.0, 3.0]))
    np.testing.assert_allclose(slope[0], [-0.4, 0.2])
    np.testing.assert_allclose(low[0], [-16.0, -14.0], atol=1e-12)
    np.testing.assert_allclose(high[0], [-16.0, -14.0], atol=1e-12)


def test_shrinks_with_the_square() -> None:
    """On a smooth lobe, ten times narrower intervals have a hundred times narrower enclosures."""
    pattern = nominal_pattern(above_deg=20.0, below_deg=20.0, bands_hz=(1000.0,))
    windows = Windows(pattern.angle_deg, pattern.level_db)
    widths = []
    for half in (5.0, 0.5):
        _, low, high = windows.enclose(np.linspace(-30.0, 30.0, 61), np.full(61, half))
        widths.append(float((high - low).mean()))
    assert widths[1] < widths[0] / 40.0
    assert widths[1] < 0.05


def test_partly_known() -> None:
    """A table from −40° to 50°: outside NaN, across the brink the known part counts."""
    angle, level = np.array([-40.0, 0.0, 50.0]), np.array([[-8.0, 0.0, -10.0]])
    windows = Windows(angle, level)
    _, low, high = windows.enclose(np.array([120.0, -100.0, 50.0, 0.0]), np.full(4, 2.0))
    np.testing.assert_array_equal(np.isnan(low[0]), [True, True, False, False])
    assert high[0, 2] >= -9.6
    check(angle, level, np.linspace(-180.0, 180.0, 73), np.full(73, 2.5))


def test_holes_in_one_band_only() -> None:
    pattern = Pattern(
        np.array([-180.0, -10.0, 0.0, 10.0, 180.0]),
        (1.0, 2.0),
        np.array([[-20.0, -2.0, 0.0, -2.0, -20.0], [-20.0, np.nan, 0.0, -2.0, -20.0]]),
        "invented",
    )
    _, low, _ = Windows(pattern.angle_deg, pattern.level_db).enclose(
        np.array([-5.0, 5.0]), np.array([0.5, 0.5])
    )
    np.testing.assert_array_equal(np.isnan(low), [[False, False], [True, False]])
    check(pattern.angle_deg, pattern.level_db, np.linspace(-30, 30, 61), np.full(61, 3.0))


def test_built_once_for_the_same_content_and_anew_for_other_content() -> None:
    bands = (1000.0, 2000.0)
    pattern = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=bands)
    for per_band in (False, True):
        one = windows_of(pattern.only((1000.0,)), per_band=per_band)
        assert windows_of(pattern.only((1000.0,)), per_band=per_band) is one
        narrower = nominal_pattern(above_deg=29.0, below_deg=30.0, bands_hz=bands)
        assert windows_of(narrower.only((1000.0,)), per_band=per_band) is not one

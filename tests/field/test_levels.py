"""Levels at rows: against a scalar second formula, one placement or many, signs and limits."""

import math

import numpy as np
import pytest
from plain_air import tones
from random_scenes import random_problem, sample_placements
from second_formula import Fast, scalar_levels_db, scalar_objective_db

from aiming.field.levels import NEAREST_M, levels_db, sight
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Placement, Placements

PATTERN = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=(1000.0, 8000.0))
ALPHA = np.array([0.005, 0.1])


def test_sight_signs() -> None:
    """A row below the box seen along a level axis is at a negative off-axis angle."""
    seen = sight(Placement(0.0, 5.0, 0.0), np.array([5.0, 5.0]), np.array([0.0, 10.0]))
    np.testing.assert_allclose(seen.off_axis_deg, [-45.0, 45.0])
    np.testing.assert_allclose(seen.distance_m, 5.0 * math.sqrt(2.0))
    # Nose down 45°: the first row is on the axis.
    seen = sight(Placement(0.0, 5.0, -45.0), np.array([5.0, -5.0]), np.array([0.0, 0.0]))
    np.testing.assert_allclose(seen.off_axis_deg, [0.0, -90.0], atol=1e-12)


def test_sight_wraps() -> None:
    """Straight behind, and past it."""
    behind = sight(Placement(0.0, 0.0, 10.0), np.array([-3.0]), np.array([-1e-9]))
    assert float(behind.off_axis_deg[0]) == pytest.approx(170.0, abs=1e-6)


def test_upright_and_flipped() -> None:
    """20° below the axis: the wide side upright (−1.5 dB), the narrow side flipped (−6 dB)."""
    x, z = np.array([10.0]), np.array([-10.0 * math.tan(math.radians(20.0))])
    distance = 20.0 * math.log10(10.0 / math.cos(math.radians(20.0)))
    for flipped, lobe in ((False, -6.0206 / 4.0), (True, -6.0206)):
        found = levels_db(
            PATTERN, Placement(0.0, 0.0, 0.0, flipped), x, z, air_loss=tones(np.zeros(2))
        )
        np.testing.assert_allclose(found[:, 0], lobe - distance, atol=0.0015)


def test_offset_air_shadow() -> None:
    x, z = np.array([20.0, 40.0]), np.zeros(2)
    plain = levels_db(PATTERN, Placement(0.0, 0.0, 0.0), x, z, air_loss=tones(ALPHA))
    np.testing.assert_allclose(plain[0], [-26.0206 - 0.1, -32.0412 - 0.2], atol=1e-4)
    np.testing.assert_allclose(plain[1], [-26.0206 - 2.0, -32.0412 - 4.0], atol=1e-4)
    more = levels_db(
        PATTERN,
        Placement(0.0, 0.0, 0.0),
        x,
        z,
        air_loss=tones(ALPHA),
        offset_db=[97.0, 94.0],
        shadow_db=np.array([0.0, 7.0]),
    )
    np.testing.assert_allclose(more - plain, [[97.0, 90.0], [94.0, 87.0]])


def test_at_the_acoustic_centre() -> None:
    """Distances below a millimetre are read as one: finite, and loud."""
    at = levels_db(
        PATTERN,
        Placement(3.0, 2.0, 0.0),
        np.array([3.0]),
        np.array([2.0]),
        air_loss=tones(np.zeros(2)),
    )
    assert float(at[0, 0]) == pytest.approx(-20.0 * math.log10(NEAREST_M))


def test_many_placements_equal_one_by_one() -> None:
    """(3, 4) placements in one call are the twelve single ones, bit for bit."""
    rng = np.random.default_rng(7)
    x, z = np.linspace(4.0, 18.0, 9), np.linspace(1.2, 3.0, 9)
    spot, height, tilt = rng.uniform(-2.0, 6.0, (3, 3, 4))
    flipped = rng.random((3, 4)) < 0.5
    whole = levels_db(
        PATTERN, Placements.of(spot, height, tilt, flipped), x, z, air_loss=tones(ALPHA)
    )
    assert whole.shape == (3, 4, 2, 9)
    for place in np.ndindex(3, 4):
        one = Placement(
            float(spot[place]), float(height[place]), float(tilt[place]), bool(flipped[place])
        )
        single = levels_db(PATTERN, one, x, z, air_loss=tones(ALPHA))
        np.testing.assert_array_equal(whole[place], single)


@pytest.mark.parametrize("seed", range(30))
def test_second_formula(seed: int) -> None:
    """Core, scalar loops and the tests' own fast form agree on random scenes.

    1e-7 dB: patterns with steps of 3 dB over 0.001° turn rounding of angles into that much.
    """
    problem = random_problem(seed)
    sample = sample_placements(problem, np.random.default_rng(seed), 12)
    fast = Fast(problem)
    height = fast.height_m(sample)
    placement = Placements.of(sample.x_m, height, sample.tilt_deg, sample.flipped)
    core = problem.levels_db(placement)
    objective, own = problem.objective_db(placement), fast.objective_db(sample)
    for k in range(len(sample)):
        scalar = scalar_levels_db(
            problem,
            float(sample.x_m[k]),
            float(height[k]),
            float(sample.tilt_deg[k]),
            bool(sample.flipped[k]),
        )
        np.testing.assert_allclose(core[k], scalar, rtol=0.0, atol=1e-7)
        expected = scalar_objective_db(problem, scalar)
        assert objective[k] == pytest.approx(expected, abs=1e-7)
        assert own[k] == pytest.approx(expected, abs=1e-7)

"""Figures of a pattern against published values and closed forms.

Directivity of the baffled piston and loss of control: tests/published.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_samples import even_layout, grid, unit
from published.directivity import PISTON_DI_DB, WITHIN_DB, piston_sphere
from scipy.integrate import quad

from aiming.base.arrays import FloatArray, frozen
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import EDGE_DB, Pattern
from aiming.speaker.pattern_figures import (
    Sphere,
    cells,
    control,
    control_from_hz,
    coverage,
    lobe_family,
    plane_directivity_index_db,
    sphere_directivity_index_db,
)

BANDS = (250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
THIRDS = (400.0, 500.0, 630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 4000.0)


def pattern(angle_deg: FloatArray, level_db: FloatArray) -> Pattern:
    level = np.atleast_2d(level_db)
    return Pattern(frozen(angle_deg), BANDS[2 : 2 + len(level)], frozen(level), "test")


def once(azimuth_elevation: FloatArray) -> FloatArray:
    """A grid with each pole once."""
    poles = np.array([[0.0, -90.0], [0.0, 90.0]])
    return np.vstack([azimuth_elevation[np.abs(azimuth_elevation[:, 1]) < 89.9], poles])


@pytest.mark.parametrize(("ka", "index_db"), PISTON_DI_DB.items())
@pytest.mark.parametrize("layout", ["grid", "even"])
def test_true_directivity_index_of_the_piston(ka: float, index_db: float, layout: str) -> None:
    around = once(grid(3.0, 3.0)) if layout == "grid" else even_layout(6_000)
    found = sphere_directivity_index_db(piston_sphere(ka, around))
    assert found is not None
    assert float(found[0]) == pytest.approx(index_db, abs=WITHIN_DB)


def test_a_sphere_that_is_alike_everywhere_has_none() -> None:
    direction = unit(even_layout(500))
    level = np.zeros((2, 500))
    found = sphere_directivity_index_db(Sphere(direction, (1000.0, 2000.0), level))
    np.testing.assert_allclose(found, 0.0, atol=1e-12)


@pytest.mark.parametrize("keep", ["half", "few", "plane"])
def test_no_true_index_without_a_whole_sphere(keep: str) -> None:
    around = even_layout(800)
    direction = unit(around)
    if keep == "half":
        direction = direction[direction[:, 0] > 0.0]
    elif keep == "few":
        direction = direction[:3]
    else:
        angle = np.linspace(0.0, 6.0, 40)
        direction = np.stack([np.cos(angle), 0 * angle, np.sin(angle)], axis=-1)
    sphere = Sphere(direction, (1000.0,), np.zeros((1, len(direction))))
    assert sphere_directivity_index_db(sphere) is None


def test_cells_of_a_grid_are_its_spherical_rectangles() -> None:
    around = once(grid(10.0, 10.0))
    found = cells(unit(around))
    assert found is not None
    equator = np.isclose(around[:, 1], 0.0)
    rectangle = np.radians(10.0) * 2 * np.sin(np.radians(5.0)) / (4 * np.pi)
    np.testing.assert_allclose(found.share[equator], rectangle, rtol=0.005)
    assert found.share.sum() == pytest.approx(1.0, abs=1e-12)
    assert found.hole_deg == pytest.approx(7.05, abs=0.05)


def test_plane_directivity_index_against_numerical_integration() -> None:
    angle = np.array([-180.0, -90.0, -30.0, 0.0, 20.0, 60.0, 180.0])
    level = np.array([[-30.0, -20.0, -4.0, 0.0, 0.0, -10.0, -30.0], [0.0] * 7])
    one = pattern(angle, level)
    found = plane_directivity_index_db(one)
    for k in range(2):
        mean, _ = quad(
            lambda a, k=k: 10 ** (float(one.read_db(a)[k]) / 10),
            -179.999999, 180, points=list(angle[1:-1]), limit=400,
        )  # fmt: skip
        assert found[k] == pytest.approx(-10 * np.log10(mean / 360.0), abs=1e-6)
    assert found[0] > 5.0
    assert found[1] == pytest.approx(0.0, abs=1e-12)


def test_plane_directivity_index_needs_the_whole_turn() -> None:
    assert np.isnan(plane_directivity_index_db(pattern(np.array([-90.0, 90.0]), np.zeros(2))))
    angle = np.array([-180.0, 0.0, 90.0, 180.0])
    holed = pattern(angle, np.array([[-9.0, 0.0, np.nan, -9.0], [-9.0, 0.0, -3.0, -9.0]]))
    assert np.isnan(plane_directivity_index_db(holed)).tolist() == [True, False]


def test_coverage_above_and_below() -> None:
    one = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=BANDS, control_from_hz=1000.0)
    found = {c.band_hz: c for c in coverage(one)}
    assert found[2000.0].above_deg == pytest.approx(20.0, abs=0.01)
    assert found[2000.0].below_deg == pytest.approx(40.0, abs=0.01)
    assert found[2000.0].whole_deg == pytest.approx(60.0, abs=0.02)
    # Exact mid-bands, IEC 61260-1: 501.187 and 251.189 Hz.
    assert found[500.0].above_deg == pytest.approx(20.0 / 0.501187, abs=0.02)
    assert found[250.0].below_deg == pytest.approx(40.0 / 0.251189, abs=0.05)


def test_never_and_unknown_are_told_apart() -> None:
    angle = np.array([-180.0, -60.0, 0.0, 60.0, 180.0])
    level = np.array([[-5.0, -5.0, 0.0, -9.0, -5.0], [-3.0, np.nan, 0.0, -1.0, -3.0]])
    first, second = coverage(pattern(angle, level))
    assert (first.reach_above, first.reach_below) == ("reached", "never")
    assert first.above_deg == pytest.approx(60.0 * EDGE_DB / 9.0)
    assert (second.reach_above, second.reach_below) == ("never", "unknown")
    (short,) = coverage(pattern(np.array([-90.0, 0.0, 90.0]), np.array([-3.0, 0.0, -12.0])))
    assert (short.reach_above, short.reach_below) == ("reached", "unknown")
    assert short.whole_deg is None


@settings(deadline=None, derandomize=True, max_examples=40)
@given(above=st.floats(5.0, 80.0), below=st.floats(5.0, 80.0))
def test_flipping_swaps_above_and_below(above: float, below: float) -> None:
    one = nominal_pattern(above_deg=above, below_deg=below, bands_hz=(1000.0,))
    (upright,), (flipped,) = coverage(one), coverage(one.flipped())
    assert (upright.above_deg, upright.below_deg) == (flipped.below_deg, flipped.above_deg)
    assert upright.above_deg == pytest.approx(above, abs=0.02)
    np.testing.assert_allclose(
        plane_directivity_index_db(one), plane_directivity_index_db(one.flipped()), atol=1e-12
    )


@pytest.mark.parametrize("from_hz", [600.0, 900.0, 1300.0])
def test_control_is_found_where_it_was_put(from_hz: float) -> None:
    one = nominal_pattern(above_deg=20.0, below_deg=30.0, bands_hz=THIRDS, control_from_hz=from_hz)
    found = control(coverage(one))
    assert found.steady_deg == pytest.approx(50.0, abs=0.1)
    # Read between thirds, so within a sixth of an octave.
    assert found.control_from_hz == pytest.approx(from_hz, rel=0.06)
    assert found.text.startswith("lost below about ")


def test_control_that_is_never_lost_or_never_there() -> None:
    steady = nominal_pattern(above_deg=20.0, below_deg=30.0, bands_hz=THIRDS)
    assert control(coverage(steady)).control_from_hz is None
    assert control(coverage(steady)).text == "kept down to the lowest band, 400 Hz"
    narrowing = nominal_pattern(
        above_deg=2.0, below_deg=2.0, bands_hz=THIRDS, control_from_hz=32000.0
    )
    assert control(coverage(narrowing)).control_from_hz is not None
    wide = nominal_pattern(above_deg=170.0, below_deg=170.0, bands_hz=THIRDS, lowest_db=-4.0)
    assert control(coverage(wide)).steady_deg is None
    (one,) = coverage(nominal_pattern(above_deg=20.0, below_deg=20.0, bands_hz=(1000.0,)))
    assert control((one,)).text == "not known: one band cannot tell"


def test_figures_refuse_what_has_no_meaning() -> None:
    with pytest.raises(ValueError, match="both above 0"):
        control_from_hz(coverage_deg=60.0, mouth_m=0.0)


def test_the_family_of_lobes_shares_its_edges_and_nothing_else() -> None:
    family = lobe_family(above_deg=15.0, below_deg=35.0, bands_hz=BANDS, control_from_hz=900.0)
    assert list(family) == ["quadratic", "piston", "flat"]
    for one in family.values():
        found = {c.band_hz: c for c in coverage(one)}
        assert found[4000.0].above_deg == pytest.approx(15.0, abs=0.02)
        assert found[4000.0].below_deg == pytest.approx(35.0, abs=0.02)
    # Inside the edge the flat lobe is the loudest; outside it is the softest.
    inside = {shape: float(one.read_db(-20.0)[4]) for shape, one in family.items()}
    outside = {shape: float(one.read_db(-40.0)[4]) for shape, one in family.items()}
    assert inside["flat"] > inside["quadratic"] + 1.0
    assert outside["flat"] < outside["quadratic"] - 1.0
    assert "piston" not in lobe_family(above_deg=100.0, below_deg=30.0, bands_hz=BANDS)

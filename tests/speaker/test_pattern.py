"""The one pattern table: linear in dB, unknown where the data end, flipped and picked by band."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from second_formula import scalar_pattern_db

from aiming.base.arrays import frozen
from aiming.speaker.pattern import EDGE_DB, Pattern, edge_deg

TABLE = Pattern(
    angle_deg=frozen([-90.0, -30.0, 0.0, 20.0, 60.0]),
    band_hz=(1000.0, 4000.0),
    level_db=frozen([[-20.0, -6.0, 0.0, -4.0, -12.0], [-30.0, -9.0, 0.0, np.nan, -18.0]]),
    reference="invented",
)


def test_reads_linearly_in_db() -> None:
    np.testing.assert_allclose(TABLE.read_db(10.0), [-2.0, np.nan])
    np.testing.assert_allclose(
        TABLE.read_db([-60.0, -15.0, 40.0]), [[-13.0, -3.0, -8.0], [-19.5, -4.5, np.nan]]
    )
    assert TABLE.read_db(np.zeros((3, 5))).shape == (2, 3, 5)


def test_unknown_is_never_invented() -> None:
    """Beyond the table and inside a hole: NaN; at the known ends and beside the hole: known."""
    assert np.isnan(TABLE.read_db([-90.001, 60.001, 180.0, -180.0])).all()
    np.testing.assert_allclose(TABLE.read_db([-90.0, 60.0]), [[-20.0, -12.0], [-30.0, -18.0]])
    hole = TABLE.read_db([0.0, 1e-9, 20.0, 59.999, 60.0])[1]
    np.testing.assert_array_equal(np.isnan(hole), [False, True, True, True, False])


def test_flip_mirrors() -> None:
    flipped = TABLE.flipped()
    angle = np.linspace(-179.5, 179.5, 719)
    np.testing.assert_allclose(flipped.read_db(-angle), TABLE.read_db(angle), rtol=1e-13)
    np.testing.assert_array_equal(flipped.flipped().level_db, TABLE.level_db)
    # Signs: softer above than below becomes softer below than above.
    assert flipped.read_db(20.0)[0] == pytest.approx(-4.0)
    assert flipped.read_db(-20.0)[0] == pytest.approx(-4.0)
    assert flipped.read_db(30.0)[0] == pytest.approx(-6.0)
    assert not TABLE.symmetric


def test_symmetric() -> None:
    even = Pattern(frozen([-30.0, 0.0, 30.0]), (1000.0,), frozen([[-6.0, 0.0, -6.0]]), "invented")
    odd = Pattern(frozen([-30.0, 0.0, 30.0]), (1000.0,), frozen([[-6.0, 0.0, -7.0]]), "invented")
    shifted = Pattern(
        frozen([-31.0, 0.0, 30.0]), (1000.0,), frozen([[-6.0, 0.0, -6.0]]), "invented"
    )
    assert even.symmetric
    assert not odd.symmetric
    assert not shifted.symmetric


def test_bands_and_mean() -> None:
    swapped = TABLE.only((4000.0, 1000.0))
    assert swapped.band_hz == (4000.0, 1000.0)
    np.testing.assert_array_equal(swapped.level_db[1], TABLE.level_db[0])
    with pytest.raises(KeyError, match="500"):
        TABLE.only((500.0,))
    np.testing.assert_allclose(TABLE.mean(), [-25.0, -7.5, 0.0, np.nan, -15.0])


def test_refused() -> None:
    with pytest.raises(ValueError, match="ascend"):
        Pattern(frozen([0.0, 0.0]), (1000.0,), frozen([[0.0, 0.0]]), "")
    with pytest.raises(ValueError, match="does not fit"):
        Pattern(frozen([0.0, 1.0]), (1000.0,), frozen([[0.0]]), "")


def test_one_angle_only() -> None:
    single = Pattern(frozen([0.0]), (1000.0,), frozen([[0.0]]), "invented")
    np.testing.assert_array_equal(np.isnan(single.read_db([0.0, 1.0])), [[False, True]])


def test_edge() -> None:
    """−6.02 dB: above at 20 + 40·2.0206/8, below just past −30 on the way to −20 dB."""
    above = edge_deg(TABLE.angle_deg, TABLE.level_db[0], above=True)
    below = edge_deg(TABLE.angle_deg, TABLE.level_db[0], above=False)
    assert above == pytest.approx(20.0 + 40.0 * (EDGE_DB - 4.0) / 8.0, abs=1e-9)
    assert below == pytest.approx(-30.0 - 60.0 * (EDGE_DB - 6.0) / 14.0, abs=1e-9)
    # The hole lies before the edge: the edge is unknown.
    assert edge_deg(TABLE.angle_deg, TABLE.level_db[1], above=True) is None
    never = np.array([-3.0, 0.0, -3.0])
    assert edge_deg(np.array([-90.0, 0.0, 90.0]), never, above=True) is None


def test_edge_takes_the_first_crossing() -> None:
    angle = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    level = np.array([0.0, -8.0, -4.0, -8.0, -20.0])
    assert edge_deg(angle, level, above=True) == pytest.approx(10.0 * EDGE_DB / 8.0)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(
    nodes=st.lists(st.floats(-180.0, 180.0), min_size=2, max_size=12, unique=True),
    seed=st.integers(0, 10_000),
    asked=st.floats(-720.0, 720.0),
)
def test_second_formula(nodes: list[float], seed: int, asked: float) -> None:
    """Against a scalar look-up by bisection, holes and wrapping included."""
    angle = sorted(nodes)
    turned = (asked + 180.0) % 360.0 - 180.0
    if min(np.diff(angle)) < 1e-6 or min(abs(turned - a) for a in (*angle, -180.0, 180.0)) < 1e-9:
        return  # beside a brink or a seam only rounding would be compared
    rng = np.random.default_rng(seed)
    level = rng.uniform(-30.0, 0.0, (2, len(angle)))
    level[1, rng.integers(len(angle))] = np.nan
    found = Pattern(frozen(angle), (1.0, 2.0), frozen(level), "").read_db(asked)
    for band in range(2):
        expected = scalar_pattern_db(angle, level[band].tolist(), asked)
        assert found[band] == pytest.approx(expected, abs=1e-4, nan_ok=True)

"""Rows, audience planes and angles: pure geometry."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.geometry.section import Seating, elevation_deg, plane_segments, rows_of, wrap_deg

RAKE = np.array([[4.0, 0.0], [18.0, 1.4]])
RISER = np.array([[4.0, 0.0], [9.0, 0.5], [9.0, 1.1], [13.0, 1.5]])


def test_both_ends_are_rows() -> None:
    """14 m at 0.9 m: 15.56 intervals become 16 of 0.875 m, 2.8 % off the wish."""
    seating = Seating("stalls", RAKE)
    x = seating.row_x_m()
    assert len(x) == 17
    assert (x[0], x[-1]) == (4.0, 18.0)
    np.testing.assert_allclose(np.diff(x), 0.875, rtol=1e-12)
    assert seating.spacing_moved_share == pytest.approx(0.0278, abs=1e-4)


def test_row_count_rules() -> None:
    seating = Seating("stalls", RAKE, row_count=8)
    np.testing.assert_allclose(np.diff(seating.row_x_m()), 2.0)
    assert seating.spacing_moved_share == 0.0
    # Shorter than half a spacing: still both ends.
    short = Seating("bench", np.array([[4.0, 0.0], [4.3, 0.0]]))
    np.testing.assert_allclose(short.row_x_m(), [4.0, 4.3])


def test_ears_follow_the_floor() -> None:
    seating = Seating("stalls", RAKE, ear_height_m=1.6)
    x = np.array([4.0, 11.0, 18.0])
    np.testing.assert_allclose(seating.ear_z_m(x), [1.6, 2.3, 3.0])


def test_riser_row_stands_on_the_later_point() -> None:
    seating = Seating("tier", RISER, row_count=10)  # rows every metre, one at x = 9
    rows = rows_of((seating,))
    z = dict(zip(rows.x_m.tolist(), rows.z_m.tolist(), strict=True))
    assert z[9.0] == pytest.approx(1.1 + 1.2)
    assert z[8.0] == pytest.approx(0.4 + 1.2)
    assert z[13.0] == pytest.approx(1.5 + 1.2)


def test_riser_at_either_end() -> None:
    """A vertical piece first: the first row stands on top; one at the end: the last one does."""
    first = Seating("a", np.array([[4.0, 0.0], [4.0, 0.5], [8.0, 0.5]]), row_count=5)
    assert rows_of((first,)).z_m[0] == pytest.approx(1.7)
    last = Seating("b", np.array([[4.0, 0.0], [8.0, 0.0], [8.0, 0.5]]), row_count=5)
    np.testing.assert_allclose(rows_of((last,)).z_m, [1.2, 1.2, 1.2, 1.2, 1.7])


def test_weights_are_trapezoid_in_x_times_the_seatings_weight() -> None:
    near = Seating("near", np.array([[4.0, 0.0], [8.0, 0.0]]), row_count=5, weight=2.0)
    far = Seating("far", np.array([[10.0, 0.0], [14.0, 1.0]]), row_count=3)
    rows = rows_of((near, far))
    np.testing.assert_allclose(rows.weight, [1.0, 2.0, 2.0, 2.0, 1.0, 1.0, 2.0, 1.0])
    np.testing.assert_array_equal(rows.seating, [0, 0, 0, 0, 0, 1, 1, 1])
    np.testing.assert_array_equal(rows.of((1,)), [5, 6, 7])
    # Each seating's weights add up to its run times its weight.
    assert rows.weight[:5].sum() == pytest.approx(8.0)


def test_names() -> None:
    named = Seating("tier", RAKE, row_count=4, row_names=("A", "B"))
    rows = rows_of((named,))
    assert rows.names == ("A", "B", "3", "4")
    assert rows.label(1) == "row B"
    both = rows_of((named, Seating("balcony", RAKE + np.array([20.0, 4.0]), row_count=2)))
    assert both.label(5) == "row 2 of balcony"
    picked = both.pick(np.array([5, 0]))
    assert picked.names == ("2", "A")
    assert picked.x_m.tolist() == [38.0, 4.0]
    assert not picked.x_m.flags.writeable


def test_plane_segments() -> None:
    planes = plane_segments(
        (Seating("tier", RISER, ear_height_m=1.0), Seating("one", np.array([[20.0, 2.0]]))), (0, 1)
    )
    np.testing.assert_allclose(planes.start_m, [[4.0, 1.0], [9.0, 1.5], [9.0, 2.1], [20.0, 3.2]])
    np.testing.assert_allclose(planes.end_m, [[9, 1.5], [9, 2.1], [13, 2.5], [20, 3.2]])
    np.testing.assert_array_equal(planes.seating, [0, 0, 0, 1])


def test_elevation_signs() -> None:
    dx = np.array([1.0, 0.0, -1.0, 0.0, 3.0])
    dz = np.array([1.0, 1.0, 0.0, -1.0, -4.0])
    np.testing.assert_allclose(
        elevation_deg(dx, dz), [45.0, 90.0, 180.0, -90.0, -53.13010235], atol=1e-8
    )


@settings(derandomize=True, deadline=None)
@given(angle=st.floats(-1000.0, 1000.0))
def test_wrap_keeps_the_direction(angle: float) -> None:
    wrapped = float(wrap_deg(np.array(angle)))
    assert -180.0 < wrapped <= 180.0
    assert math.cos(math.radians(wrapped)) == pytest.approx(
        math.cos(math.radians(angle)), abs=1e-10
    )
    assert math.sin(math.radians(wrapped)) == pytest.approx(
        math.sin(math.radians(angle)), abs=1e-10
    )


def test_wrap_at_the_seam() -> None:
    np.testing.assert_array_equal(
        wrap_deg(np.array([-180.0, 180.0, 540.0, 181.0, -181.0, 0.0])),
        [180.0, 180.0, 180.0, -179.0, 179.0, 0.0],
    )

"""Rows and ears where a single slip would not show elsewhere."""

import numpy as np
import pytest

from aiming.geometry.section import (
    SEATED_EAR_M,
    SPACING_NOTE_SHARE,
    STANDING_EAR_M,
    Seating,
    Segments,
    Surface,
    rows_of,
)


def test_the_run_is_that_of_the_whole_line() -> None:
    """9 m over a riser in 0.9 m steps: 10 intervals, whatever the points between."""
    riser = np.array([[4.0, 0.0], [5.0, 0.1], [5.0, 0.6], [13.0, 1.0]])
    seating = Seating("tier", riser)
    assert seating.run_m == pytest.approx(9.0)
    assert seating.intervals == 10
    assert seating.spacing_moved_share == pytest.approx(0.0, abs=1e-12)


def test_ears_over_pieces_shorter_than_a_metre() -> None:
    """0.5 m pieces: half-way along one, the floor is half-way up."""
    floor = np.array([[4.0, 0.0], [4.5, 0.2], [5.0, 0.2], [5.0, 0.4]])
    ear = Seating("steps", floor).ear_z_m(np.array([4.0, 4.25, 4.5, 4.75, 5.0]))
    np.testing.assert_allclose(ear, [1.2, 1.3, 1.4, 1.4, 1.6], atol=1e-12)


def test_ears_beyond_the_line_stay_at_its_ends() -> None:
    ear = Seating("rake", np.array([[4.0, 0.0], [8.0, 1.0]])).ear_z_m(np.array([0.0, 20.0]))
    np.testing.assert_allclose(ear, [1.2, 2.2], atol=1e-12)


def test_rows_without_a_run_weigh_one_each() -> None:
    """A single row, and a line straight up: no row stands for a length."""
    single = Seating("bench", np.array([[4.0, 0.0], [8.0, 0.0]]), row_count=1, weight=3.0)
    assert rows_of((single,)).weight.tolist() == [3.0]
    upright = Seating("ladder", np.array([[4.0, 0.0], [4.0, 2.0]]), row_count=3)
    assert rows_of((upright,)).weight.tolist() == [1.0, 1.0, 1.0]


def test_pieces_of_no_seating() -> None:
    nothing = np.zeros((0, 2))
    pieces = Segments(nothing, nothing)
    assert (len(pieces), len(pieces.seating)) == (0, 0)


def test_what_holds_where_nothing_is_said() -> None:
    """Ears at 1.2 m seated, 1.6 m standing; rows every 0.9 m, of one weight; hard surfaces."""
    seating = Seating("stalls", np.array([[4.0, 0.0], [13.0, 0.0]]))
    assert seating.audience_plane_m[:, 1].tolist() == [1.2, 1.2]
    assert (SEATED_EAR_M, STANDING_EAR_M, SPACING_NOTE_SHARE) == (1.2, 1.6, 0.02)
    assert seating.intervals == 10
    assert seating.weight == 1.0
    assert Surface("wall", np.zeros((2, 2))).absorption == 0.0

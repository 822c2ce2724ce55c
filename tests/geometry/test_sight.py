"""Sightlines and clearances: hand geometry; the C-value of worksheets: tests/published."""

import math

import numpy as np
import pytest

from aiming.base.arrays import FloatArray
from aiming.geometry.sight_lines import (
    clearance_m,
    head_clearance_m,
    hidden_by_edges,
    inside,
    loses_sight,
    outline_distance_m,
    seen_elevation_deg,
)

BOX = np.array([[2.0, 5.0], [2.6, 5.0], [2.6, 6.0], [2.0, 6.0]])


def points(*xz: tuple[float, float]) -> FloatArray:
    return np.array(xz, dtype=np.float64)


def test_who_loses_sight_of_the_focus_behind_the_box() -> None:
    # Lines to a screen's head at (0, 7), the box at x 2 to 2.6, z 5 to 6: the first enters at its
    # stage side at 5.07 m, the second at 5.34 m; the third leaves its top at 6.25 m, clear of it;
    # the fourth passes under it, at 4.68 m.
    eyes = points((6.0, 1.2), (7.0, 1.2), (20.0, 1.2), (5.0, 1.2))
    assert loses_sight(eyes, (0.0, 7.0), BOX).tolist() == [True, True, False, False]
    assert not loses_sight(eyes, (0.0, 1.0), BOX).any()
    assert loses_sight(points((2.3, 5.5)), (0.0, 1.0), BOX)[0]
    # Turning the corners round changes nothing.
    assert loses_sight(eyes, (0.0, 7.0), BOX[::-1]).tolist() == [True, True, False, False]


def test_edges_hide_the_focus_unless_the_eye_is_on_them() -> None:
    start, end = points((10.0, 0.0)), points((10.0, 3.0))
    eyes = points((15.0, 1.2), (15.0, 6.0), (10.0, 1.2))
    assert hidden_by_edges(eyes, (0.0, 1.0), start, end).tolist() == [True, False, False]


def test_inside_and_distances_by_hand() -> None:
    at = points((2.3, 5.5), (2.3, 4.0), (3.6, 6.75), (1.0, 5.5))
    assert inside(at, BOX).tolist() == [True, False, False, False]
    np.testing.assert_allclose(
        outline_distance_m(at, BOX), [0.0, 1.0, math.hypot(1.0, 0.75), 1.0], atol=1e-12
    )


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (points((0.0, 4.2), (10.0, 4.2)), 0.8),
        (points((3.0, 0.0), (3.0, 9.0)), 0.4),
        (points((2.3, 0.0), (2.3, 9.0)), 0.0),  # through it
        (points((2.2, 5.2), (2.4, 5.8)), 0.0),  # wholly inside it
        (points((2.3, 7.5), (2.3, 9.0)), 1.5),  # an end is nearest
        (points((5.6, 10.0), (5.6, 10.5)), 5.0),  # 3 to the side and 4 up
    ],
)
def test_clearance_to_a_surface(line: FloatArray, expected: float) -> None:
    assert clearance_m(BOX, line) == pytest.approx(expected, abs=1e-12)


def test_head_clearance() -> None:
    floor = points((0.0, 0.0), (2.3, 0.0), (2.3, 0.5), (10.0, 0.5))
    assert head_clearance_m(BOX, floor, head_m=2.0) == pytest.approx(2.5)  # over the step
    assert head_clearance_m(BOX, points((4.0, 0.0), (9.0, 0.0)), head_m=2.0) is None
    assert head_clearance_m(BOX, points((0.0, 8.0), (9.0, 8.0)), head_m=2.0) is None  # a balcony
    low = BOX - [0.0, 3.5]
    assert head_clearance_m(low, points((0.0, 0.0), (9.0, 0.0)), head_m=2.0) == pytest.approx(-0.5)
    # A cabinet on its edge over a rake: lowest corner at (2, 5), floor there 0.4.
    turned = points((2.0, 5.0), (2.5, 5.5), (2.0, 6.0), (1.5, 5.5))
    rake = points((0.0, 0.0), (10.0, 2.0))
    assert head_clearance_m(turned, rake, head_m=1.0) == pytest.approx(3.6)


def test_elevation_of_the_box_from_the_rows() -> None:
    eyes = points((4.0, 1.2), (-4.0, 1.2), (0.0, 1.2))
    np.testing.assert_allclose(seen_elevation_deg(eyes, (0.0, 5.2)), [45.0, 45.0, 90.0], atol=1e-12)
    assert seen_elevation_deg(points((5.0, 6.0)), (0.0, 1.0))[0] == pytest.approx(-45.0)

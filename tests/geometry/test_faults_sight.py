"""Where an outline, a way or a floor meets a line exactly, worked out by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aiming.base.arrays import FloatArray
from aiming.geometry.sight_lines import (
    clearance_m,
    crossed,
    edge_distance_m,
    head_clearance_m,
    hidden_by_edges,
    inside,
)

BOX = np.array([[2.0, 5.0], [2.6, 5.0], [2.6, 6.0], [2.0, 6.0]])
ON_EDGE = np.array([[2.0, 5.0], [2.5, 5.5], [2.0, 6.0], [1.5, 5.5]])


def points(*xz: tuple[float, float]) -> FloatArray:
    return np.array(xz, dtype=np.float64)


@given(x=st.floats(-3.0, 3.0), z=st.floats(-4.0, 4.0))
def test_inside_a_rhombus_two_parts_of_its_size_make_less_than_one(x: float, z: float) -> None:
    rhombus = points((0.0, 3.0), (2.0, 0.0), (0.0, -3.0), (-2.0, 0.0))
    size = abs(x) / 2.0 + abs(z) / 3.0
    if abs(size - 1.0) > 1e-9:
        for outline in (rhombus, rhombus[::-1]):
            assert inside(points((x, z)), outline)[0] == (size < 1.0)


def test_level_with_a_corner_is_still_inside_or_outside() -> None:
    square = points((0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0))
    level = points((0.0, 0.0), (-1.5, 0.0), (1.5, 0.0), (-0.5, 1.0), (-0.5, -1.0))
    for outline in (square, square[::-1]):
        assert inside(level, outline).tolist() == [True, False, False, False, False]


def test_inside_the_arm_of_a_u_three_edges_lie_ahead() -> None:
    u = points((0, 0), (3, 0), (3, 2), (2, 2), (2, 1), (1, 1), (1, 2), (0, 2))
    at = points((0.5, 1.5), (1.5, 1.5), (2.5, 1.5), (1.5, 0.5), (-0.5, 1.5))
    assert inside(at, u).tolist() == [True, False, True, True, False]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("back", [False, True])
def test_a_way_through_a_joint_crosses_one_of_the_two_edges(turned: bool, back: bool) -> None:
    start, end = points((1.0, -1.0), (1.0, 0.0)), points((1.0, 0.0), (1.0, 1.0))
    if turned:
        start, end = end, start
    way = points((0.0, 0.0), (2.0, 0.0))
    near, far = (way[1:], way[:1]) if back else (way[:1], way[1:])
    assert crossed(near, far, start, end).sum() == 1


def test_a_way_that_ends_on_an_edge_does_not_cross_it() -> None:
    start, end = points((1.0, -1.0)), points((1.0, 1.0))
    on, off, beyond = points((1.0, 0.2)), points((0.0, 0.0)), points((3.0, 0.0))
    for edge in ((start, end), (end, start)):
        for one in (off, beyond):
            assert not crossed(one, on, *edge).any()
            assert not crossed(on, one, *edge).any()
        assert crossed(off, beyond, *edge).all()
        assert crossed(beyond, off, *edge).all()


def test_what_the_focus_stands_on_hides_nothing() -> None:
    """Half a millimetre in front of the focus is the focus's own edge; two are a wall."""
    eyes = points((15.0, 1.2))
    for at, hidden in ((0.0005, False), (0.002, True), (14.9995, False), (14.998, True)):
        edge = points((at, 0.0)), points((at, 3.0))
        assert hidden_by_edges(eyes, (0.0, 1.0), *edge)[0] == hidden


def test_distance_from_an_edge_beside_it_and_past_its_ends() -> None:
    start, end = points((0.0, 0.0)), points((3.0, 4.0))
    at = points((1.5, 2.0), (1.5 - 0.8, 2.0 + 0.6), (-3.0, -4.0), (3.0, 6.0), (0.0, 0.0))
    np.testing.assert_allclose(
        edge_distance_m(at, start, end)[:, 0], [0.0, 1.0, 5.0, 2.0, 0.0], atol=1e-12
    )
    # An edge without length is a point.
    assert edge_distance_m(at, start, start)[2, 0] == pytest.approx(5.0)


def test_clearance_is_asked_of_every_piece_of_a_line() -> None:
    """Nearest is the middle of the second piece, 0.6 m beside the box's front."""
    line = points((5.0, 20.0), (3.2, 20.0), (3.2, 0.0))
    assert clearance_m(BOX, line) == pytest.approx(0.6)
    assert clearance_m(BOX, line[::-1]) == pytest.approx(0.6)


@pytest.mark.parametrize(
    ("outline", "floor", "clear"),
    [
        # The floor begins, or ends, under the box, and is highest there.
        (BOX, points((2.2, 1.0), (9.0, 0.0)), 4.0),
        (BOX, points((-5.0, 0.0), (2.2, 1.0)), 4.0),
        # A floor that only touches from the side is beneath all the same.
        (BOX, points((2.6, 1.0), (9.0, 1.0)), 4.0),
        # A step down at 1.8, where the box on its edge is 5.2 high: 4.2 to the upper floor.
        (ON_EDGE, points((0.0, 1.0), (1.8, 1.0), (1.8, 0.0), (10.0, 0.0)), 4.2),
        (ON_EDGE, points((0.0, 0.0), (2.2, 0.0), (2.2, 1.0), (10.0, 1.0)), 4.2),
        # Half a metre up the face of a step of one metre: half a metre too low.
        (BOX - [0.0, 4.5], points((0.0, 0.0), (2.3, 0.0), (2.3, 1.0), (10.0, 1.0)), -0.5),
        # A ramp that ends under the box, level from there on.
        (BOX, points((0.0, 0.0), (1.0, 0.0), (2.3, 0.5), (10.0, 0.5)), 4.5),
        # On the floor itself.
        (BOX - [0.0, 5.0], points((0.0, 0.0), (9.0, 0.0)), 0.0),
    ],
)
def test_room_for_heads(outline: FloatArray, floor: FloatArray, clear: float) -> None:
    for around in (outline, outline[::-1], np.roll(outline, 1, axis=0)):
        found = head_clearance_m(around, floor, head_m=1.7)
        assert found == pytest.approx(clear - 1.7, abs=1e-12)


def test_no_room_for_heads_is_asked_where_there_is_no_floor() -> None:
    for floor in (points((2.61, 0.0), (9.0, 0.0)), points((-9.0, 0.0), (1.99, 0.0))):
        assert head_clearance_m(BOX, floor, head_m=1.7) is None
    assert math.isfinite(head_clearance_m(BOX, points((2.0, 0.0), (2.6, 0.0)), head_m=1.7) or 0.0)

"""Walls by hand: joints, feet, the ground, corners, ways between them, and bounds of losses."""

import math
from itertools import pairwise

import numpy as np
import pytest

from aiming.base.arrays import FloatArray
from aiming.field.diffraction import Screening, capped_from_m, lit_margin_m, screening_loss_db
from aiming.field.sight_paths import ways_round
from aiming.field.walls import SEAL_M, Walls, clear, walls_from, walls_of
from aiming.geometry.section import Seating, Surface

C_M_S = 343.2
BANDS_HZ = np.array([500.0, 4000.0])
Point = tuple[float, float]


def line(*points: Point) -> FloatArray:
    return np.array(points, dtype=np.float64)


def edges(walls: Walls) -> set[tuple[Point, ...]]:
    """The edges above ground, each from its lower to its upper end as points sort."""
    return {
        tuple(sorted(((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))))
        for a, b in zip(walls.start_m.round(6), walls.end_m.round(6), strict=True)
        if min(a[1], b[1]) > -1e4
    }


def feet(walls: Walls) -> set[Point]:
    """The points below which all is solid."""
    return {
        (float(top[0]), float(top[1]))
        for top, foot in zip(walls.start_m.round(6), walls.end_m.round(6), strict=True)
        if foot[1] < -1e4 < top[1]
    }


def corners(walls: Walls) -> dict[Point, tuple[float, float]]:
    """Where each corner's open side begins, and how wide it is, in degrees."""
    return {
        (float(at[0]), float(at[1])): (round(math.degrees(start), 6), round(math.degrees(wide), 6))
        for at, start, wide in zip(
            walls.corner_m.round(6), walls.open_from_rad, walls.open_rad, strict=True
        )
    }


def between(walls: Walls, one: Point, other: Point) -> float:
    place = [(float(x), float(z)) for x, z in walls.corner_m.round(6)]
    return float(walls.between_m[place.index(one), place.index(other)])


@pytest.fixture
def angle() -> Walls:
    return walls_from([line((5.0, 0.0), (5.0, 4.0), (9.0, 4.0))])


def test_an_angle_of_two_edges(angle: Walls) -> None:
    assert edges(angle) == {((5.0, 0.0), (5.0, 4.0)), ((5.0, 4.0), (9.0, 4.0))}
    assert corners(angle) == {
        (5.0, 0.0): (90.0, 360.0),
        (5.0, 4.0): (0.0, 270.0),
        (9.0, 4.0): (180.0, 360.0),
    }
    assert angle.at_corner.tolist() == [[True, False], [True, True], [False, True]]
    assert between(angle, (5.0, 0.0), (5.0, 4.0)) == pytest.approx(4.0)
    assert between(angle, (5.0, 0.0), (9.0, 4.0)) == pytest.approx(math.hypot(4.0, 4.0))
    assert between(angle, (5.0, 4.0), (5.0, 4.0)) == 0.0


def test_the_open_side_of_a_joint(angle: Walls) -> None:
    """270° from the right-hand edge anticlockwise; along an edge is open as well."""
    around = {20.0: True, 0.0: True, 180.0: True, 265.0: True, 270.0: True, 275.0: False}
    around[-10.0] = False
    place = corners(angle)
    joint = list(place).index((5.0, 4.0))
    for angle_deg, is_open in around.items():
        a = math.radians(angle_deg)
        point = line((5.0 + 2.0 * math.cos(a), 4.0 + 2.0 * math.sin(a)))
        assert bool(angle.opens_to(point)[0, joint]) is is_open
    # A straight wall's free end is open all round.
    assert angle.opens_to(line((5.0, 9.0), (0.0, 0.0), (9.0, 3.9)))[:, 0].all()


def test_ways_between_corners_go_round_what_stands_between() -> None:
    """Tops of the outer walls of three: over the middle one, which is higher."""
    walls = walls_from(
        [line((x, 0.0), (x, top)) for x, top in ((4.0, 2.0), (8.0, 5.0), (12.0, 2.0))]
    )
    assert len(walls.corner_m) == 6
    assert between(walls, (4.0, 2.0), (12.0, 2.0)) == pytest.approx(
        min(2.0 * math.hypot(4.0, 3.0), 2.0 * math.hypot(4.0, 2.0))
    )
    assert between(walls, (4.0, 2.0), (8.0, 5.0)) == pytest.approx(5.0)
    assert between(walls, (4.0, 0.0), (12.0, 0.0)) == pytest.approx(8.0)
    np.testing.assert_allclose(walls.between_m, walls.between_m.T)
    # Within closed walls there is no way out: corners inside and outside are apart for ever.
    room = walls_from(
        [
            line((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0), (0.0, 0.0)),
            line((4.0, 3.0), (5.0, 3.0)),
        ]
    )
    assert between(room, (4.0, 3.0), (5.0, 3.0)) == pytest.approx(1.0)
    assert between(room, (4.0, 3.0), (9.0, 9.0)) == np.inf
    assert between(room, (0.0, 0.0), (9.0, 9.0)) == pytest.approx(18.0)


def test_three_corners_on_the_way() -> None:
    """A band over three tops, each way found over the ones between."""
    tops = ((0.0, 1.0), (3.0, 5.0), (6.0, 6.0), (9.0, 5.0), (12.0, 1.0))
    walls = walls_from(
        [line((x, -50.0), (x, top)) for x, top in tops],
        standing_m=[line((x, -50.0))[0] for x, _ in tops],
    )
    over = sum(math.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(tops))
    assert between(walls, tops[0], tops[4]) == pytest.approx(over)
    assert between(walls, tops[0], tops[2]) == pytest.approx(5.0 + math.hypot(3.0, 1.0))
    assert len(walls.corner_m) == 5


def test_only_some_corners(angle: Walls) -> None:
    some = angle.with_corners(np.array([2, 0]))
    assert list(corners(some)) == [(9.0, 4.0), (5.0, 0.0)]
    assert corners(some)[9.0, 4.0] == (180.0, 360.0)
    assert some.at_corner.tolist() == [[False, True], [True, False]]
    assert some.between_m[0, 1] == pytest.approx(math.hypot(4.0, 4.0))


def test_what_sees_a_corner(angle: Walls) -> None:
    """Each end of the angle, its joint only from the wide side; a point on an edge sees past it."""
    points = line((0.0, 3.0), (8.0, 1.0), (9.0, 9.0), (5.0, 2.0), (4.9995, 2.0))
    place = {at: index for index, at in enumerate(corners(angle))}
    found = angle.sees_corner(points)
    assert found[:, place[5.0, 4.0]].tolist() == [True, False, True, True, True]
    assert found[:, place[5.0, 0.0]].tolist() == [True, True, False, True, True]
    assert found[:, place[9.0, 4.0]].tolist() == [False, True, True, True, True]


def test_clear_each_to_each() -> None:
    wall = walls_from([line((5.0, 0.0), (5.0, 4.0)), line((7.0, 0.0), (7.0, 4.0))])
    start = line((0.0, 2.0), (0.0, 5.0), (5.0, 2.0), (5.0, 2.0), (6.0, 2.0))
    end = line((6.0, 2.0), (6.0, 5.0), (6.0, 2.0), (9.0, 2.0), (7.0, 2.0))
    assert clear(wall, start, end).tolist() == [False, True, True, False, True]


# Joints and feet.


def test_points_within_a_millimetre_are_one() -> None:
    walls = walls_from(
        [
            line((0.0, 0.0), (4.0, 0.0)),
            line((4.0, 0.0009), (4.0, 3.0)),
            line((4.0, 3.0), (4.0, 0.0)),
        ]
    )
    assert edges(walls) == {((0.0, 0.0), (4.0, 0.0)), ((4.0, 0.0), (4.0, 3.0))}
    assert len(walls_from([line((0.0, 0.0), (0.00095, 0.0))]).start_m) == 0
    assert len(walls_from([line((0.0, 0.0), (0.00105, 0.0))]).start_m) == 1
    # An edge shorter than that is none, and what stands 2 mm off is a point of its own.
    walls = walls_from([line((0.0, 0.0), (0.0, 0.0005)), line((0.0, 0.002), (0.0, 3.0))])
    assert edges(walls) == {((0.0, 0.002), (0.0, 3.0))}
    assert len(walls_from([]).start_m) == 0
    assert walls_from([]).corner_m.shape == (0, 2)


def test_an_end_by_another_end_is_joined() -> None:
    """30 mm from end to end: a short edge between; 80 mm: a gap."""
    walls = walls_from([line((0.0, 0.0), (5.0, 0.0)), line((5.03, 0.0), (9.0, 0.0))])
    assert edges(walls) == {
        ((0.0, 0.0), (5.0, 0.0)), ((5.0, 0.0), (5.03, 0.0)), ((5.03, 0.0), (9.0, 0.0)),
    }  # fmt: skip
    assert set(corners(walls)) == {(0.0, 0.0), (9.0, 0.0)}
    apart = walls_from([line((0.0, 0.0), (5.0, 0.0)), line((5.08, 0.0), (9.0, 0.0))])
    assert len(corners(apart)) == 4
    # Beside an upright: to its foot, whichever way that is drawn.
    for upright in (line((5.03, 0.0), (5.03, 4.0)), line((5.03, 4.0), (5.03, 0.0))):
        assert edges(walls_from([line((0.0, 0.0), (5.0, 0.0)), upright])) == {
            ((0.0, 0.0), (5.0, 0.0)), ((5.0, 0.0), (5.03, 0.0)), ((5.03, 0.0), (5.03, 4.0)),
        }  # fmt: skip


@pytest.mark.parametrize("from_left", [False, True])
def test_an_end_by_the_middle_of_another_edge_is_joined(from_left: bool) -> None:
    """40 mm off: a foot at its share of the edge; on it: the edge is cut in two there."""
    ends: tuple[Point, Point] = ((2.0, 0.0), (10.0, 4.0))
    floor = line(*(ends if from_left else ends[::-1]))
    normal = line((-1.0, 2.0))[0] / math.sqrt(5.0)
    foot = line((8.0, 3.0))[0]
    near, top = foot + 0.04 * normal, foot + 3.0 * normal
    walls = walls_from([floor, np.stack([near, top])])

    def key(point: FloatArray) -> Point:
        return (round(float(point[0]), 6), round(float(point[1]), 6))

    def pair(a: Point, b: Point) -> tuple[Point, ...]:
        return tuple(sorted((a, b)))

    assert edges(walls) == {
        pair(ends[0], key(foot)), pair(key(foot), ends[1]),
        pair(key(near), key(foot)), pair(key(near), key(top)),
    }  # fmt: skip
    assert set(corners(walls)) == {*ends, key(top)}
    # Nothing slips through the joint, whichever side it comes from.
    on = walls_from([floor, np.stack([foot + 0.0005 * normal, top])])
    assert len(on.start_m) == 3
    assert len(corners(on)) == 3
    # 60 mm off it stands free.
    free = walls_from([floor, np.stack([foot + 0.06 * normal, top])])
    assert len(free.start_m) == 2
    assert len(corners(free)) == 4


def test_a_joint_near_another_edge_is_no_free_end() -> None:
    """Where two edges already meet, 40 mm are a gap: only a free end closes one."""
    floor = line((0.0, 0.0), (10.0, 0.0))
    bent = walls_from([floor, line((4.0, 2.0), (5.0, 0.04), (6.0, 2.0))])
    assert len(bent.start_m) == 3
    touching = walls_from([floor, line((4.0, 2.0), (5.0, 0.0005), (6.0, 2.0))])
    assert len(touching.start_m) == 4


@pytest.mark.parametrize("floor_first", [False, True])
def test_the_nearest_of_two_edges_is_joined(floor_first: bool) -> None:
    """An end 40 mm over a floor and 20 mm beside a wall is joined to the wall."""
    both = [line((0.0, 0.0), (10.0, 0.0)), line((5.02, -1.0), (5.02, 3.0))]
    walls = walls_from([*(both if floor_first else both[::-1]), line((4.0, 1.0), (5.0, 0.04))])
    assert ((5.0, 0.04), (5.02, 0.04)) in edges(walls)
    assert ((5.02, 0.04), (5.02, 3.0)) in edges(walls)
    assert ((0.0, 0.0), (10.0, 0.0)) in edges(walls)


# The ground.


def test_corners_of_the_ground_open_upwards_only() -> None:
    """A crest is a corner, a valley is none; the ends stand on solid ground."""
    floor = line((0.0, 0.0), (4.0, 1.0), (8.0, 0.0), (12.0, 1.0))
    walls = walls_from([floor], ground_m=[floor])
    assert feet(walls) == {(0.0, 0.0), (12.0, 1.0)}
    assert set(corners(walls)) == {(0.0, 0.0), (4.0, 1.0), (12.0, 1.0)}
    # The same line in the air: its valley is a corner from beneath.
    assert len(corners(walls_from([floor]))) == 4
    # Of a wall on the ground the top is a corner, the foot is none.
    wall = line((6.0, 0.5), (6.0, 4.0))
    standing = walls_from([floor, wall], ground_m=[floor])
    assert set(corners(standing)) == {(0.0, 0.0), (4.0, 1.0), (12.0, 1.0), (6.0, 4.0)}
    # A tread that hangs over: the nose is open upwards, its underside joint is no corner.
    riser = line((0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (8.0, 1.0))
    assert set(corners(walls_from([riser], ground_m=[riser]))) == {
        (0.0, 0.0), (4.0, 1.0), (8.0, 1.0),
    }  # fmt: skip


def test_the_foot_of_a_step_down_is_no_corner() -> None:
    """Beyond the drop at 4 m nothing bends at its foot, only at its edge."""
    pit = line((0.0, 1.0), (4.0, 1.0), (4.0, 0.0), (8.0, 0.0))
    assert set(corners(walls_from([pit], ground_m=[pit]))) == {(0.0, 1.0), (4.0, 1.0), (8.0, 0.0)}


def test_what_hangs_level_with_the_ground_or_over_its_end_is_no_ground() -> None:
    """Lower ends of two beams: one as high as the last row's floor, one over the first row."""
    floor = line((4.0, 0.0), (10.0, 3.0))
    beams = [line((7.0, 3.0), (7.0, 9.0)), line((4.0, 5.0), (4.0, 9.0))]
    found = set(corners(walls_from([floor, *beams], ground_m=[floor])))
    assert {(7.0, 3.0), (7.0, 9.0), (4.0, 5.0), (4.0, 9.0)} < found


def test_a_surface_hung_from_the_ground_is_open_beneath() -> None:
    """A plate under the ground's line keeps its own corners, above ground or not."""
    floor = line((0.0, 0.0), (10.0, 0.0))
    plate = line((14.0, -3.0), (16.0, -3.0))
    found = walls_from([floor, plate], ground_m=[floor])
    assert {(14.0, -3.0), (16.0, -3.0)} < set(corners(found))


STALLS = Seating("stalls", line((4.0, 0.0), (7.0, 0.0), (10.0, 0.6)))
TIER = Seating("tier", line((14.0, 2.0), (15.0, 2.3), (20.0, 4.0)))
BALCONY = Seating("balcony", line((8.0, 5.0), (9.0, 5.0), (16.0, 7.0)))
GROUND = {(4.0, 0.0), (10.0, 0.6), (14.0, 2.0), (20.0, 4.0)}


def test_the_lowest_floors_stand_on_solid_ground() -> None:
    """Whatever their order; a floor over another is a slab."""
    for order in ((STALLS, TIER, BALCONY), (BALCONY, TIER, STALLS), (TIER, BALCONY, STALLS)):
        walls = walls_of(order)
        assert feet(walls) == GROUND
        assert {(8.0, 5.0), (16.0, 7.0)} < set(corners(walls))
    # One after another with a riser between them: both are ground, their common x is no overlap.
    next_one = Seating("rear", line((10.0, 1.0), (13.0, 1.5)))
    for two in ((STALLS, next_one), (next_one, STALLS)):
        walls = walls_of(two)
        assert feet(walls) == {(4.0, 0.0), (10.0, 0.6), (13.0, 1.5)}
        assert ((10.0, 0.6), (10.0, 1.0)) in edges(walls)
    before = Seating("front", line((1.0, 0.2), (4.0, 0.2)))
    assert (1.0, 0.2) in feet(walls_of((STALLS, before)))
    # Over a part of the ground only, before or behind, it is a slab all the same.
    for over in (line((1.0, 0.7), (3.0, 0.7), (5.0, 0.7)), line((8.0, 1.0), (13.0, 2.0))):
        assert feet(walls_of((STALLS, Seating("over", over)))) == {(4.0, 0.0), (10.0, 0.6)}
    # Over a slab that reaches past the ground: a gallery over a circle stands on nothing.
    circle = Seating("circle", line((9.0, 4.0), (13.0, 5.0)))
    for start in (9.5, 10.5):
        gallery = Seating("gallery", line((start, 8.0), (14.0, 9.0)))
        assert feet(walls_of((STALLS, circle, gallery))) == {(4.0, 0.0), (10.0, 0.6)}
    # By the mean height, not by the first row's.
    steep = Seating("steep", line((8.0, -0.5), (12.0, 9.0)))
    assert feet(walls_of((steep, STALLS))) == {(4.0, 0.0), (10.0, 0.6)}


@pytest.mark.parametrize(
    ("foot", "stands"),
    [
        ((2.0, 0.0), True),
        ((2.0, SEAL_M), True),
        ((2.0, SEAL_M + 0.002), False),
        ((2.0, -1.0), True),
        # The ground's nearest end counts: 0.6 m at 10 m, 2 m at 14 m.
        ((11.0, 1.5), False),
        ((13.0, 1.5), True),
        ((13.0, 2.2), False),
        ((22.0, 3.5), True),
        ((22.0, 4.5), False),
        # Beneath a floor it is within the ground.
        ((8.0, -1.0), False),
        ((5.0, -1.0), False),
        ((14.5, -1.0), False),
    ],
)
@pytest.mark.parametrize("foot_first", [False, True])
def test_a_surface_stands_where_its_foot_is_level_with_the_ground(
    foot: Point, stands: bool, foot_first: bool
) -> None:
    ends = (foot, (foot[0] + 0.5, 12.0), (foot[0] + 1.0, 12.5))
    wall = Surface("wall", line(*(ends if foot_first else ends[::-1])))
    walls = walls_of((STALLS, TIER, BALCONY), (wall,))
    assert feet(walls) == (GROUND | {foot} if stands else GROUND)


def test_without_seatings_nothing_stands() -> None:
    wall = Surface("wall", line((2.0, 0.0), (2.0, 3.0)))
    assert feet(walls_of((), (wall,))) == set()
    assert set(corners(walls_of((), (wall,)))) == {(2.0, 0.0), (2.0, 3.0)}


# Losses and their bounds.


def screening(walls: Walls, *ears: Point) -> Screening:
    x, z = line(*ears).T
    return Screening(walls=walls, row_x_m=x, row_z_m=z, midband_hz=BANDS_HZ, c_m_s=C_M_S)


HALL = walls_of((STALLS, TIER, BALCONY), (Surface("front", line((8.0, 5.0), (8.0, 5.9))),))
HEARD = screening(HALL, (4.0, 1.2), (10.0, 1.8), (14.0, 3.2), (20.0, 5.2), (9.0, 6.2), (16.0, 8.2))


def test_bounds_are_those_of_the_ways() -> None:
    """Over discs about boxes, one box and row after another, from the ways round corners."""
    rng = np.random.default_rng(4)
    low = rng.uniform((-6.0, 0.5), (16.0, 12.0), (60, 2))
    high = low + rng.choice([0.0, 0.02, 0.2, 1.0, 4.0], (60, 2))
    least, largest = HEARD.bounds_db((low[:, 0], high[:, 0]), (low[:, 1], high[:, 1]))
    lit, capped = lit_margin_m(BANDS_HZ, c_m_s=C_M_S), capped_from_m(BANDS_HZ, c_m_s=C_M_S)
    onward = HEARD._onward_m
    through = 0
    for box in range(60):
        centre = 0.5 * (low[box] + high[box])
        radius = 0.5 * math.hypot(*(high[box] - low[box]))
        middle = HEARD.path_difference_m(*centre)
        gap = min(
            float(np.hypot(*(a + share * (b - a) - centre)))
            for a, b in zip(HALL.start_m, HALL.end_m, strict=True)
            for share in [float(np.clip(np.dot(centre - a, b - a) / np.dot(b - a, b - a), 0, 1))]
        )
        if radius > 0.0 and gap <= radius + 1e-3:
            through += 1
            assert (least[box] == 0.0).all()
            assert (largest[box] == 20.0).all()
            continue
        ways = ways_round(
            HALL.corner_m, onward, HEARD._row_m,
            centre_m=centre[np.newaxis], radius_m=np.array([radius]),
            disc=np.zeros(6, dtype=np.intp), row=np.arange(6), middle_m=middle,
            lit_m=lit, capped_m=capped,
        )  # fmt: skip
        moved = ways.most_moved_m(np.full(6, radius))
        held = np.clip(middle, -lit, capped)
        lower = np.maximum(held - moved, np.minimum(held, middle - 2.0 * radius))
        upper = np.minimum(held + moved, np.maximum(held, middle + 2.0 * radius))
        for bound, difference in ((least, lower), (largest, upper)):
            np.testing.assert_allclose(
                bound[box], screening_loss_db(difference, BANDS_HZ, c_m_s=C_M_S), atol=1e-9
            )
    assert 4 < through < 50


def test_never_hides_is_certain_or_says_no() -> None:
    """In clear light it says yes, however large; where one corner of the range is hidden, no."""
    wall = walls_from([line((5.0, -20.0), (5.0, 4.0))], standing_m=[line((5.0, -20.0))[0]])
    found = screening(wall, (10.0, 1.0))
    # From x = 0 the edge is met at 7 m; from 8.4 m the detour is 42 mm, over 34 mm of margin.
    assert found.never_hides((0.0, 0.0), (8.4, 12.0))
    assert found.never_hides((-1.0, 0.0), (9.0, 12.0))
    assert not found.never_hides((0.0, 0.0), (6.0, 12.0))
    assert not found.never_hides((0.0, 0.0), (1.0, 2.0))
    # From 6 m further away the edge is met at 10.6 m, at 3 m on this side of it at 5.2 m.
    assert not found.never_hides((-6.0, 3.0), (8.4, 12.0))
    assert not found.never_hides((3.0, -6.0), (8.4, 12.0))
    assert found.never_hides((3.0, 3.0), (6.0, 12.0))
    assert not found.never_hides((3.0, 3.0), (5.0, 12.0))
    # Nor is it certain right beside the margin, where the loss is nil but no bound is.
    margin = next(z for z in np.arange(7.0, 9.0, 1e-3) if not found.loss_db(0.0, float(z)).any())
    assert not found.loss_db(np.zeros(99), np.linspace(margin + 1e-5, 12.0, 99)).any()
    assert not found.never_hides((0.0, 0.0), (margin + 1e-5, 12.0))
    # One row that is hidden among others that never are.
    among = screening(wall, (3.0, 8.0), (10.0, 1.0), (10.0, 12.0))
    assert not among.never_hides((0.0, 0.0), (6.0, 12.0))
    assert among.never_hides((0.0, 0.0), (8.4, 12.0))


def test_nothing_slips_through_a_joint(angle: Walls) -> None:
    """From within the angle to an ear outside: round one of its ends, never by its joint."""
    source, ear = (8.0, 1.0), (3.0, 5.5)
    way = min(math.dist(source, end) + math.dist(end, ear) for end in ((5.0, 0.0), (9.0, 4.0)))
    found = screening(angle, ear).path_difference_m(*source)
    assert found[0] == pytest.approx(way - math.dist(source, ear))
    back = screening(angle, source).path_difference_m(*ear)
    assert back[0] == pytest.approx(way - math.dist(source, ear))


def test_bounds_of_a_single_placement_are_its_losses() -> None:
    """On a wall, too, where a box with any extent would promise nothing."""
    x, z = np.array([8.0, 0.0, 3.0]), np.array([5.5, 6.0, 1.0])
    for bound in HEARD.bounds_db((x, x), (z, z)):
        np.testing.assert_allclose(bound, HEARD.loss_db(x, z), atol=1e-9)


def test_within_a_range_that_a_wall_passes_through() -> None:
    """The balcony's front stands in the middle of the range, the floor at its foot."""
    rng = np.random.default_rng(2)
    for ranges in (((7.0, 9.5), (4.5, 6.5)), ((5.0, 8.5), (0.5, 5.5)), ((12.0, 16.0), (1.0, 9.0))):
        near = HEARD.within(*ranges)
        (x_low, x_high), (z_low, z_high) = ranges
        x, z = rng.uniform(x_low, x_high, 300), rng.uniform(z_low, z_high, 300)
        np.testing.assert_allclose(near.loss_db(x, z), HEARD.loss_db(x, z), atol=1e-9)


def test_within_asks_only_what_can_matter() -> None:
    """High before the house, no way bends first round the far wall's corners or beneath."""
    rng = np.random.default_rng(9)
    ranges = ((-1.0, 1.0), (8.0, 9.0))
    near = HEARD.within(*ranges)
    assert near.first is not None
    assert 0 < len(near.first) < len(HALL.corner_m)
    assert near.whole is HEARD
    x, z = rng.uniform(-1.0, 1.0, 200), rng.uniform(8.0, 9.0, 200)
    np.testing.assert_allclose(near.loss_db(x, z), HEARD.loss_db(x, z), atol=1e-9)
    # Narrower still from there: the whole stays the whole.
    nearer = near.within((0.0, 0.5), (8.2, 8.4))
    assert nearer.whole is HEARD
    assert nearer.first is not None
    assert set(nearer.first.tolist()) <= set(near.first.tolist())
    x, z = rng.uniform(0.0, 0.5, 200), rng.uniform(8.2, 8.4, 200)
    np.testing.assert_allclose(nearer.loss_db(x, z), HEARD.loss_db(x, z), atol=1e-9)
    far = (np.array([-4.0, 3.0, 0.0, 0.0, -4.0, 9.0]), np.array([8.5, 8.5, 2.0, 11.0, 1.0, 9.0]))
    np.testing.assert_array_equal(nearer.loss_db(*far), HEARD.loss_db(*far))
    np.testing.assert_array_equal(nearer.path_difference_m(*far), HEARD.path_difference_m(*far))
    for left, right in ((-4.0, 0.2), (0.2, 4.0)):
        # One box within the range, one that leaves it.
        box = (
            (np.array([0.2, left]), np.array([0.2, right])),
            (np.array([8.3, 8.3]), np.array([8.3, 8.3])),
        )
        for found, known in zip(nearer.bounds_db(*box), HEARD.bounds_db(*box), strict=True):
            np.testing.assert_array_equal(found, known)


@pytest.mark.parametrize("seed", range(6))
def test_within_a_wide_range_far_from_the_datum(seed: int) -> None:
    """Walls strewn over and beside a range of 30 m by 9 m, some 200 m along."""
    rng = np.random.default_rng(seed)
    lines = [
        start + np.vstack([(0.0, 0.0), rng.uniform(-3.0, 3.0, (2, 2))])
        for start in rng.uniform((200.0, 1.0), (240.0, 11.0), (9, 2))
    ]
    ears = rng.uniform((215.0, 1.0), (250.0, 6.0), (6, 2))
    found = screening(walls_from(lines), *((float(x), float(z)) for x, z in ears))
    for ranges in (((200.0, 230.0), (2.0, 11.0)), ((205.0, 206.0), (2.0, 3.0))):
        (x_low, x_high), (z_low, z_high) = ranges
        x, z = rng.uniform(x_low, x_high, 1500), rng.uniform(z_low, z_high, 1500)
        near = found.within(*ranges)
        np.testing.assert_allclose(near.loss_db(x, z), found.loss_db(x, z), atol=1e-9)


def test_within_a_range_that_reaches_just_behind_a_wall() -> None:
    """A shelf lies 2 mm into a range of 40 mm: from beneath it the way is round its ends."""
    found = screening(walls_from([line((-0.5, 0.0018), (1.5, 0.0018))]), (0.5, 5.0))
    near = found.within((0.0, 1.0), (0.0, 0.04))
    loss = found.loss_db(0.5, 0.0003)
    assert 10.0 < float(loss[0, 0]) < 19.0
    np.testing.assert_allclose(near.loss_db(0.5, 0.0003), loss, atol=1e-9)
    assert near.loss_db(0.5, 0.03).max() == 0.0


def test_a_place_outside_what_is_lit_is_asked_of_the_whole() -> None:
    """One loudspeaker over the screen's shadow and one in it, asked together and alone."""
    whole = screening(walls_from([line((5.0, 0.0), (5.0, 4.0))]), (10.0, 1.2), (20.0, 1.2))
    lit = whole.lit_within((0.0, 0.0), (9.0, 12.0))
    for height_m in (10.0, 2.0, [10.0, 2.0], [2.0, 10.0], [2.0, 2.5], [10.0, 11.0]):
        np.testing.assert_array_equal(lit.loss_db(0.0, height_m), whole.loss_db(0.0, height_m))
    assert whole.loss_db(0.0, 2.0).min() > 5.0
    assert not whole.loss_db(0.0, 10.0).any()

"""Reflections and landings by hand, at the edges of what is sent back and met."""

import math

import numpy as np
import pytest
from plain_air import tones

from aiming.base.arrays import FloatArray, frozen
from aiming.field.reflections import ReflectedPaths, first_reflections, landing
from aiming.field.walls import walls_of
from aiming.geometry.section import Seating, Surface
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

C_M_S = 343.2
BANDS = (1000.0, 4000.0)
ROUND = Pattern(frozen([-180.0, 180.0]), BANDS, frozen(np.zeros((2, 2))), "round")
Point = tuple[float, float]


def line(*points: Point) -> FloatArray:
    return np.array(points, dtype=np.float64)


def sent_back(
    *surfaces: Surface,
    points: FloatArray,
    source: Point = (0.0, 6.0),
    air: FloatArray | None = None,
    loss_db: FloatArray | float = 0.0,
) -> ReflectedPaths:
    return first_reflections(
        ROUND,
        Placement(*source, 0.0),
        points,
        surfaces=surfaces,
        walls=walls_of((), surfaces),
        air_loss=tones(np.zeros(2) if air is None else air),
        c_m_s=C_M_S,
        direct_loss_db=loss_db,
    )


CEILING = Surface("ceiling", line((-5.0, 10.0), (30.0, 10.0)), absorption=0.9)
BACK = Surface("back", line((20.0, 0.0), (20.0, 9.0)))


def test_several_points_and_surfaces_each_with_its_own() -> None:
    """By surface, then by point: ways, delays, absorption, air and shadow of each."""
    points = line((12.0, 2.0), (6.0, 1.0))
    air, loss = np.array([0.01, 0.1]), np.array([[1.0, 2.0], [3.0, 4.0]])
    found = sent_back(BACK, CEILING, points=points, air=air, loss_db=loss)
    assert found.surface.tolist() == [0, 0, 1, 1]
    assert found.point.tolist() == [0, 1, 0, 1]
    images = {0: (40.0, 6.0), 1: (0.0, 14.0)}
    for k in range(4):
        x, z = points[found.point[k]]
        image = images[int(found.surface[k])]
        way, direct = math.hypot(x - image[0], z - image[1]), math.hypot(x, z - 6.0)
        assert found.distance_m[k] == pytest.approx(way)
        assert found.delay_ms[k] == pytest.approx(1000.0 * (way - direct) / C_M_S)
        for band in range(2):
            expected = (
                -20.0 * math.log10(way / direct)
                - air[band] * (way - direct)
                + (10.0 * math.log10(0.1) if found.surface[k] else 0.0)
                + loss[band, found.point[k]]
            )
            assert found.level_db[band, k] == pytest.approx(expected)


def test_how_much_later_than_the_direct_sound() -> None:
    """Off the ceiling to (12, 2): √(12² + 12²) − √(12² + 4²) = 4.32 m, 12.59 ms later."""
    found = sent_back(CEILING, points=line((12.0, 2.0)))
    assert found.delay_ms == pytest.approx([12.59], abs=0.01)


def test_two_reflections_of_one_surface_at_one_point_are_two() -> None:
    """A ceiling with two slopes sends from both; two points off one joint are two as well."""
    roof = Surface("roof", line((0.0, 10.0), (10.0, 12.0), (20.0, 10.0)))
    found = sent_back(roof, points=line((20.0, 6.0)))
    assert found.point.tolist() == [0, 0]
    assert found.at_m[0, 0] != pytest.approx(found.at_m[1, 0], abs=1.0)
    assert found.distance_m[0] <= found.distance_m[1]
    flat = Surface("flat", line((0.0, 10.0), (6.0, 10.0), (30.0, 10.0)))
    both = sent_back(flat, points=line((12.0, 6.0), (12.0, 6.0), (24.0, 6.0)))
    assert both.point.tolist() == [0, 1, 2]
    # Two surfaces that share the joint: one from each.
    left = Surface("left", line((0.0, 10.0), (6.0, 10.0)))
    right = Surface("right", line((6.0, 10.0), (30.0, 10.0)))
    assert sent_back(left, right, points=line((12.0, 6.0))).surface.tolist() == [0, 1]


def test_at_the_very_ends_of_a_surface() -> None:
    """Mirrored at z = 10 the way from (0, 6) to (12, 6) meets it at x = 6 exactly."""
    points = line((12.0, 6.0))
    for x_m, count in (((6.0, 9.0), 1), ((2.0, 6.0), 1), ((6.01, 9.0), 0), ((2.0, 5.99), 0)):
        piece = Surface("piece", line((x_m[0], 10.0), (x_m[1], 10.0)))
        assert len(sent_back(piece, points=points)) == count


def test_nothing_off_a_surface_that_one_lies_on_or_that_has_no_length() -> None:
    on_it = line((12.0, 10.0 - 0.0005), (12.0, 10.0 - 0.002), (12.0, 11.0))
    assert sent_back(CEILING, points=on_it).point.tolist() == [1]
    assert len(sent_back(CEILING, points=line((12.0, 6.0)), source=(0.0, 9.9995))) == 0
    assert len(sent_back(CEILING, points=line((12.0, 6.0)), source=(0.0, 10.0005))) == 0
    assert len(sent_back(CEILING, points=line((12.0, 6.0)), source=(0.0, 9.998))) == 1
    dot = Surface("dot", line((6.0, 10.0), (6.0, 10.0008)))
    assert len(sent_back(dot, points=line((12.0, 6.0)))) == 0
    # Beside one that has: the rest is as if it were not there.
    bent = Surface("bent", line((6.0, 10.0), (6.0, 10.0008), (30.0, 10.0008)))
    assert sent_back(bent, BACK, points=line((14.0, 6.0))).surface.tolist() == [0, 1]
    twice = Surface("twice", line((2.0, 10.0), (2.0, 10.0), (30.0, 10.0)))
    assert sent_back(twice, points=line((12.0, 6.0))).distance_m.tolist() == [math.hypot(12, 8)]
    # From above as well as from below.
    over = sent_back(CEILING, points=line((12.0, 14.0)), source=(0.0, 14.0))
    assert over.distance_m[0] == pytest.approx(math.hypot(12.0, 8.0))
    assert len(sent_back(Surface("cloth", CEILING.line_m, 1.0), points=line((12.0, 6.0)))) == 0


def test_a_slanting_surface() -> None:
    """Mirrored in x + z = 20, the loudspeaker at (0, 6) is at (14, 20)."""
    slant = Surface("slant", line((20.0, 0.0), (6.0, 14.0)))
    found = sent_back(slant, points=line((4.0, 5.0)))
    way = math.hypot(10.0, 15.0)
    assert found.distance_m[0] == pytest.approx(way)
    # On x + z = 20 between (14, 20) and (4, 5): 34 − 25·s = 20.
    np.testing.assert_allclose(found.at_m[0], [14.0 - 10.0 * 0.56, 20.0 - 15.0 * 0.56])


def test_a_way_hidden_before_or_after_it_is_sent_back() -> None:
    """The ceiling is met at x = 6: a curtain at x = 3 stops the way there, at 9 the way back."""
    points = line((12.0, 6.0))
    for x in (3.0, 9.0):
        curtain = Surface("curtain", line((x, 7.0), (x, 9.0)), absorption=1.0)
        assert len(sent_back(CEILING, curtain, points=points)) == 0
        aside = Surface("curtain", line((x, 6.5), (x, 7.5)), absorption=1.0)
        assert len(sent_back(CEILING, aside, points=points)) == 1


def test_right_at_the_loudspeaker() -> None:
    """A point at the acoustic centre is read as a millimetre away."""
    found = sent_back(CEILING, points=line((0.0, 6.0)))
    assert found.distance_m[0] == pytest.approx(8.0)
    assert found.level_db[0, 0] == pytest.approx(-20.0 * math.log10(8000.0) - 10.0)


# Where the sound lands.

STALLS = Seating("stalls", line((4.0, 0.0), (10.0, 0.0), (18.0, 2.0)))
TIER = Seating("tier", line((20.0, 5.0), (24.0, 7.0), (30.0, 12.0)))


def seen_deg(source: Point, one: Point, other: Point) -> float:
    a, b = (math.atan2(z - source[1], x - source[0]) for x, z in (one, other))
    return math.degrees(abs(a - b))


def test_shares_by_the_angles_that_each_takes_up() -> None:
    """Two seatings of two pieces, two surfaces, one of two pieces: each counts for itself."""
    source = (0.0, 6.0)
    ceiling = Surface("ceiling", line((-6.0, 14.0), (2.0, 14.0), (10.0, 13.0)))
    rear = Surface("rear", line((-8.0, 0.0), (-8.0, 3.0)))
    found = landing(
        ROUND, Placement(*source, 20.0), seatings=(STALLS, TIER), surfaces=(ceiling, rear)
    )
    stalls = seen_deg(source, (4.0, 0.0), (18.0, 3.2))
    beneath = seen_deg(source, (20.0, 5.0), (20.0, 6.2))
    tier = seen_deg(source, (20.0, 6.2), (30.0, 13.2))
    under = seen_deg(source, (18.0, 3.2), (20.0, 5.0))
    assert under > 5.0  # a gap between the stalls' last ears and the tier's front: nowhere
    np.testing.assert_allclose(found.seating[0] * 360.0, [stalls, beneath + tier], atol=0.21)
    shares = [
        seen_deg(source, (-6.0, 14.0), (10.0, 13.0)),
        seen_deg(source, (-8.0, 0.0), (-8.0, 3.0)),
    ]
    np.testing.assert_allclose(found.surface[0] * 360.0, shares, atol=0.21)
    assert found.beneath[0] == 0.0
    whole = found.seating.sum(axis=1) + found.surface.sum(axis=1) + found.nowhere
    np.testing.assert_allclose(whole, 1.0, atol=1e-12)
    assert found.nowhere[0] * 360.0 == pytest.approx(
        360.0 - stalls - beneath - tier - sum(shares), abs=0.5
    )


def test_the_floor_under_the_front_ears_is_met_from_above() -> None:
    """On a tread of 0.8 m as on a long one, by a loud box as by one that is 40 dB down."""
    treads = Seating("treads", line((4.0, 0.0), (4.8, 0.0), (18.0, 0.0)))
    soft = Pattern(frozen([-180.0, 180.0]), BANDS, frozen(np.full((2, 2), -40.0)), "soft")
    for pattern in (ROUND, soft):
        found = landing(pattern, Placement(0.0, 6.0, 0.0), seatings=(treads,), surfaces=())
        seen = seen_deg((0.0, 6.0), (4.0, 0.0), (18.0, 1.2))
        np.testing.assert_allclose(found.seating[:, 0] * 360.0, seen, atol=0.21)
        np.testing.assert_array_equal(found.beneath, 0.0)


def test_a_floor_from_beneath_is_no_seating_and_a_plane_is() -> None:
    """From under a flat tier only its floor is met: all of it from beneath."""
    tier = Seating("tier", line((2.0, 5.0), (6.0, 5.0), (9.0, 5.0)))
    found = landing(ROUND, Placement(0.0, 1.0, 0.0), seatings=(tier,), surfaces=())
    floor = seen_deg((0.0, 1.0), (2.0, 5.0), (9.0, 5.0))
    heads = seen_deg((0.0, 1.0), (2.0, 6.2), (2.0, 5.0))
    assert found.beneath[0] * 360.0 == pytest.approx(floor, abs=0.21)
    assert found.seating[0, 0] * 360.0 == pytest.approx(heads, abs=0.21)


def test_energy_is_that_of_the_pattern_turned_with_the_box() -> None:
    """A lobe that is wider below: turned over, and tilted, its shares are those of its level."""
    lobe = nominal_pattern(above_deg=15.0, below_deg=40.0, bands_hz=BANDS)
    wall = Surface("wall", line((10.0, -500.0), (10.0, 6.0)))  # all the forward half below the box
    for flipped in (False, True):
        for tilt in (0.0, 12.0):
            found = landing(lobe, Placement(0.0, 6.0, tilt, flipped), seatings=(), surfaces=(wall,))
            angle = np.arange(-180.0, 180.0, 0.01) + 0.005
            own = angle - tilt
            energy = 10.0 ** (lobe.read_db(-own if flipped else own)[0] / 10.0)
            hit = (angle > -math.degrees(math.atan2(506.0, 10.0))) & (angle < 0.0)
            expected = float(energy[hit].sum() / energy.sum())
            assert found.surface[0, 0] == pytest.approx(expected, abs=2e-3)


def test_a_half_known_pattern_and_one_of_holes() -> None:
    half = Pattern(
        frozen([-90.0, 90.0]), BANDS, frozen([[0.0, 0.0], [np.nan, np.nan]]), "half known"
    )
    found = landing(half, Placement(0.0, 6.0, 0.0), seatings=(STALLS,), surfaces=())
    np.testing.assert_allclose(found.known_deg, [180.0, 0.0], atol=0.11)
    share = seen_deg((0.0, 6.0), (4.0, 0.0), (18.0, 3.2)) / 180.0
    assert found.seating[0, 0] == pytest.approx(share, abs=1.2e-3)
    assert np.isnan(found.seating[1, 0])
    assert np.isnan(found.nowhere[1])


def test_what_the_box_hangs_on_is_not_met() -> None:
    """An acoustic centre on a wall's line sends through it."""
    wall = Surface("wall", line((0.0, 0.0), (0.0, 12.0)))
    found = landing(ROUND, Placement(0.0, 6.0, 0.0), seatings=(), surfaces=(wall,))
    assert found.surface[0, 0] == 0.0
    assert found.nowhere[0] == 1.0
    just_off = landing(ROUND, Placement(-0.002, 6.0, 0.0), seatings=(), surfaces=(wall,))
    assert just_off.surface[0, 0] == pytest.approx(0.5, abs=1e-3)

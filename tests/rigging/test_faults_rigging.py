"""Ranges, lines and fittings of a hung box at their edges: closed forms worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hung_boxes import BAR, BOX, ONE, PULL

from aiming.base.units import G_M_S2 as G
from aiming.rigging import loads_at, reachable_tilt_deg
from aiming.rigging.reach import Reach, in_steps, interval_deg, joined_reach
from aiming.speaker.cabinet import Pick
from aiming.speaker.rigging import Rigging

TWO = Rigging("two points", ("front", "rear"))
AT = (0.5, 6.0)


def lines(rigging, tilt_deg=0.0, *, cabinet=BOX, at_m=AT):
    return loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg, at_m=at_m)


# --- where the lines come down


def test_the_layout_of_a_single_pick():
    held = replace(ONE, steel_height_m=9.0, structure_capacity_n=1000.0, dynamic_factor=1.4)
    layout = lines(held, -20.0)
    [point] = layout.lines
    turn = np.radians(-20.0)
    assert point.name == "front"
    assert (point.lean_deg, point.reading_n) == (0.0, pytest.approx(26.0 * G))
    assert point.x_m == pytest.approx(0.5 - 0.06 * np.cos(turn) - 0.44 * np.sin(turn))
    assert point.length_m == pytest.approx(9.0 - point.height_m)
    assert (layout.total_n, layout.shift_m) == (pytest.approx(26.0 * G), 0.0)
    assert point.on_structure_n == pytest.approx(1.4 * 26.0 * G)
    assert point.structure_utilisation == pytest.approx(1.4 * 26.0 * G / 1000.0)
    assert layout.not_counted == ("hoists", "cable")


def test_a_bar_has_its_own_line():
    layout = lines(replace(BAR, steel_height_m=9.0), -10.0)
    u = -0.17 + 0.42 * np.tan(np.radians(-10.0))
    assert layout.lines[0].name == f"bar at u = {u:.3f} m"
    assert layout.lines[0].level_reading_n == pytest.approx(26.0 * G)


def test_hoists_and_cable_one_by_one():
    only = lines(replace(TWO, hoist_mass_kg=12.0))
    assert only.total_n == pytest.approx((26.0 + 24.0) * G)
    assert only.not_counted == ("cable",)
    only = lines(replace(TWO, cable_mass_kg=4.0))
    assert only.total_n == pytest.approx(30.0 * G)
    assert only.not_counted == ("hoists",)
    shaken = replace(TWO, hoist_mass_kg=12.0, structure_capacity_n=500.0, dynamic_factor=1.5)
    for point in lines(shaken, -10.0).lines:
        expected = 1.5 * (point.reading_n + 12.0 * G) / 500.0
        assert point.structure_utilisation == pytest.approx(expected)


def test_readings_with_the_box_level():
    """(0.34 − 0.17)/0.28 of it on the front, whatever the tilt it will have."""
    front, rear = lines(TWO, -12.0).lines
    assert front.level_reading_n == pytest.approx(26.0 * G * 0.17 / 0.28)
    assert rear.level_reading_n == pytest.approx(26.0 * G * 0.11 / 0.28)
    point = replace(PULL, pull_elevation_deg=None, pulling_point_m=(-3.0, 7.0))
    level = [line.reading_n for line in lines(point, 0.0).lines]
    assert [line.level_reading_n for line in lines(point, -12.0).lines] == pytest.approx(level)


def test_a_line_that_bears_nothing_is_not_slack():
    box = replace(BOX, mass_kg=1.0, centre_of_gravity_m=(0.25, 0.0))
    box = replace(box, picks=(Pick("front", (0.25, 0.5)), Pick("rear", (-0.25, 0.5))))
    assert [line.reading_n for line in lines(TWO, cabinet=box).lines] == [G, 0.0]


def test_steel_that_is_too_low_ends_no_line():
    """Between the two hooks: the lower one reaches it; at a hook's own height there is no line."""
    tilted = lines(TWO, -20.0)
    front, rear = tilted.lines
    middle = 0.5 * (front.height_m + rear.height_m)
    low = lines(replace(TWO, steel_height_m=middle), -20.0).lines
    assert low[0].length_m == pytest.approx(middle - front.height_m)
    assert low[1].length_m is None
    at = lines(replace(TWO, steel_height_m=front.height_m), -20.0).lines[0]
    assert (at.steel_z_m, at.length_m) == (front.height_m, None)
    leaning = lines(PULL, -20.0).lines[0]
    at = lines(replace(PULL, steel_height_m=leaning.height_m), -20.0).lines[0]
    assert (at.steel_x_m, at.length_m) == (None, None)


@pytest.mark.parametrize(
    ("elevation_deg", "steel_m", "ends"),
    [
        (30.0, 9.0, True), (0.0, 9.0, False), (-4.0, 9.0, False), (-30.0, 9.0, False),
        (30.0, 5.0, False), (30.0, None, False), (135.0, 9.0, True),
    ],
)  # fmt: skip
def test_a_leaning_line_ends_at_steel_that_it_rises_to(elevation_deg, steel_m, ends):
    held = replace(PULL, pull_elevation_deg=elevation_deg, steel_height_m=steel_m)
    pulled = lines(held, -20.0).lines[1]
    assert pulled.lean_deg == pytest.approx(elevation_deg - 90.0)
    if not ends:
        assert (pulled.steel_x_m, pulled.steel_z_m, pulled.length_m) == (None, None, None)
        return
    rise = steel_m - pulled.height_m
    assert pulled.length_m == pytest.approx(rise / np.sin(np.radians(elevation_deg)))
    assert pulled.x_m - pulled.steel_x_m == pytest.approx(
        rise / np.tan(np.radians(elevation_deg)), rel=1e-9
    )


# --- ranges


def test_ranges_that_touch_are_one():
    spans = [(20.0, 30.0), (-5.0, 5.0), (5.0, 12.0), (-4.0, 0.0), (12.0 + 5e-7, 15.0)]
    found = joined_reach(spans, reason="none")
    assert found == Reach(((-5.0, 15.0), (20.0, 30.0)))
    assert joined_reach([(1.0, 2.0), (2.0 + 2e-6, 3.0)], reason="").range_deg == (1.0, 3.0)
    assert len(joined_reach([(1.0, 2.0), (2.0 + 2e-6, 3.0)], reason="").intervals_deg) == 2
    assert joined_reach([], reason="none") == Reach((), reason="none")


def test_a_step_at_the_very_end_of_a_range_counts():
    """0.3/0.1 and 0.7/0.1 are a last digit off a whole number."""
    assert in_steps(Reach(((-0.3, 0.3),)), 0.1).tilts_deg == pytest.approx(
        [-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3]
    )
    for low, high in ((-0.3, 0.3), (0.1 + 0.2, 0.7)):
        stepped = in_steps(Reach(((low, high),)), 0.1)
        assert (min(stepped.tilts_deg), max(stepped.tilts_deg)) == (low, high)
    assert in_steps(Reach(((0.01, 0.04), (0.06, 0.14))), 0.1).tilts_deg == pytest.approx([0.1])


def test_within_takes_its_own_ends():
    reach = Reach(((1.0, 1.0), (2.0, 2.0)), tilts_deg=(1.0, 2.0), holes_u_m=(0.1, 0.2))
    assert reach.within(1.0, 2.0) == reach
    assert reach.within(1.5, 2.0).holes_u_m == (0.2,)
    assert Reach(((1.0, 2.0),)).within(2.0, 3.0).intervals_deg == ((2.0, 2.0),)


@pytest.mark.parametrize(
    ("conditions", "expected"),
    [
        (((0.0, 0.0),), ((-90.0, 90.0),)),
        (((1.0, 0.0),), ((-90.0, 90.0),)),
        (((-1.0, 0.0),), ()),
        (((1.0, 1.0),), ((-45.0, 90.0),)),
        (((1.0, -1.0),), ((-90.0, 45.0),)),
        (((1.0, 1.0), (0.0, -2.0)), ((-45.0, 0.0),)),
        (((0.0, 1.0), (0.0, -1.0)), ((0.0, 0.0),)),
        (((-1.0, 1.0), (0.0, -1.0)), ()),
    ],
)
def test_half_lines_by_hand(conditions, expected):
    found = interval_deg(conditions)
    assert len(found) == len(expected)
    for one, other in zip(found, expected, strict=True):
        assert one == pytest.approx(other)


# --- one point, reached


def reached(rigging, *, cabinet=BOX, **more):
    return reachable_tilt_deg(cabinet, rigging, flipped=False, **more)


def test_a_bars_ends_where_one_of_its_picks_goes_slack():
    bar = replace(BAR, holes_u_m=(), bar_u_m=(-0.9, 0.9))
    assert reached(bar).range_deg == pytest.approx(reached(TWO).range_deg)
    assert reached(bar, least_share=0.2).range_deg == pytest.approx(
        reached(TWO, least_share=0.2).range_deg
    )
    assert reached(bar).reason == ""
    far = reached(replace(bar, bar_u_m=(0.5, 0.9)))
    assert far.range_deg is None
    assert far.reason == "at every place along the bar one of its picks goes slack"
    below = replace(bar, picks=("rear, base", "front, base"))
    box = replace(BOX, picks=(*BOX.picks, Pick("front, base", (-0.06, -0.20))))
    assert "do not lie above" in reached(below, cabinet=box).reason
    single = reached(replace(bar, picks=("front",), bar_u_m=(-0.59, 0.25)))
    assert single.range_deg == pytest.approx((-45.0, 45.0))


def test_a_bar_in_steps():
    bar = replace(BAR, holes_u_m=(), bar_u_m=(-0.25, -0.15), tilt_step_deg=4.0)
    assert reached(bar).tilts_deg == pytest.approx([-8.0, -4.0, 0.0])


def test_the_least_share_leaves_out_holes():
    """Level, the hole plumb over the centre; the front then bears 0.17/0.28."""
    bar = replace(BAR, holes_u_m=(-0.17,))
    assert reached(bar, least_share=0.39).tilts_deg == pytest.approx([0.0], abs=1e-9)
    assert reached(bar, least_share=0.40).tilts_deg == ()


def test_more_than_half_on_each_of_two_lines_is_never_held():
    rear = Rigging("two points", ("rear", "rear, base"))
    assert reached(rear).intervals_deg
    assert reached(rear, least_share=0.6).intervals_deg == ()
    assert reached(TWO, least_share=0.6).intervals_deg == ()
    assert reached(TWO, least_share=0.6).reason == (
        "at no tilt does the centre of gravity hang between the picks"
    )

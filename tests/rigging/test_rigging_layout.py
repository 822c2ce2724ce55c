"""Loads against limits, and the rigger's geometry."""

from dataclasses import replace

import numpy as np
import pytest
from hung_boxes import BOX

from aiming.base.units import G_M_S2 as G
from aiming.rigging import loads_at
from aiming.speaker.rigging import Rigging

TWO = Rigging(
    "two points",
    ("front", "rear"),
    extra_mass_kg=3.0,
    extra_at_m=(-0.17, 0.50),
    steel_height_m=9.0,
    hoist_mass_kg=12.0,
    cable_mass_kg=4.0,
    structure_capacity_n=2500.0,
)
AT = (0.5, 6.0)


def test_utilisation_whole_weight_and_dynamic_factor():
    still = loads_at(BOX, TWO, flipped=False, tilt_deg=-10.0)
    shaken = loads_at(BOX, replace(TWO, dynamic_factor=1.4), flipped=False, tilt_deg=-10.0)
    for point, more in zip(still.points, shaken.points, strict=True):
        assert point.utilisation == pytest.approx(point.tension_n / (130.0 * G * 0.5))
        assert point.whole_weight_utilisation == pytest.approx(29.0 / 65.0)
        assert more.tension_n == point.tension_n
        assert more.utilisation == pytest.approx(1.4 * point.utilisation)
    half = loads_at(BOX, replace(TWO, wll_share=0.25), flipped=False, tilt_deg=-10.0)
    assert half.points[0].utilisation == pytest.approx(2.0 * still.points[0].utilisation)


def test_no_wll_no_utilisation():
    rigging = Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=20.0)
    carrying, pulled = loads_at(BOX, rigging, flipped=False, tilt_deg=-20.0).points
    assert carrying.utilisation is not None
    assert pulled.utilisation is None
    assert pulled.whole_weight_utilisation is None


def test_ten_millimetres_of_doubt():
    """Moving the centre of gravity by 10 mm along x changes each load by just that."""
    tilt = np.radians(-10.0)
    u, w = BOX.centre_of_gravity_m
    moved = replace(BOX, centre_of_gravity_m=(u + 0.01 * np.cos(tilt), w - 0.01 * np.sin(tilt)))
    bare = replace(TWO, extra_mass_kg=0.0)
    for rigging in (
        bare,
        Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=35.0),
    ):
        one = loads_at(BOX, rigging, flipped=False, tilt_deg=-10.0)
        two = loads_at(moved, rigging, flipped=False, tilt_deg=-10.0)
        for before, after in zip(one.points, two.points, strict=True):
            change = abs(after.tension_n - before.tension_n)
            assert change == pytest.approx(before.doubt_n, rel=0.03)


def test_a_slack_line_is_signed():
    loads = loads_at(BOX, TWO, flipped=False, tilt_deg=-40.0)
    front, rear = loads.points
    assert front.tension_n < 0.0 < rear.tension_n
    assert rear.tension_n > loads.weight_n
    assert rear.whole_weight_utilisation == rear.utilisation
    assert loads.reachable is False
    layout = loads_at(BOX, TWO, flipped=False, tilt_deg=-40.0, at_m=AT)
    assert layout.lines[0].reading_n is None
    assert layout.lines[0].level_reading_n > 0.0


def test_an_eyebolt_in_the_lid_is_pulled_off_its_axis_by_the_tilt():
    for tilt, kept in ((-4.0, 1.0), (-14.0, 0.80), (14.0, 0.80), (-16.0, 0.65)):
        rigging = replace(TWO, fitting="shoulder eyebolt")
        point = loads_at(BOX, rigging, flipped=False, tilt_deg=tilt).points[1]
        assert point.off_axis_deg == pytest.approx(abs(tilt))
        assert point.kept_share == kept
        assert point.kept_utilisation == pytest.approx(point.utilisation / kept)
    plain = loads_at(
        BOX, replace(TWO, fitting="plain eyebolt"), flipped=False, tilt_deg=-10.0
    ).points[0]
    assert plain.kept_share == 0.0
    assert plain.kept_utilisation is None
    tilted_axis = replace(TWO, fitting="plain eyebolt", fitting_axis_deg=100.0)
    straight = loads_at(BOX, tilted_axis, flipped=False, tilt_deg=-10.0).points[0]
    assert straight.off_axis_deg == pytest.approx(0.0, abs=1e-5)


def test_a_pulling_line_pulls_its_own_fitting():
    rigging = Rigging(
        "pull-back",
        ("front", "rear, base"),
        pull_elevation_deg=30.0,
        fitting="shackle",
        fitting_axis_deg=180.0,
    )
    _, pulled = loads_at(BOX, rigging, flipped=False, tilt_deg=-10.0).points
    # Rearwards at 30° up is 150° from ahead; the fitting's axis turned to 170°.
    assert pulled.off_axis_deg == pytest.approx(20.0)


def test_where_the_points_come_down():
    layout = loads_at(BOX, TWO, flipped=False, tilt_deg=-20.0, at_m=AT)
    front, rear = layout.lines
    sine, cosine = np.sin(np.radians(-20.0)), np.cos(np.radians(-20.0))
    assert front.x_m == pytest.approx(0.5 - 0.06 * cosine - 0.44 * sine)
    assert front.height_m == pytest.approx(6.0 - 0.06 * sine + 0.44 * cosine)
    assert front.steel_x_m == front.x_m
    assert front.length_m == pytest.approx(9.0 - front.height_m)
    # Nose down, the front pick is the lower one.
    assert layout.difference_m == pytest.approx(0.28 * sine)
    assert layout.difference_m < 0.0
    assert layout.spacing_m == pytest.approx(0.28 * cosine)
    assert rear.length_m < front.length_m
    assert layout.total_n == pytest.approx((29.0 + 24.0 + 4.0) * G)
    assert layout.not_counted == ()
    assert front.on_structure_n == pytest.approx(front.reading_n + (12.0 + 2.0) * G)
    assert front.on_structure_n + rear.on_structure_n == pytest.approx(layout.total_n)
    assert front.structure_utilisation == pytest.approx(front.on_structure_n / 2500.0)
    assert front.reading_n + rear.reading_n == pytest.approx(29.0 * G)
    assert front.level_reading_n + rear.level_reading_n == pytest.approx(29.0 * G)


def test_what_is_not_stated_is_not_counted_and_said():
    bare = Rigging("two points", ("front", "rear"))
    layout = loads_at(BOX, bare, flipped=False, tilt_deg=0.0, at_m=AT)
    assert layout.not_counted == ("hoists", "cable")
    assert layout.lines[0].length_m is None
    assert layout.lines[0].structure_utilisation is None
    low = replace(bare, steel_height_m=6.0)
    assert loads_at(BOX, low, flipped=False, tilt_deg=0.0, at_m=AT).lines[0].length_m is None


def test_a_bar_comes_down_over_the_centre_of_gravity():
    bar = Rigging("one point", ("front", "rear"), bar_u_m=(-0.3, -0.1), bar_w_m=0.5)
    layout = loads_at(BOX, bar, flipped=False, tilt_deg=-10.0, at_m=AT)
    [point] = layout.lines
    turn = np.radians(-10.0)
    assert point.x_m == pytest.approx(0.5 - 0.17 * np.cos(turn) - 0.08 * np.sin(turn))
    assert point.reading_n == pytest.approx(26.0 * G)
    assert layout.difference_m is None


def test_a_pull_shifts_the_box_back():
    rigging = Rigging(
        "pull-back", ("front", "rear, base"), pull_elevation_deg=30.0, steel_height_m=9.0
    )
    layout = loads_at(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT)
    carrying, pulled = layout.lines
    assert layout.shift_m > 0.0
    rise = 9.0 - carrying.height_m
    assert layout.shift_m == pytest.approx(rise * np.tan(np.radians(carrying.lean_deg)))
    assert carrying.length_m == pytest.approx(np.hypot(rise, layout.shift_m))
    # Rearwards and up at 30°, as far as the steel.
    up = 9.0 - pulled.height_m
    assert pulled.steel_x_m == pytest.approx(pulled.x_m - up / np.tan(np.radians(30.0)))
    point = replace(rigging, pull_elevation_deg=None, pulling_point_m=(-3.0, 6.0))
    made_fast = loads_at(BOX, point, flipped=False, tilt_deg=-20.0, at_m=AT).lines[1]
    assert (made_fast.steel_x_m, made_fast.steel_z_m) == (-3.0, 6.0)
    assert made_fast.length_m == pytest.approx(
        np.hypot(made_fast.x_m + 3.0, made_fast.height_m - 6.0)
    )


def test_level_readings_that_cannot_be_told_are_left_out():
    """Both picks on the rear face: one above the other when level."""
    rear = Rigging("two points", ("rear", "rear, base"))
    layout = loads_at(BOX, rear, flipped=False, tilt_deg=-50.0, at_m=AT)
    assert [point.level_reading_n for point in layout.lines] == [None, None]
    assert all(point.reading_n > 0.0 for point in layout.lines)

"""Loads against limits, the rigger's geometry, and the sheet that lets them be checked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from aiming.rigging import NotChecked, bridle, hang_layout, loads_at
from aiming.rigging.body import underhung_at_m
from aiming.rigging.stack import Block, stack_stability
from aiming.rigging.working import working
from aiming.rigging.working_ground import bridle_working, stack_working
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging, Underhung
from aiming.units import G_M_S2 as G

BOX = Cabinet(
    mass_kg=26.0,
    centre_of_gravity_m=(-0.17, 0.08),
    picks=(
        Pick("front", (-0.06, 0.44), 130.0 * G),
        Pick("rear", (-0.34, 0.44), 130.0 * G),
        Pick("rear, base", (-0.34, -0.20)),
    ),
)
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
    layout = hang_layout(BOX, TWO, flipped=False, tilt_deg=-40.0, at_m=AT)
    assert layout.points[0].reading_n is None
    assert layout.points[0].level_reading_n > 0.0


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
    layout = hang_layout(BOX, TWO, flipped=False, tilt_deg=-20.0, at_m=AT)
    front, rear = layout.points
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
    assert front.on_structure_n == pytest.approx(front.reading_n + 12.0 * G)
    assert front.structure_utilisation == pytest.approx(front.on_structure_n / 2500.0)
    assert front.reading_n + rear.reading_n == pytest.approx(29.0 * G)
    assert front.level_reading_n + rear.level_reading_n == pytest.approx(29.0 * G)


def test_what_is_not_stated_is_not_counted_and_said():
    bare = Rigging("two points", ("front", "rear"))
    layout = hang_layout(BOX, bare, flipped=False, tilt_deg=0.0, at_m=AT)
    assert layout.not_counted == ("hoists", "cable")
    assert layout.points[0].length_m is None
    assert layout.points[0].structure_utilisation is None
    low = replace(bare, steel_height_m=6.0)
    assert hang_layout(BOX, low, flipped=False, tilt_deg=0.0, at_m=AT).points[0].length_m is None


def test_a_bar_comes_down_over_the_centre_of_gravity():
    bar = Rigging("one point", ("front", "rear"), bar_u_m=(-0.3, -0.1), bar_w_m=0.5)
    layout = hang_layout(BOX, bar, flipped=False, tilt_deg=-10.0, at_m=AT)
    [point] = layout.points
    turn = np.radians(-10.0)
    assert point.x_m == pytest.approx(0.5 - 0.17 * np.cos(turn) - 0.08 * np.sin(turn))
    assert point.reading_n == pytest.approx(26.0 * G)
    assert layout.difference_m is None


def test_a_pull_shifts_the_box_back():
    rigging = Rigging(
        "pull-back", ("front", "rear, base"), pull_elevation_deg=30.0, steel_height_m=9.0
    )
    layout = hang_layout(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT)
    carrying, pulled = layout.points
    assert layout.shift_m > 0.0
    rise = 9.0 - carrying.height_m
    assert layout.shift_m == pytest.approx(rise * np.tan(np.radians(carrying.lean_deg)))
    assert carrying.length_m == pytest.approx(np.hypot(rise, layout.shift_m))
    # Rearwards and up at 30°, as far as the steel.
    up = 9.0 - pulled.height_m
    assert pulled.steel_x_m == pytest.approx(pulled.x_m - up / np.tan(np.radians(30.0)))
    point = replace(rigging, pull_elevation_deg=None, pulling_point_m=(-3.0, 6.0))
    made_fast = hang_layout(BOX, point, flipped=False, tilt_deg=-20.0, at_m=AT).points[1]
    assert (made_fast.steel_x_m, made_fast.steel_z_m) == (-3.0, 6.0)
    assert made_fast.length_m == pytest.approx(
        np.hypot(made_fast.x_m + 3.0, made_fast.height_m - 6.0)
    )


def test_level_readings_that_cannot_be_told_are_left_out():
    """Both picks on the rear face: one above the other when level."""
    rear = Rigging("two points", ("rear", "rear, base"))
    layout = hang_layout(BOX, rear, flipped=False, tilt_deg=-50.0, at_m=AT)
    assert [point.level_reading_n for point in layout.points] == [None, None]
    assert all(point.reading_n > 0.0 for point in layout.points)


def results(steps):
    return {step.name: step.result for step in steps}


@pytest.mark.parametrize("flipped", [False, True])
def test_the_sheet_comes_to_the_same_loads(flipped):
    """The sheet works the derived formulas; the loads come from the numeric code."""
    two = TWO if not flipped else replace(TWO, picks=("rear, base", "rear"))
    pull = Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=30.0)
    bar = Rigging("one point", ("front", "rear"), holes_u_m=(-0.2, -0.15), bar_w_m=0.5)
    for rigging in (two, pull, bar):
        steps = working(BOX, rigging, flipped=flipped, tilt_deg=-25.0)
        loads = loads_at(BOX, rigging, flipped=flipped, tilt_deg=-25.0)
        found = results(steps)
        assert found["weight"] == pytest.approx(loads.weight_n, rel=1e-12)
        for point in loads.points:
            share = found[f"{point.name}: share of the weight"]
            assert share == pytest.approx(point.share, rel=1e-9)
            if point.utilisation is not None:
                used = found[f"{point.name}: utilisation"]
                assert used == pytest.approx(point.utilisation, rel=1e-9)
        if rigging is bar and not flipped:
            tilts = [found[name] for name in found if name.startswith("rest tilt")]
            assert sorted(tilts) == pytest.approx([one for one, _ in loads.settings])
            assert found["where the hole must be for this tilt"] == pytest.approx(loads.hole_u_m)
        if rigging is two and not flipped:
            ends = [found[f"{pick}: tilt at which it bears nothing"] for pick in ("front", "rear")]
            assert ends == pytest.approx(list(loads.tilt_range_deg))


def test_a_line_of_the_sheet_can_be_worked_by_hand():
    steps = {step.symbol: step for step in working(BOX, TWO, flipped=False, tilt_deg=-20.0)}
    front = steps["T_F"]
    assert front.formula == "W·(x_G - x_R)/(x_F - x_R)"
    worked = eval(front.numbers.replace("·", "*"))
    assert worked == pytest.approx(front.result, rel=1e-4)
    assert steps["x_F"].formula == "u_F·cos(τ) - w_F·sin(τ)"
    assert steps["x_F"].numbers == "(-0.06)·cos(-20°) - 0.44·sin(-20°)"
    assert all(step.source for step in steps.values())


def test_no_sheet_without_the_data():
    found = working(Cabinet(mass_kg=20.0), TWO, flipped=False, tilt_deg=0.0)
    assert isinstance(found, NotChecked)


def test_sheets_of_a_bridle_and_a_stack():
    found = bridle(load_n=1000.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0))
    sheet = results(bridle_working(found))
    assert sheet["leg 1: tension"] == pytest.approx(800.0)
    assert sheet["leg 2: above horizontal"] == pytest.approx(found.legs[1].elevation_deg)
    assert sheet["horizontal pull of each leg"] == pytest.approx(480.0)
    assert sheet["angle between the legs"] == pytest.approx(90.0)
    stack = stack_stability(
        (Block("box", 40.0, (0.0, 0.75), wind_area_m2=0.90, wind_z_m=0.80),),
        front_x_m=0.26,
        rear_x_m=-0.34,
        gust_speed_m_s=15.0,
        friction=0.3,
    )
    sheet = results(stack_working(stack))
    assert sheet["wind force"] == pytest.approx(stack.wind_n)
    assert sheet["over the front edge: holding over upsetting"] == pytest.approx(stack.front.safety)
    assert sheet["ballast against the rear edge"] == pytest.approx(stack.rear.ballast_kg)
    assert sheet["ballast against sliding"] == pytest.approx(stack.sliding_ballast_kg)


def test_the_sheet_lays_out_the_lines():
    pull = Rigging(
        "pull-back", ("front", "rear, base"), pull_elevation_deg=30.0, steel_height_m=9.0
    )
    for rigging in (TWO, pull):
        found = results(working(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT))
        layout = hang_layout(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT)
        for point in layout.points:
            assert found[f"{point.name}: from the datum"] == pytest.approx(point.x_m)
            assert found[f"{point.name}: height"] == pytest.approx(point.height_m)
        first = layout.points[0]
        assert found["front: hook to steel"] == pytest.approx(first.length_m)
        assert found["first pick's height less the second's"] == pytest.approx(layout.difference_m)
    assert found["front: its line at the steel"] == pytest.approx(first.steel_x_m)


def test_the_sheet_turns_the_second_box():
    below = Underhung(18.0, (-0.18, -0.2), (-0.02, -0.24), splay_deg=6.0)
    rigging = replace(TWO, below=below)
    steps = working(BOX, rigging, flipped=False, tilt_deg=-10.0)
    turned = [step.result for step in steps if step.name.startswith("second box")]
    assert turned == pytest.approx(list(underhung_at_m(below)))
    loads = loads_at(BOX, rigging, flipped=False, tilt_deg=-10.0)
    assert results(steps)["weight"] == pytest.approx(loads.weight_n)

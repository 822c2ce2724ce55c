"""Ground stacks, bridles and their sheets, at their edges: closed forms worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from aiming.base.units import G_M_S2 as G
from aiming.rigging import NotChecked, RiggingError, bridle
from aiming.rigging.bridle import leg_factor
from aiming.rigging.calculation import bridle_working, stack_working
from aiming.rigging.ground_stack import Block, stack_stability, standing_stack
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.stack import Stack, Standing

BOX = Cabinet(
    mass_kg=26.0,
    outline_m=np.array([[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]),
    centre_of_gravity_m=(-0.17, 0.08),
)
PLACE = {"flipped": False, "tilt_deg": 0.0, "at_m": (0.5, 1.4), "base_m": 1.2}


def held(*blocks, front_x_m=0.3, rear_x_m=-0.3, **more):
    return stack_stability(blocks, front_x_m=front_x_m, rear_x_m=rear_x_m, **more)


def gust_for(force_n):
    """A speed that makes this force on 1 m²: F = 1.8·½·1.25·v²."""
    return float(np.sqrt(force_n / (1.8 * 0.625)))


def windy(x=0.0, *, mass_kg=10.0, area_m2=1.0, z=1.0):
    return Block("box", mass_kg, (x, 0.5), wind_area_m2=area_m2, wind_z_m=z)


# --- a stack's margins


def test_the_least_of_wind_counts():
    """Half a newton of wind at 1 m: against 98.07 N at 0.3 m it is not nothing."""
    found = held(windy(), gust_speed_m_s=gust_for(0.5), friction=0.4)
    assert found.wind_n == pytest.approx(0.5)
    assert found.front.safety == pytest.approx(10.0 * G * 0.3 / 0.5)
    assert found.sliding_safety == pytest.approx(0.4 * 10.0 * G / 0.5)
    small = held(windy(area_m2=0.25, z=1.2), gust_speed_m_s=5.0)
    assert (small.wind_area_m2, small.wind_z_m) == pytest.approx((0.25, 1.2))


def test_a_little_short_is_short():
    """Half a newton-metre short at each edge: 0.5/(g·arm), also with an arm of 0.05 m."""
    force = (10.0 * G * 0.3 + 0.5) / 1.5
    found = held(windy(), gust_speed_m_s=gust_for(force), ballast_x_m=0.25)
    assert found.front.ballast_arm_m == pytest.approx(0.05)
    assert found.rear.ballast_arm_m == pytest.approx(0.55)
    assert found.front.ballast_kg == pytest.approx(0.5 / (G * 0.05))
    assert found.rear.ballast_kg == pytest.approx(0.5 / (G * 0.55))
    assert found.ballast_kg == found.front.ballast_kg


def test_ballast_goes_to_the_middle_of_the_base():
    found = held(windy(0.1), front_x_m=0.5, rear_x_m=-0.2)
    assert found.front.ballast_arm_m == pytest.approx(0.35)
    assert found.rear.ballast_arm_m == pytest.approx(0.35)


def test_no_wind_and_no_area():
    calm = held(Block("box", 10.0, (0.0, 0.5)), friction=0.4)
    assert (calm.wind_n, calm.wind_z_m, calm.sliding_safety) == (0.0, 0.0, None)
    assert (calm.sliding_ballast_kg, calm.ballast_kg) == (0.0, 0.0)


def test_what_catches_no_wind_and_what_catches_it_at_the_ground():
    """A block's wind area and the height of its middle are nought where they are not given."""
    none = held(Block("box", 10.0, (0.0, 0.5)), gust_speed_m_s=20.0)
    assert (none.wind_area_m2, none.wind_n) == (0.0, 0.0)
    low = held(Block("box", 10.0, (0.0, 0.5), wind_area_m2=1.0), gust_speed_m_s=20.0)
    assert (low.wind_z_m, low.front.safety) == (0.0, None)
    assert low.wind_n == pytest.approx(1.8 * 0.625 * 400.0)


def test_just_over_its_edge_nothing_is_short_yet():
    """No wind, the centre plumb over the front edge: no ballast is asked for, wherever it went."""
    found = held(Block("box", 10.0, (0.25, 0.5)), front_x_m=0.25, ballast_x_m=0.25)
    assert (found.front.margin_m, found.front.ballast_kg) == (0.0, 0.0)


def test_a_base_without_depth_is_refused():
    with pytest.raises(RiggingError, match="must lie ahead"):
        held(windy(), front_x_m=0.2, rear_x_m=0.2)


def test_the_lightest_draught_needs_the_wind_area():
    calm = standing_stack(BOX, Stack(), gust_speed_m_s=0.0, **PLACE)
    assert calm.wind_area_m2 == 0.0
    assert standing_stack(BOX, Stack(), **PLACE) == calm
    draught = standing_stack(BOX, Stack(), gust_speed_m_s=0.5, **PLACE)
    assert isinstance(draught, NotChecked)


def test_what_stands_beside_catches_wind_at_its_own_height():
    """0.3 m² of the box, whose middle is 0.32 m up, and 0.2 m² more, from the base's height."""
    for wind_z_m, height in ((1.9, 0.7), (None, 0.15)):
        riser = Standing("riser", 10.0, (0.4, 1.35), wind_area_m2=0.2, wind_z_m=wind_z_m)
        stack = Stack(wind_area_m2=0.3, also=(riser,))
        found = standing_stack(BOX, stack, gust_speed_m_s=8.0, **PLACE)
        assert found.wind_area_m2 == pytest.approx(0.5)
        assert found.wind_z_m == pytest.approx((0.3 * 0.32 + 0.2 * height) / 0.5)


def test_a_box_without_outline_catches_wind_at_its_acoustic_centre():
    bare = replace(BOX, outline_m=None)
    stack = Stack(footprint_m=(-0.4, 0.1), wind_area_m2=0.3, ground_m=0.2)
    found = standing_stack(bare, stack, gust_speed_m_s=8.0, **PLACE)
    assert found.wind_z_m == pytest.approx(1.2)
    assert found.centre_of_gravity_m == pytest.approx((-0.17, 1.28))


# --- bridles


def test_a_bridle_by_hand():
    """Legs of 3-4-5 and 5-12-13: T1·3/5 = T2·12/13, T1·4/5 + T2·5/13 = W."""
    found = bridle(load_n=630.0, drops_m=(4.0, 5.0), reaches_m=(3.0, 12.0))
    first, second = found.legs
    assert (first.length_m, second.length_m) == pytest.approx((5.0, 13.0))
    assert (first.tension_n, second.tension_n) == pytest.approx((600.0, 390.0))
    assert (first.share, second.share) == pytest.approx((600.0 / 630.0, 390.0 / 630.0))
    assert (first.leg_factor, second.leg_factor) == pytest.approx((5.0 / 4.0, 13.0 / 5.0))
    for leg in found.legs:
        assert leg.leg_factor == pytest.approx(leg_factor(leg.elevation_deg))
    assert (first.vertical_n, second.vertical_n) == pytest.approx((480.0, 150.0))
    assert found.horizontal_n == pytest.approx(360.0)
    between = np.degrees(np.arctan(3.0 / 4.0) + np.arctan(12.0 / 5.0))
    assert found.included_deg == pytest.approx(between)
    sheet = {step.name: step.result for step in bridle_working(found)}
    assert sheet["leg 1: length"] == pytest.approx(5.0)
    assert sheet["leg 2: length"] == pytest.approx(13.0)
    assert sheet["leg 2: tension"] == pytest.approx(390.0)
    assert sheet["leg 1: above horizontal"] == pytest.approx(np.degrees(np.arctan2(4.0, 3.0)))
    assert sheet["angle between the legs"] == pytest.approx(between)


@pytest.mark.parametrize("drops_m", [(1.0, 0.0), (0.0, 1.0)])
def test_a_level_leg_is_refused(drops_m):
    with pytest.raises(RiggingError, match="above the apex"):
        bridle(load_n=100.0, drops_m=drops_m, reaches_m=(1.0, 1.0))


# --- the sheet of a stack


def sheet_of(found):
    return {step.name: step.result for step in stack_working(found)}


def test_every_line_of_a_stacks_sheet():
    found = held(windy(-0.1, mass_kg=20.0), gust_speed_m_s=gust_for(60.0), friction=0.4)
    sheet = sheet_of(found)
    assert sheet["weight"] == pytest.approx(20.0 * G)
    front, rear = (f"tips by itself over the {edge} edge" for edge in ("front", "rear"))
    assert sheet[front] == pytest.approx(np.degrees(np.arctan2(0.4, 0.5)))
    assert sheet[rear] == pytest.approx(np.degrees(np.arctan2(0.2, 0.5)))
    assert sheet["sliding: friction over wind"] == pytest.approx(0.4 * 20.0 * G / 60.0)
    assert sheet["over the rear edge: holding over upsetting"] == pytest.approx(20 * G * 0.2 / 60.0)
    short = 1.5 * 60.0 - 20.0 * G * 0.2
    assert sheet["ballast against the rear edge"] == pytest.approx(short / (G * 0.3))
    assert sheet["ballast against sliding"] == pytest.approx(1.5 * 60.0 / (0.4 * G) - 20.0)
    short = 1.5 * 60.0 - 20.0 * G * 0.4
    assert sheet["ballast against the front edge"] == pytest.approx(short / (G * 0.3))


def test_a_sheet_leaves_out_what_is_not_asked():
    calm = sheet_of(held(windy(), friction=0.4))
    assert list(calm) == [
        "weight", "tips by itself over the front edge", "tips by itself over the rear edge",
    ]  # fmt: skip
    firm = sheet_of(held(windy(), gust_speed_m_s=gust_for(0.5), friction=0.9))
    assert firm["wind force"] == pytest.approx(0.5)
    assert not [name for name in firm if "ballast" in name]
    smooth = sheet_of(held(windy(), gust_speed_m_s=gust_for(100.0)))
    assert not [name for name in smooth if "sliding" in name]
    assert "ballast against the front edge" in smooth


def test_a_little_ballast_against_sliding_is_on_the_sheet():
    """Half a kilogram short: F = 0.9·(10 + 0.5)·g/1.5."""
    force = 0.9 * 10.5 * G / 1.5
    sheet = sheet_of(held(windy(), gust_speed_m_s=gust_for(force), friction=0.9))
    assert sheet["ballast against sliding"] == pytest.approx(0.5)


def test_where_no_ballast_helps_the_sheet_says_none():
    found = held(windy(), gust_speed_m_s=gust_for(100.0), ballast_x_m=0.3)
    assert found.front.ballast_kg is None
    sheet = sheet_of(found)
    assert "ballast against the front edge" not in sheet
    assert sheet["ballast against the rear edge"] == pytest.approx(found.rear.ballast_kg)

"""Bridles, weighings, headroom and hooks where one thing is left out or just reached."""

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
from hung_boxes import BAR, BOX, ONE, PULL

from aiming.base.units import G_M_S2 as G
from aiming.rigging import RiggingError, bridle, bridle_to_points, loads_at
from aiming.rigging.calculation import bridle_in_plan_working
from aiming.rigging.centre_of_gravity import Weighing, centre_found, own_centre_m
from aiming.rigging.ground_stack import stack_stopped, standing_stack
from aiming.rigging.limits import CELL_DOUBT_N, CELL_DOUBT_SHARE, DOUBT_IN_CENTRE
from aiming.rigging.lines import headroom_of, hooks_at
from aiming.speaker.rigging import Line, LinePart, Rigging
from aiming.speaker.stack import Stack

STEEL_M = 9.0
AT = (0.5, 6.0)
PARTS = (LinePart("hoist", 5000.0, 20.0, 0.45),)
TWO = Rigging("two points", ("front", "rear"), steel_height_m=STEEL_M)


def test_a_short_bridle_across_the_section() -> None:
    """Two legs of less than a metre's reach, slanting in plan: ΣM about the apex by hand."""
    way = np.array([0.6, 0.8])
    points = ((*(-0.5 * way), 1.2), (*(0.9 * way), 1.2))
    found = bridle_to_points(load_n=1400.0, apex_m=(0.0, 0.0, 0.0), points_m=points)
    near, far = found.legs
    assert (near.vertical_n, far.vertical_n) == pytest.approx((900.0, 500.0))
    assert near.horizontal_n == pytest.approx(far.horizontal_n) == pytest.approx(375.0)
    # No hardware was named: the legs are as long as the ways.
    assert (near.cut_m, far.cut_m) == pytest.approx((1.3, 1.5))
    assert near.cut_m == near.length_m and near.take_up_m == 0.0
    turned = tuple((-y, x, z) for x, y, z in points)
    again = bridle_to_points(load_n=1400.0, apex_m=(0.0, 0.0, 0.0), points_m=turned)
    assert [leg.tension_n for leg in again.legs] == pytest.approx([975.0, 625.0])


def test_three_legs_of_which_one_pulls_hardest() -> None:
    """Points at 120° around, 1, 1 and 0.5 m out, 1 m up: q as 1 : 1 : 2, so T as √2 : √2 : √5."""
    points = tuple(
        (r * float(np.cos(a)), r * float(np.sin(a)), 1.0)
        for r, a in zip((1.0, 1.0, 0.5), np.radians([0.0, 120.0, 240.0]), strict=True)
    )
    found = bridle_to_points(load_n=400.0, apex_m=(0.0, 0.0, 0.0), points_m=points)
    tensions = [leg.tension_n for leg in found.legs]
    assert tensions == pytest.approx([100.0 * sqrt(2.0), 100.0 * sqrt(2.0), 100.0 * sqrt(5.0)])
    assert found.horizontal_n == pytest.approx(100.0)
    assert max(leg.horizontal_n for leg in found.legs) == found.horizontal_n
    # cos of the angle between the two longer ones: (1 − ½)/2.
    assert found.included_deg == pytest.approx(np.degrees(np.arccos(0.25)))
    with pytest.raises(RiggingError, match="take-up"):
        bridle_to_points(
            load_n=400.0, apex_m=(0.0, 0.0, 0.0), points_m=points, take_up_m=(0.1, 0.1)
        )


def test_hardware_is_taken_off_its_own_leg() -> None:
    found = bridle(load_n=100.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0), take_up_m=(0.3, 0.1))
    assert [leg.cut_m for leg in found.legs] == pytest.approx([2.2, 2.4])


@pytest.mark.parametrize("count", [2, 3])
def test_the_sheet_of_a_bridle_in_plan_comes_to_its_tensions(count: int) -> None:
    """Solved from three equations of rest, beside the areas that the numeric code reads."""
    apex = (0.4, -0.3, 5.0)
    ways = ((1.2, 0.9, 2.0), (-0.8, -0.6, 1.5), (-0.2, -1.4, 2.5))[:count]
    points = tuple((apex[0] + x, apex[1] + y, apex[2] + z) for x, y, z in ways)
    found = bridle_to_points(load_n=700.0, apex_m=apex, points_m=points)
    steps = bridle_in_plan_working(700.0, apex, points)
    sheet = {step.name: step.result for step in steps}
    for k, (leg, way) in enumerate(zip(found.legs, ways, strict=True), start=1):
        for name, at in zip(("along", "aside", "up"), way, strict=True):
            assert sheet[f"leg {k}: from the apex, {name}"] == pytest.approx(at)
        assert sheet[f"leg {k}: length"] == pytest.approx(leg.length_m)
        assert sheet[f"leg {k}: tension"] == pytest.approx(leg.tension_n)
        assert sheet[f"leg {k}: above horizontal"] == pytest.approx(leg.elevation_deg)


def test_frame_and_load_as_heavy_as_the_whole_leave_no_cabinet() -> None:
    for frame_kg in (30.0, 31.0):
        with pytest.raises(RiggingError, match="nothing is left"):
            own_centre_m((0.0, 0.0), 30.0, ((frame_kg, (0.1, 0.1)),))
    assert own_centre_m((0.0, 0.0), 30.0, ((29.0, (0.0, 0.0)),)) == (0.0, 0.0)


def test_the_doubt_of_a_level_weighing_is_that_of_its_two_cells() -> None:
    """u = u_R + s·F/(F + R): each cell's doubt moves it by s·(the other)/(F + R)² of itself."""
    found = centre_found(
        (Weighing(0.0, 300.0, 100.0, 6.0, 4.0),), front=(0.2, 0.3), rear=(-0.3, 0.3)
    )
    assert found.u_m.doubt == pytest.approx(
        0.5 * hypot(100.0 * 6.0, 300.0 * 4.0) / 400.0**2, rel=1e-3
    )
    assert found.w_m is None and not found.usable


def test_what_a_weighing_cannot_tell() -> None:
    picks = {"front": (0.2, 0.3), "rear": (-0.3, 0.3)}
    with pytest.raises(RiggingError, match="readings"):
        centre_found((), **picks)
    with pytest.raises(RiggingError, match="neither"):
        centre_found((Weighing(0.0, None, None),), **picks)
    alone = (Weighing(0.0, 200.0, None),)
    for stated_n in (None, 199.0, 200.0):
        with pytest.raises(RiggingError):
            centre_found(alone, stated_weight_n=stated_n, **picks)
    for slack in (0.0, -1.0):
        with pytest.raises(RiggingError, match="taut"):
            centre_found((Weighing(0.0, 200.0, slack),), **picks)


@pytest.mark.parametrize("missing", ["front", "rear"])
def test_a_missing_cell_reads_what_is_left_of_the_weight(missing: str) -> None:
    """300 N in front, 100 N behind: three quarters of the way forward."""
    picks = {"front": (0.2, 0.3), "rear": (-0.3, 0.3)}
    both = Weighing(0.0, 300.0, 100.0)
    one = replace(both, **{f"{missing}_n": None})
    found = centre_found((one,), stated_weight_n=400.0, **picks)
    assert found.u_m.value == pytest.approx(0.075)
    assert found.weight_n.value == 400.0 and found.weight_n.doubt == 0.0
    whole = centre_found((both,), **picks)
    assert whole.u_m.value == pytest.approx(0.075)
    doubts = [max(CELL_DOUBT_SHARE.value * force, CELL_DOUBT_N.value) for force in (300.0, 100.0)]
    assert whole.weight_n.doubt == pytest.approx(hypot(*doubts))


def test_a_line_that_pulls_back_needs_no_steel_over_it() -> None:
    lines = (Line(PARTS),)
    under = headroom_of(BOX, replace(PULL, steel_height_m=STEEL_M, lines=lines), flipped=False)
    assert under is not None
    [front] = under.hangers
    assert (front.u_m, front.w_m, front.plumb_m) == (-0.06, 0.44, 0.0)
    assert front.parts == (("hoist", 0.45),)
    two = headroom_of(BOX, replace(TWO, lines=lines), flipped=False)
    assert two is not None and len(two.hangers) == 2
    assert headroom_of(BOX, replace(TWO, steel_height_m=None), flipped=False) is None
    assert headroom_of(None, TWO, flipped=False) is None


def test_the_hole_of_a_bar_is_plumb_over_the_centre() -> None:
    """The bar lies 0.42 m over the centre of gravity, whatever hole and tilt."""
    under = headroom_of(BOX, replace(BAR, steel_height_m=STEEL_M), flipped=False)
    assert under is not None
    [one] = under.hangers
    assert (one.u_m, one.w_m, one.plumb_m) == pytest.approx((-0.17, 0.08, 0.42))
    assert under.highest_m(0.0) == pytest.approx(STEEL_M - 0.5)


def test_hooks_are_known_without_the_centre_unless_it_decides() -> None:
    bare = replace(BOX, mass_kg=None, centre_of_gravity_m=None)
    [hook] = hooks_at(bare, ONE, flipped=False, tilt_deg=0.0, at_m=AT)
    assert (hook.name, hook.x_m, hook.height_m) == (
        "front",
        pytest.approx(0.44),
        pytest.approx(6.44),
    )
    assert hooks_at(bare, BAR, flipped=False, tilt_deg=0.0, at_m=AT) == ()
    assert hooks_at(None, TWO, flipped=False, tilt_deg=0.0, at_m=AT) == ()
    names = [one.name for one in hooks_at(bare, TWO, flipped=False, tilt_deg=-90.0, at_m=AT)]
    assert names == ["front", "rear"]
    # Nose straight down the body's u runs downwards and its w forwards.
    front = hooks_at(bare, TWO, flipped=False, tilt_deg=-90.0, at_m=AT)[0]
    assert (front.x_m, front.height_m) == pytest.approx((0.94, 6.06))


def test_a_reading_is_accepted_as_far_as_centre_and_cell_leave_it_open() -> None:
    """Level, two lines 0.28 m apart: a doubt of the centre moves W·doubt/0.28 from one to one."""
    weight_n = 26.0 * G
    loads = loads_at(BOX, TWO, flipped=False, tilt_deg=0.0, at_m=AT)
    for line, share in zip(loads.lines, (0.17 / 0.28, 0.11 / 0.28), strict=True):
        reading = share * weight_n
        assert line.reading_n == pytest.approx(reading)
        cell = max(CELL_DOUBT_SHARE.value * reading, CELL_DOUBT_N.value)
        doubt = hypot(cell, weight_n * DOUBT_IN_CENTRE.value / 0.28)
        for low, high in (line.accept_n, line.level_accept_n):
            assert (low, high) == pytest.approx((reading - doubt, reading + doubt))
    # One line carries it all wherever the centre is: only the cell may be off.
    [alone] = loads_at(BOX, ONE, flipped=False, tilt_deg=-30.0, at_m=AT).lines
    cell = max(CELL_DOUBT_SHARE.value * weight_n, CELL_DOUBT_N.value)
    assert alone.level_accept_n == pytest.approx((weight_n - cell, weight_n + cell))


def test_a_stack_stands_on_ground_below_its_base() -> None:
    place = {"flipped": False, "tilt_deg": 0.0, "at_m": (0.0, 1.4), "base_m": 1.0}
    high = Stack(footprint_m=(-0.35, 0.25), ground_m=1.01)
    with pytest.raises(RiggingError, match="above the base"):
        standing_stack(BOX, high, **place)
    level = standing_stack(BOX, replace(high, ground_m=1.0), **place)
    assert level == standing_stack(BOX, replace(high, ground_m=None), **place)


def test_a_stack_is_stopped_where_it_slides_before_its_friction_holds() -> None:
    """A tied box in a wind of 20 m/s: 250 Pa on 0.4 m², times c_f, against what friction holds."""
    place = {"flipped": False, "tilt_deg": 0.0, "at_m": (0.0, 1.4), "base_m": 1.0}
    stack = Stack(footprint_m=(-1.5, 1.5), wind_area_m2=0.4, tied=True)
    calm = standing_stack(BOX, replace(stack, friction=0.4), gust_speed_m_s=0.0, **place)
    held = standing_stack(BOX, replace(stack, friction=3.0), gust_speed_m_s=20.0, **place)
    slides = standing_stack(BOX, replace(stack, friction=0.1), gust_speed_m_s=20.0, **place)
    assert held.sliding_safety > 1.0 > slides.sliding_safety
    assert min(slides.front.safety, slides.rear.safety) > 1.0
    assert [stack_stopped(one) for one in (calm, held, slides)] == [False, False, True]


def test_a_stack_is_stopped_where_only_one_of_the_two_slides() -> None:
    """The box on what it stands on, or all of it on the ground."""
    stack = Stack(footprint_m=(-1.5, 1.5), wind_area_m2=0.4, friction=3.0)
    whole = standing_stack(
        replace(BOX, outline_m=np.array([[-0.4, -0.4], [0.1, -0.4], [0.1, 0.4], [-0.4, 0.4]])),
        stack, flipped=False, tilt_deg=0.0, at_m=(0.0, 1.4), base_m=1.0, gust_speed_m_s=5.0,
    )  # fmt: skip
    assert whole.box is not None
    box = replace(whole.box, sliding_safety=0.9)
    found = (
        replace(whole, sliding_safety=2.0),
        replace(whole, sliding_safety=0.9),
        replace(whole, sliding_safety=2.0, box=box),
    )
    assert [stack_stopped(one) for one in found] == [False, True, True]

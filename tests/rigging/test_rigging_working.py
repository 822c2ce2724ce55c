"""The calculation sheet: it comes to the numeric code's results, and can be worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hung_boxes import BOX

from aiming.rigging import NotChecked, bridle, loads_at
from aiming.rigging.body import underhung_at_m
from aiming.rigging.calculation import bridle_working, stack_working, wind_working, working
from aiming.rigging.ground_stack import Block, stack_stability, standing_stack
from aiming.rigging.wind import wind_on_hung
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.rigging import Line, LinePart, Rigging, Underhung
from aiming.speaker.stack import Stack

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


def results(steps):
    return {step.name: step.result for step in steps}


def test_the_sheet_says_what_the_parts_of_a_line_leave():
    rigging = replace(TWO, lines=(Line((LinePart("hoist", 2000.0, 20.0, 0.45),)),))
    found = results(working(BOX, rigging, flipped=False, tilt_deg=-10.0, at_m=AT))
    for line in loads_at(BOX, rigging, flipped=False, tilt_deg=-10.0, at_m=AT).lines:
        left = found[f"{line.name}: left over the parts of its line"]
        assert left == pytest.approx(line.spare_m, abs=1e-9)


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
            assert sorted(tilts) == pytest.approx([one.tilt_deg for one in loads.settings])
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
        layout = loads_at(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT)
        for point in layout.lines:
            assert found[f"{point.name}: from the datum"] == pytest.approx(point.x_m)
            assert found[f"{point.name}: height"] == pytest.approx(point.height_m)
        first = layout.lines[0]
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


CHAIN = Line((LinePart("clamp", 4000.0, 2.0, 0.12), LinePart("hoist", 2000.0, 20.0, 0.45)))


@pytest.mark.parametrize(
    "rigging",
    [
        replace(TWO, lines=(CHAIN,), hoist_mass_kg=None, dynamic_factor=1.3),
        Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=30.0, lines=(CHAIN,),
                cable_mass_kg=9.0, steel_height_m=9.0),
        Rigging("one point", ("front", "rear"), holes_u_m=(-0.2, -0.15), bar_w_m=0.5,
                lines=(CHAIN,), steel_height_m=9.0, structure_capacity_n=900.0),
    ],
)  # fmt: skip
def test_the_sheet_goes_up_to_the_structure(rigging):
    found = results(working(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT))
    lines = loads_at(BOX, rigging, flipped=False, tilt_deg=-20.0, at_m=AT).lines
    picks = ("front", "rear") if rigging.method == "two points" else ("front", "rear, base")
    for name, line in zip(picks, lines, strict=False):
        assert found[f"{name}: down on the structure"] == pytest.approx(line.structure_vertical_n)
        level = found.get(f"{name}: level on the structure", 0.0)
        assert level == pytest.approx(line.structure_horizontal_n, abs=1e-9)
        for part in line.parts:
            assert found[f"{name}, {part.name}: what hangs on it"] == pytest.approx(part.load_n)
            used = found[f"{name}, {part.name}: utilisation"]
            assert used == pytest.approx(part.utilisation)
        if line.structure_utilisation is not None:
            used = found[f"{name}: of the structure's capacity"]
            assert used == pytest.approx(line.structure_utilisation)
        spare = found.get(f"{name}: left over the parts of its line")
        assert spare is None or spare == pytest.approx(line.spare_m)


def test_the_sheet_of_wind_and_of_a_wedge():
    wind = wind_on_hung(weight_n=400.0, area_m2=0.5, gust_speed_m_s=20.0)
    found = results(wind_working(wind, 400.0))
    assert found["push of the wind"] == pytest.approx(wind.force_n)
    assert found["the lines lean from plumb"] == pytest.approx(wind.lean_deg)
    assert found["pull of all lines together"] == pytest.approx(wind.pull_n)
    crate = Cabinet(
        mass_kg=40.0, centre_of_gravity_m=(-0.2, 0.0),
        outline_m=np.array([[-0.4, -0.3], [0.0, -0.3], [0.0, 0.3], [-0.4, 0.3]]),
    )  # fmt: skip
    windy = Stack(friction=0.4, wind_area_m2=0.2)
    stack = standing_stack(crate, windy, flipped=False, tilt_deg=-12.0, at_m=(0.0, 1.0),
                           base_m=0.5, gust_speed_m_s=9.0)  # fmt: skip
    found = results(stack_working(stack))
    box = stack.box
    assert found["wedge under the rear end"] == pytest.approx(box.wedge_height_m)
    assert found["slope that it slides from"] == pytest.approx(box.slides_deg)
    name = "on its wedge: friction over what pushes it down"
    assert found[name] == pytest.approx(box.sliding_safety)
    for edge in (box.front, box.rear):
        assert found[f"the box alone tips over its {edge.name} edge"] == pytest.approx(edge.tip_deg)

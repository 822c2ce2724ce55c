"""Readings as equations: the closed form of each, its doubt, and what is said of it."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onsite_scenes import SCENARIO

import aiming
from aiming.base.errors import ScenarioError
from aiming.site.cells import cell_stops
from aiming.site.compare import as_planned, prediction_of
from aiming.site.estimate import Estimate, estimate
from aiming.site.model import Stop
from aiming.site.reading_equations import LIKELY, Box, Equation, laser_tilt_deg
from aiming.site.readings import KINDS, read_readings
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
HEAD = "reading,at,value,plus_minus\n"


def box(folder: Path, rows: str, *, plan: Placement = PLAN, scenario: str = SCENARIO) -> Box:
    (folder / "s.toml").write_text(scenario, encoding="utf-8")
    (folder / "r.csv").write_text(HEAD + rows, encoding="utf-8")
    loaded = aiming.load(folder / "s.toml")
    readings = read_readings(folder / "r.csv", unit=loaded.units)
    return Box(loaded, loaded.speakers[0], plan, readings)


def equation(folder: Path, rows: str, **options: object) -> Equation:
    plan = options.get("plan", PLAN)
    assert isinstance(plan, Placement)
    return box(folder, rows, plan=plan).equations()[0]


def left(one: Equation, *, tilt: float = -15.0, height: float = 6.0, x: float = 0.0) -> float:
    """The residual with one box."""
    return float(one.residual(np.array([tilt]), np.array([height]), np.array([x]))[0])


def found(folder: Path, rows: str) -> Estimate:
    of = box(folder, rows)
    model = prediction_of(of.scenario, of.speaker, of.plan)
    return estimate(model, None, None, of.equations())


def test_the_inclinometer_reads_its_face(tmp_path: Path) -> None:
    # The face leans 2° up from the axis: a reading of −10.5° is a tilt of −12.5°.
    face = equation(tmp_path, "inclinometer,reference face,-10.5,0.3\n")
    assert left(face, tilt=-12.5) == pytest.approx(0.0, abs=1e-9)
    assert left(face, tilt=-11.5) == pytest.approx(1.0, abs=1e-9)
    axis = equation(tmp_path, "inclinometer,axis,nose down 10.5,\n")
    assert left(axis, tilt=-10.5) == pytest.approx(0.0, abs=1e-9)
    flipped = equation(tmp_path, "inclinometer,,-10.5,\n", plan=Placement(0.0, 6.0, -15.0, True))
    assert left(flipped, tilt=-8.5) == pytest.approx(0.0, abs=1e-9)
    mirrored = face.mirrored
    assert mirrored is not None
    assert float(mirrored(np.array([8.5]), np.zeros(1), np.zeros(1))[0]) == pytest.approx(0.0)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    tilt=st.floats(-60.0, 5.0), u=st.floats(-0.5, 0.5), w=st.floats(-0.6, 0.6),
    away=st.floats(3.0, 40.0),
)  # fmt: skip
def test_a_laser_dot_gives_back_the_tilt(tilt: float, u: float, w: float, away: float) -> None:
    # Forwards: the dot lies `away` along a line parallel to the axis, from (u, w) in the box.
    turn = math.radians(tilt)
    x = u * math.cos(turn) - w * math.sin(turn) + away * math.cos(turn)
    z = u * math.sin(turn) + w * math.cos(turn) + away * math.sin(turn)
    assert float(laser_tilt_deg(np.array(x), np.array(z), w)) == pytest.approx(tilt, abs=1e-9)


def test_a_dot_on_the_floor_at_the_ears_and_on_a_wall(tmp_path: Path) -> None:
    # Floor: z = 0.1·(x − 4).  From 6 m up, laser 0.40 m above the axis.
    floor = equation(tmp_path, "laser,floor,14 m,100 mm\n")
    wanted = math.degrees(math.atan2(1.0 - 6.0, 14.0) - math.asin(0.4 / math.hypot(14.0, 5.0)))
    assert left(floor, tilt=wanted) == pytest.approx(0.0, abs=1e-9)
    # The dot moves along the floor: its elevation by (0.1·14 + 5)/(14² + 5²) rad per metre.
    per_m = math.degrees((0.1 * 14.0 + 5.0) / (14.0**2 + 5.0**2))
    assert floor.deviation == pytest.approx(math.hypot(0.1 * per_m / 1.6449, 0.05), rel=0.01)
    ears = equation(tmp_path, "laser,ears,14,0.1\n")
    assert left(ears, tilt=wanted) < -4.0
    wall = equation(tmp_path, "laser,3.5 m,19,0.1\n")
    slant = math.degrees(math.atan2(-2.5, 19.0) - math.asin(0.4 / math.hypot(19.0, 2.5)))
    assert left(wall, tilt=slant) == pytest.approx(0.0, abs=1e-9)
    assert left(wall, tilt=slant, height=6.1) > 0.2


def test_loads_give_back_the_tilt_of_the_published_case(tmp_path: Path) -> None:
    # 45 kg, picks 0.50 apart, a 0.22, b 0.28, h 0.35: at 10° nose down the front bears 139.70 N
    # and the rear 301.60 N (statics of two vertical lines, recomputed by virtual work).
    front, rear = box(tmp_path, "load,front,139.70 N,1 %\nload,rear,301.60 N,1 %\n").equations()
    # dT/dφ = W·h/(s·cos²φ), as a share of W.
    slope = 0.35 / 0.50 / math.cos(math.radians(10.0)) ** 2 * math.pi / 180.0
    assert left(front, tilt=-9.5) - left(front, tilt=-10.5) == pytest.approx(slope, rel=0.05)
    for one in (front, rear):
        assert left(one, tilt=-10.0) == pytest.approx(0.0, abs=1e-3)
        (near,) = one.near(PLAN)
        assert near.value == pytest.approx(5.0, abs=0.02)
        assert near.deviation == pytest.approx(1.5 * one.deviation / slope, rel=0.05)
    weighed = equation(tmp_path, "load,rear,30.754 kg,2 %\n")
    assert left(weighed, tilt=-10.0) == pytest.approx(0.0, abs=1e-3)


def test_at_whole_degrees_off_the_plan_a_load_is_that_of_statics(tmp_path: Path) -> None:
    # Two plumb lines: the front one bears (0.22 − 0.35·tan φ)/0.50 of the weight, nose down by φ.
    for down in (15.0, 10.0, 3.0, 25.0):
        share = (0.22 - 0.35 * math.tan(math.radians(down))) / 0.50
        front = equation(tmp_path, f"load,front,{share * 45.0 * 9.80665:.9f} N,1 %\n")
        assert left(front, tilt=-down) == pytest.approx(0.0, abs=1e-9)


def test_heights_and_x_of_points(tmp_path: Path) -> None:
    turn = math.radians(-12.0)
    rear = 5.8 - 0.5 * math.sin(turn) + 0.35 * math.cos(turn)
    at = equation(tmp_path, f"height,rear,{rear:.6f},2 mm\n")
    assert left(at, tilt=-12.0, height=5.8) == pytest.approx(0.0, abs=1e-6)
    aside = -0.5 * math.cos(turn) - 0.35 * math.sin(turn) + 0.25
    x = equation(tmp_path, f"x,rear,{aside:.6f},2 mm\n")
    assert left(x, tilt=-12.0, x=0.25) == pytest.approx(0.0, abs=1e-6)
    lowest = equation(tmp_path, "height,lowest point,5.32,10 mm\n")
    low = 0.5 * math.sin(math.radians(15.0)) * 0.0 + 0.35 * math.cos(math.radians(15.0))
    assert left(lowest, height=5.32 + low) == pytest.approx(0.0, abs=1e-6)


def test_a_reading_alone_is_the_estimate_and_its_doubt(tmp_path: Path) -> None:
    tilt = found(tmp_path, "inclinometer,axis,-16.2,0.3\n").interval("tilt")
    assert tilt is not None
    assert tilt.value == pytest.approx(-1.2, abs=0.06)
    # 0.3°/1.6449 beside the 0.15° of how it sits on its face.
    assert tilt.half == pytest.approx(1.6449 * math.hypot(0.3 / 1.6449, 0.15), rel=0.12)
    height = found(tmp_path, "height,acoustic centre,6.1,0.02\n").interval("height")
    assert height is not None
    assert height.value == pytest.approx(0.1, abs=0.01)


def test_two_readings_that_agree_are_surer(tmp_path: Path) -> None:
    one = found(tmp_path, "inclinometer,axis,-16.2,0.3\n").interval("tilt")
    two = found(tmp_path, "inclinometer,axis,-16.2,0.3\nload,front,89.0 N,1 %\n"
                "load,rear,352.3 N,1 %\n").interval("tilt")  # fmt: skip
    assert one is not None
    assert two is not None
    assert two.half < one.half


def test_a_sign_that_was_lost_is_the_likeliest_slip(tmp_path: Path) -> None:
    lost = found(tmp_path, "inclinometer,axis,15.4,0.3\n")
    assert lost.state(0) == "sign lost"
    tilt = lost.interval("tilt")
    assert tilt is not None
    assert tilt.holds(-0.4)
    gross = found(tmp_path, "inclinometer,axis,-52,0.3\n")
    assert gross.state(0) == "gross"


def cells_of(of: Box) -> tuple[Stop, ...]:
    return cell_stops(
        of.speaker, of.rigging, of.planned_loads, of.readings,
        weight_n=of.planned_loads.weight_n, mismatch_share=0.05, unit="m",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("rows", "stops", "said"),
    [
        ("load,front,139.7 N,\nload,rear,301.6 N,\n", [], ""),
        ("load,front,400 N,\nload,rear,860 N,\n", [True], "% more than the weight"),
        ("load,front,150 N,\nload,rear,324 N,\n", [False], "7 % more than the weight"),
        ("load,front,90 N,\nload,rear,195 N,\n", [True], "% less than the weight"),
    ],
)
def test_cells_beside_the_weight_of_the_file(
    tmp_path: Path, rows: str, stops: list[bool], said: str
) -> None:
    of = box(tmp_path, rows)
    told = cells_of(of)
    assert [one.stops for one in told] == stops
    assert all(said in one.text for one in told)


def test_a_cell_beyond_what_may_be_used_stops_first(tmp_path: Path) -> None:
    limited = SCENARIO.replace("at = [-0.5, 0.35] }", "at = [-0.5, 0.35], wll_kg = 50 }")
    of = box(tmp_path, "load,rear,301.6 N,\n", scenario=limited)
    (stop,) = cells_of(of)
    assert stop.stops
    assert stop.utilisation is not None
    # 301.6 N of half of 50 kg, times the dynamic factor.
    share = 301.6 / (0.5 * 50.0 * 9.80665) * of.planned_loads.dynamic_factor
    assert stop.utilisation == pytest.approx(share)


def test_what_may_be_read_at_all_adds_up_to_one(tmp_path: Path) -> None:
    # Right, with its sign lost, or a slip: densities over the half turn that a face can lie in,
    # 0.90, 0.05 and 0.05 of all.
    one = equation(tmp_path, "inclinometer,axis,-10,0.3\n")
    tilt = np.arange(-90.0, 90.0, 0.02)
    draws = replace(as_planned(4), **{
        name: np.zeros(len(tilt)) for name in ("height_m", "x_m", "log_weight")
    }, tilt_deg=tilt - PLAN.tilt_deg)  # fmt: skip
    share = np.exp(one.log_states(draws, PLAN)).sum(axis=1) * 0.02
    assert share == pytest.approx([0.90, 0.05, 0.05], rel=1e-3)


@pytest.mark.parametrize("kind", KINDS)
def test_a_reading_is_right_or_its_sign_lost_or_a_slip(kind: str) -> None:
    """Nothing else: the three chances add up to one, and only a face can lose its sign."""
    right, lost, slip = LIKELY[kind]
    assert right + lost + slip == pytest.approx(1.0)
    assert (lost > 0.0) == (kind == "inclinometer")
    assert right > 0.5 > slip > 0.0


def test_doubts_and_tilts_as_people_write_them(tmp_path: Path) -> None:
    rows = "load,front,200 N,3 %\nload,rear,200 N,\ninclinometer,axis,nose up 3.5,\n"
    rows += "inclinometer,axis,Nose Down 90,1\n"
    front, rear, up, down = box(tmp_path, rows).readings
    assert (front.doubt, rear.doubt) == pytest.approx((6.0, 6.0))
    assert (up.value, up.doubt) == (3.5, 0.3)
    assert (down.value, down.doubt) == (-90.0, 1.0)


BAD = {
    "plumb,axis,1,\n": '"plumb"; inclinometer, laser, load, height, x',
    "inclinometer,axis,steep,\n": '"steep"; degrees from -90 to 90',
    "inclinometer,axis,120,\n": "degrees from -90 to 90",
    "inclinometer,axis,90.5,\n": "degrees from -90 to 90",
    "load,front,152,\n": '"152"; ',
    "laser,floor,far,\n": '"far"; ',
    "height,acoustic centre,6,0\n": "0 or less; above 0",
    "inclinometer,top lid,-12,\n": '"top lid"; on the "reference face"',
    "laser,floor,60,\n": "60.00 m lies on no seating",
    "laser,somewhere,10,\n": '"somewhere"; "floor", "ears"',
    "load,middle,152 N,\n": '"middle" bears no load; front, rear',
    "height,bumper,6,\n": '"bumper" is no point of the box',
}


@pytest.mark.parametrize("rows", BAD)
def test_a_bad_reading_gets_one_clear_message(tmp_path: Path, rows: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        box(tmp_path, rows).equations()
    assert len(caught.value.faults) == 1, caught.value.faults
    assert BAD[rows] in str(caught.value)
    assert "r.csv:2:" in str(caught.value)


def test_loads_without_declared_rigging_are_refused(tmp_path: Path) -> None:
    start = SCENARIO.index("[speaker.rigging.upright]")
    bare = SCENARIO[:start] + SCENARIO[SCENARIO.index("[speaker.placement]") :]
    with pytest.raises(ScenarioError, match="no rigging is declared"):
        box(tmp_path, "load,front,152 N,\n", scenario=bare).equations()

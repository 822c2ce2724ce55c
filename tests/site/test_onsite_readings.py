"""Readings into tilt and place: closed forms of each, their doubts, and how they add up."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onsite_scenes import SCENARIO

import aiming
from aiming.base.errors import ScenarioError
from aiming.site.hung import HEIGHT_DOUBT_M, Hung, hung_from
from aiming.site.reading_equations import Box, laser_tilt_deg
from aiming.site.readings import read_readings
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
HEAD = "reading,at,value,plus_minus\n"


def hung(folder: Path, rows: str, *, plan: Placement = PLAN, scenario: str = SCENARIO) -> Hung:
    (folder / "s.toml").write_text(scenario, encoding="utf-8")
    (folder / "r.csv").write_text(HEAD + rows, encoding="utf-8")
    loaded = aiming.load(folder / "s.toml")
    readings = read_readings(folder / "r.csv", unit=loaded.units)
    return hung_from(Box(loaded, loaded.speakers[0], plan, readings))


def test_the_inclinometer_reads_its_face(tmp_path: Path) -> None:
    # The face leans 2° up from the axis: a reading of −10.5° is a tilt of −12.5°.
    found = hung(tmp_path, "inclinometer,reference face,-10.5,0.3\n")
    assert found.tilt_deg is not None
    assert found.tilt_deg.value == pytest.approx(-12.5, abs=1e-6)
    assert found.tilt_deg.half == pytest.approx(0.3, abs=1e-6)
    assert found.height_m is None
    on_axis = hung(tmp_path, "inclinometer,axis,nose down 10.5,\n")
    assert on_axis.tilt_deg is not None
    assert on_axis.tilt_deg.value == pytest.approx(-10.5, abs=1e-6)


def test_flipping_turns_the_face_over(tmp_path: Path) -> None:
    plan = Placement(0.0, 6.0, -15.0, flipped=True)
    found = hung(tmp_path, "inclinometer,,-10.5,\n", plan=plan)
    assert found.tilt_deg is not None
    assert found.tilt_deg.value == pytest.approx(-8.5, abs=1e-6)


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
    assert laser_tilt_deg(x, z, w) == pytest.approx(tilt, abs=1e-9)


def test_a_dot_on_the_floor_and_at_the_ears(tmp_path: Path) -> None:
    # Floor: z = 0.1·(x − 4).  From 6 m up, laser 0.40 m above the axis.
    floor = hung(tmp_path, "laser,floor,14 m,100 mm\nheight,acoustic centre,6,1 mm\n")
    wanted = math.degrees(math.atan2(1.0 - 6.0, 14.0) - math.asin(0.4 / math.hypot(14.0, 5.0)))
    assert floor.tilt_deg is not None
    assert floor.tilt_deg.value == pytest.approx(wanted, abs=1e-4)
    # The dot moves along the floor: its elevation by (0.1·14 + 5)/(14² + 5²) rad per metre.
    per_m = math.degrees((0.1 * 14.0 + 5.0) / (14.0**2 + 5.0**2))
    assert floor.tilt_deg.half == pytest.approx(0.1 * per_m, rel=0.02)
    ears = hung(tmp_path, "laser,ears,14,0.1\nheight,acoustic centre,6,1 mm\n")
    assert ears.tilt_deg is not None
    assert ears.tilt_deg.value > floor.tilt_deg.value + 4.0
    wall = hung(tmp_path, "laser,3.5 m,19,0.1\n")
    assert wall.tilt_deg is not None
    assert wall.tilt_deg.value == pytest.approx(laser_tilt_deg(19.0, -2.5, 0.4), abs=1e-4)


def test_a_height_nobody_read_is_in_doubt(tmp_path: Path) -> None:
    sure = hung(tmp_path, "laser,floor,14,1 mm\nheight,acoustic centre,6,1 mm\n")
    doubtful = hung(tmp_path, "laser,floor,14,1 mm\n")
    assert sure.tilt_deg is not None
    assert doubtful.tilt_deg is not None
    # 0.1 m up or down turns the ray to the dot by 0.1·14/(14² + 5²) rad.
    assert doubtful.tilt_deg.half == pytest.approx(
        math.degrees(HEIGHT_DOUBT_M * 14.0 / (14.0**2 + 5.0**2)), rel=0.05
    )
    assert sure.tilt_deg.half < 0.1 * doubtful.tilt_deg.half
    alone = doubtful.readings[0].tilt_deg
    assert alone is not None
    assert alone.half == pytest.approx(doubtful.tilt_deg.half, rel=0.05)


def test_loads_give_back_the_tilt_of_the_published_case(tmp_path: Path) -> None:
    # 45 kg, picks 0.50 apart, a 0.22, b 0.28, h 0.35: at 10° nose down the front bears 139.70 N
    # and the rear 301.60 N (statics of two vertical lines, recomputed by virtual work).
    found = hung(tmp_path, "load,front,139.70 N,1 %\nload,rear,301.60 N,1 %\n")
    assert found.tilt_deg is not None
    assert found.tilt_deg.value == pytest.approx(-10.0, abs=0.02)
    # dT/dφ = W·h/(s·cos²φ): 1 % of the front's 139.7 N alone is 0.25°.
    alone = found.readings[0].tilt_deg
    assert alone is not None
    slope = 441.3 * 0.35 / 0.50 / math.cos(math.radians(10.0)) ** 2 * math.pi / 180.0
    assert alone.half == pytest.approx(1.397 / slope, rel=0.03)
    assert found.notes == ()


def test_one_cell_is_held_against_the_weight_of_the_file(tmp_path: Path) -> None:
    found = hung(tmp_path, "load,rear,30.754 kg,2 %\n")
    assert found.tilt_deg is not None
    assert found.tilt_deg.value == pytest.approx(-10.0, abs=0.05)


def test_cells_that_read_more_than_the_weight_are_told(tmp_path: Path) -> None:
    found = hung(tmp_path, "load,front,209.55 N,\nload,rear,452.40 N,\n")
    assert found.tilt_deg is not None
    assert found.tilt_deg.value == pytest.approx(-10.0, abs=0.05)
    assert "50 % more than the weight" in found.notes[0]


def test_heights_of_points_give_the_centre_and_two_of_them_the_tilt(tmp_path: Path) -> None:
    turn = math.radians(-12.0)
    front = 5.8 + 0.35 * math.cos(turn)
    rear = 5.8 - 0.5 * math.sin(turn) + 0.35 * math.cos(turn)
    rows = f"height,front,{front:.4f},2 mm\nheight,rear,{rear:.4f},2 mm\n"
    found = hung(tmp_path, rows)
    assert found.tilt_deg is not None
    assert found.height_m is not None
    assert found.tilt_deg.value == pytest.approx(-12.0, abs=0.02)
    assert found.height_m.value == pytest.approx(5.8, abs=0.002)
    # Two readings of ±2 mm, 0.5 m apart: ±√2·2 mm / 0.489 m.
    assert found.tilt_deg.half == pytest.approx(math.degrees(2.83e-3 / 0.489), rel=0.03)
    alone = hung(tmp_path, "height,lowest point,5.32,10 mm\n")
    assert alone.tilt_deg is None
    assert alone.height_m is not None
    assert alone.height_m.value == pytest.approx(5.32 + 0.35 * math.cos(math.radians(15.0)))


def test_more_readings_are_surer_and_disagreement_is_told(tmp_path: Path) -> None:
    one = hung(tmp_path, "inclinometer,axis,-12,0.3\n")
    two = hung(tmp_path, "inclinometer,axis,-12,0.3\nload,front,128.4 N,3 %\n")
    assert one.tilt_deg is not None
    assert two.tilt_deg is not None
    assert two.tilt_deg.half < one.tilt_deg.half
    apart = hung(tmp_path, "inclinometer,axis,-12,0.3\nload,front,171 N,3 %\n")
    assert "disagree" in apart.notes[0]
    assert apart.tilt_deg is not None
    assert apart.tilt_deg.half > 2.0 * two.tilt_deg.half


BAD = {
    "plumb,axis,1,\n": '"plumb"; inclinometer, laser, load, height',
    "inclinometer,axis,steep,\n": '"steep"; degrees from -90 to 90',
    "inclinometer,axis,120,\n": "degrees from -90 to 90",
    'inclinometer,axis,"-12,5",\n': "has a decimal comma",
    "load,front,152,\n": "a load with its unit",
    "laser,floor,far,\n": '"far"; a length',
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
        hung(tmp_path, rows)
    assert len(caught.value.faults) == 1, caught.value.faults
    assert BAD[rows] in str(caught.value)
    assert "r.csv:2:" in str(caught.value)


def test_loads_without_declared_rigging_are_refused(tmp_path: Path) -> None:
    start = SCENARIO.index("[speaker.rigging.upright]")
    bare = SCENARIO[:start] + SCENARIO[SCENARIO.index("[speaker.placement]") :]
    with pytest.raises(ScenarioError, match="no rigging is declared"):
        hung(tmp_path, "load,front,152 N,\n", scenario=bare)


def test_simulated_readings_hold_the_truth_as_often_as_they_say(tmp_path: Path) -> None:
    rng = np.random.default_rng(17)
    inside = 0
    for _ in range(60):
        tilt, height = rng.uniform(-22.0, -8.0), 6.0 + rng.normal(0.0, 0.06)
        face = tilt + 2.0 + rng.normal(0.0, 0.3 / 1.6449)
        read = height + rng.normal(0.0, 0.03 / 1.6449)
        turn = math.radians(tilt)
        # The dot, from forwards: where the laser's ray meets the floor z = 0.1·(x − 4).
        x0 = -0.02 * math.cos(turn) - 0.4 * math.sin(turn)
        z0 = height - 0.02 * math.sin(turn) + 0.4 * math.cos(turn)
        way = (z0 - 0.1 * (x0 - 4.0)) / (0.1 * math.cos(turn) - math.sin(turn))
        dot = x0 + way * math.cos(turn) + rng.normal(0.0, 0.1 / 1.6449)
        rows = f"inclinometer,,{face:.4f},0.3\nheight,,{read:.4f},0.03\n"
        rows += f"laser,floor,{min(dot, 17.9):.4f},0.1\n" if dot < 17.9 else ""
        found = hung(tmp_path, rows)
        assert found.tilt_deg is not None
        inside += found.tilt_deg.holds(tilt)
    assert 48 <= inside <= 60

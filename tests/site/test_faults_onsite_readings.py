"""Readings by closed forms: what each says alone, what they say together, what disagrees."""

import math
from pathlib import Path

import pytest
import scipy.optimize  # noqa: F401  # loaded once, and not by every test in a process of its own
from onsite_scenes import SCENARIO

import aiming
from aiming.base.errors import ScenarioError
from aiming.site.fit import INTERVAL
from aiming.site.hung import Hung, hung_from
from aiming.site.model import Interval
from aiming.site.reading_equations import Box, laser_tilt_deg
from aiming.site.readings import read_readings
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
TURN = math.radians(15.0)
WEIGHT_N = 45.0 * 9.80665
CABINET, RIGGING, PLACED = (
    SCENARIO.index(f"[speaker.{one}]") for one in ("cabinet", "rigging.upright", "placement")
)


def box(folder: Path, rows: str, *, plan: Placement = PLAN, scenario: str = SCENARIO) -> Box:
    (folder / "s.toml").write_text(scenario, encoding="utf-8")
    (folder / "r.csv").write_text("reading,at,value,plus_minus\n" + rows, encoding="utf-8")
    loaded = aiming.load(folder / "s.toml")
    readings = read_readings(folder / "r.csv", unit=loaded.units)
    return Box(loaded, loaded.speakers[0], plan, readings)


def hung(folder: Path, rows: str, *, plan: Placement = PLAN, scenario: str = SCENARIO) -> Hung:
    return hung_from(box(folder, rows, plan=plan, scenario=scenario))


def tilt(found: Hung) -> Interval:
    assert found.tilt_deg is not None
    return found.tilt_deg


def height(found: Hung) -> Interval:
    assert found.height_m is not None
    return found.height_m


def test_an_interval_is_its_middle_and_its_half() -> None:
    one = Interval.about(2.0, 0.5)
    assert (one.value, one.low, one.high, one.half) == (2.0, 1.5, 2.5, 0.5)
    assert one.less(0.5) == Interval(1.5, 1.0, 2.0)
    assert [one.holds(x) for x in (1.4, 1.5, 2.5, 2.6)] == [False, True, True, False]
    assert one.to_dict() == {"value": 2.0, "low": 1.5, "high": 2.5}


def test_two_that_agree_are_surer_by_the_root_of_two(tmp_path: Path) -> None:
    found = hung(tmp_path, "inclinometer,axis,-12,0.3\ninclinometer,Axis,-12.4,0.3\n")
    assert tilt(found).value == pytest.approx(-12.2, abs=1e-6)
    assert tilt(found).half == pytest.approx(0.3 / math.sqrt(2.0), rel=1e-6)
    assert found.notes == ()
    assert [one.text for one in found.readings] == ["inclinometer axis", "inclinometer Axis"]
    first = found.readings[0].tilt_deg
    assert first is not None
    assert first.value == pytest.approx(-12.0, abs=1e-6)
    assert first.half == pytest.approx(0.3, rel=1e-6)
    assert found.readings[0].height_m is None


def test_readings_weigh_by_their_doubt(tmp_path: Path) -> None:
    found = hung(tmp_path, "inclinometer,axis,-12,0.3\ninclinometer,axis,-12.5,0.6\n")
    assert tilt(found).value == pytest.approx(-12.1, abs=1e-6)
    assert tilt(found).half == pytest.approx((1.0 / 0.09 + 1.0 / 0.36) ** -0.5, rel=1e-6)


def test_readings_that_disagree_widen_all_doubt(tmp_path: Path) -> None:
    rows = "inclinometer,axis,-12,0.3\ninclinometer,axis,-12,0.3\ninclinometer,,-12,0.3\n"
    scaled = [x / 3.0 * INTERVAL / 0.3 for x in (2.0, 2.0, 4.0)]
    wide = math.hypot(*scaled) / math.sqrt(2.0)
    found = hung(tmp_path, rows)  # the face leans by 2°: the third says −14°
    assert tilt(found).value == pytest.approx(-12.0 - 2.0 / 3.0, abs=1e-6)
    assert tilt(found).half == pytest.approx(0.3 / math.sqrt(3.0) * wide, rel=1e-5)
    (note,) = found.notes
    assert note == "the readings disagree, inclinometer most of all: read them again"
    # A height that is read beside them does not tell of the disagreement, but shares the doubt.
    both = hung(tmp_path, rows + "height,,6.1,0.03\n")
    assert tilt(both).half == pytest.approx(tilt(found).half, rel=1e-5)
    assert height(both).value == pytest.approx(6.1, abs=1e-6)
    assert height(both).half == pytest.approx(0.03 * wide, rel=1e-5)
    # What the disagreement does to a reading by itself is nothing.
    alone = both.readings[3].height_m
    assert alone is not None
    assert alone.half == pytest.approx(0.03, rel=1e-5)


@pytest.mark.parametrize(("apart", "told"), [(2.59, False), (2.61, True)])
def test_disagreement_is_told_beyond_its_limit(tmp_path: Path, apart: float, told: bool) -> None:
    # Two readings of one doubt lie half of what is between them from their mean.
    away = 2.0 * apart * 0.3 / INTERVAL
    rows = f"inclinometer,axis,-12,0.3\ninclinometer,axis,{-12.0 - away:.6f},0.3\n"
    found = hung(tmp_path, rows)
    assert bool(found.notes) is told
    plain = 0.3 / math.sqrt(2.0)
    wanted = plain * apart * math.sqrt(2.0) if told else plain
    assert tilt(found).half == pytest.approx(wanted, rel=1e-4)


def test_heights_alone_that_disagree_are_told(tmp_path: Path) -> None:
    found = hung(tmp_path, "height,,6,0.03\nheight,acoustic centre,7,0.03\n")
    assert found.tilt_deg is None
    assert height(found).value == pytest.approx(6.5, abs=1e-6)
    assert height(found).half == pytest.approx(0.5 * INTERVAL, rel=1e-4)
    assert "disagree" in found.notes[0]
    agreed = hung(tmp_path, "height,,6,0.03\nheight,acoustic centre,6.02,0.03\n")
    assert agreed.notes == ()
    assert height(agreed).half == pytest.approx(0.03 / math.sqrt(2.0), rel=1e-6)


def test_one_height_is_read_at_the_planned_tilt(tmp_path: Path) -> None:
    for where, off in [
        ("", 0.0),
        ("acoustic centre", 0.0),
        ("lowest point", -0.35 * math.cos(TURN)),
        ("front", 0.35 * math.cos(TURN)),
        ("rear", 0.5 * math.sin(TURN) + 0.35 * math.cos(TURN)),
    ]:
        found = hung(tmp_path, f"height,{where},6.2,20 mm\n")
        assert found.tilt_deg is None, where
        assert height(found).value == pytest.approx(6.2 - off, abs=1e-9), where
        assert height(found).half == pytest.approx(0.02, rel=1e-6), where
        (one,) = found.readings
        assert one.height_m is not None
        assert one.tilt_deg is None
        assert one.height_m.value == pytest.approx(6.2 - off, abs=1e-9)
        assert one.height_m.half == pytest.approx(0.02, rel=1e-6)
        assert one.text == f"height {where}".strip()


def test_heights_of_a_flipped_box_are_of_its_points_as_hung(tmp_path: Path) -> None:
    plan = Placement(0.0, 6.0, -15.0, flipped=True)
    # Flipped, the front pick lies 0.35 below the axis, and what was the top edge is lowest.
    front = hung(tmp_path, "height,front,5.7,20 mm\n", plan=plan)
    assert height(front).value == pytest.approx(5.7 + 0.35 * math.cos(TURN), abs=1e-9)
    lowest = hung(tmp_path, "height,lowest point,5.7,20 mm\n", plan=plan)
    assert height(lowest).value == pytest.approx(5.7 + 0.35 * math.cos(TURN), abs=1e-9)


def test_a_height_by_itself_bears_the_doubt_of_the_tilt(tmp_path: Path) -> None:
    found = hung(tmp_path, "inclinometer,axis,-15,3\nheight,rear,6.3,20 mm\n")
    per_deg = math.radians(0.5 * math.cos(TURN) - 0.35 * math.sin(TURN))
    alone = found.readings[1].height_m
    assert alone is not None
    assert alone.half == pytest.approx(math.hypot(0.02, 3.0 * per_deg), rel=1e-3)
    wanted = 6.3 - 0.5 * math.sin(TURN) - 0.35 * math.cos(TURN)
    assert alone.value == pytest.approx(wanted, abs=1e-6)
    assert height(found).half == pytest.approx(alone.half, rel=1e-3)


def test_a_load_that_no_tilt_changes_says_nothing(tmp_path: Path) -> None:
    one_point = SCENARIO[:RIGGING] + (
        '[speaker.rigging.upright]\nmethod = "one point"\npicks = ["front"]\n'
        "holes = [-0.3]\nholes_w = 0.5\n"
    )
    one_point += SCENARIO[PLACED:]
    (folder := tmp_path / "a").mkdir()
    found = hung(folder, "load,front,430 N,\n", scenario=one_point)
    assert found.tilt_deg is None
    assert found.height_m is None
    assert (found.readings[0].tilt_deg, found.readings[0].height_m) == (None, None)
    assert found.notes == ()


@pytest.mark.parametrize(
    ("share", "wanted"),
    [(1.051, "5 % more"), (1.049, None), (0.951, None), (0.949, "5 % less"), (0.8, "20 % less")],
)
def test_cells_beside_the_weight_of_the_file(
    tmp_path: Path, share: float, wanted: str | None
) -> None:
    front, rear = (share * WEIGHT_N * of for of in (0.31656, 0.68344))
    found = hung(tmp_path, f"load,front,{front:.4f} N,3 %\nload,rear,{rear:.4f} N,3 %\n")
    assert tilt(found).value == pytest.approx(-10.0, abs=0.02)
    if wanted is None:
        assert found.notes == ()
    else:
        assert found.notes[0].startswith(f"the cells read {wanted} than the weight in the file")
    assert hung(tmp_path, "inclinometer,axis,-10,\n").notes == ()


def test_what_shares_are_taken_of(tmp_path: Path) -> None:
    both = box(tmp_path, "load,front,200 N,\nload,rear,300 N,\nheight,,6,\n")
    assert both.weight_n == pytest.approx(500.0)
    one = box(tmp_path, "load,rear,300 N,\n")
    assert one.weight_n == pytest.approx(WEIGHT_N)
    # share = 0.28 + ... statics at the plan: 300 N of the file's weight.
    (equation,) = [one.equation(reading) for reading in one.readings]
    share = one.planned_loads.points[1].share
    assert equation.residual(-15.0, 6.0) == pytest.approx(share - 300.0 / WEIGHT_N, abs=1e-12)
    assert equation.residual(-15.0, 99.0) == equation.residual(-15.0, 6.0)
    assert equation.doubt == pytest.approx(9.0 / WEIGHT_N)


def test_a_pulled_box_bears_more_than_its_weight(tmp_path: Path) -> None:
    # The pull adds to what the cells read, so the file's weight stands for the whole.
    pulled = SCENARIO[:RIGGING] + (
        '[speaker.rigging.upright]\nmethod = "pull-back"\npicks = ["front", "rear"]\n'
        "pull_elevation_deg = 30\n"
    )
    pulled += SCENARIO[PLACED:]
    found = box(tmp_path, "load,front,300 N,\nload,rear,300 N,\n", scenario=pulled)
    assert found.weight_n == pytest.approx(WEIGHT_N)


@pytest.mark.parametrize("flipped", [False, True])
def test_a_laser_by_the_closed_form(tmp_path: Path, flipped: bool) -> None:
    # At a wall: the dot 19 m ahead of a box 0.5 m behind the datum, at z = 3.5 m.
    plan = Placement(-0.5, 6.0, -15.0, flipped=flipped)
    found = hung(tmp_path, "laser,3.5 m,19,0.1\nheight,,6,1 mm\n", plan=plan)
    above = -0.4 if flipped else 0.4
    wanted = math.degrees(math.atan2(-2.5, 19.5) - math.asin(above / math.hypot(19.5, 2.5)))
    assert tilt(found).value == pytest.approx(wanted, abs=1e-5)
    # The dot's elevation moves by dz/(dx² + dz²) for each metre along x.
    per_m = math.degrees(2.5 / (19.5**2 + 2.5**2))
    assert tilt(found).half == pytest.approx(math.hypot(0.1 * per_m, math.degrees(1e-3 * 19.5 / (19.5**2 + 2.5**2))), rel=5e-3)  # fmt: skip  # noqa: E501


@pytest.mark.parametrize(("x", "rise"), [(14.0, 0.1), (18.0, 0.0), (4.0, 0.0), (17.985, 0.1)])
def test_a_dot_on_the_floor_moves_along_it(tmp_path: Path, x: float, rise: float) -> None:
    # At the very end of a floor it is taken as level.
    one = box(tmp_path, f"laser,floor,{x},0.1\nlaser,,{x},0.1\nlaser,ears,{x},0.1\n")
    floor, nothing, ears = (one.equation(reading) for reading in one.readings)
    z = 0.1 * (x - 4.0)
    assert one.dot_z_m(one.readings[0], x) == pytest.approx(z, abs=1e-12)
    assert one.dot_z_m(one.readings[2], x) == pytest.approx(z + 1.2, abs=1e-12)
    per_m = math.degrees((rise * x - (z - 6.0)) / (x**2 + (z - 6.0) ** 2))
    assert floor.doubt == pytest.approx(0.1 * per_m, rel=1e-6)
    assert nothing.doubt == floor.doubt
    assert ears.doubt != floor.doubt
    assert floor.residual(-15.0, 6.0) == pytest.approx(-15.0 - laser_tilt_deg(x, z - 6.0, 0.4))
    assert floor.residual(-14.0, 6.5) == pytest.approx(-14.0 - laser_tilt_deg(x, z - 6.5, 0.4))


def test_a_dot_whose_place_tells_nothing_keeps_the_least_doubt(tmp_path: Path) -> None:
    # Level with the acoustic centre the dot's place along x does not turn the ray.
    one = box(tmp_path, "laser,6 m,10,0.1\n")
    assert one.equation(one.readings[0]).doubt == 1e-6
    nearly = box(tmp_path, "laser,5.999 m,10,0.1\n")
    assert nearly.equation(nearly.readings[0]).doubt == pytest.approx(
        0.1 * math.degrees(1e-3 / 100.0), rel=1e-3
    )


def test_a_dot_at_the_laser_itself_leaves_a_number() -> None:
    assert laser_tilt_deg(0.3, 0.0, 0.4) == pytest.approx(-90.0)
    assert laser_tilt_deg(0.3, 0.0, -0.4) == pytest.approx(90.0)
    assert laser_tilt_deg(0.0, 0.0, 0.0) == 0.0
    assert laser_tilt_deg(1e-6, 0.0, 0.5e-6) == pytest.approx(-30.0)
    assert laser_tilt_deg(10.0, -10.0, 0.0) == pytest.approx(-45.0)


def test_without_a_cabinet_the_axis_is_read(tmp_path: Path) -> None:
    bare = SCENARIO[:CABINET] + SCENARIO[PLACED:]
    found = hung(tmp_path, "inclinometer,reference face,-12,0.3\n", scenario=bare)
    assert tilt(found).value == pytest.approx(-12.0, abs=1e-6)
    wall = hung(tmp_path, "laser,3.5 m,19,\nheight,,6,1 mm\n", scenario=bare)
    assert tilt(wall).value == pytest.approx(math.degrees(math.atan2(-2.5, 19.0)), abs=1e-5)
    no_laser = SCENARIO.replace("laser_at = [-0.02, 0.40]\n", "")
    wall = hung(tmp_path, "laser,3.5 m,19,\nheight,,6,1 mm\n", scenario=no_laser)
    assert tilt(wall).value == pytest.approx(math.degrees(math.atan2(-2.5, 19.0)), abs=1e-5)
    for rows, wanted in {
        "height,lowest point,6,\n": "the cabinet has no outline",
        "height,front,6,\n": '"front" is no point of the box; acoustic centre, lowest point',
    }.items():
        with pytest.raises(ScenarioError, match=wanted):
            hung(tmp_path, rows, scenario=bare)
    no_outline = SCENARIO[: SCENARIO.index("outline")] + SCENARIO[SCENARIO.index("centre_of_g") :]
    with pytest.raises(ScenarioError, match="the cabinet has no outline"):
        hung(tmp_path, "height,lowest point,6,\n", scenario=no_outline)
    with pytest.raises(
        ScenarioError, match="no point of the box; acoustic centre, lowest point, f"
    ):
        hung(tmp_path, "height,side,6,\n")


def test_every_reading_that_is_nowhere_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        hung(tmp_path, "inclinometer,lid,1,\nlaser,floor,3.99,\nlaser,ears,18.01,\nheight,,6,\n")
    assert [(one.line, one.column, one.key) for one in caught.value.faults] == [
        (2, 1, "inclinometer"), (3, 1, "laser"), (4, 1, "laser"),
    ]  # fmt: skip
    assert "3.99 m lies on no seating; give the dot's z in place of floor" in str(caught.value)
    assert "in place of ears" in str(caught.value)


def test_loads_without_a_weight_are_refused(tmp_path: Path) -> None:
    weightless = SCENARIO.replace("mass_kg = 45.0\n", "")
    with pytest.raises(ScenarioError, match="declare what is missing"):
        hung(tmp_path, "load,front,150 N,\n", scenario=weightless)


def test_a_height_in_doubt_is_weighed_against_its_plan(tmp_path: Path) -> None:
    # A dot and an inclinometer together tell the height; the plan's 6 m ± 0.1 m goes with them.
    lay = 6.0 + 14.0 * math.tan(math.radians(-20.0))
    rows = f"inclinometer,axis,-20,0.001\nlaser,{lay + 0.1:.6f} m,14,1 mm\n"
    bare = SCENARIO.replace("laser_at = [-0.02, 0.40]\n", "")
    found = hung(tmp_path, rows, scenario=bare)
    assert tilt(found).value == pytest.approx(-20.0, abs=0.02)
    assert found.notes == ()


def test_the_last_of_the_floor_is_its_end(tmp_path: Path) -> None:
    bent = SCENARIO.replace("[[4.0, 0.0], [18.0, 1.4]]", "[[4.0, 0.0], [10.0, 0.6], [18.0, 1.4]]")
    one = box(tmp_path, "laser,floor,14,0.1\n", scenario=bent)
    assert one.dot_z_m(one.readings[0], 14.0) == pytest.approx(1.0, abs=1e-12)


def test_a_dot_above_the_box_has_a_doubt_too(tmp_path: Path) -> None:
    one = box(tmp_path, "laser,8.5 m,10,0.1\n")
    per_m = math.degrees(2.5 / (10.0**2 + 2.5**2))
    assert one.equation(one.readings[0]).doubt == pytest.approx(0.1 * per_m, rel=1e-6)


def cells_n(tilt_deg: float) -> tuple[float, float]:
    """What front and rear line bear: moments about each pick, both at u = 0 and −0.5, w = 0.35."""
    turn = math.radians(tilt_deg)

    def across(u: float, w: float) -> float:
        return u * math.cos(turn) - w * math.sin(turn)

    front, rear, centre = across(0.0, 0.35), across(-0.5, 0.35), across(-0.28, 0.0)
    share = (centre - rear) / (front - rear)
    return WEIGHT_N * share, WEIGHT_N * (1.0 - share)


def test_each_cell_by_itself_tells_the_tilt(tmp_path: Path) -> None:
    """One bears more as the nose goes down, the other less: both intervals are the right way."""
    front, rear = cells_n(-12.0)
    found = hung(tmp_path, f"load,front,{front:.6f} N,4 N\nload,rear,{rear:.6f} N,4 N\n")
    assert tilt(found).value == pytest.approx(-12.0, abs=1e-3)
    (more, less) = (
        (one - two) / 0.2 for one, two in zip(cells_n(-11.9), cells_n(-12.1), strict=True)
    )
    assert more * less < 0.0
    for one, slope in zip(found.readings, (more, less), strict=True):
        assert one.tilt_deg is not None
        assert one.tilt_deg.value == pytest.approx(-12.0, abs=1e-3)
        assert one.tilt_deg.half == pytest.approx(4.0 / abs(slope), rel=1e-2)


def test_heavier_cells_are_told_beside_other_readings(tmp_path: Path) -> None:
    front, rear = (1.2 * load for load in cells_n(-12.0))
    rows = f"inclinometer,axis,-12,0.3\nload,front,{front:.3f} N,4 N\nload,rear,{rear:.3f} N,4 N\n"
    assert any("the cells read 20 % more" in note for note in hung(tmp_path, rows).notes)


@pytest.mark.parametrize("odd", [-8.0, -16.0])
def test_the_reading_that_is_farthest_off_is_named(tmp_path: Path, odd: float) -> None:
    """Farther off to either side."""
    rows = "".join(f"inclinometer,axis,{x},0.3\n" for x in (-12.0, -12.1, -11.9))
    (note,) = hung(tmp_path, f"{rows}inclinometer,,{odd},0.3\n").notes
    assert note.startswith("the readings disagree, inclinometer most of all")

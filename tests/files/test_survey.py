"""Surveys: a floor shot with a laser comes back as its coordinates, and says how well it closes."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.errors import ScenarioError
from aiming.files.survey import SurveyFloor, floor_from_survey

TIER_M = np.array([[4.0, 0.0], [9.5, 0.62], [9.5, 0.87], [13.0, 1.31], [18.0, 2.4]])
SHOTS = "station,station_x_m,station_z_m,instrument_height_m,point,line,distance_m,inclination_deg"


def survey(folder: Path, text: str, **options: Any) -> SurveyFloor:
    path = folder / "survey.csv"
    path.write_text(text, encoding="utf-8")
    return floor_from_survey(path, display="survey.csv", **options)


def faults(folder: Path, text: str, **options: Any) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        survey(folder, text, **options)
    return [str(fault) for fault in caught.value.faults]


def shot(station_m: Any, height_m: float, point_m: Any) -> tuple[float, float]:
    """Distance (m) and inclination (degrees) from the laser to a point ahead of it."""
    along, up = np.asarray(point_m) - station_m - [0.0, height_m]
    return float(np.hypot(along, up)), float(np.degrees(np.arctan2(up, along)))


def row(name: str, at_m: Any, height_m: float, point: str, to_m: Any, *, known: bool) -> str:
    distance, inclination = shot(at_m, height_m, to_m)
    place = f"{at_m[0]!r},{at_m[1]!r}" if known else ","
    return f"{name},{place},{height_m},{point},stalls,{distance!r},{inclination!r}"


@pytest.mark.parametrize(
    ("unit", "metres"), [("m", 1.0), ("mm", 1e-3), ("ft", 0.3048), ("in", 0.0254), ("cm", 1e-2)]
)
def test_points_in_every_unit_by_heading_or_by_word(
    unit: str, metres: float, tmp_path: Path
) -> None:
    body = "\n".join(f"{x:.12g},{z:.12g}" for x, z in TIER_M / metres)
    for heading in (f"x_{unit},z_{unit}", f"x ({unit}), z [{unit}]"):
        floor = survey(tmp_path, f"# tape, second evening\n{heading}\n\n{body}\n")
        np.testing.assert_allclose(floor.points_m, TIER_M, atol=1e-9, rtol=0)
    floor = survey(tmp_path, f"x,z\n{body}\n", unit=unit)
    np.testing.assert_allclose(floor.points_m, TIER_M, atol=1e-9, rtol=0)
    assert floor.notes == ()


def test_semicolons_tabs_quotes_and_a_byte_order_mark(tmp_path: Path) -> None:
    for text in (
        "\ufeffx_m;z_m\n4;0\n9;1\n",
        "x_m\tz_m\n4\t0\n9\t1\n",
        '"x_m","z_m"\n"4","0"\n9,1',
    ):
        np.testing.assert_allclose(survey(tmp_path, text).points_m, [[4, 0], [9, 1]])


def test_one_line_of_several_and_read_from_the_back(tmp_path: Path) -> None:
    text = "line,x_m,z_m\nstalls,4,0\nstalls,9,1\nbalcony,16,5\nbalcony,12,4\n"
    np.testing.assert_allclose(survey(tmp_path, text, line="stalls").points_m, [[4, 0], [9, 1]])
    np.testing.assert_allclose(survey(tmp_path, text, line="balcony").points_m, [[12, 4], [16, 5]])
    assert '2 lines; say which, of "stalls", "balcony"' in faults(tmp_path, text)[0]
    assert 'no line "pit"; "stalls", "balcony"' in faults(tmp_path, text, line="pit")[0]


def test_polar_survey_against_its_coordinates_by_hand(tmp_path: Path) -> None:
    # The laser 1.5 m above a mark at (1, 0.2).  5 m at −36.8699° is 4 along and 3 down: (5, −1.3);
    # 13 m at 22.6199° is 12 along and 5 up: (13, 6.7).
    text = f"{SHOTS}\nA,1,0.2,1.5,one,,5,-36.86989764584402\nA,,,,two,,13,22.61986494804043\n"
    floor = survey(tmp_path, text)
    np.testing.assert_allclose(floor.points_m, [[5.0, -1.3], [13.0, 6.7]], atol=1e-9)
    assert [note.code for note in floor.notes] == ["survey-unchecked"]


def test_shot_back_to_the_stage_onto_a_staff_ties_to_the_datum(tmp_path: Path) -> None:
    # From 3 m beyond the datum, laser at 1.6 m: the staff's mark 0.6 m above the stage edge is 3 m
    # back and 1.0 m down.
    text = (
        "station,instrument_height,point,distance,inclination,facing,target_height\n"
        f"A,1.6,Datum,{np.hypot(3, 1)},{-np.degrees(np.arctan2(1, 3))},stage,0.6\n"
        "A,,row A,2.0,0,,1.6\n"
        "A,,row B,7.0,0,audience,1.2\n"
    )
    floor = survey(tmp_path, text)
    np.testing.assert_allclose(floor.points_m, [[5.0, 0.0], [10.0, 0.4]], atol=1e-9)
    feet = survey(tmp_path, text, unit="ft")
    np.testing.assert_allclose(feet.points_m, floor.points_m * 0.3048, atol=1e-9)


def three_stations(push_m: float = 0.0) -> str:
    """A tier from three stations, one known; the last shot again from the third, pushed up."""
    places = [((0.0, 0.0), 1.52), ((6.0, 0.4), 1.48), ((11.0, 1.1), 1.6)]
    seen = [(0, 1), (1, 2, 3), (3, 4)]
    lines = [SHOTS]
    for index, ((at, height), points) in enumerate(zip(places, seen, strict=True)):
        for p in points:
            name = f"point {p}"
            lines.append(row("ABC"[index], at, height, name, TIER_M[p], known=index == 0))
    pushed = TIER_M[2] + np.array([0.0, push_m])
    # Against the stage: facing is wanted, so this one is shot with the distance's own sign by hand.
    along, up = pushed - places[2][0] - np.array([0.0, places[2][1]])
    distance, inclination = np.hypot(along, up), np.degrees(np.arctan2(up, -along))
    lines = [f"{line},{'facing' if line == SHOTS else ''}" for line in lines]
    lines.append(f"C,,,,point 2,stalls,{float(distance)!r},{float(inclination)!r},stage")
    return "\n".join(lines) + "\n"


def test_three_stations_tied_by_common_points(tmp_path: Path) -> None:
    floor = survey(tmp_path, three_stations())
    np.testing.assert_allclose(floor.points_m, TIER_M, atol=1e-4, rtol=0)
    (note,) = floor.notes
    assert (note.code, note.severity, note.limit) == ("survey-closing", "note", 50.0)
    assert note.value == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("push_mm", "severity"), [(36.0, "note"), (-64.0, "caution")])
def test_closing_error_is_reported_and_spread(
    push_mm: float, severity: str, tmp_path: Path
) -> None:
    floor = survey(tmp_path, three_stations(push_mm / 1e3))
    (note,) = floor.notes
    assert note.severity == severity
    assert note.value == pytest.approx(abs(push_mm), abs=1e-6)
    assert f"closes within {abs(push_mm):.0f} mm (at point 2 from station C, line 9)" in note.text
    assert ("shoot it again" in note.text) == (severity == "caution")
    # One loop of four shots (B to 2 and 3, C to 2 and 3) shares the miss: a quarter to each.
    assert f"at most {abs(push_mm) / 4:.0f} mm is left" in note.text
    # Point 2 is moved by a quarter of it; 4 hangs on C, which is moved back by three quarters,
    # its tie to point 3 taking the fourth.
    moved = (floor.points_m - TIER_M)[:, 1] * 1e3
    np.testing.assert_allclose(moved, np.array([0.0, 0.0, 0.25, -0.25, -0.5]) * push_mm, atol=1e-6)


@settings(deadline=None, derandomize=True, max_examples=40)
@given(
    heights=st.lists(st.floats(0.0, 2.0), min_size=3, max_size=3),
    marks=st.lists(st.tuples(st.floats(-3.0, 3.0), st.floats(-1.0, 2.0)), min_size=3, max_size=3),
    order=st.permutations(range(9)),
)
def test_least_squares_is_exact_on_exact_shots_in_any_order(
    heights: list[float],
    marks: list[tuple[float, float]],
    order: list[int],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    from aiming.files.survey import Net, tied

    station = np.repeat([0, 1, 2], 3)
    point = np.array([0, 1, 2, 1, 2, 3, 2, 3, 4])
    place = np.array(marks)
    step = TIER_M[point] - place[station]
    net = Net(
        station=station[order],
        point=point[order],
        step_m=step[order],
        station_m=np.where(np.arange(3)[:, np.newaxis] == 1, place, np.nan),
        point_m=np.full((5, 2), np.nan),
    )
    result = tied(net)
    assert result.reached.all()
    np.testing.assert_allclose(result.point_m, TIER_M, atol=1e-9)
    assert result.closing_m == pytest.approx(0.0, abs=1e-9)


def test_riser_measured_leaning_back_is_set_upright_and_said(tmp_path: Path) -> None:
    floor = survey(tmp_path, "x_mm,z_mm\n0,0\n5000,0\n4988,400\n9000,400\n")
    assert floor.points_m[2, 0] == floor.points_m[1, 0] == 5.0
    (note,) = floor.notes
    assert (note.code, note.value) == ("survey-riser", pytest.approx(12.0))


def test_every_fault_of_a_file_at_once_with_its_place(tmp_path: Path) -> None:
    text = (
        f"{SHOTS},facing\n"
        "A,0,0,1.5,one,stalls,5,-95,\n"
        "A,,,1.6,two,stalls,far,10,sideways\n"
        ",,,1.5,three,stalls,5,0,\n"
        "B,4,,,two,circle,-2,0,\n"
    )
    found = faults(tmp_path, text)
    assert [fault.split(": ")[0] + ": " + fault.split(": ")[1] for fault in found] == [
        "survey.csv:2:24: inclination",
        "survey.csv:3:5: instrument_height",
        "survey.csv:3:20: distance",
        "survey.csv:3:27: facing",
        "survey.csv:4:1: station",
        "survey.csv:5:5: station_z",
        "survey.csv:5:6: instrument_height",
        "survey.csv:5:11: line",
        "survey.csv:5:18: distance",
    ]
    assert '"far"; a number such as 12.34' in found[2]
    assert '"sideways"; "audience" or "stage"' in found[3]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "is empty; a header and rows"),
        ("x_m,z_m\n", "holds 0 points; two or more"),
        ("x_m,z_m\n1,2\n", "holds 1 points; two or more"),
        ("x_m,height\n1,2\n", "height: is no column of this survey"),
        ("x_m,x\n1,2\n", "x: the column comes twice"),
        ("x_m,z_deg\n1,2\n", "z_deg: has a unit that does not fit"),
        ("x_m\n1\n", "z: no such column"),
        ("x_m,z_m\n3,8\nnan,1\n", '3:1: x: "nan"; a number'),
        ("x_m;z_m\n3,8;1\n2.5;1\n", '2:1: x: "3,8" has a decimal comma'),
        ("x_m,z_m\n1,2,3\n", "2:1: row: 3 cells; 2"),
        ("x_m,z_m\n0,0\n5,0\n4,1\n9,1\n", "runs back from x 5.000 m to (4.000, 1.000)"),
        ("x_m,z_m\n0,0\n24000,2400\n", "24000 m by 2400 m if given in m; is that the unit?"),
        ("x_mm,z_mm\n0,0\n24,2\n", "0.024 m by 0.002 m if given in mm"),
        ("x_m,distance_m\n1,2\n", "station: no such column"),
        (f"{SHOTS},x_m\nA,0,0,1,p,,5,0,1\n", "x_m: is no column of this survey of laser shots"),
        (f"{SHOTS}\nA,,,1,p,,5,0\nA,,,,q,,6,0\n", "nothing says where the datum is"),
        (
            f"{SHOTS}\nA,0,0,1,p,,5,0\nA,,,,q,,6,0\nB,,,1,r,,5,0\n",
            '4:1: station: "B" shares no point with the stations that are tied',
        ),
    ],
)
def test_bad_surveys(text: str, expected: str, tmp_path: Path) -> None:
    found = faults(tmp_path, text)
    assert any(expected in fault for fault in found), found
    assert all(fault.startswith("survey.csv:") for fault in found)


def test_files_that_are_no_text(tmp_path: Path) -> None:
    path = tmp_path / "survey.csv"
    with pytest.raises(ScenarioError, match="no such file"):
        floor_from_survey(path)
    path.write_bytes(b"x_m,z_m\n\xff\x8d,1\n")
    with pytest.raises(ScenarioError, match=r":2:1: .*bytes that are no"):
        floor_from_survey(path)
    with pytest.raises(ScenarioError, match='unit: "yard"; one of m, cm, mm, ft, in'):
        floor_from_survey(path, unit="yard")

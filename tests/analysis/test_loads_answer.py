"""The answer's loads and stack, their table, and the calculation sheet that a checker follows."""

import csv
import io
import json
import math
import re
import warnings

import pytest
from held_scenes import BOX, TWO, scene, solved
from typer.testing import CliRunner

import aiming
from aiming.analysis.calculation import calculations
from aiming.analysis.complete import complete
from aiming.cli.main import app
from aiming.report.sheets.calculation import calculation_pdf
from aiming.report.sheets.hang_files import hang_files, loads_csv
from aiming.report.text.calculation import calculation_list, calculation_text
from aiming.rigging.adjustment import wanted
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

G = 9.80665
PULL = 'method = "pull-back"\npicks = ["front", "rear, base"]\npull_elevation_deg = 30\n'
BAR = 'method = "one point"\npicks = ["front", "rear"]\nholes = [-0.25, -0.2]\nholes_w = 0.5\n'
STACK = 'mount = "stacked"\nbase = 0.5\ntilt = 0\nx = 0.0'


def loads(**parts):
    return solved(**parts).speakers[0].loads


@pytest.mark.parametrize("tilt", [-25, -10, 0, 15])
def test_points_sum_to_the_weight_with_the_extra_mass(tilt):
    found = loads(placement=f"height = 4\ntilt = {tilt}", upright=TWO + "extra_mass_kg = 3\n")
    assert found.weight_n == pytest.approx(29 * G, rel=1e-12)
    assert sum(point.tension_n for point in found.points) == pytest.approx(29 * G, rel=1e-12)
    assert sum(point.share for point in found.points) == pytest.approx(1.0, rel=1e-12)
    assert [point.name for point in found.points] == ["front", "rear"]
    for point in found.points:
        assert point.utilisation == pytest.approx(point.tension_n / (130 * G * 0.5))


def test_scaling_the_mass_scales_every_load():
    once, twice = loads(), loads(cabinet=BOX.replace("mass_kg = 26.0", "mass_kg = 52.0"))
    for one, other in zip(once.points, twice.points, strict=True):
        assert other.tension_n == pytest.approx(2 * one.tension_n, rel=1e-12)
        assert other.share == pytest.approx(one.share, rel=1e-12)


def test_where_the_lines_come_down_by_hand():
    """The picks move back 0.15 m between level and 20° nose down: 0.44·sin 20°."""
    level, down = (loads(placement=f"height = 4\ntilt = {tilt}",
                         upright=TWO + "steel_height = 9\n") for tilt in (0, -20))  # fmt: skip
    for k, u in ((0, -0.06), (1, -0.34)):
        tau = math.radians(-20.0)
        x, z = u * math.cos(tau) - 0.44 * math.sin(tau), u * math.sin(tau) + 0.44 * math.cos(tau)
        line = down.lines[k]
        assert (line.x_m, line.height_m) == pytest.approx((x, 4.0 + z), abs=1e-12)
        assert line.length_m == pytest.approx(5.0 - z, abs=1e-12)
        moved = line.x_m - level.lines[k].x_m
        assert moved == pytest.approx(0.15 + u * (math.cos(tau) - 1.0), abs=0.001)
        assert line.level_reading_n == pytest.approx(level.lines[k].reading_n)
    assert down.difference_m == pytest.approx(-0.28 * math.sin(math.radians(20.0)))


def test_totals_and_what_is_not_counted():
    bare = loads()
    assert bare.not_counted == ("hoists", "cable")
    full = loads(upright=TWO + "hoist_mass_kg = 20\ncable_mass_kg = 5\n")
    assert full.total_n == pytest.approx((26 + 40 + 5) * G)
    assert not full.not_counted


def test_a_bar_has_points_and_one_line():
    found = loads(upright=BAR, placement="height = [3, 5]")
    assert [point.name for point in found.points] == ["front", "rear"]
    [line] = found.lines
    assert line.reading_n == pytest.approx(26 * G)
    assert {setting.hole_u_m for setting in found.settings} == {-0.25, -0.2}
    assert found.doubt_deg > 0.5


def test_every_hole_is_judged_by_the_objective():
    """Not by nearness: each hole's own best, and the solver's is the best of them."""
    bar = BAR.replace("[-0.25, -0.2]", "[-0.3, -0.25, -0.2, -0.15]")
    open_to = solved(upright=bar, placement="height = [3, 5]").speakers[0]
    each = []
    for setting in open_to.loads.settings:
        tilt = setting.tilt_deg
        try:
            alone = solved(upright=bar, placement=f"height = [3, 5]\ntilt = {tilt!r}").speakers[0]
        except aiming.AimingError:
            continue
        each.append((alone.best.objective_db, tilt))
    assert len(each) > 1
    best, tilt = min(each)
    assert open_to.best.tilt_deg == pytest.approx(tilt, abs=1e-6)
    assert open_to.best.objective_db == pytest.approx(best, abs=0.1)


def test_loads_are_null_where_they_are_not_known():
    answer = solved(upright="")
    assert answer.to_dict()["speakers"][0]["loads"] is None
    assert solved().to_dict()["speakers"][0]["stack"] is None


def test_the_objects_are_plain_json_without_nan():
    for answer in (solved(), solved(upright=PULL), solved(placement=STACK, upright="")):
        text = json.dumps(answer.to_dict(), allow_nan=False)
        assert json.loads(text)["speakers"][0]["mount"] in ("flown", "stacked")


def test_the_stack_object():
    stack = solved(placement=STACK, upright="").to_dict()["speakers"][0]["stack"]
    assert stack["mass_kg"] == 26.0
    assert stack["front"]["margin_m"] == pytest.approx(0.19)
    assert stack["wind_checked"] is True
    assert stack["asked"] == 1.5
    assert "ours" not in stack["asked_source"]


def test_both_unit_systems_give_the_same_loads():
    metres = loads(upright=TWO + 'steel_height = "30 ft"\n')
    feet = aiming.solve(
        aiming.load("-", stdin_text=re.sub(r"(?<![\w\"])(-?\d+\.\d+)(?=[,\]])", r'"\1 m"',
            scene(top='units = "ft"', upright=TWO + "steel_height = 30\n",
                  placement='height = "4 m"\ntilt = -10')))
    ).speakers[0].loads  # fmt: skip
    for one, other in zip(metres.points, feet.points, strict=True):
        assert other.tension_n == pytest.approx(one.tension_n, rel=1e-12)
    assert feet.lines[0].length_m == pytest.approx(metres.lines[0].length_m, rel=1e-12)


def test_the_table_of_loads():
    answer = solved(upright=TWO + "steel_height = 9\n")
    rows = list(csv.DictReader(io.StringIO(loads_csv(answer))))
    assert [(row["kind"], row["name"]) for row in rows] == [
        ("point", "front"), ("point", "rear"), ("line", "front"), ("line", "rear"),
    ]  # fmt: skip
    front, point = rows[0], answer.speakers[0].loads.points[0]
    assert float(front["tension_n"]) == point.tension_n
    assert float(front["hangs_kg"]) == pytest.approx(point.tension_n / G)
    assert float(front["tension_lbf"]) == pytest.approx(point.tension_n / 4.4482216152605)
    assert rows[2]["tension_n"] == ""
    assert float(rows[2]["length_m"]) == answer.speakers[0].loads.lines[0].length_m
    assert len(list(csv.reader(io.StringIO(loads_csv(solved(upright="")))))) == 1


def worked(**parts):
    scenario = aiming.load("-", stdin_text=scene(**parts))
    answer = aiming.solve(scenario)
    return answer, calculations(answer)


@pytest.mark.parametrize(
    "parts",
    [{"upright": TWO + "steel_height = 9\n"}, {"upright": PULL}, {"upright": BAR},
     {"placement": 'height = 4\ntilt = -10\norientation = "flipped"', "upright": "",
      "flipped": 'method = "two points"\npicks = ["front, base", "rear, base"]\n'},
     {"placement": STACK, "upright": "",
      "more": "[speaker.stack]\nwind_area_m2 = 0.3\nfriction = 0.4\n[outdoors]\ngust_speed = 15\n"},
     {"upright": "", "cabinet": ""}],
)  # fmt: skip
def test_the_calculation_comes_to_the_answers_figures(parts):
    answer, found = worked(**parts)
    one = answer.speakers[0]
    text = calculation_text(found)
    assert all(len(line) < 80 for line in text.splitlines())
    assert "competent or licensed" in " ".join(text.split())
    results = [step.result for part in found[0].parts for step in part.steps]

    def shown(value):
        return any(math.isclose(value, of, rel_tol=1e-9, abs_tol=1e-12) for of in results)

    assert one.loads is None or all(shown(of.tension_n) or of.name not in ("front", "rear")
               or parts.get("upright") == BAR for of in one.loads.points)  # fmt: skip
    if one.loads is not None:
        assert shown(one.loads.weight_n)
        assert shown(one.trim_m)
    if one.stack is not None:
        assert shown(one.stack.wind_n)
        assert shown(one.stack.front.safety)
    assert json.dumps(calculation_list(found), allow_nan=False)


def test_the_laser_on_the_calculation_sheet():
    _, [found] = worked(placement="height = 4\ntilt = -14")
    marks = found.sheet.laser
    results = {step.symbol: step.result for step in found.parts[-1].steps}
    assert results["x_ear"] == pytest.approx(marks.ear_m[0], abs=1e-9)
    assert results["x_dot"] == pytest.approx(marks.floor_m[0], abs=1e-9)
    assert results["mark"] == pytest.approx(marks.above_floor_m, abs=1e-9)


def test_flipped_places_on_the_calculation_sheet():
    base = 'method = "two points"\npicks = ["front, base", "rear, base"]\n'
    answer, [found] = worked(
        placement='height = 4\ntilt = -10\norientation = "flipped"', upright="", flipped=base
    )
    results = {step.symbol: step.result for part in found.parts for step in part.steps}
    assert results["Z_trim"] == pytest.approx(answer.speakers[0].trim_m, abs=1e-9)
    assert results["z_l"] == pytest.approx(found.sheet.laser.at_m[1], abs=1e-9)


def test_its_numbers_can_be_worked_by_hand():
    """Each printed line of numbers, put into a calculator, gives the printed result."""
    _, found = worked(upright=TWO + "steel_height = 9\n")
    degrees = re.compile(r"(-?[\d.e+-]+)°")
    names = {"sin": math.sin, "cos": math.cos, "tan": math.tan, "atan": math.atan, "Abs": abs}
    for part in found[0].parts:
        for step in part.steps:
            text = degrees.sub(lambda of: f"({math.radians(float(of[1]))!r})", step.numbers)
            result = eval(text.replace("·", "*").replace("^", "**"), {"__builtins__": {}}, names)
            if step.unit == "deg":
                result = math.degrees(result)
            assert result == pytest.approx(step.result, rel=2e-4, abs=2e-5), step.name
            assert step.source


def test_the_printed_calculation():
    _, found = worked(upright=TWO + "steel_height = 9\n")
    once = calculation_pdf(found, date="14 May")
    assert once == calculation_pdf(found, date="14 May")
    assert b"CreationDate" not in once
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pypdf import PdfReader

        pages = [
            " ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(once)).pages
        ]
    assert len(pages) > 1
    whole = " ".join(pages)
    # Subscripts are set as such: no underscore is left, and the letters are there to be found.
    assert "TF=W·(xG−xR)/(xF−xR)" in whole.replace(" ", "")
    assert "T_F" not in whole
    for shown in ("DGUV Information 215-313", "k = 1.00",
                  "date 14 May", f"page {len(pages)} of {len(pages)}"):  # fmt: skip
        assert shown in whole


def test_all_files_for_whoever_hangs_it():
    scenario = aiming.load("-", stdin_text=scene())
    files = hang_files(complete(aiming.solve(scenario)), paper="letter", date="14 May")
    assert set(files) == {"hang_sheet.pdf", "hang_sheet.png", "hang_sheet.svg", "calculation.pdf",
                          "loads.csv"}  # fmt: skip


def test_the_command_line(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text(scene(), encoding="utf-8")
    run = CliRunner()
    fine = run.invoke(app, ["solve", str(path), "--json", "--working"])
    assert fine.exit_code == 0
    assert json.loads(fine.stdout)["working"][0]["speaker"] == "main"
    stopped = run.invoke(
        app, ["evaluate", str(path), "--set", "speaker.main.placement.tilt=-40", "--json"]
    )
    assert stopped.exit_code == 3
    codes = [one["code"] for one in json.loads(stopped.stdout)["cautions"]]
    assert codes[0] == "no-rigging-design"
    assert "slack-point" in codes
    out = tmp_path / "out"
    written = run.invoke(app, ["solve", str(path), "--out", str(out), "--date", "14 May"])
    assert written.exit_code == 0
    assert (out / "hang_sheet.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "loads.csv").read_text(encoding="utf-8").startswith("loudspeaker,kind,name")
    again = run.invoke(app, ["solve", str(path), "--paper", "foolscap"])
    assert again.exit_code == 2


PICKS = (Pick("front", (-0.06, 0.44)), Pick("rear", (-0.34, 0.44)))
CABINET = Cabinet(mass_kg=26.0, centre_of_gravity_m=(-0.17, 0.08), picks=PICKS)


@pytest.mark.parametrize(("tilt", "name"), [(-40.0, "rear"), (30.0, "front")])
def test_the_point_that_would_have_to_move(tilt, name):
    """At the wanted place the other point bears just the share asked for."""
    rigging = Rigging("two points", ("front", "rear"))
    found = wanted(CABINET, rigging, flipped=False, tilt_deg=tilt, least_share=0.1)
    assert (found.what, found.name) == ("pick", name)
    assert found.moved_m == pytest.approx(
        found.u_m - next(pick.at_m[0] for pick in PICKS if pick.name == name)
    )
    t = math.tan(math.radians(tilt))
    seen = {pick.name: pick.at_m[0] - pick.at_m[1] * t for pick in PICKS}
    seen[name] = found.u_m - 0.44 * t
    centre = -0.17 - 0.08 * t
    span = seen["front"] - seen["rear"]
    bears = (centre - seen["rear"]) / span if name == "rear" else (seen["front"] - centre) / span
    assert bears == pytest.approx(0.1, abs=1e-12)
    assert wanted(CABINET, Rigging("pull-back", ("front", "rear"), pull_elevation_deg=30.0),
                  flipped=False, tilt_deg=tilt, least_share=0.1) is None  # fmt: skip

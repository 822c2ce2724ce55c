"""The small commands: check, schema, ideal, bridle, pattern, help, version."""

import json
import re
from pathlib import Path

import answers
import pytest
from command_line import process, run
from paths import ROOT

from aiming.base.version import VERSION
from aiming.cli.main import app

COMMANDS = sorted(str(one.name or one.callback.__name__) for one in app.registered_commands)


def test_version_and_help() -> None:
    assert process("--version").out == f"aiming {VERSION}\n"
    bare = run()
    assert "Usage: aiming" in bare.out + bare.err


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(name: str) -> None:
    name = name.replace("_", "-")
    ended = run(name, "--help")
    assert ended.code == 0
    assert ended.out.startswith(f"Usage: aiming {name}") or f" {name} " in ended.out.split("\n")[0]
    overview = run("--help").out
    line = next(line for line in overview.splitlines() if re.match(rf"  {name} +\w", line))
    assert not line.endswith("..."), "a first line too long for the overview"


def test_check_says_no_faults(tmp_path: Path) -> None:
    ended = run("check", "-", stdin=answers.HALL.format(units="m"))
    assert (ended.code, ended.out) == (0, "-: no faults; 17 rows, 1 loudspeaker\n")


def test_check_lists_faults_on_stderr() -> None:
    ended = run("check", "-", stdin="schema = 2\nspeaker = 3\n")
    assert (ended.code, ended.out) == (2, "")
    assert all(line.startswith("-:") for line in ended.err.splitlines())
    assert len(ended.err.splitlines()) >= 2


def test_schema_is_a_json_schema() -> None:
    found = json.loads(run("schema").out)
    assert found["$schema"].startswith("https://json-schema.org/")
    assert "speaker" in found["properties"]


def test_ideal_gives_the_law_of_cosines_position() -> None:
    """60° and 20 m: d = 20/√(5 − 4·cos 30°) = 16.138 m, closed form recomputed here."""
    found = json.loads(run("ideal", "--coverage", "60", "--length", "20", "--json").out)
    assert found["near_throw_m"] == pytest.approx(16.138, abs=1e-3)
    assert found["far_throw_m"] == pytest.approx(2 * found["near_throw_m"], rel=1e-12)
    assert found["tilt_deg"] == pytest.approx(-23.79, abs=0.01)


def test_ideal_in_feet_is_ideal_in_metres() -> None:
    metres = run("ideal", "--coverage", "50", "--length", "12.192 m", "--json").out
    feet = run("ideal", "--coverage", "50", "--length", "40 ft", "--json").out
    bare = run("ideal", "--coverage", "50", "--length", "40", "--units", "ft", "--json").out
    assert metres == feet == bare


def test_ideal_says_where_it_is_louder_and_works_it_out() -> None:
    ended = run("ideal", "--coverage", "60", "--length", "20", "--working")
    said = " ".join(ended.out.split())
    assert "nose down 23.8°" in said
    assert "2.3 dB louder at 35 % of its length" in said
    assert "d = L/sqrt(5 - 4*cos(phi))" in said
    assert max(map(len, ended.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--coverage", "0", "--length", "20"], "between 0 and 180"),
        (["--coverage", "60", "--length", "-2"], "more than 0"),
        (["--coverage", "60", "--length", "3,5 m"], "decimal point"),
        (["--coverage", "60", "--length", "2", "--units", "yd"], '"m" or "ft"'),
        (["--coverage", "60", "--length", "2", "--slope", "90"], "between -90 and 90"),
        (["--coverage", "nan", "--length", "2"], "between 0 and 180"),
    ],
)
def test_ideal_refuses(arguments: list[str], said: str) -> None:
    ended = run("ideal", *arguments)
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err


def test_bridle_divides_the_load() -> None:
    """V 2 and 1.5, H 1.5 and 2: 800 and 600 N of 1000 N, level pull 480 N (closed form)."""
    asked = ["--drops", "2", "1.5", "--reaches", "1.5", "2"]
    found = json.loads(run("bridle", "--load", "1 kN", *asked, "--json").out)
    assert [leg["tension_n"] for leg in found["legs"]] == pytest.approx([800.0, 600.0])
    assert found["horizontal_n"] == pytest.approx(480.0)
    text = run("bridle", "--load", "1000 N", *asked, "--working").out
    assert "0.800 kN (179.8 lbf), 80 % of the load" in text
    assert "rigging design" in text
    assert max(map(len, text.splitlines())) <= 90
    hung = json.loads(run("bridle", "--load", "100 kg", *asked, "--json").out)
    assert hung["load_n"] == pytest.approx(980.665)


def test_bridle_warns_of_flat_legs_and_refuses_nonsense() -> None:
    flat = run("bridle", "--load", "50 kg", "--drops", "0.5", "0.5", "--reaches", "2", "2")
    assert "14.0° above horizontal" in " ".join(flat.out.split())
    for load in ("50", "50 stone", "-3 kg", "nan N"):
        ended = run("bridle", "--load", load, "--drops", "1", "1", "--reaches", "1", "1")
        assert (ended.code, ended.out) == (2, "")
        assert "a load such as" in ended.err
    assert run("bridle", "--load", "5 kg", "--drops", "1", "1", "--reaches", "0", "0").code == 2


def test_pattern_shows_figures_and_pictures(tmp_path: Path) -> None:
    path = tmp_path / "box.csv"
    angles = range(-180, 181, 10)
    rows = [f"{angle},{-((angle / 30) ** 2) * 6.02:.3f}" for angle in angles]
    path.write_text("angle_deg,1000\n" + "\n".join(rows) + "\n")
    ended = run("pattern", path)
    assert ended.code == 0, ended.err
    assert "60.0°" in ended.out
    found = json.loads(run("pattern", path, "--json", "--out", tmp_path / "out").out)
    assert found["by_band"]["1000"]["coverage_deg"] == pytest.approx(60.0, abs=0.05)
    assert (tmp_path / "out" / "pattern.png").read_bytes().startswith(b"\x89PNG")
    assert run("pattern", tmp_path / "absent.csv").code == 2
    assert run("pattern", path, "--width", "half").code == 2


def test_a_bridle_to_points_of_the_steel_in_plan() -> None:
    """Two legs of the same triangle turned by 90°: 800 and 600 N again; three balance in space."""
    asked = ["--load", "1 kN", "--apex", "0,0,6", "--take-up", "0.3"]
    turned = json.loads(run("bridle", *asked, "--to", "0,-1.5,8", "--to", "0,2,7.5", "--json").out)
    assert [leg["tension_n"] for leg in turned["legs"]] == pytest.approx([800.0, 600.0])
    assert [leg["cut_m"] for leg in turned["legs"]] == pytest.approx([2.2, 2.2])
    points = [(-2.0, 0.0, 8.0), (1.0, 1.5, 8.5), (1.2, -1.0, 7.5)]
    legs = [text for at in points for text in ("--to", ",".join(map(str, at)))]
    three = json.loads(run("bridle", *asked, *legs, "--json", "--working").out)
    sums = [
        sum(leg["tension_n"] * (at[axis] - (0.0, 0.0, 6.0)[axis]) / leg["length_m"]
            for leg, at in zip(three["legs"], points, strict=True))
        for axis in range(3)
    ]  # fmt: skip
    assert sums == pytest.approx([0.0, 0.0, 1000.0], abs=1e-9)
    by_hand = {one["symbol"]: one["result"] for one in three["working"]}
    assert [by_hand[f"T_{k}"] for k in (1, 2, 3)] == pytest.approx(
        [leg["tension_n"] for leg in three["legs"]]
    )


def test_a_bridle_takes_the_load_of_a_point_of_the_sheet() -> None:
    quarry = str(ROOT / "scenarios" / "quarry.toml")
    [speaker] = json.loads(run("solve", quarry, "--json").out)["speakers"]
    front = speaker["loads"]["lines"][0]
    legs = ["--apex", "7", "--to=-1.5,0,8.5", "--to", "1.2,0,8.5"]
    found = json.loads(run("bridle", quarry, "--point", "front", *legs, "--json").out)
    assert found["load_n"] == front["structure_vertical_n"]
    assert [leg["reach_m"] for leg in found["legs"]] == pytest.approx(
        [1.5 + front["x_m"], 1.2 - front["x_m"]]
    )
    for wrong, said in (
        (["--point", "middle", *legs], "one of front, rear"),
        (["--point", "front", "--apex", "2,0,7", *legs[2:]], "plumb over the hook"),
        (["--point", "front", "--apex", "4", *legs[2:]], "plumb over the hook"),
        (["--point", "front", *legs, "--load", "3 kg"], "--load: "),
        (["--point", "front", *legs, "--drops", "1", "1"], "--drops: "),
        (["--point", "front", *legs, "--take-up=-1"], "0 or more"),
    ):
        ended = run("bridle", quarry, *wrong)
        assert (ended.code, ended.out) == (2, ""), wrong
        assert said in ended.err


def test_a_bridle_as_flat_as_a_washing_line_stops() -> None:
    flat = run("bridle", "--load", "50 kg", "--drops", "0.01", "0.01", "--reaches", "1", "1")
    assert flat.code == 3
    slack = run("bridle", "--load", "50 kg", "--drops", "1", "1", "--reaches", "0", "1")
    assert slack.code == 3

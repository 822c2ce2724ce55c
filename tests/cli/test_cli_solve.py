"""`aiming solve` and `aiming evaluate` as a person and as a script use them."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import answers
import pytest
from command_line import process, run

FIXED = answers.HALL.replace('height = ["3 m", "6 m"]', 'height = "4.4 m"\ntilt = -13')
IMPOSSIBLE = answers.HALL.replace(
    'height = ["3 m", "6 m"]', 'height = ["3 m", "6 m"]\ntilt = [20, 40]'
)


@pytest.fixture
def hall(tmp_path: Path) -> Path:
    return written(tmp_path, answers.HALL)


def written(folder: Path, text: str, units: str = "m", name: str = "hall.toml") -> Path:
    path = folder / name
    path.write_text(text.format(units=units), encoding="utf-8")
    return path


def never(constant: str) -> Any:
    raise AssertionError(f"{constant} in JSON")


def test_summary_says_the_answer_first(hall: Path) -> None:
    ended = run("solve", hall)
    lines = ended.out.splitlines()
    assert ended.code == 0
    assert lines[0].startswith("Assembly hall of a school, speech")
    assert re.search(r"nose (down|up) \d+\.\d°.*(trim|centre) \d+\.\d\d m", lines[1])
    assert len(lines) <= 12
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in ended.out
    # What reads standard output alone, a file or a program, does not take the cautions with it.
    assert ended.err.startswith("Caution: No rigging design")


def test_cautions_are_said_once_where_both_streams_are_one(hall: Path) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "aiming", "solve", str(hall)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert len(ended.stdout.splitlines()) <= 12


def test_json_alone_on_stdout_and_cautions_on_stderr(hall: Path) -> None:
    ended = run("solve", hall, "--json")
    found = json.loads(ended.out, parse_constant=never)
    assert ended.code == 0
    assert list(found)[:4] == ["schema", "version", "title", "speakers"]
    assert found["speakers"][0]["gap_db"] <= 0.05
    assert len(ended.err.splitlines()) == len(found["cautions"])
    assert ended.err.startswith("Caution: No rigging design")


def test_same_file_same_bytes_in_two_processes(hall: Path) -> None:
    first, second = process("solve", hall, "--json"), process("solve", hall, "--json")
    assert first == second
    assert first.code == 0


def test_json_is_utf8_whatever_the_locale(hall: Path) -> None:
    hall.write_text(hall.read_text().replace("school", "école"), encoding="utf-8")
    plain = {"PYTHONIOENCODING": "ascii", "LC_ALL": "C", "PYTHONUTF8": "0"}
    ended = process("solve", hall, "--json", **plain)
    assert ended.code == 0
    assert json.loads(ended.out)["title"] == "Assembly hall of a école, speech"
    summary = process("solve", hall, **plain)
    assert summary.code == 0 and summary.out.isascii()


def test_quiet_is_the_aim_alone(hall: Path) -> None:
    ended = run("solve", hall, "--quiet")
    assert re.fullmatch(
        r"main: nose \w+ [\d.]+°, upright, height [\d.]+ m, spread [\d.]+ dB\n", ended.out
    )
    assert ended.err == ""


def test_reads_stdin(hall: Path) -> None:
    assert (
        run("solve", "-", "--json", stdin=hall.read_text()).out == run("solve", hall, "--json").out
    )


def test_set_changes_a_value(hall: Path) -> None:
    ended = run("solve", hall, "--json", "--set", "speaker.main.placement.height=5")
    assert json.loads(ended.out)["speakers"][0]["height_m"] == 5.0
    fixed = run("evaluate", hall, "--json", "--set", "speaker.main.placement.height=4.4 m",
                "--set", "speaker.main.placement.tilt=-13")  # fmt: skip
    assert json.loads(fixed.out)["speakers"][0]["tilt_deg"] == -13.0
    assert json.loads(fixed.out)["speakers"][0]["gap_db"] is None


def test_feet_are_spoken_in_feet(tmp_path: Path) -> None:
    ended = run("solve", written(tmp_path, answers.HALL, units="ft"))
    assert re.search(r"(trim|centre) \d+ ft [\d /]+ in", ended.out)


def test_variant_is_taken_by_name(tmp_path: Path) -> None:
    text = answers.HALL + (
        '[[variant]]\nname = "low"\nset = {{ "speaker.main.placement.height" = 3.0 }}\n'
    )
    path = written(tmp_path, text)
    low = json.loads(run("solve", path, "--variant", "low", "--json").out)
    assert low["speakers"][0]["height_m"] == 3.0
    wrong = run("solve", path, "--variant", "high")
    assert (wrong.code, wrong.out) == (2, "")
    assert '"high"' in wrong.err and '"low"' in wrong.err


def test_every_fault_at_once_and_nothing_written(tmp_path: Path) -> None:
    text = answers.HALL.replace("coverage = 60", "coverage = 400").replace(
        "row_spacing", "row_spacnig"
    )
    path = written(tmp_path, text)
    ended = run("solve", path, "--out", tmp_path / "out")
    assert (ended.code, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 2
    for line in ended.err.splitlines():
        assert re.match(rf"{re.escape(str(path))}:\d+:\d+: [\w.]+: .+; .+", line)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["solve", "absent.toml"], "there is no such file"),
        (["solve"], "Missing argument"),
        (["solve", "-", "--set", "nonsense"], "KEY=VALUE"),
        (["solve", "-", "--nonsense"], "No such option"),
        (["nonsense"], "No such command"),
    ],
)
def test_bad_input_and_bad_usage_end_with_2(arguments: list[str], said: str) -> None:
    ended = run(*arguments, stdin=answers.HALL.format(units="m"))
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err


def test_no_placement_as_json_is_json_alone_and_names_the_stop(tmp_path: Path) -> None:
    ended = run("solve", written(tmp_path, IMPOSSIBLE), "--json")
    assert ended.code == 3
    told = json.loads(ended.out)
    assert told["speakers"] == [] and told["rows"] == [] and told["together"] is None
    assert [one["code"] for one in told["cautions"]] == ["no-placement"]
    assert told["cautions"][0]["severity"] == "stop"
    assert "tilt would have to reach down to" in told["cautions"][0]["text"]


def test_no_placement_ends_with_3_and_says_what_each_limit_would_have_to_become(
    tmp_path: Path,
) -> None:
    ended = run("solve", written(tmp_path, IMPOSSIBLE), "--out", tmp_path / "out")
    assert (ended.code, ended.out) == (3, "")
    assert "no placement meets the limits" in ended.err
    assert "tilt would have to reach down to" in ended.err
    assert not (tmp_path / "out").exists()


def test_evaluate_refuses_ranges_and_names_their_keys(hall: Path) -> None:
    ended = run("evaluate", hall)
    assert (ended.code, ended.out) == (2, "")
    assert "speaker.main.placement.height" in ended.err
    assert "speaker.main.placement.tilt" in ended.err


def test_solve_without_ranges_evaluates(tmp_path: Path) -> None:
    path = written(tmp_path, FIXED)
    assert run("solve", path, "--json").out == run("evaluate", path, "--json").out


def test_out_writes_the_answer_and_its_drawings(hall: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    ended = run("solve", hall, "--out", folder)
    names = set(os.listdir(folder))
    assert ended.code == 0
    assert {"answer.json", "summary.txt", "section.png", "section.svg", "section.pdf"} <= names
    assert f"written to {folder}: " in ended.err
    assert (folder / "answer.json").read_text("utf-8") == run("solve", hall, "--json").out
    assert (folder / "summary.txt").read_text("utf-8") == run("solve", hall, "--full").out
    assert len(ended.out) < len(run("solve", hall, "--full").out)
    before = {name: (folder / name).read_bytes() for name in names}
    assert run("solve", hall, "--out", folder, "--quiet").err == ""
    assert {name: (folder / name).read_bytes() for name in os.listdir(folder)} == before


def test_out_leaves_a_strangers_folder_alone(hall: Path, tmp_path: Path) -> None:
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "holiday.jpg").write_text("precious")
    ended = run("solve", hall, "--out", folder, "--json")
    assert (ended.code, ended.out) == (2, "")
    assert "holds other files (holiday.jpg)" in ended.err
    assert os.listdir(folder) == ["holiday.jpg"]
    assert run("solve", hall, "--out", folder, "--replace", "--json").code == 0
    assert (folder / "holiday.jpg").read_text() == "precious"


def test_a_stop_caution_ends_with_3(tmp_path: Path) -> None:
    """A box whose front pick goes slack at the tilt that is asked for."""
    cabinet = """
    mass_kg = 45
    centre_of_gravity = ["-0.28 m", "-0.35 m"]
    picks = [{{ name = "front", at = ["0 m", "0 m"] }}, {{ name = "rear", at = ["-0.5 m", "0 m"] }}]
    [speaker.rigging.upright]
    method = "two points"
    picks = ["front", "rear"]
    """
    text = FIXED.replace("[speaker.placement]", cabinet + "[speaker.placement]").replace(
        "tilt = -13", "tilt = -60"
    )
    ended = run("evaluate", written(tmp_path, text), "--json")
    found = json.loads(ended.out)
    assert any(one["severity"] == "stop" for one in found["cautions"])
    assert ended.code == 3
    quiet = run("evaluate", written(tmp_path, text), "--quiet")
    assert quiet.code == 3 and "STOP: " in quiet.err


def test_a_closed_pipe_is_no_error(hall: Path) -> None:
    ended = subprocess.run(
        ["bash", "-c", f"set -o pipefail; '{sys.executable}' -m aiming schema | true"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode in (0, 141)
    assert ended.stderr == ""


def test_a_bug_shows_its_traceback_and_ends_with_1(hall: Path) -> None:
    program = (
        "import aiming.analysis.solve as s, sys\n"
        "def broken(scenario, **_): raise ZeroDivisionError('bug')\n"
        "s.solve = broken\n"
        "from aiming.cli.main import main\nmain()"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program, "solve", str(hall)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 1
    assert "Traceback" in ended.stderr and "ZeroDivisionError: bug" in ended.stderr

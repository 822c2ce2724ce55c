"""The fixed words held from outside: ranges left, no placement, exit codes, where answers go."""

import json
from pathlib import Path

from asked import codes, evaluated, only, scene
from command_line import process, run
from outside import write


def test_evaluate_has_no_gap_and_refuses_ranges(tmp_path: Path) -> None:
    one = only(evaluated(scene()))
    assert one["gap_db"] is None
    for placement, key in (
        ("height = [4, 6]\ntilt = -20", "speaker.main.placement.height"),
        ("height = 6", "speaker.main.placement.tilt"),
        ("x = [0, 1]\nheight = 6\ntilt = -20", "speaker.main.placement.x"),
        ('height = 6\ntilt = -20\norientation = "either"', "speaker.main.placement.orientation"),
    ):
        ended = run("evaluate", write(tmp_path, scene(placement=placement)))
        assert ended.code == 2
        assert f" {key}: " in ended.err
        assert not ended.out


def test_solve_without_ranges_evaluates_and_limits_become_cautions(tmp_path: Path) -> None:
    off = scene(placement="height = 6.0\ntilt = 40.0")
    ended = run("solve", write(tmp_path, off), "--json", "--out", tmp_path / "out")
    answer = json.loads(ended.out)
    assert only(answer)["tilt_deg"] == 40.0
    assert only(answer)["aim_point"] is None
    assert "axis-off-audience" in codes(answer)
    assert any((tmp_path / "out").iterdir())
    assert ended.code == (3 if "stop" in {one["severity"] for one in answer["cautions"]} else 0)


def test_no_placement_is_exit_three_and_said(tmp_path: Path) -> None:
    text = scene(placement="height = 6.0\ntilt = [30, 60]")
    ended = run("solve", write(tmp_path, text))
    assert ended.code == 3
    assert "tilt" in ended.out + ended.err


def test_exit_two_tells_every_fault_at_its_place_and_writes_nothing(tmp_path: Path) -> None:
    text = scene(pattern="coverage = 400", placement="hight = 6.0\ntilt = [5, -5]")
    path = write(tmp_path, text)
    ended = run("solve", path, "--json", "--out", tmp_path / "out")
    assert ended.code == 2
    assert not ended.out
    assert not (tmp_path / "out").exists()
    lines = [line for line in ended.err.splitlines() if line.startswith(str(path))]
    assert len(lines) >= 3
    assert any("did you mean" in line.lower() and "height" in line for line in lines)
    for line in lines:
        number, column = line[len(str(path)) + 1 :].split(":")[:2]
        assert int(number) >= 1 and int(column) >= 1
        assert ";" in line


def test_check_and_standard_input() -> None:
    assert process("check", "-", stdin=scene()).code == 0
    assert process("check", "-", stdin="title = 3").code == 2
    assert process("solve", "no-such-file.toml").code == 2
    assert process("solve").code == 2
    assert json.loads(process("evaluate", "-", "--json", stdin=scene()).out)["schema"] == 1


def test_json_alone_on_standard_output() -> None:
    ended = process("evaluate", "-", "--json", stdin=scene())
    json.loads(ended.out)
    assert "Caution" in ended.err and "Caution" not in ended.out

"""Drawings and surveys from file to answer, and a scenario made from a drawing."""

import os
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from command_line import Ended, process, run
from paths import ROOT
from test_drawing import CODES, TIER_M

import aiming
from aiming.files.dxf import METRES_PER_UNIT

HALL = """
{units}
[[seating]]
name = "tier"
drawing = {{ file = "section.dxf", layer = "{layer}" }}
[[speaker]]
name = "main"
pattern.coverage = 60
placement = {{ height = 6.0, tilt = -10 }}
"""


def drawn(folder: Path, unit: str | None, *, scale: float | None = None) -> Path:
    """A tier, a wall and seven seats in this unit, and the scenario beside it."""
    document: Any = ezdxf.new("R2010", units=CODES[unit] if unit else 0)
    space = document.modelspace()
    per_m = scale or 1.0 / METRES_PER_UNIT[unit or "m"]
    space.add_lwpolyline([tuple(p) for p in TIER_M * per_m], dxfattribs={"layer": "tier"})
    space.add_line((19 * per_m, 0), (19 * per_m, 7 * per_m), dxfattribs={"layer": "back wall"})
    for row in range(7):
        x = (4.0 + 0.9 * row) * per_m
        space.add_line((x, 0), (x, 0.45 * per_m), dxfattribs={"layer": "seats"})
    document.saveas(folder / "section.dxf")
    return scenario(folder)


def scenario(folder: Path, *, units: str = "", layer: str = "tier") -> Path:
    path = folder / "hall.toml"
    path.write_text(HALL.format(units=units, layer=layer), encoding="utf-8")
    return path


def refused(path: Path) -> Ended:
    ended = run("solve", path)
    assert ended.code == 2
    assert ended.out == ""
    assert len(ended.err.strip().splitlines()) == 1
    return ended


@pytest.mark.parametrize("unit", ["m", "mm", "ft", "in"])
def test_a_drawing_in_any_unit_gives_the_same_rows_to_a_tenth_of_a_millimetre(
    unit: str, tmp_path: Path
) -> None:
    found = aiming.load(drawn(tmp_path, unit))
    np.testing.assert_allclose(found.seatings[0].floor_m, TIER_M, atol=1e-4)
    answer = aiming.evaluate(found)
    assert answer.rows.x_m[-1] == pytest.approx(18.0, abs=1e-4)
    assert answer.rows.z_m[-1] == pytest.approx(3.6, abs=1e-4)
    [extents] = [one.text for one in answer.cautions if 'layer "tier"' in one.text]
    assert "x 4.00 m to 18.00 m, z 0.00 m to 2.40 m" in extents


def test_millimetres_read_as_metres_ask(tmp_path: Path) -> None:
    ended = refused(drawn(tmp_path, "m", scale=1000.0))
    assert "hall.toml:2:1: drawing_units" in ended.err or "drawing_units" in ended.err
    assert "14000 m" in ended.err and "is that the unit?" in ended.err
    asked = scenario(tmp_path, units='drawing_units = "mm"')
    np.testing.assert_allclose(aiming.load(asked).seatings[0].floor_m, TIER_M, atol=1e-4)


def test_no_unit_no_layer_no_whole_file(tmp_path: Path) -> None:
    path = drawn(tmp_path, None)
    assert "names no unit" in refused(path).err
    drawn(tmp_path, "m")
    missing = refused(scenario(tmp_path, layer="gallery"))
    assert 'no layer "gallery"' in missing.err and '"back wall"' in missing.err
    scenario(tmp_path)
    whole = (tmp_path / "section.dxf").read_bytes()
    (tmp_path / "section.dxf").write_bytes(whole[: len(whole) // 2])
    assert "section.dxf" in refused(path).err
    (tmp_path / "section.dxf").write_bytes(b"AutoCAD Binary DXF\r\n\x1a\0" + b"\0" * 64)
    assert "binary DXF" in refused(path).err


def test_a_scenario_from_a_drawing_lists_layers_and_solves(tmp_path: Path) -> None:
    drawn(tmp_path, "mm")
    (tmp_path / "made").mkdir()
    made = tmp_path / "made" / "new.toml"
    ended = process("new", made, "--from", tmp_path / "section.dxf")
    assert ended.code == 0, ended.err
    for told in ("unit mm", "tier: 1 LWPOLYLINE; x 4000 to 18000", "tier: taken as seating",
                 "back wall: taken as surface", "seats: taken as left out"):  # fmt: skip
        assert told in ended.err
    found = aiming.load(made)
    assert [one.name for one in found.seatings] == ["tier"]
    assert [one.name for one in found.surfaces] == ["back wall"]
    np.testing.assert_allclose(found.seatings[0].floor_m, TIER_M, atol=1e-4)
    assert aiming.solve(found).speakers[0].gap_db is not None
    assert max(map(len, made.read_text(encoding="utf-8").splitlines())) <= 130
    again = process("new", made, "--from", tmp_path / "section.dxf")
    assert again.code == 2 and "exists already" in again.err


def test_new_from_a_drawing_that_says_too_little(tmp_path: Path) -> None:
    drawn(tmp_path, None)
    drawing = tmp_path / "section.dxf"
    silent = process("new", "--from", drawing)
    assert silent.code == 2 and "say --drawing-units" in silent.err and silent.out == ""
    said = process("new", "--from", drawing, "--drawing-units", "m")
    assert said.code == 0 and 'drawing_units = "m"' in said.out
    wrong = process("new", "--from", drawing, "--drawing-units", "furlong")
    assert wrong.code == 2 and '"mm"' in wrong.err
    assert process("new", "--from", tmp_path / "none.dxf").code == 2
    alone = process("new", "--drawing-units", "mm")
    assert alone.code == 2 and "--from" in alone.err
    kilometres = process("new", "--from", drawing, "--drawing-units", "mm")
    assert kilometres.code == 2 and "is that the unit?" in kilometres.err


def test_the_drawn_hall_and_the_shot_barn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT / "scenarios")
    hall = aiming.load("from_drawing.toml")
    by_name = {one.name: one.floor_m for one in hall.seatings}
    np.testing.assert_allclose(by_name["stalls"], [[3.2, 0.0], [9.0, 0.0], [16.4, 0.74]], atol=1e-4)
    assert len(by_name["tier"]) == 20
    np.testing.assert_allclose(by_name["tier"][-1], [14.0 + 9.5, 4.1 + 9 * 0.42], atol=1e-4)
    barn = aiming.load("laser_survey.toml")
    wanted = [[3.1, 0.0], [6.1, 0.02], [8.6, 0.05], [8.6, 0.45], [11.4, 0.46], [15.2, 0.49],
              [16.4, 0.5]]  # fmt: skip
    np.testing.assert_allclose(barn.seatings[0].floor_m, wanted, atol=0.02)
    answer = aiming.solve(barn)
    [closing] = [one for one in answer.cautions if one.code == "survey-closing"]
    assert closing.severity == "note" and closing.limit == 50.0
    assert closing.value is not None and 0.1 < closing.value < 20.0


def test_a_survey_that_does_not_close_is_a_caution(tmp_path: Path) -> None:
    shots = (ROOT / "scenarios" / "surveys" / "mill_barn.csv").read_text(encoding="utf-8")
    text = shots.replace("3.766,-28.74", "3.766,-30.40")
    assert text != shots
    os.mkdir(tmp_path / "surveys")
    (tmp_path / "surveys" / "mill_barn.csv").write_text(text, encoding="utf-8")
    hall = (ROOT / "scenarios" / "laser_survey.toml").read_text(encoding="utf-8")
    (tmp_path / "laser_survey.toml").write_text(hall, encoding="utf-8")
    answer = aiming.solve(aiming.load(tmp_path / "laser_survey.toml"))
    [closing] = [one for one in answer.cautions if one.code == "survey-closing"]
    assert closing.severity == "caution"
    assert closing.value is not None and closing.value > 50.0

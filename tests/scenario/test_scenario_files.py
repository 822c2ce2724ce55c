"""Folders of scenario files: the valid ones load, the invalid ones give the faults beside them.

Beside each invalid file stands what is said of it, to be read in a row; held are places, keys,
figures and names in quotes, never a sentence.
"""

import re
import tomllib
from pathlib import Path

import pytest
from paths import TESTS

from aiming.base.errors import ScenarioError
from aiming.scenario import check, load, variant

FOLDER = TESTS / "data" / "scenarios"
VALID = sorted((FOLDER / "valid").glob("*.toml"))
INVALID = sorted((FOLDER / "invalid").glob("*.toml"))


def figures(message: str) -> list[str]:
    """The figures and quoted names of a message, in any order."""
    return sorted(re.findall(r'"[^"]*"|-?\d[\d.]*', message))


def test_folders_are_not_empty() -> None:
    assert len(VALID) >= 4
    assert len(INVALID) >= 50


@pytest.mark.parametrize("path", VALID, ids=lambda path: path.stem)
def test_valid_file_and_its_variants_load(path: Path) -> None:
    assert check(path) == ()
    scenario = load(path)
    assert len(scenario.rows) == sum(seating.intervals + 1 for seating in scenario.seatings)
    assert scenario.document == tomllib.loads(path.read_text(encoding="utf-8"))
    for one in scenario.variants:
        assert variant(scenario, one.name).document != scenario.document


@pytest.mark.parametrize("path", INVALID, ids=lambda path: path.stem)
def test_invalid_file_gives_every_fault_at_its_place(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(path.parent)
    expected = path.with_suffix(".txt").read_text(encoding="utf-8").splitlines()
    assert expected
    with pytest.raises(ScenarioError) as caught:
        load(path.name)
    for fault, line in zip(caught.value.faults, expected, strict=True):
        place = f"{fault.file}:{fault.line}:{fault.column}: {fault.key or 'text'}: "
        assert line.startswith(place)
        assert figures(fault.message) == figures(line.removeprefix(place))
    assert check(path.name) == caught.value.faults
    places = [(fault.line, fault.column) for fault in caught.value.faults]
    assert places == sorted(places)
    assert all(fault.file == path.name and "; " in fault.message for fault in caught.value.faults
               if "did you mean" not in fault.message)  # fmt: skip


def test_a_typo_is_one_fault_with_its_slip() -> None:
    text = """
[[seating]]
name = "a"
line = [[4, 0], [9, 0]]
[[speaker]]
nme = "main"
[speaker.patern]
coverage = 60
[speaker.placement]
hieght = 5
"""
    found = [str(fault) for fault in check("-", stdin_text=text)]
    assert [one.rsplit(" ", 1)[-1] for one in found] == ['"name"?', '"pattern"?', '"height"?']


def test_what_is_named_can_be_opened_from_where_one_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    house = tmp_path / "house"
    house.mkdir()
    text = (FOLDER / "valid" / "minimal.toml").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("line =")]
    at = lines.index("[[seating]]") + 1
    (house / "hall.toml").write_text("\n".join([*lines[:at], 'survey = "s.csv"', *lines[at:]]))
    monkeypatch.chdir(tmp_path)
    (missing,) = check("house/hall.toml")
    assert missing.file == "house/hall.toml" and missing.key.endswith(".survey")
    (house / "sx.csv").write_text("x_m,z_m\n1,x\n2,0\n")
    (missing,) = check("house/hall.toml")
    assert missing.message.endswith('did you mean "house/sx.csv"?')
    (house / "sx.csv").rename(house / "s.csv")
    (fault,) = check("house/hall.toml")
    assert Path(fault.file).is_file() and (fault.line, fault.column) == (2, 3)
    (none,) = check("hause/hall.toml")
    assert "no such file" in none.message
    (like,) = check("house/hal.toml")
    assert like.message.endswith('did you mean "house/hall.toml"?')


def test_feet_in_feet_in_faults() -> None:
    text = (FOLDER / "valid" / "minimal.toml").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith(("line =", "units ="))]
    at = lines.index("[[seating]]") + 1
    feet = ['units = "ft"', *lines[:at], "line = [[20, 0], [10, 1]]", *lines[at:]]
    found = check("-", stdin_text="\n".join(line for line in feet if line != "schema = 1"))
    assert "10 ft after 20 ft" in found[0].message

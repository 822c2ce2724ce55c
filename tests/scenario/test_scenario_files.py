"""Folders of scenario files: the valid ones load, the invalid ones give the faults beside them."""

import tomllib
from pathlib import Path

import pytest
from paths import TESTS

from aiming.base.errors import ScenarioError
from aiming.scenario import check, load, variant

FOLDER = TESTS / "data" / "scenarios"
VALID = sorted((FOLDER / "valid").glob("*.toml"))
INVALID = sorted((FOLDER / "invalid").glob("*.toml"))


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
    expected = path.with_suffix(".txt").read_text(encoding="utf-8")
    assert expected.strip()
    with pytest.raises(ScenarioError) as caught:
        load(path.name)
    assert str(caught.value) + "\n" == expected
    assert check(path.name) == caught.value.faults
    places = [(fault.line, fault.column) for fault in caught.value.faults]
    assert places == sorted(places)
    assert all(fault.file == path.name and "; " in fault.message for fault in caught.value.faults
               if "did you mean" not in fault.message)  # fmt: skip

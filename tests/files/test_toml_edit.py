"""Texts edited in place: what is not changed stays as it was written, comments too."""

import tomllib
from copy import deepcopy
from pathlib import Path

import pytest
from paths import ROOT

from aiming.files.toml_edit import edited_text
from aiming.scenario.address import changed

TEXT = """# head
title = "x"  # why

[[seating]]
name = "a"
line = [[4, 0], [9, 1]]  # measured

# the loudspeaker
[[speaker]]
name = "main"
placement = { height = [4, 6], tilt = -5 }  # rope is short

[[speaker]]
name = "other"
[speaker.placement]
height = 3  # metres
tilt = [
  -20,  # down
  5,
]
"""
SHIPPED = sorted((ROOT / "scenarios").glob("*.toml"))


def edited(**changes: object) -> str:
    document = tomllib.loads(TEXT)
    after, _, faults = changed(
        document, {key.replace("__", "."): of for key, of in changes.items()}
    )
    assert faults == []
    text = edited_text(TEXT, after)
    assert tomllib.loads(text) == after
    return text


def lost(text: str) -> list[str]:
    return [line for line in TEXT.splitlines() if line not in text.splitlines()]


def test_nothing_changed_is_the_same_text() -> None:
    assert edited_text(TEXT, tomllib.loads(TEXT)) == TEXT


def test_values_change_and_their_comments_stay() -> None:
    text = edited(speaker__other__placement__height=3.5, title="y")
    assert "height = 3.5  # metres" in text
    assert 'title = "y"  # why' in text
    assert len(lost(text)) == 2


def test_inline_tables_and_lists() -> None:
    text = edited(speaker__main__placement__tilt=-6.5, speaker__other__placement__tilt=[-30, 5])
    assert "height = [4, 6], tilt = -6.5 }  # rope is short" in text
    assert "-30,  # down" in text


def test_a_new_key_and_a_key_gone() -> None:
    text = edited(speaker__other__placement__x=1.5)
    assert lost(text) == []
    document = tomllib.loads(TEXT)
    del document["speaker"][1]["placement"]["height"]
    assert lost(edited_text(TEXT, document)) == ["height = 3  # metres"]


def test_members_added_renamed_and_deleted() -> None:
    document = tomllib.loads(TEXT)
    more = deepcopy(document)
    more["speaker"].append({"name": "new", "pattern": {"coverage": 90}})
    text = edited_text(TEXT, more)
    assert tomllib.loads(text) == more
    assert lost(text) == []
    assert '\n\n[[speaker]]\nname = "new"' in text, "a blank line before the added table"
    renamed = deepcopy(document)
    renamed["speaker"][0]["name"] = "centre"
    assert lost(edited_text(TEXT, renamed)) == ['name = "main"']
    fewer = deepcopy(document)
    del fewer["speaker"][0]
    text = edited_text(TEXT, fewer)
    assert tomllib.loads(text) == fewer
    assert "height = 3  # metres" in text


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.stem))
def test_shipped_scenarios_keep_every_other_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    document = tomllib.loads(text)
    document["speaker"][-1]["gain_db"] = -2.5
    document.setdefault("surface", []).append({"name": "wall", "line": [[0.0, 1.0], [0.0, 2.0]]})
    after = edited_text(text, document)
    assert tomllib.loads(after) == document
    assert len([line for line in text.splitlines() if line not in after.splitlines()]) <= 1

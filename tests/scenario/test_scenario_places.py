"""The scanner finds the place of every key that tomllib finds, in texts meant to lose it."""

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.files.toml_places import DEEPEST, Path, TooDeepError, place_of, places_of

TRICKY = '''# a comment with [brackets] and "quotes"
title = "a # no comment, a ] no bracket" # a comment = 1
"quoted key" = 'literal \\ back'
'single.dotted' = 1
a.b . "c d" = 2
text = """
[not.a.header]
x = 1 \\"""
""""   # ends with a quote of its own
raw = \'\'\'
[[nor]] # this
\'\'\'
empty = ""
none = []
when = 1979-05-27 07:32:00
bands = [ 1000, # one
  2000,
  [ "x,]", { k = 1, "l m" = [ 3 ] } ], ]
inline = { a.b = 1, c = { d = 'x}' }, e = [] }
[table . "sub table"]
key = true
[[list]]
name = "first"
  [list.below]
  deep = 1.5e3
  [[list.below.more]]
  v = 1
  [[list.below.more]]
  v = 2
[[list]]
name = "second\\u0041\\n"
"k\\u0041" = nan
[list.below]
deep = -inf
[last]'''


def paths_in(value: Any, path: Path = ()) -> Iterator[Path]:
    if path:
        yield path
    if isinstance(value, dict):
        for key, below in value.items():
            yield from paths_in(below, (*path, key))
    elif isinstance(value, list):
        for position, below in enumerate(value):
            yield from paths_in(below, (*path, position))


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_every_key_is_found_where_it_stands(newline: str) -> None:
    text = TRICKY.replace("\n", newline)
    places = places_of(text)
    document = tomllib.loads(text)
    assert set(places) == set(paths_in(document))
    lines = text.replace("\r\n", "\n").split("\n")
    for path, (line, column) in places.items():
        rest = lines[line - 1][column - 1 :]
        if isinstance(path[-1], str):
            escaped = "k\\u0041" if path[-1] == "kA" else path[-1]
            assert rest.lstrip("\"'").startswith(escaped), path


def test_places_by_hand() -> None:
    places = places_of(TRICKY)
    assert places["title",] == (2, 1)
    assert places["a", "b", "c d"] == (5, 7)
    assert places["text",] == (6, 1)
    assert places["raw",] == (10, 1)
    assert places["bands", 1] == (17, 3)
    assert places["bands", 2, 1, "l m", 0] == (18, 31)
    assert places["inline", "c", "d"] == (19, 27)
    assert places["list", 0] == (22, 3)
    assert places["list", 0, "below", "more", 1, "v"] == (29, 3)
    assert places["list", 1, "below", "deep"] == (34, 1)
    assert places["last",] == (35, 2)
    assert place_of(places, ("list", 1, "below", "missing", 3)) == (33, 7)
    assert place_of(places, ("nothing",)) == (1, 1)


def test_nesting_is_bounded() -> None:
    places_of(f"a = {'[' * (DEEPEST - 1)}{']' * (DEEPEST - 1)}")
    with pytest.raises(TooDeepError):
        places_of(f"a = {'[' * 200}1{']' * 200}")
    with pytest.raises(TooDeepError):
        places_of(".".join("a" * 1 for _ in range(DEEPEST + 1)) + " = 1")


KEYS = st.sampled_from(["a", "b-1", "c d", "e.f", 'g"h', "ä", "'", "#", "x\\y"])
VALUES = st.recursive(
    st.sampled_from(["1", "'#]}'", '"a\\"b"', "true", '"""x\n]"""', "'''\n'y''''"]),
    lambda below: st.lists(below, max_size=3).map(lambda members: f"[ {', '.join(members)} ]"),
    max_leaves=6,
)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.lists(st.tuples(st.lists(KEYS, min_size=1, max_size=3), VALUES), max_size=5))
def test_generated_texts(entries: list[tuple[list[str], str]]) -> None:
    def quoted(key: str) -> str:
        return '"' + key.replace("\\", "\\\\").replace('"', '\\"') + '"'

    lines = []
    for position, (keys, value) in enumerate(entries):
        lines.append(f"[[t{position % 2}]] # note")
        lines.append(f"{' . '.join(quoted(key) for key in keys)} = {value}")
    text = "\n".join(lines)
    assert set(places_of(text)) == set(paths_in(tomllib.loads(text)))

"""Where every key of a TOML text stands.

`tomllib` accepts or refuses a text but gives no positions, so this scanner runs over a text that it
has accepted, and therefore need not judge, only find its way.  Members of arrays and of arrays of
tables are addressed by their position.
"""

import re
import tomllib
from collections.abc import Iterator

Path = tuple[str | int, ...]
"""Keys and positions from the top of the document: ("speaker", 0, "placement", "height")."""
Place = tuple[int, int]
"""Line and column, counted from 1."""

DEEPEST = 32
"""Deeper nesting than any scenario has; keeps the scanner's own recursion bounded."""

_SPACE = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)+")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}(?!")'
    r"|'''.*?'{3,5}(?!')"
    r'|"(?:[^"\\]|\\.)*"'
    r"|'[^']*'",
    re.DOTALL,
)
_PLAIN_VALUE = re.compile(r"[^,\]}#\r\n]+")


class TooDeepError(ValueError):
    """Tables or arrays nested deeper than DEEPEST."""


def places_of(text: str) -> dict[Path, Place]:
    """The place of every key and array member of a text that tomllib accepts.

    Raises TooDeepError.
    """
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [0, *(found.end() for found in re.finditer(r"\n", text))]
        self.line = 0
        self.places: dict[Path, Place] = {}
        self.members: dict[Path, int] = {}

    def run(self) -> dict[Path, Place]:
        table: Path = ()
        while self._skip_space():
            if self.text[self.at] == "[":
                table = self._header()
            else:
                self._key_and_value(table)
        return self.places

    def _skip_space(self) -> bool:
        if found := _SPACE.match(self.text, self.at):
            self.at = found.end()
        return self.at < len(self.text)

    def _place(self) -> Place:
        # The scanner only moves forwards, so the line is found by moving on from the last one.
        while self.line + 1 < len(self.starts) and self.starts[self.line + 1] <= self.at:
            self.line += 1
        return self.line + 1, self.at - self.starts[self.line] + 1

    def _note(self, path: Path, place: Place) -> None:
        if len(path) > DEEPEST:
            raise TooDeepError
        self.places.setdefault(path, place)

    def _keys(self) -> Iterator[tuple[str, Place]]:
        """The parts of a dotted key, each with its place."""
        while True:
            self._skip_space()
            place = self._place()
            if self.text[self.at] in "\"'":
                yield self._string(), place
            else:
                found = _BARE_KEY.match(self.text, self.at)
                assert found, "the text was accepted by tomllib"
                self.at = found.end()
                yield found[0], place
            self._skip_space()
            if self.text[self.at] != ".":
                return
            self.at += 1

    def _string(self) -> str:
        found = _STRING.match(self.text, self.at)
        assert found, "the text was accepted by tomllib"
        self.at = found.end()
        if found[0].startswith("'") or "\\" not in found[0]:
            return found[0][1:-1]
        return str(tomllib.loads(f"key = {found[0]}")["key"])

    def _header(self) -> Path:
        several = self.text.startswith("[[", self.at)
        self.at += 2 if several else 1
        path: Path = ()
        keys = list(self._keys())
        for position, (key, place) in enumerate(keys):
            path = (*path, key)
            self._note(path, place)
            if several and position == len(keys) - 1:
                self.members[path] = self.members.get(path, 0) + 1
            if path in self.members:
                path = (*path, self.members[path] - 1)
                self._note(path, place)
        self.at += 2 if several else 1
        return path

    def _key_and_value(self, table: Path) -> None:
        path = table
        for key, place in self._keys():
            path = (*path, key)
            self._note(path, place)
        self.at += 1  # "="
        self._value(path)

    def _value(self, path: Path) -> None:
        self._skip_space()
        opening = self.text[self.at]
        if opening in "\"'":
            found = _STRING.match(self.text, self.at)
        elif opening == "[":
            return self._array(path)
        elif opening == "{":
            return self._inline_table(path)
        else:
            found = _PLAIN_VALUE.match(self.text, self.at)
        assert found, "the text was accepted by tomllib"
        self.at = found.end()
        return None

    def _array(self, path: Path) -> None:
        self.at += 1
        position = 0
        while self._skip_space() and self.text[self.at] != "]":
            self._note((*path, position), self._place())
            self._value((*path, position))
            position += 1
            self._skip_space()
            if self.text[self.at] == ",":
                self.at += 1
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        while self._skip_space() and self.text[self.at] != "}":
            self._key_and_value(path)
            self._skip_space()
            if self.text[self.at] == ",":
                self.at += 1
        self.at += 1


def place_of(places: dict[Path, Place], path: Path) -> Place:
    """The place of this path, or of the nearest table above it that the text has; else 1, 1."""
    while path:
        if path in places:
            return places[path]
        path = path[:-1]
    return 1, 1

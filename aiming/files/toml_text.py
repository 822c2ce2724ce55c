"""From a file, or standard input, to a plain document; each way to fail is one clear fault."""

import re
import sys
import tomllib
from contextlib import suppress
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice
from pathlib import Path as FilePath
from typing import Any, NoReturn

from ..base.errors import Fault, ScenarioError, found_text
from .toml_places import DEEPEST, Path, Place, TooDeepError, places_of

LARGEST_BYTES = 8 * 1024 * 1024
_ALLOWED = "must be a TOML file in UTF-8"
_MOST_NAMES = 2000
_AT = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)$")
# A dotted key of absurd length costs tomllib quadratic time; found before it is asked.
_LONG_KEY = re.compile(
    r"""(?<![\w"'-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){100}"""
)


@dataclass(frozen=True)
class Source:
    """One scenario text as read.

    file: as the person named it, "-" for standard input
    folder: what file names in it are relative to
    document: the plain TOML document
    places: where each key of it stands
    """

    file: str
    folder: FilePath
    text: str
    document: dict[str, Any]
    places: dict[Path, Place]


def read_source(path: str | FilePath, *, stdin_text: str | None = None) -> Source:
    """Read and parse a file, or standard input where the path is "-".

    Raises ScenarioError with one fault for what cannot be read or is not TOML.
    """
    file = str(path)
    if file == "-":
        raw = sys.stdin.buffer.read(LARGEST_BYTES + 1) if stdin_text is None else None
        folder = FilePath()
    else:
        raw, folder = _bytes_of(FilePath(path), file), FilePath(path).parent
    text = _text_of(raw, file) if raw is not None else str(stdin_text)
    return parse_source(text, file=file, folder=folder)


def parse_source(text: str, *, file: str, folder: FilePath) -> Source:
    """Parse a text; raises ScenarioError with tomllib's fault and its place."""
    text = text.removeprefix("\ufeff")
    if "\n" not in text:
        # Line ends of a single carriage return, as some spreadsheets and old editors write them.
        text = text.replace("\r", "\n")
    try:
        if _LONG_KEY.search(text):
            raise TooDeepError
        document = tomllib.loads(text)
        places = places_of(text)
    except (TooDeepError, RecursionError):
        _refuse(file, f"nested too deeply; there may be at most {DEEPEST} levels")
    except ValueError as error:
        line, column, message = _syntax_place(str(error), text)
        _refuse(file, message, line=line, column=column)
    return Source(file=file, folder=folder, text=text, document=document, places=places)


def _refuse(file: str, message: str, *, line: int = 1, column: int = 1) -> NoReturn:
    raise ScenarioError([Fault(file, line, column, "", message)])


def _bytes_of(path: FilePath, file: str) -> bytes:
    try:
        if path.is_file():
            with path.open("rb") as stream:
                return stream.read(LARGEST_BYTES + 1)
        there, folder = path.exists(), path.is_dir()
    except OSError as error:
        _refuse(file, f"cannot be read ({error.strerror}); {_ALLOWED}")
    if folder:
        _refuse(file, f"a folder; {_ALLOWED}")
    if there:
        _refuse(file, 'a device or pipe; must be an ordinary file, or "-" for standard input')
    _refuse(file, f"there is no such file; {like_named(path) or 'name a scenario file'}")


def like_named(path: FilePath) -> str:
    """'did you mean "x"?' where the folder holds a file of a name like this one; else ""."""
    with suppress(OSError, ValueError):
        there = islice(path.parent.iterdir(), _MOST_NAMES)
        names = [one.name for one in there if one.suffix == path.suffix]
        if close := get_close_matches(path.name, names, n=1):
            return f"did you mean {found_text(str(path.parent / close[0]))}?"
    return ""


def _text_of(raw: bytes, file: str) -> str:
    if len(raw) > LARGEST_BYTES:
        _refuse(file, f"larger than {LARGEST_BYTES // 1024**2} MiB; must be at most that")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = error.start - (before.rfind(b"\n") + 1) + 1
        shown = f"byte 0x{raw[error.start]:02x} is no UTF-8"
        _refuse(file, f"{shown}; {_ALLOWED}", line=line, column=column)


_NO_TOML = "must be valid TOML"
_SLIPS = {
    "Cannot overwrite": "a key may stand once in its table",
    "Cannot declare": "a table may stand once; of several, each begins with [[name]]",
    "Illegal character '\\n'": "a text must end on the line on which it begins",
    "Invalid value": "a text must stand in quotes, a number have a decimal point",
    "Unclosed array": "a list must end with ]",
    "Expected '=' after a key": "a line must read key = value",
    "Expected newline or end of document": (
        "must be one key = value a line; texts, and lengths with a unit, in quotes"
    ),
    "Unescaped '\\'": "a text with \\ must stand in single quotes",
}
"""How tomllib's messages begin, and what was most likely meant."""


def _syntax_place(message: str, text: str) -> tuple[int, int, str]:
    """Line, column and message: tomllib's own words, then the likely slip."""
    found = _AT.search(message)
    bare = _AT.sub("", message)
    slip = next((slip for start, slip in _SLIPS.items() if bare.startswith(start)), _NO_TOML)
    bare = f"{bare}; {slip}"
    if found and found[1]:
        return int(found[1]), int(found[2]), bare
    if found:
        last = text.rstrip("\n")
        return last.count("\n") + 1, len(last) - (last.rfind("\n") + 1) + 1, bare
    return 1, 1, bare

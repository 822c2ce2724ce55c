"""What a terminal, or a pipe, can show."""

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import wrap
from typing import TextIO

WIDTH = 80
"""Columns of a file or a pipe, and of a terminal that does not say."""
NARROWEST, WIDEST = 60, 160
INDENT = 11
_KEPT = re.compile(
    r"(?:(?<=\d)|(?<=ft)) (?=(?:dB|k?Hz|ms?|kg|lbf?|k?N|W|ft|in)\b|%|\d)|(?<=--set) "
)
"""Spaces that no line ends at: between a number and its unit, an option and its value."""


@dataclass(frozen=True)
class Terminal:
    """colour: escape sequences are understood; blocks: more than ASCII can be shown.

    width: columns that it has, within what the text is made for
    """

    colour: bool = False
    blocks: bool = True
    width: int = WIDTH

    def bold(self, text: str) -> str:
        """Heavier where there is colour."""
        return f"\x1b[1m{text}\x1b[0m" if self.colour else text

    def alarm(self, text: str) -> str:
        """White on red where there is colour."""
        return f"\x1b[1;97;41m{text}\x1b[0m" if self.colour else text

    def plain(self, text: str) -> str:
        """A person's text, without what steers a terminal, in characters that can be shown."""
        return self.shown(printable(text))

    def shown(self, text: str) -> str:
        """The text in characters that can be shown."""
        if self.blocks:
            return text
        return "".join(_ASCII.get(one, one if one.isascii() else "?") for one in text)


ON_PAPER = Terminal()
"""A file or a pipe."""
_ASCII = {"°": " deg", "−": "-", "–": "-", "±": "+/-", "…": "...", "×": "x", "≤": "<=", "·": "."}


def terminal_of(stream: TextIO, environ: Mapping[str, str] = os.environ) -> Terminal:
    """Colour only on a terminal, and not where NO_COLOR is set (no-color.org) or TERM is dumb."""
    watched = stream.isatty()
    colour = watched and not environ.get("NO_COLOR") and environ.get("TERM") != "dumb"
    try:
        "▁▆●°−".encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return Terminal(colour, False, _width(stream, watched))
    return Terminal(colour, True, _width(stream, watched))


def _width(stream: TextIO, watched: bool) -> int:
    """A file is as wide whoever writes it; a terminal is used from 60 to 160 columns."""
    if not watched:
        return WIDTH
    try:
        columns = os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        return WIDTH
    return min(WIDEST, max(NARROWEST, columns or WIDTH))


def stdout_terminal() -> Terminal:
    """Of standard output."""
    return terminal_of(sys.stdout)


def printable(text: str) -> str:
    """A person's text without anything that steers a terminal."""
    return "".join(one if one.isprintable() else "�" for one in text)


def cut(text: str, width: int) -> str:
    """The text, or as much of it as fits with a sign that there is more."""
    return text if len(text) <= width else f"{text[: width - 1]}…"


def labelled(label: str, text: str, *, indent: int = INDENT, width: int = WIDTH) -> list[str]:
    """The text wrapped beside a label in a left column; a long label pushes its first line on."""
    if len(label) >= indent:
        return _wrapped(f"{label}\u00a0 {text}", "", " " * indent, width)
    lines = _wrapped(text, " " * indent, " " * indent, width) or [""]
    return [f"{label:<{indent}}{lines[0][indent:]}".rstrip(), *lines[1:]]


def hanging(text: str, *, width: int = WIDTH) -> list[str]:
    """The text wrapped, all but its first line set in by two."""
    return _wrapped(text, "", "  ", width)


def _wrapped(text: str, first: str, rest: str, width: int) -> list[str]:
    """Lines within the width; what belongs together stays so."""
    lines = wrap(
        _KEPT.sub("\u00a0", text),
        width - 1,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]

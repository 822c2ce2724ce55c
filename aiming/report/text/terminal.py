"""What a terminal, or a pipe, can show."""

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import wrap
from typing import TextIO

WIDTH = 80
INDENT = 10
_UNIT = re.compile(r"(\d|ft) (?=(?:\d|dB\b|Hz|kHz|m\b|ft\b|in\b|%))")


@dataclass(frozen=True)
class Terminal:
    """colour: escape sequences are understood; blocks: more than ASCII can be shown."""

    colour: bool = False
    blocks: bool = True

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


_ASCII = {"°": " deg", "−": "-", "–": "-", "±": "+/-", "…": "...", "×": "x", "≤": "<=", "·": "."}


def terminal_of(stream: TextIO, environ: Mapping[str, str] = os.environ) -> Terminal:
    """Colour only on a terminal, and not where NO_COLOR is set (no-color.org) or TERM is dumb."""
    colour = stream.isatty() and not environ.get("NO_COLOR") and environ.get("TERM") != "dumb"
    try:
        "▁▆●°−".encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return Terminal(colour=colour, blocks=False)
    return Terminal(colour=colour)


def stdout_terminal() -> Terminal:
    """Of standard output."""
    return terminal_of(sys.stdout)


def printable(text: str) -> str:
    """A person's text without anything that steers a terminal."""
    return "".join(one if one.isprintable() else "�" for one in text)


def labelled(label: str, text: str, *, indent: int = INDENT) -> list[str]:
    """The text wrapped beside a label in a left column."""
    name = label if len(label) < indent else f"{label[: indent - 2]}…"
    lines = _wrapped(text, " " * indent, " " * indent) or [""]
    return [f"{name:<{indent}}{lines[0][indent:]}".rstrip(), *lines[1:]]


def hanging(text: str) -> list[str]:
    """The text wrapped, all but its first line set in by two."""
    return _wrapped(text, "", "  ")


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    """Lines of the terminal's width; a number keeps its unit beside it."""
    lines = wrap(
        _UNIT.sub("\\1\u00a0", text),
        WIDTH - 1,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]

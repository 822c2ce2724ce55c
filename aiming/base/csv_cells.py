"""Text in tables that people open in a spreadsheet, which runs a cell that begins as a formula."""

from collections.abc import Iterable

_RUNS = ("=", "+", "-", "@", "\t", "\r")
"""What such a cell begins with (common practice, no source)."""
_QUOTED = frozenset(',;"\t\r\n')
"""What a cell is put in quotes for: a reader may take semicolons and tabs for what parts cells."""


def disarmed(text: str) -> str:
    """A text cell that no spreadsheet takes for a formula: with an apostrophe before it."""
    return f"'{text}" if text.startswith(_RUNS) else text


def as_meant(cell: str) -> str:
    """The text that a cell was disarmed from."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_RUNS) else cell


def csv_line(cells: Iterable[str | float | None]) -> str:
    """One line of a CSV table: text disarmed, numbers as they are, unknown ones empty."""
    return ",".join(map(_cell, cells)) + "\n"


def _cell(cell: str | float | None) -> str:
    if cell is None:
        return ""
    text = disarmed(cell) if isinstance(cell, str) else repr(cell)
    return '"' + text.replace('"', '""') + '"' if _QUOTED & set(text) else text

"""The table of a survey file: cells with their places, numbers with their units."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ..errors import Fault, ScenarioError
from ..ordinary import open_ordinary

METRES_PER_UNIT = {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "ft": 0.3048, "in": 0.0254}
ANGLES = ("inclination",)
"""Headings that hold degrees; all other numbers are lengths."""
_LARGEST_BYTES = 8 * 1024 * 1024
_MOST_ROWS = 20_000
_LONGEST_LINE = 20_000
_MOST_FAULTS = 100
_CELL = {
    delimiter: re.compile(rf'\s*("(?:[^"]|"")*"|[^{delimiter}]*?)\s*(?:{delimiter}|$)')
    for delimiter in (",", ";", "\t")
}
_HEADING = re.compile(r"(?P<name>.+?)[\s_]*(?:[_\s(\[](?P<unit>m|cm|mm|ft|in|deg)[)\]]?)?")


@dataclass(frozen=True)
class Cell:
    """One cell: its text, and the column of its first character, from 1."""

    text: str
    column: int


@dataclass(frozen=True)
class Row:
    """One line of the table: cells by heading, blank where the line has none."""

    line: int
    cells: dict[str, Cell]

    def text(self, heading: str) -> str:
        return self.cells[heading].text if heading in self.cells else ""


@dataclass(eq=False)
class Table:
    """A survey file, read; faults gather until the whole file has been seen.

    units: by heading, a unit of length or "deg"; a heading without one takes the given unit
    """

    display: str
    units: dict[str, str]
    rows: tuple[Row, ...]
    header_line: int
    faults: list[Fault] = field(default_factory=list)

    def add_fault(self, row: Row | None, heading: str, message: str) -> None:
        """Note a fault at a cell, or at the header where row is None."""
        line = self.header_line if row is None else row.line
        cell = None if row is None else row.cells.get(heading)
        self.faults.append(Fault(self.display, line, cell.column if cell else 1, heading, message))

    def stop_at_faults(self) -> None:
        """Raise ScenarioError with every fault so far, in the order of the file."""
        if not self.faults:
            return
        told = sorted(self.faults, key=lambda one: (one.line, one.column))
        if len(told) > _MOST_FAULTS:
            first = told[_MOST_FAULTS]
            text = f"{len(told) - _MOST_FAULTS} more faults from here on; put the first ones right"
            told[_MOST_FAULTS:] = [Fault(self.display, first.line, first.column, "", text)]
        raise ScenarioError(told)

    def number(self, row: Row, heading: str, *, low: float, high: float) -> float | None:
        """The cell in metres or degrees, or None with a fault noted."""
        text, unit = row.text(heading), self.units[heading]
        try:
            value = float(text) * METRES_PER_UNIT.get(unit, 1.0)
        except ValueError:
            value = np.nan
        if "_" in text or not np.isfinite(value):
            self.add_fault(row, heading, f'"{text}"; a number such as 12.34')
            return None
        if not low <= value <= high:
            shown = "m" if unit in METRES_PER_UNIT else unit
            self.add_fault(row, heading, f"{value:.6g} {shown}; {low:g} to {high:g} {shown}")
            return None
        return value


def read_table(path: Path, *, unit: str, display: str, known: tuple[str, ...]) -> Table:
    """The table of a CSV file: a header, then rows; "#" starts a comment line.

    Cells are parted by commas, semicolons or tabs, whichever the header uses.  Raises ScenarioError
    for what cannot be read; an unknown heading is a fault.
    """

    def refuse(message: str, key: str = "", line: int = 1) -> ScenarioError:
        return ScenarioError([Fault(display, line, 1, key, message)])

    if unit not in METRES_PER_UNIT:
        raise refuse(f'"{unit}"; one of {", ".join(METRES_PER_UNIT)}', "unit")
    try:
        with open_ordinary(path) as stream:
            raw = stream.read(_LARGEST_BYTES + 1)
    except OSError as error:
        raise refuse(f"cannot be read ({error.strerror}); a CSV file") from error
    if len(raw) > _LARGEST_BYTES:
        raise refuse(f"larger than {_LARGEST_BYTES // 1024**2} MiB; a survey in less than that")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse("is no UTF-8 text; a CSV file in UTF-8") from error
    # As editors count lines; splitlines would also part them at form feeds and the like.
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = [
        (number, line)
        for number, line in enumerate(text.split("\n"), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise refuse("is empty; a header and rows")
    if len(lines) > _MOST_ROWS:
        raise refuse(f"{len(lines):,} rows; at most {_MOST_ROWS:,}")
    for number, line in lines:
        if len(line) > _LONGEST_LINE:
            long = f"a line of {len(line):,} characters; at most {_LONGEST_LINE:,}"
            raise refuse(long, line=number)
    header_line, header = lines[0]
    delimiter = max(_CELL, key=header.count)
    table = Table(display=display, units={}, rows=(), header_line=header_line)
    headings: list[str] = []
    for cell in _cells(header, delimiter):
        match = _HEADING.fullmatch(cell.text.lower())
        name = re.sub(r"\s+", "_", match["name"]) if match else ""
        headings.append(name)
        if name not in known:
            allowed = ", ".join(known)
            table.add_fault(None, cell.text, f"is no column of a survey; {allowed}")
        elif name in table.units:
            table.add_fault(None, cell.text, "comes twice; once")
        own = match["unit"] if match else None
        if own is not None and (own == "deg") != (name in ANGLES):
            table.add_fault(None, cell.text, "has a unit that does not fit; a length or deg")
        table.units[name] = "deg" if name in ANGLES else own or unit
    table.rows = tuple(
        Row(number, dict(zip(headings, _cells(line, delimiter), strict=False)))
        for number, line in lines[1:]
    )
    for row, (_, line) in zip(table.rows, lines[1:], strict=True):
        extra = list(_cells(line, delimiter))[len(headings) :]
        if any(cell.text for cell in extra):
            table.add_fault(row, "", f'"{extra[0].text}" has no heading; as many cells as headings')
    return table


def _cells(line: str, delimiter: str) -> Iterator[Cell]:
    at = 0
    while at <= len(line):
        match = _CELL[delimiter].match(line, at)
        if match is None:  # an unclosed quote: the rest is one cell
            yield Cell(line[at:].strip(), at + 1)
            return
        text = match[1]
        if text[:1] == '"':
            text = text[1:-1].replace('""', '"')
        yield Cell(text, match.start(1) + 1)
        if match.end() == len(line) and line[-1:] != delimiter:
            return
        at = max(match.end(), at + 1)
        if match.end() == len(line):
            yield Cell("", len(line) + 1)
            return

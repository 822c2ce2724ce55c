"""What people export: text tables, with every fault at its line, one message for each kind.

A table is a header and rows, or numbers alone; cells are parted by tabs, semicolons, commas or
spaces.  Numbers have a decimal point.
"""

import csv
import re
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import NoReturn

from ..base.errors import Fault, ScenarioError, found_text
from ..base.regular_file import open_ordinary

Place = tuple[int, int]
"""Line and column, counted from 1."""

LARGEST_BYTES = 16_000_000
MOST_LINES = 200_000
LONGEST_LINE = 20_000
"""Characters.  What is larger than any of these is no table of readings, and fills the memory."""
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")
COMMENT_MARKS = ("#", ";", "*", "%", "//", "!", "|")


class Faults:
    """Gathers the faults of one file: the first of each kind is told, the others are counted."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._first: dict[str, Fault] = {}
        self._more: dict[str, int] = {}

    def add(self, kind: str, message: str, *, key: str = "", at: Place = (1, 1)) -> None:
        """Note a fault at a line and column; kind is what makes two faults alike."""
        if kind in self._first:
            self._more[kind] = self._more.get(kind, 0) + 1
        else:
            self._first[kind] = Fault(self.file, *at, key, message)

    def stop(self) -> None:
        """Raise ScenarioError with every fault so far."""
        if not self._first:
            return
        told = []
        for kind, one in self._first.items():
            more = self._more.get(kind, 0)
            lines = "line" if more == 1 else "lines"
            text = f"{one.message} (and {more} more such {lines})" if more else one.message
            told.append(Fault(one.file, one.line, one.column, one.key, text))
        raise ScenarioError(sorted(told, key=lambda one: (one.line, one.column)))


def refuse(file: str, message: str, *, key: str = "", at: Place = (1, 1)) -> NoReturn:
    """Raise ScenarioError with this one fault."""
    raise ScenarioError([Fault(file, *at, key, message)])


@dataclass(frozen=True)
class Line:
    """One line of a table: its cells, stripped, and the column that each starts in, from 1."""

    number: int
    text: str
    cells: tuple[str, ...]
    columns: tuple[int, ...]


def text_lines(path: Path, *, file: str, marks: tuple[str, ...]) -> list[tuple[int, str]]:
    """(number, text) of the lines that hold something; marks start a comment line.

    Raises ScenarioError for what cannot be read, is no text, or holds nothing.
    """
    try:
        with open_ordinary(path) as stream:
            raw = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        refuse(file, f"cannot be read ({error.strerror}); a text file")
    if len(raw) > LARGEST_BYTES:
        refuse(file, f"larger than {LARGEST_BYTES:,} bytes; a table in less than that")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        refuse(file, "bytes that are no UTF-8 text; a text file in UTF-8", at=(line, 1))
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        refuse(file, "a zero byte; a text file in UTF-8", at=(line, 1))
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2212", "-")
    lines = [
        (number, line)
        for number, line in enumerate(text.split("\n"), start=1)
        if line.strip() and not line.lstrip().startswith(marks)
    ]
    if not lines:
        refuse(file, "the file is empty; measured values")
    if len(lines) > MOST_LINES:
        refuse(file, f"{len(lines):,} lines; at most {MOST_LINES:,}", at=(lines[MOST_LINES][0], 1))
    for number, one in lines:
        if len(one) > LONGEST_LINE:
            long = f"a line of {len(one):,} characters; at most {LONGEST_LINE:,}"
            refuse(file, long, at=(number, 1))
    return lines


def split(number: int, text: str, separator: str) -> Line:
    """The cells of one line; separator " " parts by any white space."""
    if separator == " ":
        found = list(re.finditer(r"\S+", text))
        cells, columns = [one[0] for one in found], [one.start() + 1 for one in found]
        return Line(number, text, tuple(cells), tuple(columns))
    cells = [cell.strip() for cell in next(csv.reader([text], delimiter=separator, strict=False))]
    columns, at = [], 0
    for cell in cells:
        place = text.find(cell, at)
        at = at if place < 0 else place
        columns.append(at + 1)
        at += len(cell) + (1 if separator in text[at + len(cell) :] else 0)
    return Line(number, text, tuple(cells), tuple(columns))


def number_in(text: str) -> float | None:
    """A finite number with a decimal point, or None."""
    if "_" in text:
        return None
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) else None


def number_told(text: str, wanted: str) -> str:
    """What to say of a cell that holds no number."""
    if DECIMAL_COMMA.fullmatch(text):
        return f"{found_text(text)} has a decimal comma; a decimal point: {text.replace(',', '.')}"
    return f"{found_text(text) if text else 'an empty cell'}; {wanted}"


@dataclass(frozen=True)
class Table:
    """A header and rows; every row has as many cells as the header."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[Line, ...]
    header: Line

    def cell(self, row: Line, heading: str) -> str:
        """The text under a heading, "" where there is no such column."""
        return row.cells[self.headings.index(heading)] if heading in self.headings else ""

    def place(self, row: Line, heading: str) -> Place:
        """Where that cell starts."""
        known = heading in self.headings
        return row.number, row.columns[self.headings.index(heading)] if known else 1


def read_table(path: Path, *, needed: tuple[str, ...], optional: tuple[str, ...] = ()) -> Table:
    """A CSV file with a header of exactly these headings, in any order.

    "#" starts a comment line.  Raises ScenarioError.
    """
    file = str(path)
    lines = text_lines(path, file=file, marks=("#",))
    first = lines[0][1]
    separator = max(",;\t", key=first.count)
    header = split(*lines[0], separator)
    headings = tuple(cell.lower() for cell in header.cells)
    faults = Faults(file)
    allowed = ", ".join((*needed, *(f"[{name}]" for name in optional)))
    for heading, column in zip(headings, header.columns, strict=True):
        at = (header.number, column)
        if heading not in (*needed, *optional):
            text = f"{found_text(heading)} is no column of this table; {allowed}"
            faults.add(f"unknown {heading}", text, key=heading, at=at)
        elif headings.count(heading) > 1:
            faults.add(f"twice {heading}", "the column comes twice; once", key=heading, at=at)
    for heading in needed:
        if heading not in headings:
            text = f"the column is missing from the header; {allowed}"
            faults.add(f"missing {heading}", text, key=heading, at=(header.number, 1))
    rows = [split(number, text, separator) for number, text in lines[1:]]
    if not rows:
        faults.add("rows", "a header and no rows; measured values", at=(header.number, 1))
    for row in rows:
        if len(row.cells) != len(headings):
            text = f"{len(row.cells)} cells; {len(headings)} as in the header"
            if separator == "," and len(row.cells) > len(headings):
                text += " (a decimal comma? a decimal point, as in 93.2)"
            faults.add("cells", text, at=(row.number, 1))
    faults.stop()
    return Table(file, headings, tuple(rows), header)

"""The CSV layout: one row per angle, one column per frequency.

    # any number of comment lines; the first one is quoted as the source of the data
    angle_deg,500,1000,2000
    -10,-0.4,-1.1,-2.0
    0,0,0,0
    10,-0.3,-0.9,-1.8

First column: the vertical angle in degrees, positive above the axis of the box as built,
ascending, within −180…180; 0…360 is read as counting on upwards, where an angle beyond 180 shows
that it is meant.  Header: the frequencies in Hz, ascending.  Cells: the level in dB, on any
reference; an empty cell is a direction that was not measured.  Cells are parted by a tab, a
semicolon or a comma; where it is not the comma, numbers may have a decimal comma.
"""

from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import Fault
from ..base.regular_file import open_ordinary
from .pattern_result import MOST_FAULTS, Place

LARGEST_BYTES = 16_000_000
MOST_ANGLES, MOST_FREQUENCIES = 40_000, 10_000
"""A hundredth of a degree all round; more is no pattern, and fills the memory."""
LEAST_HZ, MOST_HZ = 10.0, 100_000.0
LARGEST_DB = 400.0
SEPARATOR_NAMES = {"\t": "tabs", ";": "semicolons", ",": "commas"}
ALIKE_DB = 0.5
"""Two readings of one direction (0° and 360°) may differ by this."""


@dataclass(frozen=True, eq=False)
class CsvTable:
    """angle_deg (n,) ascending; frequency_hz (f,) ascending; level_db (n, f), NaN in holes.

    header_line, axis_line: where a fault in the frequencies, or on the axis, is to be looked for
    """

    angle_deg: FloatArray
    frequency_hz: FloatArray
    level_db: FloatArray
    comment: str
    notes: tuple[str, ...]
    header_line: int
    axis_line: int


@dataclass(frozen=True)
class _Line:
    number: int
    text: str
    cells: list[str]

    def column_of(self, position: int) -> int:
        """Column, counted from 1, at which a cell's content starts."""
        cell = self.cells[position]
        if position >= MOST_FAULTS:
            return 1  # nobody is told, and counting takes long in a line of thousands of cells
        before = sum(len(earlier) + 1 for earlier in self.cells[:position])
        return before + 1 + len(cell) - len(cell.lstrip())


def read_csv(path: Path, *, place: Place) -> CsvTable:
    """The table of a CSV file.  Raises ScenarioError with every fault found."""
    comment, lines, separator = _split(_text(path, place), place)
    faults: list[Fault] = []
    frequency_hz = _header(lines[0], separator, place, faults)
    rows = [_row(line, lines[0], separator, place, faults) for line in lines[1:]]
    if len(rows) < 2:
        found = f"found {len(rows)} row{'s' if len(rows) != 1 else ''} of levels"
        message = f"{found}; a pattern needs at least two angles"
        faults.append(place.fault("angle", message, line=lines[-1].number))
    place.refuse_all(faults)
    table = np.array(rows)
    angle_deg = table[:, 0]
    _check_angles(angle_deg, lines[1:], place, faults)
    place.refuse_all(faults)
    level_db = table[:, 1:]
    if np.isnan(level_db).all():
        place.refuse("file", "found empty cells only; levels in dB", line=lines[1].number)
    axis_line = lines[1 + int(np.argmin(np.abs(angle_deg)))].number
    notes: tuple[str, ...] = ()
    if angle_deg[-1] > 180.0:
        angle_deg, level_db = _from_whole_turn(angle_deg, level_db, lines[-1], place)
        notes = ("angles beyond 180° are read as counting on upwards: 350° is 10° below the axis",)
    return CsvTable(
        angle_deg=angle_deg,
        frequency_hz=np.array(frequency_hz),
        level_db=level_db,
        comment=comment,
        notes=notes,
        header_line=lines[0].number,
        axis_line=axis_line,
    )


def _text(path: Path, place: Place) -> str:
    try:
        with open_ordinary(path) as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        place.refuse("file", f"found {error.strerror or error}; a file that can be read")
    if len(data) > LARGEST_BYTES:
        place.refuse("file", f"found more than {LARGEST_BYTES:,} bytes; at most that")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        place.refuse("file", "found bytes that are no UTF-8 text; a CSV table in UTF-8", line=line)
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        place.refuse("file", "found a zero byte; a CSV table in UTF-8", line=line)
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2212", "-")


def _split(text: str, place: Place) -> tuple[str, list[_Line], str]:
    """First comment, the lines that hold cells, and the separator that the header shows."""
    comment, separator = "", ""
    lines: list[_Line] = []
    for number, line in enumerate(text.split("\n"), start=1):
        stripped = line.strip()
        if stripped.startswith("#"):
            comment = comment or stripped.lstrip("# ")
            continue
        if not stripped.strip(",;"):
            continue
        if not lines:
            separator = next((mark for mark in "\t;," if mark in line), "")
            if not separator:
                message = f"found {stripped[:40]!r}; a header of frequencies parted by commas, "
                place.refuse("header", message + "semicolons or tabs", line=number)
            if (columns := line.count(separator)) > MOST_FREQUENCIES:
                place.refuse("header", f"found {columns:,} frequencies; "
                             f"at most {MOST_FREQUENCIES:,}", line=number)  # fmt: skip
        lines.append(_Line(number, line, line.split(separator)))
        if len(lines) > MOST_ANGLES + 1:
            place.refuse("angle", f"found more than {MOST_ANGLES:,} rows of levels; at most that",
                         line=number)  # fmt: skip
    if not lines:
        place.refuse("file", "found no table; a header of frequencies and rows of levels")
    return comment, lines, separator


def _header(line: _Line, separator: str, place: Place, faults: list[Fault]) -> list[float]:
    def fault(position: int, message: str) -> None:
        column = line.column_of(position)
        faults.append(place.fault("header", message, line=line.number, column=column))

    if _number(line.cells[0], decimal_comma=True) is not None:
        fault(0, f"found {_shown(line.cells[0])}; a name for the column of angles: "
              "the first line is the header, with the frequencies in Hz")  # fmt: skip
    frequencies: list[float] = []
    for position, cell in enumerate(line.cells[1:], start=1):
        plain = cell.strip().strip('"').removesuffix("Hz")
        value = _number(plain, decimal_comma=separator != ",")
        if value is None or not LEAST_HZ <= value <= MOST_HZ:
            fault(position, f"found {_shown(cell)}; a frequency in Hz, "
                  f"{LEAST_HZ:.0f} to {MOST_HZ:.0f}")  # fmt: skip
        elif frequencies and value <= frequencies[-1]:
            fault(position, f"found {value:g} Hz after {frequencies[-1]:g} Hz; "
                  "frequencies that ascend")  # fmt: skip
        else:
            frequencies.append(value)
    return frequencies


def _row(
    line: _Line, header: _Line, separator: str, place: Place, faults: list[Fault]
) -> list[float]:
    """The numbers of one line, NaN where a cell is empty."""
    cells, width = line.cells, len(header.cells)
    if len(cells) != width:
        message = f"found {len(cells)} cells; {width} as in the header (line {header.number})"
        if separator == "," and len(cells) > width:
            message += "; a decimal comma needs semicolons or tabs between the cells"
        faults.append(place.fault("row", message, line=line.number, column=1))
        return [float("nan")] * width
    text = line.text if separator == "," else line.text.replace(",", ".")
    if "_" not in text:
        try:
            row = [float(cell) for cell in text.split(separator)]
        except ValueError:
            row = [float("nan")]
        if isfinite(sum(row)) and max(map(abs, row)) <= LARGEST_DB:
            return row
    return [_cell(line, header, position, separator, place, faults) for position in range(width)]


def _cell(
    line: _Line, header: _Line, position: int, separator: str, place: Place, faults: list[Fault]
) -> float:
    cell = line.cells[position].strip().strip('"').strip()
    if not cell and position > 0:
        return float("nan")
    value = _number(cell, decimal_comma=separator != ",")
    if value is not None and abs(value) <= LARGEST_DB:
        return value
    key = "angle" if position == 0 else f"{header.cells[position].strip()} Hz"
    wanted = "an angle in degrees" if position == 0 else "a level in dB, or an empty cell"
    place_of = line.column_of(position)
    found = place.fault(key, f"found {_shown(cell)}; {wanted}", line=line.number, column=place_of)
    faults.append(found)
    return float("nan")


def _shown(cell: str) -> str:
    """A cell as a fault quotes it, cut short where it is long."""
    text = cell.strip()
    return repr(text if len(text) <= 60 else text[:60] + "…")


def _number(cell: str, *, decimal_comma: bool) -> float | None:
    """A finite number, or None."""
    text = cell.strip().strip('"')
    try:
        value = float(text.replace(",", ".") if decimal_comma else text)
    except ValueError:
        return None
    return value if isfinite(value) and "_" not in text else None


def _check_angles(
    angle_deg: FloatArray, lines: list[_Line], place: Place, faults: list[Fault]
) -> None:
    def fault(position: int, message: str) -> None:
        line = lines[position]
        where = {"line": line.number, "column": line.column_of(0)}
        faults.append(place.fault("angle", message, **where))

    low, high = (-180.0, 180.0) if np.any(angle_deg < 0.0) else (0.0, 360.0)
    seen: dict[float, int] = {}
    for position, angle in enumerate(angle_deg):
        if not low <= angle <= high:
            fault(position, f"found {angle:g}°; {low:g} to {high:g} in this table")
        elif angle in seen:
            fault(position, f"found {angle:g}° again (line {seen[angle]}); each angle once")
        elif position and angle < angle_deg[position - 1]:
            fault(position, f"found {angle:g}° after {angle_deg[position - 1]:g}°; "
                  "angles that ascend")  # fmt: skip
        seen.setdefault(float(angle), lines[position].number)


def _from_whole_turn(
    angle_deg: FloatArray, level_db: FloatArray, last: _Line, place: Place
) -> tuple[FloatArray, FloatArray]:
    """0…360 as −180…180, the beginning and the end of the turn being one direction."""
    if angle_deg[0] == 0.0 and angle_deg[-1] == 360.0:
        apart = float(np.nanmax(np.abs(level_db[0] - level_db[-1]), initial=0.0))
        if apart > ALIKE_DB:
            place.refuse("angle", f"found 360° {apart:.1f} dB away from 0°; one direction, "
                         f"one level within {ALIKE_DB} dB", line=last.number)  # fmt: skip
        angle_deg, level_db = angle_deg[:-1], level_db[:-1]
    turned = np.where(angle_deg > 180.0, angle_deg - 360.0, angle_deg)
    order = np.argsort(turned)
    return turned[order], level_db[order]

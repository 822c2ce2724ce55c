"""The table of a pattern: one row per angle, one column per frequency, or the other way round.

    # any number of comment lines; the first one is quoted as the source of the data
    angle_deg,500,1000,2000
    -10,-0.4,-1.1,-2.0
    0,0,0,0
    10,-0.3,-0.9,-1.8

First column: the vertical angle in degrees, positive above the axis of the box as built,
ascending, within −180…180; 0…360 is read as counting on upwards, where an angle beyond 180 shows
that it is meant.  Header: the frequencies in Hz, ascending.  Where the first heading says
"frequency", the frequencies stand in the first column and the angles in the header.  Cells: the
level in dB, on any reference; an empty cell was not measured, −inf is a null.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import found_text
from .pattern_result import Place
from .text_table import (
    Faults,
    Heading,
    TextTable,
    check_widths,
    frequency_hz_in,
    number_in,
    read_cells,
    read_table,
)
from .text_table import Place as Spot

MOST_ANGLES, MOST_FREQUENCIES = 40_000, 10_000
"""A hundredth of a degree all round; more is no pattern, and fills the memory."""
LEAST_HZ, MOST_HZ = 10.0, 100_000.0
LARGEST_DB = 400.0
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
class _Scale:
    """Angles, or frequencies, of a table, and where each one stands, by its index."""

    values: list[float]
    place: Callable[[int], Spot]


def read_csv(path: Path, *, place: Place) -> CsvTable:
    """The table of a pattern file.  Raises ScenarioError with every fault found."""
    table = read_table(path, file=place.display, is_header=_is_header)
    faults = Faults(place.display)
    header = table.header
    if header is None or len(header.cells) < 2:
        faults.refuse(
            "one column; a header of frequencies, parted by commas, semicolons or tabs",
            key="header",
            at=(header.number if header else 1, 1),
        )
    by_frequency = _is_frequency(table.headings[0]) if table.headings else False
    check_widths(table, faults, whole=True)
    top_texts = [heading.text for heading in table.headings[1:]]
    side_texts = [row.cells[0] for row in table.rows]
    _check_size(len(side_texts), len(top_texts), by_frequency, faults, header.number)
    read_top, read_side = (_angles, _frequencies) if by_frequency else (_frequencies, _angles)
    top = read_top(table, top_texts, lambda at: header.place(at + 1), faults)
    if not by_frequency and number_in(header.cells[0].replace(",", ".")) is not None:
        faults.add(
            f"{found_text(header.cells[0])}; a name for the column of angles: the first line is "
            "the header, with the frequencies in Hz",
            key="header",
            at=header.place(),
        )
    side = read_side(table, side_texts, lambda at: table.rows[at].place(), faults)
    level_db = _levels(table, faults)
    angle, frequency = (top, side) if by_frequency else (side, top)
    if len(angle.values) < 2:
        found = f"{len(angle.values)} row{'s' if len(angle.values) != 1 else ''} of levels"
        last = table.rows[-1].number if table.rows else header.number
        faults.add(f"{found}; a pattern needs at least two angles", key="angle", at=(last, 1))
    faults.stop()
    _check_angles(angle, faults)
    faults.stop()
    level_db = level_db.T if by_frequency else level_db
    if np.isnan(level_db).all():
        faults.refuse("empty cells only; levels in dB", at=(table.rows[0].number, 1))
    angle_deg = np.array(angle.values)
    notes: tuple[str, ...] = ()
    axis_line = angle.place(int(np.argmin(np.abs(angle_deg))))[0]
    if angle_deg[-1] > 180.0:
        angle_deg, level_db = _from_whole_turn(
            angle_deg, level_db, angle.place(len(angle_deg) - 1), faults
        )
        notes = ("angles beyond 180° are read as counting on upwards: 350° is 10° below the axis",)
    return CsvTable(
        angle_deg=angle_deg,
        frequency_hz=np.array(frequency.values),
        level_db=level_db,
        comment=table.comments[0] if table.comments else "",
        notes=notes,
        header_line=header.number,
        axis_line=axis_line,
    )


def _is_header(headings: Sequence[Heading]) -> bool:
    if len(headings) < 2 or number_in(headings[0].text.replace(",", ".")) is not None:
        return False
    if _is_frequency(headings[0]):
        return any(number_in(one.text.replace(",", ".")) is not None for one in headings[1:])
    return any(frequency_hz_in(one.text) is not None for one in headings[1:])


def _is_frequency(heading: Heading) -> bool:
    return heading.name.startswith(("freq", "hz", "f_hz")) or heading.unit in ("hz", "khz")


def _check_size(rows: int, columns: int, by_frequency: bool, faults: Faults, line: int) -> None:
    angles, frequencies = (columns, rows) if by_frequency else (rows, columns)
    if angles > MOST_ANGLES:
        faults.refuse(f"{angles:,} angles; at most {MOST_ANGLES:,}", key="angle", at=(line, 1))
    if frequencies > MOST_FREQUENCIES:
        text = f"{frequencies:,} frequencies; at most {MOST_FREQUENCIES:,}"
        faults.refuse(text, key="header", at=(line, 1))


def _frequencies(
    table: TextTable, texts: list[str], place: Callable[[int], Spot], faults: Faults
) -> _Scale:
    found: list[float] = []
    in_khz = bool(table.headings) and table.headings[0].unit == "khz"
    for index, text in enumerate(texts):
        value = frequency_hz_in(text)
        value = value * 1e3 if value is not None and in_khz else value
        if value is None or not LEAST_HZ <= value <= MOST_HZ:
            wanted = f"a frequency in Hz, {LEAST_HZ:.0f} to {MOST_HZ:.0f}"
            if value is not None and LEAST_HZ <= value * 1e3 <= MOST_HZ:
                wanted += f" (kilohertz? as {value:g}k)"
            faults.add(f"{found_text(text)}; {wanted}", key="header", at=place(index))
        elif found and value <= found[-1]:
            order = f"{value:g} Hz after {found[-1]:g} Hz; frequencies that ascend"
            faults.add(order, key="header", at=place(index), kind="order")
        else:
            found.append(value)
    return _Scale(found, place)


def _angles(
    table: TextTable, texts: list[str], place: Callable[[int], Spot], faults: Faults
) -> _Scale:
    found = []
    for index, text in enumerate(texts):
        value = table.number(text.removesuffix("°").removesuffix("deg").strip())
        if value is None or abs(value) > LARGEST_DB:
            faults.add(table.told(text, "an angle in degrees"), key="angle", at=place(index))
        found.append(value or 0.0)
    return _Scale(found, place)


def _levels(table: TextTable, faults: Faults) -> FloatArray:
    heads = [heading.text for heading in table.headings[1:]]
    keys = ["angle", *(f"{head} Hz" if number_in(head) else head or "level" for head in heads)]
    wanted = "a level in dB, or an empty cell"
    rows = [
        read_cells(table, faults, row, keys=keys, wanted=wanted, largest=LARGEST_DB, first=1)
        for row in table.rows
    ]
    return np.array(rows).reshape(len(rows), len(keys) - 1)


def _check_angles(angle: _Scale, faults: Faults) -> None:
    low, high = (-180.0, 180.0) if min(angle.values) < 0.0 else (0.0, 360.0)
    seen: dict[float, int] = {}
    before = -np.inf
    for index, value in enumerate(angle.values):
        if not low <= value <= high:
            text = f"{value:g}°; {low:g} to {high:g} in this table"
            faults.add(text, key="angle", at=angle.place(index))
        elif value in seen:
            text = f"{value:g}° again (line {seen[value]}); each angle once"
            faults.add(text, key="angle", at=angle.place(index), kind="again")
        elif value < before:
            text = f"{value:g}° after {before:g}°; angles that ascend"
            faults.add(text, key="angle", at=angle.place(index), kind="order")
        seen.setdefault(value, angle.place(index)[0])
        before = value


def _from_whole_turn(
    angle_deg: FloatArray, level_db: FloatArray, last: Spot, faults: Faults
) -> tuple[FloatArray, FloatArray]:
    """0…360 as −180…180, the beginning and the end of the turn being one direction."""
    if angle_deg[0] == 0.0 and angle_deg[-1] == 360.0:
        both = np.isfinite(level_db[0]) & np.isfinite(level_db[-1])
        apart = float(np.max(np.abs(level_db[0] - level_db[-1])[both], initial=0.0))
        if apart > ALIKE_DB:
            faults.refuse(
                f"360° is {apart:.1f} dB away from 0°; one direction, one level within "
                f"{ALIKE_DB} dB",
                key="angle",
                at=(last[0], 1),
            )
        angle_deg, level_db = angle_deg[:-1], level_db[:-1]
    turned = np.where(angle_deg > 180.0, angle_deg - 360.0, angle_deg)
    order = np.argsort(turned)
    return turned[order], level_db[order]

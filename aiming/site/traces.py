"""Measured levels in one long CSV: position, frequency_hz, level_db and, where known, coherence."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import Literal

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.errors import found_text
from .text_lines import (
    COMMENT_MARKS,
    DECIMAL_COMMA,
    Faults,
    Line,
    Place,
    number_in,
    number_told,
    read_table,
    refuse,
    split,
    text_lines,
)

Magnitude = Literal["db", "linear"]
COLUMNS = ("position", "frequency_hz", "level_db")
LINEAR_AT_MOST = 10.0
"""Magnitudes that are all above 0 and nowhere above this may well be linear."""
HIGHEST_DB = 400.0


@dataclass(frozen=True, eq=False)
class Trace:
    """One position's levels as measured.

    frequency_hz (f,) ascending; level_db (f,); coherence (f,) 0 to 1, 1 where it was not measured
    file, line: where it begins
    """

    position: str
    frequency_hz: FloatArray
    level_db: FloatArray
    coherence: FloatArray
    file: str
    line: int


def read_measured(path: str | Path, *, magnitude: Magnitude | None = None) -> tuple[Trace, ...]:
    """The traces of a long table, in the order in which the positions come first.

    Raises ScenarioError with every kind of fault once.
    """
    table = read_table(Path(path), needed=COLUMNS, optional=("coherence",))
    faults = Faults(table.file)
    rows: dict[str, list[tuple[float, float, float]]] = {}
    begins: dict[str, int] = {}
    for row in table.rows:
        name = " ".join(table.cell(row, "position").split())
        if not name:
            faults.add(
                "name", "an empty cell; the position's name", key="position", at=(row.number, 1)
            )
        values = [
            value_in(heading, table.cell(row, heading), faults, table.place(row, heading))
            for heading in ("frequency_hz", "level_db", "coherence")
        ]
        trace = rows.setdefault(name, [])
        begins.setdefault(name, row.number)
        before = trace[-1][0] if trace else 0.0
        ascends(values[0], before, faults, table.place(row, "frequency_hz"))
        trace.append((values[0], values[1], values[2]))
    faults.stop()
    ask_if_linear(
        np.array([one[1] for trace in rows.values() for one in trace]),
        magnitude,
        file=table.file,
        line=table.rows[0].number,
    )
    return tuple(
        trace_of(name, np.array(trace), magnitude, table.file, begins[name])
        for name, trace in rows.items()
    )


def value_in(heading: str, text: str, faults: Faults, at: Place) -> float:
    name = heading.removesuffix("_hz").removesuffix("_db")
    if name == "coherence" and not text:
        return 1.0
    wanted = {
        "frequency": "a frequency in Hz",
        "level": "a level in dB",
        "magnitude": "a magnitude in dB",
        "coherence": "a coherence of 0 to 1",
    }[name]
    value = number_in(text)
    if value is None:
        faults.add(f"number {heading}", number_told(text, wanted), key=heading, at=at)
        return nan  # neither above nor below: no second fault for it
    low, high = {"coherence": (0.0, 1.0), "frequency": (0.0, 1e6)}.get(
        name, (-HIGHEST_DB, HIGHEST_DB)
    )
    if not low <= value <= high:
        faults.add(f"range {heading}", f"{found_text(value)}; {wanted}", key=heading, at=at)
    return value


def ascends(value: float, before: float, faults: Faults, at: Place) -> None:
    if before >= value >= 0.0:
        text = f"{value:g} Hz after {before:g} Hz; above 0, and ascending at every position"
        faults.add("order", text, key="frequency", at=at)


def ask_if_linear(level: FloatArray, magnitude: Magnitude | None, *, file: str, line: int) -> None:
    if magnitude == "linear":
        if (level <= 0.0).any():
            text = f"{level.min():g} is no linear magnitude; above 0, or levels in dB"
            refuse(file, text, key="magnitude", at=(line, 1))
    elif magnitude is None and len(level) and (level > 0.0).all() and level.max() <= LINEAR_AT_MOST:
        refuse(
            file,
            f"magnitudes of {level.min():g} to {level.max():g} look linear; levels in dB, or say "
            "which they are: magnitude linear, or magnitude db",
            key="magnitude",
            at=(line, 1),
        )


def trace_of(
    name: str, rows: FloatArray, magnitude: Magnitude | None, file: str, line: int
) -> Trace:
    level = 20.0 * np.log10(rows[:, 1]) if magnitude == "linear" else rows[:, 1]
    return Trace(name, frozen(rows[:, 0]), frozen(level), frozen(rows[:, 2]), file, line)


# Measured levels in one text file per position, as analysers export them.
#
# A file has frequency, magnitude in dB and optionally phase and coherence, with or without a
# heading; without one, a third column within 0 to 1 throughout is taken for coherence.

_HEADINGS = {
    "frequency": ("frequency", "freq", "hz", "f"),
    "magnitude": ("magnitude", "mag", "level", "db", "spl", "amplitude"),
    "phase": ("phase", "degrees", "deg", "ph"),
    "coherence": ("coherence", "coh"),
}


def measured_traces(
    measured: str | Path | None,
    at: Mapping[str, str | Path] | None,
    *,
    magnitude: Magnitude | None = None,
) -> tuple[Trace, ...]:
    """The traces of a long table and of files by position, together.

    Raises ScenarioError, also for fewer than two positions.
    """
    traces = read_measured(measured, magnitude=magnitude) if measured is not None else ()
    own = read_traces(at or {}, magnitude=magnitude)
    names = {one.position for one in traces}
    for one in own:
        if one.position in names:
            text = f"{found_text(one.position)} is in the table too; each position once"
            refuse(one.file, text, key="position", at=(one.line, 1))
    traces += own
    if len(traces) < 2:
        only = traces[0]
        text = f"one position, {found_text(only.position)}; at least two: only differences count"
        refuse(only.file, text, key="position", at=(only.line, 1))
    return traces


def read_traces(
    files: Mapping[str, str | Path], *, magnitude: Magnitude | None = None
) -> tuple[Trace, ...]:
    """One text file per position, by the position's name.  Raises ScenarioError."""
    return tuple(_read_file(name, Path(path), magnitude) for name, path in files.items())


def _read_file(name: str, path: Path, magnitude: Magnitude | None) -> Trace:
    file = str(path)
    raw = text_lines(path, file=file, marks=COMMENT_MARKS)
    separator = _separator([text for _, text in raw[:50]])
    lines = [split(number, text, separator) for number, text in raw]
    _refuse_decimal_commas(lines, separator, file)
    start = next((k for k, line in enumerate(lines) if number_in(line.cells[0]) is not None), None)
    if start is None:
        refuse(file, "no line of numbers; frequency and magnitude", at=(lines[0].number, 1))
    assert start is not None
    heading = lines[start - 1] if start else None
    data = lines[start:]
    names = _columns(heading, data)
    faults = Faults(file)
    rows: list[tuple[float, float, float]] = []
    for line in data:
        if len(line.cells) < len(names):
            text = f"{len(line.cells)} cells; {len(names)} as on the line before"
            faults.add("cells", text, at=(line.number, 1))
            continue
        got = {"coherence": 1.0}
        for heading_name, cell, column in zip(names, line.cells, line.columns, strict=False):
            if heading_name in ("frequency", "magnitude", "coherence"):
                got[heading_name] = value_in(heading_name, cell, faults, (line.number, column))
        if got["frequency"] == 0.0 and not rows:
            continue  # the constant part of a spectrum is no frequency to compare
        ascends(got["frequency"], rows[-1][0] if rows else 0.0, faults, (line.number, 1))
        rows.append((got["frequency"], got["magnitude"], got["coherence"]))
    if not rows:
        text = "no line of both numbers above 0 Hz; frequency and magnitude"
        faults.add("rows", text, at=(data[0].number, 1))
    faults.stop()
    levels = np.array([row[1] for row in rows])
    ask_if_linear(levels, magnitude, file=file, line=data[0].number)
    return trace_of(name, np.array(rows), magnitude, file, data[0].number)


def _separator(texts: list[str]) -> str:
    """What parts the cells: the first of tab, semicolon, comma that the lines agree on."""
    for mark in "\t;,":
        if sum(mark in text for text in texts) > len(texts) // 2:
            words = [text.split() for text in texts]
            if mark == "," and all(
                len(cells) > 1 and any(DECIMAL_COMMA.fullmatch(cell) for cell in cells)
                for cells in words[-3:]
            ):
                break
            return mark
    return " "


def _refuse_decimal_commas(lines: list[Line], separator: str, file: str) -> None:
    for line in lines:
        for cell, column in zip(line.cells, line.columns, strict=True):
            if DECIMAL_COMMA.fullmatch(cell):
                refuse(file, number_told(cell, "a number"), at=(line.number, column))
    if separator == ",":
        numbers = [line for line in lines if number_in(line.cells[0]) is not None]
        whole = all(
            len(line.cells) in (4, 6, 8) and all(cell.lstrip("+-").isdigit() for cell in line.cells)
            for line in numbers
        )
        if numbers and whole:
            refuse(
                file,
                "whole numbers between commas look like numbers with decimal commas; decimal "
                "points, or semicolons between the cells",
                at=(numbers[0].number, 1),
            )


def _columns(heading: Line | None, data: list[Line]) -> list[str]:
    """What each column holds, by its heading or by its place."""
    width = len(data[0].cells)
    if heading is not None:
        cells = [cell.lower() for cell in heading.cells]
        if len(cells) > width:  # "frequency (Hz)" parted by spaces
            cells = [cell for cell in cells if not cell.startswith(("(", "["))]
        words = [cell.strip('"[]() ') for cell in cells[:width]]
        found = [
            next((n for n, keys in _HEADINGS.items() if word.startswith(keys)), word)
            for word in words
        ]
        if "frequency" in found and "magnitude" in found:
            return found
    names = ["frequency", "magnitude", "phase", "coherence"][:width]
    if width == 3:
        third = [number_in(line.cells[2]) for line in data if len(line.cells) == 3]
        if all(value is not None and 0.0 <= value <= 1.0 for value in third):
            names[2] = "coherence"
    if width < 2:
        names = ["frequency", "magnitude"]
    return names

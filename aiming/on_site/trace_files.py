"""Measured levels in one text file per position, as analysers export them.

A file has frequency, magnitude in dB and optionally phase and coherence, with or without a heading;
without one, a third column within 0 to 1 throughout is taken for coherence.
"""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from ..errors import found_text
from .lines import (
    COMMENT_MARKS,
    DECIMAL_COMMA,
    Faults,
    Line,
    number_in,
    number_told,
    refuse,
    split,
    text_lines,
)
from .traces import Magnitude, Trace, ascends, ask_if_linear, read_measured, trace_of, value_in

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

"""Measured levels in one long CSV: position, frequency_hz, level_db and, where known, coherence."""

from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import Literal

import numpy as np

from ..arrays import FloatArray, frozen
from ..errors import found_text
from .lines import (
    Faults,
    Place,
    number_in,
    number_told,
    read_table,
    refuse,
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

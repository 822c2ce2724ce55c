"""Measured levels as they come: long tables, matrices either way round, one text file a position.

    position, frequency_hz, level_db[, coherence][, phase][, set]      a row for each level
    position, 1000, 2000, 4k …                                         as the check sheet is laid
    out
    frequency, row 2, row 4 …                                          a column for each position
    frequency, magnitude[, phase][, coherence]                         one position, as exported
    frequency, real, imaginary                                         the same
    frequency, mag L, mag R …                                          several: one is named

Empty cells and NaN are holes, −inf a level of nothing.  Frequencies may come in any order.  A level
that comes twice is another take, and takes are averaged by energy.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.errors import found_text
from ..files.text_table import Faults, Heading, TextLine, TextTable, frequency_hz_in, read_table

Magnitude = Literal["db", "linear"]
LINEAR_AT_MOST = 10.0
"""Magnitudes that are all above 0 and nowhere above this may well be linear."""
HIGHEST_DB = 400.0
HIGHEST_HZ = 1e6
COLUMN_MARK = "::"
"""Parts a file's name from the column that is meant, as in "left.txt::Mag L"."""
_WORDS = {
    "frequency": ("frequency", "freq", "hz", "f"),
    "real": ("real", "re"),
    "imaginary": ("imaginary", "imag", "im"),
    "phase": ("phase", "degrees", "deg", "ph"),
    "coherence": ("coherence", "coh"),
    "level": ("magnitude", "mag", "level", "db", "spl", "amplitude"),
}
_WHOLE = frozenset({"hz", "f", "re", "im", "ph", "db", "deg"})
"""Short heads that must stand alone: "row" is no "re"."""


@dataclass(frozen=True, eq=False)
class Trace:
    """One position's levels as measured.

    frequency_hz (f,) ascending; level_db (f,); coherence (f,) 0 to 1, 1 where it was not measured
    phase_deg: (f,) or None; set: of positions measured with one gain, "" where all are
    takes: how many were averaged; takes_apart_db: how far apart they are, the median over the
        frequencies; file, line: where it begins
    """

    position: str
    frequency_hz: FloatArray
    level_db: FloatArray
    coherence: FloatArray
    file: str
    line: int
    phase_deg: FloatArray | None = None
    set: str = ""
    takes: int = 1
    takes_apart_db: float = 0.0

    def smoothed(self, octaves: float) -> "Trace":
        """The trace averaged by energy over a sliding window this many octaves wide."""
        x = np.log2(self.frequency_hz)
        low = np.searchsorted(x, x - 0.5 * octaves - 1e-9)
        high = np.searchsorted(x, x + 0.5 * octaves + 1e-9)
        energy = np.concatenate([[0.0], np.cumsum(10.0 ** (0.1 * self.level_db))])
        mean = (energy[high] - energy[low]) / (high - low)
        return replace(self, level_db=frozen(10.0 * np.log10(np.maximum(mean, 1e-30))))


@dataclass
class _Gathered:
    """The levels of one position while a table is read."""

    name: str
    line: int
    set: str = ""
    rows: list[tuple[float, float, float, float]] = field(default_factory=list)


Files = str | Path | Sequence[str | Path]


def measured_traces(
    measured: str | Path | None,
    at: Mapping[str, Files] | None,
    *,
    magnitude: Magnitude | None = None,
) -> tuple[Trace, ...]:
    """The traces of a table and of files by position, together.

    Raises ScenarioError, also for fewer than two positions.
    """
    traces = read_measured(measured, magnitude=magnitude) if measured is not None else ()
    own = read_traces(at or {}, magnitude=magnitude)
    names = {one.position for one in traces}
    for one in own:
        if one.position in names:
            text = f"{found_text(one.position)} is in the table too; each position once"
            Faults(one.file).refuse(text, key="position", at=(one.line, 1))
    traces += own
    if len(traces) < 2:
        only = traces[0]
        text = f"one position, {found_text(only.position)}; at least two: only differences count"
        Faults(only.file).refuse(text, key="position", at=(only.line, 1))
    return traces


def read_measured(path: str | Path, *, magnitude: Magnitude | None = None) -> tuple[Trace, ...]:
    """The traces of one table of several positions, in the order in which they come first.

    Raises ScenarioError with every kind of fault.
    """
    file = str(path)
    table = read_table(Path(path), file=file, is_header=_is_table_header)
    faults = Faults(file)
    kinds = _kinds(table.headings)
    if table.header is None or ("position" not in kinds and kinds[:1] != ["frequency"]):
        at = table.header.number if table.header else table.rows[0].number
        faults.refuse(
            "no such column; position, frequency_hz, level_db, or position and one column for each "
            "band, or frequency and one column for each position",
            key="position",
            at=(at, 1),
        )
    if not table.rows or len(table.headings) < 2:
        faults.refuse("a header and no levels; measured levels", at=(table.header.number, 1))
    if "position" in kinds and "frequency" in kinds:
        found = _long(table, faults)
    elif "position" in kinds:
        found = _bands_across(table, faults)
    else:
        found = _positions_across(table, faults)
    faults.stop()
    # A position that was not visited stays empty in the sheet, and is no position.
    visited = [
        one for one in found.values() if any(np.isfinite(level) for _, level, *_ in one.rows)
    ]
    held = visited or list(found.values())
    levels = np.array([level for one in held for _, level, *_ in one.rows])
    _ask_if_linear(levels[np.isfinite(levels)], magnitude, faults, held[0].line)
    return tuple(_trace(one, magnitude, file) for one in held)


def read_traces(
    files: Mapping[str, Files], *, magnitude: Magnitude | None = None
) -> tuple[Trace, ...]:
    """Text files by the name of their position; several of one position are takes.

    Raises ScenarioError.
    """
    found = []
    for name, of in files.items():
        several = [of] if isinstance(of, str | Path) else list(of)
        takes = [_read_file(name, str(path), magnitude) for path in several]
        found.append(averaged(takes))
    return tuple(found)


def averaged(takes: Sequence[Trace]) -> Trace:
    """Takes of one position as one trace, by energy, at the first one's frequencies."""
    first = takes[0]
    if len(takes) == 1:
        return first
    levels = np.array(
        [np.interp(first.frequency_hz, one.frequency_hz, one.level_db) for one in takes]
    )
    sure = [np.interp(first.frequency_hz, one.frequency_hz, one.coherence) for one in takes]
    return replace(
        first,
        level_db=frozen(10.0 * np.log10(np.maximum((10.0 ** (0.1 * levels)).mean(axis=0), 1e-40))),
        coherence=frozen(np.mean(sure, axis=0)),
        phase_deg=None,
        takes=len(takes),
        takes_apart_db=float(np.median(np.ptp(levels, axis=0))),
    )


# The layouts of a table of several positions.


def _is_table_header(headings: Sequence[Heading]) -> bool:
    kinds = _kinds(headings)
    return "position" in kinds or kinds[:1] == ["frequency"]


def _kinds(headings: Sequence[Heading]) -> list[str]:
    """What each column holds, "" for anything else."""
    return [_kind(one) for one in headings]


def _kind(heading: Heading) -> str:
    name = heading.name.strip("_")
    if name in ("position", "set"):
        return name
    for kind, words in _WORDS.items():
        for word in words:
            if name == word or (word not in _WHOLE and name.startswith(f"{word}_")):
                return kind
    if not name and heading.unit in ("hz", "khz"):
        return "frequency"
    return ""


def _long(table: TextTable, faults: Faults) -> dict[str, _Gathered]:
    kinds = _kinds(table.headings)
    for kind in ("position", "frequency", "level", "coherence", "phase", "set"):
        if kinds.count(kind) > 1:
            twice = [n for n, one in enumerate(kinds) if one == kind][1]
            faults.add("the column comes twice; once", key=table.headings[twice].text,
                       at=_head(table, twice))  # fmt: skip
    if "level" not in kinds:
        text = "no such column; position, frequency_hz, level_db, [coherence], [phase], [set]"
        faults.add(text, key="level_db", at=_head(table, 0))
    for n, heading in enumerate(table.headings):
        if not kinds[n] and heading.text:
            text = "is no column of this table; position, frequency_hz, level_db, [coherence]"
            faults.add(text, key=heading.text, at=_head(table, n))
    faults.stop()
    at = {kind: kinds.index(kind) for kind in kinds if kind}
    found: dict[str, _Gathered] = {}
    for row in table.rows:
        if any(row.cells[len(table.headings) :]):
            text = f"{len(row.cells)} cells; {len(table.headings)} as in the header"
            if row.separator == ",":
                text += " (decimal commas need semicolons or tabs between the cells)"
            faults.add(text, key="row", at=(row.number, 1))
            continue
        name = _name(row, at["position"], faults)
        which = " ".join(_cell(row, at.get("set", -1)).split())
        frequency = _frequency(table, row, at["frequency"], faults)
        level = _number(table, row, at["level"], faults, "level_db", "a level in dB", HIGHEST_DB)
        coherence = _coherence(table, row, at.get("coherence", -1), faults)
        phase = np.nan
        if "phase" in at:
            phase = _number(table, row, at["phase"], faults, "phase", "degrees", 1e9)
        own = found.setdefault(f"{which}\n{name}", _Gathered(name, row.number, which))
        own.rows.append((frequency, level, coherence, phase))
    return found


def _bands_across(table: TextTable, faults: Faults) -> dict[str, _Gathered]:
    """The first column holds positions, every further one a band."""
    place = _kinds(table.headings).index("position")
    bands: dict[int, float] = {}
    for n, heading in enumerate(table.headings):
        frequency = frequency_hz_in(heading.text)
        if n == place or (not heading.text and n >= len(table.headings) - 1):
            continue
        if frequency is None or not 0.0 < frequency <= HIGHEST_HZ:
            text = f"{found_text(heading.text)}; a frequency, as 1000, 1 kHz or 1k"
            faults.add(text, key="frequency", at=_head(table, n))
        else:
            bands[n] = frequency
    faults.stop()
    found: dict[str, _Gathered] = {}
    for row in table.rows:
        name = _name(row, place, faults)
        own = found.setdefault(name, _Gathered(name, row.number))
        for n, frequency in bands.items():
            level = _number(table, row, n, faults, f"{frequency:g} Hz", "a level in dB", HIGHEST_DB)
            own.rows.append((frequency, level, 1.0, np.nan))
    return found


def _positions_across(table: TextTable, faults: Faults) -> dict[str, _Gathered]:
    """The first column holds frequencies, every further one a position."""
    found: dict[str, _Gathered] = {}
    for n, heading in enumerate(table.headings[1:], start=1):
        name = " ".join(heading.text.split())
        if not name:
            continue
        own = found.setdefault(name, _Gathered(name, table.rows[0].number))
        for row in table.rows:
            frequency = _frequency(table, row, 0, faults)
            level = _number(table, row, n, faults, name, "a level in dB", HIGHEST_DB)
            own.rows.append((frequency, level, 1.0, np.nan))
    return found


# One file of one position.


def _read_file(name: str, path: str, magnitude: Magnitude | None) -> Trace:
    path, _, column = path.partition(COLUMN_MARK)
    table = read_table(Path(path), file=path)
    faults = Faults(path)
    if not table.rows:
        at = table.header.number if table.header else 1
        faults.refuse("no line of numbers; frequency and magnitude", at=(at, 1))
    places = _columns(table, column, faults)
    own = _Gathered(name, table.rows[0].number)
    for row in table.rows:
        frequency = _frequency(table, row, places["frequency"], faults)
        coherence = _coherence(table, row, places.get("coherence", -1), faults)
        phase = np.nan
        if "real" in places:
            real, imaginary = (
                _number(table, row, places[part], faults, part, "a number", 1e30)
                for part in ("real", "imaginary")
            )
            size = float(np.hypot(real, imaginary))
            level = 20.0 * float(np.log10(size)) if size > 0.0 else np.nan
            phase = float(np.degrees(np.arctan2(imaginary, real)))
        else:
            level = _number(
                table, row, places["level"], faults, "magnitude", "a magnitude in dB", HIGHEST_DB
            )
            if "phase" in places:
                phase = _number(table, row, places["phase"], faults, "phase", "degrees", 1e9)
        own.rows.append((frequency, level, coherence, phase))
    faults.stop()
    if "real" in places:
        return _trace(own, "db", path)
    levels = np.array([level for _, level, *_ in own.rows])
    _ask_if_linear(levels[np.isfinite(levels)], magnitude, faults, own.line)
    return _trace(own, magnitude, path)


def _columns(table: TextTable, column: str, faults: Faults) -> dict[str, int]:
    """Which column holds what."""
    width = max(len(row.cells) for row in table.rows[:50])
    kinds = _kinds(table.headings)
    if "frequency" not in kinds or not ({"level", "real", "imaginary"} & set(kinds)):
        kinds = _by_place(table, width)
    found = {kind: kinds.index(kind) for kind in kinds if kind}
    levels = [n for n, kind in enumerate(kinds) if kind == "level"]
    heads = [table.headings[n].text if n < len(table.headings) else str(n + 1) for n in levels]
    at = (table.header.number, 1) if table.header else (table.rows[0].number, 1)
    if column:
        wanted = [n for n, head in zip(levels, heads, strict=True) if _alike(head, column)]
        if len(wanted) != 1:
            text = f"{found_text(column)}; one of {', '.join(heads)}"
            faults.refuse(text, key="column", at=at)
        found["level"] = wanted[0]
    elif len(levels) > 1:
        text = f"several traces, {', '.join(heads)}; say which: FILE{COLUMN_MARK}{heads[0]}"
        faults.refuse(text, key="column", at=at)
    if ("real" in found) != ("imaginary" in found):
        lone = "real" if "real" in found else "imaginary"
        text = f"{lone} parts alone; real and imaginary, or magnitude"
        faults.refuse(text, key=lone, at=at)
    if width < 2:
        faults.refuse("one column; frequency and magnitude", key="row", at=at)
    return found


def _by_place(table: TextTable, width: int) -> list[str]:
    """Without heads that tell: frequency, magnitude, then phase or, within 0 to 1, coherence."""
    kinds = ["frequency", "level", "phase", "coherence"][: max(width, 2)]
    if width == 3:
        third = [table.number(row.cells[2]) for row in table.rows if len(row.cells) == 3]
        if all(value is not None and 0.0 <= value <= 1.0 for value in third):
            kinds[2] = "coherence"
    return kinds


def _alike(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


# Cells.


def _head(table: TextTable, n: int) -> tuple[int, int]:
    return table.header.place(n) if table.header else (1, 1)


def _cell(row: TextLine, n: int) -> str:
    return row.cells[n] if 0 <= n < len(row.cells) else ""


def _name(row: TextLine, n: int, faults: Faults) -> str:
    name = " ".join(_cell(row, n).split())
    if not name:
        faults.add("an empty cell; the position's name", key="position", at=(row.number, 1))
    return name


def _frequency(table: TextTable, row: TextLine, n: int, faults: Faults) -> float:
    text = _cell(row, n)
    unit = table.headings[n].unit if n < len(table.headings) else None
    value = table.number(text)
    if value is None:
        value = frequency_hz_in(text)
    elif unit == "khz":
        value *= 1000.0
    if value is None or not 0.0 <= value <= HIGHEST_HZ:
        faults.add(table.told(text, "a frequency in Hz"), key="frequency", at=row.place(n))
        return np.nan
    return value


def _number(
    table: TextTable, row: TextLine, n: int, faults: Faults, key: str, wanted: str, largest: float
) -> float:
    """NaN for a hole, −inf for a null; a fault, and NaN, for what is no number."""
    text = _cell(row, n)
    if text.lower() in ("", "nan", "n/a", "-", "--", "---"):
        return np.nan
    if text.lower() in ("-inf", "-infinity", "-∞"):
        return -np.inf
    value = table.number(text)
    if value is None or abs(value) > largest:
        faults.add(table.told(text, wanted), key=key, at=row.place(n))
        return np.nan
    return value


def _coherence(table: TextTable, row: TextLine, n: int, faults: Faults) -> float:
    """0 to 1; a head or values in % are hundredths."""
    value = _number(table, row, n, faults, "coherence", "a coherence of 0 to 1", 100.0)
    if np.isnan(value):
        return 1.0
    if n < len(table.headings) and table.headings[n].unit == "%":
        value /= 100.0
    if not 0.0 <= value <= 100.0:
        text = f"{found_text(value)}; a coherence of 0 to 1"
        faults.add(text, key="coherence", at=row.place(n))
    return value


def _trace(own: _Gathered, magnitude: Magnitude | None, file: str) -> Trace:
    """The levels of one position: ascending, takes averaged, holes left out."""
    rows = np.array(own.rows, dtype=np.float64).reshape(-1, 4)
    rows = rows[np.isfinite(rows[:, 1]) & (rows[:, 0] > 0.0)]
    faults = Faults(file)
    if not len(rows):
        text = f"{found_text(own.name)} has no level; levels in dB"
        faults.refuse(text, key="level", at=(own.line, 1))
    if magnitude == "linear":
        rows[:, 1] = 20.0 * np.log10(rows[:, 1])
    if rows[:, 2].max() > 1.0:  # in % throughout, if one is
        rows[:, 2] /= 100.0
    frequency, first, count = np.unique(rows[:, 0], return_index=True, return_counts=True)
    place = np.searchsorted(frequency, rows[:, 0])
    least, most = np.full(len(frequency), np.inf), np.full(len(frequency), -np.inf)
    np.minimum.at(least, place, rows[:, 1])
    np.maximum.at(most, place, rows[:, 1])
    energy = np.zeros(len(frequency))
    np.add.at(energy, place, 10.0 ** (0.1 * rows[:, 1]))
    level = np.where(count == 1, rows[first, 1], 10.0 * np.log10(np.maximum(energy / count, 1e-40)))
    phase = rows[first, 3]
    return Trace(
        position=own.name,
        frequency_hz=frozen(frequency),
        level_db=frozen(level),
        coherence=frozen(rows[first, 2]),
        file=file,
        line=own.line,
        phase_deg=frozen(phase) if np.isfinite(phase).all() and count.max() == 1 else None,
        set=own.set,
        takes=int(count.max()),
        takes_apart_db=float(np.median((most - least)[count == count.max()])),
    )


def _ask_if_linear(
    level: FloatArray, magnitude: Magnitude | None, faults: Faults, line: int
) -> None:
    if magnitude == "linear":
        if (level <= 0.0).any():
            text = f"{level.min():g} is no linear magnitude; above 0, or levels in dB"
            faults.refuse(text, key="magnitude", at=(line, 1))
    elif magnitude is None and len(level) and 0.0 < level.min() <= level.max() <= LINEAR_AT_MOST:
        faults.refuse(
            f"magnitudes of {level.min():g} to {level.max():g} look linear; levels in dB, or say "
            "which they are: magnitude linear, or magnitude db",
            key="magnitude",
            at=(line, 1),
        )

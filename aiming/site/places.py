"""Where the microphones stood: at rows of the scenario by name, or at coordinates from a table.

The table has the columns position, x and z (metres with x_m, z_m; feet with x_ft, z_ft; else the
scenario's unit) and, where wished, microphone: "stand" or "boundary".  z is the microphone's, from
the datum.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

import numpy as np

from ..aim.check_positions import microphone_z_m
from ..base.arrays import frozen
from ..base.errors import Fault, ScenarioError, found_text
from ..base.units import Unit, parse_length_m
from ..files.text_table import Faults, check_columns, read_table
from ..geometry.section import Rows
from .traces import Trace

Point = tuple[float, float]
"""x, z in metres."""
_MICROPHONES = ("stand", "boundary")
_ONE_KIND = "one kind of microphone throughout"


@dataclass(frozen=True)
class Places:
    """Points by name; microphone: "stand", "boundary", or None where the table does not say."""

    points: dict[str, Point]
    microphone: str | None
    file: str


def microphones(rows: Rows, mic_height_m: float | None) -> Rows:
    """The rows with the microphone in place of the ears; None leaves it at the ears."""
    return replace(rows, z_m=microphone_z_m(rows, mic_height_m))


def place_points(traces: tuple[Trace, ...], rows: Rows, table: dict[str, Point]) -> Rows:
    """The microphone positions of the traces as rows, one after another.

    rows: microphones at every row of the scenario; table: positions with coordinates of their own
    Raises ScenarioError for every name that is neither, or that means more than one row.
    """
    known = _names(rows)
    for name, point in table.items():
        known[_plain(name)] = {point}
    faults, points = [], []
    for trace in traces:
        found = known.get(_plain(trace.position), set())
        if len(found) == 1:
            points.append(next(iter(found)))
            continue
        message = _unknown(trace.position, known, several=bool(found))
        faults.append(Fault(trace.file, trace.line, 1, "position", message))
    if faults:
        raise ScenarioError(faults)
    x, z = np.array(points).T
    return Rows(
        x_m=frozen(x),
        z_m=frozen(z),
        weight=frozen(np.ones(len(x))),
        seating=np.zeros(len(x), dtype=np.intp),
        names=tuple(trace.position for trace in traces),
        seatings=rows.seatings,
    )


def refuse_mixed(traces: tuple[Trace, ...], table: Places, mic_height_m: float | None) -> None:
    """Raises ScenarioError where the table's microphones are of one kind and those at rows of the
    other: the floor's reflection tells them apart by up to 6 dB."""
    at_rows = "boundary" if mic_height_m == 0.0 else "stand"
    by_row = [one for one in traces if _plain(one.position) not in map(_plain, table.points)]
    if table.microphone not in (None, at_rows) and by_row:
        text = f"{table.microphone} here, {at_rows} at {by_row[0].position}; {_ONE_KIND}"
        raise ScenarioError([Fault(table.file, 1, 1, "microphone", text)])


def read_places(path: str | Path, *, unit: Unit) -> Places:
    """Coordinates in metres by name.  Raises ScenarioError."""
    table = read_table(
        Path(path),
        file=str(path),
        is_header=lambda headings: "position" in [one.name for one in headings],
    )
    faults = Faults(table.file)
    check_columns(table, faults, needed=("position", "x", "z"), optional=("microphone",))
    if not table.rows:
        faults.add("a header and no rows; positions", at=(1, 1))
    own = table.unit("x")
    if own != table.unit("z") or own not in (None, "m", "ft"):
        text = "x and z in one unit; x and z, or x_m and z_m, or x_ft and z_ft"
        faults.add(text, key="x, z", at=table.place(None, "x"))
    faults.stop()
    length: Unit = "ft" if own == "ft" else "m" if own == "m" else unit
    points: dict[str, Point] = {}
    kinds: dict[str, int] = {}
    for row in table.rows:
        name = " ".join(table.cell(row, "position").split())
        if not name or name in points:
            text = (
                f"{found_text(name)} again; each position once" if name else "an empty cell; a name"
            )
            faults.add(text, key="position", at=table.place(row, "position"))
        values = []
        for heading in ("x", "z"):
            try:
                values.append(parse_length_m(table.pointed(table.cell(row, heading)), length))
            except ValueError as error:
                faults.add(str(error), key=heading, at=table.place(row, heading))
                values.append(0.0)
        points[name] = (values[0], values[1])
        if kind := table.cell(row, "microphone").lower():
            kinds.setdefault(kind, row.number)
            if kind not in _MICROPHONES:
                text = f'{found_text(kind)}; "stand" or "boundary"'
                faults.add(text, key="microphone", at=table.place(row, "microphone"))
    if set(_MICROPHONES) <= set(kinds):
        faults.add(
            f"microphones on stands and on boundaries in one set; {_ONE_KIND}, since the floor's "
            "reflection tells them apart by up to 6 dB",
            key="microphone",
            at=(max(kinds.values()), 1),
        )
    faults.stop()
    return Places(points, next(iter(kinds), None), table.file)


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _names(rows: Rows) -> dict[str, set[Point]]:
    """Points by everything that a person may call a row."""
    known: dict[str, set[Point]] = {}
    for row, name in enumerate(rows.names):
        seating = rows.seatings[rows.seating[row]].name
        point = (float(rows.x_m[row]), float(rows.z_m[row]))
        for said in (
            rows.label(row),
            f"row {name}",
            name,
            f"row {name} of {seating}",
            f"{seating} {name}",
            f"{seating} row {name}",
        ):
            known.setdefault(_plain(said), set()).add(point)
    return known


def _unknown(name: str, known: Iterable[str], *, several: bool) -> str:
    if several:
        return f'{found_text(name)} is in several seatings; with its seating, as "row 3 of stalls"'
    close = get_close_matches(_plain(name), list(known), n=1)
    hint = f"did you mean {found_text(close[0])}?" if close else "a row of the scenario"
    return f"{found_text(name)} is no position that is known; {hint}, or a table of coordinates"

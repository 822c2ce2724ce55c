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
from ..geometry.section import Rows
from .text_lines import Faults, read_table, refuse
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
    pairs: dict[tuple[str, str], Unit] = {
        ("x", "z"): unit,
        ("x_m", "z_m"): "m",
        ("x_ft", "z_ft"): "ft",
    }
    headings = tuple(heading for pair in pairs for heading in pair)
    table = read_table(Path(path), needed=("position",), optional=(*headings, "microphone"))
    given = [pair for pair in pairs if set(pair) <= set(table.headings)]
    if len(given) != 1 or len(set(headings) & set(table.headings)) != 2:
        found = ", ".join(name for name in table.headings if name in headings) or "neither"
        text = f"{found}; the two columns x and z, or x_m and z_m, or x_ft and z_ft"
        refuse(table.file, text, key="x, z", at=(table.header.number, 1))
    (x, z), own = given[0], pairs[given[0]]
    faults = Faults(table.file)
    points: dict[str, Point] = {}
    kinds: dict[str, int] = {}
    for row in table.rows:
        name = " ".join(table.cell(row, "position").split())
        if not name or name in points:
            text = (
                f"{found_text(name)} again; each position once" if name else "an empty cell; a name"
            )
            faults.add(f"name {name}", text, key="position", at=table.place(row, "position"))
        values = []
        for heading in (x, z):
            try:
                values.append(parse_length_m(table.cell(row, heading), own))
            except ValueError as error:
                faults.add(
                    f"length {heading}", str(error), key=heading, at=table.place(row, heading)
                )
                values.append(0.0)
        points[name] = (values[0], values[1])
        if kind := table.cell(row, "microphone").lower():
            kinds.setdefault(kind, row.number)
            if kind not in _MICROPHONES:
                text = f'{found_text(kind)}; "stand" or "boundary"'
                faults.add("microphone", text, key="microphone", at=table.place(row, "microphone"))
    if set(_MICROPHONES) <= set(kinds):
        refused_at = max(kinds.values())
        faults.add(
            "mixed",
            f"microphones on stands and on boundaries in one set; {_ONE_KIND}, since the floor's "
            "reflection tells them apart by up to 6 dB",
            key="microphone",
            at=(refused_at, 1),
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

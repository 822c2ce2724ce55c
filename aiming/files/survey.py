"""The table of a survey file: cells with their places, numbers with their units."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..base.errors import Fault, ScenarioError
from ..base.regular_file import open_ordinary
from .floor_line import rising_m, size_doubt

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


# Laser stations tied into one survey: least squares, and how far it fails to close.
#
# A shot from a station S to a point P measures the whole displacement in the section,
#
#     P − S = (±d·cos i, d·sin i) + (0, instrument height − target height),
#
# so one common point ties two stations, and every further one checks them.  The least-squares
# problem is linear; every shot counts alike.


@dataclass(frozen=True, eq=False)
class Net:
    """What was measured.

    station, point: (shots,) index into stations and points
    step_m: (shots, 2) x, z from the station's mark to the point
    station_m, point_m: (stations, 2), (points, 2) where known beforehand, NaN elsewhere
    """

    station: IntArray
    point: IntArray
    step_m: FloatArray
    station_m: FloatArray
    point_m: FloatArray


@dataclass(frozen=True, eq=False)
class Tied:
    """The net, adjusted.

    reached: (stations,) whether the station hangs together with a known place
    point_m: (points, 2); NaN where a point was not reached
    closing_m: how far the worst redundant shot misses the place that the shots before it, in the
        order of the file, gave its point; None where no shot is redundant
    closing_shot: that shot
    residual_m: what is left of that at most at any shot once it is spread over all
    """

    reached: BoolArray
    point_m: FloatArray
    closing_m: float | None
    closing_shot: int
    residual_m: float


def tied(net: Net) -> Tied:
    """Least-squares places of all points, and the closing error."""
    station, point, carried = net.station_m.copy(), net.point_m.copy(), []
    waiting = list(range(len(net.step_m)))
    while waiting:
        left = []
        for shot in waiting:
            s, p = net.station[shot], net.point[shot]
            if np.isnan(station[s, 0]) and np.isnan(point[p, 0]):
                left.append(shot)
            elif np.isnan(station[s, 0]):
                station[s] = point[p] - net.step_m[shot]
            elif np.isnan(point[p, 0]):
                point[p] = station[s] + net.step_m[shot]
            else:
                carried.append(shot)
        if len(left) == len(waiting):
            break
        waiting = left
    reached = ~np.isnan(station[:, 0])
    if not carried:
        return Tied(reached, point, None, -1, 0.0)
    miss = station[net.station[carried]] + net.step_m[carried] - point[net.point[carried]]
    gap = np.hypot(*miss.T)
    worst = int(np.argmax(gap))
    point, residual = _adjusted(net, station, point, reached)
    return Tied(reached, point, float(gap[worst]), carried[worst], residual)


def _adjusted(
    net: Net, station_m: FloatArray, point_m: FloatArray, reached: BoolArray
) -> tuple[FloatArray, float]:
    """Least squares about the carried places; points shot once follow their station."""
    stations, points = len(station_m), len(point_m)
    free_station = np.isnan(net.station_m[:, 0]) & reached
    free_point = np.isnan(net.point_m[:, 0]) & ~np.isnan(point_m[:, 0])
    once = np.bincount(net.point, minlength=points) == 1
    used = np.flatnonzero(reached[net.station] & ~(once & free_point)[net.point])
    column = np.full(stations + points, -1)
    unknown = np.flatnonzero(np.concatenate([free_station, free_point & ~once]))
    column[unknown] = np.arange(len(unknown))
    matrix = np.zeros((len(used), len(unknown)))
    for nodes, sign in ((net.station, -1.0), (net.point + stations, 1.0)):
        at = column[nodes[used]]
        matrix[np.flatnonzero(at >= 0), at[at >= 0]] = sign
    miss = net.step_m[used] - (point_m[net.point[used]] - station_m[net.station[used]])
    moved = np.linalg.lstsq(matrix, miss, rcond=None)[0]
    change = np.zeros((stations + points, 2))
    change[unknown] = moved
    residual = np.hypot(*(miss - matrix @ moved).T).max(initial=0.0)
    point = point_m + change[stations:]
    for shot in np.flatnonzero((once & free_point)[net.point] & reached[net.station]):
        point[net.point[shot]] += change[net.station[shot]]
    return point, float(residual)


# Laser shots: rows of a survey table to points, stations tied, and how well they close.

CLOSING_LIMIT_MM = 50.0
"""Common practice, no source: a survey of a house that closes worse is shot again."""
SHOT_COLUMNS = (
    "station", "station_x", "station_z", "instrument_height", "point", "line", "distance",
    "inclination", "facing", "target_height", "note",
)  # fmt: skip
_FACING = {"": 1.0, "audience": 1.0, "stage": -1.0}
FARTHEST_M = 1e5
_MOST_SHOTS = 2_000


@dataclass(frozen=True)
class SurveyNote:
    """Something a person should know about a survey; becomes a caution of the answer.

    value, limit: in unit; limit is None where nothing is compared
    """

    code: str
    severity: Literal["caution", "note"]
    text: str
    value: float
    unit: str
    limit: float | None = None


def shot_points(table: Table) -> tuple[FloatArray, list[Row], list[SurveyNote]]:
    """Every point of the shots once, in the order of the file, stations tied together."""
    if len(table.rows) > _MOST_SHOTS:
        table.add_fault(None, "", f"{len(table.rows):,} shots; at most {_MOST_SHOTS:,}")
        table.stop_at_faults()
    stations, points = _Marks(table, "station"), _Marks(table, "point")
    steps: list[tuple[float, float]] = []
    places: list[tuple[int, int]] = []
    for row in table.rows:
        s, p = stations.index(row), points.index(row)
        stations.take(row, s, "instrument_height", low=-10.0, high=100.0)
        for heading in ("station_x", "station_z"):
            stations.take(row, s, heading, low=-FARTHEST_M, high=FARTHEST_M)
        distance = table.number(row, "distance", low=0.0, high=1000.0)
        inclination = table.number(row, "inclination", low=-90.0, high=90.0)
        target = (
            table.number(row, "target_height", low=-10.0, high=100.0)
            if row.text("target_height")
            else 0.0
        )
        facing = _FACING.get(row.text("facing").lower())
        if facing is None:
            table.add_fault(row, "facing", f'"{row.text("facing")}"; "audience" or "stage"')
        if None not in (distance, inclination, target, facing):
            angle = np.radians(inclination or 0.0)
            along = (distance or 0.0) * np.cos(angle) * (facing or 1.0)
            steps.append((along, (distance or 0.0) * np.sin(angle) - (target or 0.0)))
            places.append((s, p))
    stations.complete()
    table.stop_at_faults()
    station, point = np.array(places, dtype=np.intp).reshape(-1, 2).T
    height = np.array([known["instrument_height"] for known in stations.known])
    step = np.array(steps).reshape(-1, 2)
    step[:, 1] += height[station]
    datum = [name.lower() == "datum" for name in points.names]
    net = Net(
        station=station,
        point=point,
        step_m=step,
        station_m=np.array(
            [
                (known.get("station_x", np.nan), known.get("station_z", np.nan))
                for known in stations.known
            ]
        ).reshape(-1, 2),
        point_m=np.where(np.array(datum)[:, np.newaxis], 0.0, np.full((len(datum), 2), np.nan)),
    )
    if not np.isfinite(net.station_m).any() and not any(datum):
        table.add_fault(
            table.rows[0] if table.rows else None,
            "station",
            'nothing says where the datum is; station_x and station_z, or a point "datum"',
        )
        table.stop_at_faults()
    result = tied(net)
    for index in np.flatnonzero(~result.reached):
        table.add_fault(
            stations.first[index],
            "station",
            f'"{stations.names[index]}" shares no point with the stations that are tied; one or '
            "more common points, or station_x and station_z",
        )
    table.stop_at_faults()
    notes = [_closing_note(table, result.closing_m, result.closing_shot, result.residual_m)]
    keep = [k for k, row in enumerate(points.line) if row.text("line") or not datum[k]]
    return result.point_m[keep], [points.line[index] for index in keep], notes


def _closing_note(
    table: Table, closing_m: float | None, shot: int, residual_m: float
) -> SurveyNote:
    if closing_m is None:
        text = (
            f"{table.display}: nothing checks this survey, since no shot repeats another; shoot a "
            "point twice, or from two stations that are tied already"
        )
        return SurveyNote("survey-unchecked", "note", text, 0.0, "shots")
    row, closing = table.rows[shot], closing_m * 1e3
    over = closing > CLOSING_LIMIT_MM
    text = (
        f"{table.display}: the survey closes within {closing:.0f} mm (at {row.text('point')} from "
        f"station {row.text('station')}, line {row.line}); spread over all shots, at most "
        f"{residual_m * 1e3:.0f} mm is left at any"
    )
    if over:
        text += f"; more than {CLOSING_LIMIT_MM:.0f} mm (common practice): shoot it again"
    return SurveyNote(
        "survey-closing", "caution" if over else "note", text, closing, "mm", CLOSING_LIMIT_MM
    )


class _Marks:
    """Stations or points by name as the rows bring them, with what is known of each.

    first: the row that names it first; line: the row that names its floor line
    """

    def __init__(self, table: Table, heading: str) -> None:
        self.table, self.heading = table, heading
        self.number: dict[str, int] = {}
        self.names: list[str] = []
        self.first: list[Row] = []
        self.line: list[Row] = []
        self.known: list[dict[str, float]] = []

    def index(self, row: Row) -> int:
        """Its number, new at its first row; a blank name is a fault."""
        name = row.text(self.heading)
        if not name:
            self.table.add_fault(row, self.heading, "is blank; a name")
        index = self.number.setdefault(name, len(self.number))
        if index == len(self.names):
            self.names.append(name)
            self.first.append(row)
            self.line.append(row)
            self.known.append({})
        line, before = row.text("line"), self.line[index].text("line")
        if self.heading == "point" and line and line != before:
            if before:
                self.table.add_fault(row, "line", f'"{line}"; "{before}", as at its first shot')
            self.line[index] = row
        return index

    def take(self, row: Row, index: int, heading: str, *, low: float, high: float) -> None:
        """A value that is given once and blank, or the same, elsewhere."""
        if not row.text(heading):
            return
        value = self.table.number(row, heading, low=low, high=high)
        before = self.known[index].setdefault(heading, value if value is not None else 0.0)
        if value is not None and abs(value - before) > 1e-9:
            self.table.add_fault(row, heading, f"{value:.6g} m; {before:.6g} m, as given before")

    def complete(self) -> None:
        """Each station has its height, and both of its coordinates or none."""
        for row, known in zip(self.first, self.known, strict=True):
            if "instrument_height" not in known:
                self.table.add_fault(row, "instrument_height", "is blank; a height, once a station")
            for given, other in (("station_x", "station_z"), ("station_z", "station_x")):
                if given in known and other not in known:
                    self.table.add_fault(row, other, f"is blank; both, or neither with {given}")


# Surveys: a floor line from a list of points, or from laser shots in an empty house.
#
# A survey is a CSV file (UTF-8; cells parted by commas, semicolons or tabs; decimal points; lines
# that start with "#" and empty lines are passed over) with a header.  A heading may carry its unit:
# x_m, x_ft, x_mm, x_cm, x_in or "x (ft)"; one without takes the unit that the caller gives.
#
# **Points**, from the first row to the last:
#
#     x_m,z_m[,line]
#     4.00,0.00
#     9.50,0.62
#
# **Laser shots**, in any order of stations, each line's points from the first row to the last:
#
#     station,station_x_m,station_z_m,instrument_height_m,point,line,distance_m,inclination_deg
#     A,      0.00,       0.00,       1.520,              row A,stalls,4.281,-20.79
#     A,      ,           ,           ,                   row F,stalls,9.512,-5.41
#     B,      ,           ,           1.480,              row F,stalls,3.120,-8.02
#
# - station: where the laser stood.  station_x, station_z: its mark on the floor, where known; given
#   once, blank elsewhere.  A station without them is tied to the others by the points they share.
# - instrument_height: of the laser above that mark; given once for each station.
# - point: a name, the same from every station.  The point called "datum" is the origin (0, 0); it
#   makes station_x and station_z unnecessary.
# - line: the floor line that the point belongs to; blank for a point that only ties stations.
#   Without this column every point but the datum belongs to the one line.
# - distance: along the ray.  inclination: of the ray, positive up, −90 to 90.
# - facing (optional column): "audience" (default) or "stage", for shots back towards the stage.
# - target_height (optional column): of the target above the point; default 0.

LEAN_M = 0.02
"""A riser may lean back by this much through the doubt of measuring, and is set upright."""
_POINT_COLUMNS = ("x", "z", "line", "point", "name", "note")


@dataclass(frozen=True, eq=False)
class SurveyFloor:
    """A floor line that was measured on the spot.

    points_m: (n, 2) x, z; x never decreases
    """

    points_m: FloatArray
    notes: tuple[SurveyNote, ...] = ()


def floor_from_survey(
    path: Path, *, unit: str = "m", display: str | None = None, line: str | None = None
) -> SurveyFloor:
    """One floor line of a survey file.

    unit: m, cm, mm, ft or in, for headings that name none
    display: the file's name in faults and notes; default the path
    line: which line, where the file holds several

    Raises ScenarioError with every fault of the file (key: the column).
    """
    name = display or str(path)
    known = tuple(dict.fromkeys((*_POINT_COLUMNS, *SHOT_COLUMNS)))
    table = read_table(path, unit=unit, display=name, known=known)
    table.stop_at_faults()
    shots = "distance" in table.units
    needed = ("station", "instrument_height", "point", "distance", "inclination")
    for heading in needed if shots else ("x", "z"):
        if heading not in table.units:
            what = f"{', '.join(needed)} for laser shots, or x, z for points"
            table.add_fault(None, heading, f"no such column; {what}")
    for heading in table.units:
        allowed = SHOT_COLUMNS if shots else _POINT_COLUMNS
        if heading not in allowed:
            what = f"does not belong in {'shots' if shots else 'points'}; {', '.join(allowed)}"
            table.add_fault(None, heading, what)
    table.stop_at_faults()
    if shots:
        points, rows, notes = shot_points(table)
    else:
        points, rows, notes = _listed_points(table)
    return _line_of(table, points, rows, line, notes)


def _listed_points(table: Table) -> tuple[FloatArray, list[Row], list[SurveyNote]]:
    points = [
        [table.number(row, heading, low=-FARTHEST_M, high=FARTHEST_M) for heading in ("x", "z")]
        for row in table.rows
    ]
    table.stop_at_faults()
    return np.array(points, dtype=np.float64).reshape(-1, 2), list(table.rows), []


def _line_of(
    table: Table,
    points_m: FloatArray,
    rows: list[Row],
    line: str | None,
    notes: list[SurveyNote],
) -> SurveyFloor:
    """The one line that is asked for, from its first row to its last."""
    names = list(dict.fromkeys(row.text("line") for row in rows))
    lines = [name for name in names if name]
    there = ", ".join(f'"{name}"' for name in lines)
    if line is not None and line not in lines:
        table.add_fault(None, "line", f'no line "{line}"; {there or "the file names no lines"}')
    elif line is None and len(lines) > 1:
        table.add_fault(None, "line", f"holds {len(lines)} lines; say which, of {there}")
    table.stop_at_faults()
    wanted = line if line is not None else (lines[0] if lines else "")
    mine = np.flatnonzero([row.text("line") == wanted for row in rows])
    if len(mine) < 2:
        table.add_fault(None, "line", f"holds {len(mine)} points; two or more")
        table.stop_at_faults()
    floor = points_m[mine]
    across, up = np.ptp(floor, axis=0)
    doubt = size_doubt(
        float(across), float(up), unit=table.units.get("x", table.units.get("distance", "m"))
    )
    if doubt:
        table.add_fault(None, "line", doubt)
        table.stop_at_faults()
    try:
        floor, leaned_m = rising_m(floor, lean_m=LEAN_M)
    except ValueError as error:
        table.add_fault(rows[mine[0]], "line", f"the line {error}")
        table.stop_at_faults()
        raise
    if leaned_m > 1e-9:
        text = f"{table.display}: a riser that leaned back by {leaned_m * 1e3:.0f} mm is upright"
        notes.append(SurveyNote("survey-riser", "note", text, leaned_m * 1e3, "mm", LEAN_M * 1e3))
    return SurveyFloor(points_m=frozen(floor), notes=tuple(notes))

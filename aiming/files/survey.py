"""Surveys: a floor line from a list of points, or from laser shots in an empty house.

A survey is a text table (text_table.py) with a header.  A heading may carry its unit: x_m, x_ft,
x_mm, x_cm, x_in or "x (ft)", or a row of units may; one without takes the unit that the caller
gives.

**Points**, from the first row to the last:

    x_m,z_m[,line]
    4.00,0.00
    9.50,0.62

**Laser shots**, in any order of stations, each line's points from the first row to the last:

    station,station_x_m,station_z_m,instrument_height_m,point,line,distance_m,inclination_deg
    A,      0.00,       0.00,       1.520,              row A,stalls,4.281,-20.79
    A,      ,           ,           ,                   row F,stalls,9.512,-5.41
    B,      ,           ,           1.480,              row F,stalls,3.120,-8.02

- station: where the laser stood.  station_x, station_z: its mark on the floor, where known; given
  once, blank elsewhere.  A station without them is tied to the others by the points they share.
- instrument_height: of the laser above that mark; given once for each station.
- point: a name, the same from every station.  The point called "datum" is the origin (0, 0); it
  makes station_x and station_z unnecessary.
- line: the floor line that the point belongs to; blank for a point that only ties stations.
  Without this column every point but the datum belongs to the one line.
- distance: along the ray.  inclination: of the ray, positive up, −90 to 90.
- facing (optional column): "audience" (default) or "stage", for shots back towards the stage.
- target_height (optional column): of the target above the point; default 0.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import numpy as np

from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..base.errors import found_text
from .floor_line import rising_m, size_doubt
from .text_table import Faults, TextLine, TextTable, check_columns, read_table

METRES_PER_UNIT = {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "ft": 0.3048, "in": 0.0254}
ANGLES = ("inclination",)
"""Headings that hold degrees; all other numbers are lengths."""
_MOST_POINTS = 20_000


@dataclass(frozen=True)
class _Survey:
    """The table of a survey file; faults gather until the whole file has been seen.

    unit: of lengths whose heading names none
    """

    table: TextTable
    unit: str
    faults: Faults = field(repr=False)

    def text(self, row: TextLine, heading: str) -> str:
        return self.table.cell(row, heading)

    def add_fault(self, row: TextLine | None, heading: str, message: str) -> None:
        """Note a fault at a cell, or at the header where row is None."""
        self.faults.add(message, key=heading, at=self.table.place(row, heading))

    def number(self, row: TextLine, heading: str, *, low: float, high: float) -> float | None:
        """The cell in metres or degrees, or None with a fault noted."""
        text = self.text(row, heading)
        value = self.table.number(text.removesuffix("°") if heading in ANGLES else text)
        if value is None:
            self.add_fault(row, heading, self.table.told(text, "a number such as 12.34"))
            return None
        shown = "deg" if heading in ANGLES else "m"
        value *= 1.0 if heading in ANGLES else METRES_PER_UNIT[self.length_unit(heading)]
        if not low <= value <= high:
            self.add_fault(row, heading, f"{value:.6g} {shown}; {low:g} to {high:g} {shown}")
            return None
        return value

    def length_unit(self, heading: str) -> str:
        return self.table.unit(heading) or self.unit


def _read(path: Path, *, unit: str, display: str) -> _Survey:
    """The table, with its headings checked.  Raises ScenarioError."""
    faults = Faults(display)
    if unit not in METRES_PER_UNIT:
        faults.refuse(f"{found_text(unit)}; one of {', '.join(METRES_PER_UNIT)}", key="unit")
    known = {*_POINT_COLUMNS, *SHOT_COLUMNS}
    table = read_table(
        path, file=display, is_header=lambda heads: any(one.name in known for one in heads)
    )
    shots = "distance" in table
    needed = _SHOTS_NEED if shots else ("x", "z")
    allowed = SHOT_COLUMNS if shots else _POINT_COLUMNS
    what = "survey of laser shots" if shots else "survey of points"
    optional = [name for name in allowed if name not in needed]
    check_columns(table, faults, needed=needed, optional=optional, what=what)
    for heading in table.headings:
        fits = ("deg",) if heading.name in ANGLES else METRES_PER_UNIT
        if heading.name in known and heading.unit is not None and heading.unit not in fits:
            text = f"has a unit that does not fit; {' or '.join(fits)}"
            faults.add(text, key=heading.text, at=table.place(None, heading.name))
    most = _MOST_SHOTS if shots else _MOST_POINTS
    if len(table.rows) > most:
        faults.add(f"{len(table.rows):,} rows; at most {most:,}", at=table.place(None, ""))
    faults.stop()
    return _Survey(table, unit, faults)


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
_SHOTS_NEED = ("station", "instrument_height", "point", "distance", "inclination")
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


def _shot_points(survey: _Survey) -> tuple[FloatArray, list[TextLine], list[SurveyNote]]:
    """Every point of the shots once, in the order of the file, stations tied together."""
    stations, points = _Marks(survey, "station"), _Marks(survey, "point")
    steps: list[tuple[float, float]] = []
    places: list[tuple[int, int]] = []
    for row in survey.table.rows:
        s, p = stations.index(row), points.index(row)
        stations.take(row, s, "instrument_height", low=-10.0, high=100.0)
        for heading in ("station_x", "station_z"):
            stations.take(row, s, heading, low=-FARTHEST_M, high=FARTHEST_M)
        distance = survey.number(row, "distance", low=0.0, high=1000.0)
        inclination = survey.number(row, "inclination", low=-90.0, high=90.0)
        target = (
            survey.number(row, "target_height", low=-10.0, high=100.0)
            if survey.text(row, "target_height")
            else 0.0
        )
        facing = _FACING.get(survey.text(row, "facing").lower())
        if facing is None:
            survey.add_fault(
                row, "facing", f'"{survey.text(row, "facing")}"; "audience" or "stage"'
            )
        if None not in (distance, inclination, target, facing):
            angle = np.radians(inclination or 0.0)
            along = (distance or 0.0) * np.cos(angle) * (facing or 1.0)
            steps.append((along, (distance or 0.0) * np.sin(angle) - (target or 0.0)))
            places.append((s, p))
    stations.complete()
    survey.faults.stop()
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
        survey.add_fault(
            survey.table.rows[0] if survey.table.rows else None,
            "station",
            'nothing says where the datum is; station_x and station_z, or a point "datum"',
        )
        survey.faults.stop()
    result = tied(net)
    for index in np.flatnonzero(~result.reached):
        survey.add_fault(
            stations.first[index],
            "station",
            f'"{stations.names[index]}" shares no point with the stations that are tied; one or '
            "more common points, or station_x and station_z",
        )
    survey.faults.stop()
    notes = [_closing_note(survey, result.closing_m, result.closing_shot, result.residual_m)]
    keep = [k for k, row in enumerate(points.line) if survey.text(row, "line") or not datum[k]]
    return result.point_m[keep], [points.line[index] for index in keep], notes


def _closing_note(
    survey: _Survey, closing_m: float | None, shot: int, residual_m: float
) -> SurveyNote:
    if closing_m is None:
        text = (
            f"{survey.table.file}: nothing checks this survey, since no shot repeats another; "
            "shoot a point twice, or from two stations that are tied already"
        )
        return SurveyNote("survey-unchecked", "note", text, 0.0, "shots")
    row, closing = survey.table.rows[shot], closing_m * 1e3
    over = closing > CLOSING_LIMIT_MM
    point, station = survey.text(row, "point"), survey.text(row, "station")
    text = (
        f"{survey.table.file}: the survey closes within {closing:.0f} mm (at {point} from station "
        f"{station}, line {row.number}); spread over all shots, at most {residual_m * 1e3:.0f} mm "
        "is left at any"
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

    def __init__(self, survey: _Survey, heading: str) -> None:
        self.survey, self.heading = survey, heading
        self.number: dict[str, int] = {}
        self.names: list[str] = []
        self.first: list[TextLine] = []
        self.line: list[TextLine] = []
        self.known: list[dict[str, float]] = []

    def index(self, row: TextLine) -> int:
        """Its number, new at its first row; a blank name is a fault."""
        name = self.survey.text(row, self.heading)
        if not name:
            self.survey.add_fault(row, self.heading, "is blank; a name")
        index = self.number.setdefault(name, len(self.number))
        if index == len(self.names):
            self.names.append(name)
            self.first.append(row)
            self.line.append(row)
            self.known.append({})
        line, before = self.survey.text(row, "line"), self.survey.text(self.line[index], "line")
        if self.heading == "point" and line and line != before:
            if before:
                self.survey.add_fault(row, "line", f'"{line}"; "{before}", as at its first shot')
            self.line[index] = row
        return index

    def take(self, row: TextLine, index: int, heading: str, *, low: float, high: float) -> None:
        """A value that is given once and blank, or the same, elsewhere."""
        if not self.survey.text(row, heading):
            return
        value = self.survey.number(row, heading, low=low, high=high)
        before = self.known[index].setdefault(heading, value if value is not None else 0.0)
        if value is not None and abs(value - before) > 1e-9:
            self.survey.add_fault(row, heading, f"{value:.6g} m; {before:.6g} m, as given before")

    def complete(self) -> None:
        """Each station has its height, and both of its coordinates or none."""
        for row, known in zip(self.first, self.known, strict=True):
            if "instrument_height" not in known:
                text = "is blank; a height, once a station"
                self.survey.add_fault(row, "instrument_height", text)
            for given, other in (("station_x", "station_z"), ("station_z", "station_x")):
                if given in known and other not in known:
                    self.survey.add_fault(row, other, f"is blank; both, or neither with {given}")


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
    survey = _read(path, unit=unit, display=display or str(path))
    shots = "distance" in survey.table
    points, rows, notes = _shot_points(survey) if shots else _listed_points(survey)
    return _line_of(survey, points, rows, line, notes)


def _listed_points(survey: _Survey) -> tuple[FloatArray, list[TextLine], list[SurveyNote]]:
    points = [
        [survey.number(row, heading, low=-FARTHEST_M, high=FARTHEST_M) for heading in ("x", "z")]
        for row in survey.table.rows
    ]
    survey.faults.stop()
    return np.array(points, dtype=np.float64).reshape(-1, 2), list(survey.table.rows), []


def _line_of(
    survey: _Survey,
    points_m: FloatArray,
    rows: list[TextLine],
    line: str | None,
    notes: list[SurveyNote],
) -> SurveyFloor:
    """The one line that is asked for, from its first row to its last."""
    names = list(dict.fromkeys(survey.text(row, "line") for row in rows))
    lines = [name for name in names if name]
    there = ", ".join(f'"{name}"' for name in lines)
    if line is not None and line not in lines:
        survey.add_fault(None, "line", f'no line "{line}"; {there or "the file names no lines"}')
    elif line is None and len(lines) > 1:
        survey.add_fault(None, "line", f"holds {len(lines)} lines; say which, of {there}")
    survey.faults.stop()
    wanted = line if line is not None else (lines[0] if lines else "")
    mine = np.flatnonzero([survey.text(row, "line") == wanted for row in rows])
    if len(mine) < 2:
        survey.add_fault(None, "line", f"holds {len(mine)} points; two or more")
        survey.faults.stop()
    floor = points_m[mine]
    across, up = np.ptp(floor, axis=0)
    unit = survey.length_unit("distance" if "distance" in survey.table else "x")
    doubt = size_doubt(float(across), float(up), unit=unit)
    if doubt:
        survey.add_fault(None, "line", doubt)
        survey.faults.stop()
    try:
        floor, leaned_m = rising_m(floor, lean_m=LEAN_M)
    except ValueError as error:
        survey.add_fault(rows[mine[0]], "line", f"the line {error}")
        survey.faults.stop()
        raise
    if leaned_m > 1e-9:
        leaned = f"a riser that leaned back by {leaned_m * 1e3:.0f} mm is upright"
        text = f"{survey.table.file}: {leaned}"
        notes.append(SurveyNote("survey-riser", "note", text, leaned_m * 1e3, "mm", LEAN_M * 1e3))
    return SurveyFloor(points_m=frozen(floor), notes=tuple(notes))

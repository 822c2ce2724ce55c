"""Surveys: a floor line from a list of points, or from laser shots in an empty house.

A survey is a CSV file (UTF-8; cells parted by commas, semicolons or tabs; decimal points; lines
that start with "#" and empty lines are passed over) with a header.  A heading may carry its unit:
x_m, x_ft, x_mm, x_cm, x_in or "x (ft)"; one without takes the unit that the caller gives.

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

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..arrays import FloatArray, frozen
from .floor_line import rising_m, size_doubt
from .survey_shots import FARTHEST_M, SHOT_COLUMNS, SurveyNote, shot_points
from .survey_table import Row, Table, read_table

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

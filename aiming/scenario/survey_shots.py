"""Laser shots: rows of a survey table to points, stations tied, and how well they close."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..arrays import FloatArray
from .survey_net import Net, tied
from .survey_table import Row, Table

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

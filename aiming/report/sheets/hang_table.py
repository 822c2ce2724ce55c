"""Type sizes of a hang sheet's lower half, which shrink together."""

from dataclasses import dataclass

import numpy as np

from ...analysis.hang_geometry import HangSheet
from ...analysis.support_loads import Support
from ...base.units import Unit, length_text
from ...rigging.loads import HangLine, PointLoad
from .sheet_page import POINT_IN, Page, wrapped
from .words import forces_text, lengths_text, masses_text, side_text, small_text

SCALES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55)
"""The lower half is printed as large as it fits; figures shrink less than cautions."""
LINE = 1.28


@dataclass(frozen=True)
class Sizes:
    """Type sizes in points of the lower half."""

    scale: float

    @property
    def figure(self) -> float:
        return 10.5 * (0.4 + 0.6 * self.scale)

    @property
    def text(self) -> float:
        return 9.8 * (0.4 + 0.6 * self.scale)

    @property
    def caution(self) -> float:
        return 8.8 * self.scale

    @property
    def row_in(self) -> float:
        return 1.5 * self.figure * POINT_IN


# What each point of a hang sheet shows: where its line goes, what it bears, what a cell reads.


@dataclass(frozen=True)
class Table:
    """Column heads, and rows of a label and one cell per column; a cell has one or two lines."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def point_table(held: Support, unit: Unit) -> Table | None:
    """The table of one flown loudspeaker; None where its loads are unknown."""
    if held.loads is None or held.rigging is None:
        return None
    columns: list[tuple[str, HangLine | None, PointLoad | None]] = []
    if held.on_bar:
        columns += [(line.name, line, None) for line in held.loads.lines]
        columns += [(f"{point.name} (on the bar)", None, point) for point in held.loads.points]
    else:
        pairs = zip(held.loads.lines, held.loads.points, strict=True)
        columns += [(point.name, line, point) for line, point in pairs]
    # As drawn, the audience to the right: what is further back comes first.
    columns.sort(key=lambda one: np.inf if one[1] is None else one[1].x_m)
    steel = held.rigging.steel_height_m
    up = "hook to steel" if steel is None else f"hook to steel at {lengths_text(steel, unit)[0]}"
    rows = (
        ("hook height", [_both(line.height_m, unit) if line else "" for _, line, _ in columns]),
        ("hook, from the datum", [_side(line, unit) for _, line, _ in columns]),
        ("comes down from the steel", [_steel(line, unit) for _, line, _ in columns]),
        (up, [_length(line, unit) for _, line, _ in columns]),
        ("load at tilt", [_load(line, point, unit) for _, line, point in columns]),
        ("share; of what may be used", [_share(point) for _, _, point in columns]),
        ("cell reads, box level", [_cell(line, unit, level=True) for _, line, _ in columns]),
        ("cell reads, at tilt", [_cell(line, unit, level=False) for _, line, _ in columns]),
    )
    return Table(
        heads=tuple(name for name, _, _ in columns),
        rows=tuple((label, tuple(cells)) for label, cells in rows),
    )


def _both(length_m: float, unit: Unit) -> str:
    return "   ".join(lengths_text(length_m, unit))


def _side(line: HangLine | None, unit: Unit) -> str:
    return "" if line is None else side_text(line.x_m, unit)


def _steel(line: HangLine | None, unit: Unit) -> str:
    if line is None:
        return ""
    if abs(line.lean_deg) < 0.05:
        return "plumb above the hook"
    lean = f"leans {abs(line.lean_deg):.1f}° {'forward' if line.lean_deg > 0.0 else 'back'}"
    return lean if line.steel_x_m is None else f"{side_text(line.steel_x_m, unit)},\n{lean}"


def _length(line: HangLine | None, unit: Unit) -> str:
    if line is None:
        return ""
    return "steel not given" if line.length_m is None else _both(line.length_m, unit)


def _load(line: HangLine | None, point: PointLoad | None, unit: Unit) -> str:
    load = line.reading_n if point is None and line is not None else None
    if point is not None:
        load = point.tension_n
    if load is None:
        return "slack"
    if load < 0.0:
        return f"SLACK: would push\n{masses_text(-load, unit)}"
    return f"{masses_text(load, unit)}\n{forces_text(load, unit)}"


def _share(point: PointLoad | None) -> str:
    if point is None:
        return ""
    used = point.utilisation
    return (
        f"{100 * point.share:.0f} %; {'limit not given' if used is None else f'{100 * used:.0f} %'}"
    ).replace("-", "−")


def _cell(line: HangLine | None, unit: Unit, *, level: bool) -> str:
    if line is None:
        return ""
    reading = line.level_reading_n if level else line.reading_n
    return "slack" if reading is None else masses_text(reading, unit)


# The laser's two marks on a hang sheet, in words.

LASER_AT_IN = 0.75


def laser_lines(page: Page, sheet: HangSheet, unit: Unit, sizes: Sizes) -> list[str]:
    """Where the dot falls at ear height and on the bare floor, wrapped."""
    wide = page.right_in - page.left_in - LASER_AT_IN
    return [line for text in _laser_texts(sheet, unit) for line in wrapped(text, wide, sizes.text)]


def write_laser(page: Page, lines: list[str], y: float, sizes: Sizes) -> None:
    """The lines beside their name, under a rule."""
    page.rule(page.left_in, y + 0.02, page.right_in - page.left_in)
    y += 0.06
    first = y + LINE * sizes.text * POINT_IN
    page.write(page.left_in, first, "LASER", sizes.text, weight="bold")
    for line in lines:
        y += LINE * sizes.text * POINT_IN
        page.write(page.left_in + LASER_AT_IN, y, line, sizes.text)


def _laser_texts(sheet: HangSheet, unit: Unit) -> list[str]:
    marks = sheet.laser
    if marks is None:
        return ["no marks: where a laser sits (laser_at) is not given"]
    ear, row = length_text(marks.ear_height_m, unit), sheet.row_label
    over = " = ".join(lengths_text(marks.above_floor_m, unit))
    first = f"(a) mark in {row}, {side_text(marks.row_x_m, unit)}: {over} above its floor. "
    if marks.ear_m is None:
        first += f"Over the seating the beam is nowhere at ear height ({ear})."
    else:
        past = marks.past_row_m or 0.0
        off = f"{small_text(abs(past), unit)} {'behind' if past > 0.0 else 'in front of'} {row}"
        first += f"At ear height ({ear}) the beam is {side_text(marks.ear_m[0], unit)}, {off}."
    if marks.floor_m is not None:
        second = f"(b) dot on the bare floor: {side_text(marks.floor_m[0], unit)}, floor there at "
        second += length_text(marks.floor_m[1], unit)
        if marks.beyond_seating:
            second += " (taken as level past the seating)"
    elif marks.wall_m is not None:
        second = f"(b) no dot on the floor: it falls on {marks.wall}, "
        second += f"{' = '.join(lengths_text(marks.wall_m[1], unit))} high"
    else:
        second = "(b) it meets no floor"
    return [first, second]

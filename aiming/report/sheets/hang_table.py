"""What each point of a hang sheet shows: where its line goes, what it bears, what a cell reads."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ...base.units import Unit
from ...results.hang_sheet import HangSheet
from ...results.support import Support
from ...rigging.lines import HangLine
from ...rigging.points import PointLoad
from . import words as say
from .sheet_page import POINT_IN, SheetPage, wrapped

SCALES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5, 0.45, 0.4)
"""The lower half is printed as large as it fits; figures shrink less than cautions."""
LINE = 1.28
NARROW = 26
"""Letters that a cell of three columns holds in one line."""


@dataclass(frozen=True)
class Sizes:
    """Type sizes in points of the lower half."""

    scale: float

    @property
    def figure(self) -> float:
        return 10.0 * (0.4 + 0.6 * self.scale)

    @property
    def text(self) -> float:
        return 9.2 * (0.4 + 0.6 * self.scale)

    @property
    def caution(self) -> float:
        return 8.6 * (0.3 + 0.7 * self.scale)

    @property
    def row_in(self) -> float:
        return 1.45 * self.figure * POINT_IN


@dataclass(frozen=True)
class Row:
    """A label and one cell per column; a cell has one or more lines."""

    label: str
    cells: tuple[str, ...]
    bold: bool = False

    @property
    def lines(self) -> int:
        return 1 + max(cell.count("\n") for cell in (self.label, *self.cells))


@dataclass(frozen=True)
class HangTable:
    """Column heads, and rows."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class _Column:
    name: str
    line: HangLine | None
    point: PointLoad | None


def point_table(
    held: Support, unit: Unit, labels: dict[str, str] | None = None
) -> HangTable | None:
    """The table of one flown loudspeaker: of its hooks alone where its loads are unknown.

    labels: what stands for a name that the paper cannot print
    None where not even the hooks are known.
    """
    shown = labels or {}
    if held.loads is None or held.rigging is None:
        return _hook_table(held, unit, shown)
    loads, columns = held.loads, _columns(held, unit, shown)

    def of_lines(label: str, cell: Callable[[HangLine], str], *, bold: bool = False) -> Row:
        """One cell for every column that has a line, empty for the others."""
        lines = (one.line for one in columns)
        return Row(label, tuple("" if one is None else cell(one) for one in lines), bold)

    def of_points(label: str, cell: Callable[[PointLoad], str]) -> Row:
        points = (one.point for one in columns)
        return Row(label, tuple("" if one is None else cell(one) for one in points))

    rows = [
        of_lines("hook height", lambda line: _both(line.height_m, unit), bold=True),
        of_lines("hook, from the datum", lambda line: say.side_text(line.x_m, unit)),
        of_lines("its line", lambda line: _goes(line, unit)),
        of_lines("hook to where it is made fast", lambda line: _length(line, unit)),
        Row("load on the box's point", tuple(_load(one, unit) for one in columns), bold=True),
        of_points("of the weight; of the allowed load", _share),
        of_points("working load limit", lambda point: _limit(point, loads.wll_share, unit)),
        of_lines("ON THE STRUCTURE,\neverything counted", lambda line: _structure(line, unit),
                 bold=True),
        of_lines("weakest part of the line", _weakest),
        of_lines("cell reads, box level", lambda line: _cell(line, unit, level=True), bold=True),
        of_lines("cell reads, at tilt", lambda line: _cell(line, unit, level=False), bold=True),
    ]  # fmt: skip
    kept = [row for row in rows if any(row.cells)]
    if len(columns) > 2:
        kept = [replace(row, cells=tuple(map(_narrow, row.cells))) for row in kept]
    return HangTable(heads=tuple(one.name for one in columns), rows=tuple(kept))


def _narrow(cell: str) -> str:
    """A long cell on two lines where three columns share the page."""
    return cell.replace("; ", "\n") if max(map(len, cell.split("\n"))) > NARROW else cell


def _hook_table(held: Support, unit: Unit, shown: dict[str, str]) -> HangTable | None:
    """Heights and places of the hooks, which need neither mass nor centre of gravity."""
    hooks = sorted(held.hooks, key=lambda one: one.x_m)
    if not hooks:
        return None
    not_checked = "NOT CHECKED"
    return HangTable(
        heads=tuple(shown.get(one.name, one.name) for one in hooks),
        rows=(
            Row("hook height", tuple(_both(one.height_m, unit) for one in hooks), bold=True),
            Row("hook, from the datum", tuple(say.side_text(one.x_m, unit) for one in hooks)),
            Row("loads", (not_checked,) * len(hooks), bold=True),
        ),
    )


def _columns(held: Support, unit: Unit, shown: dict[str, str]) -> list[_Column]:
    """As drawn, the audience to the right: what is further back comes first."""
    assert held.loads is not None
    if held.on_bar:
        lines = [_Column(bar_name(held, unit), line, None) for line in held.loads.lines]
        points = [
            _Column(f"{shown.get(one.name, one.name)} (on the bar)", None, one)
            for one in held.loads.points
        ]
        return [*lines, *points]
    pairs = zip(held.loads.lines, held.loads.points, strict=True)
    columns = [_Column(shown.get(point.name, point.name), line, point) for line, point in pairs]
    return sorted(columns, key=lambda one: np.inf if one.line is None else one.line.x_m)


def bar_name(held: Support, unit: Unit) -> str:
    """ "hole 2 from the rear", "137 mm from the rear end"; where no hole is, that there is none."""
    assert held.loads is not None and held.rigging is not None
    for one in held.loads.settings or ():
        if one.hole_from_rear is not None and abs(one.tilt_deg - held.tilt_deg) <= 0.05:
            return f"hole {one.hole_from_rear} from the rear"
    if held.rigging.bar_u_m is None:
        return "no hole"
    line, tilt = held.loads.lines[0], np.radians(held.tilt_deg)
    ahead, up = line.x_m - held.at_m[0], line.height_m - held.at_m[1]
    u = float(ahead * np.cos(tilt) + up * np.sin(tilt))
    along = say.small_text(abs(u - held.rigging.bar_u_m[0]), unit).split(" (")[0]
    return f"{along} {'from' if u >= held.rigging.bar_u_m[0] else 'behind'} the rear end"


def _both(length_m: float, unit: Unit) -> str:
    return "   ".join(say.lengths_text(length_m, unit))


def _goes(line: HangLine, unit: Unit) -> str:
    """Where a line goes to: plumb, leaning, or pulling back, and where it is made fast."""
    lean, end = abs(line.lean_deg), ""
    if line.steel_z_m is not None:
        end = f"to {say.lengths_text(line.steel_z_m, unit)[0]}"
    if lean < 0.05:
        return f"plumb, {end}" if end else "plumb above the hook"
    if lean > 45.0:
        rises = 90.0 - lean
        way = "above level" if rises >= 0.0 else "below level"
        way = f"pulls {'back' if line.lean_deg < 0.0 else 'forward'}, {abs(rises):.1f}° {way}"
    else:
        way = f"leans {lean:.1f}° {'forward' if line.lean_deg > 0.0 else 'back'}"
    if line.steel_x_m is None:
        return way
    return f"{way},\n{end}, {say.side_text(line.steel_x_m, unit)}"


def _length(line: HangLine, unit: Unit) -> str:
    if line.length_m is None:
        below = line.steel_z_m is not None and line.steel_z_m <= line.height_m
        return "none: the steel is below" if below else "not given"
    spare = ""
    if line.parts and line.spare_m is not None:
        spare = f"\nparts take up {say.small_text(line.parts_m, unit)}"
    return _both(line.length_m, unit) + spare


def _load(one: _Column, unit: Unit) -> str:
    """What the point bears along its line; its vertical and level part where it leans."""
    line = one.line
    load = one.point.tension_n if one.point else None if line is None else line.reading_n
    if load is None:
        return "slack"
    if load < 0.0:
        return f"SLACK: would push\n{say.masses_text(-load, unit)}"
    text = f"{say.masses_text(load, unit)}\n{say.forces_text(load, unit)}"
    if line is not None and line.horizontal_n > 1e-6 * max(load, 1.0):
        up = "down" if line.vertical_n >= 0.0 else "up"
        text += (
            f"\n{abs(line.vertical_n) / 1000.0:.3f} kN {up}, {line.horizontal_n / 1000.0:.3f} kN "
            "level"
        )
    return text


def _share(point: PointLoad) -> str:
    used = point.utilisation
    told = "limit not given" if used is None else f"{100 * used:.0f} %"
    return f"{100 * point.share:.0f} %; {told}".replace("-", "−")


def _limit(point: PointLoad, share: float, unit: Unit) -> str:
    if point.wll_n is None:
        return "not given"
    return f"{say.masses_text(point.wll_n, unit)}; {100 * share:g} % used at most"


def _structure(line: HangLine, unit: Unit) -> str:
    """What the structure bears at this line: everything, times the dynamic factor."""
    up = "down" if line.structure_vertical_n >= 0.0 else "up"
    text = (
        f"{say.masses_text(line.on_structure_n, unit)}\n"
        f"{abs(line.structure_vertical_n) / 1000.0:.3f} kN {up}"
    )
    if line.structure_horizontal_n > 1e-6 * max(line.on_structure_n, 1.0):
        text += f", {line.structure_horizontal_n / 1000.0:.3f} kN level"
    if line.structure_utilisation is not None:
        text += f"; {100 * line.structure_utilisation:.0f} % of its capacity"
    return text


def _weakest(line: HangLine) -> str:
    if not line.parts:
        return ""
    if line.utilisation is None:
        return "no limit given"
    return f"{line.weakest}: {100 * line.utilisation:.0f} % of the allowed load"


def _cell(line: HangLine, unit: Unit, *, level: bool) -> str:
    reading = line.level_reading_n if level else line.reading_n
    accept = line.level_accept_n if level else line.accept_n
    if reading is None:
        return "cannot hang level" if level else "slack"
    text = say.masses_text(reading, unit)
    if accept is not None:
        text += f"\naccept {say.mass_range_text(accept, unit)}"
    if line.stop_over_n is not None:
        text += f"; STOP over {say.most_mass_text(line.stop_over_n, unit)}"
    return text


# The laser's two marks on a hang sheet, in words.

LASER_AT_IN = 0.75


def laser_lines(page: SheetPage, sheet: HangSheet, unit: Unit, sizes: Sizes) -> list[str]:
    """Where the dot falls at ear height and on the bare floor, wrapped."""
    wide = page.across_in - LASER_AT_IN
    return [line for text in _laser_texts(sheet, unit) for line in wrapped(text, wide, sizes.text)]


def write_laser(page: SheetPage, lines: list[str], y: float, sizes: Sizes) -> None:
    """The lines beside their name, under a rule."""
    page.rule(page.left_in, y + 0.02, page.across_in)
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
    ear, row = say.lengths_text(marks.ear_height_m, unit)[0], sheet.row_label
    over = " = ".join(say.lengths_text(abs(marks.above_floor_m), unit))
    if marks.markable:
        first = f"(a) mark in {row}, {say.side_text(marks.row_x_m, unit)}: {over} above its floor. "
        if marks.ear_m is None:
            first += f"Over the seating the beam is nowhere at ear height ({ear})."
        else:
            past = marks.past_row_m or 0.0
            side = "behind" if past > 0.0 else "in front of"
            off = f"{say.small_text(abs(past), unit)} {side} {row}"
            first += (
                f"At ear height ({ear}) the beam is {say.side_text(marks.ear_m[0], unit)}, {off}."
            )
    elif marks.before_row:
        first = f"(a) no mark in {row}: the beam falls on {marks.before_row} before it gets there."
    else:
        side = "above" if marks.above_floor_m >= 0.0 else "below"
        first = f"(a) no mark in {row}: the beam passes {over} {side} its floor."
    if marks.floor_m is not None:
        second = (
            f"(b) dot on the bare floor: {say.side_text(marks.floor_m[0], unit)}, floor there at "
        )
        second += say.lengths_text(marks.floor_m[1], unit)[0]
        if marks.beyond_seating:
            second += " (taken as level past the seating)"
    elif marks.wall_m is not None:
        second = f"(b) no dot on the floor: it falls on {marks.wall}, "
        second += f"{' = '.join(say.lengths_text(marks.wall_m[1], unit))} high"
    else:
        second = "(b) it meets no floor"
    return [first, second]

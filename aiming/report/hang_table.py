"""What each point of a hang sheet shows: where its line goes, what it bears, what a cell reads."""

from dataclasses import dataclass

import numpy as np

from ..answer.held import Held
from ..rigging.loads import PointLoad
from ..rigging.plumb import HangPoint
from ..units import Unit
from .sheet_words import forces_text, lengths_text, masses_text, side_text


@dataclass(frozen=True)
class Table:
    """Column heads, and rows of a label and one cell per column; a cell has one or two lines."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def point_table(held: Held, unit: Unit) -> Table | None:
    """The table of one flown loudspeaker; None where its loads are unknown."""
    if held.loads is None or held.layout is None or held.rigging is None:
        return None
    columns: list[tuple[str, HangPoint | None, PointLoad | None]] = []
    if held.on_bar:
        columns += [(line.name, line, None) for line in held.layout.points]
        columns += [(f"{point.name} (on the bar)", None, point) for point in held.loads.points]
    else:
        pairs = zip(held.layout.points, held.loads.points, strict=True)
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


def _side(line: HangPoint | None, unit: Unit) -> str:
    return "" if line is None else side_text(line.x_m, unit)


def _steel(line: HangPoint | None, unit: Unit) -> str:
    if line is None:
        return ""
    if abs(line.lean_deg) < 0.05:
        return "plumb above the hook"
    lean = f"leans {abs(line.lean_deg):.1f}° {'forward' if line.lean_deg > 0.0 else 'back'}"
    return lean if line.steel_x_m is None else f"{side_text(line.steel_x_m, unit)},\n{lean}"


def _length(line: HangPoint | None, unit: Unit) -> str:
    if line is None:
        return ""
    return "steel not given" if line.length_m is None else _both(line.length_m, unit)


def _load(line: HangPoint | None, point: PointLoad | None, unit: Unit) -> str:
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


def _cell(line: HangPoint | None, unit: Unit, *, level: bool) -> str:
    if line is None:
        return ""
    reading = line.level_reading_n if level else line.reading_n
    return "slack" if reading is None else masses_text(reading, unit)

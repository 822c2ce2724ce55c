"""A sweep in a terminal: what was varied, the best rows, the trade-off fronts."""

import math
from typing import Any

from ...scenario.keys import quoted
from ...sweep.axes import Axis
from ...sweep.figures import TOGETHER, Figure
from ...sweep.table import Table
from ...sweep.tradeoffs import Front, Overview
from .terminal import ON_PAPER, Terminal, hanging

_MOST_ROWS = 10
_LABELS = {
    "spread_db": "spread dB",
    "worst_band_spread_db": "worst band dB",
    "deviation_db": "deviation dB",
    "rows_within_3db_percent": "within 3 dB %",
    "softest_row_level_db": "softest row dB",
    "tonal_change_db": "tone dB",
    "seating_share_percent": "on seating %",
    "tilt_deg": "tilt °",
    "height_m": "height m",
    "trim_m": "trim m",
    "x_m": "x m",
    "gap_db": "gap dB",
}
_DECIMALS = {"percent": 0, "gap_db": 3, "_db": 2, "height_m": 2, "trim_m": 2, "x_m": 2}
UNLIMITED = (
    "Whether each candidate keeps the limits was not asked, so some of these may not. Put feasible "
    "among the figures, and only those that do are ranked."
)
SOFTEST = (
    "Softest row: its design level with gain and eq; 0 dB is 1 m from the loudspeaker on its axis, "
    "unless a sensitivity is given."
)
NO_RIGGING = "Figures of direct sound in one section. This is no rigging design."


def what_if_text(
    table: Table, seen: Overview, *, title: str, solved: bool, terminal: Terminal = ON_PAPER
) -> str:
    """Within the terminal's width; rows of a front that is long are thinned out evenly."""
    lines = [*hanging(_head(table, title, solved=solved), width=terminal.width), ""]
    names = column_labels(table)
    lines += [*hanging(line, width=terminal.width)] if (line := _left_out(seen, table)) else []
    if seen.by is not None and not seen.best:
        lines += ["No candidate keeps the limits.", ""]
    elif seen.by is not None:
        lines += [
            terminal.bold(f"Best by {names[seen.by]}"),
            *_rows(seen.best, table, terminal.width),
            "",
        ]
    for one in seen.fronts:
        if len(one.rows) > 1:
            lines += _front_lines(one, table, terminal)
    if any(one.what == "softest_row_level_db" for one in table.figures):
        lines += hanging(SOFTEST, width=terminal.width)
    if not solved and all(one.what != "feasible" for one in table.figures):
        lines += hanging(UNLIMITED)
    lines.append(NO_RIGGING)
    return "\n".join(terminal.plain(line) if "\x1b" not in line else line for line in lines) + "\n"


def _left_out(seen: Overview, table: Table) -> str:
    """How many candidates are not ranked, and why, with an example each."""
    left = seen.left_out
    if not left.count:
        return ""
    reasons = [f"{one.reason} (such as {_where(one.example, table)})" for one in left.reasons]
    why = f": {'; '.join(reasons)}" if reasons else ""
    return f"{left.count:,} of {len(table):,} candidates are left out{why}."


def _where(row: dict[str, Any], table: Table) -> str:
    keys = [axis.key for axis in table.axes]
    parts = [
        f"{_bare(axis_label(axis, keys), axis.unit)} {cell_text(row[axis.key], axis.key)}"
        f"{'' if axis.unit == '°' else ' '}{axis.unit}".rstrip()
        for axis in table.axes
    ]
    return ", ".join(parts)


def what_if_dict(table: Table, seen: Overview) -> dict[str, Any]:
    """Plain data for JSON; unknown figures are None."""
    return {
        "schema": 1,
        "columns": list(table.columns),
        "candidates": len(table),
        "axes": [{"key": axis.key, "unit": axis.unit, "values": axis.count} for axis in table.axes],
        "by": seen.by,
        "left_out": {
            "count": seen.left_out.count,
            "reasons": [
                {"reason": one.reason, "example": _known(one.example)}
                for one in seen.left_out.reasons
            ],
        },
        "best": [_known(row) for row in seen.best],
        "fronts": [
            {"x": one.x, "y": one.y, "rows": [_known(row) for row in one.rows]}
            for one in seen.fronts
        ],
    }


def column_labels(table: Table) -> dict[str, str]:
    """How each column is headed: the last part of a key as far as that is clear, a figure's name
    with its unit."""
    keys = [axis.key for axis in table.axes]
    labels = {
        axis.key: f"{_bare(axis_label(axis, keys), axis.unit)} {axis.unit}".rstrip()
        for axis in table.axes
    }
    for figure in table.figures:
        label = _LABELS.get(figure.what, figure.what.replace("_", " "))
        if figure.band is not None:
            label = f"{figure.what.removeprefix('spread_db_')} Hz dB"
        prefixed = figure.name != figure.what
        owner = "together" if figure.of == TOGETHER else figure.of
        labels[figure.name] = f"{owner} {label}" if prefixed else label
    return labels


def _bare(label: str, unit: str) -> str:
    """A key's end without the unit that it names: gain_db in dB is a gain."""
    for mark in ("_db", "_ms", "_hz", "_kg", "_percent"):
        if unit and label.endswith(mark):
            return label.removesuffix(mark)
    return label


def axis_label(axis: Axis, keys: list[str]) -> str:
    """The shortest end of a key that no other key has."""
    parts = axis.key.split(".")
    for count in range(1, len(parts) + 1):
        label = ".".join(parts[-count:])
        if sum(key.endswith(label) for key in keys) == 1:
            return label
    return axis.key


def _head(table: Table, title: str, *, solved: bool) -> str:
    keys = [axis.key for axis in table.axes]
    sizes = " × ".join(f"{axis.count:,} {axis_label(axis, keys)}" for axis in table.axes)
    how = "each solved" if solved else "each evaluated"
    return f"{title}: {len(table):,} candidates ({sizes}), {how}"


def _front_lines(one: Front, table: Table, terminal: Terminal) -> list[str]:
    names = column_labels(table)
    rows = _thinned(one.rows)
    some = f", {len(rows)} of {len(one.rows)} rows" if len(rows) < len(one.rows) else ""
    head = f"Trade-off {names[one.y]} against {names[one.x]}: no candidate is better in both{some}"
    first, *rest = hanging(head)
    return [terminal.bold(first), *rest, *_rows(rows, table, terminal.width), ""]


def _thinned(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    if len(rows) <= _MOST_ROWS:
        return rows
    last = len(rows) - 1
    return [rows[round(k * last / (_MOST_ROWS - 1))] for k in range(_MOST_ROWS)]


def _rows(rows: list[dict[str, Any]], table: Table, room: int) -> list[str]:
    """Right-aligned columns, as many as fit; two lines of heading."""
    names = column_labels(table)
    hidden = {
        figure.name
        for figure in table.figures
        if figure.what == "feasible" or _is_varied(figure, table)
    }
    columns: list[list[str]] = []
    width = 0
    for name in table.columns:
        if name in hidden:
            continue
        top, bottom = _two_lines(names[name])
        cells = [top, bottom, *(cell_text(row[name], name) for row in rows)]
        wide = min(max(map(len, cells)), 24) + 2
        if width + wide > room - 1:
            break
        width += wide
        columns.append([cell[: wide - 2].rjust(wide) for cell in cells])
    lines = ["".join(cells).rstrip() for cells in zip(*columns, strict=True)]
    return [line for line in lines[:1] if line.strip()] + lines[1:]


_VARIED = {"height_m": "height", "trim_m": "trim", "x_m": "x", "tilt_deg": "tilt"}


def _is_varied(figure: Figure, table: Table) -> bool:
    """Whether an axis has this figure already, of the same loudspeaker."""
    end = f"{quoted(figure.of)}.placement.{_VARIED.get(figure.what, '')}"
    return any(axis.key == f"speaker.{end}" for axis in table.axes)


def _two_lines(label: str) -> tuple[str, str]:
    words = label.split(" ")
    if len(words) == 1 or len(label) <= 8:
        return "", label
    return " ".join(words[:-1]), words[-1]


def cell_text(value: Any, name: str) -> str:
    """A value as a person reads it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return str(value) or '""'
    if math.isnan(value):
        return "unknown"
    bare = name.rsplit(".", 1)[-1]
    if "_" not in bare and not bare.endswith("db"):
        return f"{value:.6g}".replace("-", "−")
    decimals = next((n for end, n in _DECIMALS.items() if bare.endswith(end)), 1)
    if bare in ("cautions", "stops", "flipped"):
        decimals = 0
    return f"{value + 0.0:.{decimals}f}".replace("-", "−")


def _known(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: None if isinstance(value, float) and not math.isfinite(value) else value
        for name, value in row.items()
    }

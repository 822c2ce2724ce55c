"""The cabinet at its tilt, to scale, with the heights that are set and where the lines go."""

from typing import Any

import numpy as np

from ...base.arrays import FloatArray
from ...base.units import Unit, tilt_text
from ...results.hang_sheet import HangSheet
from ..figures import style as look
from ..figures.section import along
from .sheet_page import TIED, printable, width_in
from .words import lengths_text, paper_metres

SCALES = (2.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0, 200.0)
LABELS_IN = 1.2
"""Paper at the left that the heights are written in."""
AXIS_IN = 1.3
"""Paper at the right for the axis and the tilt."""
LINE_ROOM_IN, AROUND_IN, BELOW_IN = 0.55, 0.12, 0.25
STEEP_DEG = 40.0
"""A line that leans more is drawn short."""
_LINE_STEP_IN = 0.30


def draw_hang(
    ax: Any,
    sheet: HangSheet,
    *,
    width_in: float,
    height_in: float,
    unit: Unit,
    labels: dict[str, str] | None = None,
) -> None:
    """Draw into an Axes of this size on paper.

    labels: what stands for a name that the paper cannot print
    """
    shown = labels or {}
    points = _extent_points(sheet)
    low, high = points.min(axis=0), points.max(axis=0)
    room = np.array([width_in - LABELS_IN - AXIS_IN - 2.0 * AROUND_IN,
                     height_in - LINE_ROOM_IN - BELOW_IN - AROUND_IN])  # fmt: skip
    scale = next(
        (one for one in SCALES if np.all(high - low <= paper_metres(1.0, one) * room)), SCALES[-1]
    )
    per_in = paper_metres(1.0, scale)
    middle = 0.5 * (low[0] + high[0])
    x_from = middle - per_in * (LABELS_IN + 0.5 * (width_in - LABELS_IN - AXIS_IN))
    z_to = high[1] + per_in * (LINE_ROOM_IN + 0.5 * (room[1] - (high[1] - low[1]) / per_in))
    ax.set_xlim(x_from, x_from + per_in * width_in)
    ax.set_ylim(z_to - per_in * height_in, z_to)
    ax.set_axis_off()
    _body(ax, sheet, x_from + per_in * LABELS_IN)
    _lines(ax, sheet, z_to - 0.12 * per_in, per_in, shown)
    _axis(ax, sheet, x_from + per_in * width_in, z_to - per_in * height_in, per_in)
    _heights(ax, sheet, x_from, per_in, unit, shown)
    _mark(ax, sheet, per_in)
    ax.text(
        x_from + per_in * (width_in - 0.03), z_to - per_in * (height_in - 0.05),
        f"scale 1 : {scale:g} as printed full size; audience to the right",
        fontsize=7.5, ha="right", va="bottom",
    )  # fmt: skip


def _extent_points(sheet: HangSheet) -> FloatArray:
    """Everything that is drawn, from the acoustic centre."""
    parts = [np.zeros((1, 2)), *(np.array([hook]) for hook in sheet.hooks_m.values())]
    if sheet.outline_m is not None:
        parts.append(sheet.outline_m)
    else:
        parts.append(np.array([[-0.3, -0.3], [0.1, 0.3]]))
    if sheet.below is not None and sheet.below.outline_m is not None:
        parts.append(sheet.below.outline_m)
    if sheet.laser is not None:
        parts.append(np.array([sheet.laser.at_m]) - np.array(sheet.held.at_m))
    if sheet.centre_m is not None:
        parts.append(np.array([sheet.centre_m]))
    return np.concatenate(parts)


def _body(ax: Any, sheet: HangSheet, left: float) -> None:
    if sheet.outline_m is not None:
        ax.fill(
            *sheet.outline_m.T, facecolor="#dddddd", edgecolor=look.INK, linewidth=2.0, zorder=3
        )
        if sheet.below is not None and sheet.below.outline_m is not None:
            ax.fill(*sheet.below.outline_m.T, facecolor="#f2f2f2", edgecolor=look.INK,
                    linewidth=1.4, zorder=3)  # fmt: skip
        if not sheet.held.flown:
            _wedge(ax, sheet)
            floor = float(sheet.outline_m[:, 1].min())
            ax.plot(
                [left, ax.get_xlim()[1]], [floor, floor], color=look.INK, linewidth=2.5, zorder=2
            )
    ax.plot(0.0, 0.0, marker="o", markersize=8, markerfacecolor="white", color=look.INK, zorder=6)
    ax.plot(0.0, 0.0, marker="+", markersize=14, color=look.INK, markeredgewidth=1.4, zorder=7)
    if sheet.centre_m is not None:  # the usual quartered disc
        disc = {"marker": "o", "color": look.INK, "zorder": 6}
        ax.plot(*sheet.centre_m, markersize=10, fillstyle="none", **disc)
        ax.plot(*sheet.centre_m, markersize=9, fillstyle="left", markerfacecoloralt="white",
                markeredgecolor=look.INK, **disc)  # fmt: skip


def _wedge(ax: Any, sheet: HangSheet) -> None:
    """The wedge under the raised end of a box that stands, hatched."""
    stack, outline = sheet.held.stack, sheet.outline_m
    if stack is None or stack.box is None or not stack.box.raised or outline is None:
        return
    floor = float(outline[:, 1].min())
    low, high = stack.box.rear_x_m, stack.box.front_x_m
    if stack.box.raised == "front":
        low, high = high, low
    top = floor + stack.box.wedge_height_m
    ax.fill([low, low, high], [floor, top, floor], facecolor="white", edgecolor=look.INK,
            hatch="////", linewidth=0.9, zorder=2)  # fmt: skip


def _lines(ax: Any, sheet: HangSheet, top: float, per_in: float, shown: dict[str, str]) -> None:
    """Each line from its hook towards the steel, with its name."""
    if sheet.held.loads is None:
        return
    lines = sheet.held.loads.lines
    for line in lines:
        hook = np.array(sheet.hooks_m[line.name])
        way = np.array([np.sin(np.radians(line.lean_deg)), np.cos(np.radians(line.lean_deg))])
        long = (top - hook[1]) / way[1] if abs(line.lean_deg) < STEEP_DEG else 0.75 * per_in
        end = hook + long * way
        ax.annotate("", xy=tuple(end), xytext=tuple(hook), zorder=4, arrowprops={
            "arrowstyle": "-|>", "color": look.INK, "linewidth": 1.8, "shrinkA": 0, "shrinkB": 0,
        })  # fmt: skip
        ax.plot(*hook, marker="o", markersize=8, color=look.INK, zorder=7)
        others = [sheet.hooks_m[one.name][0] for one in lines if one is not line]
        left = bool(others) and hook[0] < others[0]
        steep = abs(line.lean_deg) >= STEEP_DEG
        aside = np.array([-0.08 if left else 0.08, -0.10])
        if steep:
            aside = np.array([0.0, 0.12 if way[1] >= 0.0 else -0.12])
        name = shown.get(line.name, printable(line.name))
        ax.text(*(end + per_in * aside), name, fontsize=11, weight="bold",
                ha="right" if left and not steep else "left", va="center", zorder=8,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5})  # fmt: skip


def _axis(ax: Any, sheet: HangSheet, right: float, bottom: float, per_in: float) -> None:
    """The axis out of the front, a level line, and the angle between them."""
    reach = right - 0.1 * per_in
    tilt = sheet.held.tilt_deg
    rise = abs(float(np.sin(np.radians(tilt))))
    tip = min(reach, (-bottom - 0.3 * per_in) / rise if rise > 0.0 else reach) * along(tilt)
    ax.annotate("", xy=tuple(tip), xytext=(0.0, 0.0), zorder=5, arrowprops={
        "arrowstyle": "-|>", "color": look.INK, "linewidth": 1.6,
        "linestyle": look.AXIS_DASHES[0], "shrinkA": 0, "shrinkB": 0,
    })  # fmt: skip
    ax.plot([0.0, reach], [0.0, 0.0], color=look.QUIET, linewidth=0.8, linestyle=(0, (2, 2)))
    if abs(tilt) > 1.0:
        turn = np.radians(np.linspace(0.0, tilt, 40))
        arc = 0.72 * float(np.hypot(*tip))
        ax.plot(arc * np.cos(turn), arc * np.sin(turn), color=look.INK, linewidth=1.0, zorder=5)
    below = tilt <= 0.0
    at = (0.08 if below else -0.08) * per_in
    ax.text(reach, at, tilt_text(tilt), fontsize=11, weight="bold",
            ha="right", va="bottom" if below else "top", zorder=8)  # fmt: skip


def _heights(
    ax: Any, sheet: HangSheet, x_from: float, per_in: float, unit: Unit, shown: dict[str, str]
) -> None:
    """Level lines at the heights that are measured, written at the left, never over one another."""
    height = sheet.held.at_m[1]
    named = [
        (shown.get(name, printable(name)), hook[1], hook[0]) for name, hook in sheet.hooks_m.items()
    ]
    named.append(("acoustic centre", 0.0, 0.0))
    if sheet.outline_m is not None:
        whole = [sheet.outline_m]
        if sheet.below is not None and sheet.below.outline_m is not None:
            whole.append(sheet.below.outline_m)
        corners = np.concatenate(whole)
        lowest = corners[int(np.argmin(corners[:, 1]))]
        named.append(("lowest point", float(lowest[1]), float(lowest[0])))
    named.sort(key=lambda one: -one[1])
    at = [z for _, z, _ in named]
    step = _LINE_STEP_IN * per_in
    places = _spread(at, step)
    for (name, z, x), y in zip(named, places, strict=True):
        elbow = x_from + (LABELS_IN + 0.03) * per_in
        ax.plot([elbow - 0.12 * per_in, elbow, x], [y, z, z], color=look.INK, linewidth=0.7,
                zorder=4 if x > elbow else 2)  # fmt: skip
        told = f"{short(name)}\n{lengths_text(height + z, unit)[0]}".replace(TIED, " ")
        ax.text(x_from, y, told, fontsize=8.5, va="center",
                ha="left", linespacing=1.05, zorder=8)  # fmt: skip


def _spread(at: list[float], step: float) -> list[float]:
    """Places in falling order, moved apart to at least a step, about where they were."""
    shown = list(at)
    for _ in range(200):
        moved = False
        for k in range(len(shown) - 1):
            gap = shown[k] - shown[k + 1]
            if gap < step - 1e-9:
                by = 0.5 * (step - gap)
                shown[k] += by
                shown[k + 1] -= by
                moved = True
        if not moved:
            break
    return shown


def _mark(ax: Any, sheet: HangSheet, per_in: float) -> None:
    """The laser on the cabinet and the beginning of its beam."""
    if sheet.laser is None:
        return
    at = np.array(sheet.laser.at_m) - np.array(sheet.held.at_m)
    end = at + 0.55 * per_in * along(sheet.held.tilt_deg)
    ax.plot(
        *np.stack([at, end]).T, color=look.INK, linewidth=0.9, linestyle=(0, (1, 1.5)), zorder=5
    )
    ax.plot(*at, marker="s", markersize=6, color=look.INK, zorder=7)
    ax.text(*(at + 0.06 * per_in), "laser", fontsize=8, va="bottom", ha="left", zorder=8)


def short(name: str) -> str:
    """A name that fits beside the drawing."""
    if width_in(name, 8.5) <= LABELS_IN:
        return name
    while name and width_in(name + "…", 8.5) > LABELS_IN:
        name = name[:-1]
    return name + "…"

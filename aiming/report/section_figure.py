"""The section to scale: who sits where, where the loudspeaker points, how loud it gets."""

from typing import Any

import numpy as np

from ..arrays import BoolArray, FloatArray
from . import drawing_style as look
from .section_company import draw_handovers
from .section_parts import Section, note
from .section_room import draw_room
from .section_speaker import draw_beam, draw_cabinet, draw_dimensions

CONTOURS_DB = (-9.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0)
"""Re the mean over the rows."""


def draw_section(ax: Any, section: Section) -> None:
    """Draw the section into a matplotlib Axes."""
    _frame(ax, section)
    _contours(ax, section)
    _house(ax, section)
    draw_room(ax, section)
    for index, one in enumerate(section.answer.speakers):
        draw_beam(ax, section, one, index)
        draw_cabinet(ax, section, one, index)
    _rows(ax, section)
    draw_handovers(ax, section)
    for index, one in enumerate(section.answer.speakers):
        draw_dimensions(ax, section, one, index)


def _frame(ax: Any, section: Section) -> None:
    extent, per_m = section.extent, section.shown_per_m
    ax.set_xlim(extent.x_from * per_m, extent.x_to * per_m)
    ax.set_ylim(extent.z_from * per_m, extent.z_to * per_m)
    ax.set_aspect("equal", adjustable="box")
    ax.grid(color="#eeeeee", linewidth=0.6)
    ax.set_axisbelow(True)
    unit = section.scenario.units
    ax.set_xlabel(f"from the datum, {unit}", labelpad=1.5)
    ax.set_ylabel(f"over the datum, {unit}")
    ax.plot([0.0], [0.0], marker="+", markersize=11, color=look.INK, zorder=6)
    ax.plot(
        [0.0], [0.0], marker="o", markersize=6, markerfacecolor="none", color=look.INK, zorder=6
    )
    note(ax, (0.0, 0.0), "datum", offset=(0, -11), ha="center", va="top")


def _contours(ax: Any, section: Section) -> None:
    """Lines of equal design level, re the mean over the rows."""
    field, per_m = section.levels, section.shown_per_m
    level = field.design_level_db - section.curves.mean_db
    if not np.isfinite(level).any():
        return
    drawn = [one for one in CONTOURS_DB if np.nanmin(level) < one < np.nanmax(level)]
    lines = ax.contour(
        field.x_m * per_m,
        field.z_m * per_m,
        np.ma.masked_invalid(level),
        levels=drawn,
        colors=look.FAINT,
        linewidths=0.8,
        linestyles="solid",
        zorder=1,
    )
    if section.brief:
        return
    ax.clabel(lines, fmt=_level_text, fontsize=6.5, colors=look.QUIET)


def _level_text(level_db: float) -> str:
    return f"{level_db:+.0f} dB".replace("-", "−") if level_db else "0 dB"


def _house(ax: Any, section: Section) -> None:
    per_m = section.shown_per_m
    for seating in section.scenario.seatings:
        x, z = seating.floor_m.T * per_m
        ax.plot(x, z, color=look.INK, linewidth=1.8, zorder=2)
        ears_x, ears_z = seating.audience_plane_m.T * per_m
        ax.plot(ears_x, ears_z, color=look.QUIET, linewidth=0.6, zorder=2)
        middle = float(0.5 * (x[0] + x[-1]))
        floor = float(np.interp(middle, x, z))
        note(ax, (middle, floor), seating.name, offset=(0, -4), ha="center", va="top")


def _rows(ax: Any, section: Section) -> None:
    rows, per_m = section.answer.rows, section.shown_per_m
    level = section.curves.design_db
    size = float(np.clip(1800.0 / max(len(rows), 1), 9.0, 15.0 if section.brief else 40.0))
    for marker, chosen in marked(level):
        ax.scatter(
            rows.x_m[chosen] * per_m,
            rows.z_m[chosen] * per_m,
            c=level[chosen],
            cmap=look.LEVEL_MAP,
            vmin=-look.LEVEL_SPAN_DB,
            vmax=look.LEVEL_SPAN_DB,
            s=size,
            marker=marker,
            edgecolors=look.INK,
            linewidths=0.5,
            zorder=7,
        )
    seating = rows.seating
    for row in range(0 if section.brief else len(rows)):
        if row in (0, len(rows) - 1) or not seating[row - 1] == seating[row] == seating[row + 1]:
            at = (float(rows.x_m[row]) * per_m, float(rows.z_m[row]) * per_m)
            note(ax, at, rows.name[row], offset=(0, 6), ha="center", va="bottom", size=6.5)
    unknown = ~np.isfinite(level)
    if unknown.any():
        ax.scatter(
            rows.x_m[unknown] * per_m,
            rows.z_m[unknown] * per_m,
            s=size,
            marker="s",
            facecolors="white",
            edgecolors=look.STOP,
            zorder=7,
        )


def marked(level_db: FloatArray) -> tuple[tuple[str, BoolArray], ...]:
    """Marker and (n,) mask of the rows that are louder, within 3 dB of the mean, and softer."""
    with np.errstate(invalid="ignore"):
        return (
            (look.LOUDER, level_db > 3.0),
            (look.WITHIN, np.abs(level_db) <= 3.0),
            (look.SOFTER, level_db < -3.0),
        )

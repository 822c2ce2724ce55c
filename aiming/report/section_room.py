"""The room in the drawn section: surfaces, shadows, watched points, the view to the focus."""

from typing import Any

import numpy as np

from . import drawing_style as look
from .section_parts import Section, note

SHADOW_DASH = (0, (1.5, 1.5))


def draw_room(ax: Any, section: Section) -> None:
    """Everything of the room that is neither floor nor row."""
    _surfaces(ax, section)
    _shadows(ax, section)
    _points(ax, section)
    _focus(ax, section)


def _surfaces(ax: Any, section: Section) -> None:
    """Each one's name, upright beside a wall, level under or over what lies."""
    per_m = section.shown_per_m
    for surface in section.scenario.surfaces:
        x, z = surface.line_m.T * per_m
        ax.plot(x, z, color=look.QUIET, linewidth=2.6, solid_joinstyle="miter", zorder=2)
        if section.brief:
            continue
        # At the middle of its longest piece, where there is most room.
        piece = int(np.argmax(np.hypot(np.diff(x), np.diff(z))))
        at = (0.5 * float(x[piece] + x[piece + 1]), 0.5 * float(z[piece] + z[piece + 1]))
        upright = abs(z[piece + 1] - z[piece]) > abs(x[piece + 1] - x[piece])
        long_m = float(np.hypot(*np.diff(surface.line_m, axis=0).T).sum())
        if long_m < 0.04 * section.extent.width_m:
            upright = False
        note(
            ax,
            at,
            surface.name,
            offset=(-5, 0) if upright else (0, -4),
            ha="center",
            va="bottom" if upright else "top",
            color=look.QUIET,
            size=6.5,
            rotation=90.0 if upright else 0.0,
        )


def _shadows(ax: Any, section: Section) -> None:
    """Where the shadow begins, in the loudspeaker's colour; a ring round the rows behind it."""
    per_m, rows = section.shown_per_m, section.answer.rows
    for index, one in enumerate(section.answer.speakers):
        found, ink = section.shadows[one.name], look.nth(look.SPEAKER_INKS, index)
        for line in found.lines_m:
            ax.plot(*(line * per_m).T, color=ink, linewidth=1.2, linestyle=SHADOW_DASH, zorder=3)
        if found.hidden.any():
            ax.scatter(
                rows.x_m[found.hidden] * per_m,
                rows.z_m[found.hidden] * per_m,
                s=30.0 if section.brief else 75.0,
                marker="s",
                facecolors="none",
                edgecolors=ink,
                linewidths=0.7,
                zorder=6.5,
            )


def _points(ax: Any, section: Section) -> None:
    per_m, extent = section.shown_per_m, section.extent
    for point in section.scenario.points:
        x, z = point.at_m
        if extent.x_from <= x <= extent.x_to and extent.z_from <= z <= extent.z_to:
            ax.plot(x * per_m, z * per_m, "D", color=look.STOP, markersize=5, zorder=8)
            note(
                ax,
                (x * per_m, z * per_m),
                point.name,
                offset=(0, -6),
                ha="center",
                va="top",
                color=look.STOP,
                size=6.5,
            )


def _focus(ax: Any, section: Section) -> None:
    """The focus, and the lines of sight that the cabinets come closest to or take."""
    focus = section.scenario.focus
    if focus is None:
        return
    per_m, rows = section.shown_per_m, section.answer.rows
    at = np.array(focus.at_m)
    ax.plot(*(at * per_m), "P", color=look.INK, markersize=7, zorder=8)
    x, z = (float(of) for of in at * per_m)
    note(ax, (x, z), "focus", offset=(-6, 4), ha="right", va="bottom", size=6.5)
    lost = sorted(
        {
            int(row)
            for one in section.answer.speakers
            if one.room is not None and one.room.hidden_rows is not None
            for row in one.room.hidden_rows
        }
    )
    last = [row for row in range(len(rows)) if _ends_block(rows.seating, row)]
    for row, ink, width in [(row, look.FAINT, 0.8) for row in last] + [
        (row, look.STOP, 0.4) for row in lost
    ]:
        eye = np.array([rows.x_m[row], rows.z_m[row] + focus.eyes_above_ears_m])
        line = np.stack([eye, at]) * per_m
        ax.plot(*line.T, color=ink, linewidth=width, zorder=1.5)


def _ends_block(seating: tuple[str, ...], row: int) -> bool:
    return row + 1 == len(seating) or seating[row + 1] != seating[row]

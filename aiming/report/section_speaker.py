"""One loudspeaker in the drawn section: its cabinet, its beam, its dimensions."""

from typing import Any

import numpy as np

from ..answer.level_map import placement_of
from ..answer.model import SpeakerAnswer
from ..speaker.cabinet import turned_m
from ..units import length_text, tilt_text
from . import drawing_style as look
from .section_company import name_label
from .section_parts import Section, along, note
from .words import throw_m


def draw_beam(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """Axis, coverage edges, setting window, uniform-level line."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    centre = np.array([one.x_m, one.height_m]) * per_m
    far = 3.0 * per_m * (section.extent.width_m + section.extent.height_m)
    if one.window is not None:
        low, high = one.window.tilt_deg
        reach = per_m * (throw_m(one) or 0.5 * section.extent.width_m)
        wedge = [centre, *(centre + reach * along(turn) for turn in np.linspace(low, high, 9))]
        ax.fill(*np.array(wedge).T, facecolor=ink, alpha=0.10, linewidth=0, zorder=2.5)
    end = far if one.aim_point is None else per_m * (throw_m(one) or 0.0)
    tip = centre + end * along(one.tilt_deg)
    dash = look.nth(look.AXIS_DASHES, index)
    ax.plot(*np.stack([centre, tip]).T, color=ink, linewidth=1.3, linestyle=dash, zorder=4)
    if one.aim_point is not None:
        ax.plot(*tip, marker="x", markersize=9, markeredgewidth=2.0, color=ink, zorder=8)
    edges = section.edges[one.name]
    for edge_deg in (edges.above_deg, edges.below_deg):
        if edge_deg is not None:
            line = np.stack([centre, centre + far * along(edge_deg)])
            dash = look.nth(look.EDGE_DASHES, index)
            ax.plot(*line.T, color=ink, linewidth=0.9, linestyle=dash, zorder=3)
    if one.uniform_line is not None and len(one.uniform_line.points_m):
        line = one.uniform_line.points_m * per_m
        ax.plot(*line.T, color=look.UNIFORM, linewidth=1.8, zorder=4)


def draw_cabinet(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """The outline as it hangs, or the usual sign of a loudspeaker where none is known."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    cabinet = section.scenario.speaker(one.name).cabinet
    outline = None if cabinet is None else cabinet.outline_m
    if outline is None:
        size = 0.012 * (section.extent.width_m + section.extent.height_m)
        outline = size * np.array([[0, -1], [-0.6, -0.5], [-0.6, 0.5], [0, 1]])
    place = placement_of(one)
    body = turned_m(outline, tilt_deg=one.tilt_deg, flipped=bool(place.flipped))
    corners = (body + np.array([one.x_m, one.height_m])) * per_m
    ax.fill(*corners.T, facecolor="#d6d6d6", edgecolor=ink, linewidth=1.3, zorder=5)
    ax.plot(one.x_m * per_m, one.height_m * per_m, ".", color=ink, markersize=5, zorder=9)


def draw_dimensions(ax: Any, section: Section, one: SpeakerAnswer, index: int) -> None:
    """Height, throw and tilt at the lines they belong to; several loudspeakers get their name."""
    per_m, ink = section.shown_per_m, look.nth(look.SPEAKER_INKS, index)
    unit = section.scenario.units
    x, z = one.x_m * per_m, one.height_m * per_m
    tilt = tilt_text(one.tilt_deg)
    label = name_label(one, tilt) if section.several else tilt
    note(ax, (x, z), label, offset=(6, 9), ha="left", va="bottom", color=ink, weight="bold")
    throw = throw_m(one)
    if throw is not None and not section.brief:
        middle = np.array([x, z]) + 0.5 * throw * per_m * along(one.tilt_deg)
        note(
            ax,
            (float(middle[0]), float(middle[1])),
            f"throw {length_text(throw, unit)}",
            offset=(0, 0),
            ha="center",
            va="center",
            color=ink,
            rotation=one.tilt_deg if abs(one.tilt_deg) <= 90.0 else 0.0,
        )
    # Heights of loudspeakers that hang close together stand side by side.
    step = 0.022 * (section.extent.width_m + section.extent.height_m)
    beside = sum(abs(other.x_m - one.x_m) < 4 * step for other in section.answer.speakers[:index])
    left = x - step * (1.3 + beside) * per_m
    ax.annotate(
        "",
        xy=(left, z),
        xytext=(left, 0.0),
        arrowprops={
            "arrowstyle": "<->",
            "color": ink,
            "linewidth": 0.8,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        zorder=3,
    )
    ax.plot([left, x], [z, z], color=ink, linewidth=0.5, zorder=3)
    note(
        ax,
        (left, 0.5 * z),
        length_text(one.height_m, unit),
        offset=(0, 0),
        ha="center",
        va="center",
        color=ink,
        rotation=90.0,
    )

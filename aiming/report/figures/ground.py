"""The trial on the ground, afterwards: the traces against the rule, and the coverage angle."""

from textwrap import shorten, wrap
from typing import Any

import numpy as np

from ...base.bands import short_band_label
from ...scenario.scenario import Scenario
from ...site.ground_found import GroundFound
from ...site.ground_trial import LINE_STEPS, GroundTrial
from . import style as look
from .section import note
from .traces import draw_against_first, draw_overlay, limit_alike

WIDTH_IN, HEIGHT_IN = 11.69, 8.27
_LEFT, _RIGHT = 0.62, 0.35


def ground_figures(scenario: Scenario, found: GroundFound) -> dict[str, bytes]:
    """The page as files: "ground.png", "ground.svg", "ground.pdf" and their bytes."""
    return look.files("ground", lambda: ground_figure(scenario, found))


def ground_figure(scenario: Scenario, found: GroundFound) -> Any:
    """The page as a matplotlib Figure; to be called inside style.style()."""
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    headline = wrap(found.headline, 104)
    y = sheet.lines(_LEFT, HEIGHT_IN - 0.34, headline, step=0.22, fontsize=12.0, weight="bold")
    for one in found.verdicts:
        mark = "holds" if one.holds else "DOES NOT HOLD"
        text = shorten(f"{one.text}: {mark}", 170, placeholder=" …")
        sheet.write(_LEFT, y, text, fontsize=8.5, weight="normal" if one.holds else "bold")
        y -= 0.155
    y -= 0.25
    across = WIDTH_IN - _LEFT - _RIGHT
    bottom, middle = 0.55, 0.5 * (y + 0.55)
    wide = 0.33 * across
    layout = sheet.axes(_LEFT, middle + 0.25, wide - 0.2, y - middle - 0.35)
    draw_layout(layout, scenario, found.trial, measured=[one.name for one in found.points])
    line = sheet.axes(_LEFT, bottom, wide - 0.2, middle - bottom - 0.45)
    _draw_line(line, found)
    overlay = sheet.axes(_LEFT + wide + 0.4, middle + 0.25, wide - 0.5, y - middle - 0.35)
    draw_overlay(overlay, found.traces)
    overlay.set_title("Traces as measured, by number (Hz)")
    spread = sheet.axes(_LEFT + wide + 0.4, bottom, wide - 0.5, middle - bottom - 0.45)
    _draw_spread(spread, found)
    _draw_panels(sheet, found, _LEFT + 2.0 * wide + 0.35, y, bottom)
    names = "   ".join(f"{n} {one.name}" for n, one in enumerate(found.points, start=1))
    sheet.write(_LEFT, 0.14, shorten(names, 190, placeholder=" …"), fontsize=7.0)
    return sheet.figure


def draw_layout(
    ax: Any, scenario: Scenario, trial: GroundTrial, *, measured: list[str] | None = None
) -> None:
    """The yard from above: box, axis, edges, line, microphones by number."""
    per_m = look.per_m(scenario.units)
    d = trial.distance_m * per_m
    ax.plot([0.0, 2.15 * d], [0.0, 0.0], color=look.INK, linestyle=look.AXIS_DASHES[0],
            linewidth=1.0, zorder=2)  # fmt: skip
    for edge in (trial.edge_deg, trial.other_edge_deg):
        if edge is not None:
            at = np.radians(edge)
            ax.plot([0.0, 1.2 * d * np.cos(at)], [0.0, 1.2 * d * np.sin(at)], color=look.QUIET,
                    linestyle=look.EDGE_DASHES[0], linewidth=1.0, zorder=2)  # fmt: skip
    if trial.edge_deg is not None:
        ends = np.array([trial.on_line(0.0), trial.on_line(1.0)]) * per_m
        ax.plot(*ends.T, color=look.UNIFORM, linewidth=1.4, linestyle=(0, (4, 2)), zorder=3)
    ax.plot([0.0], [0.0], marker="s", markersize=9, color=look.INK, zorder=5)
    points = trial.points
    if measured is not None:
        found = [trial.point(name) for name in measured]
        points = tuple(one for one in found if one is not None)
    for number, one in enumerate(points, start=1):
        at_m = (one.ahead_m * per_m, one.aside_m * per_m)
        ax.plot(*at_m, marker="o", markersize=6, color=look.INK, zorder=6)
        note(ax, at_m, str(number), offset=(0, 6), ha="center", va="bottom", weight="bold")
    note(ax, (d, 0.0), "d", offset=(0, -5), ha="center", va="top", color=look.QUIET)
    note(ax, (2.0 * d, 0.0), "2d", offset=(0, -5), ha="center", va="top", color=look.QUIET)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.06, 0.12)
    look.grid(ax, "#eeeeee")
    ax.set_title(f"The yard from above, {scenario.units}")


def _draw_line(ax: Any, found: GroundFound) -> None:
    """Design level along the line from the edge to the far axis: computed, and measured."""
    trial = found.trial
    if not len(trial.line_db):
        ax.set_axis_off()
        return
    share = np.linspace(0.0, 1.0, LINE_STEPS)
    ax.fill_between(share, trial.line_db - 1.5, trial.line_db + 1.5, facecolor="#e2e2e2",
                    edgecolor=look.FAINT, linewidth=0.5, zorder=1)  # fmt: skip
    ax.plot(share, trial.line_db, color=look.QUIET, linestyle=(0, (5, 3)), linewidth=1.2, zorder=2)
    on = [
        (one.line_share, position)
        for one, position in zip(found.points, found.positions, strict=True)
        if one.line_share is not None
    ]
    levels = np.array([_design(position.measured_db, trial.design_hz) for _, position in on])
    shares = np.array([0.0 if at is None else at for at, _ in on])
    if len(levels) and np.isfinite(levels).all():
        shift = float(np.mean(np.interp(shares, share, trial.line_db) - levels))
        ax.plot(shares, levels + shift, linestyle="none", marker="o", markersize=7,
                markerfacecolor="white", markeredgecolor=look.INK, zorder=4)  # fmt: skip
    ax.set_xlim(-0.05, 1.05)
    ax.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["edge at d", "0.25", "0.5", "0.75", "axis at 2d"])
    ax.set_ylim(min(-4.0, float(trial.line_db.min()) - 2.5), max(5.0, trial.line_db.max() + 2.5))
    look.grid(ax)
    ax.set_ylabel("against the edge at d, dB", labelpad=1.0)
    ax.set_title("Along the line: computed ±1.5 dB, measured")


def _draw_spread(ax: Any, found: GroundFound) -> None:
    """By band: how far apart the axis and the edge are, and how near all along the line."""
    bands = [band for band, level in found.edge_spread_db.items() if level is not None]
    if not bands:
        ax.set_axis_off()
        return
    place = np.arange(len(bands))
    edge = [found.edge_spread_db[band] for band in bands]
    line = [found.line_spread_db.get(band) or np.nan for band in bands]
    ax.bar(place - 0.2, edge, width=0.38, facecolor="#cfcfcf", edgecolor=look.INK, linewidth=0.7,
           label="axis to edge at d")  # fmt: skip
    ax.bar(place + 0.2, line, width=0.38, facecolor="white", edgecolor=look.INK, linewidth=0.7,
           hatch="////", label="along the line")  # fmt: skip
    ax.set_xticks(place, [short_band_label(one) for one in bands])
    ax.tick_params(axis="x", labelsize=7.0 if len(bands) > 8 else 8.0)
    ax.set_ylabel("loudest minus softest, dB", labelpad=1.0)
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, fontsize=7.0)
    ax.set_title("Apart by band (Hz)", pad=14)


def _draw_panels(
    sheet: look.Sheet, found: GroundFound, left: float, top: float, bottom: float
) -> None:
    """Each position less the first, against what the data would give."""
    others = list(range(1, len(found.points)))[:6]
    if not others:
        return
    tall = (top - bottom) / len(others)
    seen, panels = [], []
    for place, n in enumerate(others):
        ax = sheet.axes(left, top - (place + 1) * tall + 0.15, WIDTH_IN - _RIGHT - left, tall - 0.4)
        seen.append(draw_against_first(ax, found.traces, found.positions, n))
        ax.set_title(f"{n + 1}  {found.points[n].name} less {found.points[0].name}", fontsize=7.5,
                     pad=2)  # fmt: skip
        ax.tick_params(labelsize=7, labelbottom=place == len(others) - 1)
        panels.append(ax)
    limit_alike(panels, seen)


def _design(levels: dict[float, float | None], design_hz: tuple[float, ...]) -> float:
    told = [levels.get(band) for band in design_hz]
    return float(np.mean([np.nan if one is None else one for one in told]))

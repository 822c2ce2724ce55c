"""Measured against predicted by position and band, before and after; where the axis really is."""

from textwrap import shorten, wrap
from typing import Any

import numpy as np

from ...base.bands import band_label
from ...base.units import FOOT_M, tilt_text
from ...scenario.scenario import Scenario
from ...site.model import Found, PositionFound
from ...speaker.cabinet import turned_m
from ...speaker.speaker import Placement
from . import style as look
from .section import along, note

WIDTH_IN, HEIGHT_IN = 11.69, 8.27
"""A4 on its side."""
_LEFT, _RIGHT = 0.62, 0.3
_PANEL_TOP, _PANEL_BOTTOM = 3.0, 0.92
_MOST_PANELS = 6
_LEAST_SPAN_DB = 6.0
PLANNED, HUNG = (0, (5, 3)), "-"


def onsite_figures(
    scenario: Scenario, found: Found, formats: tuple[look.Format, ...] = look.FORMATS
) -> dict[str, bytes]:
    """The sheet as files: "onsite.png", "onsite.svg", "onsite.pdf" and their bytes."""
    with look.style():
        figure = onsite_figure(scenario, found)
        return {f"onsite.{form}": look.figure_bytes(figure, form) for form in formats}


def onsite_figure(scenario: Scenario, found: Found) -> Any:
    """The sheet as a matplotlib Figure; to be called inside drawing_style.style()."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN))
    title = shorten(f"{found.title}: {found.speaker} on site", 90, placeholder=" …")
    _write(figure, _LEFT, HEIGHT_IN - 0.36, title, fontsize=13.0, weight="bold")
    datum = shorten(scenario.datum, 90, placeholder=" …")
    text = f"Section to scale. Heights and distances from the datum: {datum}"
    _write(figure, _LEFT, HEIGHT_IN - 0.58, text, fontsize=8.5, color=look.QUIET)
    panels = bool(found.positions)
    advice = wrap(found.advice, 150)
    bottom = (_PANEL_TOP if panels else 0.4) + 0.62 + 0.15 * len(advice)
    across = WIDTH_IN - _LEFT - _RIGHT
    section = _axes(figure, _LEFT, bottom, across, HEIGHT_IN - 0.75 - bottom)
    _draw_section(section, scenario, found)
    for number, line in enumerate(advice):
        _write(figure, _LEFT, bottom - 0.52 - 0.15 * number, line, fontsize=8.0)
    if panels:
        bands = found.bands_hz[-_MOST_PANELS:]
        wide = (across + 0.25) / len(bands)
        span = _span_db(found)
        for index, band in enumerate(bands):
            place = _LEFT + index * wide
            tall = _PANEL_TOP - _PANEL_BOTTOM - 0.3
            panel = _axes(figure, place, _PANEL_BOTTOM, wide - 0.25, tall)
            _draw_band(panel, found, band, span, first=index == 0)
        _legend(figure, found)
    _write(figure, _LEFT, 0.1, _STANDING, fontsize=6.8, color=look.QUIET)
    return figure


_STANDING = (
    "In the section only; intervals 90 %; every band has its own unknown gain, so only differences "
    "between positions count. This is no rigging design."
)


def _axes(figure: Any, left: float, bottom: float, width: float, height: float) -> Any:
    return figure.add_axes(
        (left / WIDTH_IN, bottom / HEIGHT_IN, width / WIDTH_IN, height / HEIGHT_IN)
    )


def _write(figure: Any, x_in: float, y_in: float, text: str, **options: Any) -> None:
    figure.text(x_in / WIDTH_IN, y_in / HEIGHT_IN, text, **options)


def _draw_section(ax: Any, scenario: Scenario, found: Found) -> None:
    """Floors, microphones, the planned axis, and the axis as it hangs with its interval."""
    per_m = 1.0 if scenario.units == "m" else 1.0 / FOOT_M
    for surface in scenario.surfaces:
        ax.plot(*(surface.line_m.T * per_m), color=look.QUIET, linewidth=2.6, zorder=2)
    for seating in scenario.seatings:
        ax.plot(*(seating.floor_m.T * per_m), color=look.INK, linewidth=1.8, zorder=2)
        ax.plot(*(seating.audience_plane_m.T * per_m), color=look.QUIET, linewidth=0.6, zorder=2)
    reach = per_m * max(float(found.rows.x_m.max() - float(found.plan.x_m)), 1.0)
    _draw_interval(ax, found, per_m, reach)
    _draw_box(ax, scenario, found, found.plan, per_m, reach, PLANNED, look.QUIET)
    if found.hung is not None:
        _draw_box(ax, scenario, found, found.hung, per_m, reach, HUNG, look.INK)
    for number, one in enumerate(found.positions, start=1):
        at = (one.x_m * per_m, one.z_m * per_m)
        ax.plot(*at, marker="o", markersize=5, color=look.INK, zorder=7)
        note(ax, at, str(number), offset=(0, 7), ha="center", va="bottom", weight="bold")
    ax.plot([0.0], [0.0], marker="+", markersize=11, color=look.INK, zorder=6)
    note(ax, (0.0, 0.0), "datum", offset=(0, -9), ha="center", va="top", color=look.QUIET)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.05, 0.08)
    ax.grid(color="#eeeeee", linewidth=0.6)
    ax.set_axisbelow(True)
    ax.set_xlabel(f"from the datum, {scenario.units}", labelpad=1.5)
    ax.set_ylabel(f"over the datum, {scenario.units}")


def _draw_interval(ax: Any, found: Found, per_m: float, reach: float) -> None:
    if found.tilt_error_deg is None or found.hung is None:
        return
    centre = np.array([float(found.hung.x_m), float(found.hung.height_m)]) * per_m
    plan = float(found.plan.tilt_deg)
    low, high = plan + found.tilt_error_deg.low, plan + found.tilt_error_deg.high
    wedge = [centre, *(centre + reach * along(turn) for turn in np.linspace(low, high, 9))]
    ax.fill(*np.array(wedge).T, facecolor="#dddddd", edgecolor=look.QUIET, hatch="////",
            linewidth=0.5, zorder=1)  # fmt: skip


def _draw_box(
    ax: Any,
    scenario: Scenario,
    found: Found,
    placement: Placement,
    per_m: float,
    reach: float,
    dash: Any,
    ink: str,
) -> None:
    x, z, tilt = (
        float(placement.x_m),
        float(placement.height_m),
        float(placement.tilt_deg),
    )
    centre = np.array([x, z]) * per_m
    ends = np.stack([centre, centre + reach * along(tilt)])
    ax.plot(*ends.T, color=ink, linewidth=1.4, linestyle=dash, zorder=4)
    cabinet = scenario.speaker(found.speaker).cabinet
    if cabinet is not None and cabinet.outline_m is not None:
        body = turned_m(cabinet.outline_m, tilt_deg=tilt, flipped=bool(placement.flipped))
        corners = (body + np.array([x, z])) * per_m
        ax.fill(
            *corners.T, facecolor="none", edgecolor=ink, linewidth=1.1, linestyle=dash, zorder=5
        )
    ax.plot(*centre, marker=".", color=ink, zorder=6)
    planned = dash is PLANNED
    word = "planned" if planned else "found"
    tip = ends[1]
    note(
        ax,
        (float(tip[0]), float(tip[1])),
        f"{word}, {tilt_text(tilt)}",
        offset=(3, 5 if not planned else -5),
        ha="left",
        va="bottom" if not planned else "top",
        color=ink,
        weight="normal" if planned else "bold",
    )


def _draw_band(ax: Any, found: Found, band: float, span: float, *, first: bool) -> None:
    """One band over the positions, about its own mean; error bars of one standard deviation."""
    place = np.arange(1, len(found.positions) + 1)
    measured = _column(found.positions, "measured_db", band)
    centre = float(np.nanmean(measured)) if np.isfinite(measured).any() else 0.0
    doubt = float(np.hypot(found.site_db, found.band_db))
    ax.errorbar(
        place,
        measured - centre,
        yerr=doubt,
        fmt="o",
        markersize=4.5,
        color=look.INK,
        elinewidth=0.8,
        capsize=2,
        zorder=4,
    )
    for name, dash, ink, marker in (
        ("predicted_db", PLANNED, look.QUIET, "s"),
        ("found_db", HUNG, look.INK, "D"),
    ):
        ax.plot(
            place,
            _column(found.positions, name, band) - centre,
            linestyle=dash,
            color=ink,
            linewidth=1.1,
            marker=marker,
            markersize=4.5,
            markerfacecolor="white",
            zorder=3,
        )
    ax.set_title(band_label(band), fontsize=8.5, loc="left", pad=3)
    ax.set_ylim(-span, span)
    ax.set_xlim(0.4, len(place) + 0.6)
    ax.set_xticks(place)
    ax.set_xlabel("position", labelpad=1.0)
    ax.grid(axis="y", color="#e4e4e4", linewidth=0.6)
    ax.set_axisbelow(True)
    if first:
        ax.set_ylabel("re the band's mean, dB")
    else:
        ax.tick_params(labelleft=False)


def _column(positions: tuple[PositionFound, ...], name: str, band: float) -> np.ndarray[Any, Any]:
    levels = [getattr(one, name)[band] for one in positions]
    return np.array([np.nan if one is None else one for one in levels], dtype=np.float64)


def _span_db(found: Found) -> float:
    """Half of the level axis, alike in every panel."""
    widest = _LEAST_SPAN_DB
    for band in found.bands_hz:
        measured = _column(found.positions, "measured_db", band)
        if np.isfinite(measured).any():
            for name in ("measured_db", "predicted_db", "found_db"):
                away = _column(found.positions, name, band) - np.nanmean(measured)
                widest = max(widest, float(np.nanmax(np.abs(away))) + 1.5)
    return widest


def _legend(figure: Any, found: Found) -> None:
    from matplotlib.lines import Line2D

    line: Any = Line2D
    marks = [
        line([], [], color=look.INK, marker="o", linestyle="none", label="measured, ±1 s.d."),
        line([], [], color=look.QUIET, linestyle=PLANNED, marker="s", markerfacecolor="white",
             label="as planned (before)"),
        line([], [], color=look.INK, linestyle=HUNG, marker="D", markerfacecolor="white",
             label="what fits the levels (after)"),
    ]  # fmt: skip
    figure.legend(
        handles=marks,
        loc="lower left",
        bbox_to_anchor=(_LEFT / WIDTH_IN, (_PANEL_TOP - 0.12) / HEIGHT_IN),
        ncols=3,
        fontsize=7.5,
        frameon=False,
        borderaxespad=0.0,
    )
    names = "   ".join(f"{n} {one.name}" for n, one in enumerate(found.positions, start=1))
    for number, text in enumerate(wrap(names, 180)[:2]):
        _write(figure, _LEFT, 0.42 - 0.13 * number, text, fontsize=7.0)

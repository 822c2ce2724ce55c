"""What was measured on site against what was expected, on one page.

The instruction; the section with the axis as planned and as found; what every row hears, in the
order
of rows, with its interval, and after a move; the traces one over another, and each less the first
against what was expected of it.
"""

from textwrap import shorten, wrap
from typing import Any

import numpy as np

from ...base.arrays import FloatArray
from ...base.units import tilt_text
from ...scenario.scenario import Scenario
from ...site.model import Found, RowFound
from ...speaker.cabinet import turned_m
from ...speaker.speaker import Placement
from . import style as look
from .section import along, note
from .traces import draw_against_first, draw_overlay, limit_alike

WIDTH_IN, HEIGHT_IN = 11.69, 8.27
"""A4 on its side."""
_LEFT, _RIGHT = 0.62, 0.35
_MOST_PANELS = 8
PLANNED, HUNG = (0, (5, 3)), "-"


def onsite_figures(
    scenario: Scenario,
    found: Found,
    formats: tuple[look.Format, ...] = look.FORMATS,
    *,
    smooth_octaves: float | None = None,
) -> dict[str, bytes]:
    """The page as files: "onsite.png", "onsite.svg", "onsite.pdf" and their bytes."""
    return look.files(
        "onsite", lambda: onsite_figure(scenario, found, smooth_octaves=smooth_octaves), formats
    )


def onsite_figure(scenario: Scenario, found: Found, *, smooth_octaves: float | None = None) -> Any:
    """The page as a matplotlib Figure; to be called inside style.style().

    smooth_octaves: traces are smoothed over this much; None shows them as measured
    """
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    y = _head(sheet, scenario, found)
    across = WIDTH_IN - _LEFT - _RIGHT
    measured = bool(found.positions)
    tall = 2.55 if measured else y - 1.0
    wide = 0.5 * across
    section = sheet.axes(_LEFT, y - tall, wide - 0.3, tall - 0.28)
    _draw_section(section, scenario, found)
    rows = sheet.axes(_LEFT + wide + 0.4, y - tall, wide - 0.4, tall - 0.28)
    _draw_rows(rows, scenario, found)
    if measured:
        traces = found.traces
        if smooth_octaves is not None:
            traces = tuple(trace.smoothed(smooth_octaves) for trace in traces)
        top = y - tall - 0.75
        _draw_traces(sheet, found, traces, top)
    sheet.write(_LEFT, 0.1, _STANDING, fontsize=7.0, color=look.QUIET)
    return sheet.figure


_STANDING = (
    "In the section only; intervals 90 %; every band has its own unknown gain, so only differences "
    "between positions count. This is no rigging design."
)


def _head(sheet: look.Sheet, scenario: Scenario, found: Found) -> float:
    """Instruction, outcome, reasons; gives the height in inches where the drawings begin."""
    ink = look.STOP if found.stopped else look.INK
    y = sheet.lines(_LEFT, HEIGHT_IN - 0.34, wrap(found.headline, 104), step=0.22,
                    fontsize=12.0, weight="bold", color=ink)  # fmt: skip
    y = sheet.lines(_LEFT, y, wrap(f"{found.outcome}.", 150), step=0.16, fontsize=9.0)
    told = [line for one in found.reasons for line in wrap(f"{one.rstrip('.')}.", 170)]
    y = sheet.lines(_LEFT, y, told[:5], step=0.14, fontsize=7.8, color=look.QUIET)
    title = shorten(f"{found.title}: {found.speaker} on site", 90, placeholder=" …")
    datum = shorten(scenario.datum, 70, placeholder=" …")
    sheet.write(_LEFT, y - 0.04, f"{title}. Heights and distances from the datum: {datum}",
                fontsize=7.5, color=look.QUIET)  # fmt: skip
    return y - 0.22


def _draw_section(ax: Any, scenario: Scenario, found: Found) -> None:
    """Floors, microphones, the planned axis, and the axis as it hangs with its interval."""
    per_m = look.per_m(scenario.units)
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
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, fontsize=7.5,
              handlelength=2.8)  # fmt: skip
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.05, 0.08)
    look.grid(ax, "#eeeeee")
    ax.set_xlabel(f"from the datum, {scenario.units}", labelpad=1.5)
    ax.set_ylabel(f"above the datum, {scenario.units}")


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
    x, z, tilt = placement.x_m, placement.height_m, placement.tilt_deg
    centre = np.array([x, z]) * per_m
    ends = np.stack([centre, centre + reach * along(tilt)])
    ax.plot(*ends.T, color=ink, linewidth=1.4, linestyle=dash, zorder=4)
    cabinet = scenario.speaker(found.speaker).cabinet
    if cabinet is not None and cabinet.outline_m is not None:
        body = turned_m(cabinet.outline_m, tilt_deg=tilt, flipped=placement.flipped)
        corners = (body + np.array([x, z])) * per_m
        ax.fill(
            *corners.T, facecolor="none", edgecolor=ink, linewidth=1.1, linestyle=dash, zorder=5
        )
    ax.plot(*centre, marker=".", color=ink, zorder=6)
    planned = dash is PLANNED
    word = "planned" if planned else "found"
    ax.plot([], [], color=ink, linewidth=1.4, linestyle=dash, label=f"{word}, {tilt_text(tilt)}")


def _draw_rows(ax: Any, scenario: Scenario, found: Found) -> None:
    """Design level of every row about the mean of all, seating by seating in the order of rows."""
    per_m = look.per_m(scenario.units)
    rows = found.rows_found
    x = np.array([one.x_m for one in rows]) * per_m
    planned = _numbers([one.planned_db for one in rows])
    now = _numbers([_value_db(one) for one in rows])
    low = _numbers([None if one.now_db is None else one.now_db.low for one in rows])
    high = _numbers([None if one.now_db is None else one.now_db.high for one in rows])
    after = _numbers([one.after_db for one in rows])
    seating = found.rows.seating
    for part in np.unique(seating):
        of = np.flatnonzero(seating == part)
        first = part == np.unique(seating)[0]
        label = (lambda text: text) if first else (lambda text: "_")
        ax.fill_between(x[of], low[of], high[of], facecolor="#dddddd", edgecolor=look.FAINT,
                        linewidth=0.5, zorder=1, label=label("now, 90 %"))  # fmt: skip
        ax.plot(x[of], planned[of], color=look.QUIET, linestyle=PLANNED, linewidth=1.2, zorder=3,
                label=label("planned"))  # fmt: skip
        ax.plot(x[of], now[of], color=look.INK, linewidth=1.5, marker=".", markersize=4, zorder=4,
                label=label("now"))  # fmt: skip
        if np.isfinite(after).any():
            ax.plot(x[of], after[of], color=look.UNIFORM, linestyle=(0, (1.5, 1.5)), linewidth=1.8,
                    zorder=5, label=label("after the move"))  # fmt: skip
        if found.before is not None:
            was = _numbers([_value_db(one) for one in found.before.rows_found])
            ax.plot(x[of], was[of], color=look.INK, linestyle=(0, (6, 2, 1, 2)), linewidth=1.0,
                    zorder=3, label=label("the set before"))  # fmt: skip
    _draw_measured(ax, found, per_m, x, now)
    ax.axhspan(-3.0, 3.0, facecolor=look.WITHIN_FILL, zorder=0)
    look.grid(ax, axis="y")
    ax.set_xlabel(f"row, by its distance from the datum, {scenario.units}", labelpad=1.5)
    ax.set_ylabel("against the mean of rows, dB", labelpad=1.0)
    ax.set_title("What each row hears: direct sound, mean of the design bands", pad=14)
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=5, fontsize=7.0,
              handlelength=2.4, columnspacing=1.2)  # fmt: skip


def _draw_measured(ax: Any, found: Found, per_m: float, x: FloatArray, now: FloatArray) -> None:
    """The microphones' own mean over the bands, shifted to lie about what the rows are found at."""
    places, off = [], []
    for one in found.positions:
        left = [
            measured - fitted
            for measured, fitted in zip(
                one.measured_db.values(), one.found_db.values(), strict=True
            )
            if measured is not None and fitted is not None
        ]
        if left:
            places.append(one.x_m * per_m)
            off.append(float(np.mean(left)))
    if not places or not np.isfinite(now).all():
        return
    order = np.argsort(x, kind="stable")
    at = np.interp(places, x[order], now[order]) + np.array(off)
    ax.plot(places, at, linestyle="none", marker="o", markersize=6, markerfacecolor="white",
            markeredgecolor=look.INK, zorder=6, label="measured")  # fmt: skip


def _draw_traces(sheet: look.Sheet, found: Found, traces: Any, top: float) -> None:
    """All traces one over another, and each less the first against what was expected."""
    across, bottom = WIDTH_IN - _LEFT - _RIGHT, 0.78
    wide = 0.36 * across
    overlay = sheet.axes(_LEFT, bottom, wide - 0.3, top - bottom)
    draw_overlay(overlay, traces)
    overlay.set_title("Traces as measured, by number of position (Hz)")
    # The others are set against the first that fits in every band.
    first = next((n for n, one in enumerate(found.positions) if not one.stands_out), 0)
    others = [n for n in range(len(traces)) if n != first][:_MOST_PANELS]
    columns = min(3, len(others))
    lines = -(-len(others) // columns)
    left = _LEFT + wide + 0.45
    cell_wide, cell_tall = (WIDTH_IN - _RIGHT - left) / columns, (top - bottom + 0.1) / lines
    seen, panels = [], []
    for place, n in enumerate(others):
        row, column = divmod(place, columns)
        ax = sheet.axes(
            left + column * cell_wide + (0.12 if column else 0.0),
            top - (row + 1) * cell_tall + 0.2,
            cell_wide - 0.22,
            cell_tall - 0.42,
        )
        seen.append(draw_against_first(ax, traces, found.positions, n, first=first))
        name = shorten(found.positions[n].name, 26, placeholder="…")
        ax.set_title(f"{n + 1}  {name} less {first + 1}", fontsize=7.5, pad=2)
        ax.tick_params(labelsize=7)
        if column:
            ax.tick_params(labelleft=False)
        panels.append(ax)
    limit_alike(panels, seen)
    sheet.write(left, top + 0.1, "Each less one other: line measured; band expected by the plan "
                "within its doubt (90 %); ring: does not fit", fontsize=7.5)  # fmt: skip
    names = "   ".join(f"{n} {one.name}" for n, one in enumerate(found.positions, start=1))
    sheet.lines(_LEFT, 0.38, wrap(names, 190)[:2], step=0.12, fontsize=7.0)


def _value_db(one: RowFound) -> float | None:
    return None if one.now_db is None else one.now_db.value


def _numbers(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if one is None else one for one in values], dtype=np.float64)

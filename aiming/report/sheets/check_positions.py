"""The page to take along: where the microphone goes, what to expect, and room to write."""

from textwrap import shorten, wrap
from typing import Any

import numpy as np

from ...base.bands import band_label
from ...base.units import length_text, tilt_text
from ...scenario.scenario import Scenario
from ...site.check_plan import CheckPlan
from ..figures import style as look
from ..figures.section import along, note
from ..text.check_positions import RELATIVE, SLIPS, microphone_text, telling_text
from .sheet_page import SIZES_IN, Paper, printable

_LEFT, _RIGHT = 0.6, 0.5
_LINE = 0.17
_ROW = 0.34
BLANKS = (
    "Air ______ °C  ______ %     time ____________     microphone ________________     measured by "
    "____________"
)
_MOST_BANDS = 6
_COLUMNS = (("", 0.25), ("position", 1.6), ("from datum", 0.95), ("from box", 0.95),
            ("off axis", 0.55), ("dB/°", 0.45))  # fmt: skip


def check_sheets(scenario: Scenario, plan: CheckPlan) -> dict[str, bytes]:
    """The page as files: "checks.pdf" and its bytes."""
    return look.files("checks", lambda: check_sheet(scenario, plan), ("pdf",))


def check_book(scenario: Scenario, plans: tuple[CheckPlan, ...], *, paper: Paper = "a4") -> bytes:
    """One PDF, a page for each loudspeaker."""
    with look.style():
        return look.book(check_sheet(scenario, plan, paper=paper) for plan in plans)


def check_sheet(scenario: Scenario, plan: CheckPlan, *, paper: Paper = "a4") -> Any:
    """The page as a matplotlib Figure; to be called inside drawing_style.style()."""
    wide_in, tall_in = SIZES_IN[paper]
    sheet = look.Sheet(wide_in, tall_in, shown=printable)
    unit = scenario.units
    y = tall_in - 0.55
    title = shorten(f"Check positions: {scenario.title}", 70, placeholder=" …")
    sheet.write(_LEFT, y, title, fontsize=13.0, weight="bold")
    head = (
        f"{plan.speaker}: {tilt_text(float(plan.plan.tilt_deg))}, acoustic centre at "
        f"{length_text(float(plan.plan.height_m), unit)}. Distances from the datum: "
        f"{scenario.datum}; for the laser, from the acoustic centre."
    )
    y = _paragraph(sheet, y - 0.3, head)
    y = _paragraph(sheet, y, f"Microphone {microphone_text(plan, unit)}.", weight="bold")
    cabinet = scenario.speaker(plan.speaker).cabinet
    if cabinet is not None and cabinet.assumed:
        assumed = " and ".join(cabinet.assumed)
        y = _paragraph(sheet, y, f"Assumed of the box, not read off a drawing: {assumed}.")
    y = _paragraph(sheet, y, BLANKS)
    tall = 2.9 - (SIZES_IN["a4"][1] - tall_in)
    section = sheet.axes(_LEFT + 0.25, y - tall, wide_in - _LEFT - _RIGHT - 0.25, tall - 0.1)
    _draw_section(section, scenario, plan)
    y = _table(sheet, scenario, plan, y - tall - 0.55)
    for text in (
        f"{RELATIVE[0].upper()}{RELATIVE[1:]}",
        f"These tell {telling_text(plan)}",
        f"{SLIPS[0][0].upper()}{SLIPS[0][1:]}",
        f"{SLIPS[1][0].upper()}{SLIPS[1][1:]}",
        "Measure this loudspeaker alone, the others off. Read the inclinometer first, on the "
        "reference face, and write down which face it was.",
        "This is no rigging design: local rules, the maker's data and a competent person come "
        "first.",
    ):
        y = _paragraph(sheet, y, text)
    return sheet.figure


def _paragraph(sheet: look.Sheet, y: float, text: str, *, weight: str = "normal") -> float:
    return sheet.lines(_LEFT, y, wrap(text, 108), step=_LINE, fontsize=8.5, weight=weight) - 0.07


def _draw_section(ax: Any, scenario: Scenario, plan: CheckPlan) -> None:
    per_m = look.per_m(scenario.units)
    for surface in scenario.surfaces:
        ax.plot(*(surface.line_m.T * per_m), color=look.QUIET, linewidth=2.2, zorder=2)
    for seating in scenario.seatings:
        ax.plot(*(seating.floor_m.T * per_m), color=look.INK, linewidth=1.6, zorder=2)
    centre = np.array([float(plan.plan.x_m), float(plan.plan.height_m)]) * per_m
    # As far as the position nearest to it, since beyond that it soon runs under the floor.
    aimed = min(plan.checks, key=lambda check: abs(check.off_axis_deg), default=None)
    reach = per_m * (1.0 if aimed is None else aimed.distance_m)
    axis = np.stack([centre, centre + reach * along(float(plan.plan.tilt_deg))])
    ax.plot(*axis.T, color=look.INK, linewidth=1.2, linestyle=look.AXIS_DASHES[0], zorder=4)
    ax.plot(*centre, marker="s", markersize=6, color=look.INK, zorder=6)
    for number, check in enumerate(plan.checks, start=1):
        at = np.array([check.x_m, check.z_m]) * per_m
        ax.plot(*np.stack([centre, at]).T, color=look.FAINT, linewidth=0.7, zorder=1)
        ax.plot(*at, marker="o", markersize=5, color=look.INK, zorder=7)
        place = (float(at[0]), float(at[1]))
        note(ax, place, str(number), offset=(0, 7), ha="center", va="bottom", weight="bold")
    ax.plot([0.0], [0.0], marker="+", markersize=10, color=look.INK, zorder=6)
    note(ax, (0.0, 0.0), "datum", offset=(0, -8), ha="center", va="top", color=look.QUIET)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.06, 0.2)
    look.grid(ax, "#eeeeee")
    ax.set_xlabel(f"from the datum, {scenario.units}", labelpad=1.5)
    ax.set_ylabel(f"above the datum, {scenario.units}", labelpad=1.0)


def _table(sheet: look.Sheet, scenario: Scenario, plan: CheckPlan, y: float) -> float:
    """Expected levels, and an empty box beside each to write the measured one in."""
    bands = plan.bands_hz[-_MOST_BANDS:]
    unit = scenario.units
    fixed = sum(width for _, width in _COLUMNS)
    wide = (sheet.width_in - _LEFT - _RIGHT - fixed) / len(bands)
    x = _LEFT
    heading = "expected, dB against position 1 | measured"
    sheet.write(_LEFT + fixed, y + 0.16, heading, fontsize=7.0)
    for name, width in _COLUMNS:
        sheet.write(x, y, name, fontsize=7.5, weight="bold")
        x += width
    for band in bands:
        sheet.write(x, y, band_label(band), fontsize=7.5, weight="bold")
        x += wide
    _rule(sheet, y - 0.07)
    for number, (name, check) in enumerate(zip(plan.names, plan.checks, strict=True), start=1):
        y -= _ROW
        cells = (
            str(number),
            shorten(f"spare: {name}" if check.spare else name, 28, placeholder="…"),
            length_text(check.x_m, unit),
            length_text(check.distance_m, unit),
            f"{check.off_axis_deg:+.1f}°".replace("-", "−"),
            f"{check.level_per_degree_db:+.2f}".replace("-", "−"),
        )
        x = _LEFT
        for cell, (_, width) in zip(cells, _COLUMNS, strict=True):
            sheet.write(x, y, cell, fontsize=8.0)
            x += width
        sheet.write(_LEFT + _COLUMNS[0][1], y - 0.13, check.reason, fontsize=7.0,
                    color=look.QUIET)  # fmt: skip
        for level in check.levels_db[-_MOST_BANDS:]:
            sheet.write(x, y, f"{level:+.1f}".replace("-", "−"), fontsize=7.0)
            sheet.box(x + 0.5 * wide, y - 0.06, 0.42 * wide, 0.22)
            x += wide
        _rule(sheet, y - 0.17, faint=True)
    return y - 0.45


def _rule(sheet: look.Sheet, y_in: float, *, faint: bool = False) -> None:
    from matplotlib.lines import Line2D

    x = [_LEFT / sheet.width_in, 1.0 - _RIGHT / sheet.width_in]
    colour = look.FAINT if faint else look.INK
    line: Any = Line2D
    y = y_in / sheet.height_in
    sheet.figure.add_artist(line(x, [y, y], color=colour, linewidth=0.6))

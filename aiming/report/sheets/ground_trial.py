"""The page for the yard: how the box lies, where the microphones go, what the rule says of each.

It teaches the trade's rule while it checks it: a fresh box on the ground, five microphones, and the
inverse square law can be walked.
"""

from textwrap import wrap
from typing import Any

import numpy as np

from ...base.bands import short_band_label
from ...base.units import both_lengths_text
from ...scenario.scenario import Scenario
from ...site.ground_trial import EDGE_RULE, GroundTrial
from ..figures import style as look
from ..figures.ground import draw_layout
from ..text.check_positions import LAID, LINE_WALK, OTHER_PLANE, side_text

WIDTH_IN, HEIGHT_IN = 8.27, 11.69
"""A4 upright."""
_LEFT, _RIGHT = 0.6, 0.5
_MOST_BANDS = 7
WHY = (
    "Twice the distance is half the pressure: 6 dB. At the edge the box itself gives half the "
    "pressure: 6 dB too. So who sits twice as far away on the axis hears as loud as who sits at "
    "the edge: that is why a box is aimed over the heads of the first rows."
)
LIFT = "Lift with two people, by the handles; a box on its side is wedged so that it cannot roll."
HORIZONTAL_DEG = (60.0, 90.0, 120.0)
"""Coverage angles that the second layout gives places for."""


def ground_sheets(scenario: Scenario, trial: GroundTrial) -> dict[str, bytes]:
    """The page as files: "ground_trial.pdf" and its bytes."""
    return look.files("ground_trial", lambda: ground_sheet(scenario, trial), ("pdf",))


def ground_sheet(scenario: Scenario, trial: GroundTrial) -> Any:
    """The page as a matplotlib Figure; to be called inside style.style()."""
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    y = HEIGHT_IN - 0.55
    sheet.write(_LEFT, y, f"Trial on the ground: {trial.speaker}", fontsize=13.0, weight="bold")
    d = both_lengths_text(trial.distance_m, scenario.units)
    coverage = trial.coverage_deg
    said = f"d = {d}."
    if coverage is not None:
        said += f" Its data say {coverage:.0f}° between the two edges."
    y = _paragraph(sheet, y - 0.28, said, weight="bold")
    y = _paragraph(sheet, y, f"1. Lay the box {LAID}. No people, walls or cars within 2d.")
    side = _capital(side_text(trial))
    y = _paragraph(sheet, y, f"2. Measure in this order, nothing changed in between. {side}.")
    tall = 2.55
    layout = sheet.axes(_LEFT + 0.25, y - tall, WIDTH_IN - _LEFT - _RIGHT - 0.25, tall - 0.2)
    draw_layout(layout, scenario, trial)
    y = _table(sheet, scenario, trial, y - tall - 0.5)
    y = _paragraph(sheet, y, f"3. Expect: {EDGE_RULE}.")
    y = _paragraph(sheet, y, WHY)
    y = _paragraph(sheet, y, f"4. {_capital(LINE_WALK)}.")
    y = _second_layout(sheet, scenario, trial, y - 0.1)
    _paragraph(sheet, y, f"{_capital(OTHER_PLANE)}. {LIFT}")
    return sheet.figure


def _capital(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _table(sheet: look.Sheet, scenario: Scenario, trial: GroundTrial, y: float) -> float:
    """Places in both units, what to expect, and a box to write each measured level in."""
    bands = trial.bands_hz[-_MOST_BANDS:]
    columns = (("", 0.25), ("position", 1.15), ("ahead", 1.45), ("aside", 1.45))
    fixed = sum(width for _, width in columns)
    wide = (WIDTH_IN - _LEFT - _RIGHT - fixed) / len(bands)
    x = _LEFT
    for name, width in columns:
        sheet.write(x, y, name, fontsize=7.5, weight="bold")
        x += width
    for band in bands:
        sheet.write(x, y, short_band_label(band), fontsize=7.5, weight="bold")
        x += wide
    heading = "expected, dB against position 1; write below"
    sheet.write(_LEFT + fixed, y + 0.15, heading, fontsize=7.0)
    for number, point in enumerate(trial.points, start=1):
        y -= 0.37
        cells = (
            str(number),
            point.name,
            both_lengths_text(point.ahead_m, scenario.units),
            both_lengths_text(abs(point.aside_m), scenario.units),
        )
        x = _LEFT
        for cell, (_, width) in zip(cells, columns, strict=True):
            sheet.write(x, y, cell, fontsize=7.2)
            x += width
        for band in bands:
            level = point.levels_db[band]
            text = "?" if level is None else f"{level:+.1f}".replace("-", "−")
            sheet.write(x, y + 0.02, text, fontsize=7.0)
            sheet.box(x, y - 0.2, 0.85 * wide, 0.19)
            x += wide
    return y - 0.45


def _second_layout(sheet: look.Sheet, scenario: Scenario, trial: GroundTrial, y: float) -> float:
    """Both ways to lay a box, and the edges' places for the horizontal pattern."""
    tall, wide = 1.25, 1.7
    for number, (draw, text) in enumerate(
        ((_on_side, "vertical pattern: on its side"), (_turned_over, "horizontal: turned over"))
    ):
        ax = sheet.axes(_LEFT + number * (wide + 0.2), y - tall, wide, tall - 0.15)
        draw(ax)
        ax.set_xlim(-0.2, 2.2)
        ax.set_ylim(-0.25, 1.6)
        ax.set_aspect("equal")
        ax.set_axis_off()
        ax.set_title(text, fontsize=7.5, pad=1)
    x = _LEFT + 2.0 * (wide + 0.25)
    sheet.write(x, y - 0.15, "horizontal coverage: edge at d, ahead and aside", fontsize=7.5,
                weight="bold")  # fmt: skip
    for number, angle in enumerate(HORIZONTAL_DEG, start=1):
        half = np.radians(0.5 * angle)
        ahead, aside = trial.distance_m * np.cos(half), trial.distance_m * np.sin(half)
        text = f"{angle:.0f}°: {both_lengths_text(float(ahead), scenario.units)}; "
        text += both_lengths_text(float(aside), scenario.units)
        sheet.write(x, y - 0.15 - 0.19 * number, text, fontsize=7.5)
    return y - tall - 0.12


def _on_side(ax: Any) -> None:
    """Seen from the front, lying: the horn beside the woofer, both near the ground."""
    _ground(ax)
    _shape(ax, 0.2, 0.0, 1.6, 1.0)
    _circle(ax, 0.65, 0.5, 0.36)
    _shape(ax, 1.2, 0.2, 0.42, 0.6)


def _turned_over(ax: Any) -> None:
    """Seen from the front, upside down: the high-frequency driver nearest the ground."""
    _ground(ax)
    _shape(ax, 0.55, 0.0, 0.9, 1.4)
    _circle(ax, 1.0, 0.95, 0.34)
    _shape(ax, 0.68, 0.08, 0.64, 0.38)


def _ground(ax: Any) -> None:
    ax.plot([-0.15, 2.15], [-0.02, -0.02], color=look.INK, linewidth=2.0)


def _shape(ax: Any, x: float, y: float, wide: float, tall: float) -> None:
    from matplotlib.patches import Rectangle

    rectangle: Any = Rectangle
    ax.add_patch(rectangle((x, y), wide, tall, facecolor="none", edgecolor=look.INK, linewidth=1.1))


def _circle(ax: Any, x: float, y: float, radius: float) -> None:
    from matplotlib.patches import Circle

    circle: Any = Circle
    ax.add_patch(circle((x, y), radius, facecolor="#e2e2e2", edgecolor=look.INK, linewidth=1.0))


def _paragraph(sheet: look.Sheet, y: float, text: str, *, weight: str = "normal") -> float:
    return sheet.lines(_LEFT, y, wrap(text, 112), step=0.16, fontsize=8.3, weight=weight) - 0.06

"""One sheet: the section to scale, level by row under it, and the figures to work from."""

from textwrap import shorten, wrap
from typing import Any

from ...results.answer import Answer
from ...scenario.scenario import Scenario
from ..text.terminal import hanging
from . import style as look
from .choices import choices_height_in, draw_choices
from .key_figures import key_figures, standing_text
from .levels import draw_levels
from .section import LEAST_POINTS, Section, draw_section, left_rows, uniform_shown_m

WIDTH_IN, HEIGHT_IN = 11.69, 8.27
"""A4 on its side."""
_LEFT, _RIGHT, _TOP = 0.62, 0.3, 0.72
_STANDING_LETTERS, _STANDING_STEP = 215, 0.125
"""Letters in a line of the words at the foot, and inches from line to line."""
_LEGEND = 0.62
_AXIS_WORDS = 0.35
"""Under the chart: the names of rows and seatings."""
_TALLEST, _TALLEST_OF_SEVERAL, _LOWEST = 4.35, 3.9, 2.3
_PANEL, _BEFORE_PANEL, _PANEL_STEP = 3.65, 0.3, 0.145
"""Width of the panel of figures, what of it stays free before it, and from line to line in it."""
_PANEL_LETTERS = {"normal": 58, "bold": 50}
"""Of a line in it; bold letters are wider."""


def aim_figures(
    answer: Answer,
    formats: tuple[look.Format, ...] = look.FORMATS,
    *,
    size_in: tuple[float, float] = (WIDTH_IN, HEIGHT_IN),
) -> dict[str, bytes]:
    """The sheet as files: "section.png", "section.svg", "section.pdf" and their bytes.

    size_in: of the paper, where that is not A4
    """

    def drawn() -> Any:
        figure = aim_figure(answer)
        figure.set_size_inches(*size_in)
        return figure

    return look.files("section", drawn, formats, title=answer.title)


def aim_figure(answer: Answer) -> Any:
    """The sheet as a matplotlib Figure; to be called inside drawing_style.style()."""
    scenario = answer.scenario
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    across = WIDTH_IN - _LEFT - _RIGHT
    extent = answer.extent
    foot = wrap(standing_text(answer), _STANDING_LETTERS)
    under = 0.2 + _STANDING_STEP * len(foot)
    decided = choices_height_in(answer)
    tallest = _TALLEST if len(answer.speakers) == 1 else _TALLEST_OF_SEVERAL
    tallest -= 0.8 * decided
    tall = min(tallest, max(_LOWEST, across * extent.height_m / extent.width_m))
    extent = extent.widened(across / tall)
    section = Section(answer=answer, extent=extent)
    top = sheet.axes(_LEFT, HEIGHT_IN - _TOP - tall, across, tall)
    draw_section(top, section)
    bottom = under + decided + (_AXIS_WORDS + 0.1 if decided else _AXIS_WORDS)
    room = HEIGHT_IN - _TOP - tall - _LEGEND - bottom - 0.3
    chart = sheet.axes(_LEFT, bottom, across - _PANEL, room)
    draw_levels(chart, answer)
    chart.set_title(_chart_title(section), pad=17)
    chart.legend(
        loc="lower right",
        bbox_to_anchor=(1.01, 1.005),
        ncols=len(answer.bands_hz) + 2,
        fontsize=7.2,
        handlelength=2.4,
        columnspacing=1.2,
    )
    _heading(sheet, scenario)
    _legend(sheet, section, HEIGHT_IN - _TOP - tall - 0.36)
    _panel(sheet, answer, top=bottom + room, bottom=under - 0.1)
    wide = across - _PANEL + _BEFORE_PANEL - 0.05
    draw_choices(sheet, answer, left_in=_LEFT, top_in=under + decided, wide_in=wide)
    for number, part in enumerate(reversed(foot)):
        y = 0.1 + _STANDING_STEP * number
        sheet.write(_LEFT, y, part, fontsize=LEAST_POINTS, color=look.QUIET)
    return sheet.figure


def _heading(sheet: look.Sheet, scenario: Scenario) -> None:
    title = shorten(scenario.title, 90, placeholder=" …")
    sheet.write(_LEFT, HEIGHT_IN - 0.36, title, fontsize=13.0, weight="bold")
    datum = shorten(scenario.datum, 60, placeholder=" …")
    text = (
        f"Section to scale. Heights and distances from the datum: {datum}. Tones: level, "
        "the darker the louder, 3 dB from tone to tone. Hatched: taken as solid."
    )
    sheet.write(_LEFT, HEIGHT_IN - 0.58, text, fontsize=8.0, color=look.QUIET)


def _chart_title(section: Section) -> str:
    heard = "all loudspeakers together" if section.several else section.answer.speakers[0].name
    known = "" if section.answer.curves.complete else " (unknown rows left out)"
    return f"Level by row, {heard}{known}"


def _legend(sheet: look.Sheet, section: Section, y_in: float) -> None:
    """What the lines and marks of the section mean."""
    from matplotlib import colormaps
    from matplotlib.lines import Line2D

    ink = look.INK
    line: Any = Line2D
    marks = [
        line([], [], color=ink, linewidth=1.3, linestyle=look.AXIS_DASHES[0], label="axis"),
        line([], [], color=ink, linewidth=0.9, linestyle=look.EDGE_DASHES[0], label="6 dB down"),
    ]
    if any(uniform_shown_m(section.answer, one) is not None for one in section.answer.speakers):
        label = "as loud as the aim point"
        marks.append(line([], [], color=look.UNIFORM, linewidth=1.8, label=label))
    dot = {"linestyle": "none", "markersize": 6, "markeredgecolor": ink}
    for marker, share, label in (
        (look.LOUDER, 0.92, "more than 3 dB over the mean"),
        (look.WITHIN, 0.5, "within ±3 dB"),
        (look.SOFTER, 0.08, "more than 3 dB under"),
    ):
        fill = colormaps[look.LEVEL_MAP](share)
        marks.append(line([], [], marker=marker, markerfacecolor=fill, mew=0.5, label=label, **dot))
    if left_rows(section.answer).any():
        label = "left to a front fill"
        marks.append(
            line([], [], marker=look.WITHIN, markerfacecolor="white", mew=0.7, label=label, **dot)
        )
    sheet.figure.legend(
        handles=marks,
        loc="upper left",
        bbox_to_anchor=(_LEFT / WIDTH_IN, y_in / HEIGHT_IN),
        ncols=len(marks),
        fontsize=7.2,
        handlelength=2.4,
        columnspacing=1.3,
        handletextpad=0.5,
    )


def _panel(sheet: look.Sheet, answer: Answer, *, top: float, bottom: float) -> None:
    """The figures to work from, what stops first, between two heights in inches."""
    left = WIDTH_IN - _RIGHT - _PANEL + _BEFORE_PANEL
    lines: list[tuple[str, str, str]] = []
    fit = int((top - bottom) / _PANEL_STEP)
    told = [
        [(part, weight, colour) for part in hanging(text, width=_PANEL_LETTERS[weight])]
        for text, weight, colour in key_figures(answer)
    ]
    whole = sum(map(len, told)) <= fit
    for parts in told:
        if not whole and len(lines) + len(parts) > fit - 1:
            lines.append(("… more in the summary", "bold", look.INK))
            break
        lines += parts
    for number, (text, weight, colour) in enumerate(lines):
        y = top - _PANEL_STEP * number
        sheet.write(left, y, text, fontsize=7.6, weight=weight, color=colour, va="top")

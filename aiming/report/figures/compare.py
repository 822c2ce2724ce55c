"""The comparison on one sheet: sections at one scale, the level curves, what differs."""

from textwrap import shorten
from typing import Any

import numpy as np

from ...aim.measures import WITHIN_DB
from ...results.answer import Answer
from ...results.case import Case
from ...results.section import Extent
from ..text.compare import ComparedLine, table_lines
from ..text.terminal import cut
from . import style as look
from .aim import HEIGHT_IN, WIDTH_IN
from .levels import places
from .section import Section, draw_section

_EDGE = 0.5
_TOP = 0.6
_GAP = 0.35
_SECTIONS = 3.9
"""Inches for all sections together."""
_TABLE = 5.9
_MOST_LINES = 27
_CASE_INKS = (*look.SPEAKER_INKS, "#b35c00", "#6b6b6b")
_CASE_DASHES: tuple[Any, ...] = ("-", (0, (5, 1.5)), (0, (1.5, 1.5)), (0, (5, 1.5, 1.5, 1.5)))


def compare_figures(
    cases: tuple[Case, ...], formats: tuple[look.Format, ...] = look.FORMATS
) -> dict[str, bytes]:
    """The sheet as files: "compare.png", "compare.svg", "compare.pdf" and their bytes."""
    return look.files("compare", lambda: compare_figure(cases), formats)


def compare_figure(cases: tuple[Case, ...]) -> Any:
    """The sheet as a matplotlib Figure; to be called inside drawing_style.style()."""
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    sheet.write(_EDGE, HEIGHT_IN - 0.34, _title(cases), fontsize=13, weight="bold")
    units = " or ".join(dict.fromkeys(case.scenario.units for case in cases))
    said = (
        f"Sections at one scale, from and above the datum in {units}; the darker the louder, "
        "3 dB from tone to tone. Hatched: taken as solid."
    )
    sheet.write(_EDGE, HEIGHT_IN - 0.53, said, fontsize=7.5, color=look.QUIET)
    answered = [(index, case, case.answer) for index, case in enumerate(cases) if case.answer]
    if answered:
        _sections(sheet, answered)
        _curves(sheet, answered)
    _table(sheet, cases)
    return sheet.figure


def _title(cases: tuple[Case, ...]) -> str:
    titles = list(dict.fromkeys(case.scenario.title for case in cases))
    return shorten(titles[0] if len(titles) == 1 else "Compared", 90, placeholder=" …")


def _sections(sheet: look.Sheet, answered: list[tuple[int, Case, Answer]]) -> None:
    """All sections at one scale, in one or two rows."""
    extent = answered[0][2].extent
    for _, _, answer in answered[1:]:
        extent = extent.joined(answer.extent)
    across, width, height = _grid(len(answered), extent)
    extent = extent.widened(width / height)
    for place, (index, case, answer) in enumerate(answered):
        left = _EDGE + (place % across) * (width + _GAP)
        bottom = HEIGHT_IN - _TOP - (place // across + 1) * (height + _GAP) + 0.1
        ax = sheet.axes(left, bottom, width, height)
        draw_section(ax, Section(answer, extent, brief=True))
        ax.set_xlabel("")
        ax.set_ylabel("")
        ax.tick_params(labelsize=7.0)
        title = shorten(case.name, int(width * 14), placeholder=" …")
        ax.set_title(title, pad=3, weight="bold", color=_ink(index))


def _grid(count: int, extent: Extent) -> tuple[int, float, float]:
    """How many side by side, and each one's width and height, for the largest common scale."""

    def panel(across: int) -> tuple[float, float]:
        down = -(-count // across)
        width = (WIDTH_IN - 2 * _EDGE - _GAP * (across - 1)) / across
        return width, (_SECTIONS - _GAP * down) / down

    def scale(across: int) -> float:
        width, height = panel(across)
        return min(width / extent.width_m, height / extent.height_m)

    across = max(range(1, count + 1), key=scale)
    return (across, *panel(across))


def _curves(sheet: look.Sheet, answered: list[tuple[int, Case, Answer]]) -> None:
    """Design level by row, all loudspeakers together, each about its own mean."""
    bottom, height = 0.75, HEIGHT_IN - _TOP - _SECTIONS - 1.15
    width = WIDTH_IN - 2 * _EDGE - _TABLE - 0.35
    ax = sheet.axes(_EDGE + 0.12, bottom, width, height)
    ax.axhspan(-WITHIN_DB, WITHIN_DB, facecolor=look.WITHIN_FILL, zorder=0)
    for index, case, answer in answered:
        place, blocks = places(answer)
        share = place / max(1.0, float(place[-1]))
        for first, last in blocks:
            ax.plot(
                share[first : last + 1],
                answer.curves.design_db[first : last + 1],
                color=_ink(index),
                linestyle=look.nth(_CASE_DASHES, index),
                linewidth=1.6,
                label=shorten(case.name, 24, placeholder=" …") if first == 0 else None,
            )
    ax.set_ylim(*_span([answer.curves.design_db for _, _, answer in answered]))
    ax.set_xticks([0.0, 1.0], labels=["first row", "last row"], fontsize=7.0)
    ax.set_ylabel("against its mean, dB", labelpad=1.0)
    ax.grid(axis="y", color="#e4e4e4", linewidth=0.6)
    ax.set_title("Level by row; ±3 dB shaded")
    ax.legend(loc="upper left", bbox_to_anchor=(0.0, -0.09), ncols=2, fontsize=7.0)


def _span(levels: list[Any]) -> tuple[float, float]:
    every = np.concatenate(levels)
    every = every[np.isfinite(every)]
    return min(-7.0, float(every.min(initial=0.0)) - 1), max(7.0, float(every.max(initial=0.0)) + 1)


def _table(sheet: look.Sheet, cases: tuple[Case, ...]) -> None:
    """What differs, in columns; the plain caution under it."""
    lines, alike = _that_fit(table_lines(cases))
    left, top = WIDTH_IN - _EDGE - _TABLE + 0.1, HEIGHT_IN - _TOP - _SECTIONS - 0.2
    label = 1.15
    column = (_TABLE - label) / len(cases)
    letters = max(6, int(column * 15.5))
    headed = len({line.about for line in lines if line.about})
    step = min(0.15, (top - 0.35) / (len(lines) + headed + 3))

    def write(x: float, y: float, text: str, **options: Any) -> None:
        sheet.write(x, y, text, fontsize=7.0, va="top", **options)

    for index, case in enumerate(cases):
        name = cut(case.name, letters)
        write(left + label + index * column, top, name, weight="bold", color=_ink(index))
    y, about = top, ""
    for line in lines:
        if line.about != about:
            y, about = y - step, line.about
            write(left, y, cut(about, 40), weight="bold")
        y -= step
        write(left, y, cut(line.label, 19))
        same = len(set(line.texts)) == 1
        for index, text in enumerate(line.texts):
            x = left + label + index * column
            write(x, y, cut(text, letters), color=look.QUIET if same else look.INK)
    if alike:
        more = f"and {alike} more lines, in compare.txt"
        write(left, y - step, more, color=look.QUIET)
    plain = (
        "No rigging design: a competent or licensed person, local codes and the makers' data "
        "prevail. Each section only; nothing is claimed beside it."
    )
    sheet.write(_EDGE, 0.12, plain, fontsize=7.0, color=look.QUIET)


def _that_fit(lines: list[ComparedLine]) -> tuple[list[ComparedLine], int]:
    """As many as can be read on the sheet, what differs first, and how many are left out."""
    differs = [line for line in lines if len(set(line.texts)) > 1]
    first = differs[:_MOST_LINES]
    room = _MOST_LINES - len(first)
    kept = [*first, *[line for line in lines if line not in differs][:room]]
    return [line for line in lines if line in kept], len(lines) - len(kept)


def _ink(index: int) -> Any:
    return look.nth(_CASE_INKS, index)

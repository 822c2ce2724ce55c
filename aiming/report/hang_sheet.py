"""The page that the rigger takes up the ladder: one loudspeaker, one sheet, black and white."""

from collections.abc import Iterator

from ..answer.hang_sheet import HangSheet
from ..units import Unit, tilt_text
from . import drawing_style as look
from .hang_blocks import (
    caution_lines,
    table_height_in,
    write_boxes,
    write_cautions,
    write_stopped,
    write_table,
)
from .hang_drawing import draw_hang
from .hang_laser import laser_lines, write_laser
from .hang_sizes import LINE, SCALES, Sizes
from .hang_table import point_table
from .sheet_page import MARGIN_IN, POINT_IN, Page, Paper, new_page
from .sheet_words import lengths_text, side_text, slope_text, slopes_text

FIGURES_IN = 2.7
HEADER_IN = 0.98
BOXES_IN, STOPPED_IN = 1.62, 0.62
LEAST_DRAWING_IN = 3.0
STOP_WORDS = {True: "NOT FOR HANGING", False: "NOT FOR SETTING UP"}


def hang_sheet_files(
    sheets: tuple[HangSheet, ...],
    unit: Unit,
    *,
    paper: Paper = "a4",
    date: str = "",
    formats: tuple[look.Format, ...] = look.FORMATS,
) -> dict[str, bytes]:
    """Every loudspeaker's page in every format, by file name.

    date: as the person gives it, "" for a blank to fill in
    """
    files: dict[str, bytes] = {}
    with look.style():
        for sheet in sheets:
            figure = hang_sheet(sheet, unit, paper=paper, date=date).figure
            for form in formats:
                files[f"{_stem(sheet)}.{form}"] = look.figure_bytes(figure, form)
    return files


def _stem(sheet: HangSheet) -> str:
    """ "hang_sheet", with the loudspeaker's number and name where there are several."""
    if sheet.count == 1:
        return "hang_sheet"
    plain = "".join(c if c.isascii() and c.isalnum() else "_" for c in sheet.speaker.name)
    return f"hang_sheet_{sheet.number}_{plain[:40]}"


def hang_sheet(sheet: HangSheet, unit: Unit, *, paper: Paper = "a4", date: str = "") -> Page:
    """One page; to be called inside drawing_style.style()."""
    page = new_page(paper)
    table = point_table(sheet.held, unit)
    least_in = LEAST_DRAWING_IN * (1.0 if sheet.held.flown else 1.2)
    for scale in SCALES:
        sizes = Sizes(scale)
        laser, told = laser_lines(page, sheet, unit, sizes), caution_lines(sheet, page, sizes)
        table_in = table_height_in(table, sheet, unit, sizes)
        laser_in = 0.16 + LINE * sizes.text * len(laser) * POINT_IN
        told_in = 0.16 + LINE * sizes.caution * len(told) * POINT_IN
        foot_in = STOPPED_IN if sheet.stopped else BOXES_IN
        below_in = table_in + laser_in + told_in + foot_in
        drawing_in = page.bottom_in - MARGIN_IN - HEADER_IN - below_in
        if drawing_in >= least_in:
            break
    _header(page, sheet, date)
    y = MARGIN_IN + HEADER_IN
    drawing_in = max(drawing_in, 0.5 * LEAST_DRAWING_IN)
    wide = page.right_in - page.left_in
    ax = page.axes(page.left_in, y, wide - FIGURES_IN, drawing_in)
    draw_hang(ax, sheet, width_in=wide - FIGURES_IN, height_in=drawing_in, unit=unit)
    _figures(page, sheet, unit, page.right_in - FIGURES_IN + 0.15, y + 0.1)
    y += drawing_in
    write_table(page, sheet, table, y, unit, sizes)
    write_laser(page, laser, y + table_in, sizes)
    write_cautions(page, told, y + table_in + laser_in, sizes)
    if sheet.stopped:
        write_stopped(page, sheet)
        _across(page, STOP_WORDS[sheet.held.flown])
    else:
        write_boxes(page, sheet, unit, height_in=BOXES_IN)
    return page


def _header(page: Page, sheet: HangSheet, date: str) -> None:
    """Title, whose sheet, where from, when."""
    y = page.left_in + 0.2
    name = "HANG SHEET" if sheet.held.flown else "STAND SHEET"
    page.write(page.left_in, y, name, 18, weight="bold")
    if sheet.stopped:
        words = STOP_WORDS[sheet.held.flown]
        page.write(page.left_in + 2.3, y, words, 13, weight="bold")
    page.write(page.right_in, y, f"Date  {date or '_' * 14}", 10.5, ha="right")
    y += 0.27
    name = _short(f"{sheet.speaker.name}: {sheet.title}", 70)
    page.write(page.left_in, y, name, min(12.5, 12.5 * 52 / len(name)), weight="bold")
    page.write(page.right_in, y, f"sheet {sheet.number} of {sheet.count}, aiming {sheet.version}",
               8, ha="right")  # fmt: skip
    y += 0.2
    page.write(page.left_in, y, _short(f"Datum: {sheet.datum}. All heights and distances are from "
               "it.", 105), 9)  # fmt: skip
    page.rule(page.left_in, y + 0.09, page.right_in - page.left_in, thick=1.6)


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _figures(page: Page, sheet: HangSheet, unit: Unit, x: float, y: float) -> None:
    """The figures that are set, large."""
    for label, big, small in _set_figures(sheet, unit):
        page.write(x, y + 0.08, label, 8)
        page.write(x, y + 0.33, big, 17, weight="bold")
        y += 0.53
        for line in small:
            y = page.paragraph(x, y, page.right_in - x, line, 9.5)
        y += 0.06


def _set_figures(sheet: HangSheet, unit: Unit) -> Iterator[tuple[str, str, list[str]]]:
    one, held = sheet.speaker, sheet.held
    window = sheet.inclinometer_window_deg
    small = [f"inclinometer {slope_text(sheet.inclinometer_deg)}"]
    if window is not None:
        small.append(f"may read {slopes_text(*window)}")
    face = "on a face along the axis"
    if sheet.reference_face_deg:
        face = f"on the face that is {slope_text(sheet.reference_face_deg)} from the axis"
    turn = "hung" if held.flown else "standing"
    yield "TILT", tilt_text(held.tilt_deg), [*small, face, f"{turn} {one.orientation.upper()}"]
    trim, other_trim = lengths_text(one.trim_m, unit)
    label = "TRIM (lowest point)" if held.flown else "LOWEST POINT"
    known = [] if sheet.outline_m is not None else ["as the acoustic centre: no outline given"]
    yield label, trim, [other_trim, *known]
    height, other = lengths_text(one.height_m, unit)
    yield "ACOUSTIC CENTRE", height, [other, side_text(one.x_m, unit)]


def _across(page: Page, words: str) -> None:
    """Large outlined letters across everything, that leave the rest readable."""
    from matplotlib.patheffects import Stroke

    for fill, effects in (
        ((0.0, 0.0, 0.0, 0.10), []),
        ((0.0, 0.0, 0.0, 0.0), [Stroke(linewidth=1.4, foreground=look.INK)]),
    ):
        # Outlined letters are shapes; the filled ones below them stay text that can be found.
        page.figure.text(
            0.5, 0.53, words, fontsize=56, weight="bold", color=fill, rotation=48, ha="center",
            va="center", rotation_mode="anchor", zorder=50, path_effects=effects,
        )  # fmt: skip

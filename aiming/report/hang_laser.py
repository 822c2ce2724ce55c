"""The laser's two marks on a hang sheet, in words."""

from ..answer.hang_sheet import HangSheet
from ..units import Unit, length_text
from .hang_sizes import LINE, Sizes
from .sheet_page import POINT_IN, Page, wrapped
from .sheet_words import lengths_text, side_text, small_text

LASER_AT_IN = 0.75


def laser_lines(page: Page, sheet: HangSheet, unit: Unit, sizes: Sizes) -> list[str]:
    """Where the dot falls at ear height and on the bare floor, wrapped."""
    wide = page.right_in - page.left_in - LASER_AT_IN
    return [line for text in _laser_texts(sheet, unit) for line in wrapped(text, wide, sizes.text)]


def write_laser(page: Page, lines: list[str], y: float, sizes: Sizes) -> None:
    """The lines beside their name, under a rule."""
    page.rule(page.left_in, y + 0.02, page.right_in - page.left_in)
    y += 0.06
    first = y + LINE * sizes.text * POINT_IN
    page.write(page.left_in, first, "LASER", sizes.text, weight="bold")
    for line in lines:
        y += LINE * sizes.text * POINT_IN
        page.write(page.left_in + LASER_AT_IN, y, line, sizes.text)


def _laser_texts(sheet: HangSheet, unit: Unit) -> list[str]:
    marks = sheet.laser
    if marks is None:
        return ["no marks: where a laser sits (laser_at) is not given"]
    ear, row = length_text(marks.ear_height_m, unit), sheet.row_label
    over = " = ".join(lengths_text(marks.above_floor_m, unit))
    first = f"(a) mark in {row}, {side_text(marks.row_x_m, unit)}: {over} above its floor. "
    if marks.ear_m is None:
        first += f"Over the seating the beam is nowhere at ear height ({ear})."
    else:
        past = marks.past_row_m or 0.0
        off = f"{small_text(abs(past), unit)} {'behind' if past > 0.0 else 'in front of'} {row}"
        first += f"At ear height ({ear}) the beam is {side_text(marks.ear_m[0], unit)}, {off}."
    if marks.floor_m is not None:
        second = f"(b) dot on the bare floor: {side_text(marks.floor_m[0], unit)}, floor there at "
        second += length_text(marks.floor_m[1], unit)
        if marks.beyond_seating:
            second += " (taken as level past the seating)"
    elif marks.wall_m is not None:
        second = f"(b) no dot on the floor: it falls on {marks.wall}, "
        second += f"{' = '.join(lengths_text(marks.wall_m[1], unit))} high"
    else:
        second = "(b) it meets no floor"
    return [first, second]

"""The lower half of a hang sheet: the points' table, laser, cautions, boxes to tick."""

from collections.abc import Iterator

from ...analysis.hang_geometry import HangSheet
from ...base.units import G_M_S2, Unit, tilt_text
from ...rigging.ground_stack import Stability
from ..figures import style as look
from .hang_drawing import draw_hang
from .hang_table import LINE, SCALES, Sizes, Table, laser_lines, point_table, write_laser
from .sheet_page import MARGIN_IN, POINT_IN, Page, Paper, new_page, wrapped
from .words import (
    forces_text,
    lengths_text,
    masses_text,
    side_text,
    slope_text,
    slopes_text,
    small_text,
)

LABEL_IN = 2.1
_MARK = {"stop": "STOP", "caution": "!"}


def table_height_in(table: Table | None, sheet: HangSheet, unit: Unit, sizes: Sizes) -> float:
    """What write_table needs."""
    if table is None:
        stack = sheet.held.stack
        return 0.0 if stack is None else 0.2 + 0.24 * len(_stack_texts(stack, unit))
    lines = sum(1 + max(cell.count("\n") for cell in cells) for _, cells in table.rows)
    return (1.2 + lines + 0.9 * len(_whole_texts(sheet, unit))) * sizes.row_in + 0.12


def write_table(
    page: Page, sheet: HangSheet, table: Table | None, y: float, unit: Unit, sizes: Sizes
) -> None:
    """What each point bears, or a stack's margins."""
    wide = page.right_in - page.left_in
    if table is None:
        if sheet.held.stack is not None:
            page.rule(page.left_in, y, wide)
            for text in _stack_texts(sheet.held.stack, unit):
                y += 0.24
                page.write(page.left_in, y, text, 9.5)
        return
    row_in = sizes.row_in
    page.rule(page.left_in, y, wide)
    column = (wide - LABEL_IN) / len(table.heads)
    y += row_in
    for k, head in enumerate(table.heads):
        fits = 0.95 * column / (0.68 * POINT_IN * len(head))
        size = min(1.1 * sizes.figure, fits)
        page.write(page.left_in + LABEL_IN + k * column, y, head, size, weight="bold")
    y += 0.2 * row_in
    for label, cells in table.rows:
        page.write(page.left_in, y + row_in, label, sizes.text)
        for k, cell in enumerate(cells):
            for n, line in enumerate(cell.split("\n")):
                at = y + (n + 1) * row_in
                heavy = "bold" if label.startswith(("load", "cell", "hook height")) else "normal"
                page.write(
                    page.left_in + LABEL_IN + k * column, at, line, sizes.figure, weight=heavy
                )
        y += row_in * (1 + max(cell.count("\n") for cell in cells))
    for line in _whole_texts(sheet, unit):
        y += 0.9 * row_in
        page.write(page.left_in, y, line, 0.95 * sizes.text)


def _whole_texts(sheet: HangSheet, unit: Unit) -> list[str]:
    loads = sheet.held.loads
    assert loads is not None
    text = f"whole weight {masses_text(loads.weight_n, unit)}"
    text += f"; on the structure {masses_text(loads.total_n, unit)}"
    if loads.not_counted:
        text += f" without {' and '.join(loads.not_counted)} (not given)"
    texts = [text]
    if loads.difference_m is not None and loads.spacing_m is not None:
        first, second = (line.name for line in loads.lines)
        way = "lower" if loads.difference_m < 0.0 else "higher"
        texts.append(
            f"hooks {small_text(abs(loads.spacing_m), unit)} apart along the floor; {first} "
            f"{small_text(abs(loads.difference_m), unit)} {way} than {second}"
        )
    return texts


def _stack_texts(stack: Stability, unit: Unit) -> list[str]:
    lines = [
        f"Whole weight {masses_text(stack.mass_kg * G_M_S2, unit)}; tips by itself on a slope of "
        f"{stack.front.tip_deg:.1f}° forward, {stack.rear.tip_deg:.1f}° backward.",
    ]
    if stack.wind_n <= 0.0:
        return [*lines, "No wind was put on it."]
    sides = (("forward", stack.front.safety), ("backward", stack.rear.safety),
             ("sliding", stack.sliding_safety))  # fmt: skip
    held = ", ".join(f"{name} {'unknown' if of is None else f'{of:.2f}'}" for name, of in sides)
    lines.append(f"Wind {stack.gust_speed_m_s:g} m/s: {forces_text(stack.wind_n, unit)}.")
    lines.append(f"What holds over what upsets: {held}; asked {stack.asked:g}.")
    least = "none where it is meant to go reaches that"
    if stack.ballast_kg is not None:
        least = masses_text(stack.ballast_kg * G_M_S2, unit)
    lines.append(f"Least ballast for that: {least}.")
    return lines


def caution_lines(sheet: HangSheet, page: Page, sizes: Sizes) -> list[tuple[str, str]]:
    """(weight, line) of what stops and of the cautions, wrapped; notes are in the summary."""
    lines: list[tuple[str, str]] = []
    wide = page.right_in - page.left_in - 0.2
    for one in sheet.cautions:
        if one.severity == "note":
            continue
        weight = "bold" if one.severity == "stop" else "normal"
        text = f"{_MARK[one.severity]} {one.text[:1].upper()}{one.text[1:]}"
        # Bold letters run wider.
        size = sizes.caution * (1.12 if weight == "bold" else 1.0)
        lines += [
            (weight, line if k == 0 else f"   {line}")
            for k, line in enumerate(wrapped(text, wide, size))
        ]
    if sheet.about_sound:
        text = f"About the sound, in full in the summary: {', '.join(sheet.about_sound)}"
        lines += [("normal", line) for line in wrapped(text, wide, sizes.caution)]
    return lines


def write_cautions(page: Page, told: list[tuple[str, str]], y: float, sizes: Sizes) -> None:
    """All of them, under a rule."""
    page.rule(page.left_in, y + 0.02, page.right_in - page.left_in)
    y += 0.07
    for weight, line in told:
        y += LINE * sizes.caution * POINT_IN
        page.write(page.left_in, y, line, sizes.caution, weight=weight)


def write_boxes(page: Page, sheet: HangSheet, unit: Unit, *, height_in: float) -> None:
    """What is checked once it hangs, and who signs for it."""
    y = page.bottom_in - height_in
    page.rule(page.left_in, y + 0.08, page.right_in - page.left_in, thick=1.6)
    y += 0.32
    for text, blank in _checks(sheet, unit):
        page.box(page.left_in, y - 0.13, 0.15, 0.15)
        page.write(page.left_in + 0.25, y, text, 10)
        if blank:
            page.write(page.right_in, y, f"read {'_' * 16}", 10, ha="right")
        y += 0.225
    page.write(page.left_in, page.bottom_in, f"Name {'_' * 26}   Signed {'_' * 26}   On {'_' * 14}",
               9.5)  # fmt: skip


def _checks(sheet: HangSheet, unit: Unit) -> list[tuple[str, bool]]:
    checks: list[tuple[str, bool]] = []
    loads = sheet.held.loads
    if loads is not None:
        for name, level in (("box level", True), ("at tilt", False)):
            readings = [
                f"{line.name} {'slack' if load is None else masses_text(load, unit)}"
                for line in sorted(loads.lines, key=lambda one: one.x_m)
                for load in (line.level_reading_n if level else line.reading_n,)
            ]
            checks.append((f"load cell, {name}: {'; '.join(readings)}", True))
    elif sheet.held.flown:
        checks.append(("load cell: what it should read is not known", True))
    window = sheet.inclinometer_window_deg
    text = f"inclinometer {slope_text(sheet.inclinometer_deg)}"
    if window is not None:
        text += f", may be {slopes_text(*window)}"
    checks.append((text, True))
    if sheet.laser is not None:
        checks.append((f"laser: dot on the mark in {sheet.row_label}", False))
    else:
        checks.append(("laser: no mark known", False))
    if sheet.held.flown:
        checks.append(("independent secondary suspension fitted", False))
    else:
        checks.append(("ballast and ties as asked for", False))
    return checks


def write_stopped(page: Page, sheet: HangSheet) -> None:
    """In place of the boxes: that there are none, and how many things stop."""
    stops = sum(one.severity == "stop" for one in sheet.cautions)
    things = "one caution stops" if stops == 1 else f"{stops} cautions stop"
    y = page.bottom_in - 0.5
    page.rule(page.left_in, y, page.right_in - page.left_in, thick=1.6)
    text = (
        f"{things} this sheet: nothing to tick, nothing to sign. Change the plan and print again."
    )
    page.write(page.left_in, y + 0.25, text, 9, weight="bold")


# The page that the rigger takes up the ladder: one loudspeaker, one sheet, black and white.

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

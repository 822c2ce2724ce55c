"""The lower half of a hang sheet: the points' table, laser, cautions, boxes to tick."""

from ..answer.hang_sheet import HangSheet
from ..rigging.stack import Stability
from ..units import G_M_S2, Unit
from .hang_sizes import LINE, Sizes
from .hang_table import Table
from .sheet_page import POINT_IN, Page, wrapped
from .sheet_words import (
    forces_text,
    masses_text,
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
    layout, loads = sheet.held.layout, sheet.held.loads
    assert layout is not None
    assert loads is not None
    text = f"whole weight {masses_text(loads.weight_n, unit)}"
    text += f"; on the structure {masses_text(layout.total_n, unit)}"
    if layout.not_counted:
        text += f" without {' and '.join(layout.not_counted)} (not given)"
    texts = [text]
    if layout.difference_m is not None and layout.spacing_m is not None:
        first, second = (line.name for line in layout.points)
        way = "lower" if layout.difference_m < 0.0 else "higher"
        texts.append(
            f"hooks {small_text(abs(layout.spacing_m), unit)} apart along the floor; {first} "
            f"{small_text(abs(layout.difference_m), unit)} {way} than {second}"
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
    lines.append(f"What holds over what upsets: {held}; asked {stack.asked.value:g}.")
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
    layout = sheet.held.layout
    if layout is not None:
        for name, level in (("box level", True), ("at tilt", False)):
            readings = [
                f"{line.name} {'slack' if load is None else masses_text(load, unit)}"
                for line in sorted(layout.points, key=lambda one: one.x_m)
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

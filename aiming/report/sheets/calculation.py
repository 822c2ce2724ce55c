"""The calculation sheet as printed pages."""

import re

from ...results.hang_sheet import Calculation
from ..figures import style as look
from ..text.calculation import Kind, Line, calculation_lines
from .sheet_page import MARGIN_IN, POINT_IN, TIED, Paper, SheetPage, new_page, width_in, wrapped

SIZES: dict[Kind, float] = {"title": 15, "heading": 11.5, "said": 8.8, "step": 9.2, "formula": 8.6}
INDENT_IN: dict[Kind, float] = {"formula": 0.3}
BEFORE_IN: dict[Kind, float] = {"heading": 0.13, "step": 0.05}
_HEAVY = ("title", "heading", "step")
_MINUS = re.compile(r"(?<![^\W_])-|-(?=\s)|(?<=e)-(?=\d)")
"""A hyphen that stands for minus, not the one in a standard's number or a word."""
_SMALL, _RAISED, _LOWERED = 0.7, 0.35, -0.15
"""Indices and powers, in sizes of the letters that they stand at."""
_SET = re.compile(r"(?<=[^\W\d_])_(?P<index>[^\W_]+)|\^(?P<power>\d+)")


def calculation_pdf(
    found: tuple[Calculation, ...], *, paper: Paper = "a4", date: str = ""
) -> bytes:
    """All loudspeakers' sheets in one file, each from a new page."""
    with look.style():
        return look.book(page.figure for page in calculation_pages(found, paper=paper, date=date))


def calculation_pages(
    found: tuple[Calculation, ...], *, paper: Paper = "a4", date: str = ""
) -> list[SheetPage]:
    """The same as pages; to be called inside style.style()."""
    pages = [page for one in found for page in _pages(one, paper)]
    for number, page in enumerate(pages, start=1):
        y = page.bottom_in + 0.15
        page.write(page.left_in, y, f"date {date or '_' * 14}", 8)
        page.write(page.right_in, y, f"page {number} of {len(pages)}", 8, ha="right")
    return pages


def _pages(one: Calculation, paper: Paper) -> list[SheetPage]:
    """Lines set one under another; what belongs to a step stays on its page."""
    pages = [new_page(paper)]
    y = MARGIN_IN
    for block in _blocks(list(calculation_lines(one))):
        set_lines = [(kind, text) for kind, whole in block for text in _set(pages[-1], kind, whole)]
        tall = sum(_tall_in(kind) for kind, _ in set_lines)
        tall += sum(BEFORE_IN.get(kind, 0.0) for kind, _ in block)
        if y + tall > pages[-1].bottom_in - 0.15:
            pages.append(new_page(paper))
            y = MARGIN_IN
        for kind, whole in block:
            y += BEFORE_IN.get(kind, 0.0)
            for text in _set(pages[-1], kind, whole):
                y += _tall_in(kind)
                _write(pages[-1], y, kind, text)
    return pages


def _symbols(kind: Kind, text: str) -> tuple[str, str]:
    """What of a line are words, and what after them are symbols, numbers and units."""
    if kind == "formula":
        return "", text
    if kind == "step" and ": " in text:
        words = text.rindex(": ") + 2
        return text[:words], text[words:]
    return text, ""


def _write(page: SheetPage, y: float, kind: Kind, text: str) -> None:
    """One line; in its symbols subscripts are lowered and powers raised."""
    x, size = page.left_in + INDENT_IN.get(kind, 0.0), SIZES[kind]
    weight = "bold" if kind in _HEAVY else "normal"
    words, symbols = _symbols(kind, text)
    for piece, raised in ((words, 0.0), *typeset(symbols)):
        shown, small = _MINUS.sub("−", piece), size * (_SMALL if raised else 1.0)
        page.write(x, y - raised * size * POINT_IN, shown, small, weight=weight)
        x += width_in(shown, small, weight=weight)


def typeset(formula: str) -> list[tuple[str, float]]:
    """Pieces of a formula, each with how far it stands above the line, in sizes of its letters."""
    pieces, done = [], 0
    for found in _SET.finditer(formula):
        index = found.start("power") if found["power"] else found.start("index")
        pieces.append((formula[done : index - 1], 0.0))
        pieces.append((found["power"], _RAISED) if found["power"] else (found["index"], _LOWERED))
        done = found.end()
    return [*pieces, (formula[done:], 0.0)]


def _blocks(lines: list[Line]) -> list[list[Line]]:
    """A step with its formulas; a heading with what follows it."""
    blocks: list[list[Line]] = []
    for kind, text in lines:
        after_heading = bool(blocks) and blocks[-1][-1][0] in ("heading", "title")
        if blocks and (kind == "formula" or after_heading):
            blocks[-1].append((kind, text))
        else:
            blocks.append([(kind, text)])
    return blocks


def _tall_in(kind: Kind) -> float:
    return 1.3 * SIZES[kind] * POINT_IN


def _set(page: SheetPage, kind: Kind, text: str) -> list[str]:
    wide = page.across_in - INDENT_IN.get(kind, 0.0)
    if kind == "step":
        words, equals, result = text.rpartition(" = ")
        text = words + equals + result.replace(" ", TIED)
    return wrapped(text, wide, SIZES[kind] * (1.15 if kind in _HEAVY else 1.0))

"""The calculation sheet as lines of text: for the terminal, and for the printed pages."""

from collections.abc import Iterator
from textwrap import wrap
from typing import Any, Literal

from ...base.units import G_M_S2, POUND_KG
from ...results.hang_sheet import Calculation, Part
from ...rigging.steps import Step
from .terminal import WIDTH

Kind = Literal["title", "heading", "said", "step", "formula"]
Line = tuple[Kind, str]
CHECK_IT = (
    "To be checked by hand: nothing on it is a rigging design, and local codes, the makers' data "
    "and a competent or licensed person prevail. Sources are named with each step."
)


def calculation_text(found: tuple[Calculation, ...]) -> str:
    """All loudspeakers, one after another, 80 columns wide."""
    lines: list[str] = []
    for one in found:
        for kind, text in calculation_lines(one):
            if kind in ("title", "heading"):
                lines += ["", text, ("=" if kind == "title" else "-") * min(len(text), WIDTH - 1)]
                continue
            indent = "    " if kind == "formula" else ""
            lines += wrap(text, WIDTH - 1, initial_indent=indent, subsequent_indent=indent + "  ")
    return "\n".join(lines[1:]) + "\n"


def calculation_lines(one: Calculation) -> Iterator[Line]:
    """Line by line, each with what it is."""
    sheet = one.sheet
    yield "title", f"Calculation: {sheet.speaker.name}"
    yield "said", f"{sheet.title}; aiming {sheet.version}. {CHECK_IT}"
    number = 0
    for place, part in enumerate(one.parts, start=1):
        yield "heading", f"{place}  {part.heading}"
        for text in part.said:
            yield "said", text
        for step in part.steps:
            number += 1
            yield from _step(number, step)
    yield "heading", f"{len(one.parts) + 1}  Limits that figures were held against"
    for text in one.sources:
        yield "said", text


def _step(number: int, step: Step) -> Iterator[Line]:
    yield "step", f"({number}) {step.name}: {step.symbol} = {_result_text(step)}"
    yield "formula", f"{step.symbol} = {step.formula}"
    yield "formula", f"= {step.numbers}"
    yield "formula", f"[{step.source}]"


def _result_text(step: Step) -> str:
    """Six figures and the unit; a force also as what weighs as much."""
    unit = "°" if step.unit == "deg" else f" {step.unit}" if step.unit else ""
    text = f"{step.result:.6g}{unit}"
    if step.unit == "N":
        mass_kg = step.result / G_M_S2
        text += f" ({mass_kg:.2f} kg, {mass_kg / POUND_KG:.2f} lb)"
    return text


def calculation_list(found: tuple[Calculation, ...]) -> list[dict[str, Any]]:
    """Plain data for JSON: per loudspeaker its parts and steps."""
    return [{"speaker": one.sheet.speaker.name, "parts": [_part(p) for p in one.parts]}
            for one in found]  # fmt: skip


def _part(part: Part) -> dict[str, Any]:
    return {
        "heading": part.heading,
        "said": list(part.said),
        "steps": [dict(vars(step)) for step in part.steps],
    }

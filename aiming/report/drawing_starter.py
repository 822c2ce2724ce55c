"""A commented scenario file from a drawing's layers: seating where a layer holds one floor line."""

import json
from dataclasses import dataclass
from typing import Literal

from ..errors import printable
from ..units import FOOT_M, Unit

Use = Literal["seating", "surface", "left out"]


@dataclass(frozen=True)
class DrawnLayer:
    """One layer and what it is taken for.

    low_m, high_m: x, z of its extents from the datum
    seatable: whether it holds one floor line, x never decreasing
    unusable: whether it is no surface either
    reason: why it is left out, or no seating; "" where there is nothing to say
    """

    name: str
    use: Use
    low_m: tuple[float, float]
    high_m: tuple[float, float]
    seatable: bool
    unusable: bool = False
    reason: str = ""


@dataclass(frozen=True)
class DrawnStart:
    """What the file is made from: drawing as the file is to name it, stated: its unit if given."""

    drawing: str
    units: Unit
    stated: str | None
    layers: tuple[DrawnLayer, ...]


def drawn_text(start: DrawnStart) -> str:
    """The file's text."""
    seats = [one for one in start.layers if one.use == "seating"]
    stated = f'drawing_units = "{start.stated}"\n' if start.stated else ""
    blocks = [_block(start, one) for one in start.layers]
    low, high = _heights(start, seats)
    x = min([0.0, *(one.low_m[0] - 4.0 for one in seats if one.low_m[0] < 0.0)])
    return f"""\
# A scenario of aiming, its lines taken from a drawing: one vertical section.
# Every height and distance is counted from the datum: x towards the audience, z up.
# Solve it with:  aiming solve THIS-FILE        Find its faults with:  aiming check THIS-FILE

schema = 1
title = {json.dumps("Section from " + start.drawing, ensure_ascii=False)}
units = "{start.units}"   # what a bare length means; "12 ft 6 in", "3.8 m", "240 mm" always work
{stated}# drawing_origin = ["0 m", "0 m"]   # where the datum lies in the drawing, if elsewhere
# drawing_mirrored = true          # where the audience sits to the left of the datum

[datum]
name = "the drawing's origin"      # say what it is in the house

{"".join(blocks)}[[speaker]]
name = "main"

[speaker.pattern]
coverage = 60           # vertical coverage angle in degrees, see the data sheet

[speaker.placement]     # a number fixes it, [low, high] lets the solver choose
x = {_number(x, start.units)}
height = [{_number(low, start.units)}, {_number(high, start.units)}]   # of the acoustic centre
"""


def _block(start: DrawnStart, one: DrawnLayer) -> str:
    name, file = (
        json.dumps(printable(text), ensure_ascii=False) for text in (one.name, start.drawing)
    )
    spans = [
        f"{way} {_number(low, start.units)} to {_number(high, start.units)} {start.units}"
        for way, low, high in zip("xz", one.low_m, one.high_m, strict=True)
    ]
    why = f"; {printable(one.reason)}" if one.reason else ""
    head = f"# layer {name}: {', '.join(spans)}{why}\n"
    lines = [f"[[{'surface' if one.use == 'surface' else 'seating'}]]", f"name = {name}"]
    lines.append(f"drawing = {{ file = {file}, layer = {name} }}")
    if one.unusable:
        lines = []
    elif one.use == "left out":
        lines[0] = "[[surface]]"
        lines = [f"# {line}" for line in lines]
    elif one.use == "seating":
        lines.append('ears = "seated"         # or "standing", or a length')
    elif one.seatable:
        lines[0] += "             # write [[seating]] where people sit on it"
    return head + "".join(f"{line}\n" for line in lines) + "\n"


def _heights(start: DrawnStart, seats: list[DrawnLayer]) -> tuple[float, float]:
    """A range of heights to begin with: over the lowest floor, up to over the highest."""
    floor = min((one.low_m[1] for one in seats), default=0.0)
    top = max((one.high_m[1] for one in seats), default=0.0)
    return floor + 4.0, max(floor + 6.5, top + 2.0)


def _number(length_m: float, unit: Unit) -> str:
    """A bare length as the file has it, to the centimetre or the hundredth of a foot."""
    shown = length_m if unit == "m" else length_m / FOOT_M
    return f"{round(shown, 2) + 0.0:g}"

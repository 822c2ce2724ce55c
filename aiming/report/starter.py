"""A commented starter file: a section of one's own, ready to be changed."""

import json
import re
from dataclasses import dataclass
from typing import Literal

from ..base.errors import printable
from ..base.units import FOOT_M, INCH_M, Unit, parse_length_m

_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


UNKNOWN = "unknown"
"""What a person answers who has no data; nothing is then assumed."""


@dataclass(frozen=True)
class Starter:
    """What a starter file says, as a person writes it: lengths "4" or "12 ft 6 in", masses "57 lb".

    balcony: "yes" or "no"; points: "0" or "2", of the rigging
    mass, wll: UNKNOWN where nobody has the data
    front_point, rear_point: distance behind the box's front, on its top
    lowest, highest: of the trim; base: z of what a stack stands on
    """

    units: Unit = "m"
    title: str = "A hall of my own"
    datum: str = "stage front edge, house floor"
    first_row: str = "4"
    last_row: str = "18"
    first_floor: str = "0"
    last_floor: str = "0.9"
    row_spacing: str = "0.9"
    balcony_first_row: str = "14"
    balcony_last_row: str = "20"
    balcony_first_floor: str = "4"
    balcony_last_floor: str = "6.4"
    box_height: str = "0.6"
    box_depth: str = "0.4"
    front_point: str = "0.08"
    rear_point: str = "0.32"
    lowest: str = "4"
    highest: str = "6.5"
    base: str = "1.2"
    x: str = "0"
    ears: str = "seated"
    balcony: str = "no"
    coverage_deg: str = "60"
    mass: str = UNKNOWN
    points: str = "0"
    wll: str = UNKNOWN
    mount: str = "flown"


METRES = Starter()
FEET = Starter(
    units="ft",
    first_row="13",
    last_row="60",
    last_floor="3",
    row_spacing="3",
    balcony_first_row="46",
    balcony_last_row="66",
    balcony_first_floor="13",
    balcony_last_floor="21",
    box_height="24 in",
    box_depth="16 in",
    front_point="3 in",
    rear_point="13 in",
    lowest="13",
    highest="21",
    base="4",
)


def starter_text(start: Starter) -> str:
    """The file's text; each line that a person may want to change says what it is."""
    return f"""\
#:schema ./aiming.schema.json
# A scenario of aiming: one vertical section, its seating and its loudspeaker.
# Every height and distance is counted from the datum: x towards the audience, z up.
# Solve it with:  aiming solve THIS-FILE        Find its faults with:  aiming check THIS-FILE
# Drawings, page and hang sheet:  aiming solve THIS-FILE --out FOLDER
# Help while typing, in an editor for TOML:  aiming schema > aiming.schema.json

schema = 1
title = {_text(start.title)}
units = "{start.units}"   # what a bare length means; "12 ft 6 in", "3.8 m", "240 mm" always work

[datum]
name = {_text(start.datum)}

[[seating]]             # one block of rows; write [[seating]] again for a balcony
name = "floor"
# The floor under the rows, [x, z] of the first and of the last; more points where it bends.
line = {_line(start.first_row, start.first_floor, start.last_row, start.last_floor)}
ears = {_ears(start.ears)}        # "seated" (1.2 m), "standing" (1.6 m), or a length
row_spacing = {_length(start.row_spacing)}

{_balcony(start)}[[speaker]]
name = "main"

[speaker.pattern]
coverage = {start.coverage_deg}           # vertical coverage angle in degrees, see the data sheet
# file = "box.csv"      # better, instead of coverage: a measured pattern

[speaker.cabinet]
# Height and depth alone: the acoustic centre is assumed in the middle of the front, the centre of
# gravity in the middle of the box, and every paper says so. With a drawing, give outline,
# centre_of_gravity and picks.
height = {_length(start.box_height)}
depth = {_length(start.box_depth)}
{_body(start)}
[speaker.placement]     # a number fixes it, [low, high] lets the solver choose
mount = "{start.mount}"
x = {_length(start.x)}
{_height(start)}
# tilt = [-60, 20]      # nose down is negative; without this line any tilt may be chosen

# What follows is worth adding; take the signs away and put in what the maker's data say.
{"" if _rigged(start) else _rigging(start)}
# [[surface]]           # a solid edge that can shadow a row or send sound back
# name = "back wall"
# line = [["19 m", "0 m"], ["19 m", "7 m"]]
"""


def _line(x: str, z: str, last_x: str, last_z: str) -> str:
    return f"[[{_length(x)}, {_length(z)}], [{_length(last_x)}, {_length(last_z)}]]"


def _balcony(start: Starter) -> str:
    if start.balcony != "yes":
        return ""
    line = _line(
        start.balcony_first_row,
        start.balcony_first_floor,
        start.balcony_last_row,
        start.balcony_last_floor,
    )
    return f"""\
[[seating]]
name = "balcony"
line = {line}
ears = {_ears(start.ears)}
row_spacing = {_length(start.row_spacing)}
# The balcony's front and underside hide rows and send sound back: draw them as [[surface]].

"""


def _on_the_box(length_m: float, unit: Unit) -> str:
    """A small length, to the millimetre or the hundredth of an inch."""
    return _text(f"{length_m:.3f} m" if unit == "m" else f"{length_m / INCH_M:.2f} in")


def _rigged(start: Starter) -> bool:
    return start.points == "2" and start.mount == "flown"


def _body(start: Starter) -> str:
    """Mass and picks where they are known, else what they would look like."""
    unit: Unit = start.units
    top = _on_the_box(0.5 * parse_length_m(start.box_height, unit), unit)
    wll = "" if start.wll == UNKNOWN else f", wll = {_text(start.wll)}"
    picks = [
        f'{{ name = "{name}", at = [{_on_the_box(-parse_length_m(at, unit), unit)}, {top}]'
        for name, at in (("front", start.front_point), ("rear", start.rear_point))
    ]
    mass = '# mass = "26 kg"        # or "57 lb", from the data sheet'
    if start.mass != UNKNOWN:
        mass = f"mass = {_text(start.mass)}"
    if _rigged(start):
        return (
            f"{mass}\n# [u, w] from the acoustic centre: u forward, w up\n"
            f"picks = [{picks[0]}{wll} }},\n         {picks[1]}{wll} }}]\n\n"
            f"{_rigging(start, '')}"
        )
    return (
        f'{mass}\n# picks = [{picks[0]}, wll = "130 kg" }},\n'
        f'#          {picks[1]}, wll = "130 kg" }}]\n'
    )


def _rigging(start: Starter, sign: str = "# ") -> str:
    lines = ["[speaker.rigging.upright]", 'method = "two points"', 'picks = ["front", "rear"]']
    head = "".join(f"{sign}{line}\n" for line in lines)
    return f"{head}# secondary_suspension = true       # where an independent one is fitted\n"


def _text(text: str) -> str:
    """A TOML string."""
    return json.dumps(text.replace("\x7f", ""), ensure_ascii=False)


def _length(text: str) -> str:
    """A bare number as it is, anything else as a TOML string."""
    bare = text.strip().replace("−", "-")
    return bare if _NUMBER.fullmatch(bare) else _text(text.strip())


def _ears(text: str) -> str:
    return _text(text) if text in ("seated", "standing") else _length(text)


def _height(start: Starter) -> str:
    if start.mount == "stacked":
        return f"base = {_length(start.base)}            # z of what the box stands on"
    if start.lowest == start.highest:
        return f"trim = {_length(start.lowest)}            # of the lowest point of the box"
    return (
        f"trim = [{_length(start.lowest)}, {_length(start.highest)}]"
        "   # of the lowest point of the box, as it hangs"
    )


# A commented scenario file from a drawing's layers: seating where a layer holds one floor line.

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
#:schema ./aiming.schema.json
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

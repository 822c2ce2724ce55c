"""Questions on a terminal, one after the other, each explained and with a sensible default."""

import math
import sys
from collections.abc import Callable
from dataclasses import replace
from textwrap import wrap
from typing import TYPE_CHECKING

from .common import UsageError, tell

if TYPE_CHECKING:
    from ..report.starter import Start
    from ..units import Unit

Check = Callable[[str], str]
"""Takes what was typed; gives what is kept; raises ValueError with what is allowed."""


def ask(question: str, explanation: str, default: str, check: Check) -> str:
    """Ask until the answer can be used; Enter takes the default.  Raises UsageError at the end."""
    tell("")
    for line in wrap(explanation, 76):
        tell(f"  {line}")
    while True:
        print(f"{question} [{default}]: ", end="", file=sys.stderr, flush=True)
        typed = sys.stdin.readline()
        if not typed:
            raise UsageError("the questions were not answered to their end; nothing was written")
        try:
            return check(typed.strip() or default)
        except ValueError as error:
            tell(f"  {error}")


def asked_start() -> "Start":
    """Everything that a starter file says, asked for."""
    from ..report.starter import FEET, METRES, STACKED_AT

    units = ask(
        "Metres or feet (m, ft)?",
        "What a bare number means. Lengths with a unit, such as 3.8 m or 12 ft 6 in, always work.",
        "m",
        metres_or_feet,
    )
    usual = METRES if units == "m" else FEET
    unit = usual.units
    title = ask("Title?", "What this section is; it heads every page.", usual.title, some_text)
    datum = ask(
        "Datum?",
        "Name the point that every height and distance is counted from: something that can be "
        "found again on site.",
        usual.datum,
        some_text,
    )
    first_row = ask(
        "First row?",
        "Distance of the first row from the datum, along the floor plan.",
        usual.first_row,
        a_length(unit),
    )
    last_row = ask(
        "Last row?",
        "Distance of the last row from the datum.",
        usual.last_row,
        a_length(unit, above=first_row),
    )
    first_floor = ask(
        "Floor under the first row?",
        "Its height over the datum; negative below it.",
        usual.first_floor,
        a_length(unit),
    )
    last_floor = ask(
        "Floor under the last row?",
        "Its height over the datum: a rake rises evenly from first to last. Bends, steps and "
        "balconies can be put into the file afterwards.",
        usual.last_floor,
        a_length(unit),
    )
    ears = ask(
        "Seated or standing?",
        "Ears are 1.2 m over the floor seated and 1.6 m standing; a length of your own works too.",
        usual.ears,
        ears_or_length(unit),
    )
    spacing = ask(
        "Row spacing?",
        "Distance from row to row.",
        usual.row_spacing,
        a_length(unit, above="0"),
    )
    coverage = ask(
        "Vertical coverage angle, degrees?",
        "From the loudspeaker's data sheet: the whole angle between the two directions where it "
        "is 6 dB down. A measured pattern can replace it later.",
        f"{usual.coverage_deg:g}",
        an_angle,
    )
    mount = ask(
        "Flown or stacked?",
        "Flown hangs from above; stacked stands on a stage, riser or stack.",
        usual.mount,
        one_of("flown", "stacked"),
    )
    x = ask(
        "Distance of the loudspeaker from the datum?",
        "Of its acoustic centre, positive towards the audience, negative behind the datum.",
        usual.x,
        a_length(unit),
    )
    start = replace(
        usual,
        title=title,
        datum=datum,
        first_row=first_row,
        last_row=last_row,
        first_floor=first_floor,
        last_floor=last_floor,
        ears=ears,
        row_spacing=spacing,
        coverage_deg=float(coverage),
        x=x,
    )
    if mount == "stacked":
        height = ask(
            "Height of the acoustic centre?",
            "Over the datum, as it stands; about the middle of the box's front.",
            STACKED_AT[unit],
            a_length(unit),
        )
        return replace(start, mount="stacked", lowest=height, highest=height)
    lowest = ask(
        "Lowest that it may hang?",
        "Height of the acoustic centre over the datum. Think of sightlines and of people's reach.",
        usual.lowest,
        a_length(unit),
    )
    highest = ask(
        "Highest that it may hang?",
        "What lies between is chosen; the same as the lowest fixes it.",
        usual.highest if length_m(usual.highest, unit) >= length_m(lowest, unit) else lowest,
        a_length(unit, above=lowest, or_equal=True),
    )
    return replace(start, lowest=lowest, highest=highest)


def length_m(text: str, unit: "Unit") -> float:
    """Metres; raises ValueError."""
    from ..units import parse_length_m

    return parse_length_m(text, unit)


def a_length(unit: "Unit", *, above: str | None = None, or_equal: bool = False) -> Check:
    """A length, where asked greater than another one."""

    def check(typed: str) -> str:
        value = length_m(typed, unit)
        if above is not None:
            least = length_m(above, unit)
            if value < least or (value == least and not or_equal):
                raise ValueError(f"{typed}; {'at least' if or_equal else 'more than'} {above}")
        return typed

    return check


def ears_or_length(unit: "Unit") -> Check:
    """ "seated", "standing", or a length above 0."""
    length = a_length(unit, above="0")

    def check(typed: str) -> str:
        return typed.lower() if typed.lower() in ("seated", "standing") else length(typed)

    return check


def metres_or_feet(typed: str) -> str:
    """ "m" or "ft", in words too."""
    if typed.lower() in ("m", "metre", "metres", "meter", "meters"):
        return "m"
    if typed.lower() in ("ft", "foot", "feet"):
        return "ft"
    raise ValueError(f'"{typed}"; m or ft')


def one_of(*words: str) -> Check:
    """One of these words, or the beginning of one."""

    def check(typed: str) -> str:
        meant = [word for word in words if word.startswith(typed.lower())]
        if len(meant) != 1:
            raise ValueError(f'"{typed}"; {" or ".join(words)}')
        return meant[0]

    return check


def an_angle(typed: str) -> str:
    """A coverage angle, with or without its sign."""
    try:
        value = float(typed.removesuffix("°").strip())
    except ValueError:
        value = math.nan
    if not 0.0 < value < 360.0:
        raise ValueError(f"{typed}; more than 0 and less than 360 degrees")
    return f"{value:g}"


def some_text(typed: str) -> str:
    """Anything that can be printed."""
    if not typed.isprintable():
        raise ValueError("letters, digits and signs only")
    return typed

"""What may be typed as an answer: each takes the text and gives what is kept, or refuses it."""

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from .asking import Check

if TYPE_CHECKING:
    from ..base.units import Unit


def a_length(unit: "Unit", *, above: str | None = None, or_equal: bool = False) -> Check:
    """A length, where asked greater than another one."""

    from ..base.units import parse_length_m

    def check(typed: str) -> str:
        value = parse_length_m(typed, unit)
        if above is not None:
            least = parse_length_m(above, unit)
            if value < least or (value == least and not or_equal):
                raise ValueError(
                    f"{typed}; must be {'at least' if or_equal else 'more than'} {above}"
                )
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
    raise ValueError(f'"{typed}"; must be m or ft')


def one_of(*words: str) -> Check:
    """One of these words, or the beginning of one."""

    def check(typed: str) -> str:
        meant = [word for word in words if word.startswith(typed.lower())]
        if len(meant) != 1:
            raise ValueError(f'"{typed}"; must be {" or ".join(words)}')
        return meant[0]

    return check


def an_angle(typed: str) -> str:
    """A coverage angle, with or without its sign; of "90x60" it is asked which is meant."""
    from ..scenario.pattern import one_angle

    one_angle(typed)
    try:
        value = float(typed.removesuffix("°").strip())
    except ValueError:
        value = math.nan
    if not 0.0 < value < 360.0:
        raise ValueError(f"{typed}; must be more than 0 and less than 360 degrees")
    return f"{value:g}"


def a_mass(typed: str) -> str:
    """A mass with its unit, or "unknown"."""
    from ..base.units import parse_mass_kg

    return _known(typed, parse_mass_kg)


def a_load(typed: str) -> str:
    """A load with its unit, or "unknown"."""
    from ..base.units import parse_load_n

    return _known(typed, parse_load_n)


def _known(typed: str, parse: Callable[[str], float]) -> str:
    from ..report.starter import UNKNOWN

    if UNKNOWN.startswith(typed.lower()):
        return UNKNOWN
    if not parse(typed) > 0.0:
        raise ValueError(f"{typed}; must be more than 0")
    return typed


def some_text(typed: str) -> str:
    """Anything that can be printed."""
    if not typed.isprintable():
        raise ValueError("letters, digits and signs only")
    return typed

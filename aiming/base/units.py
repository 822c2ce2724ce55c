"""Lengths as people write them, read exactly; lengths, masses and forces as people read them.

A length is a number in the scenario's unit, or a text with its unit: "3.8 m", "240 mm",
"12 ft 6 in", "6 1/2 in".  Decimals and fractions are read as exact rationals and rounded once, at
the end, so feet and metres of one length give one number.
"""

import math
import re
from fractions import Fraction
from typing import Literal

from .errors import found_text

Unit = Literal["m", "ft"]

G_M_S2 = 9.80665
"""Standard gravity, exact by definition (3rd CGPM, 1901)."""
FOOT_M = 0.3048
INCH_M = 0.0254
POUND_KG = 0.45359237
"""Foot, inch and pound are exact (international yard and pound agreement, 1959)."""
POUND_FORCE_N = POUND_KG * G_M_S2

LENGTH_ALLOWED = 'must be a length such as 3.8, "3.8 m", "240 mm", "12 ft 6 in" or "6 1/2 in"'

_METRES = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1)),
    **dict.fromkeys(("cm",), Fraction(1, 100)),
    **dict.fromkeys(("mm",), Fraction(1, 1000)),
    **dict.fromkeys(("km",), Fraction(1000)),
    **dict.fromkeys(("ft", "foot", "feet", "'", "′", "’"), Fraction(3048, 10000)),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "”", "''"), Fraction(254, 10000)),
}
_FEET = ("ft", "foot", "feet", "'", "′", "’")
_INCHES = ("in", "inch", "inches", '"', "″", "”", "''")
_LONGEST_TEXT = 60


def _either(words: tuple[str, ...]) -> str:
    return "|".join(re.escape(word) for word in words)


_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
_AMOUNT = rf"(?:\d+\s+)?\d+\s*/\s*\d+|{_NUMBER}"
_ONE_UNIT = re.compile(rf"({_AMOUNT})\s*({_either(tuple(_METRES))})", re.ASCII)
_FEET_AND_INCHES = re.compile(
    rf"(\d+)\s*(?:{_either(_FEET)})(?:\s*|-|\s+-\s+)({_AMOUNT})\s*(?:{_either(_INCHES)})", re.ASCII
)
_BARE = re.compile(_NUMBER, re.ASCII)


def parse_length_m(value: object, unit: Unit) -> float:
    """Metres of a number in the scenario's unit, or of a text with its own unit.

    Raises ValueError with the text "found; allowed" for anything that is not clearly one length.
    """
    if isinstance(value, str):
        return float(_text_m(value, unit))
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{found_text(value)}; {LENGTH_ALLOWED}")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{found_text(value)}; {LENGTH_ALLOWED}")
    if unit == "m":
        return number
    return float(Fraction(repr(number)) * _METRES["ft"])


def _text_m(text: str, unit: Unit) -> Fraction:
    refused = f"{found_text(text)}; {LENGTH_ALLOWED}"
    if len(text) > _LONGEST_TEXT:
        raise ValueError(refused)
    body = text.strip().lower()
    sign = -1 if body[:1] in ("-", "−") else 1
    if body[:1] in ("-", "−", "+"):
        body = body[1:].lstrip()
    if re.search(r"\d\s*,\s*\d", body):
        raise ValueError(
            f"{found_text(text)}; write a decimal point, as in "
            f"{found_text(text.replace(',', '.'))}, and no thousands separator"
        )
    if _BARE.fullmatch(body):
        return sign * Fraction(body) * _METRES[unit]
    try:
        if both := _FEET_AND_INCHES.fullmatch(body):
            inches = _amount(both[2])
            if inches >= 12:
                raise ValueError(f"{found_text(text)}; must be less than 12 in after the feet")
            return sign * (int(both[1]) * _METRES["ft"] + inches * _METRES["in"])
        if one := _ONE_UNIT.fullmatch(body):
            return sign * _amount(one[1]) * _METRES[one[2]]
    except ZeroDivisionError:
        raise ValueError(
            f"{found_text(text)}; must be a fraction with a number other than 0 below"
        ) from None
    raise ValueError(refused)


def _amount(text: str) -> Fraction:
    """ "6", "6.5", "1/2" or "6 1/2", exactly."""
    if "/" not in text:
        return Fraction(text)
    above, below = text.split("/")
    whole, _, part = above.strip().rpartition(" ")
    return Fraction(int(whole or 0)) + Fraction(int(part), int(below))


LOAD_ALLOWED = 'must be a load such as "50 kg", "110 lb", "490 N" or "1.2 kN"'
MASS_ALLOWED = 'must be a mass such as "26 kg" or "57 lb", or a weight as "255 N"'
_KILOGRAMS = {"kg": 1.0, "lb": POUND_KG, "lbs": POUND_KG}
_NEWTONS = {"n": 1.0, "kn": 1000.0, "lbf": POUND_FORCE_N}


def parse_load_n(text: str) -> float:
    """Newtons of a mass that hangs at rest, or of a force, with its unit: "330 lb", "1.5 kN".

    Raises ValueError with the text "found; allowed".
    """
    number, unit = _number_and_unit(text, LOAD_ALLOWED)
    if unit in _KILOGRAMS:
        return number * _KILOGRAMS[unit] * G_M_S2
    return number * _NEWTONS[unit]


def parse_mass_kg(text: str) -> float:
    """Kilograms of a mass, or of what weighs as much, with its unit: "57 lb", "255 N".

    Raises ValueError with the text "found; allowed".
    """
    number, unit = _number_and_unit(text, MASS_ALLOWED)
    if unit in _KILOGRAMS:
        return number * _KILOGRAMS[unit]
    return number * _NEWTONS[unit] / G_M_S2


def _number_and_unit(text: str, allowed: str) -> tuple[float, str]:
    found = re.fullmatch(rf"({_NUMBER})\s*([a-z]+)", text.strip().lower(), re.ASCII)
    if found is None or found[2] not in {**_KILOGRAMS, **_NEWTONS}:
        raise ValueError(f"{found_text(text)}; {allowed}")
    return float(found[1]), found[2]


TILT_ALLOWED = 'must be an angle in degrees, positive up, or "nose down 12"'
_TILT = re.compile(
    rf"(?:nose\s+)?(up|down)\s+({_NUMBER})\s*(?:°|deg|degrees)?", re.IGNORECASE | re.ASCII
)


def parse_tilt_deg(text: str) -> float:
    """Degrees, positive up, of "nose down 12", "nose up 3°" or "down 12".

    Raises ValueError with the text "found; allowed".
    """
    found = _TILT.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{found_text(text)}; {TILT_ALLOWED}")
    size = float(found[2])
    return -size if found[1].lower() == "down" and size else size


def length_text(length_m: float, unit: Unit) -> str:
    """ "6.20 m" to the centimetre, or "20 ft 4 1/8 in" to the nearest eighth of an inch."""
    if unit == "m":
        text = f"{length_m:.2f} m"
        return text.removeprefix("-") if float(text[:-2]) == 0.0 else text
    eighths = round(abs(length_m) / INCH_M * 8.0)
    sign = "-" if length_m < 0.0 and eighths else ""
    inches, part = divmod(eighths, 8)
    feet, inches = divmod(inches, 12)
    fraction = Fraction(part, 8)
    small = f"{inches} {fraction} in" if part else f"{inches} in"
    return f"{sign}{feet} ft {small}"


def both_lengths_text(length_m: float, unit: Unit) -> str:
    """The length in the scenario's unit, with the other in brackets."""
    other: Unit = "ft" if unit == "m" else "m"
    return f"{length_text(length_m, unit)} ({length_text(length_m, other)})"


def plain_length_text(length_m: float, unit: Unit) -> str:
    """A length as a file would have it, for messages: "4.2 m" or "13.8 ft", to six digits."""
    return f"{length_m:.6g} m" if unit == "m" else f"{length_m / FOOT_M:.6g} ft"


def tilt_text(tilt_deg: float) -> str:
    """ "nose down 14.3°", "nose up 3.0°", "level 0.0°"."""
    shown = f"{abs(tilt_deg):.1f}"
    if float(shown) == 0.0:
        return "level 0.0°"
    return f"nose {'down' if tilt_deg < 0.0 else 'up'} {shown}°"


def signed_text(value: float, unit: str, *, decimals: int = 1) -> str:
    """ "−13.8°" with a true minus; zero has no sign."""
    # Adding 0 takes the sign from a rounded −0.
    text = f"{round(value, decimals) + 0.0:.{decimals}f}{unit}"
    return text.replace("-", "−")


def x_text(x_m: float, unit: Unit) -> str:
    """ "1.20 m behind the datum" (x negative), "… in front of the datum", "at the datum"."""
    distance = length_text(abs(x_m), unit)
    if distance == length_text(0.0, unit):
        return "at the datum"
    return f"{distance} {'behind' if x_m < 0.0 else 'in front of'} the datum"


def mass_text(mass_kg: float, unit: Unit) -> str:
    """ "26.0 kg", or "57.3 lb" where the scenario is in feet."""
    return f"{mass_kg:.1f} kg" if unit == "m" else f"{mass_kg / POUND_KG:.1f} lb"


def force_text(force_n: float, unit: Unit) -> str:
    """ "0.255 kN", or "57.3 lbf" where the scenario is in feet."""
    return f"{force_n / 1000.0:.3f} kN" if unit == "m" else f"{force_n / POUND_FORCE_N:.1f} lbf"


def both_forces_text(force_n: float, unit: Unit) -> str:
    """The force in the scenario's system, with the other in brackets."""
    other: Unit = "ft" if unit == "m" else "m"
    return f"{force_text(force_n, unit)} ({force_text(force_n, other)})"

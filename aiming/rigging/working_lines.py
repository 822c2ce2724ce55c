"""The part of the calculation sheet that lays out the lines: hooks, steel, lengths."""

from ..speaker.rigging import Rigging
from .body import HungBody, Point
from .derivation import symbol
from .sheet import Sheet

LAYOUT = "the pick at its tilt, from the acoustic centre"
LINE = "right triangle of a line and its lean from plumb"


def add_lines(sheet: Sheet, body: HungBody, rigging: Rigging, *, at_m: Point) -> None:
    """Where each hook is from the datum, and, for a stated steel height, each line's length."""
    from sympy import cos, tan

    letters = ("H", "P") if rigging.method == "pull-back" else ("F", "R")
    sheet.known |= {"x_A": at_m[0], "z_A": at_m[1]}
    for letter, pick in zip(letters, body.picks, strict=True):
        x, z = (symbol(f"{axis}_A") + symbol(f"{axis}_{letter}") for axis in "xz")
        sheet.add(f"{pick.name}: from the datum", f"X_{letter}hook", x, "m", LAYOUT)
        sheet.add(f"{pick.name}: height", f"Z_{letter}hook", z, "m", LAYOUT)
    first, second = letters
    difference = symbol(f"Z_{first}hook") - symbol(f"Z_{second}hook")
    sheet.add("first pick's height less the second's", "ΔZ", difference, "m", LAYOUT)
    if rigging.steel_height_m is None:
        return
    sheet.known["Z_steel"] = rigging.steel_height_m
    for letter, pick in zip(letters, body.picks, strict=True):
        rise = symbol("Z_steel") - symbol(f"Z_{letter}hook")
        if letter == "H":
            over = symbol("X_Hhook") + rise * tan(symbol("lean"))
            sheet.add(f"{pick.name}: its line at the steel", "X_Hsteel", over, "m", LINE)
            rise = rise / cos(symbol("lean"))
        if letter != "P":
            sheet.add(f"{pick.name}: hook to steel", f"L_{letter}", rise, "m", LINE)

"""The calculation sheet as data: each formula, the numbers put in, its result, where it is from.

In the order that a checker follows: masses, centre of gravity, weight, where the points are at the
tilt, the forces, what they are of their limits, the ends of the range.  The formulas are those that
derivation.py finds; the results are worked from the printed formula, not taken from loads.py.
"""

import numpy as np

from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet
from ..speaker.rigging import Rigging, Underhung
from . import derivation
from .balance import pulling_elevation_deg
from .body import HungBody, NotChecked, Point, has_bar, hung_body, masses, one_point_places
from .derivation import symbol
from .limits import DOUBT_IN_CENTRE
from .sheet import Sheet, Step, worked
from .working_lines import add_lines

GRAVITY = "standard gravity 9.80665 m/s² (CGPM 1901, in ISO 80000-3)"
MASSES = "centre of mass of parts"
LIMIT = "the marked working load limit, and the share of it that may be used, as given"


def working(
    cabinet: Cabinet | None,
    rigging: Rigging,
    *,
    flipped: bool,
    tilt_deg: float,
    at_m: Point | None = None,
) -> tuple[Step, ...] | NotChecked:
    """Every step from masses to utilisation, for a checker to follow by hand.

    at_m: (x, z) of the acoustic centre, which a pulling line to a fixed point depends on
    Raises RiggingError as loads.loads_at does.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    beta = pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    if rigging.method == "pull-back" and beta is None:
        return NotChecked("loads not checked: the pulling line depends on where the box is")
    sheet = Sheet()
    if rigging.below is not None:
        _add_second_box(sheet, rigging.below)
    _add_masses(sheet, masses(cabinet, rigging, flipped=flipped))
    sheet.known["tau"] = float(np.radians(tilt_deg))
    if rigging.method == "one point":
        _add_one_point(sheet, body, rigging)
    if len(body.picks) == 2:
        _add_points(sheet, body, ("H", "P") if beta is not None else ("F", "R"))
        if beta is None:
            _add_two_points(sheet, body)
        else:
            sheet.known["beta"] = float(np.radians(beta))
            _add_pull_back(sheet, body)
    _add_limits(sheet, body, rigging)
    if at_m is not None and len(body.picks) == 2 and rigging.method != "one point":
        add_lines(sheet, body, rigging, at_m=at_m)
    return tuple(sheet.steps)


def _add_second_box(sheet: Sheet, below: Underhung) -> None:
    from sympy import cos, sin

    sheet.known |= {"u_J": below.joint_m[0], "w_J": below.joint_m[1]}
    sheet.known |= {"u_B": below.centre_of_gravity_m[0], "w_B": below.centre_of_gravity_m[1]}
    sheet.known["sigma"] = float(np.radians(below.splay_deg))
    u, w, splay = symbol("u_B"), symbol("w_B"), symbol("sigma")
    for axis, turned in (
        ("u", u * cos(splay) + w * sin(splay)),
        ("w", w * cos(splay) - u * sin(splay)),
    ):
        name = f"second box: {axis} of its centre of gravity, turned by its splay about the joint"
        sheet.add(name, f"{axis}_2nd", symbol(f"{axis}_J") + turned, "m", derivation.TURNED)


def _add_masses(sheet: Sheet, parts: tuple[tuple[str, float, Point], ...]) -> None:
    mass = at_u = at_w = 0
    for k, (_, mass_kg, (u, w)) in enumerate(parts, start=1):
        sheet.known |= {f"m_{k}": mass_kg, f"u_{k}": u, f"w_{k}": w}
        m_k = symbol(f"m_{k}")
        mass, at_u, at_w = mass + m_k, at_u + m_k * symbol(f"u_{k}"), at_w + m_k * symbol(f"w_{k}")
    names = " + ".join(name for name, _, _ in parts)
    sheet.add(f"mass: {names}", "m", mass, "kg", MASSES)
    sheet.add("centre of gravity, forward", "u_G", at_u / symbol("m"), "m", MASSES)
    sheet.add("centre of gravity, up", "w_G", at_w / symbol("m"), "m", MASSES)
    sheet.known["g"] = G_M_S2
    sheet.add("weight", "W", symbol("m") * symbol("g"), "N", GRAVITY)


def _add_points(sheet: Sheet, body: HungBody, letters: tuple[str, str]) -> None:
    for letter, pick in zip(letters, body.picks, strict=True):
        sheet.known |= {f"u_{letter}": pick.at_m[0], f"w_{letter}": pick.at_m[1]}
    names = {letters[0]: body.picks[0].name, letters[1]: body.picks[1].name}
    for letter, name in (("G", "centre of gravity"), *names.items()):
        x, z = derivation.turned(letter)
        sheet.add(f"{name}, ahead of the acoustic centre", f"x_{letter}", x, "m", derivation.TURNED)
        sheet.add(f"{name}, above the acoustic centre", f"z_{letter}", z, "m", derivation.TURNED)


def _add_two_points(sheet: Sheet, body: HungBody) -> None:
    from sympy import Abs, atan, fraction

    forces = derivation.two_points()
    for letter, pick in zip("FR", body.picks, strict=True):
        sheet.add(
            f"{pick.name}: tension", f"T_{letter}", forces[f"T_{letter}"], "N", derivation.SECTION
        )
    sheet.known["e"] = DOUBT_IN_CENTRE.value
    doubt = symbol("W") * symbol("e") / Abs(symbol("x_F") - symbol("x_R"))
    sheet.add(
        "tension's doubt for e in the centre of gravity", "dT", doubt, "N", derivation.SECTION
    )
    for letter, pick in zip("FR", body.picks, strict=True):
        end = derivation.two_points_slack()[f"T_{letter}"]
        if abs(worked(fraction(end)[1], sheet.known)) > 1e-12:
            name = f"{pick.name}: tilt at which it bears nothing"
            sheet.add(name, f"τ_{letter}", atan(end), "deg", f"T_{letter} = 0, solved with SymPy")


def _add_pull_back(sheet: Sheet, body: HungBody) -> None:
    carrying, pulled = (pick.name for pick in body.picks)
    for name, letter, unit in (
        (f"{pulled}: tension of the pulling line", "T", "N"),
        (f"{carrying}: pull forward", "X_H", "N"),
        (f"{carrying}: pull up", "Z_H", "N"),
        (f"{carrying}: tension along its line", "T_H", "N"),
        (f"{carrying}: its line leans from plumb, upper end ahead", "lean", "deg"),
    ):
        sheet.add(name, letter, derivation.pull_back()[letter], unit, derivation.SECTION)


def _add_one_point(sheet: Sheet, body: HungBody, rigging: Rigging) -> None:
    from sympy import atan

    places_u_m, sheet.known["w_H"] = one_point_places(body, rigging)
    found = derivation.one_point()
    for u in places_u_m:
        sheet.known["u_H"] = u
        name = f"rest tilt, hung at u = {u:g} m"
        sheet.add(name, "τ_H", atan(found["tan_tau"]), "deg", derivation.RESTING)
    if has_bar(rigging):
        name = "where the hole must be for this tilt"
        sheet.add(name, "u_H", found["u_H"], "m", derivation.RESTING)
    sheet.known["e"] = DOUBT_IN_CENTRE.value
    doubt = symbol("e") * found["doubt"]
    sheet.add("tilt's change for e more of u_G", "dτ", doubt, "deg", derivation.RESTING)


def _add_limits(sheet: Sheet, body: HungBody, rigging: Rigging) -> None:
    letters = ("W",) if len(body.picks) == 1 else ("T_F", "T_R")
    if rigging.method == "pull-back":
        letters = ("T_H", "T")
    sheet.known |= {"k": rigging.dynamic_factor, "s": rigging.wll_share}
    for letter, pick in zip(letters, body.picks, strict=True):
        share = symbol(letter) / symbol("W")
        sheet.add(f"{pick.name}: share of the weight", "share", share, "", "definition")
        if pick.wll_n is None:
            continue
        sheet.known["WLL"] = pick.wll_n
        for load, name in ((letter, "utilisation"), ("W", "with the whole weight on it")):
            used = symbol(load) * symbol("k") / (symbol("WLL") * symbol("s"))
            sheet.add(f"{pick.name}: {name}", "utilisation", used, "", LIMIT)

"""The calculation sheet as data: each formula, the numbers put in, its result, where it is from.

In the order that a checker follows: masses, centre of gravity, weight, where the points are at the
tilt, the forces, what they are of their limits, the ends of the range; then the lines.  The
formulas are those that derivation.py finds; the results are worked from the printed formula, not
taken from loads.py.
"""

import numpy as np

from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet
from ..speaker.rigging import Rigging, Underhung
from . import derivation
from .body import HungBody, NotChecked, Point, has_bar, hung_body, masses, one_point_places
from .bridle import Bridle, Place
from .derivation import symbol
from .ground_stack import BoxAlone, Stability
from .limits import DOUBT_IN_CENTRE
from .lines import line_cable_n, line_masses_kg
from .statics import pulling_elevation_deg
from .steps import Sheet, Step, worked
from .wind import FlownWind

GRAVITY = "standard gravity 9.80665 m/s² (CGPM 1901, in ISO 80000-3)"
MASSES = "centre of mass of parts"
LIMIT = "the marked working load limit, and the share of it that may be used, as given"
LAYOUT = "the pick at its tilt, from the acoustic centre"
LINE = "right triangle of a line and its lean from plumb"
APEX = "ΣX = 0, ΣZ = 0 at the apex, solved with SymPy"
PLAN = "ΣX = 0, ΣY = 0, ΣZ = 0 at the apex, solved with SymPy"
WIND = "EN 1991-1-4 (read in a secondary text), without its site factors"
MOMENTS = "moments about the edge"
FRICTION = "friction at the base, as given"
HANGS_FREE = "ΣX = 0, ΣZ = 0 of a box that hangs free"


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
    _add_structure(sheet, body, rigging)
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


LINE_MASS = "the masses of a line's own parts, and its share of the cable, as given"
PART = "what hangs on a part: the line's pull and the parts below it"


def _add_structure(sheet: Sheet, body: HungBody, rigging: Rigging) -> None:
    """What each line brings to the structure, and what each of its parts bears of its limit."""
    from sympy import cos, sin, sqrt

    masses_kg, cable_n = line_masses_kg(body, rigging), line_cable_n(body, rigging)
    letters = {"two points": ("T_F", "T_R"), "pull-back": ("T_H", "T")}.get(rigging.method, ("W",))
    capacity = rigging.structure_capacity_n
    for k, (letter, own_kg, cable) in enumerate(zip(letters, masses_kg, cable_n, strict=True)):
        name, pull, factor, g = body.picks[k].name, symbol(letter), symbol("k"), symbol("g")
        down, level = pull, None
        if rigging.method == "pull-back":
            down = (pull * cos(symbol("lean")), pull * sin(symbol("beta")))[k]
            level = (pull * sin(symbol("lean")), pull * cos(symbol("beta")))[k]
        sheet.known |= {"m_line": own_kg, "G_cable": cable}
        bears, across = symbol("Z_S"), symbol("X") if level is not None else 0
        sheet.add(f"{name}: its line pulls down", "V", down, "N", derivation.SECTION)
        whole = factor * (symbol("V") + symbol("m_line") * g + symbol("G_cable"))
        sheet.add(f"{name}: down on the structure", "Z_S", whole, "N", LINE_MASS)
        if level is not None:
            sheet.add(f"{name}: its line pulls level", "X", level, "N", derivation.SECTION)
            of_both = factor * symbol("X")
            sheet.add(f"{name}: level on the structure", "X_S", of_both, "N", LINE_MASS)
            bears = sqrt(symbol("Z_S") ** 2 + symbol("X_S") ** 2)
        if capacity is not None:
            sheet.known["C"] = capacity
            used = bears / symbol("C")
            sheet.add(f"{name}: of the structure's capacity", "utilisation", used, "", "as given")
        parts = rigging.line_of(name)
        for n, part in enumerate(parts):
            sheet.known["m_below"] = sum(lower.mass_kg for lower in parts[n + 1 :])
            below = symbol("V") + symbol("m_below") * g
            load = sqrt(below**2 + across**2) if level is not None else below
            sheet.add(f"{name}, {part.name}: what hangs on it", "T_part", load, "N", PART)
            if part.wll_n is not None:
                sheet.known["WLL"] = part.wll_n
                used = symbol("T_part") * factor / (symbol("WLL") * symbol("s"))
                sheet.add(f"{name}, {part.name}: utilisation", "utilisation", used, "", LIMIT)


def wind_working(found: FlownWind, weight_n: float) -> tuple[Step, ...]:
    """What a steady wind does to a box that hangs free."""
    from sympy import Rational, atan, sqrt

    sheet = Sheet()
    sheet.known |= {"ρ": found.density_kg_m3, "v": found.gust_speed_m_s, "W": weight_n}
    sheet.known |= {"c_f": found.force_coefficient, "A": found.area_m2}
    pressure = Rational(1, 2) * symbol("ρ") * symbol("v") ** 2
    sheet.add("wind pressure", "q", pressure, "Pa", WIND)
    sheet.add("push of the wind", "F", symbol("c_f") * symbol("q") * symbol("A"), "N", WIND)
    lean = atan(symbol("F") / symbol("W"))
    sheet.add("the lines lean from plumb", "θ", lean, "deg", HANGS_FREE)
    pull = sqrt(symbol("W") ** 2 + symbol("F") ** 2)
    sheet.add("pull of all lines together", "T_w", pull, "N", HANGS_FREE)
    return tuple(sheet.steps)


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
            lengths = [part.length_m for part in rigging.line_of(pick.name)]
            if lengths:
                sheet.known["L_parts"] = sum(lengths)
                rise = symbol("Z_steel") - symbol(f"Z_{letter}hook") - symbol("L_parts")
                name = f"{pick.name}: left over the parts of its line"
                sheet.add(name, "spare", rise, "m", "difference")


def bridle_working(found: Bridle) -> tuple[Step, ...]:
    """Every step of a two-leg bridle: lengths, tensions, angles."""
    from sympy import atan, pi

    sheet = Sheet()
    sheet.known["W"] = found.load_n
    for k, leg in enumerate(found.legs, start=1):
        sheet.known |= {f"V_{k}": leg.drop_m, f"H_{k}": leg.reach_m}
    formulas = derivation.bridle()
    for k in (1, 2):
        sheet.add(f"leg {k}: length", f"L_{k}", formulas[f"L_{k}"], "m", "right triangle")
    for k in (1, 2):
        sheet.add(f"leg {k}: tension", f"T_{k}", formulas[f"T_{k}"], "N", APEX)
        angle = pi / 2 - atan(symbol(f"H_{k}") / symbol(f"V_{k}"))
        sheet.add(f"leg {k}: above horizontal", f"α_{k}", angle, "deg", "right triangle")
    level = symbol("T_1") * symbol("H_1") / symbol("L_1")
    sheet.add("horizontal pull of each leg", "X", level, "N", APEX)
    between = atan(symbol("H_1") / symbol("V_1")) + atan(symbol("H_2") / symbol("V_2"))
    sheet.add("angle between the legs", "γ", between, "deg", "angles of the two triangles")
    return tuple(sheet.steps)


def bridle_in_plan_working(
    load_n: float, apex_m: Place, points_m: tuple[Place, ...]
) -> tuple[Step, ...]:
    """Every step of a bridle to two or three points: ways from the apex, lengths, tensions."""
    from sympy import asin, sqrt

    sheet = Sheet()
    sheet.known |= {"W": load_n} | dict(zip(("X_A", "Y_A", "Z_A"), apex_m, strict=True))
    numbers = range(1, len(points_m) + 1)
    for k, point in zip(numbers, points_m, strict=True):
        sheet.known |= {f"{axis}_{k}": at for axis, at in zip("XYZ", point, strict=True)}
        for axis, way, name in (("X", "x", "along"), ("Y", "y", "aside"), ("Z", "V", "up")):
            step = symbol(f"{axis}_{k}") - symbol(f"{axis}_A")
            sheet.add(f"leg {k}: from the apex, {name}", f"{way}_{k}", step, "m", "difference")
    formulas, source = derivation.bridle_in_plan(), PLAN
    if len(points_m) == 2:
        formulas, source = derivation.bridle(), APEX
        for k in numbers:
            reach = sqrt(symbol(f"x_{k}") ** 2 + symbol(f"y_{k}") ** 2)
            sheet.add(f"leg {k}: reach in plan", f"H_{k}", reach, "m", "right triangle")
    for k in numbers:
        sheet.add(f"leg {k}: length", f"L_{k}", formulas[f"L_{k}"], "m", "right triangle")
    if "D" in formulas:
        sheet.add("what all three share", "D", formulas["D"], "m³", source)
    for k in numbers:
        sheet.add(f"leg {k}: tension", f"T_{k}", formulas[f"T_{k}"], "N", source)
        angle = asin(symbol(f"V_{k}") / symbol(f"L_{k}"))
        sheet.add(f"leg {k}: above horizontal", f"α_{k}", angle, "deg", "right triangle")
    return tuple(sheet.steps)


def _add_box_alone(sheet: Sheet, box: BoxAlone, friction: float | None) -> None:
    """The box that is not tied: its own edges, its wedge, and the slope that it slides from."""
    from sympy import atan, cos, sin

    sheet.known |= {"W_box": box.weight_n, "z_box": box.centre_z_m, "F_box": box.wind_n}
    for letter, edge in (("F", box.front), ("R", box.rear)):
        sheet.known[f"a_box{letter}"] = edge.margin_m
        slope = atan(symbol(f"a_box{letter}") / symbol("z_box"))
        name = f"the box alone tips over its {edge.name} edge"
        sheet.add(name, f"θ_box{letter}", slope, "deg", "centre of gravity above the edge")
    if box.raised:
        sheet.known |= {"l_face": box.face_m, "alpha": float(np.radians(box.wedge_deg))}
        height = symbol("l_face") * sin(symbol("alpha"))
        sheet.add(f"wedge under the {box.raised} end", "h_wedge", height, "m", "right triangle")
    if friction is not None:
        sheet.known["μ"] = friction
        sheet.add("slope that it slides from", "θ_slide", atan(symbol("μ")), "deg", FRICTION)
        if box.raised and box.sliding_safety is not None:
            weight, wind, alpha = symbol("W_box"), symbol("F_box"), symbol("alpha")
            holds = symbol("μ") * (weight * cos(alpha) - wind * sin(alpha))
            slides = weight * sin(alpha) + wind * cos(alpha)
            name = "on its wedge: friction over what pushes it down"
            sheet.add(name, "S", holds / slides, "", FRICTION)


def stack_working(found: Stability) -> tuple[Step, ...]:
    """Every step of a stack: weight, tipping by itself, wind, safeties, ballast."""
    from sympy import Rational, atan

    sheet = Sheet()
    sheet.known |= {"m": found.mass_kg, "g": G_M_S2}
    sheet.known |= {"z_G": found.centre_of_gravity_m[1], "a_F": found.front.margin_m}
    sheet.known["a_R"] = found.rear.margin_m
    sheet.add("weight", "W", symbol("m") * symbol("g"), "N", "standard gravity")
    edges = (("F", found.front), ("R", found.rear))
    for letter, edge in edges:
        slope = atan(symbol(f"a_{letter}") / symbol("z_G"))
        name = f"tips by itself over the {edge.name} edge"
        sheet.add(name, f"θ_{letter}", slope, "deg", "centre of gravity above the edge")
    if found.box is not None:
        _add_box_alone(sheet, found.box, found.friction)
    if found.wind_n <= 0.0:
        return tuple(sheet.steps)
    sheet.known |= {"ρ": found.density_kg_m3, "v": found.gust_speed_m_s}
    sheet.known |= {"c_f": found.force_coefficient, "A": found.wind_area_m2, "z_F": found.wind_z_m}
    pressure = Rational(1, 2) * symbol("ρ") * symbol("v") ** 2
    sheet.add("wind pressure", "q", pressure, "Pa", WIND)
    sheet.add("wind force", "F", symbol("c_f") * symbol("q") * symbol("A"), "N", WIND)
    for letter, edge in edges:
        safety = symbol("W") * symbol(f"a_{letter}") / (symbol("F") * symbol("z_F"))
        sheet.add(f"over the {edge.name} edge: holding over upsetting", "S", safety, "", MOMENTS)
    if found.friction is not None:
        sheet.known["μ"] = found.friction
        sliding = symbol("μ") * symbol("W") / symbol("F")
        sheet.add("sliding: friction over wind", "S", sliding, "", FRICTION)
    sheet.known["S_asked"] = found.asked
    for letter, edge, arm in (
        ("F", found.front, found.front.ballast_arm_m),
        ("R", found.rear, found.rear.ballast_arm_m),
    ):
        if not edge.ballast_kg:
            continue
        sheet.known[f"b_{letter}"] = arm
        short = symbol("S_asked") * symbol("F") * symbol("z_F") - symbol("W") * symbol(
            f"a_{letter}"
        )
        ballast = short / (symbol("g") * symbol(f"b_{letter}"))
        sheet.add(f"ballast against the {edge.name} edge", "m_b", ballast, "kg", found.asked_source)
    if found.friction is not None and found.sliding_ballast_kg > 0.0:
        slides = symbol("S_asked") * symbol("F") / symbol("μ") - symbol("W")
        name = "ballast against sliding"
        sheet.add(name, "m_b", slides / symbol("g"), "kg", found.asked_source)
    return tuple(sheet.steps)

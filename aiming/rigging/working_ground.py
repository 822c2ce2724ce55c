"""Calculation sheets of what does not hang from picks: a bridle, a ground stack."""

from ..base.units import G_M_S2
from . import derivation
from .bridle import Bridle
from .derivation import symbol
from .sheet import Sheet, Step
from .stack import Stability

APEX = "ΣX = 0, ΣZ = 0 at the apex, solved with SymPy"
WIND = "EN 1991-1-4 (read in a secondary text), without its site factors"
MOMENTS = "moments about the edge"


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
        sheet.add("sliding: friction over wind", "S", sliding, "", "friction at the base")
    sheet.known["S_asked"] = found.asked.value
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
        sheet.add(f"ballast against the {edge.name} edge", "m_b", ballast, "kg", found.asked.source)
    if found.friction is not None and found.sliding_ballast_kg > 0.0:
        slides = symbol("S_asked") * symbol("F") / symbol("μ") - symbol("W")
        name = "ballast against sliding"
        sheet.add(name, "m_b", slides / symbol("g"), "kg", found.asked.source)
    return tuple(sheet.steps)

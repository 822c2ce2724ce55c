"""The statics derived, not typed in: SymPy solves the equations of equilibrium.

    ΣX = 0,  ΣZ = 0,  ΣM = 0 about the origin, with M of a force (X, Z) at (x, z): x·Z − z·X

Tests hold the numeric code to these results, and the calculation sheet prints them.  SymPy is
imported here only when something is derived.
"""

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sympy import Expr, Symbol

    Force = tuple[tuple[Expr, Expr], tuple[Expr, Expr]]

SECTION = "ΣX = 0, ΣZ = 0, ΣM = 0 in the section, solved with SymPy"
TURNED = "a body point turned by the tilt τ (positive up)"
RESTING = "ΣM = 0 about the hole: the centre of gravity hangs plumb below it, solved with SymPy"


def symbol(name: str) -> "Symbol":
    """The real symbol of this name; the same one wherever it is asked for."""
    import sympy

    return sympy.Symbol(name, real=True)


def _symbols(names: str) -> "list[Symbol]":
    return [symbol(name) for name in names.split()]


def equilibrium(forces: "Sequence[Force]") -> "tuple[Expr, Expr, Expr]":
    """ΣX, ΣZ and ΣM about the origin of forces ((x, z), (X, Z)); each is nought at rest."""
    import sympy

    return (
        sum((force[0] for _, force in forces), sympy.S.Zero),
        sum((force[1] for _, force in forces), sympy.S.Zero),
        sum((at[0] * force[1] - at[1] * force[0] for at, force in forces), sympy.S.Zero),
    )


def _solved(forces: "Sequence[Force]", unknowns: "Sequence[Symbol]") -> "dict[str, Expr]":
    """The unknown forces by name, from the equilibrium of all of them."""
    import sympy

    [found] = sympy.solve(equilibrium(forces), unknowns, dict=True)
    return {unknown.name: sympy.factor(found[unknown]) for unknown in unknowns}


def turned(name: str) -> "tuple[Expr, Expr]":
    """x, z of a body point u_name, w_name after the tilt tau (radians)."""
    import sympy

    u, w, tau = _symbols(f"u_{name} w_{name} tau")
    return (u * sympy.cos(tau) - w * sympy.sin(tau), u * sympy.sin(tau) + w * sympy.cos(tau))


@cache
def two_points() -> "dict[str, Expr]":
    """T_F, T_R of two plumb lines under the weight W, in x of front, rear, centre of gravity."""
    import sympy

    front, rear, weight = _symbols("T_F T_R W")
    x_f, x_r, x_g, z_f, z_r, z_g = _symbols("x_F x_R x_G z_F z_R z_G")
    zero = sympy.S.Zero
    forces = (
        ((x_f, z_f), (zero, front)),
        ((x_r, z_r), (zero, rear)),
        ((x_g, z_g), (zero, -weight)),
    )
    return _solved(forces, (front, rear))


@cache
def two_points_slack() -> "dict[str, Expr]":
    """tan τ at which T_F, and at which T_R, becomes nought: the ends of the range."""
    import sympy

    t = symbol("t")
    ends = {}
    for name in ("T_F", "T_R"):
        [end] = sympy.solve(_in_tangent(two_points()[name], t), t)
        ends[name] = sympy.factor(end)
    return ends


def _in_tangent(expression: "Expr", t: "Symbol") -> "Expr":
    """The numerator of an expression in x, divided by cos τ, with t = tan τ."""
    import sympy

    given: dict[Any, Any] = {}
    for at in expression.free_symbols:
        kind, _, name = at.name.partition("_")
        if kind == "x":
            u, w = _symbols(f"u_{name} w_{name}")
            given[at] = u - w * t
    return sympy.numer(sympy.together(expression.subs(given)))


@cache
def one_point() -> "dict[str, Expr]":
    """tan_tau at rest, and u_H, where the hole must be for a tilt; from the moment about the hole.

    doubt: the slope dτ/du_G (radians per metre) at the rest tilt.
    """
    import sympy

    weight, t, u_g, u_h, w_g, w_h = _symbols("W t u_G u_H w_G w_H")
    moment = weight * ((u_g - w_g * t) - (u_h - w_h * t))
    [tangent] = sympy.solve(moment, t)
    [hole] = sympy.solve(moment, u_h)
    # dτ/du = (dt/du)·cos²τ
    doubt = sympy.diff(tangent, u_g) * sympy.cos(symbol("tau")) ** 2
    return {"tan_tau": tangent, "u_H": hole.subs(t, sympy.tan(symbol("tau"))), "doubt": doubt}


@cache
def pull_back() -> "dict[str, Expr]":
    """T of the pulling line, X_H and Z_H on the carrying pick, T_H along its line.

    The pulling line leaves P rearwards at the elevation beta (radians): force T·(−cos β, sin β).
    """
    import sympy

    pull, across, up, weight, beta = _symbols("T X_H Z_H W beta")
    x_h, z_h, x_p, z_p, x_g, z_g = _symbols("x_H z_H x_P z_P x_G z_G")
    forces = (
        ((x_h, z_h), (across, up)),
        ((x_p, z_p), (-pull * sympy.cos(beta), pull * sympy.sin(beta))),
        ((x_g, z_g), (sympy.S.Zero, -weight)),
    )
    found = _solved(forces, (pull, across, up))
    # Printed in T, as a checker would go on from it.
    carrying = equilibrium(forces)
    [x_of] = sympy.solve(carrying[0], across)
    [z_of] = sympy.solve(carrying[1], up)
    return {
        "T": _by_angle(found["T"], beta),
        "X_H": x_of,
        "Z_H": z_of,
        "T_H": sympy.sqrt(across**2 + up**2),
        "lean": sympy.atan(across / up),
    }


def _by_angle(tension: "Expr", beta: "Symbol") -> "Expr":
    """A fraction with both sides turned in sign, its denominator by sin β and cos β."""
    import sympy

    above, below = sympy.fraction(tension)
    by = [sympy.sin(beta), sympy.cos(beta)]
    return sympy.factor(-above) / sympy.collect(sympy.expand(-below), by)


@cache
def bridle() -> "dict[str, Expr]":
    """T_1, T_2 of a two-leg bridle over the load W, drops V, reaches H; L_1, L_2 its lengths."""
    import sympy

    first, second, weight, v_1, h_1, v_2, h_2 = _symbols("T_1 T_2 W V_1 H_1 V_2 H_2")
    l_1, l_2 = _symbols("L_1 L_2")
    zero = sympy.S.Zero
    apex = (zero, zero)
    forces = (
        (apex, (-first * h_1 / l_1, first * v_1 / l_1)),
        (apex, (second * h_2 / l_2, second * v_2 / l_2)),
        (apex, (zero, -weight)),
    )
    found = _solved(forces, (first, second))
    lengths = {"L_1": sympy.sqrt(v_1**2 + h_1**2), "L_2": sympy.sqrt(v_2**2 + h_2**2)}
    return {**lengths, **found}


@cache
def bridle_in_plan() -> "dict[str, Expr]":
    """L_k and T_k of three legs that go x_k, y_k, V_k from the apex, under the load W.

    Solved for q_k = T_k/L_k from ΣX = ΣY = ΣZ = 0; D is the denominator that they share.
    """
    import sympy

    weight, below = _symbols("W D")
    q = _symbols("q_1 q_2 q_3")
    ways = [_symbols(f"x_{k} y_{k} V_{k}") for k in (1, 2, 3)]
    x, y, up = (
        sum((pull * way[axis] for pull, way in zip(q, ways, strict=True)), sympy.S.Zero)
        for axis in range(3)
    )
    [found] = sympy.solve((x, y, up - weight), q, dict=True)
    formulas = {
        f"L_{k}": sympy.sqrt(sum((a**2 for a in way), sympy.S.Zero))
        for k, way in enumerate(ways, start=1)
    }
    for k, pull in enumerate(q, start=1):
        above, formulas["D"] = sympy.fraction(sympy.together(found[pull]))
        formulas[f"T_{k}"] = sympy.factor(above) * symbol(f"L_{k}") / below
    return formulas

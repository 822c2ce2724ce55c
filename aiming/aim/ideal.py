"""The closed form of the trade's rule: where a box of a given coverage would have to hang.

        o  box                    r(edge) = d      to the near end, at the coverage edge
       /  ' .                     r(axis) = 2d     to the far end, on the axis
    d /  φ    '  . 2d             φ  half the coverage angle
     /            '  .            β  between axis and audience line at the far end
    +-------- L --------' +
   near                  far

The edge is 6.02 dB down and the axis goes twice as far, so both ends are equally loud (common
practice, no source; the geometry below is plain trigonometry).  Air is left out.  In between it is
not equally loud: along the straight line the level is higher, most about a third of the way from
the near end, by `excess_db`.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from ..speaker.lobes import quadratic_db


@dataclass(frozen=True)
class Ideal:
    """The ideal position for a straight audience plane.

    x_m, height_m: the acoustic centre; tilt_deg: positive up
    near_throw_m, far_throw_m: to the two ends; axis_to_plane_deg: β
    excess_db: how much louder than its ends the line is at most, for the quadratic lobe
    excess_at_share: where, as a share of the line from its near end
    """

    x_m: float
    height_m: float
    tilt_deg: float
    near_throw_m: float
    far_throw_m: float
    axis_to_plane_deg: float
    excess_db: float
    excess_at_share: float


@dataclass(frozen=True)
class IdealStep:
    """One line of the working: formula, the numbers put in, the result with its unit."""

    name: str
    formula: str
    numbers: str
    result: str


def ideal(*, coverage_deg: float, near_m: tuple[float, float], far_m: tuple[float, float]) -> Ideal:
    """Where the box would hang for ears from near_m to far_m (x, z), near the box first.

    Raises ValueError where coverage is outside (0, 180) or the line has no length.
    """
    if not 0.0 < coverage_deg < 180.0:
        raise ValueError(f"{coverage_deg:g}°; must be between 0 and 180°, both excluded")
    run, rise = far_m[0] - near_m[0], far_m[1] - near_m[1]
    length = float(np.hypot(run, rise))
    if length == 0.0:
        raise ValueError("audience line of no length; two different points")
    half = np.radians(coverage_deg / 2.0)
    near = length / float(np.sqrt(5.0 - 4.0 * np.cos(half)))
    beta = float(np.arctan2(np.sin(half), 2.0 - np.cos(half)))
    slope = float(np.arctan2(rise, run))
    tilt = slope - beta
    share, excess = _excess(float(half))
    return Ideal(
        x_m=far_m[0] - 2.0 * near * float(np.cos(tilt)),
        height_m=far_m[1] - 2.0 * near * float(np.sin(tilt)),
        tilt_deg=float(np.degrees(tilt)),
        near_throw_m=near,
        far_throw_m=2.0 * near,
        axis_to_plane_deg=float(np.degrees(beta)),
        excess_db=excess,
        excess_at_share=share,
    )


def _excess(half_rad: float) -> tuple[float, float]:
    """(share from the near end, dB) of the loudest point of the line, quadratic lobe, no air."""
    # The box at the origin, axis along x, both throws in units of d.
    near = np.array([np.cos(half_rad), -np.sin(half_rad)])
    far = np.array([2.0, 0.0])
    share = np.linspace(0.0, 1.0, 20001)
    x, z = near[:, np.newaxis] + share * (far - near)[:, np.newaxis]
    angle = np.degrees(np.arctan2(z, x))
    level = quadratic_db(angle, float(np.degrees(half_rad))) - 10.0 * np.log10(x * x + z * z)
    at = int(np.argmax(level))
    return float(share[at]), float(level[at] - level[0])


@cache
def derivation() -> dict[str, Any]:
    """The rule solved with SymPy, from the two circles and the angle between the throws.

    Returns near (d), beta, and the box's place along and above the line, as expressions in
    L (length) and phi (half the coverage angle).
    """
    import sympy as sp

    length, phi, squared = sp.symbols("L phi d2", positive=True)
    along, above = sp.symbols("a h", real=True)
    # Law of cosines in the triangle box, near end, far end: sides d, 2d and L, angle φ at the box.
    law = sp.Eq(length**2, squared + 4 * squared - 4 * squared * sp.cos(phi))
    d2 = sp.solve(law, squared)[0]
    divisor = sp.expand(length**2 / d2)
    # Both circles cut at the box; their difference is linear in its place along the line.
    circles = sp.Eq(along**2 - (length - along) ** 2, d2 - 4 * d2)
    # Twice the triangle's area, once over the line and once over the angle.
    area = sp.Eq(length * above, 2 * d2 * sp.sin(phi))
    return {
        "L": length,
        "phi": phi,
        "near": length / sp.sqrt(divisor),
        "along": sp.simplify(sp.solve(circles, along)[0]),
        "above": sp.simplify(sp.solve(area, above)[0]),
        "beta": sp.atan2(sp.sin(phi), 2 - sp.cos(phi)),
    }


def working(
    *, coverage_deg: float, near_m: tuple[float, float], far_m: tuple[float, float]
) -> tuple[IdealStep, ...]:
    """Formula, numbers and result of each step, from the SymPy derivation."""
    import sympy as sp

    found = ideal(coverage_deg=coverage_deg, near_m=near_m, far_m=far_m)
    solved = derivation()
    length = float(np.hypot(far_m[0] - near_m[0], far_m[1] - near_m[1]))
    slope = float(np.degrees(np.arctan2(far_m[1] - near_m[1], far_m[0] - near_m[0])))
    half = coverage_deg / 2.0
    put = {solved["L"]: length, solved["phi"]: sp.rad(sp.Float(half))}

    def value(name: str) -> float:
        return float(solved[name].subs(put).evalf())

    numbers = f"L = {length:.4g} m, φ = {half:.4g}°"
    return (
        IdealStep(
            "near throw d", f"d = {sp.sstr(solved['near'])}", numbers, f"{value('near'):.3f} m"
        ),
        IdealStep("far throw", "2·d", f"d = {value('near'):.3f} m", f"{found.far_throw_m:.3f} m"),
        IdealStep(
            "axis to audience line",
            "β = atan(sin φ / (2 − cos φ))",
            f"φ = {half:.4g}°",
            f"{np.degrees(value('beta')):.2f}°",
        ),
        IdealStep(
            "tilt",
            "slope − β",
            f"slope = {slope:.2f}°, β = {found.axis_to_plane_deg:.2f}°",
            f"{found.tilt_deg:.2f}° (positive up)",
        ),
        IdealStep(
            "along the audience line from its near end",
            f"a = {sp.sstr(solved['along'])}",
            numbers,
            f"{value('along'):.3f} m",
        ),
        IdealStep(
            "square above the audience line",
            f"h = {sp.sstr(solved['above'])}",
            numbers,
            f"{value('above'):.3f} m",
        ),
        IdealStep(
            "x of the acoustic centre",
            "x_near + a·cos(slope) − h·sin(slope)",
            f"x_near = {near_m[0]:.3f} m",
            f"{found.x_m:.3f} m",
        ),
        IdealStep(
            "height of the acoustic centre",
            "z_near + a·sin(slope) + h·cos(slope)",
            f"z_near = {near_m[1]:.3f} m",
            f"{found.height_m:.3f} m",
        ),
    )

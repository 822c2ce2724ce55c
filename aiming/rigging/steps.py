"""A step of a calculation: formula, the numbers put in, the result, the source.

The results are worked from the printed formula, not taken from elsewhere.
"""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sympy import Expr

GREEK = {"tau": "τ", "beta": "β", "sigma": "σ", "pi": "π", "alpha": "α"}
"""Angles by name, worked in radians and shown in degrees."""


@dataclass(frozen=True)
class Step:
    """One line of the sheet: symbol = formula = numbers = result unit (name; source)."""

    name: str
    symbol: str
    formula: str
    numbers: str
    result: float
    unit: str
    source: str


class Sheet:
    """Collects steps; each result goes into the formulas that follow."""

    def __init__(self) -> None:
        self.steps: list[Step] = []
        self.known: dict[str, float] = {}

    def add(self, name: str, symbol: str, formula: "Expr", unit: str, source: str) -> float:
        """Work a formula from what is known; an angle is worked in radians and shown in degrees."""
        result = worked(formula, self.known)
        self.known[symbol] = result
        shown = float(np.degrees(result)) if unit == "deg" else result
        self.steps.append(
            Step(
                name=name,
                symbol=symbol,
                formula=written(formula),
                numbers=written(formula, self.known),
                result=shown,
                unit=unit,
                source=source,
            )
        )
        return result


def worked(formula: "Expr", known: dict[str, float]) -> float:
    """A formula's number, from the known numbers by symbol."""
    return float(formula.evalf(17, subs={at: known[at.name] for at in formula.free_symbols}))


def written(formula: "Expr", known: dict[str, float] | None = None) -> str:
    """The formula as text, with its symbols, or with their numbers in six figures."""
    from sympy import sstr

    text = str(sstr(formula, order="none")).replace("**", "^").replace("*", "·")

    def named(found: re.Match[str]) -> str:
        name = found.group()
        if known is None or name not in known:
            return GREEK.get(name, name)
        if name in GREEK:
            return f"{np.degrees(known[name]):.6g}°"
        return f"{known[name]:.6g}" if known[name] >= 0.0 else f"({known[name]:.6g})"

    return re.sub(r"[^\W\d]\w*", named, text)

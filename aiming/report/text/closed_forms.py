"""A calculation's steps as text: name, formula, numbers put in, result."""

from collections.abc import Iterable
from dataclasses import asdict
from textwrap import wrap
from typing import Any

from ...aim.ideal import Ideal, IdealStep
from ...base.units import Unit, both_forces_text, both_lengths_text, tilt_text, x_text
from ...results.answer import Caution
from ...rigging.bridle import Bridle, Leg
from ...rigging.steps import Step
from .terminal import WIDTH, labelled

_INDENT = "    "


def step_lines(steps: Iterable[tuple[str, str, str, str]]) -> list[str]:
    """Each step (name, formula, numbers, result) in two or three lines of 80 columns."""
    lines = []
    for name, formula, numbers, result in steps:
        lines.append(f"{name}: {result}")
        for text in (formula, numbers):
            lines += wrap(text, WIDTH - 1, initial_indent=_INDENT, subsequent_indent=_INDENT + "  ")
    return lines


# A bridle as text and as plain data.


def bridle_text(
    found: Bridle,
    cautions: tuple[Caution, ...],
    steps: tuple[Step, ...],
    *,
    unit: Unit,
    load_of: str = "",
) -> str:
    """Leg by leg, then what must be said; load_of: whose load it is; the working of the steps."""
    whose = f": {load_of}" if load_of else ""
    lines = labelled("load", f"{both_forces_text(found.load_n, unit)}{whose}")
    for number, leg in enumerate(found.legs, start=1):
        lines += labelled(
            f"leg {number}",
            f"{both_forces_text(leg.tension_n, unit)}, {100.0 * leg.share:.0f} % of the load; "
            f"length {both_lengths_text(leg.length_m, unit)}{_cut_text(leg, unit)}, "
            f"{leg.elevation_deg:.1f}° above horizontal (factor {leg.leg_factor:.3f}); on its "
            f"point {both_forces_text(leg.vertical_n, unit)} down and "
            f"{both_forces_text(leg.horizontal_n, unit)} inwards",
        )
    of_two = len(found.legs) == 2
    widest = "between the legs" if of_two else "between the two legs that stand widest apart"
    lines += labelled("angle", f"{found.included_deg:.1f}° {widest}")
    which = "each leg pulls" if of_two else "no leg pulls more than"
    lines += labelled("pull", f"{which} {both_forces_text(found.horizontal_n, unit)} horizontally")
    plain, *doubts = cautions
    for caution in doubts:
        lines += labelled(caution.severity, caution.text)
    lines += ["", *wrap(plain.text, WIDTH - 1)]
    if steps:
        lines += ["", "Working"]
        lines += step_lines(
            (
                f"{one.name} (from {one.source})",
                f"{one.symbol} = {one.formula}",
                f"= {one.numbers}",
                f"{one.result:.4g} {'°' if one.unit == 'deg' else one.unit}",
            )
            for one in steps
        )
    return "\n".join(lines) + "\n"


def _cut_text(leg: Leg, unit: Unit) -> str:
    """What is left for the leg itself, where hardware takes up some of its length."""
    if leg.take_up_m == 0.0:
        return ""
    return (
        f", of which hardware takes up {both_lengths_text(leg.take_up_m, unit)}: cut it to "
        f"{both_lengths_text(leg.cut_m, unit)}"
    )


def bridle_dict(
    found: Bridle, cautions: tuple[Caution, ...], steps: tuple[Step, ...]
) -> dict[str, Any]:
    """Plain data for JSON."""
    return {
        "schema": 1,
        **asdict(found),
        "cautions": [asdict(one) for one in cautions],
        "working": [asdict(one) for one in steps],
    }


# The closed form's answer, with the honest remark that belongs to it.


def ideal_text(found: Ideal, steps: tuple[IdealStep, ...], *, unit: Unit) -> str:
    """Place, tilt and throws; the remark; the working where steps are given."""
    lines = [
        *labelled("tilt", tilt_text(found.tilt_deg)),
        *labelled("height", f"{both_lengths_text(found.height_m, unit)} above the datum"),
        *labelled("x", x_text(found.x_m, unit)),
        *labelled(
            "throws",
            f"{both_lengths_text(found.near_throw_m, unit)} to the near end, at the coverage "
            f"edge; {both_lengths_text(found.far_throw_m, unit)} to the far end, on the axis",
        ),
        "",
        *wrap(remark(found), WIDTH - 1),
    ]
    if steps:
        told = [(one.name, one.formula, one.numbers, one.result) for one in steps]
        lines += ["", "Working (φ half the coverage angle, L the audience line, d the near throw)"]
        lines += step_lines(told)
    return "\n".join(lines) + "\n"


def remark(found: Ideal) -> str:
    """What the rule does not say of itself."""
    return (
        "Common practice: both ends are equally loud, since the near one is 6 dB down and half as "
        "far. The straight line between them is not: for a quadratic lobe it is "
        f"{found.excess_db:.1f} dB louder at {100.0 * found.excess_at_share:.0f} % of its length "
        "from the near end. Air is left out. A position on paper is no rigging design."
    )


def ideal_dict(found: Ideal, steps: tuple[IdealStep, ...]) -> dict[str, Any]:
    """Plain data for JSON."""
    return {"schema": 1, **asdict(found), "working": [asdict(one) for one in steps]}

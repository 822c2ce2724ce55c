"""A two-leg bridle as text and as plain data."""

from dataclasses import asdict
from textwrap import wrap
from typing import Any

from ..answer.caution_bridle import bridle_cautions
from ..rigging.bridle import Bridle
from ..rigging.sheet import Step
from ..units import Unit, both_forces_text, both_lengths_text
from .steps_text import step_lines
from .terminal import WIDTH, labelled


def bridle_text(found: Bridle, steps: tuple[Step, ...], *, unit: Unit) -> str:
    """Leg by leg, then what must be said; the working where steps are given."""
    lines = labelled("load", both_forces_text(found.load_n, unit))
    for number, leg in enumerate(found.legs, start=1):
        lines += labelled(
            f"leg {number}",
            f"{both_forces_text(leg.tension_n, unit)}, {100.0 * leg.share:.0f} % of the load; "
            f"length {both_lengths_text(leg.length_m, unit)}, {leg.elevation_deg:.1f}° above "
            f"horizontal (factor {leg.leg_factor:.3f}); on its point "
            f"{both_forces_text(leg.vertical_n, unit)} down and "
            f"{both_forces_text(leg.horizontal_n, unit)} inwards",
        )
    lines += labelled("angle", f"{found.included_deg:.1f}° between the legs")
    lines += labelled("pull", f"each leg pulls {both_forces_text(found.horizontal_n, unit)} level")
    plain, *doubts = bridle_cautions(found)
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


def bridle_dict(found: Bridle, steps: tuple[Step, ...]) -> dict[str, Any]:
    """Plain data for JSON."""
    return {
        "schema": 1,
        **asdict(found),
        "cautions": [asdict(one) for one in bridle_cautions(found)],
        "working": [asdict(one) for one in steps],
    }

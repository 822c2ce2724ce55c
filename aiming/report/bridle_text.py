"""A two-leg bridle as text and as plain data."""

from dataclasses import asdict
from textwrap import wrap
from typing import Any

from ..rigging.bridle import Bridle
from ..rigging.sheet import Step
from ..units import Unit, both_forces_text, both_lengths_text
from .steps_text import step_lines
from .terminal import WIDTH, labelled

LEAST_ELEVATION_DEG = 30.0
"""Sling legs not below 30° above horizontal (training texts on ASME B30.9 and B30.26)."""
LARGEST_INCLUDED_DEG = 120.0
"""Included angle at most 120° (the same)."""
CAUTION = (
    "This is no rigging design: the legs are taken as weightless and unstretched, the load as "
    "plumb and at rest. Hardware, structure and angles need local codes, the maker's data and a "
    "competent or licensed person."
)


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
    for text in doubts(found):
        lines += labelled("caution", text)
    lines += ["", *wrap(CAUTION, WIDTH - 1)]
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


def doubts(found: Bridle) -> list[str]:
    """Angles beyond what the trade's training texts allow."""
    said = [
        f"leg {number} is only {leg.elevation_deg:.1f}° above horizontal; training texts on "
        f"ASME B30.9 ask for at least {LEAST_ELEVATION_DEG:g}°"
        for number, leg in enumerate(found.legs, start=1)
        if leg.elevation_deg < LEAST_ELEVATION_DEG
    ]
    if found.included_deg > LARGEST_INCLUDED_DEG:
        said.append(
            f"{found.included_deg:.1f}° between the legs; the same texts ask for at most "
            f"{LARGEST_INCLUDED_DEG:g}°"
        )
    return said


def bridle_dict(found: Bridle, steps: tuple[Step, ...]) -> dict[str, Any]:
    """Plain data for JSON."""
    return {
        "schema": 1,
        **asdict(found),
        "cautions": [CAUTION, *doubts(found)],
        "working": [asdict(one) for one in steps],
    }

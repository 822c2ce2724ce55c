"""The closed form's answer, with the honest remark that belongs to it."""

from dataclasses import asdict
from textwrap import wrap
from typing import Any

from ..aim.ideal import Ideal, Step
from ..units import Unit, both_lengths_text, tilt_text, x_text
from .steps_text import step_lines
from .terminal import WIDTH, labelled


def ideal_text(found: Ideal, steps: tuple[Step, ...], *, unit: Unit) -> str:
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


def ideal_dict(found: Ideal, steps: tuple[Step, ...]) -> dict[str, Any]:
    """Plain data for JSON."""
    return {"schema": 1, **asdict(found), "working": [asdict(one) for one in steps]}

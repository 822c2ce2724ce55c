"""`aiming ideal`: the closed form of the trade's rule."""

import math
from typing import Annotated

from . import options as opt
from .common import UsageError, length_m, print_json, print_text, unit_of
from .options import option


def ideal(
    coverage: Annotated[float, option("--coverage DEG", "Coverage angle in degrees, 0 to 180.")],
    length: Annotated[str, option("--length L", "Length of the audience line, ear to ear.")],
    slope: Annotated[float, option("--slope DEG", "How much the audience line rises.")] = 0.0,
    near: Annotated[str, option("--near X", "First row, in front of the datum.")] = "0 m",
    ears: Annotated[str, option("--ears Z", "Ears of the first row, above the datum.")] = "1.2 m",
    units: opt.Units = "m",
    working: opt.Steps = False,
    as_json: opt.AsJson = False,
) -> None:
    """Say where a box would ideally hang for a straight audience."""
    from ..aim import ideal as closed_form
    from ..report.text.closed_forms import ideal_dict, ideal_text

    reach = length_m("--length", length, units)
    if not reach > 0.0:
        raise UsageError(f"--length: {length}; must be more than 0")
    if not -90.0 < slope < 90.0:
        raise UsageError(f"--slope: {slope:g}°; must be between -90 and 90")
    start = (length_m("--near", near, units), length_m("--ears", ears, units))
    angle = math.radians(slope)
    end = (start[0] + reach * math.cos(angle), start[1] + reach * math.sin(angle))
    try:
        found = closed_form.ideal(coverage_deg=coverage, near_m=start, far_m=end)
    except ValueError as error:
        raise UsageError(f"--coverage: {error}") from None
    steps = closed_form.working(coverage_deg=coverage, near_m=start, far_m=end) if working else ()
    if as_json:
        print_json(ideal_dict(found, steps))
    else:
        print_text(ideal_text(found, steps, unit=unit_of(units)))

"""The loads of a flown loudspeaker and the margins of a stack, as the answer gives them.

Plain dictionaries: every figure in the unit of its name, None where it is not known.
"""

from dataclasses import asdict
from typing import Any

from ..scenario.scenario import Scenario
from .held import Held, held_at
from .placed import Placed


def loads_of(scenario: Scenario, at: Placed) -> dict[str, Any] | None:
    """The contract's loads object with more figures; None where nothing could be computed."""
    return loads_dict(held_at(scenario, at.speaker, at.placement))


def stack_of(scenario: Scenario, at: Placed) -> dict[str, Any] | None:
    """The margins of a stack; None where it hangs, or where nothing could be computed."""
    return stack_dict(held_at(scenario, at.speaker, at.placement))


def loads_dict(held: Held) -> dict[str, Any] | None:
    """weight_n, points (the picks), lines (what goes up to the steel), ranges and settings.

    A bar's picks are its points and the bar's own line is its line; else the two go together.
    """
    loads, layout, rigging = held.loads, held.layout, held.rigging
    if loads is None or layout is None or rigging is None:
        return None
    return {
        "method": rigging.method,
        "weight_n": loads.weight_n,
        "mass_kg": loads.mass_kg,
        "centre_of_gravity_m": loads.centre_of_gravity_m,
        "points": [asdict(point) for point in loads.points],
        "lines": [asdict(line) for line in layout.points],
        "difference_m": layout.difference_m,
        "spacing_m": layout.spacing_m,
        "shift_m": layout.shift_m,
        "total_n": layout.total_n,
        "not_counted": layout.not_counted,
        "tilt_range_deg": loads.tilt_range_deg,
        "least_share_tilt_range_deg": loads.least_share_range_deg,
        "settings": None
        if loads.settings is None
        else [{"tilt_deg": tilt, "hole_u_m": hole} for tilt, hole in loads.settings],
        "reachable": loads.reachable,
        "unreachable": loads.unreachable,
        "hole_u_m": loads.hole_u_m,
        "doubt_deg": loads.doubt_deg,
        "pull_elevation_deg": loads.pull_elevation_deg,
        "dynamic_factor": loads.dynamic_factor,
        "wll_share": loads.wll_share,
    }


def stack_dict(held: Held) -> dict[str, Any] | None:
    """Tipping over both edges, sliding, wind and least ballast."""
    stack = held.stack
    if stack is None:
        return None
    found = {name: value for name, value in asdict(stack).items() if name != "asked"}
    return {
        **found,
        "wind_checked": held.in_wind,
        "asked": stack.asked.value,
        "asked_source": stack.asked.source,
    }

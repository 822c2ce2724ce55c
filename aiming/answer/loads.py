"""The loads of a flown loudspeaker at its final tilt, for the answer."""

from typing import Any

from ..rigging.body import NotChecked
from ..rigging.loads import Loads, loads_at
from ..scenario.scenario import Scenario
from .figures import Placed


def computed_loads(scenario: Scenario, at: Placed) -> Loads | NotChecked:
    """The loads, or what is missing for them."""
    declared = scenario.rigging.get(at.speaker.name, {})
    rigging = declared.get(at.placement.orientation)
    if at.speaker.hang.mount != "flown":
        return NotChecked("stands on its base")
    if rigging is None:
        return NotChecked("no rigging is given")
    return loads_at(
        at.speaker.cabinet,
        rigging,
        flipped=bool(at.placement.flipped),
        tilt_deg=float(at.placement.tilt_deg),
        at_m=(float(at.placement.x_m), float(at.placement.height_m)),
    )


def loads_of(scenario: Scenario, at: Placed) -> dict[str, Any] | None:
    """The contract's loads object; None where nothing could be computed."""
    loads = computed_loads(scenario, at)
    if isinstance(loads, NotChecked):
        return None
    return {
        "weight_n": loads.weight_n,
        "points": [
            {
                "name": point.name,
                "tension_n": point.tension_n,
                "share": point.share,
                "utilisation": point.utilisation,
                "whole_weight_utilisation": point.whole_weight_utilisation,
                "lean_deg": point.lean_deg,
                "doubt_n": point.doubt_n,
            }
            for point in loads.points
        ],
        "tilt_range_deg": loads.tilt_range_deg,
        "least_share_tilt_range_deg": loads.least_share_range_deg,
        "reachable": loads.reachable,
    }

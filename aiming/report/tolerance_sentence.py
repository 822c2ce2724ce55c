"""What a degree and a hand's breadth cost, in a sentence."""

from ..answer.model import SpeakerAnswer
from ..scenario.scenario import Scenario
from ..units import Unit, length_text
from .words import db_text

_NAMES = {"spread": "spread", "worst band": "worst-band spread", "deviation": "deviation"}


def tolerance_sentence(scenario: Scenario, one: SpeakerAnswer) -> tuple[str, str] | None:
    """Label and sentence; None where the scenario gives no tolerance."""
    found = one.tolerance
    if found is None:
        return None
    unit = scenario.units
    parts = []
    if found.tilt_deg > 0.0:
        parts.append(f"{found.tilt_deg:g}° off in tilt costs {db_text(found.tilt_costs_db)}")
    if place := _place(found.height_m, found.x_m, unit):
        parts.append(f"{place} {db_text(found.place_costs_db)}")
    if not parts:
        return None
    what = _NAMES[found.objective]
    together = f", together {db_text(found.costs_db)}" if len(parts) == 2 else ""
    aimed = "; placed so that this is least" if scenario.aim.at_worst else ""
    text = (
        f"{', '.join(parts)}{together}: {what} at most {db_text(found.worst_db)} within the "
        f"tolerance, proven{aimed}."
    )
    return "tolerance", text


def _place(height_m: float, x_m: float, unit: Unit) -> str:
    """The sizes of a place's tolerance, each with its direction."""
    sizes = [(height_m, "in height"), (x_m, "in x")]
    return " and ".join(f"{length_text(size, unit)} {way}" for size, way in sizes if size > 0.0)

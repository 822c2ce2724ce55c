"""The scenario's own text with another placement in it; comments and layout stay as they are."""

import tomllib
from typing import Any, Literal

from ..base.errors import AimingError
from ..base.units import FOOT_M, tilt_text
from ..files.toml_edit import edited_text
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.speaker import Placement, Speaker
from .model import Found

Which = Literal["corrected", "hung"]


class RewriteError(AimingError):
    """The scenario's text cannot be given another placement; the text says why."""


def corrected_text(scenario: Scenario, found: Found, *, which: Which = "corrected") -> str:
    """The scenario file with the placement as it is to hang now, or as it hangs.

    Raises RewriteError where that is not known, and TextEditError where the text cannot be changed.
    """
    placement = found.hung if which == "hung" else found.corrected
    if placement is None and which == "hung":
        raise RewriteError("it is not known how the box hangs: there is nothing to write")
    if placement is None:
        raise RewriteError("no move is advised: there is nothing to write")
    speaker = scenario.speaker(found.speaker)
    index = scenario.number_in_file(speaker.name)
    text, expected = _own_text(scenario)
    held = expected["speaker"][index].setdefault("placement", {})
    held |= _values(scenario, speaker, placement, held)
    return _heading(found, placement, which) + edited_text(text, expected)


def weighed_text(scenario: Scenario, found: Found) -> str:
    """The scenario file with the mass and the centre of gravity that were weighed.

    Raises RewriteError where they are not known, and TextEditError as corrected_text does.
    """
    weighed = found.weighed
    if weighed is None or weighed.centre_m is None:
        raise RewriteError(
            "no centre of gravity is known from these readings, so nothing was written: it takes "
            "load cells level and again tilted by 10° or more"
        )
    text, expected = _own_text(scenario)
    speaker = scenario.number_in_file(found.speaker)
    cabinet = expected["speaker"][speaker]["cabinet"]
    cabinet |= weighed.for_file(scenario.units)
    if "mass_kg" in cabinet:
        cabinet.pop("mass", None)
    return f"# {found.speaker}: mass and centre of gravity as weighed.\n" + edited_text(
        text, expected
    )


def _own_text(scenario: Scenario) -> tuple[str, dict[str, Any]]:
    """The scenario's own text and what it says; raises RewriteError where that was changed."""
    text = scenario.text.removeprefix("\ufeff")
    if tomllib.loads(text) != scenario.document:
        raise RewriteError("the scenario was changed on the way in: write from the file itself")
    return text, tomllib.loads(text)


def _values(
    scenario: Scenario, speaker: Speaker, placement: Placement, held: dict[str, Any]
) -> dict[str, Any]:
    """The keys to be set, in the file's unit, to the millimetre and the hundredth of a degree."""
    metre = FOOT_M if scenario.units == "ft" else 1.0
    tilt = round(placement.tilt_deg, 2)
    height = placement.height_m
    values: dict[str, Any] = {"x": round(placement.x_m / metre, 3)}
    if "trim" in held:
        flipped = placement.flipped
        drop = float(drop_m(speaker.cabinet, tilt_deg=tilt, flipped=flipped))
        values["trim"] = round((height - drop) / metre, 3)
    elif "base" not in held:
        values["height"] = round(height / metre, 3)
    values |= {"tilt": tilt, "orientation": placement.orientation}
    defaults = {"x": 0.0, "orientation": "upright"}
    return {
        key: int(value) if isinstance(value, float) and value.is_integer() else value
        for key, value in values.items()
        if held.get(key, defaults.get(key)) != value
    }


def _heading(found: Found, placement: Placement, which: Which) -> str:
    state = "as it hangs" if which == "hung" or found.corrected is None else "as corrected"
    tilt = tilt_text(placement.tilt_deg)
    return (
        f"# {found.speaker} {state} after measuring on site: {tilt}, "
        f"acoustic centre at {placement.height_m:.2f} m.\n"
    )

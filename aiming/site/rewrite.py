"""The scenario's own text with another placement in it; comments and layout stay as they are."""

import re
import tomllib
from typing import Any, Literal

from ..base.errors import AimingError
from ..base.units import FOOT_M, tilt_text
from ..files.toml_places import Path, Place, places_of
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.speaker import Placement, Speaker
from .model import Found

Which = Literal["corrected", "hung"]
_STRING = re.compile(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'')
_PLAIN = re.compile(r"[^,\]}#\r\n]+")


class RewriteError(AimingError):
    """The scenario's text cannot be given another placement; the text says why."""


def corrected_text(scenario: Scenario, found: Found, *, which: Which = "corrected") -> str:
    """The scenario file with the placement as it is to hang now, or as it hangs.

    Raises RewriteError where that is not known, or where the text cannot be changed in place.
    """
    placement = found.hung if which == "hung" else found.corrected or found.hung
    if placement is None:
        raise RewriteError("it is not known how the box hangs: there is nothing to write")
    if tomllib.loads(scenario.text.removeprefix("\ufeff")) != scenario.document:
        raise RewriteError("the scenario was changed on the way in: write from the file itself")
    speaker = scenario.speaker(found.speaker)
    index = scenario.speakers.index(speaker)
    text = scenario.text.removeprefix("\ufeff")
    expected = tomllib.loads(text)
    table: Path = ("speaker", index, "placement")
    held = expected["speaker"][index].setdefault("placement", {})
    for key, value in _values(scenario, speaker, placement, held).items():
        text = _with(text, table, key, _toml(value))
        held[key] = value
    if tomllib.loads(text) != expected:
        raise RewriteError("the placement stands in the text in a way that cannot be changed there")
    return _heading(found, placement, which) + text


def _values(
    scenario: Scenario, speaker: Speaker, placement: Placement, held: dict[str, Any]
) -> dict[str, Any]:
    """The keys to be set, in the file's unit, to the millimetre and the hundredth of a degree."""
    metre = FOOT_M if scenario.units == "ft" else 1.0
    tilt = round(float(placement.tilt_deg), 2)
    height = float(placement.height_m)
    values: dict[str, Any] = {"x": round(float(placement.x_m) / metre, 3)}
    if "trim" in held:
        flipped = bool(placement.flipped)
        drop = float(drop_m(speaker.cabinet, tilt_deg=tilt, flipped=flipped))
        values["trim"] = round((height - drop) / metre, 3)
    elif "base" not in held:
        values["height"] = round(height / metre, 3)
    values |= {"tilt": tilt, "orientation": placement.orientation}
    defaults = {"x": 0.0, "orientation": "upright"}
    return {
        key: value for key, value in values.items() if held.get(key, defaults.get(key)) != value
    }


def _toml(value: float | str) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:.10g}"


def _with(text: str, table: Path, key: str, value: str) -> str:
    """The text with one key of a table set."""
    places = places_of(text)
    if (*table, key) in places:
        start, end = _value_span(text, _offset(text, places[(*table, key)]))
        return text[:start] + value + text[end:]
    if table not in places:
        raise RewriteError("the loudspeaker has no placement table in the text")
    at = _offset(text, places[table])
    line_end = text.find("\n", at) if "\n" in text[at:] else len(text)
    line_start = text.rfind("\n", 0, at) + 1
    if text[line_start:at].lstrip().startswith("["):
        return f"{text[:line_end]}\n{key} = {value}{text[line_end:]}"
    brace = re.compile(r"placement\s*=\s*\{").match(text, at)
    if brace is None:
        raise RewriteError("the placement is no table of its own in the text")
    return f"{text[: brace.end()]} {key} = {value},{text[brace.end() :]}"


def _offset(text: str, place: Place) -> int:
    line, column = place
    at = 0
    for _ in range(line - 1):
        at = text.index("\n", at) + 1
    return at + column - 1


def _value_span(text: str, at: int) -> tuple[int, int]:
    """Where the value of the key at this offset starts and ends."""
    key = _STRING.match(text, at)
    start = text.index("=", key.end() if key else at) + 1
    start += len(text[start:]) - len(text[start:].lstrip())
    if string := _STRING.match(text, start):
        return start, string.end()
    if text[start] != "[":
        plain = _PLAIN.match(text, start)
        assert plain is not None, "the text was read before"
        return start, start + len(plain[0].rstrip())
    depth, end = 0, start
    while True:
        if string := _STRING.match(text, end):
            end = string.end()
            continue
        if text[end] == "#":
            end = text.index("\n", end)
        depth += {"[": 1, "]": -1}.get(text[end], 0)
        end += 1
        if depth == 0:
            return start, end


def _heading(found: Found, placement: Placement, which: Which) -> str:
    state = "as it hangs" if which == "hung" or found.corrected is None else "as corrected"
    tilt = tilt_text(float(placement.tilt_deg))
    return (
        f"# {found.speaker} {state} after measuring on site: {tilt}, "
        f"acoustic centre at {float(placement.height_m):.2f} m.\n"
    )

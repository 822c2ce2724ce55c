"""How the command line gives the same: every aim of the page as an `aiming evaluate`."""

import shlex
from typing import Any

import numpy as np

from ...answer.lattice import Lattice
from ...answer.model import Answer, SpeakerAnswer
from ...scenario.address import quoted
from ...scenario.scenario import Scenario
from ...units import FOOT_M


def command_words(scenario: Scenario, answer: Answer, lattice: Lattice) -> dict[str, Any]:
    """How to evaluate the aim shown: the words before, then each key with its values."""
    before = ["aiming", "evaluate", scenario.file]
    for one in answer.speakers:
        if one.name != lattice.name:
            before += _settings(scenario, one)
    speaker = scenario.speaker(lattice.name)
    key = f"speaker.{quoted(lattice.name)}.placement"
    if speaker.hang.x_m[0] != speaker.hang.x_m[1]:
        one = next(of for of in answer.speakers if of.name == lattice.name)
        before += ["--set", f"{key}.x={_exact(one.x_m)} m"]
    axes = lattice.axes
    vertical = [_length(float(of), scenario) for of in axes.vertical_m]
    standing = speaker.hang.mount == "stacked" and axes.vertical == "trim"
    return {
        "before": " ".join(shlex.quote(of) for of in before),
        "tilt": [_set(f"{key}.tilt={_exact(of)}") for of in axes.tilt_deg],
        "vertical": None if standing else [_set(f"{key}.{axes.vertical}={of}") for of in vertical],
        "orientation": [_set(f"{key}.orientation={of.orientation}") for of in lattice.turned]
        if len(lattice.turned) > 1
        else None,
    }


def _settings(scenario: Scenario, one: SpeakerAnswer) -> list[str]:
    """What fixes another loudspeaker where the answer has it."""
    hang, key = scenario.speaker(one.name).hang, f"speaker.{quoted(one.name)}.placement"
    trim = hang.vertical == "trim"
    values = {
        "x": (hang.x_m, f"{_exact(one.x_m)} m"),
        hang.vertical: (hang.vertical_m, f"{_exact(one.trim_m if trim else one.height_m)} m"),
        "tilt": (hang.tilt_deg, _exact(one.tilt_deg)),
    }
    words = []
    for name, ((low, high), value) in values.items():
        if low != high:
            words += ["--set", f"{key}.{name}={value}"]
    if len(hang.orientations) > 1:
        words += ["--set", f"{key}.orientation={one.orientation}"]
    return words


def _length(length_m: float, scenario: Scenario) -> str:
    """As the command line takes it, exactly."""
    if scenario.units == "ft":
        feet = round(length_m / FOOT_M, 9)
        if feet * FOOT_M == length_m:
            return f"{_exact(feet)} ft"
    return f"{_exact(length_m)} m"


def _exact(value: float) -> str:
    """The shortest decimal that reads back as the same number."""
    return str(np.format_float_positional(value, trim="-"))


def _set(text: str) -> str:
    return f"--set {shlex.quote(text)}"

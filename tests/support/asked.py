"""Scenario texts as a user would write them, and what the program answers."""

from typing import Any

from outside import mean

import aiming

Plain = dict[str, Any]
FINE_DB = 1.02e-3  # what a sampled lobe may be off, and a little for sums


def scene(
    *,
    seating: str = '[[seating]]\nname = "tier"\nline = [[4.0, 0.0], [18.0, 1.4]]\n',
    speaker: str = "",
    pattern: str = "coverage = 60",
    placement: str = "height = 6.0\ntilt = -20.0",
    more: str = "",
) -> str:
    """A scenario file's text."""
    return (
        f'{more}\n{seating}\n[[speaker]]\nname = "main"\n{speaker}\n[speaker.pattern]\n{pattern}\n'
        f"[speaker.placement]\n{placement}\n"
    )


def evaluated(text: str, **changes: object) -> Plain:
    """The answer for a placement that is given."""
    named = {key.replace("__", "."): value for key, value in changes.items()}
    return aiming.evaluate(aiming.load("-", stdin_text=text, changes=named)).to_dict()


def solved(text: str) -> Plain:
    """The answer of a search."""
    return aiming.solve(aiming.load("-", stdin_text=text)).to_dict()


def only(answer: Plain) -> Plain:
    """The one loudspeaker."""
    (one,) = answer["speakers"]
    return dict(one)


def mains(answer: Plain) -> list[Plain]:
    """What the main gives every row."""
    return [row["by_speaker"]["main"] for row in answer["rows"]]


def design(answer: Plain, served: str | None = None) -> list[float]:
    """Design levels of the main, own mean over the bands."""
    return [
        mean(list(row["by_speaker"]["main"]["levels_db"].values()))
        for row in answer["rows"]
        if served is None or row["seating"] == served
    ]


def codes(answer: Plain) -> set[str]:
    """Codes of the cautions."""
    return {one["code"] for one in answer["cautions"]}


BLOCKS = """
[[seating]]
name = "pit"
line = [[3.0, 0.0], [9.0, 0.0]]
weight = 2.5
[[seating]]
name = "tier"
line = [[11.0, 0.5], [20.0, 2.5]]
row_spacing = 1.5
[[seating]]
name = "balcony"
line = [[14.0, 5.0], [20.0, 7.0]]
"""

FULL = """
schema = 1
title = "Quarry amphitheatre, summer readings"
units = "m"

[datum]
name = "stage front edge, quarry floor"

[air]
temperature_c = 20.0
humidity_percent = 50.0
pressure_kpa = 101.325

[[seating]]
name = "lower tier"
line = [[4.0, 0.0], [18.0, 1.4]]
ears = "seated"
row_spacing = 0.9
row_names = ["A", "B"]
weight = 1.0

[[surface]]
name = "back wall"
line = [[19.0, 0.0], [19.0, 7.0]]

[[speaker]]
name = "main"
serves = ["lower tier"]
gain_db = 0.0
delay_ms = 0.0
eq_db = { 8000 = 2.0 }

[speaker.pattern]
coverage = 60
control_from_hz = 900
lobe = "quadratic"
lowest_db = -24

[speaker.output]
sensitivity_db = 97
max_level_db = 128

[speaker.cabinet]
mass_kg = 26.0
outline = [[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]
centre_of_gravity = [-0.17, 0.08]
picks = [{ name = "front", at = [-0.06, 0.44], wll_kg = 130 },
         { name = "rear",  at = [-0.34, 0.44], wll_kg = 130 },
         { name = "front, base", at = [-0.06, -0.20], wll_kg = 130 },
         { name = "rear, base",  at = [-0.34, -0.20], wll_kg = 130 }]
laser_at = [-0.02, 0.44]
reference_face_deg = 0.0

[speaker.rigging.upright]
method = "two points"
picks = ["front", "rear"]
extra_mass_kg = 3.0
extra_at = [-0.17, 0.50]
wll_share = 0.5
[speaker.rigging.flipped]
method = "two points"
picks = ["front, base", "rear, base"]

[speaker.placement]
mount = "flown"
x = 0.0
height = [4.5, 8.0]
tilt = [-60, 20]
orientation = "either"

[aim]
bands = [1000, 2000, 4000, 8000]
objective = "spread"
axis_on_audience = true
gap_db = 0.05
lower_if_within_db = 0.5

[[variant]]
name = "stacked on the stage"
set = { "speaker.main.placement.mount" = "stacked", "speaker.main.placement.height" = 1.9 }
"""

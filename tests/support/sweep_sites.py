"""Scenarios that the tests of sweeps share; every place is invented."""

from pathlib import Path

from aiming.scenario import Scenario, load

HALL = """
schema = 1
title = "Hall with a gallery"
[[seating]]
name = "floor"
line = [[4.0, 0.0], [18.0, 1.0]]
[[seating]]
name = "gallery"
line = [[14.0, 4.2], [18.5, 6.0]]
weight = 0.7
[[surface]]
name = "gallery front"
line = [[13.6, 4.0], [13.6, 5.1]]
[[speaker]]
name = "main"
gain_db = -3.0
[speaker.pattern]
coverage = { above = 25, below = 40 }
control_from_hz = 1500
lobe = "piston"
[speaker.output]
sensitivity_db = 97
[speaker.cabinet]
mass_kg = 26.0
outline = [[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]
[speaker.placement]
x = 0.4
height = [4.5, 8.0]
tilt = [-40, 10]
"""

ROOM = """
schema = 1
title = "Small room"
[[seating]]
name = "floor"
line = [[3.0, 0.0], [9.0, 0.0]]
weight = 0.7
[[speaker]]
name = "main"
[speaker.pattern]
coverage = 60
[speaker.placement]
height = [3.0, 5.0]
tilt = [-60, 0]
"""

PAIR = """
schema = 1
title = "Main and fill"
units = "ft"
[[seating]]
name = "floor"
line = [["3 m", 0.0], ["16 m", "0.5 m"]]
rows = 12
[[speaker]]
name = "main"
[speaker.pattern]
coverage = 50
[speaker.placement]
height = 18.0
tilt = -12
[[speaker]]
name = "front.fill"
gain_db = -9.0
delay_ms = 3.0
[speaker.pattern]
coverage = 90
[speaker.placement]
x = 6.0
height = 4.0
tilt = 5
[aim]
bands = [500, 1000, 2000]
"""


def site(folder: Path, text: str = HALL, name: str = "site.toml") -> Scenario:
    """The scenario of a text."""
    path = folder / name
    path.write_text(text)
    return load(path)

"""The main job beside a second way to it: aims, tolerances, fills, shadows, on-site figures.

Nobody published these.  "Expected" comes from formulas of its own (own_search, own_house, outside):
a scan of all heights and tilts, ways round edges by hand, the definition itself.
"""

import math
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from onsite_scenes import BANDS_HZ, SCENARIO, levels_at, long_csv
from own_house import detour_m, edge_db, walls_of_floors
from own_search import House, least_spread_db

import aiming
from aiming.results.answer import SpeakerAnswer

from .check import Check

HOUSES = {
    "raked floor, symmetric box": House([[(4.0, 0.0), (18.0, 1.4)]], 30.0, 30.0, 4.0, 7.0),
    "floor and rostra, asymmetric box": House(
        [[(3.0, 0.0), (14.0, 0.5)], [(14.6, 1.5), (21.0, 4.0)]], 20.0, 40.0, 5.0, 8.0
    ),
    "level floor, height given": House([[(5.0, 0.0), (26.0, 0.0)]], 25.0, 25.0, 5.0, 5.0),
}
OFF_DEG = -2.5


@cache
def solved(name: str) -> SpeakerAnswer:
    return aiming.solve(aiming.load("-", stdin_text=HOUSES[name].text), choices=False).speakers[0]


def spread_db(name: str, **place: float) -> float:
    """By evaluate, at another tilt or height."""
    one = solved(name)
    at = {"height": one.height_m, "tilt": one.tilt_deg} | place
    changes = {f"speaker.main.placement.{key}": value for key, value in at.items()}
    there = aiming.load("-", stdin_text=HOUSES[name].text, changes=changes)
    found = aiming.evaluate(there, choices=False).speakers[0].spread_db
    assert found is not None
    return found


def costs_db(name: str, what: str, end: int) -> float:
    """What evaluate finds at one end that the sound alone would leave."""
    window, own = solved(name).window, solved(name).spread_db
    assert window is not None and own is not None
    span = window.by_sound_tilt_deg if what == "tilt" else window.by_sound_height_m
    assert span is not None
    return spread_db(name, **{what: span[end]}) - own


FILLED = """
[[seating]]
name = "stalls"
line = [[3.0, 0.0], [20.0, 1.0]]
[[speaker]]
name = "main"
pattern = { coverage = 50 }
placement = { height = 7.0, tilt = -18 }
[[speaker]]
name = "fill"
fills = "main"
pattern = { coverage = 90 }
placement = { x = 0.5, height = 1.0, tilt = 0 }
"""


def fill_comes_after_ms() -> float:
    """At its handover row, from distances and delays."""
    answer = aiming.evaluate(aiming.load("-", stdin_text=FILLED), choices=False)
    main, fill = answer.speakers
    assert fill.match is not None and fill.match.handover_row is not None
    row = fill.match.handover_row
    ear = (answer.rows.x_m[row], answer.rows.z_m[row])
    late = [
        one.delay_ms + 1e3 * math.dist(ear, (one.x_m, one.height_m)) / 343.2 for one in (main, fill)
    ]
    return late[1] - late[0]


EDGES = [((8.0, -1e4), (8.0, 2.6)), ((12.0, -1e4), (12.0, 2.2))]
BEHIND = [[(15.0, 0.0), (16.0, 0.0)]]
SHADOWED = """
[[seating]]
name = "yard"
line = [[15.0, 0.0], [16.0, 0.0]]
rows = 2
[[surface]]
name = "first"
line = [[8.0, 0.0], [8.0, 2.6]]
[[surface]]
name = "second"
line = [[12.0, 0.0], [12.0, 2.2]]
[[speaker]]
name = "main"
pattern = { coverage = 60 }
placement = { height = 3.0, tilt = 0 }
"""


def behind_two_edges_db(band: int) -> float:
    answer = aiming.evaluate(aiming.load("-", stdin_text=SHADOWED), choices=False)
    return float(answer.rows.by_speaker["main"].shadow_db[band, 0])


def by_hand_db(hz: float) -> float:
    """A rubber band over both edges: 8.010 + 4.020 + 3.162 m against 15.108 m straight."""
    way = math.hypot(8.0, 0.4) + math.hypot(4.0, 0.4) + math.hypot(3.0, 1.0)
    own = edge_db(way - math.hypot(15.0, 1.8), hz)
    walls = walls_of_floors(BEHIND, [0], EDGES)
    assert math.isclose(own, edge_db(detour_m((0.0, 3.0), (15.0, 1.2), walls), hz), abs_tol=1e-4)
    return own


def found_on_site_deg() -> float:
    """What levels drawn from a formula of its own tell of a box that hangs OFF_DEG too low."""
    with tempfile.TemporaryDirectory() as folder:
        scenario = Path(folder) / "yard.toml"
        scenario.write_text(SCENARIO, encoding="utf-8")
        plan = aiming.load(scenario)
        at = [0, 3, 6, 9, 12, 15]
        x, z = plan.rows.x_m[at], plan.rows.z_m[at]
        level = levels_at(x, z, tilt_deg=-15.0 + OFF_DEG)
        measured = long_csv(
            Path(folder) / "m.csv", [plan.rows.label(row) for row in at], BANDS_HZ, level
        )
        found = aiming.onsite(plan, measured).tilt_error_deg
        assert found is not None
        return float(found.value)


def checks() -> Iterator[Check]:
    topic = "The main job"
    for name, house in HOUSES.items():
        yield Check(
            topic, f"least spread, {name}", "scan of heights and tilts, own formula", "C",
            least_spread_db(house), 0.05, "dB",
            lambda n=name: solved(n).best.objective_db,
        )  # fmt: skip
    for name, what, end in (
        ("raked floor, symmetric box", "tilt", 0),
        ("raked floor, symmetric box", "height", 0),
        ("floor and rostra, asymmetric box", "tilt", 0),
        ("level floor, height given", "height", 1),
    ):
        yield Check(
            topic, f"{'low' if end == 0 else 'high'} end of the {what}s set within, {name}",
            "`evaluate` there, against 0.5 dB", "C", 0.5, 0.01, "dB",
            lambda n=name, w=what, e=end: costs_db(n, w, e),
        )  # fmt: skip
    yield Check(
        topic, "a fill after its main, at its handover row", "distances, delays, 343.2 m/s", "C",
        10.0, 0.01, "ms", fill_comes_after_ms,
    )  # fmt: skip
    for band, hz in enumerate(BANDS_HZ):
        yield Check(
            topic, f"a row behind two edges, {hz:g} Hz", "rubber band over both, own formula", "C",
            by_hand_db(hz), 0.001, "dB", lambda b=band: behind_two_edges_db(b),
        )  # fmt: skip
    yield Check(
        topic, "tilt found on site, 6 microphones, levels of another formula", "what was hung", "C",
        OFF_DEG, 0.6, "°", found_on_site_deg,
    )  # fmt: skip

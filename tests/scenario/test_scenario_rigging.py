"""What the reader makes of rigging, a second box, a stack and weather."""

import pytest
from paths import TESTS

from aiming.rigging import Loads, NotChecked, loads_at
from aiming.rigging.ground_stack import standing_stack
from aiming.scenario import load
from aiming.scenario.scenario import Scenario
from aiming.speaker.rigging import Underhung
from aiming.speaker.stack import Standing

VALID = TESTS / "data" / "scenarios" / "valid"
BARN = """
[[seating]]
name = "floor"
line = [[2.0, 0.0], [12.0, 0.0]]

[[speaker]]
name = "main"
pattern.coverage = 60
placement.height = 4.0

[speaker.cabinet]
mass_kg = 20
centre_of_gravity = [-0.15, 0.05]
picks = [
  { name = "front", at = [-0.05, 0.3], wll_kg = 100 },
  { name = "rear", at = [-0.25, 0.3], wll_kn = 1 },
]
"""


def barn(rigging: str) -> Scenario:
    return load("-", stdin_text=BARN + rigging)


def test_a_second_box_a_stack_and_weather() -> None:
    scenario = load(VALID / "everything.toml")
    assert scenario.rigging["main"]["upright"].below == Underhung(
        mass_kg=18.0, joint_m=(-0.18, -0.20), centre_of_gravity_m=(-0.02, -0.24), splay_deg=6.0
    )
    stack = scenario.stacks["front fill"]
    assert stack.footprint_m == (-0.3, 0.2)
    assert (stack.ground_m, stack.friction, stack.wind_area_m2) == (0.0, 0.4, 0.12)
    assert (stack.margin, stack.margin_source) == (2.0, "the hirer of the stage")
    assert stack.also == (Standing("riser", 9.0, (0.2, 0.05), 0.1, 0.06),)
    assert scenario.outdoors
    assert scenario.gust_speed_m_s == 14.0


def test_nothing_declared_is_nothing_assumed() -> None:
    scenario = barn("")
    assert scenario.rigging == {}
    assert scenario.stacks == {}
    assert not scenario.outdoors
    assert scenario.gust_speed_m_s is None


def test_outdoors_without_a_wind() -> None:
    scenario = barn("[outdoors]\n")
    assert scenario.outdoors
    assert scenario.gust_speed_m_s is None


@pytest.mark.parametrize("method", ['"two points"', '"one point"\nholes = [-0.2]\nholes_w = 0.4'])
def test_picks_named_from_rear_to_front_are_sorted_and_that_is_said(method: str) -> None:
    held = '[speaker.rigging.upright]\npicks = ["{}", "{}"]\nmethod = ' + method
    wrong = barn(held.format("rear", "front"))
    right = barn(held.format("front", "rear"))
    assert [note for note in wrong.notes if "rear to front" in note] == [
        "loudspeaker main, rigging upright: the picks are named from rear to front; "
        "taken as front, then rear"
    ]
    assert not any("rear to front" in note for note in right.notes)
    loads = [
        loads_at(
            one.speakers[0].cabinet,
            one.rigging["main"]["upright"],
            flipped=False,
            tilt_deg=-5.0,
        )
        for one in (wrong, right)
    ]
    assert isinstance(loads[0], Loads)
    assert loads[0] == loads[1]
    assert [point.name for point in loads[0].points] == ["front", "rear"]


def test_a_pull_back_keeps_its_order() -> None:
    held = (
        '[speaker.rigging.upright]\nmethod = "pull-back"\npicks = ["rear", "front"]\n'
        "pull_elevation_deg = 20"
    )
    scenario = barn(held)
    assert scenario.rigging["main"]["upright"].picks == ("rear", "front")
    assert not any("rear to front" in note for note in scenario.notes)


def test_a_declared_stack_can_be_worked() -> None:
    scenario = load(VALID / "everything.toml")
    fill = scenario.speaker("front fill")
    assert fill.cabinet is not None
    found = standing_stack(
        fill.cabinet,
        scenario.stacks["front fill"],
        flipped=False,
        tilt_deg=0.0,
        at_m=(0.2, 0.2),
        base_m=scenario.base_m["front fill"],
    )
    assert isinstance(found, NotChecked)
    assert "mass or centre of gravity not given" in found.reason

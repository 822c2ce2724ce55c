"""The decision side by side: each choice is what solving with its keys gives, and has its price."""

from pathlib import Path

import numpy as np
import pytest

import aiming
from aiming.analysis.choices import has_room
from aiming.base.errors import ScenarioError
from aiming.report.text.sentences import choice_sentences
from aiming.results.answer import Answer
from aiming.results.choices import MOST_PRINTED, WORTH_DB, WORTH_PERCENT, Choice
from aiming.speaker.speaker import Placement

SCENARIOS = Path(__file__).parents[2] / "scenarios"
HOUSE = """
[[seating]]
name = "stalls"
line = [[{first}, 0.0], [{last}, {rake}]]
row_spacing = 1.3
[[speaker]]
name = "main"
[speaker.pattern]
coverage = {{ above = {above}, below = {below} }}
[speaker.placement]
height = [{low}, {high}]
"""


def house(seed: int) -> Answer:
    rng = np.random.default_rng(seed)
    first = rng.uniform(2.0, 7.0)
    text = HOUSE.format(
        first=first,
        last=first + rng.uniform(8.0, 22.0),
        rake=rng.uniform(0.0, 4.0),
        above=rng.uniform(12.0, 45.0),
        below=rng.uniform(12.0, 45.0),
        low=(low := rng.uniform(4.0, 6.0)),
        high=low + rng.uniform(0.0, 3.0),
    )
    return aiming.solve(aiming.load("-", stdin_text=text))


def again(answer: Answer, choice: Choice) -> Answer:
    scenario = answer.scenario
    if scenario.file == "-":
        changed = aiming.load("-", stdin_text=scenario.text, changes=choice.set)
    else:
        changed = aiming.load(scenario.file, changes=choice.set)
    return aiming.solve(changed, choices=False)


def assert_had_by_its_keys(answer: Answer, choice: Choice) -> None:
    one = next(of for of in again(answer, choice).speakers if of.name == choice.speaker)
    assert one.tilt_deg == pytest.approx(choice.tilt_deg, abs=1e-9), choice.name
    assert one.height_m == pytest.approx(choice.height_m, abs=1e-9)
    assert one.orientation == choice.orientation
    assert one.spread_db == pytest.approx(choice.spread_db, abs=1e-9)
    assert one.deviation_db == pytest.approx(choice.deviation_db, abs=1e-9)
    assert one.rows_within_3db_percent == pytest.approx(choice.rows_within_3db_percent, abs=1e-9)
    assert one.softest_db == pytest.approx(choice.softest_db, abs=1e-9)


@pytest.mark.parametrize(
    "name", ["school_auditorium", "school_gym", "hillside_feet", "quarry", "measured_horn"]
)
def test_a_choice_of_a_shipped_scenario_is_had_by_its_keys(name) -> None:
    answer = aiming.solve(aiming.load(SCENARIOS / f"{name}.toml"))
    assert answer.choices[0].set == {} and answer.choices[0].kind == "taken"
    for choice in answer.choices:
        assert_had_by_its_keys(answer, choice)


@pytest.mark.parametrize("seed", range(4))
def test_a_choice_of_any_house_is_had_by_its_keys_and_has_its_price(seed) -> None:
    answer = house(seed)
    _, *others = answer.choices
    for choice in others[:4]:
        assert_had_by_its_keys(answer, choice)
    for choice in others:
        assert choice.costs, choice.name


def test_the_school_auditorium_shows_the_decision_on_its_first_lines() -> None:
    taken, *others = aiming.solve(aiming.load(SCENARIOS / "school_auditorium.toml")).choices
    shown = {one.kind: one for one in others[:5]}
    rows = shown["front rows"]
    assert rows.set == {"aim.left_to_fill": 2}
    assert taken.spread_db - rows.spread_db > 2.0 * WORTH_DB
    assert taken.rows_within_3db_percent < 75.0 and rows.rows_within_3db_percent == 100.0
    assert shown["evenest"].rows_within_3db_percent > 90.0


def test_what_is_worth_a_look_comes_first() -> None:
    for seed in range(4):
        taken, *others = house(seed).choices
        gains = [one.worth(taken) for one in others]
        assert all(gain < 1.0 for gain in gains[5:] if others[gains.index(gain)].kind == "axis")


def _told(spread_db: float, rows_percent: float) -> Choice:
    return Choice("", "axis", "main", "upright", 0.0, 0.0, 5.0, spread_db, rows_percent)


def test_front_rows_are_looked_at_beyond_the_first_that_gain_nothing() -> None:
    """A level floor before a narrow box: one, two rows gain nothing, six a third of the rows."""
    text = (
        '[[seating]]\nname = "stalls"\nline = [[6.0, 0.0], [27.3, 0.95]]\nrow_spacing = 1.1\n'
        '[[speaker]]\nname = "main"\npattern = { coverage = { above = 20, below = 28 } }\n'
        "placement = { height = 4.34 }\n"
    )
    taken, *others = aiming.solve(aiming.load("-", stdin_text=text)).choices
    rows = {one.set["aim.left_to_fill"]: one for one in others if one.kind == "front rows"}
    assert min(rows) == 1 and max(rows) > 2
    assert rows[1].worth(taken) < 0.5 and rows[max(rows)].worth(taken) >= 1.0
    assert next(one for one in others if one.kind == "front rows") is rows[max(rows)]


def test_worth_is_spread_or_rows_whichever_is_more() -> None:
    taken = _told(8.0, 60.0)
    assert _told(8.0 - WORTH_DB, 60.0).worth(taken) == pytest.approx(1.0)
    assert _told(9.0, 60.0 + WORTH_PERCENT).worth(taken) == pytest.approx(1.0)


ROOM = """
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [18.0, 1.0]]
[[surface]]
name = "ceiling"
line = [[-2.0, 6.0], [20.0, 6.0]]
[[speaker]]
name = "main"
pattern = { coverage = 60 }
placement = { height = 5.5, x = 1.0 }
"""


def test_no_choice_is_an_impossible_place() -> None:
    scenario = aiming.load("-", stdin_text=ROOM)
    at = Placement(1.0, 5.5, -10.0)
    main = scenario.speakers[0]
    assert not has_room(scenario, main, at, 1.0)  # over the ceiling
    assert has_room(scenario, main, at, 0.4) and has_room(scenario, main, at, -1.0)
    low = Placement(6.0, 1.2, 0.0)
    assert not has_room(scenario, main, low, -1.0)  # under the rake
    kinds = [one.name for one in aiming.solve(scenario).choices]
    assert "1 m lower" in kinds and "1 m higher" not in kinds


def test_a_place_that_is_given_still_shows_what_rows_left_would_buy() -> None:
    text = ROOM.replace("x = 1.0", "x = 1.0, tilt = -20.0")
    answer = aiming.evaluate(aiming.load("-", stdin_text=text))
    kinds = {one.kind for one in answer.choices}
    assert "tilt" in kinds
    for choice in answer.choices:
        try:
            assert_had_by_its_keys(answer, choice)
        except ScenarioError as error:
            pytest.fail(str(error))


def test_at_most_six_are_printed_and_all_stay_in_the_data() -> None:
    answer = aiming.solve(aiming.load(SCENARIOS / "school_auditorium.toml"))
    assert len(answer.choices) > MOST_PRINTED == 6
    assert len(choice_sentences(answer, answer.speakers[0])) == MOST_PRINTED - 1


WORST = """
[[seating]]
name = "floor"
line = [[4.0, 0.0], [18.0, 1.4]]
row_spacing = 1.4
[[speaker]]
name = "main"
pattern = { coverage = 60 }
placement = { height = 6.0 }
[aim]
objective_at = "worst"
tolerance = { tilt = 1.5, coverage_percent = 10 }
"""


def test_where_the_worst_case_is_aimed_at_the_prices_speak_of_it() -> None:
    """Each worst case against boxes 10 % narrower and wider, turned by up to 1.5° either way."""
    answer = aiming.solve(aiming.load("-", stdin_text=WORST))
    taken, *others = answer.choices
    assert taken.worst_db == answer.speakers[0].tolerance.worst_db
    evenest = next(one for one in others if one.kind == "evenest")
    for choice in (taken, evenest):
        tried = [
            aiming.evaluate(
                aiming.load(
                    "-",
                    stdin_text=WORST,
                    changes={
                        "speaker.main.pattern.coverage": coverage,
                        "speaker.main.placement.tilt": choice.tilt_deg + off,
                    },
                ),
                choices=False,
            )
            for coverage in (54.0, 60.0, 66.0)
            for off in (-1.5, -0.75, 0.0, 0.75, 1.5)
        ]
        worst = max(one.speakers[0].spread_db for one in tried)
        assert choice.worst_db == pytest.approx(worst, abs=0.02)
    assert evenest.spread_db < taken.spread_db and evenest.worst_db > taken.worst_db
    assert "worst case" in evenest.costs

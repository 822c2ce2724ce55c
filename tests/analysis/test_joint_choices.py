"""Choices about all loudspeakers: solving with the change gives the figures."""

from functools import lru_cache
from pathlib import Path

import pytest

import aiming
from aiming.results.answer import Answer
from aiming.results.choices import Choice

SCENARIOS = Path(__file__).parents[2] / "scenarios"
ONE_ROW_PERCENT = 100.0 / 36.0 + 0.1
"""Of the house with the fewest."""


@lru_cache(maxsize=1)
def solved(name: str) -> Answer:
    return aiming.solve(aiming.load(SCENARIOS / f"{name}.toml"), prove_s=0.0)


def of_all(answer: Answer) -> list[Choice]:
    return [one for one in answer.choices if one.speaker is None]


def softest_db(answer: Answer) -> float:
    """Where no row is left out."""
    return float(answer.rows.design_level_db.min())


@pytest.mark.parametrize("name", ["field_with_delays", "theatre_balcony_delay", "hall_with_fills"])
def test_solving_with_the_change_gives_the_figures(name) -> None:
    answer = solved(name)
    taken, *others = of_all(answer)
    assert (taken.kind, taken.set, taken.costs) == ("taken", {}, ())
    assert taken.spread_db == answer.together.spread_db
    assert 3 <= len(others) <= 5
    for choice in others:
        changed = aiming.load(SCENARIOS / f"{name}.toml", changes=choice.set)
        there = aiming.solve(changed, choices=False, prove_s=0.0)
        assert there.together.spread_db == pytest.approx(choice.spread_db, abs=0.05), choice.name
        share = there.together.rows_within_3db_percent
        assert share == pytest.approx(choice.rows_within_3db_percent, abs=ONE_ROW_PERCENT)
        if choice.kind != "front rows":
            softer = softest_db(there) - softest_db(answer)
            assert softer == pytest.approx(choice.softest_db, abs=0.2), choice.name
        assert choice.costs, choice.name


def test_the_field_shows_the_axis_on_any_seating_and_what_each_delay_brings() -> None:
    """Letting the axis land anywhere gave fields 1 to 2 dB in a search written apart."""
    taken, *others = of_all(solved("field_with_delays"))
    shown = {one.name: one for one in others}
    anywhere = shown["axis on any seating"]
    assert 1.0 < taken.spread_db - anywhere.spread_db < 2.5
    assert anywhere.set == {"aim.axis_on_audience": "any"}
    for name in ("without first delay", "without second delay"):
        assert shown[name].spread_db > taken.spread_db + 1.5
    apart = shown["aimed one by one"]
    answer = solved("field_with_delays")
    assert apart.spread_db == pytest.approx(answer.together.one_by_one_db, abs=1e-9)


def test_a_metre_along_is_told_where_it_helps() -> None:
    """The delay hangs a metre too far from its rows: moved, the theatre is more even."""
    moved = [one for one in of_all(solved("theatre_balcony_delay")) if one.kind == "place"]
    assert [one.set for one in moved] == [{'speaker."balcony delay".placement.x': 16.2}]
    assert moved[0].costs[0] == "range"


USELESS = """schema = 1
[[seating]]
name = "near"
line = [[4.0, 0.0], [22.0, 0.0]]
ears = "standing"
rows = 12
[[seating]]
name = "far"
line = [[24.0, 0.0], [44.0, 0.0]]
ears = "standing"
rows = 12
[[speaker]]
name = "main"
serves = ["near"]
pattern = { coverage = 50 }
placement = { x = -1, height = [4.0, 6.0] }
[[speaker]]
name = "delay"
serves = ["far"]
fills = "main"
gain_db = -22
pattern = { coverage = 50 }
placement = { x = 14, height = [4.0, 6.0] }
"""
"""A delay too soft to be heard from where it hangs."""


def test_a_useless_fill_is_told_the_place_that_would_help() -> None:
    answer = aiming.solve(aiming.load("-", stdin_text=USELESS))
    assert {"fill-useless-place", "fill-not-needed"} <= {one.code for one in answer.cautions}
    taken, *others = of_all(answer)
    [place] = [one for one in others if one.kind == "place"]
    there = place.set["speaker.delay.placement.x"]
    assert 19 <= there <= 34 and place.spread_db < taken.spread_db - 0.5
    moved = aiming.solve(aiming.load("-", stdin_text=USELESS, changes=place.set), choices=False)
    assert moved.together.spread_db == pytest.approx(place.spread_db, abs=0.05)
    assert moved.speakers[1].adds.brings_db > answer.speakers[1].adds.brings_db + 0.5


def test_without_a_fill_what_filled_for_it_fills_for_its_main() -> None:
    text = (SCENARIOS / "field_with_delays.toml").read_text()
    changes = {"together.without": ["first delay"]}
    left = aiming.load("-", stdin_text=text, changes=changes)
    assert [one.name for one in left.speakers] == ["main", "second delay"]
    assert left.company.fills["second delay"].main == "main"
    cut = text[: text.index('[[speaker]]\nname = "first delay"')]
    cut += text[text.index('[[speaker]]\nname = "second delay"') :].replace(
        'fills = "first delay"', 'fills = "main"'
    )
    assert cut.count('serves = ["near field"]') == 1
    cut = cut.replace('serves = ["near field"]', 'serves = ["near field", "middle field"]')
    by_hand = aiming.solve(aiming.load("-", stdin_text=cut), choices=False, prove_s=0.0)
    by_key = aiming.solve(left, choices=False, prove_s=0.0)
    assert by_key.together.spread_db == by_hand.together.spread_db


def test_what_is_left_out_leaves_its_rows_to_what_it_filled_for_or_hung_under() -> None:
    theatre = aiming.load(
        SCENARIOS / "theatre_balcony_delay.toml", changes={"together.without": ["balcony delay"]}
    )
    assert [len(one.serves) for one in theatre.speakers] == [3]
    hall = aiming.load(
        SCENARIOS / "hall_with_fills.toml", changes={"together.without": ["front fill"]}
    )
    served = [hall.seatings[of].name for of in hall.speaker("main").serves]
    assert served == ["front stalls", "stalls", "balcony"]
    lecture = aiming.load(
        SCENARIOS / "lecture_hall_downfill.toml", changes={"together.without": ["down-fill"]}
    )
    assert [len(one.serves) for one in lecture.speakers] == [len(lecture.seatings)]


def test_the_one_that_is_left_is_no_worse_than_it_was_among_all() -> None:
    """Within what its lowest place may cost."""
    answer = solved("theatre_balcony_delay")
    alone = {one.name: one for one in of_all(answer)}["without balcony delay"]
    still = next(one for one in answer.speakers if one.name == "balcony delay").adds
    assert alone.spread_db <= still.spread_without_db + 0.5


def test_what_is_left_out_is_offered_back() -> None:
    name = "theatre_balcony_delay"
    changes = {"together.without": ["balcony delay"]}
    left = aiming.load(SCENARIOS / f"{name}.toml", changes=changes)
    assert [one.name for one in left.speakers] == ["main"]
    assert aiming.solve(left).speakers[0].name == "main"
    field = aiming.load(
        SCENARIOS / "field_with_delays.toml", changes={"together.without": ["second delay"]}
    )
    back = {one.name: one for one in of_all(aiming.solve(field, prove_s=0.0))}["with second delay"]
    whole = of_all(solved("field_with_delays"))[0]
    assert back.set == {"together.without": []}
    assert back.spread_db == pytest.approx(whole.spread_db, abs=0.05)


def test_no_choice_of_all_where_each_is_aimed_by_itself_or_is_the_only_one() -> None:
    for name, changes in (
        ("field_with_delays", {"together.aim": "one by one"}),
        ("quarry", {}),
    ):
        answer = aiming.solve(aiming.load(SCENARIOS / f"{name}.toml", changes=changes))
        assert of_all(answer) == []


def test_the_shell_gets_lists_and_names_as_they_are() -> None:
    choice = Choice(
        name="", kind="fill", speaker=None, orientation=None, tilt_deg=None, x_m=None,
        height_m=None, spread_db=1.0, rows_within_3db_percent=100.0,
        set={"together.without": ["a fill"]},
    )  # fmt: skip
    assert choice.set_text == "--set 'together.without=[\"a fill\"]'"

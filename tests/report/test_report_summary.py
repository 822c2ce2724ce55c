"""The summary: forty lines of eighty columns, the answer first, cautions never lost."""

import io
import re
from dataclasses import replace
from typing import Any

import answers
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.analysis.section_map import coverage_edges, curves
from aiming.analysis.sensitivity import (
    Explanation,
    Flip,
    FrontRows,
    HeightTrade,
    PastLastRow,
    SpeakerExplanation,
)
from aiming.report.text.levels import level_lines
from aiming.report.text.section import section_lines
from aiming.report.text.summary import short_text, summary_text
from aiming.report.text.terminal import Terminal, labelled, terminal_of
from aiming.report.text.words import db_text, rows_text, tilts_text
from aiming.results.answer import Answer, Caution
from aiming.scenario import Scenario

TOLD = SpeakerExplanation(
    speaker="main",
    held_at_last_row=True,
    above_last_row_deg=0.0,
    past_last_row=tuple(
        PastLastRow(float(above), -8.0 + above, 7.0 - 0.3 * above, -0.1 * above, 40.0 + above)
        for above in range(4)
    ),
    front_rows=tuple(FrontRows(k, -12.0, 4.4, 7.9 - k, 70.0 + k) for k in range(4)),
    knee=2,
    height_trade=(HeightTrade(-1.0, 3.4, -9.0, 8.8), HeightTrade(1.0, 5.4, -15.0, 7.1)),
    flips=(
        Flip("upright", -13.0, 7.9, {1000.0: 7.5}),
        Flip("flipped", -12.0, 7.0, {1000.0: 7.2}),
    ),
    distance_loss_db=9.0,
    mostly_distance=True,
    helping_height_m=5.05,
)


def summary(
    scenario: Scenario, answer: Answer, told: SpeakerExplanation | None = None, **terminal: Any
) -> str:
    explanation = None if told is None else Explanation((told,))
    return summary_text(replace(answer, explanation=explanation), terminal=Terminal(**terminal))


def flat(text: str) -> str:
    return " ".join(text.split())


def within_the_page(text: str) -> None:
    lines = text.splitlines()
    assert text.endswith("\n") and len(lines) <= 40
    assert max(map(len, lines)) <= 80, max(lines, key=len)


def test_says_what_a_person_asks() -> None:
    scenario = answers.hall()
    text = summary(answers.hall_answer(scenario, cautions=()), TOLD)
    said = flat(text)
    within_the_page(text)
    for wanted in (
        "nose down 13.0°, acoustic centre 4.40 m above stage front edge, hall floor",
        "(trim 4.20 m)",
        "The axis meets the ears of row 10, 11.41 m away",
        "the aim is held at the last row",
        "above the last row by 1°: spread 6.7 dB, last row −0.1 dB, 41 % of the pattern misses",
        "71 % of rows within ±3 dB; spread 7.9 dB from row 4 (loudest) to row 17 (softest)",
        "by band 1 kHz 7.5, 2 kHz 7.5, 4 kHz 7.8, 8 kHz 8.6",
        "Rows 15–17 too soft, up to 17.54 m away. Rows C–4 too loud.",
        "nose down 11.9° to 14.4°; height 4.10 m to 4.80 m, for at most 0.5 dB more spread",
        "best spread in the ranges 7.45 dB, proven to within 0.03 dB",
        "distance alone spreads the level by 9.0 dB",
        "from 5.05 m up it would be 1 dB better",
        "0: 7.9, 1: 6.9, 2: 5.9, 3: 4.9 dB; knee at 2",
        "one metre lower 8.8 dB (nose down 9.0°), one metre higher 7.1 dB",
    ):
        assert wanted in said, wanted
    assert text.splitlines()[1].startswith("main      nose down 13.0°")


def test_without_an_explanation_it_compares_with_the_shortcut() -> None:
    scenario = answers.hall()
    said = flat(summary(answers.hall_answer(scenario)))
    assert "axis at the last row from here (nose down 8.0°): 9.6 dB" in said
    assert "The best is held by: the highest place allowed" in said
    assert "held at the last row" not in said


def test_soft_front_rows_ask_for_a_fill() -> None:
    """A narrow box high up: the first rows lie far under its axis."""
    text = answers.HALL.format(units="m").replace("coverage = 60", "coverage = 30")
    scenario = answers.load("-", stdin_text=text)
    answer = answers.answer_of(scenario, {"main": answers.Placement(0.0, 6.0, -19.0)})
    said = flat(summary(answer))
    found = re.search(r"Rows A–(\w+) too soft, \d+° off axis: fill needed from A to (\w+)\.", said)
    assert found
    names = answer.rows.name
    assert names.index(found[2]) == names.index(found[1]) + 1


def test_four_loudspeakers_fit_too() -> None:
    scenario = answers.house()
    text = summary(answers.house_answer(scenario))
    within_the_page(text)
    for name in ("stalls main", "circle", "gallery", "under circle"):
        assert re.search(rf"^{name} +nose (up|down) [\d.]+° ", text, re.MULTILINE)
    assert "spread 14.3 dB over all rows" in flat(text)


def test_what_stops_stands_before_everything_but_the_answer() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario, cautions=(*answers.CAUTIONS, answers.STOP))
    lines = summary(answer, TOLD).splitlines()
    stop = next(k for k, line in enumerate(lines) if line.startswith("STOP: "))
    assert stop < next(k for k, line in enumerate(lines) if line.startswith("Caution: "))
    assert stop <= 13


MANY = st.lists(
    st.builds(
        Caution,
        code=st.sampled_from(["slack-pick", "over-limit", "near-field", "grazing", "reader"]),
        severity=st.sampled_from(["stop", "caution", "note"]),
        text=st.text(st.characters(codec="utf-8"), min_size=1, max_size=300),
        speaker=st.sampled_from([None, "main"]),
    ),
    max_size=30,
)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(cautions=MANY, told=st.sampled_from([None, TOLD]))
def test_however_many_cautions_none_is_lost_unsaid(
    cautions: list[Caution], told: SpeakerExplanation | None
) -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario, cautions=(*answers.CAUTIONS, *cautions))
    text = summary(answer, told)
    lines = text.splitlines()
    assert len(lines) <= 40
    assert all(len(line) <= 80 for line in lines)
    assert "No rigging design" in flat(text)
    assert "\x1b" not in text and "\r" not in text
    if any(one.severity == "stop" for one in cautions):
        assert "STOP" in text


def test_colours_only_where_asked_and_never_needed() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario, cautions=(answers.STOP, *answers.CAUTIONS))
    plain, coloured = summary(answer), summary(answer, colour=True)
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == plain


class Stream(io.TextIOWrapper):
    """A stream that is a terminal or not, with an encoding."""

    def __init__(self, encoding: str, terminal: bool) -> None:
        super().__init__(io.BytesIO(), encoding=encoding)
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal


@pytest.mark.parametrize(
    ("encoding", "terminal", "environ", "colour", "blocks"),
    [
        ("utf-8", True, {}, True, True),
        ("utf-8", False, {}, False, True),
        ("utf-8", True, {"NO_COLOR": "1"}, False, True),
        ("utf-8", True, {"NO_COLOR": ""}, True, True),
        ("utf-8", True, {"TERM": "dumb"}, False, True),
        ("ascii", True, {}, True, False),
        ("latin-1", False, {}, False, False),
    ],
)
def test_what_a_terminal_can_show(
    encoding: str, terminal: bool, environ: dict[str, str], colour: bool, blocks: bool
) -> None:
    assert terminal_of(Stream(encoding, terminal), environ) == Terminal(colour, blocks)


def test_in_ascii_everything_is_still_said() -> None:
    scenario = answers.hall()
    text = summary(answers.hall_answer(scenario), TOLD, blocks=False)
    assert text.isascii()
    within_the_page(text)
    assert "nose down 13.0 deg" in text
    assert "#" in text and "^" in text


def test_picture_is_to_scale_and_marks_the_rows() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario)
    along, edges = curves(answer), coverage_edges(answer)
    lines = section_lines(answer, along, edges, terminal=Terminal(), most_lines=10)
    picture = lines[:-1]
    speaker = next((k, line.index("■")) for k, line in enumerate(picture) if "■" in line)
    last = next((k, line.rindex("▼")) for k, line in enumerate(picture) if "▼" in line)
    # 17.4 m out and 2.2 m down; a character is twice as high as wide.
    assert (last[1] - speaker[1]) / (2 * (last[0] - speaker[0])) == pytest.approx(
        17.4 / 2.2, rel=0.5
    )
    marks = sum(line.count(mark) for line in picture for mark in "▲●▼×")
    assert 15 <= marks <= 17


def test_level_strip_has_a_mark_for_each_row() -> None:
    scenario = answers.house()
    answer = answers.house_answer(scenario)
    lines = level_lines(answer, curves(answer), terminal=Terminal())
    assert [len(re.findall("[▁-█]", line)) for line in lines[1:]] == [25, 13, 12]
    assert lines[1].endswith("−8.1 to +6.2 dB")
    # A step is 1.5 dB and the fifth begins at the mean: the circle falls from +1.3 to −1.6 dB.
    marks = re.findall("[▁-█]", lines[2])
    assert (marks[0], marks[-1]) == ("▅", "▃")


def test_unknown_levels_are_called_unknown() -> None:
    scenario = answers.hall()
    answer = answers.hall_answer(scenario)
    levels = answer.rows.levels_db.copy()
    levels[:, 3] = np.nan
    rows = replace(answer.rows, levels_db=levels, design_level_db=levels.mean(axis=0))
    one = replace(answer.speakers[0], spread_db=None, rows_within_3db_percent=None)
    text = summary(scenario, replace(answer, rows=rows, speakers=(one,)))
    assert "the spread is unknown" in text
    assert "nan" not in text.lower()


def test_never_promises() -> None:
    for text in (
        summary(answers.hall(), answers.hall_answer(), TOLD),
        summary(answers.house(), answers.house_answer()),
    ):
        assert not re.search(r"\b(safe|approved|certified)\b", text, re.IGNORECASE)


def test_short_text_is_a_line_for_each_loudspeaker() -> None:
    scenario = answers.house()
    lines = short_text(answers.house_answer(scenario)).splitlines()
    assert len(lines) == 4
    assert lines[0].startswith("stalls main: nose down 22.0°, upright, height 7.50 m, spread")


def test_words() -> None:
    assert db_text(-0.04, signed=True) == "0.0 dB"
    assert db_text(-1.26, signed=True) == "−1.3 dB"
    assert db_text(None) == db_text(float("nan")) == "unknown"
    assert tilts_text(-14.4, -11.9) == "nose down 11.9° to 14.4°"
    assert tilts_text(-1.0, 2.0) == "nose down 1.0° to nose up 2.0°"
    assert tilts_text(-0.04, 0.04) == "level 0.0°"
    scenario = answers.house()
    answer = answers.house_answer(scenario)
    assert rows_text(answer, [0, 1, 2, 24, 25]) == "rows 1–3, 25 of stalls, 1 of circle"
    assert labelled("a", "x " * 60 + "10 dB")[-1].endswith("10 dB")

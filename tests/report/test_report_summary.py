"""The summary: a first screen of twelve lines, the answer first, cautions never lost."""

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import answers
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import aiming
from aiming.analysis.sensitivity import (
    Explanation,
    Flip,
    FrontRows,
    HeightTrade,
    PastLastRow,
    SpeakerExplanation,
)
from aiming.base.units import length_text, tilt_text
from aiming.report.text.levels import level_lines
from aiming.report.text.section import section_lines
from aiming.report.text.summary import first_screen_text, short_text, summary_text
from aiming.report.text.terminal import Terminal, labelled, terminal_of
from aiming.report.text.words import LIMITS, db_text, loudest_softest, rows_text, tilts_text
from aiming.results.answer import Answer, Caution, LeftToFill
from aiming.results.groups import HigherCeilings, TogetherProof

SCENARIOS = Path(__file__).parents[2] / "scenarios"
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


def summary(answer: Answer, told: SpeakerExplanation | None = None, **terminal: Any) -> str:
    explanation = None if told is None else Explanation((told,))
    return summary_text(replace(answer, explanation=explanation), terminal=Terminal(**terminal))


def flat(text: str) -> str:
    return " ".join(text.split())


def within_the_page(text: str) -> None:
    lines = text.splitlines()
    assert text.endswith("\n")
    assert max(map(len, lines)) <= 80, max(lines, key=len)


def screen(answer: Answer, width: int = 80) -> str:
    return first_screen_text(answer, terminal=Terminal(width=width))


@pytest.fixture(scope="module", params=sorted(SCENARIOS.glob("*.toml")), ids=lambda path: path.stem)
def shipped(request: pytest.FixtureRequest) -> Answer:
    return aiming.solve(aiming.load(request.param))


@pytest.mark.parametrize("width", [60, 80, 120, 160])
def test_the_first_screen_answers_in_its_first_lines(shipped: Answer, width: int) -> None:
    """Tilt, trim, evenness and whether a stop stands: each within eight lines, twelve in all."""
    text = screen(shipped, width)
    lines = text.splitlines()
    assert text.endswith("\n") and len(lines) <= 12
    assert max(map(len, lines)) < width
    stops = sum(one.severity == "stop" for one in shipped.cautions)
    assert ("no stops" in lines[0]) == (stops == 0)
    told = " ".join(" ".join(lines[: 8 if width >= 80 else 12]).split())
    unit, all_ = shipped.scenario.units, shipped.together
    alone = len(shipped.speakers) == 1
    spread = shipped.speakers[0].spread_db if alone else all_ and all_.spread_db
    assert db_text(spread) in " ".join(lines[: 5 if width >= 80 else 6])
    first = shipped.speakers[0]
    assert tilt_text(first.tilt_deg).removeprefix("nose ") in " ".join(lines[:8])
    for one in shipped.speakers[:2]:
        assert tilt_text(one.tilt_deg).removeprefix("nose ") in told
        assert length_text(one.trim_m, unit) in told
    assert "--full" in lines[-1] or "--full" in lines[-2] or "--full" in lines[-3]


def test_what_the_first_screen_leaves_out_it_names(shipped: Answer) -> None:
    text = screen(shipped)
    more = flat(text[text.index("--full") :])
    for label, called in (("PROOF", "proof"), ("BY BAND", "bands"), ("TOO SOFT", "too soft")):
        there = any(line.startswith(label) for line in summary_text(shipped).splitlines())
        here = any(line.startswith(label) for line in text.splitlines())
        assert not there or here or called in more or "and more" in more


def test_everything_has_the_figures_of_the_answer_and_of_what_else_could_be() -> None:
    answer = answers.hall_answer(answers.hall(), cautions=())
    text = summary(answer, TOLD)
    said = flat(text)
    within_the_page(text)
    for figure in (
        "nose down 13.0°", "trim 4.20 m", "centre 4.40 m", "row 10", "11.41 m",
        "stage front edge, hall floor", "6.7 dB", "−0.1 dB", "41 %", "71 % of rows", "7.9 dB",
        "1 kHz 7.5", "8 kHz 8.7", "rows 15–17", "17.54 m", "rows C–4", "nose down 11.9° to 14.4°",
        "7.46 dB", "0.03 dB", "9.0 dB", "5.05 m", "6.9 dB for 1 row",
    ):  # fmt: skip
        assert figure in said, figure


def test_without_an_explanation_it_compares_with_the_axis_on_the_last_row() -> None:
    said = flat(summary(answers.hall_answer(answers.hall())))
    assert "(nose down 8.0°)" in said and "9.6 dB" in said
    held = said[said.index(LIMITS["height high"]) :]
    assert re.match(r"[^.]*0\.50 m [^.]*0\.3 dB", held)


def test_soft_front_rows_ask_for_a_fill() -> None:
    """A narrow box high up: the first rows lie far under its axis."""
    text = answers.HALL.format(units="m").replace("coverage = 60", "coverage = 30")
    scenario = answers.load("-", stdin_text=text)
    answer = answers.answer_of(scenario, {"main": answers.Placement(0.0, 6.0, -19.0)})
    assert re.search(
        r"TOO SOFT +rows A–\w+, \d+° off the axis: .*front fill", flat(summary(answer))
    )


def test_of_several_all_together_comes_first_and_each_can_be_hung() -> None:
    answer = answers.house_answer(answers.house())
    lines = summary(answer).splitlines()
    assert lines[1].startswith("TOGETHER") and "14.3 dB" in lines[1]
    for one in answer.speakers:
        line = next(line for line in lines if line.startswith(one.name))
        assert tilt_text(one.tilt_deg).removeprefix("nose ") in line
        assert length_text(one.height_m, answer.scenario.units) in line
        assert ("flipped" in line) == (one.orientation == "flipped")


@pytest.mark.parametrize("gap_db", [0.05, 0.37, None])
def test_of_several_chosen_together_the_first_screen_tells_what_is_proven(
    gap_db: float | None,
) -> None:
    answer = answers.house_answer(answers.house())
    assert answer.together is not None
    proof = TogetherProof(gap_db, 0.01, 0.05, 0.06 if gap_db is None else None, "", 14, 3, 100)
    together = replace(answer.together, proof=proof, higher_ceilings=HigherCeilings(4.0, 12.34))
    told = screen(replace(answer, together=together))
    lines = told.splitlines()
    assert len(lines) <= 12
    said = flat(told[told.index("PROOF") :])
    assert "0.05 dB" in said and "12.3 dB" in said
    assert {0.05: "nothing in your ranges", 0.37: "0.37 dB", None: "not proven"}[gap_db] in said
    assert ("0.06 dB" in said) == (gap_db is None)


def test_what_stops_stands_before_the_answer() -> None:
    answer = answers.hall_answer(answers.hall(), cautions=(*answers.CAUTIONS, answers.STOP))
    for text in (screen(answer), summary(answer, TOLD)):
        lines = text.splitlines()
        assert "1 STOP" in lines[0]
        assert lines[1].startswith("STOP")
        assert next(k for k, line in enumerate(lines) if line.startswith("SET")) <= 4


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
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "No rigging design" in flat(text)
    brief = screen(answer)
    assert len(brief.splitlines()) <= 12
    assert "--full" in brief
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
    lines = section_lines(answer, terminal=Terminal())
    picture = lines[:-1]
    speaker = next((k, line.index("■")) for k, line in enumerate(picture) if "■" in line)
    last = next((k, line.rindex("▼")) for k, line in enumerate(picture) if "▼" in line)
    # 17.4 m out and 2.2 m down; a character is twice as high as wide.
    assert (last[1] - speaker[1]) / (2 * (last[0] - speaker[0])) == pytest.approx(
        17.4 / 2.2, rel=0.5
    )
    marks = sum(line.count(mark) for line in picture for mark in "▲●▼×")
    assert 15 <= marks <= 17


def test_rows_left_to_a_fill_are_hollow_and_counted_as_left() -> None:
    """The picture marks them apart, and what more would gain is counted from them."""
    left = LeftToFill((0, 1), distance_m=(3.0, 3.9), short_db=(5.0, 9.0), band_hz=4000.0)
    answer = answers.hall_answer(answers.hall())
    answer = replace(answer, speakers=(replace(answer.speakers[0], left_to_fill=left),))
    lines = section_lines(answer, terminal=Terminal())
    *picture, key, hollow = lines
    assert sum(line.count("○") for line in picture) == 2
    assert "○" in hollow and "○" not in key
    said = flat(summary(answer, TOLD))
    assert "over all rows" not in said and "1 more row" in said


def test_level_strip_has_a_mark_for_each_row() -> None:
    scenario = answers.house()
    answer = answers.house_answer(scenario)
    lines = level_lines(answer, terminal=Terminal())
    assert [len(re.findall("[▁-█]", line)) for line in lines[1:]] == [25, 13, 12]
    assert lines[1].endswith("−8.1 to +6.3 dB")
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
    text = summary(answers.with_curves(replace(answer, rows=rows, speakers=(one,))))
    assert "unknown" in text
    assert "nan" not in text.lower()


def test_never_promises() -> None:
    for text in (
        summary(answers.hall_answer(), TOLD),
        summary(answers.house_answer()),
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
    # Of rows that are alike within a hundredth of a decibel the first is named.
    assert loudest_softest(np.array([0.0, 3.0, 3.005, -2.0, -2.004])) == (1, 3)
    assert loudest_softest(np.array([0.0, 3.0, 3.05, -2.0, -2.04])) == (2, 4)
    assert tilts_text(-14.4, -11.9) == "nose down 11.9° to 14.4°"
    assert tilts_text(-1.0, 2.0) == "nose down 1.0° to nose up 2.0°"
    assert tilts_text(-0.04, 0.04) == "level 0.0°"
    scenario = answers.house()
    answer = answers.house_answer(scenario)
    assert rows_text(answer, [0, 1, 2, 24, 25]) == "rows 1–3, 25 of stalls, 1 of circle"
    assert labelled("a", "x " * 60 + "10 dB")[-1].endswith("10 dB")
    assert labelled("a long label", "text")[0] == "a long label  text"


def test_a_likely_slip_stands_on_the_first_screen_whatever_has_to_give_way() -> None:
    """Millimetres read as metres make a very even answer; what asks about it comes with it."""
    place = {"speaker.main.placement.height": 17_000, "speaker.main.placement.tilt": -89}
    changes = place | {"aim.axis_on_audience": False}
    answer = aiming.solve(aiming.load(SCENARIOS / "school_auditorium.toml", changes=changes))
    slip = next(one for one in answer.cautions if one.code == "far-over-house")
    assert slip.text in flat(screen(answer))
    odd = Caution(code="box-size", severity="caution", text="a cabinet of 27 ft: mm or inches?")
    usual = tuple(
        Caution(code=f"usual-{number}", severity="caution", text="a usual one, at some length")
        for number in range(3)
    )
    told = flat(screen(replace(answers.hall_answer(), cautions=(*usual, odd))))
    assert f"{odd.text} And 3 more" in told

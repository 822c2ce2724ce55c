"""The comparison: one column for each case, nothing left out, also where there is no answer."""

from dataclasses import replace
from pathlib import Path

import answers
import pytest
from command_line import run
from paths import ROOT

from aiming.analysis.solve import evaluate, solve
from aiming.report.figures.compare import compare_figures
from aiming.report.json_text import json_text
from aiming.report.text.compare import compare_text, compared_dict, table_lines, verdict_text
from aiming.results.case import Case
from aiming.scenario import load

VARIANTS = """
[[variant]]
name = "low"
set = {{ "speaker.main.placement.height" = 3.0 }}
[[variant]]
name = "straight up"
set = {{ "speaker.main.placement.tilt" = 80 }}
"""


def cases() -> tuple[Case, ...]:
    hall, house = answers.hall(), answers.house()
    return (
        Case("the hall", hall, answers.hall_answer(hall)),
        Case("nothing", hall, None, refusal="no placement meets the limits"),
        Case("the house", house, answers.house_answer(house)),
    )


def test_each_line_has_a_text_for_each_case() -> None:
    lines = table_lines(cases())
    assert {len(line.texts) for line in lines} == {3}
    assert {line.about for line in lines} >= {"main", "gallery", "all together"}
    alone = table_lines(cases()[:2])
    tilt = next(line for line in alone if line.label == "tilt")
    assert tilt.texts == ("nose down 13.0°", "no placement")
    assert tilt.about == ""
    assert next(line for line in alone if line.label == "  8 kHz").texts == ("8.7 dB", "–")
    assert next(line for line in alone if line.label == "softest row").texts[0] == "17, −4.5 dB"


def test_headroom_and_loads_stand_where_they_are_known() -> None:
    """Ten decibels more from the same box at the same place are ten decibels more headroom."""
    quarry = ROOT / "scenarios" / "quarry.toml"
    fixed = {"speaker.main.placement.height": 6.0, "speaker.main.placement.tilt": -12.0}
    known = {"programme": {"target_db": 95.0}}
    plain = load(quarry, changes=fixed)
    quiet = load(quarry, changes={**fixed, **known, "speaker.main.output.max_level_db": 120.0})
    loud = load(quarry, changes={**fixed, **known, "speaker.main.output.max_level_db": 130.0})
    some = tuple(
        Case(str(of), of_it, evaluate(of_it)) for of, of_it in enumerate((plain, quiet, loud))
    )
    texts = {line.label: line.texts for line in table_lines(some)}
    unknown, less, more = texts["headroom"]
    assert unknown == "–"
    assert float(more.removesuffix(" dB").replace("−", "-")) - float(
        less.removesuffix(" dB").replace("−", "-")
    ) == pytest.approx(10.0, abs=0.11)
    assert texts["load front"][0].endswith(" kg")


@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_text_fits_and_ends_with_the_plain_caution(count: int) -> None:
    text = compare_text((cases() * 2)[:count])
    assert max(map(len, text.splitlines())) <= 80
    assert "Caution: No rigging design" in text
    if count > 1:
        assert "nothing: no placement meets the limits" in text


def test_sheet_draws_one_to_six_cases_and_gives_the_same_bytes() -> None:
    for count in (1, 2, 6):
        some = (cases() * 2)[:count]
        first = compare_figures(some, ("svg",))
        assert first == compare_figures(some, ("svg",))
        assert b"No rigging design" in first["compare.svg"]


def test_json_holds_whole_answers() -> None:
    found = compared_dict(cases())
    assert [one["name"] for one in found["compared"]] == ["the hall", "nothing", "the house"]
    assert found["compared"][1]["answer"] is None
    assert found["compared"][0]["answer"]["speakers"][0]["tilt_deg"] == -13.0
    assert json_text(found).endswith("}\n")


def test_command_compares_a_files_variants(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    path.write_text((answers.HALL + VARIANTS).format(units="m"))
    ended = run("compare", path, "--out", tmp_path / "out")
    assert ended.code == 3
    head = ended.out.splitlines()[0].split()
    assert " ".join(head) == "as in the file low straight up"
    assert "no placement meets the limits" in ended.out
    assert {one.name for one in (tmp_path / "out").iterdir()} >= {"compare.json", "compare.pdf"}


def test_command_compares_files(tmp_path: Path) -> None:
    for name, units in (("metres", "m"), ("feet", "ft")):
        (tmp_path / f"{name}.toml").write_text(answers.HALL.format(units=units))
    ended = run("compare", tmp_path / "metres.toml", tmp_path / "feet.toml")
    assert ended.code == 0
    assert ended.out.split()[:2] == ["metres", "feet"]


def test_command_needs_something_to_compare(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    path.write_text(answers.HALL.format(units="m"))
    ended = run("compare", path)
    assert (ended.code, ended.out) == (2, "")
    assert "no variants to compare" in ended.err
    assert run("compare", *[path] * 7).code == 2


def test_the_verdict_has_the_differences_of_the_answers() -> None:
    """Of the same box hung higher: by how much evener, higher, and how much steeper."""
    text = answers.HALL.format(units="m")
    found = []
    for name, height in (("low", 3.5), ("high", 5.5)):
        changes = {"speaker.main.placement.height": height}
        scenario = load("-", stdin_text=text, changes=changes)
        found.append(Case(name, scenario, solve(scenario, choices=False)))
    low, high = found
    one, other = (case.answer.speakers[0] for case in found if case.answer)
    said = verdict_text(low, high)
    assert one.spread_db is not None and other.spread_db is not None
    assert f"{abs(one.spread_db - other.spread_db):.1f} dB" in said
    assert ("more even" in said) == (other.spread_db < one.spread_db)
    assert f"{abs(other.trim_m - one.trim_m):.2f} m" in said and "higher" in said
    assert verdict_text(low, replace(high, answer=None)) == ""

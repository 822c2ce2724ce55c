"""One answer through every face: text, data, page, sheet and drawing show the same figures."""

import csv
import io
import json
import re

import numpy as np
import pytest
from paths import ROOT

import aiming
from aiming.analysis.complete import complete
from aiming.base.units import length_text, tilt_text
from aiming.faces import documents
from aiming.report.text.compare import table_lines
from aiming.report.text.words import db_text, mass_of_text
from aiming.results.answer import Answer
from aiming.results.case import Case
from aiming.scenario.keys import quoted

NAMES = ("lecture_hall_downfill", "quarry")


@pytest.fixture(scope="module", params=NAMES)
def made(request: pytest.FixtureRequest) -> tuple[Answer, dict[str, bytes]]:
    """A scenario's answer with every part, and its documents."""
    scenario = aiming.load(ROOT / "scenarios" / f"{request.param}.toml")
    answer = complete(aiming.solve(scenario, choices=False))
    return answer, documents(answer)


def flat(text: bytes) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text.decode()).split())


def test_tilt_and_spread_are_the_same_in_words_and_drawings(
    made: tuple[Answer, dict[str, bytes]],
) -> None:
    answer, files = made
    for one in answer.speakers:
        for name in ("summary.txt", "section.svg"):
            said = flat(files[name])
            tilt = tilt_text(one.tilt_deg)
            assert tilt in said or f" {tilt.removeprefix('nose ')} " in said, name
            assert length_text(one.height_m, answer.scenario.units) in said, name
    assert answer.together is not None and answer.together.spread_db is not None
    assert f"{answer.together.spread_db:.1f} dB" in flat(files["summary.txt"])


def test_the_data_hold_what_the_answer_holds(made: tuple[Answer, dict[str, bytes]]) -> None:
    answer, files = made
    data = json.loads(files["answer.json"])
    for one, plain in zip(answer.speakers, data["speakers"], strict=True):
        assert plain["tilt_deg"] == one.tilt_deg and plain["spread_db"] == one.spread_db
    rows = [row["design_level_db"] for row in data["rows"]]
    assert rows == answer.rows.design_level_db.tolist()


def test_the_page_has_the_answers_own_figures_at_its_place(
    made: tuple[Answer, dict[str, bytes]],
) -> None:
    """The place to 0.01 mm, loads to 0.01 N: a splayed pair's loads too."""
    answer, _ = made
    data = answer.to_dict()["speakers"]
    assert answer.page is not None
    for one, plain, lattice in zip(answer.speakers, data, answer.page.lattices, strict=True):
        turned = next(of for of in lattice.turned if of.orientation == one.orientation)
        at = lattice.axes.own
        assert turned.height_m[at] == pytest.approx(one.height_m, abs=1e-5)
        loads = turned.loads[at[0]][at[1]][at[2]]
        assert (loads is None) == (plain["loads"] is None)
        if loads is not None:
            found = [point.tension_n for point in loads.points]
            wanted = [point["tension_n"] for point in plain["loads"]["points"]]
            np.testing.assert_allclose(found, wanted, atol=1e-2)


def test_the_riggers_table_has_the_answers_loads(made: tuple[Answer, dict[str, bytes]]) -> None:
    answer, files = made
    table = list(csv.DictReader(io.StringIO(files["loads.csv"].decode())))
    for one in answer.to_dict()["speakers"]:
        if one["loads"] is None:
            continue
        points = [
            float(row["tension_n"])
            for row in table
            if row["loudspeaker"] == one["name"] and row["kind"] == "point"
        ]
        wanted = [point["tension_n"] for point in one["loads"]["points"]]
        np.testing.assert_allclose(points, wanted, atol=1e-9)


def test_a_comparison_tells_the_answers_figures(made: tuple[Answer, dict[str, bytes]]) -> None:
    answer, files = made
    lines = table_lines((Case("it", answer.scenario, answer),))
    told = {(line.about, line.label): line.texts[0] for line in lines}
    several = len(answer.speakers) > 1
    for one in answer.speakers:
        about = one.name if several else ""
        assert told[about, "tilt"] == tilt_text(one.tilt_deg)
        assert told[about, "spread"] == db_text(one.spread_db)
        for point in one.loads.points if one.loads else ():
            mass = mass_of_text(point.tension_n, answer.scenario.units)
            assert told[about, f"load {point.name}"] == mass
            assert f"{point.name} {mass}" in flat(files["summary.txt"])
    about = "all together" if several else ""
    assert told[about, "cautions"] in files["summary.txt"].decode().splitlines()[0]
    if several and answer.together is not None:
        assert told[about, "spread"] == db_text(answer.together.spread_db)


def test_a_sweep_of_the_answers_own_place_has_its_figures(
    made: tuple[Answer, dict[str, bytes]],
) -> None:
    answer, _ = made
    changes = {}
    for one in answer.speakers:
        place = f"speaker.{quoted(one.name)}.placement"
        if one.hung_under is None:
            changes |= {f"{place}.tilt": one.tilt_deg, f"{place}.height": one.height_m}
        else:
            above = next(of for of in answer.speakers if of.name == one.hung_under)
            changes[f"speaker.{quoted(one.name)}.splay"] = above.placement.splay_deg
    table = aiming.what_if(
        answer.scenario,
        over={key: [value] for key, value in changes.items()},
        figures=("together.spread_db", "together.rows_within_3db_percent"),
    )
    assert answer.together is not None
    assert table["together.spread_db"][0] == pytest.approx(answer.together.spread_db, abs=1e-4)
    within = answer.together.rows_within_3db_percent
    assert table["together.rows_within_3db_percent"][0] == pytest.approx(within, abs=1e-4)

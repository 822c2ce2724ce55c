"""what-if and choose on the command line: what is printed, written, refused, and how it ends."""

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command_line import process, run
from sweep_sites import HALL, ROOM, site

import aiming
from aiming.aim.search import search
from aiming.analysis.problems import problem_of
from aiming.report.figures.what_if import what_if_figures
from aiming.report.text.what_if import cell_text, column_labels
from aiming.scenario.read import rebuilt
from aiming.sweep import what_if
from aiming.sweep.choose import FLAT_DB, choose
from aiming.sweep.tradeoffs import best_along, overview

MAIN = "speaker.main.placement."


@pytest.fixture
def room(tmp_path: Path) -> Path:
    site(tmp_path, ROOM)
    return tmp_path / "site.toml"


def test_a_sweep_prints_its_best_and_its_trade_offs(room: Path) -> None:
    ended = run("what-if", room, "--over", f"{MAIN}height=3:5:0.5", "--over", f"{MAIN}tilt=-40:0:1")
    assert ended.code == 0 and ended.err == ""
    lines = ended.out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "Small room: 205 candidates (5 height × 41 tilt), each evaluated"
    assert any(line.startswith("Best by spread dB") for line in lines)
    assert any(line.startswith("Trade-off spread dB against height") for line in lines)
    assert "This is no rigging design." in lines[-1]


def test_where_ranges_remain_it_says_so_and_shows_where_they_hang(room: Path) -> None:
    ended = run("what-if", room, "--over", "speaker.main.pattern.coverage=40,60", "--json")
    data = json.loads(ended.out)
    assert data["columns"][0] == "speaker.main.pattern.coverage"
    assert {"tilt_deg", "height_m"} <= set(data["columns"])
    assert data["candidates"] == 2 and len(data["best"]) == 2
    ended = run("what-if", room, "--over", "speaker.main.pattern.coverage=40,60")
    assert "each solved" in ended.out


def test_a_table_holds_every_candidate(room: Path, tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    ended = run(
        "what-if",
        room,
        "--over",
        f"{MAIN}height=4",
        "--over",
        f"{MAIN}tilt=-30:0:5",
        "--figures",
        "spread_db, cautions",
        "--table",
        table,
        "--set",
        "title=Other",
    )
    assert ended.code == 0
    assert ended.err == f"written to {table}: 7 candidates\n"
    rows = list(csv.reader(table.read_text().splitlines()))
    assert rows[0] == [f"{MAIN}height", f"{MAIN}tilt", "spread_db", "cautions"]
    assert [row[1] for row in rows[1:]] == ["-30", "-25", "-20", "-15", "-10", "-5", "0"]


def test_an_out_folder_holds_text_data_and_pictures(room: Path, tmp_path: Path) -> None:
    over = ("--over", f"{MAIN}height=3:5:1", "--over", f"{MAIN}tilt=-30:0:5")
    assert run("what-if", room, *over, "--out", tmp_path / "one", "--quiet").code == 0
    names = sorted(one.name for one in (tmp_path / "one").iterdir())
    assert names == [
        "what-if.json",
        "what-if.pdf",
        "what-if.png",
        "what-if.svg",
        "what-if.txt",
        "written.json",
    ]
    table = what_if(aiming.load(room), {MAIN + "height": (3, 5, 1), MAIN + "tilt": (-30, 0, 5)})
    again = what_if_figures(table, overview(table), title="Small room", formats=("svg",))
    assert (tmp_path / "one" / "what-if.svg").read_bytes() == again["what-if.svg"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--over", f"{MAIN}tilt=-1:0:0"), "step > 0"),
        (("--over", f"{MAIN}tlit=0,1"), 'did you mean "tilt"'),
        (("--over", f"{MAIN}tilt=0", "--figures", "sprad"), "known are"),
        (("--over", f"{MAIN}tilt=0", "--resume"), "goes with --table"),
        (("--over", f"{MAIN}tilt=0", "--by", "nothing"), "one of"),
        (("--over", f"{MAIN}tilt=0", "--table", "/no/such/t.csv"), "there is no folder"),
    ],
)
def test_wrong_usage_ends_with_two(room: Path, arguments: tuple[str, ...], message: str) -> None:
    ended = run("what-if", room, *arguments)
    assert ended.code == 2 and ended.out == ""
    assert message in ended.err


def test_nothing_feasible_ends_with_three(room: Path) -> None:
    ended = run("what-if", room, "--over", f"{MAIN}tilt=40:60:10", "--over", f"{MAIN}height=4")
    assert ended.code == 3
    assert "3 of 3 candidates are left out" in ended.out
    assert "tilt 40°" in ended.out


def test_left_out_candidates_are_counted_with_an_example_each(tmp_path: Path) -> None:
    scenario = site(tmp_path, ROOM)
    table = what_if(scenario, {MAIN + "tilt": (-30.0, 60.0, 10.0), MAIN + "height": [4.0]})
    seen = overview(table, scenario=scenario)
    assert seen.left_out.count == int((~table["feasible"].astype(bool)).sum()) > 0
    for one in seen.left_out.reasons:
        place = table[MAIN + "tilt"].tolist().index(one.example[MAIN + "tilt"])
        assert not table["feasible"][place]


def test_a_figure_that_repeats_an_axis_has_no_front_of_its_own(tmp_path: Path) -> None:
    over = {MAIN + "tilt": (-30.0, 0.0, 5.0), MAIN + "height": (3.0, 5.0, 1.0)}
    table = what_if(site(tmp_path, ROOM), over, figures=("spread_db", "height_m"))
    assert [one.x for one in overview(table).fronts] == [MAIN + "height"]


def test_choose_writes_what_it_prints(room: Path, tmp_path: Path) -> None:
    ended = run("choose", room, "--out", tmp_path / "chosen")
    assert ended.code == 0
    assert (tmp_path / "chosen" / "choose.txt").read_text("utf-8") == ended.out
    drawn = (tmp_path / "chosen" / "choose.svg").read_text("utf-8")
    assert "vertical coverage angle" in drawn and "best: " in drawn
    data = json.loads((tmp_path / "chosen" / "choose.json").read_text("utf-8"))
    assert data == json.loads(run("choose", room, "--json").out)


def test_a_pipe_gets_neither_colour_nor_bar(room: Path) -> None:
    ended = process("what-if", str(room), "--over", f"{MAIN}tilt=-30:0:10")
    assert ended.code == 0 and ended.err == ""
    assert "\x1b" not in ended.out


def test_cells_and_labels_are_as_a_person_reads_them(tmp_path: Path) -> None:
    over = {MAIN + "tilt": [-12.5], 'seating."floor".ears': ["seated"], MAIN + "height": [6.0]}
    figures = ("spread_db", "spread_db_8000", "rows_within_3db_percent", "feasible")
    table = what_if(site(tmp_path), over, figures=figures)
    labels = column_labels(table)
    assert list(labels.values()) == [
        "tilt °",
        "ears",
        "height m",
        "spread dB",
        "8000 Hz dB",
        "within 3 dB %",
        "feasible",
    ]
    assert cell_text(-12.5, MAIN + "tilt") == "−12.5"
    assert cell_text(6.0, MAIN + "height") == "6"
    assert cell_text(float("nan"), "spread_db") == "unknown"
    assert cell_text(3.14159, "spread_db") == "3.14"
    assert cell_text(83.3, "rows_within_3db_percent") == "83"
    assert cell_text(True, "feasible") == "yes"


def test_a_map_shows_the_best_over_the_other_axes(tmp_path: Path) -> None:
    over = {
        MAIN + "tilt": (-30.0, 0.0, 2.0),
        "speaker.main.pattern.coverage": [50, 60],
        MAIN + "height": (3.0, 5.0, 0.5),
    }
    table = what_if(site(tmp_path, ROOM), over)
    grid = np.where(table.grid("feasible"), table.grid("spread_db"), np.nan)
    keys = (MAIN + "height", MAIN + "tilt")
    found = best_along(table, "spread_db", keys)
    expected = np.fmin.reduce(grid, axis=1).T
    assert np.array_equal(found.best, expected, equal_nan=True)
    assert found.values[0].tolist() == [3.0, 3.5, 4.0, 4.5, 5.0]
    most = best_along(table, "rows_within_3db_percent", (MAIN + "tilt",)).best
    within = np.where(table.grid("feasible"), table.grid("rows_within_3db_percent"), np.nan)
    assert np.array_equal(
        most, np.fmax.reduce(np.fmax.reduce(within, axis=2), axis=1), equal_nan=True
    )


def test_long_axes_are_thinned_to_the_best_of_neighbours(tmp_path: Path) -> None:
    over = {MAIN + "height": [4.0], MAIN + "tilt": (-40.0, 0.0, 0.04)}
    table = what_if(site(tmp_path, ROOM), over, figures=("spread_db",))
    found = best_along(table, "spread_db", (MAIN + "tilt",))
    assert len(found.best) == len(found.values[0]) == 400
    assert found.best.min() == table["spread_db"].min()
    assert found.values[0][0] == -40.0 and np.all(np.diff(found.values[0]) > 0.0)


def test_no_picture_without_numbers(tmp_path: Path) -> None:
    over = {"speaker.main.pattern.lobe": ["piston", "quadratic"]}
    table = what_if(site(tmp_path, ROOM), over)
    assert what_if_figures(table, overview(table), title="x") == {}


def best_of(scenario: aiming.scenario.Scenario) -> float:
    problem = problem_of(scenario, scenario.speakers[0])
    return search(problem, gap_db=scenario.aim.gap_db).objective_db


def test_choose_finds_the_best_coverage_and_its_flat_part(tmp_path: Path) -> None:
    hall = site(tmp_path, ROOM)
    found = choose(hall)
    assert found.best is not None and found.best.coverage_deg is not None
    assert found.best.objective_db is not None and found.flat_deg is not None
    key = "speaker.main.pattern.coverage"
    for coverage in (20.0, 35.0, 50.0, 80.0, 120.0):
        there = best_of(rebuilt(hall, {key: coverage}))
        assert found.best.objective_db <= there + hall.aim.gap_db
    low, high = found.flat_deg
    assert low <= found.best.coverage_deg <= high
    for coverage, good in ((low, True), (high, True), (low - 1, False), (high + 1, False)):
        if 10 <= coverage <= 170:
            there = best_of(rebuilt(hall, {key: coverage}))
            assert (there <= found.best.objective_db + FLAT_DB + hall.aim.gap_db) or not good
            assert good or there > found.best.objective_db + FLAT_DB - hall.aim.gap_db
    own = found.ranked[0]
    assert own.name == "as in the scenario"
    assert own.objective_db == pytest.approx(best_of(hall), abs=1e-9)
    assert own.coverage_deg == pytest.approx(60.0, abs=0.01)


def pattern_file(path: Path, half_deg: float) -> None:
    angles = np.arange(-180, 181, 5)
    lines = ["angle,1000,2000,4000,8000"]
    for angle in angles:
        level = max(-24.0, -6.0206 * (angle / half_deg) ** 2)
        lines.append(",".join([str(angle), *([f"{level:.4f}"] * 4)]))
    path.write_text("\n".join(lines) + "\n")


def test_choose_ranks_pattern_files(tmp_path: Path) -> None:
    hall = site(tmp_path, ROOM)
    folder = tmp_path / "patterns"
    folder.mkdir()
    for half in (10, 25, 60):
        pattern_file(folder / f"half_{half}.csv", half)
    ended = run("choose", tmp_path / "site.toml", "--pattern", folder, "--json")
    assert ended.code == 0, ended.err
    ranked: list[dict[str, Any]] = json.loads(ended.out)["ranked"]
    assert len(ranked) == 4
    values = [one["objective_db"] for one in ranked]
    assert values == sorted(values)
    for one in ranked:
        if one["name"].endswith(".csv"):
            half = int(Path(one["name"]).stem.split("_")[1])
            assert one["coverage_deg"] == pytest.approx(2 * half, abs=0.5)
            there = rebuilt(hall, {"speaker.main.pattern.file": str(folder / f"half_{half}.csv")})
            assert one["objective_db"] == pytest.approx(best_of(there), abs=1e-9)
    ended = run("choose", tmp_path / "site.toml", "--pattern", folder)
    assert max(map(len, ended.out.splitlines())) <= 80
    assert "Patterns, best first" in ended.out and "no rigging design" in ended.out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--pattern", "no/such.csv"), "no such file"),
        (("--speaker", "other"), "there is main"),
    ],
)
def test_choose_refuses(room: Path, arguments: tuple[str, ...], message: str) -> None:
    ended = run("choose", room, *arguments)
    assert ended.code == 2 and message in ended.err


def test_the_worst_case_is_in_the_answer(tmp_path: Path) -> None:
    tolerance = {"tilt": 1.0, "height": "0.1 m"}
    hall = site(tmp_path, HALL)
    plain = aiming.solve(rebuilt(hall, {"aim.tolerance": tolerance})).speakers[0]
    assert plain.tolerance is not None and plain.spread_db is not None
    assert plain.tolerance.costs_db == pytest.approx(plain.tolerance.worst_db - plain.spread_db)
    assert 0.0 < plain.tolerance.tilt_costs_db <= plain.tolerance.costs_db
    changes = {"aim.tolerance": tolerance, "aim.objective_at": "worst", "aim.lower_if_within_db": 0}
    worst = aiming.solve(rebuilt(hall, changes)).speakers[0]
    assert worst.tolerance is not None and worst.best is not None
    assert worst.tolerance.worst_db <= plain.tolerance.worst_db + 0.05
    assert worst.best.objective_db == pytest.approx(worst.tolerance.worst_db, abs=0.05)
    ended = run(
        "solve",
        tmp_path / "site.toml",
        "--set",
        'aim.tolerance={tilt = 1.0, height = "0.1 m"}',
        "--full",
    )
    assert "1° off in tilt costs" in " ".join(ended.out.split())

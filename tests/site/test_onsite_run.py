"""The whole comparison through Python and the command line: figures, advice, files."""

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command_line import run
from onsite_scenes import BANDS_HZ, SCENARIO, long_csv, measured

import aiming
from aiming.report.figures.onsite import onsite_figures
from aiming.report.sheets.check_positions import check_sheets
from aiming.report.text.check_positions import check_text
from aiming.report.text.onsite import onsite_text
from aiming.scenario.scenario import Scenario
from aiming.site.check_plan import check_plan
from aiming.site.compare import scene_of
from aiming.site.model import Found
from aiming.site.places import microphones
from aiming.site.prediction import Departure
from aiming.site.rewrite import RewriteError, corrected_text
from aiming.site.run import OnSiteError, onsite
from aiming.speaker.speaker import Placement

ROWS = [0, 2, 4, 7, 11, 16]
PLAN = Placement(0.0, 6.0, -15.0)


def scenario_of(folder: Path, text: str = SCENARIO) -> Scenario:
    (folder / "s.toml").write_text(text, encoding="utf-8")
    return aiming.load(folder / "s.toml")


def levels_at(
    scenario: Scenario,
    true: Departure,
    *,
    seed: int | None = None,
    mic_height_m: float | None = None,
) -> np.ndarray:
    """(bands, n) at ROWS, as a box that departs from the plan would give them."""
    rows = microphones(scenario.rows, mic_height_m).pick(np.array(ROWS))
    scene = scene_of(scenario, scenario.speakers[0], PLAN, rows)
    rng = None if seed is None else np.random.default_rng(seed)
    return measured(scene, true, rng)


def compared(
    folder: Path,
    level: np.ndarray | None,
    *,
    readings: str | None = None,
    text: str = SCENARIO,
    **options: Any,
) -> tuple[Scenario, Found]:
    scenario = scenario_of(folder, text)
    path = None
    if level is not None:
        names = [scenario.rows.label(row) for row in ROWS]
        path = long_csv(folder / "m.csv", names, BANDS_HZ, level)
    if readings is not None:
        (folder / "r.csv").write_text("reading,at,value,plus_minus\n" + readings, encoding="utf-8")
        options["readings"] = folder / "r.csv"
    return scenario, onsite(scenario, path, **options)


def spread(scenario: Scenario, tilt_deg: float) -> float:
    """By the other way: the answer's own evaluation."""
    from aiming.scenario import rebuilt

    there = rebuilt(scenario, {"speaker.main.placement.tilt": tilt_deg})
    found = aiming.evaluate(there).speakers[0].spread_db
    assert found is not None
    return found


def test_what_hangs_is_found_and_put_right(tmp_path: Path) -> None:
    scenario, found = compared(tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=-9.0)))
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(-9.0, abs=0.1)
    assert found.explained is True
    assert found.now.spread_db == pytest.approx(
        spread(scenario, -15.0 + found.tilt_error_deg.value), abs=1e-6
    )
    assert found.after.spread_db == pytest.approx(spread(scenario, -15.0), abs=1e-6)
    assert found.corrected == PLAN
    assert "It hangs nose down 24.0°: 9.0° lower than planned" in found.advice
    assert "raise the nose by 9.0°" in found.advice
    assert "Nobody stands below" in found.advice
    for one in found.positions:
        for band in BANDS_HZ:
            assert one.found_db[band] == pytest.approx(one.measured_db[band], abs=0.05)


def test_the_other_sign_is_lowered(tmp_path: Path) -> None:
    _, found = compared(tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=16.0)))
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(16.0, abs=0.2)
    assert "lower the nose by 16" in found.advice


def test_json_has_the_names_of_the_contract(tmp_path: Path) -> None:
    _, found = compared(tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=2.0), seed=3))
    data = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    assert set(data["tilt_error_deg"]) == {"value", "low", "high"}
    assert data["height_error_m"] is None
    assert data["pattern_scale"] is None
    assert data["explained"] in (True, False, None)
    assert isinstance(data["spread_now_db"], float)
    assert isinstance(data["advice"], str)
    first = data["positions"][0]
    assert first["name"] == "row 1"
    assert set(first["measured_db"]) == {"1000", "2000", "4000", "8000"}
    assert set(first["predicted_db"]) == {"1000", "2000", "4000", "8000"}


def test_as_planned_is_left_alone(tmp_path: Path) -> None:
    _, found = compared(tmp_path, levels_at(scenario_of(tmp_path), Departure()))
    assert found.corrected is None
    assert found.after == found.now
    assert "Leave it" in found.advice


def test_a_sure_error_that_costs_next_to_nothing_is_left_alone(tmp_path: Path) -> None:
    _, found = compared(tmp_path, None, readings="inclinometer,axis,-15.5,0.1\n")
    assert found.tilt_error_deg is not None
    assert not found.tilt_error_deg.holds(0.0)
    assert found.corrected is None
    assert "Leave it: putting it right would win next to nothing" in found.advice


def test_positions_beyond_the_known_pattern_are_left_out(tmp_path: Path) -> None:
    (tmp_path / "box.csv").write_text(
        "angle_deg,1000,2000,4000,8000\n"
        + "\n".join(f"{a},{','.join([f'{-0.0067 * a * a:.3f}'] * 4)}" for a in range(-24, 41, 4))
    )
    text = SCENARIO.replace("coverage = 60", 'file = "box.csv"')
    level = levels_at(scenario_of(tmp_path), Departure(tilt_deg=2.0))
    level[:, 0] += 30.0  # the first row, 38° below the axis: whatever is read there
    _, found = compared(tmp_path, level, text=text, site_db=0.3, band_db=0.5)
    # Row 3 lies 23.8° below the planned axis, within the data, and 25.8° below what hangs.
    assert [note.split(" is ")[0] for note in found.notes] == ["row 1", "row 3"]
    assert found.positions[0].measured_db[1000.0] is None
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(2.0, abs=0.5)


def test_an_unexplained_band_gets_no_correction(tmp_path: Path) -> None:
    level = levels_at(scenario_of(tmp_path), Departure(tilt_deg=-6.0))
    level[2, 3] -= 10.0
    _, found = compared(tmp_path, level)
    assert found.explained is False
    assert found.corrected is None
    assert found.tilt_error_deg is None
    assert found.now.spread_db is None
    assert found.after.spread_db is None
    assert "row 8, 4 kHz" in found.advice
    assert "Usual causes" in found.advice
    assert "No correction" in found.advice


def test_readings_come_first_and_levels_confirm(tmp_path: Path) -> None:
    level = levels_at(scenario_of(tmp_path), Departure(tilt_deg=-8.0))
    _, found = compared(tmp_path, level, readings="inclinometer,axis,-23.2,0.3\n")
    assert found.confirmed is True
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(-8.2)
    assert found.tilt_error_deg.half == pytest.approx(0.3)
    assert found.levels_tilt_error_deg is not None
    assert found.levels_tilt_error_deg.value == pytest.approx(-8.0, abs=0.1)
    assert "by the readings" in found.advice
    assert "confirm it" in found.advice
    assert "raise the nose by 8.2°" in found.advice


def test_readings_that_the_levels_deny_get_no_correction(tmp_path: Path) -> None:
    level = levels_at(scenario_of(tmp_path), Departure(tilt_deg=-8.0))
    _, found = compared(tmp_path, level, readings="inclinometer,axis,-3,0.3\n")
    assert found.confirmed is False
    assert found.corrected is None
    assert "do not confirm" in found.advice
    assert "No correction" in found.advice


def test_readings_alone_are_enough(tmp_path: Path) -> None:
    rows = "inclinometer,axis,-22,0.3\nheight,acoustic centre,6.3,0.02\n"
    scenario, found = compared(tmp_path, None, readings=rows)
    assert found.explained is None
    assert found.positions == ()
    assert found.tilt_error_deg is not None
    assert found.height_error_m is not None
    assert found.height_error_m.value == pytest.approx(0.3)
    assert found.corrected is not None
    assert found.corrected.height_m == 6.0
    assert "raise the nose by 7.0° and move the box down by 0.30 m" in found.advice
    text = onsite_text(scenario, found)
    assert "reading" in text
    assert onsite_figures(scenario, found, ("svg",))["onsite.svg"].startswith(b"<?xml")


def test_levels_that_cannot_tell_say_so(tmp_path: Path) -> None:
    flat = SCENARIO.replace("coverage = 60", "coverage = 170")
    _, found = compared(tmp_path, levels_at(scenario_of(tmp_path, flat), Departure()), text=flat)
    assert found.tilt_error_deg is None
    assert "trust the inclinometer" in found.advice
    assert found.now.spread_db is None


def test_microphones_on_the_floor_are_seen_from_there(tmp_path: Path) -> None:
    level = levels_at(scenario_of(tmp_path), Departure(tilt_deg=3.0), mic_height_m=0.0)
    _, found = compared(tmp_path, level, mic_height_m=0.0)
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(3.0, abs=0.1)
    assert found.positions[0].z_m == pytest.approx(0.0)
    _, wrong = compared(tmp_path, level)
    assert wrong.tilt_error_deg is None or abs(wrong.tilt_error_deg.value - 3.0) > 0.3


def test_a_wide_pattern_in_a_quiet_site_moves_the_correction(tmp_path: Path) -> None:
    true = Departure(tilt_deg=-3.0, pattern_scale=1.3)
    level = levels_at(scenario_of(tmp_path), true)
    _, found = compared(tmp_path, level, site_db=0.1, band_db=0.1)
    assert found.pattern_scale is not None
    assert found.pattern_scale.value == pytest.approx(1.3, abs=0.02)
    assert "30 % wider" in found.advice
    assert found.now.spread_db is not None
    assert found.after.spread_db is not None
    assert found.after.spread_db <= found.now.spread_db


def test_what_cannot_be_compared_is_refused(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    with pytest.raises(OnSiteError, match="nothing to compare"):
        onsite(scenario)
    with pytest.raises(OnSiteError, match='no loudspeaker "left"; main'):
        onsite(scenario, tmp_path / "m.csv", speaker="left")
    low = long_csv(tmp_path / "l.csv", ["row 1", "row 9"], (100.0, 200.0), np.full((2, 2), -3.0))
    with pytest.raises(aiming.ScenarioError, match="no common frequencies"):
        onsite(scenario, low)
    stranger = long_csv(tmp_path / "n.csv", ["row 1", "roof"], BANDS_HZ, np.full((4, 2), -3.0))
    with pytest.raises(aiming.ScenarioError, match=r'n\.csv:6:1: position: "roof" is no position'):
        onsite(scenario, stranger)
    two = SCENARIO + SCENARIO[SCENARIO.index("[[speaker]]") :].replace('"main"', '"fill"')
    with pytest.raises(OnSiteError, match="several loudspeakers"):
        onsite(scenario_of(tmp_path, two), low)


def test_the_corrected_scenario_keeps_the_comments(tmp_path: Path) -> None:
    open_text = SCENARIO.replace("tilt = -15.0", "tilt = [\n  -40, # steepest\n  10]")
    scenario, found = compared(
        tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=-9.0)), text=open_text
    )
    text = corrected_text(scenario, found, which="hung")
    assert "# an invented place" in text
    assert "# acoustic centre" in text
    assert found.hung is not None
    assert tomllib.loads(text)["speaker"][0]["placement"]["tilt"] == round(found.hung.tilt_deg, 2)
    (tmp_path / "hung.toml").write_text(text, encoding="utf-8")
    again = aiming.evaluate(aiming.load(tmp_path / "hung.toml"))
    assert again.speakers[0].spread_db == pytest.approx(found.now.spread_db, abs=0.05)


@pytest.mark.parametrize(
    ("table", "wanted"),
    [
        ("[speaker.placement]\nheight = 6.0\n", "tilt = "),
        (
            "placement = { height = 6.0, tilt = [-40, -10] }\n",
            "placement = { height = 6.0, tilt = ",
        ),
        ("placement = { height = 6.0 }\n", "tilt = "),
        ('[speaker.placement]\nheight = "6000 mm" # as drawn\norientation = "upright"\n', "drawn"),
        ("[speaker.placement]\ntrim = [5.6, 5.7]\n", "trim = 5.6"),
    ],
)
def test_any_way_to_write_a_placement_is_changed_in_place(
    tmp_path: Path, table: str, wanted: str
) -> None:
    start = SCENARIO.index("[speaker.placement]")
    head = SCENARIO[:start]
    if table.startswith("placement"):
        head = head.replace("[speaker.pattern]\n", f"{table}[speaker.pattern]\n")
        table = ""
    scenario = scenario_of(tmp_path, head + table)
    (tmp_path / "r.csv").write_text("reading,at,value\ninclinometer,axis,-21.5\n")
    found = onsite(scenario, readings=tmp_path / "r.csv")
    text = corrected_text(scenario, found, which="hung")
    assert wanted in text
    held = tomllib.loads(text)["speaker"][0]["placement"]
    assert held["tilt"] == pytest.approx(-21.5)
    assert text.startswith("# main as it hangs")


def test_a_scenario_changed_on_the_way_in_is_not_rewritten(tmp_path: Path) -> None:
    _, found = compared(tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=-9.0)))
    other = aiming.load(tmp_path / "s.toml", changes={"speaker.main.placement.height": 5.0})
    with pytest.raises(RewriteError, match="changed on the way in"):
        corrected_text(other, found)


def test_text_is_80_wide_and_pictures_are_the_same_each_time(tmp_path: Path) -> None:
    scenario, found = compared(
        tmp_path, levels_at(scenario_of(tmp_path), Departure(tilt_deg=-9.0), seed=1)
    )
    text = onsite_text(scenario, found)
    assert max(map(len, text.splitlines())) <= 80
    assert "no rigging design" in " ".join(text.split())
    assert onsite_figures(scenario, found) == onsite_figures(scenario, found)
    plan = check_plan(aiming.solve(scenario))
    page = check_text(scenario, plan)
    assert max(map(len, page.splitlines())) <= 80
    assert check_sheets(scenario, plan) == check_sheets(scenario, plan)


def test_the_page_lists_the_answers_check_positions(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    answer = aiming.solve(scenario)
    plan = check_plan(answer)
    wanted = answer.speakers[0].check_positions
    assert plan.names == tuple(one.name for one in wanted)
    assert [one.distance_m for one in plan.checks] == [one.distance_m for one in wanted]
    floor = check_plan(answer, mic_height_m=0.0)
    assert "boundary" in check_text(scenario, floor)
    assert all(one.z_m < 1.5 for one in floor.checks)


def test_the_command_end_to_end(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    names = [scenario.rows.label(row) for row in ROWS]
    level = levels_at(scenario, Departure(tilt_deg=-9.0), seed=1)
    path = long_csv(tmp_path / "m.csv", names, BANDS_HZ, level)
    listed = run("onsite", tmp_path / "s.toml")
    assert listed.code == 0
    assert "Check positions for main" in listed.out
    said = run("onsite", tmp_path / "s.toml", path, "--json")
    assert said.code == 0
    assert json.loads(said.out)["tilt_error_deg"]["value"] < 0.0
    made = run(
        "onsite", tmp_path / "s.toml", path, "--write", tmp_path / "c.toml", "--out", tmp_path / "o"
    )
    assert made.code == 0, made.err
    assert tomllib.loads((tmp_path / "c.toml").read_text())["speaker"][0]["placement"]
    assert {one.name for one in (tmp_path / "o").iterdir()} >= {"onsite.png", "onsite.json"}
    again = run("onsite", tmp_path / "s.toml", path, "--write", tmp_path / "c.toml")
    assert again.code == 2
    assert "exists already" in again.err
    for wrong in (
        ("--mic-height", "roof"),
        ("--magnitude", "loud"),
        ("--at", "row 1"),
        ("--ground", "--distance", "0.1"),
    ):
        refused = run("onsite", tmp_path / "s.toml", path, *wrong)
        assert refused.code == 2, wrong
        assert refused.err.startswith(wrong[-2] if wrong[0] == "--ground" else wrong[0])


def test_text_files_by_position_and_a_trial_on_the_ground(tmp_path: Path) -> None:
    scenario_of(tmp_path)
    lines = np.geomspace(500.0, 16000.0, 400)
    for name, slope in (("a", 0.0), ("b", -1.0), ("c", -2.0)):
        table = "\n".join(f"{f:.3f}\t{-3.0 + slope * np.log10(f / 1000.0):.4f}\t10" for f in lines)
        (tmp_path / f"{name}.txt").write_text(table)
    at = [f"row {row}={tmp_path / name}.txt" for row, name in ((1, "a"), (8, "b"), (17, "c"))]
    said = run("onsite", tmp_path / "s.toml", *(x for one in at for x in ("--at", one)), "--json")
    assert said.code == 0, said.err
    assert [one["name"] for one in json.loads(said.out)["positions"]] == [
        "row 1",
        "row 8",
        "row 17",
    ]
    ground = run("onsite", tmp_path / "s.toml", "--ground", "--distance", "8")
    assert ground.code == 0
    assert "edge at d" in ground.out
    assert json.loads(run("onsite", tmp_path / "s.toml", "--ground", "--json").out)["points"]

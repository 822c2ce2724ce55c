"""What is compared, written and handed on: positions, trials on the ground, the rewritten text."""

import json
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.optimize  # noqa: F401  # loaded once, and not by every test in a process of its own
from onsite_scenes import BANDS_HZ, SCENARIO, long_csv, measured

import aiming
from aiming.base.air import absorption_db_per_m
from aiming.base.arrays import FloatArray
from aiming.base.bands import exact_midband_hz
from aiming.scenario.scenario import Scenario
from aiming.site.check_plan import check_plan
from aiming.site.compare import Compared, compared_with, positions_found, scene_of, shared_only
from aiming.site.fit import Fit, Levels, Noise
from aiming.site.ground_trial import (
    AXIS,
    EDGE,
    HALFWAY,
    TWICE,
    GroundFound,
    GroundTrial,
    compare_on_ground,
    ground_trial,
)
from aiming.site.judge import Estimate, StandsOut
from aiming.site.model import Coverage, Found, Interval, by_band
from aiming.site.places import microphones
from aiming.site.prediction import Departure
from aiming.site.rewrite import RewriteError, corrected_text
from aiming.site.run import OnSiteError, onsite, speaker_of
from aiming.site.traces import Trace
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
ROWS = [0, 2, 4, 7, 11, 16]
NONE = np.zeros(0)


def scenario_of(folder: Path, text: str = SCENARIO) -> Scenario:
    (folder / "s.toml").write_text(text, encoding="utf-8")
    return aiming.load(folder / "s.toml")


def estimate_of(departure: Departure) -> Estimate:
    return Estimate(
        Fit(
            departure=departure, free=(), value=NONE, deviation=NONE, left_db=NONE, gain_db=NONE,
            cost=0.0, band_score=NONE, site_score=NONE, freedom=0, squares=0.0, rival_deg=None,
        ), True, (),
    )  # fmt: skip


def test_positions_are_shifted_by_the_median(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    points = scenario.rows.pick(np.array([0, 5, 16]))
    scene = scene_of(scenario, scenario.speakers[0], PLAN, points)
    level = scene.levels_db(Departure()) + np.array([[1.0, 2.0, 9.0]])
    level[1] = np.nan
    level[2, 0] = np.nan
    there = Departure(tilt_deg=-3.0)
    of = Compared(scene, Levels(level, np.zeros_like(level)), estimate_of(there), ())
    one, two, three = positions_found(of)
    predicted = scene.levels_db(Departure())
    for n, position in enumerate((one, two, three)):
        assert position.predicted_db[1000.0] == pytest.approx(predicted[0, n] + 2.0)
        assert position.predicted_db[4000.0] == pytest.approx(predicted[2, n] + 5.5)
        assert position.predicted_db[2000.0] is None
        assert position.measured_db[2000.0] is None
        found = scene.levels_db(there)
        off = np.median(level[3] - found[3])
        assert position.found_db[8000.0] == pytest.approx(found[3, n] + off)
        assert (position.x_m, position.z_m) == (points.x_m[n], points.z_m[n])
        away = np.hypot(points.x_m[n], points.z_m[n] - 6.0)
        assert position.distance_m == pytest.approx(float(away))
        wanted = np.degrees(np.arctan2(points.z_m[n] - 6.0, points.x_m[n])) + 15.0
        assert position.off_axis_deg == pytest.approx(float(wanted))
    assert one.measured_db[4000.0] is None
    assert two.measured_db[4000.0] == pytest.approx(level[2, 1])
    assert one.name == points.names[0]


def test_bands_that_two_positions_have_are_kept() -> None:
    level = np.array([[1.0, np.nan, np.nan], [1.0, 2.0, np.nan], [1.0, 2.0, 3.0]])
    first = Trace("a", np.array([50.0, 90.0]), np.zeros(2), np.ones(2), "f.csv", 7)
    kept = shared_only(level, (1000.0, 2000.0, 4000.0), first)
    assert np.isfinite(kept).tolist() == [[False] * 3, [True, True, False], [True] * 3]
    with pytest.raises(aiming.ScenarioError) as caught:
        shared_only(level[:1], (1000.0,), first)
    assert str(caught.value) == (
        "f.csv:7:1: frequency: no common frequencies: no band has a known level at two positions; "
        "the bands are 1000 Hz, and this position has 50 to 90 Hz"
    )


def traces_of(names: tuple[str, ...], level: FloatArray) -> tuple[Trace, ...]:
    return tuple(
        Trace(name, np.array(BANDS_HZ), level[:, n], np.ones(4), "f.csv", n + 1)
        for n, name in enumerate(names)
    )


KNOWN = SCENARIO.replace("coverage = 60", 'file = "box.csv"')


@pytest.mark.parametrize("flipped", [False, True])
def test_positions_where_the_pattern_is_unknown_are_left_out(tmp_path: Path, flipped: bool) -> None:
    # Known from 40° below to 20° above the axis; flipped that is 20° below to 40° above.
    (tmp_path / "box.csv").write_text(
        "angle_deg,1000,2000,4000,8000\n"
        + "\n".join(f"{a},{','.join([f'{-0.0067 * a * a:.3f}'] * 4)}" for a in range(-40, 21, 4))
    )
    scenario = scenario_of(tmp_path, KNOWN)
    plan = replace(PLAN, flipped=flipped)
    points = scenario.rows.pick(np.array([0, 2, 5, 8, 12, 16]))
    scene = scene_of(scenario, scenario.speakers[0], plan, points)
    level = measured(scene, Departure())
    found = compared_with(
        scenario, scenario.speakers[0], plan, traces_of(points.names, level), points,
        height_error_m=None, noise=Noise(),
    )  # fmt: skip
    off = np.degrees(np.arctan2(points.z_m - 6.0, points.x_m)) + 15.0
    out = [name for name, x in zip(points.names, off, strict=True) if x < (-20 if flipped else -40)]
    assert [note.split(" is ")[0] for note in found.notes] == out
    assert bool(out) is flipped
    assert np.isnan(found.levels.level_db).all(axis=0).sum() == len(out)


def test_a_height_that_was_read_is_not_fitted(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    points = scenario.rows.pick(np.array(ROWS))
    scene = scene_of(scenario, scenario.speakers[0], PLAN, points)
    level = measured(scene, Departure(tilt_deg=-6.0, height_m=0.8))
    read = compared_with(
        scenario, scenario.speakers[0], PLAN, traces_of(points.names, level), points,
        height_error_m=0.8, noise=Noise(),
    )  # fmt: skip
    assert read.estimate.fit.departure.height_m == 0.8
    assert read.estimate.fit.departure.tilt_deg == pytest.approx(-6.0, abs=0.05)
    assert read.estimate.fit.free == ("tilt_deg",)
    assert read.notes == ()
    quiet = compared_with(
        scenario, scenario.speakers[0], PLAN, traces_of(points.names, level), points,
        height_error_m=None, noise=Noise(0.005, 0.005),
    )  # fmt: skip
    assert "height_m" in quiet.estimate.fit.free
    assert quiet.estimate.fit.departure.height_m == pytest.approx(0.8, abs=0.02)


def trial(folder: Path, text: str = SCENARIO, **given: Any) -> GroundTrial:
    scenario = scenario_of(folder, text)
    return ground_trial(scenario, scenario.speakers[0], **given)


def test_a_trial_by_the_closed_form(tmp_path: Path) -> None:
    of = trial(tmp_path, distance_m=8.0)
    edge = np.radians(-30.0)
    wanted = {
        AXIS: (8.0, 0.0), TWICE: (16.0, 0.0), EDGE: (8.0 * np.cos(edge), 8.0 * np.sin(edge)),
        HALFWAY: (8.0 + 4.0 * np.cos(edge), 4.0 * np.sin(edge)),
    }  # fmt: skip
    assert [one.name for one in of.points] == list(wanted)
    alpha = absorption_db_per_m([exact_midband_hz(4000.0)], scenario_of(tmp_path).air)[0]
    for one in of.points:
        x, z = wanted[one.name]
        assert (one.ahead_m, one.aside_m) == pytest.approx((x, z), abs=1e-3)
        away, angle = np.hypot(x, z), np.degrees(np.arctan2(z, x))
        assert one.distance_m == pytest.approx(float(away), abs=1e-3)
        assert one.off_axis_deg == pytest.approx(float(angle), abs=1e-2)
        level = -6.0206 * (angle / 30.0) ** 2 - 20.0 * np.log10(away / 8.0) - alpha * (away - 8.0)
        assert one.levels_db[4000.0] == pytest.approx(float(level), abs=0.01)
    assert of.notes == ()
    assert of.far_field_m == pytest.approx(0.7**2 * 7943.28 / (2.0 * 343.2), rel=1e-3)
    up = trial(tmp_path, distance_m=8.0, flipped=True)
    assert up.edge_deg == pytest.approx(30.0, abs=0.01)
    assert up.points[2].aside_m == pytest.approx(4.0, abs=1e-3)
    data = json.loads(json.dumps(of.to_dict()))
    assert data["points"][1]["levels_db"]["4000"] == of.points[1].levels_db[4000.0]
    assert data["points"][1]["ahead_m"] == 16.0
    assert data["distance_m"] == 8.0


def test_where_d_lies_by_default(tmp_path: Path) -> None:
    assert trial(tmp_path).distance_m == 6.0
    low = SCENARIO.replace("-0.35]", "-0.05]").replace("[0.0, 0.35], [-0.5, 0.35]]", "[0.0, 0.05], [-0.5, 0.05]]")  # fmt: skip  # noqa: E501
    small = trial(tmp_path, low)
    assert small.far_field_m == pytest.approx(0.1**2 * 7943.28 / (2.0 * 343.2), rel=1e-3)
    assert small.distance_m == 2.0
    start, end = SCENARIO.index("[speaker.cabinet]"), SCENARIO.index("[speaker.placement]")
    bare = trial(tmp_path, SCENARIO[:start] + SCENARIO[end:])
    assert bare.distance_m == 8.0
    far = trial(tmp_path, distance_m=trial(tmp_path).far_field_m)
    assert far.notes == ()


def test_a_pattern_without_an_edge_leaves_the_edge_out(tmp_path: Path) -> None:
    (tmp_path / "box.csv").write_text(
        "angle_deg,1000,2000,4000,8000\n-40,-3,-3,-3,-3\n0,0,0,0,0\n40,-9,-9,-9,-9\n"
    )
    of = trial(tmp_path, KNOWN, distance_m=8.0)
    assert [one.name for one in of.points] == [AXIS, TWICE]
    assert of.edge_deg is None
    assert of.notes == ("the design pattern has no coverage edge on the near seats' side",)
    above = trial(tmp_path, KNOWN, distance_m=8.0, flipped=True)
    assert above.edge_deg is not None
    assert above.notes == ()


def on_ground(folder: Path, of: GroundTrial, level: FloatArray, **given: float) -> GroundFound:
    names = [one.name for one in of.points]
    return compare_on_ground(of, long_csv(folder / "g.csv", names, of.bands_hz, level), **given)


@pytest.mark.parametrize(
    ("width", "wanted"),
    [
        (1.25, "The pattern is 25 % wider than its data"),
        (0.85, "The pattern is 15 % narrower than its data"),
        (1.0, "The pattern is as wide as its data say ("),
    ],
)
def test_the_width_found_on_the_ground(tmp_path: Path, width: float, wanted: str) -> None:
    of = trial(tmp_path)
    level = of.scene.levels_db(Departure(pattern_scale=width))
    found = on_ground(tmp_path, of, level, site_db=0.2, band_db=0.3)
    assert wanted in found.advice
    assert found.explained is True
    data = json.loads(json.dumps(found.to_dict()))
    assert data["pattern_scale"]["value"] == pytest.approx(width, abs=0.01)
    assert data["distance_m"] == of.distance_m
    assert [one["name"] for one in data["positions"]] == [one.name for one in of.points]
    assert found.positions[1].distance_m == pytest.approx(2.0 * of.distance_m)


def test_a_trial_that_tells_nothing_or_is_not_explained(tmp_path: Path) -> None:
    of = trial(tmp_path)
    level = of.scene.levels_db(Departure())
    loud = on_ground(tmp_path, of, level, site_db=9.0, band_db=9.0)
    assert loud.pattern_scale is None
    assert loud.to_dict()["pattern_scale"] is None
    assert "cannot tell how wide" in loud.advice
    odd = level.copy()
    odd[0, 1] += 20.0
    wrong = on_ground(tmp_path, of, odd, site_db=0.2, band_db=0.3)
    assert wrong.explained is False
    assert wrong.pattern_scale is None
    assert "Aim and gain cannot explain" in wrong.advice
    assert wrong.stands_out


def test_the_coarse_pattern_by_hand(tmp_path: Path) -> None:
    of = trial(tmp_path, distance_m=8.0)
    level = of.scene.levels_db(Departure())
    found = on_ground(tmp_path, of, level + np.linspace(60.0, 70.0, len(level))[:, np.newaxis])
    rows = found.coarse_csv.splitlines()
    assert rows[0] == (
        "# coarse check of main on the ground at 8 m: 3 directions only, no pattern to aim with"
    )
    assert rows[1] == "angle_deg," + ",".join(f"{band:g}" for band in of.bands_hz)
    assert [row.split(",")[0] for row in rows[2:4]] == ["-30", "-9.896"]
    assert {abs(float(cell)) for cell in rows[4].split(",")} == {0.0}
    assert all(float(cell) == pytest.approx(-6.02, abs=0.011) for cell in rows[2].split(",")[1:])
    # Without the axis, or with nothing beside it, there is no pattern to write.
    for places in ([2, 3], [0, 1]):
        names = [of.points[n].name for n in places]
        path = long_csv(tmp_path / "p.csv", names, of.bands_hz, level[:, places])
        assert compare_on_ground(of, path).coarse_csv == ""
    two = [0, 2]
    half = level[:, two].copy()
    half[0] = np.nan
    half[1, 1] = np.nan
    path = long_csv(tmp_path / "h.csv", [of.points[n].name for n in two], of.bands_hz, half)
    rows = compare_on_ground(of, path).coarse_csv.splitlines()
    assert rows[1] == "angle_deg," + ",".join(f"{band:g}" for band in of.bands_hz[2:])
    assert len(rows) == 4
    # A band of the axis alone is an empty cell in the other direction.
    level3 = np.column_stack([level[:, 0], level[:, 2], level[:, 3]])
    level3[0, 2] = np.nan
    names = [of.points[n].name for n in (0, 2, 3)]
    path = long_csv(tmp_path / "e.csv", names, of.bands_hz, level3)
    rows = compare_on_ground(of, path).coarse_csv.splitlines()
    assert rows[3].split(",")[:2] == ["-9.896", ""]


def found_of(
    scenario: Scenario, hung: Placement | None, corrected: Placement | None = None
) -> Found:
    nothing = Coverage(None, None)
    return Found(
        title="t", datum="d", speaker=scenario.speakers[-1].name, bands_hz=BANDS_HZ, site_db=0.7,
        band_db=1.0, plan=PLAN, tilt_error_deg=Interval(-1.0, -2.0, 0.0), height_error_m=None,
        pattern_scale=None, levels_tilt_error_deg=None, confirmed=None, explained=True,
        stands_out=(StandsOut("row 1", None, -3.0, -4.0),), hung=hung, corrected=corrected,
        planned_coverage=Coverage(4.0, 80.0), now=Coverage(5.0, 70.0), after=nothing, advice="a",
        positions=(), readings=(), notes=("n",), rows=scenario.rows,
    )  # fmt: skip


def rewritten(folder: Path, placement: str, hung: Placement, head: str = SCENARIO) -> str:
    scenario = scenario_of(folder, head[: head.index("[speaker.placement]")] + placement)
    text = corrected_text(scenario, found_of(scenario, hung), which="hung")
    assert text.startswith("# main as it hangs after measuring on site: nose down 20.0°, acoustic ")
    return text.split("\n", 1)[1].split("[speaker.placement]\n")[-1]


HUNG = Placement(0.5, 5.4321, -20.004)


@pytest.mark.parametrize(
    ("placement", "wanted"),
    [
        (
            "[speaker.placement]\nx = 0.0\nheight = 6.0 # a\ntilt = -15.0\n",
            "x = 0.5\nheight = 5.432 # a\ntilt = -20\n",
        ),
        (
            "[speaker.placement]\nheight = 6.0\ntilt = [\n -40, # [ 1\n 10 ] # b\n",
            "x = 0.5\nheight = 5.432\ntilt = -20 # b\n",
        ),
        (
            "[speaker.placement]\nheight = [ '5 m', \"6 m\" ]\ntilt = -15",
            "x = 0.5\nheight = 5.432\ntilt = -20",
        ),
        (
            "[speaker.placement]\n\"height\" = '6 m' # c\ntilt=-15\nx =0.5",
            '"height" = 5.432 # c\ntilt=-20\nx =0.5',
        ),
        ("[speaker.placement]", "tilt = -20\nheight = 5.432\nx = 0.5"),
    ],
)
def test_a_placement_is_changed_in_place(tmp_path: Path, placement: str, wanted: str) -> None:
    if placement == "[speaker.placement]":
        placement += "\nheight = 6.0"
        wanted = "tilt = -20\nx = 0.5\nheight = 5.432"
    written = rewritten(tmp_path, placement, HUNG)
    assert sorted(written.split("\n")) == sorted([*wanted.rstrip("\n").split("\n"), ""])


def test_a_placement_on_one_line_is_changed_in_place(tmp_path: Path) -> None:
    head = SCENARIO[: SCENARIO.index("[speaker.placement]")].replace(
        "[speaker.pattern]\n", "placement = { height = 6.0, tilt = -15 } # e\n[speaker.pattern]\n"
    )
    scenario = scenario_of(tmp_path, head)
    text = corrected_text(scenario, found_of(scenario, HUNG), which="hung")
    assert "placement = { height = 5.432, tilt = -20" in text
    assert "} # e\n" in text
    held = tomllib.loads(text)["speaker"][0]["placement"]
    assert held == {"x": 0.5, "height": 5.432, "tilt": -20}


def test_feet_trims_and_bases_keep_their_way(tmp_path: Path) -> None:
    feet = 'units = "ft"\n' + SCENARIO.replace("schema = 1\n", "")
    scenario = scenario_of(tmp_path, 'schema = 1\n' + feet)  # fmt: skip
    text = corrected_text(scenario, found_of(scenario, Placement(0.3048, 6.096, -15.0)))
    held = tomllib.loads(text)["speaker"][0]["placement"]
    assert held == {"x": 1.0, "height": 20.0, "tilt": -15.0}
    assert text.startswith("# main as it hangs after")
    trim = rewritten(tmp_path, "[speaker.placement]\ntrim = 5.0\ntilt = -15\n", HUNG)
    turn = np.radians(-20.0)
    lowest = 5.4321 - 0.35 * np.cos(turn)
    assert tomllib.loads(trim)["trim"] == round(float(lowest), 3)
    assert "height" not in trim


def test_flipped_trims_are_of_the_box_as_hung(tmp_path: Path) -> None:
    lop = SCENARIO.replace("[-0.5, 0.35]]", "[-0.5, 0.9]]").replace("upright", "flipped")
    hung = replace(HUNG, flipped=True)
    placed = '[speaker.placement]\ntrim = 5.0\ntilt = -15\norientation = "flipped"\n'
    trim = tomllib.loads(rewritten(tmp_path, placed, hung, lop))
    # The corner at (−0.5, 0.9) hangs at (−0.5, −0.9): 0.5·sin 20° − 0.9·cos 20° from the centre.
    turn = np.radians(20.0)
    corner, front = 0.5 * np.sin(turn) - 0.9 * np.cos(turn), -0.35 * np.cos(turn)
    assert trim["trim"] == pytest.approx(5.4321 + min(corner, front), abs=0.0006)
    assert trim["orientation"] == "flipped"
    turned = rewritten(
        tmp_path, "[speaker.placement]\nheight = 5.432\ntilt = -20.0\nx = 0.5\n", hung
    )
    assert turned == 'height = 5.432\ntilt = -20.0\nx = 0.5\norientation = "flipped"\n'


def test_the_second_loudspeaker_is_the_one_that_is_changed(tmp_path: Path) -> None:
    other = SCENARIO[SCENARIO.index("[[speaker]]") :].replace('"main"', '"fill"')
    scenario = scenario_of(tmp_path, SCENARIO + other)
    text = corrected_text(scenario, found_of(scenario, HUNG))
    main, fill = tomllib.loads(text)["speaker"]
    assert main["placement"]["tilt"] == -15.0
    assert fill["placement"]["tilt"] == -20.0
    assert text.startswith("# fill as it hangs")
    corrected = corrected_text(scenario, found_of(scenario, HUNG, replace(HUNG, tilt_deg=-15.0)))
    assert corrected.startswith("# fill as corrected after measuring on site: nose down 15.0°")
    with pytest.raises(RewriteError, match="not known how the box hangs"):
        corrected_text(scenario, found_of(scenario, None))


def test_what_was_found_is_ready_for_json(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    data = json.loads(json.dumps(found_of(scenario, HUNG).to_dict()))
    assert data["hung"] == {
        "x_m": 0.5, "height_m": 5.4321, "tilt_deg": -20.004, "orientation": "upright",
    }  # fmt: skip
    assert data["corrected"] is None
    assert data["tilt_error_deg"] == {"value": -1.0, "low": -2.0, "high": 0.0}
    assert data["stands_out"] == [{"position": "row 1", "band_hz": None, "left_db": -3.0}]
    assert (data["spread_planned_db"], data["spread_now_db"]) == (4.0, 5.0)
    assert data["spread_corrected_db"] is None
    assert data["rows_within_3db_percent"] == {"planned": 80.0, "now": 70.0, "corrected": None}
    assert by_band((1000.0, 2000.0), np.array([1.0, np.nan])) == {1000.0: 1.0, 2000.0: None}


def compared(folder: Path, departure: Departure | None, readings: str = "", **given: Any) -> Found:
    scenario = scenario_of(folder)
    path = None
    if departure is not None:
        points = microphones(scenario.rows, None).pick(np.array(ROWS))
        level = measured(scene_of(scenario, scenario.speakers[0], PLAN, points), departure)
        names = [scenario.rows.label(row) for row in ROWS]
        path = long_csv(folder / "m.csv", names, BANDS_HZ, level)
    if readings:
        (folder / "r.csv").write_text("reading,at,value,plus_minus\n" + readings)
        given["readings"] = folder / "r.csv"
    return onsite(scenario, path, **given)


@pytest.mark.parametrize(("away", "wanted"), [(0.98, True), (1.02, False)])
def test_levels_confirm_within_their_99_percent(tmp_path: Path, away: float, wanted: bool) -> None:
    first = compared(tmp_path, Departure(tilt_deg=-8.0))
    levels = first.levels_tilt_error_deg
    assert levels is not None
    assert first.confirmed is None
    limit = 2.5758 / 1.6449 * float(np.hypot(1.5, levels.half))
    read = -15.0 + levels.value + away * limit
    found = compared(tmp_path, Departure(tilt_deg=-8.0), f"inclinometer,axis,{read:.5f},1.5\n")
    assert found.confirmed is wanted
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(levels.value + away * limit, abs=1e-4)
    assert (found.corrected is None) is not wanted
    assert (found.after == Coverage(None, None)) is not wanted


def test_a_height_read_is_told_and_held(tmp_path: Path) -> None:
    true = Departure(tilt_deg=-8.0, height_m=0.5)
    found = compared(tmp_path, true, "height,,6.5,0.02\n")
    assert found.height_error_m is not None
    assert found.height_error_m.value == pytest.approx(0.5)
    assert found.height_error_m.half == pytest.approx(0.02, rel=1e-3)
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(-8.0, abs=0.05)
    assert found.hung is not None
    assert found.hung.height_m == pytest.approx(6.5)
    assert len(found.readings) == 1


def test_what_the_noise_and_the_notes_are(tmp_path: Path) -> None:
    rows = "inclinometer,axis,-15,0.1\ninclinometer,axis,-19,0.1\n"
    found = compared(tmp_path, None, rows, site_db=0.4, band_db=0.6)
    assert (found.site_db, found.band_db) == (0.4, 0.6)
    assert len(found.notes) == 1
    assert "disagree" in found.notes[0]
    assert found.stands_out == ()
    assert found.planned_coverage.spread_db is not None


def test_places_go_by_their_coordinates(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    points = scenario.rows.pick(np.array(ROWS))
    level = measured(scene_of(scenario, scenario.speakers[0], PLAN, points), Departure(tilt_deg=-5))
    names = [f"p{n}" for n in range(6)]
    (tmp_path / "p.csv").write_text(
        "position,x,z\n"
        + "".join(f"p{n},{points.x_m[n]:.6f},{points.z_m[n]:.6f}\n" for n in range(6))
    )
    path = long_csv(tmp_path / "m.csv", names, BANDS_HZ, level)
    found = onsite(scenario, path, places=tmp_path / "p.csv")
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(-5.0, abs=0.05)
    assert [one.name for one in found.positions] == names


def test_which_loudspeaker_is_meant(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    assert speaker_of(scenario, None) is scenario.speakers[0]
    assert speaker_of(scenario, "main") is scenario.speakers[0]
    other = SCENARIO[SCENARIO.index("[[speaker]]") :].replace('"main"', '"fill"')
    two = scenario_of(tmp_path, SCENARIO + other)
    assert speaker_of(two, "fill") is two.speakers[1]
    with pytest.raises(OnSiteError, match=r"several loudspeakers \(main, fill\)"):
        speaker_of(two, None)
    with pytest.raises(OnSiteError, match='no loudspeaker "x"; main, fill'):
        speaker_of(two, "x")


def test_the_page_to_take_along(tmp_path: Path) -> None:
    back = '[[seating]]\nname = "back"\nline = [[20.0, 1.4], [24.0, 1.8]]\n[[speaker]]'
    text = SCENARIO.replace("[[speaker]]", back).replace('"main"', '"main"\nserves = ["back"]')
    scenario = scenario_of(tmp_path, text.replace("tilt = -15.0", "tilt = -8.0"))
    plan = check_plan(aiming.evaluate(scenario), mic_height_m=0.5)
    assert plan.plan == Placement(0.0, 6.0, -8.0)
    assert all(name.endswith(" of back") for name in plan.names)
    for name, check in zip(plan.names, plan.checks, strict=True):
        row = next(n for n in range(len(scenario.rows)) if scenario.rows.label(n) == name)
        assert check.x_m == pytest.approx(scenario.rows.x_m[row])
        assert check.z_m == pytest.approx(scenario.rows.z_m[row] - 1.2 + 0.5)
    first, every = plan.tilt_doubt_deg
    assert every <= first
    data = json.loads(json.dumps(plan.to_dict()))
    assert data["mic_height_m"] == 0.5
    assert data["check_positions"][0]["name"] == plan.names[0]
    assert data["check_positions"][0]["levels_db"]["1000"] == plan.checks[0].levels_db[0]
    assert data["tilt_doubt_deg"] == [pytest.approx(first), pytest.approx(every)]


def test_a_trial_whose_positions_come_in_another_order(tmp_path: Path) -> None:
    of = trial(tmp_path, distance_m=3.0)
    assert of.far_field_m is not None
    assert of.notes == (
        f"d is nearer than the far field, which begins at about {of.far_field_m:.1f} m",
    )
    names = [of.points[n].name for n in (2, 0, 1)]
    level = of.scene.levels_db(Departure())[:, [2, 0, 1]]
    found = compare_on_ground(of, long_csv(tmp_path / "g.csv", names, of.bands_hz, level))
    assert [one.name for one in found.positions] == names
    assert found.explained is not False
    path = long_csv(tmp_path / "w.csv", [*names[:2], "roof"], of.bands_hz, level)
    with pytest.raises(aiming.ScenarioError) as caught:
        compare_on_ground(of, path)
    (fault,) = caught.value.faults
    assert (fault.line, fault.column, fault.key) == (2 + 2 * len(of.bands_hz), 1, "position")


def test_feet_and_trims_together(tmp_path: Path) -> None:
    text = SCENARIO.replace("schema = 1\n", 'schema = 1\nunits = "ft"\n')
    text = text.replace("height = 6.0", "trim = 20.0").replace("x = 0.0", "x = 1.0")
    scenario = scenario_of(tmp_path, text)
    hung = Placement(1.23456 * 0.3048, 7.0, -15.0)
    held = tomllib.loads(corrected_text(scenario, found_of(scenario, hung)))["speaker"][0]
    # The outline is in feet too: its lowest corner is 0.35 ft below the axis.
    lowest = 7.0 / 0.3048 - 0.35 * np.cos(np.radians(15.0))
    assert held["placement"]["trim"] == pytest.approx(lowest, abs=0.00051)
    assert held["placement"]["trim"] == round(held["placement"]["trim"], 3)
    assert held["placement"]["x"] == 1.235


def test_a_flipped_plan_stays_flipped(tmp_path: Path) -> None:
    text = SCENARIO.replace("upright]", "flipped]")
    text = text.replace("tilt = -15.0", 'tilt = -15.0\norientation = "flipped"')
    scenario = scenario_of(tmp_path, text)
    (tmp_path / "r.csv").write_text("reading,at,value\ninclinometer,,-10\n")
    found = onsite(scenario, readings=tmp_path / "r.csv")
    assert found.plan.flipped
    assert found.tilt_error_deg is not None
    assert found.tilt_error_deg.value == pytest.approx(7.0, abs=1e-6)
    assert "by the readings" in found.advice


def test_levels_alone_are_said_to_be_the_levels(tmp_path: Path) -> None:
    found = compared(tmp_path, Departure(tilt_deg=-8.0))
    assert "by the levels" in found.advice
    low = compared(tmp_path, Departure(tilt_deg=-8.0), "inclinometer,axis,-35,0.3\n")
    assert low.confirmed is False

"""Every command and the Python interface as somebody uses them who knows only what they promise.

Nothing of the package's inside is looked at: only commands, files, and what `import aiming` gives.
Levels, spreads, loads and places are computed again here from their own formulas; air absorption
after ISO 9613-1:1993 at exact base-ten mid-bands, statics from moments about a pick.
"""

import csv
import json
import math
import os
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import MISSING, browser
from command_line import process, run
from pypdf import PdfReader

import aiming
from aiming.scenario import Scenario

G = 9.80665
HEAD = """\
schema = 1
title = "Quarry amphitheatre, summer readings"
units = "m"
[datum]
name = "stage front edge, quarry floor"
[[seating]]
name = "lower tier"
line = [[4.0, 0.0], [18.0, 1.4]]
row_spacing = 0.875
[[speaker]]
name = "main"
serves = ["lower tier"]
[speaker.pattern]
coverage = 60
control_from_hz = 900
[speaker.output]
sensitivity_db = 97
max_level_db = 128
"""
CABINET = """\
[speaker.cabinet]
mass_kg = 26.0
outline = [[-0.38, -0.20], [0.02, -0.20], [0.02, 0.44], [-0.38, 0.44]]
centre_of_gravity = [-0.17, 0.08]
picks = [{ name = "front", at = [-0.06, 0.44], wll_kg = 130 },
         { name = "rear",  at = [-0.34, 0.44], wll_kg = 130 },
         { name = "front, base", at = [-0.06, -0.20], wll_kg = 130 },
         { name = "rear, base",  at = [-0.34, -0.20], wll_kg = 130 }]
laser_at = [-0.02, 0.44]
"""
RIGGING = """\
[speaker.rigging.upright]
method = "two points"
picks = ["front", "rear"]
extra_mass_kg = 3.0
extra_at = [-0.17, 0.50]
"""
PLACEMENT = """\
[speaker.placement]
mount = "flown"
height = [4.5, 8.0]
tilt = [-60, 20]
"""
VARIANT = """\
[[variant]]
name = "stacked on the stage"
set = { "speaker.main.placement.mount" = "stacked", "speaker.main.placement.height" = 1.9 }
"""
SCENARIO = HEAD + CABINET + RIGGING + PLACEMENT + VARIANT
FIXED = {"speaker.main.placement.height": 6.0, "speaker.main.placement.tilt": -12.0}
AT = ["--set", "speaker.main.placement.height=6", "--set", "speaker.main.placement.tilt=-12"]
TILT = "speaker.main.placement.tilt"
FAULTY = """\
schema = 1
title = "bad"
units = "yards"
[datum]
name = "d"
[[seating]]
name = "a"
line = [[4.0, 0.0], [3.0, 1.4]]
row_spacing = -1
[[speaker]]
name = "main"
serves = ["nowhere"]
[speaker.pattern]
coverage = 400
[speaker.placement]
height = [8, 4]
tilt = 100
tillt = 5
[aim]
objective = "nice"
"""
FAULTS = [
    ":3:1: units: ",
    ":8:21: seating.a.line.1: ",
    ":9:1: seating.a.row_spacing: ",
    ":12:11: speaker.main.serves.0: ",
    ":14:1: speaker.main.pattern.coverage: ",
    ":16:1: speaker.main.placement.height: ",
    ":17:1: speaker.main.placement.tilt: ",
    ":18:1: speaker.main.placement.tillt: ",
    ":20:1: aim.objective: ",
]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "quarry.toml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


def matched(pattern: str, text: str) -> str:
    """The first group of the pattern, which must be in the text."""
    found = re.search(pattern, text)
    assert found is not None, text
    return found[1]


def scene(text: str = SCENARIO, **changes: object) -> Scenario:
    placed = {f"speaker.main.placement.{key}": value for key, value in changes.items()}
    return aiming.load("-", stdin_text=text, changes=placed)


# The same quantities once more, from their definitions.


def air_db_per_m(f: float, celsius: float = 20.0, humidity: float = 50.0) -> float:
    t = celsius + 273.15
    h = humidity * 10 ** (-6.8346 * (273.16 / t) ** 1.261 + 4.6151)
    oxygen = 24 + 4.04e4 * h * (0.02 + h) / (0.391 + h)
    nitrogen = (t / 293.15) ** -0.5 * (
        9 + 280 * h * math.exp(-4.170 * ((t / 293.15) ** (-1 / 3) - 1))
    )
    relaxing = 0.01275 * math.exp(-2239.1 / t) / (oxygen + f * f / oxygen)
    relaxing += 0.1068 * math.exp(-3352 / t) / (nitrogen + f * f / nitrogen)
    return 8.686 * f * f * (1.84e-11 * (t / 293.15) ** 0.5 + (t / 293.15) ** -2.5 * relaxing)


BANDS = (1000, 2000, 4000, 8000)
PARTS = 10.0 ** (0.3 * ((np.arange(400) + 0.5) / 400 - 0.5))
"""Of an octave, equal over its logarithm."""
WAY_M = np.arange(0.0, 120.0, 0.05)


def octave_lost_db(band: float) -> np.ndarray:
    """What an octave of pink noise loses to the air on each way of WAY_M."""
    middle = 1000.0 * 10 ** (0.3 * round(math.log10(band / 1000.0) / 0.3))
    slopes = np.array([air_db_per_m(middle * part) for part in PARTS])
    return -10.0 * np.log10(np.mean(10.0 ** (-0.1 * slopes * WAY_M[:, None]), axis=1))


LOST = [octave_lost_db(band) for band in BANDS]
ROW_X = np.linspace(4.0, 18.0, 17)
ROW_Z = 1.2 + 0.1 * (ROW_X - 4.0)


def levels(height: Any, tilt: Any, x: Any = ROW_X, z: Any = ROW_Z) -> np.ndarray:
    """(…, bands, points): nominal 60 degree lobe, 97 dB, at x = 0."""
    height, tilt = np.asarray(height)[..., None], np.asarray(tilt)[..., None]
    r = np.hypot(x, z - height)
    off = np.degrees(np.arctan2(z - height, x)) - tilt
    lobe = np.maximum(-20 * math.log10(2) * (off / 30.0) ** 2, -24.0)
    plain = 97.0 + lobe - 20 * np.log10(r)
    lost = [np.interp(r, WAY_M, of) for of in LOST]
    return plain[..., None, :] - np.stack(lost, axis=-2)


def spread(level: np.ndarray) -> np.ndarray:
    return level.mean(axis=-2).max(axis=-1) - level.mean(axis=-2).min(axis=-1)


def axis_meets(height: Any, tilt: Any) -> np.ndarray:
    """x of the aim point on the line of ears, NaN beyond its ends."""
    x = (height - 0.8) / (0.1 - np.tan(np.radians(tilt)))
    return np.where((x >= 4.0 - 1e-9) & (x <= 18.0 + 1e-9), x, np.nan)


def turned(u: float, w: float, tilt: float) -> tuple[float, float]:
    """Body axes to x and z about the acoustic centre."""
    t = math.radians(tilt)
    return u * math.cos(t) - w * math.sin(t), u * math.sin(t) + w * math.cos(t)


# solve and evaluate


def test_json_stands_alone_and_is_the_same_from_a_file_and_from_standard_input(file: Path) -> None:
    first, again = process("solve", file, "--json"), process("solve", "-", "--json", stdin=SCENARIO)
    assert first.code == again.code == 0
    assert first.out == again.out
    assert "NaN" not in first.out and "Infinity" not in first.out
    answer = json.loads(first.out)
    assert list(answer)[:7] == [
        "schema", "version", "title", "speakers", "together", "rows", "cautions",
    ]  # fmt: skip
    told = first.err.splitlines()
    assert [one["text"] for one in answer["cautions"] if "No rigging design" in one["text"]]
    for one in answer["cautions"]:
        assert {"code", "severity", "text", "value", "unit", "limit"} <= set(one)
        assert any(one["text"] in line for line in told)
    [one] = answer["speakers"]
    assert {
        "name", "mount", "orientation", "x_m", "height_m", "trim_m", "tilt_deg", "aim_point",
        "aim_seating", "aim_row", "spread_db", "worst_band_spread_db", "deviation_db",
        "rows_within_3db_percent", "best", "gap_db", "limited_by", "window", "shortcut", "by_band",
        "uniform_line", "check_positions", "loads",
    } <= set(one)  # fmt: skip


def test_solve_finds_what_a_search_of_our_own_finds() -> None:
    answer = aiming.solve(scene())
    [one] = answer.speakers
    height = np.linspace(4.5, 8.0, 141)[:, None]
    tilt = np.linspace(-60.0, 20.0, 1601)[None, :]
    found = np.where(np.isnan(axis_meets(height, tilt)), np.inf, 0.0)
    at = np.isfinite(found)
    grid = np.broadcast_arrays(height, tilt)
    found[at] = spread(levels(grid[0][at], grid[1][at]))
    assert 0.0 <= one.gap_db <= 0.05 + 1e-9
    assert one.best.objective_db - one.gap_db <= found.min() <= one.best.objective_db + 0.03
    # Of all that cost at most half a decibel more, the lowest.
    within = found.min(axis=1) <= one.best.objective_db + 0.5
    assert one.height_m == pytest.approx(float(height[within].min()), abs=0.06)
    assert one.spread_db <= one.best.objective_db + 0.5 + 1e-6
    assert spread(levels(one.height_m, one.tilt_deg)) == pytest.approx(one.spread_db, abs=1e-3)


def test_every_figure_of_one_placement_by_its_definition() -> None:
    answer = aiming.evaluate(scene(height=6.0, tilt=-12.0)).to_dict()
    [one] = answer["speakers"]
    level = levels(6.0, -12.0)
    design = level.mean(axis=0)
    for k, row in enumerate(answer["rows"]):
        mine = row["by_speaker"]["main"]
        assert row["x_m"] == pytest.approx(ROW_X[k]) and row["z_m"] == pytest.approx(ROW_Z[k])
        assert mine["distance_m"] == pytest.approx(math.hypot(ROW_X[k], ROW_Z[k] - 6.0))
        assert [mine["levels_db"][str(band)] for band in BANDS] == pytest.approx(
            list(level[:, k]), abs=2e-3
        )
        assert row["design_level_db"] == pytest.approx(design[k], abs=2e-3)
    assert one["spread_db"] == pytest.approx(np.ptp(design), abs=2e-3)
    bands = np.ptp(level, axis=1)
    assert one["worst_band_spread_db"] == pytest.approx(bands.max(), abs=2e-3)
    weight = np.where((ROW_X == 4.0) | (ROW_X == 18.0), 0.5, 1.0)
    weight /= weight.sum()
    mean = (level * weight).sum(axis=1, keepdims=True)
    deviation = math.sqrt(((level - mean) ** 2 * weight).sum(axis=1).mean())
    assert one["deviation_db"] == pytest.approx(deviation, abs=1e-3)
    within = np.abs(design - (design * weight).sum()) <= 3.0
    assert one["rows_within_3db_percent"] == pytest.approx(100 * within.mean())
    for band, ours in zip(BANDS, level, strict=True):
        told = one["by_band"][str(band)]
        assert (told["loudest"], told["softest"]) == (int(ours.argmax()), int(ours.argmin()))
    x = float(axis_meets(6.0, -12.0))
    assert one["aim_point"] == pytest.approx([x, 1.2 + 0.1 * (x - 4.0)], abs=1e-9)
    assert one["aim_row"] == int(np.abs(ROW_X - x).argmin())
    assert one["gap_db"] is None
    corners = [turned(u, w, -12.0) for u in (-0.38, 0.02) for w in (-0.20, 0.44)]
    assert one["trim_m"] == pytest.approx(6.0 + min(z for _, z in corners))
    last = math.degrees(math.atan2(2.6 - 6.0, 18.0))
    assert one["shortcut"]["tilt_deg"] == pytest.approx(last)
    assert one["shortcut"]["spread_db"] == pytest.approx(float(spread(levels(6.0, last))), abs=2e-3)


def test_the_line_of_uniform_level_and_every_row_s_departure_from_it() -> None:
    answer = aiming.evaluate(scene(height=6.0, tilt=-12.0)).to_dict()
    [one] = answer["speakers"]

    def design(x: float, z: float) -> float:
        return float(levels(6.0, -12.0, np.array([x]), np.array([z])).mean())

    aim = design(*one["aim_point"])
    points = one["uniform_line"]["points"]
    assert points[0] == pytest.approx(one["aim_point"], abs=1e-6)
    assert [design(x, z) for x, z in points] == pytest.approx([aim] * len(points), abs=3e-3)
    edge = one["uniform_line"]["edge"]
    off = math.degrees(math.atan2(edge[1] - 6.0, edge[0])) + 12.0
    assert off == pytest.approx(-30.0, abs=0.01)
    for row in answer["rows"]:
        mine = row["by_speaker"]["main"]
        assert mine["departure_db"] == pytest.approx(row["design_level_db"] - aim, abs=2e-3)
        r = mine["distance_m"]
        cosine, sine = row["x_m"] / r, (row["z_m"] - 6.0) / r
        low, high = 0.1, 200.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            louder = design(middle * cosine, 6.0 + middle * sine) > aim
            low, high = (middle, high) if louder else (low, middle)
        assert mine["departure_m"] == pytest.approx(r - low, abs=5e-3)


def test_the_summary_on_standard_output_and_the_cautions_on_standard_error(file: Path) -> None:
    ended = process("solve", file)
    lines = ended.out.splitlines()
    assert ended.code == 0 and len(lines) <= 12 and max(map(len, lines)) <= 80
    assert re.search(r"nose down \d+\.\d°", lines[1])
    assert "stage front edge, quarry floor" in " ".join(ended.out.split())
    assert "No rigging design" in ended.err and "\x1b" not in ended.out


def test_evaluate_refuses_what_is_left_open_and_names_its_keys(file: Path) -> None:
    file.write_text(HEAD + PLACEMENT, encoding="utf-8")
    ended = run("evaluate", file, "--set", "speaker.main.placement.orientation=either")
    assert ended.code == 2 and ended.out == ""
    lines = ended.err.splitlines()
    keys = [matched(r"^.*:\d+:\d+: (\S+): .+; .+", line) for line in lines]
    assert sorted(keys) == [
        f"speaker.main.placement.{k}" for k in ("height", "orientation", "tilt")
    ]
    assert run("evaluate", file, *AT).code == 0


def test_solve_with_nothing_left_to_choose_evaluates(file: Path) -> None:
    solved, evaluated = run("solve", file, *AT, "--json"), run("evaluate", file, *AT, "--json")
    assert solved.out == evaluated.out
    assert json.loads(solved.out)["speakers"][0]["best"] is None


@pytest.mark.parametrize(
    "words",
    [["solve"], ["evaluate"], ["compare"], ["choose"], ["page"], ["onsite"], ["check"],
     ["what-if", "--over", f"{TILT}=-10:0:1", "--table", "t.csv"], ["solve", "--out", "d"]],
    ids=" ".join,
)  # fmt: skip
def test_every_fault_at_once_and_nothing_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_text(FAULTY, encoding="utf-8")
    ended = run(words[0], "bad.toml", *words[1:])
    assert ended.code == 2 and ended.out == ""
    lines = ended.err.splitlines()
    assert len(lines) == len(FAULTS)
    for line, start in zip(lines, FAULTS, strict=True):
        assert line.startswith("bad.toml" + start) and "; " in line
    assert os.listdir() == ["bad.toml"]


def test_changes_by_name_read_as_toml_or_as_text(file: Path) -> None:
    ended = run(
        "solve", file, "--json", "--set", 'seating."lower tier".ears=standing',
        "--set", "speaker.main.placement.height=19 ft 8 in", "--set", f"{TILT}=[-20, -5]",
    )  # fmt: skip
    answer = json.loads(ended.out)
    assert answer["rows"][0]["z_m"] == pytest.approx(1.6)
    assert answer["speakers"][0]["height_m"] == pytest.approx(236 * 0.0254)
    wrong = run("solve", file, "--set", "a.b=1", "--set", "speaker.man.x=2", "--set", "units=yd")
    assert wrong.code == 2 and wrong.out == "" and len(wrong.err.splitlines()) == 3
    assert all(line.startswith("--set:") for line in wrong.err.splitlines())


def test_a_stop_or_no_placement_ends_with_three(file: Path) -> None:
    slack = run("solve", file, *AT[:2], "--set", f"{TILT}=-29", "--json")
    assert slack.code == 3 and "STOP" in slack.err
    severe = [one for one in json.loads(slack.out)["cautions"] if one["severity"] == "stop"]
    assert any(one["value"] < 0.0 for one in severe if one["unit"] == "N")
    none = run("solve", file, "--set", f"{TILT}=[5, 10]")
    assert none.code == 3
    # What the tilt alone would have to become: down to the last row from the top of the range.
    tilt = float(matched(r"tilt would have to reach down to ([−-]\d+\.\d+)", none.err))
    assert tilt == pytest.approx(math.degrees(math.atan2(2.6 - 4.5, 18.0)), abs=0.02)


def test_the_out_folder_its_rules_and_the_hang_sheet(file: Path, tmp_path: Path) -> None:
    out, down, up = tmp_path / "out", ["--set", f"{TILT}=-20"], ["--set", f"{TILT}=25"]
    assert run("solve", file, *AT[:2], *down, "--out", out).code == 0
    made = {one.name for one in out.iterdir()}
    assert {"section.svg", "hang_sheet.pdf", "aim.html", "answer.json", "loads.csv"} <= made
    page_stands_alone(out / "aim.html")
    hang = page_text(out / "hang_sheet.pdf")
    answer = aiming.evaluate(aiming.load(file, changes=FIXED | {TILT: -20}))
    assert json.loads((out / "answer.json").read_text(encoding="utf-8")) == answer.to_dict()
    for point in answer.speakers[0].loads.points:
        assert f"{point.tension_n / G:.1f} kg" in hang
        assert f"{point.tension_n / 1000:.3f} kN" in hang
        assert f"{point.tension_n / 4.4482216152605:.1f} lbf" in hang
    for words in (
        "nose down 20.0°", "6.000 m", "stage front edge, quarry floor", "hung UPRIGHT",
        "No rigging design", "LASER", "Signed", "secondary suspension",
    ):  # fmt: skip
        assert words in hang
    assert "NOT FOR HANGING" not in hang
    assert f"{laser_meets(6.0, -20.0):.3f} m" in hang
    with (out / "loads.csv").open(encoding="utf-8", newline="") as source:
        rows = [row for row in csv.DictReader(source) if row["kind"] == "point"]
    assert sum(float(row["share"]) for row in rows) == pytest.approx(1.0)

    other = tmp_path / "other.toml"
    other.write_text(SCENARIO.replace("Quarry", "Other"), encoding="utf-8")
    assert run("solve", other, *AT, "--out", out).code == 2
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    before = {one.name: one.read_bytes() for one in out.iterdir()}
    refused = run("solve", file, *AT, "--out", out)
    assert refused.code == 2 and refused.out == "" and "mine.txt" in refused.err
    assert {one.name: one.read_bytes() for one in out.iterdir()} == before

    assert run("solve", file, *AT[:2], *up, "--out", out, "--replace").code == 3
    assert (out / "mine.txt").read_text(encoding="utf-8") == "mine"
    hang = page_text(out / "hang_sheet.pdf")
    assert "NOT FOR HANGING" in hang and "SLACK" in hang and "Signed" not in hang
    assert not re.search(r"\b(safe|approved)\b", hang, re.IGNORECASE)


def page_text(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def laser_meets(height: float, tilt: float) -> float:
    """x where the beam from the laser's own place meets the bare floor z = 0.1 (x − 4)."""
    u, w = turned(-0.02, 0.44, tilt)
    slope = math.tan(math.radians(tilt))
    return (height + w - slope * u + 0.4) / (0.1 - slope)


def page_stands_alone(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.encode()) <= 400_000
    assert set(re.findall(r"https?://[^\"'\s<)]+", text)) <= {"http://www.w3.org/2000/svg"}
    assert not re.search(r"<(script|link|img|iframe)[^>]+(src|href)=\"(?!data:)", text)


# What holds it


@pytest.mark.parametrize("tilt", [-25.0, -20.0, 0.0, 15.0])
def test_two_points_by_moments_and_by_places(tilt: float) -> None:
    loads = aiming.evaluate(scene(height=6.0, tilt=tilt)).to_dict()["speakers"][0]["loads"]
    weight = 29.0 * G
    box, frame = turned(-0.17, 0.08, tilt)[0], turned(-0.17, 0.50, tilt)[0]
    front, rear = turned(-0.06, 0.44, tilt), turned(-0.34, 0.44, tilt)
    moment = 26.0 * G * (box - rear[0]) + 3.0 * G * (frame - rear[0])
    tension = moment / (front[0] - rear[0])
    assert loads["weight_n"] == pytest.approx(weight)
    assert [p["name"] for p in loads["points"]] == ["front", "rear"]
    assert [p["tension_n"] for p in loads["points"]] == pytest.approx([tension, weight - tension])
    assert sum(p["share"] for p in loads["points"]) == pytest.approx(1.0)
    assert loads["points"][0]["utilisation"] == pytest.approx(tension / (130 * G * 0.5))
    for line, pick in zip(loads["lines"], (front, rear), strict=True):
        assert line["x_m"] == pytest.approx(pick[0])
        assert line["height_m"] == pytest.approx(6.0 + pick[1])
    # Slack is where the centre of gravity stands plumb under the other pick.
    low = -math.degrees(math.atan2(0.17, 0.44 - (26 * 0.08 + 3 * 0.50) / 29))
    high = math.degrees(math.atan2(0.11, 0.44 - (26 * 0.08 + 3 * 0.50) / 29))
    assert loads["tilt_range_deg"] == pytest.approx([low, high])


def test_the_picks_move_by_a_hand_s_breadth_at_twenty_degrees() -> None:
    places = {}
    for tilt in (0.0, -20.0):
        found = aiming.evaluate(scene(height=6.0, tilt=tilt)).to_dict()["speakers"][0]["loads"]
        places[tilt] = found["lines"][0]["x_m"]
    assert places[-20.0] - places[0.0] == pytest.approx(0.154, abs=0.001)


def test_a_tilt_beyond_the_rigging_is_never_taken() -> None:
    steep = scene(height=8.0, tilt=[-60, -28])
    answer = aiming.solve(steep)
    low, _ = answer.speakers[0].loads.tilt_range_deg
    assert low - 1e-6 <= answer.speakers[0].tilt_deg <= -28.0
    with pytest.raises(aiming.AimingError, match="no placement"):
        aiming.solve(scene(height=8.0, tilt=[-60, -29]))


HOLES = (-0.30, -0.25, -0.20, -0.15)
BAR = f"""\
[speaker.rigging.upright]
method = "one point"
picks = ["front", "rear"]
holes = {list(HOLES)}
holes_w = 0.60
"""


def test_one_point_hangs_from_a_hole_that_there_is() -> None:
    text = HEAD + CABINET.replace("[-0.17, 0.08]", "[-0.12, 0.08]") + BAR + PLACEMENT
    # The centre of gravity hangs plumb under the hole: ahead of it, nose down.
    there = [-math.degrees(math.atan2(-0.12 - u, 0.60 - 0.08)) for u in HOLES]
    solved = aiming.solve(scene(text, height=6.0)).to_dict()["speakers"][0]
    assert min(abs(solved["tilt_deg"] - tilt) for tilt in there) < 1e-6
    told = [one["tilt_deg"] for one in solved["loads"]["settings"]]
    assert all(min(abs(tilt - one) for one in there) < 1e-6 for tilt in told)
    # Of the holes that keep the axis on the audience, the one that the objective likes best.
    able = [tilt for tilt in told if not np.isnan(axis_meets(6.0, tilt))]
    best = min(able, key=lambda tilt: float(spread(levels(6.0, tilt))))
    assert solved["tilt_deg"] == pytest.approx(best, abs=1e-6)
    # As printed it is that hole's tilt; between two holes it is nothing.
    rounded = aiming.evaluate(scene(text, height=6.0, tilt=round(best, 1)))
    assert not [one for one in rounded.cautions if one.code == "tilt-out-of-reach"]
    first, second = sorted(told)[:2]
    between = aiming.evaluate(scene(text, height=6.0, tilt=0.5 * (first + second)))
    assert [one.severity for one in between.cautions if one.code == "tilt-out-of-reach"] == ["stop"]


@pytest.mark.parametrize("elevation", [-20.0, 0.0, 30.0, 90.0])
def test_a_pull_back_balances(elevation: float) -> None:
    pull = f"""\
[speaker.rigging.upright]
method = "pull-back"
picks = ["front", "rear, base"]
pull_elevation_deg = {elevation}
"""
    text = HEAD + CABINET.replace("[-0.06, 0.44]", "[-0.12, 0.44]") + pull + PLACEMENT
    loads = aiming.evaluate(scene(text, height=6.0, tilt=-20.0)).to_dict()["speakers"][0]["loads"]
    weight, beta = 26.0 * G, math.radians(elevation)
    carry, pulled = turned(-0.12, 0.44, -20.0), turned(-0.34, -0.20, -20.0)
    x_g = turned(-0.17, 0.08, -20.0)[0]
    # Moments about the carrying pick: the weight at x_g, a unit pull (−cos β, sin β).
    arm = (pulled[0] - carry[0]) * math.sin(beta) + (pulled[1] - carry[1]) * math.cos(beta)
    tension = weight * (x_g - carry[0]) / arm
    carried = math.hypot(tension * math.cos(beta), weight - tension * math.sin(beta))
    found = {point["name"]: point["tension_n"] for point in loads["points"]}
    assert found["rear, base"] == pytest.approx(tension)
    assert abs(found["front"]) == pytest.approx(carried)


# Python


def test_the_python_example_word_for_word(tmp_path: Path) -> None:
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "quarry.toml").write_text(SCENARIO, encoding="utf-8")
    lines = ["position,frequency_hz,level_db"]
    level = levels(6.0, -15.0) + np.array([3.0, -1.0, 2.0, 0.0])[:, None]
    for k in range(17):
        lines += [f"row {k + 1},{band},{level[b, k]:.4f}" for b, band in enumerate(BANDS)]
    (tmp_path / "measured.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    example = """
import aiming
from aiming.scenario import Scenario
scenario = aiming.load(
    "scenarios/quarry.toml", changes={"speaker.main.placement.height": 6.0}
)
answer = aiming.solve(scenario)
answer.speakers[0].tilt_deg; answer.to_dict()
table = aiming.what_if(
    scenario, over={"speaker.main.placement.tilt": (-30, 0, 0.5)}, figures=("spread_db",),
    executor=None,
)
table["spread_db"]
found = aiming.onsite(scenario, "measured.csv")
import json, numpy
assert isinstance(table["spread_db"], numpy.ndarray)
print(json.dumps([answer.speakers[0].tilt_deg, table["speaker.main.placement.tilt"].tolist(),
    table["spread_db"].tolist(), found.to_dict(), found.tilt_error_deg.value,
    found.spread_now_db, found.spread_corrected_db, list(dict(table))]))
"""
    ended = subprocess.run(
        [sys.executable, "-c", example], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stderr
    tilt, tilts, spreads, found, error, now, corrected, columns = json.loads(ended.stdout)
    assert columns == [TILT, "spread_db"]
    assert tilts == pytest.approx(list(np.arange(-30.0, 0.25, 0.5)))
    assert spreads == pytest.approx(list(spread(levels(6.0, np.array(tilts)))), abs=3e-3)
    able = ~np.isnan(axis_meets(6.0, np.array(tilts)))
    assert tilt == pytest.approx(np.array(tilts)[able][np.array(spreads)[able].argmin()], abs=0.5)
    # What is planned is the solved tilt.
    # Levels alone, of a pattern that may be wrong: the interval holds the truth.
    told = found["tilt_error_deg"]
    assert error == told["value"] < 0.0
    assert told["low"] <= -15.0 - tilt <= told["high"]
    assert (
        now == found["spread_now_db"] == pytest.approx(float(spread(levels(6.0, -15.0))), abs=0.6)
    )
    # Where it is left as it hangs, nothing is corrected.
    left_at = tilt if found["move"] else -15.0
    assert corrected == pytest.approx(float(spread(levels(6.0, left_at))), abs=0.6)


def test_errors_carry_every_fault() -> None:
    with pytest.raises(aiming.ScenarioError) as caught:
        aiming.load("-", stdin_text=FAULTY)
    assert isinstance(caught.value, ValueError)
    assert [(one.line, one.column) for one in caught.value.faults] == [
        tuple(int(part) for part in start.split(":")[1:3]) for start in FAULTS
    ]
    assert all(one.file == "-" and one.key and one.message for one in caught.value.faults)
    whole = scene()
    for over, figures, count in (
        ({TILT: (-30, 0)}, ("spread_db",), 1),
        ({TILT: (0, -30, 1), "speaker.main.placement.height": []}, ("spread_db",), 2),
        ({"speaker.main.placement.tlit": [1], "foo": [1]}, ("spread_db",), 2),
        ({TILT: [-1.0]}, ("sprad_db",), 1),
        ({}, ("spread_db",), 1),
    ):
        with pytest.raises(aiming.ScenarioError) as caught:
            aiming.what_if(whole, over=over, figures=figures)
        assert len(caught.value.faults) == count


def test_names_in_python_are_the_names_in_json() -> None:
    answer = aiming.solve(scene())
    told = answer.to_dict()
    one, data = answer.speakers[0], told["speakers"][0]
    for name in ("best", "window", "shortcut", "uniform_line"):
        for inside in data[name]:
            assert hasattr(getattr(one, name), inside), f"{name}.{inside}"
    for name, value in told["rows"][0].items():
        ours = getattr(answer.rows, name)
        assert name in ("levels_db", "by_speaker") or ours[0] == value
    for name in told["rows"][0]["by_speaker"]["main"]:
        assert len(getattr(answer.rows.by_speaker["main"], name).T) == 17
    assert [getattr(answer.together, name) for name in ("spread_db", "worst_band_spread_db")]


# what-if


def test_a_list_axis_and_any_key_each_as_evaluated_alone() -> None:
    ears = 'seating."lower tier".ears'
    over = {TILT: [-30, -12.25], "speaker.main.pattern.coverage": [50, 60], ears: ["seated", 1.6]}
    table = aiming.what_if(
        scene(height=6.0), over=over, figures=("spread_db", "worst_band_spread_db", "stops")
    )
    assert table.columns == (*over, "spread_db", "worst_band_spread_db", "stops")
    assert len(table) == 8
    for k in range(8):
        changes = {key: table[key][k] for key in over}
        alone = aiming.evaluate(
            aiming.load("-", stdin_text=SCENARIO, changes=FIXED | changes)
        ).speakers[0]
        assert table["spread_db"][k] == pytest.approx(alone.spread_db, abs=2e-3)
        assert table["worst_band_spread_db"][k] == pytest.approx(
            alone.worst_band_spread_db, abs=2e-3
        )
        assert (table["stops"][k] > 0) == (table[TILT][k] == -30)


def test_the_best_of_a_sweep_is_no_better_than_the_proven_best() -> None:
    one = aiming.solve(scene()).speakers[0]
    table = aiming.what_if(
        scene(),
        over={"speaker.main.placement.height": (4.5, 8.0, 0.25), TILT: (-28, 0, 0.25)},
        figures=("spread_db", "feasible"),
    )
    able = table["spread_db"][table["feasible"]]
    assert able.min() >= one.best.objective_db - one.gap_db - 2e-3
    assert able.min() <= one.best.objective_db + 0.2


def test_a_sweep_to_a_table_from_the_command_line(file: Path, tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    ended = run("what-if", file, *AT[:2], "--over", f"{TILT}=-30:0:0.5", "--table", table)
    assert ended.code == 0 and "61" in ended.out
    with table.open(encoding="utf-8", newline="") as source:
        rows = list(csv.DictReader(source))
    assert next(iter(rows[0])) == TILT and len(rows) == 61
    tilts = np.array([float(row[TILT]) for row in rows])
    ours = spread(levels(6.0, tilts))
    assert [float(row["spread_db"]) for row in rows] == pytest.approx(list(ours), abs=3e-3)
    data = json.loads(
        run("what-if", file, *AT[:2], "--over", f"{TILT}=-30,-12,-8", "--json", "--quiet").out
    )
    assert data["best"][0][TILT] == -12
    loose = run("what-if", file, *AT[:2], "--over", f"{TILT}=-30,-12", "--figures", "spread_db")
    assert "feasible" in loose.out
    wrong = run(
        "what-if", file, "--over", "foo=1", "--over", "bar=2", "--table", tmp_path / "u.csv"
    )
    assert wrong.code == 2 and wrong.out == "" and len(wrong.err.splitlines()) == 2
    assert not (tmp_path / "u.csv").exists()


def test_a_variant_is_an_axis(file: Path) -> None:
    table = aiming.what_if(
        aiming.load(file), over={"variant": ["", "stacked on the stage"]}, figures=("height_m",)
    )
    assert table["height_m"][1] == pytest.approx(1.9) and table["height_m"][0] >= 4.5
    told = run("solve", file, "--set", "variant=stacked on the stage", "--json")
    same = run("solve", file, "--variant", "stacked on the stage", "--json")
    assert json.loads(told.out)["speakers"] == json.loads(same.out)["speakers"]
    wrong = run("check", file, "--set", "variant=stacked")
    assert wrong.code == 2 and "stacked on the stage" in wrong.err


def test_an_interrupted_sweep_goes_on_to_the_same_bytes(file: Path, tmp_path: Path) -> None:
    whole, cut = tmp_path / "whole.csv", tmp_path / "cut.csv"
    over = {"speaker.main.pattern.coverage": (50, 70, 0.5)}

    def stop(done: int, rows: int) -> None:
        if done:
            raise KeyboardInterrupt

    scenario = aiming.load(file, changes={"speaker.main.placement.height": 6})
    aiming.what_if(scenario, over=over, table=whole)
    with pytest.raises(KeyboardInterrupt):
        aiming.what_if(scenario, over=over, table=cut, progress=stop)
    assert not cut.exists() and list(tmp_path.glob("cut.csv*"))
    words = ["what-if", file, *AT[:2], "--over", "speaker.main.pattern.coverage=50:70:0.5"]
    names = "spread_db,worst_band_spread_db,softest_row_level_db,rows_within_3db_percent,feasible"
    ended = run(*words, "--figures", names, "--table", cut, "--resume", "--quiet")
    assert ended.code == 0
    assert cut.read_bytes() == whole.read_bytes()
    assert sorted(one.name for one in tmp_path.glob("*.csv*")) == ["cut.csv", "whole.csv"]


# On site


def measured(path: Path, tilt: float, rows: list[int], *, louder: int | None = None) -> Path:
    """What a box at this tilt would give, each band with a gain of its own."""
    level = levels(6.0, tilt) + np.array([-40.0, -35.0, -38.0, -31.0])[:, None]
    lines = ["position,frequency_hz,level_db"]
    for k in rows:
        more = 12.0 if k == louder else 0.0
        lines += [f"row {k + 1},{band},{level[b, k] + more:.3f}" for b, band in enumerate(BANDS)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_onsite_tells_the_tilt_and_the_correction(file: Path, tmp_path: Path) -> None:
    levels_file = measured(tmp_path / "m.csv", -16.0, list(range(17)))
    ended = run("onsite", file, levels_file, *AT, "--json")
    found = json.loads(ended.out)
    assert ended.code == 0
    error = found["tilt_error_deg"]
    assert error["low"] < error["value"] < error["high"]
    assert error["low"] < -4.0 < error["high"] < 0.0
    assert 0.5 < error["high"] - error["low"] < 20.0
    assert found["explained"] is True
    # The pattern may be a tenth beside its data, and the spread is the middle of what may be.
    assert found["spread_now_db"] == pytest.approx(float(spread(levels(6.0, -16.0))), abs=0.5)
    assert found["spread_corrected_db"] <= found["spread_now_db"]
    # Only differences count: the prediction is shifted, band by band, onto the measured levels.
    mine = np.array([[p["measured_db"][str(b)] for b in BANDS] for p in found["positions"]])
    plan = np.array([[p["predicted_db"][str(b)] for b in BANDS] for p in found["positions"]])
    ours = levels(6.0, -12.0).T
    shift = plan - ours
    assert np.ptp(shift, axis=0).max() < 3e-3
    assert (mine - plan).mean(axis=0) == pytest.approx([0.0] * 4, abs=0.3)


def test_onsite_gives_null_for_what_it_cannot_tell(file: Path, tmp_path: Path) -> None:
    few = measured(tmp_path / "few.csv", -12.0, [7, 8])
    near = json.loads(run("onsite", file, few, *AT, "--json").out)
    # Two rows side by side change alike with the tilt.
    assert near["tilt_error_deg"] is None
    assert near["height_error_m"] is None and near["pattern_scale"] is None
    odd = measured(tmp_path / "odd.csv", -12.0, list(range(0, 17, 2)), louder=4)
    found = json.loads(run("onsite", file, odd, *AT, "--json").out)
    assert found["explained"] is False and found["tilt_error_deg"] is None
    assert found["spread_corrected_db"] is None
    assert "row 5" in found["advice"] and found["corrected"] is None


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", ":1:1:"),
        ("position,frequency_hz,level_db\n", ":1:1:"),
        ("position,frequency_hz,level_db\nrow 1,1000,60\n", "two"),
        ("position,frequency_hz,level_db\nrow 1,1000,60\nrow 99,1000,61\n", ":3:1:"),
        ("position,frequency_hz,level_db\nrow 1,31,60\nrow 2,31,61\n", "frequen"),
        ("position,frequency_hz,level_db\nrow 1,1000,loud\nrow 2,1000,61\n", ":2:12:"),
        ("position,frequency_hz,level_db\nrow 1,1000,60,5\nrow 2,1000,61,1\n", "decimal commas"),
        ("position,frequency_hz,level_db\nrow 1,1000,0.5\nrow 2,1000,0.4\n", "linear"),
        ("place,frequency_hz,level_db\nrow 1,1000,60\n", "position"),
    ],
)
def test_measurements_that_are_none(file: Path, tmp_path: Path, text: str, place: str) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(text, encoding="utf-8")
    ended = run("onsite", file, bad, *AT, "--json")
    assert ended.code == 2 and ended.out == "" and place in ended.err
    assert re.match(r".*bad\.csv:\d+:\d+: ", ended.err)


# The small commands


@pytest.mark.parametrize("coverage", [30.0, 60.0, 90.0])
def test_ideal_by_the_law_of_cosines(coverage: float) -> None:
    ended = run("ideal", "--coverage", coverage, "--length", "20", "--json")
    found = json.loads(ended.out)
    half = math.radians(coverage / 2)
    near = 20.0 / math.sqrt(5 - 4 * math.cos(half))
    tilt = math.atan(math.sin(half) / (2 - math.cos(half)))
    assert found["near_throw_m"] == pytest.approx(near)
    assert found["far_throw_m"] == pytest.approx(2 * near)
    assert found["tilt_deg"] == pytest.approx(-math.degrees(tilt))
    assert found["height_m"] == pytest.approx(1.2 + 2 * near * math.sin(tilt))
    assert found["x_m"] == pytest.approx(20.0 - 2 * near * math.cos(tilt))
    assert "behind the datum" in run("ideal", "--coverage", coverage, "--length", "20").out


def test_a_bridle_balances_and_warns() -> None:
    words = ["bridle", "--load", "500 lb", "--drops", "4 ft", "3 ft", "--reaches", "3 ft", "6 ft"]
    found = json.loads(run(*words, "--json").out)
    one, two = found["legs"]
    for leg, drop, reach in ((one, 4, 3), (two, 3, 6)):
        length = math.hypot(drop, reach)
        assert leg["vertical_n"] == pytest.approx(leg["tension_n"] * drop / length)
        assert leg["horizontal_n"] == pytest.approx(leg["tension_n"] * reach / length)
    pound = 0.45359237 * G
    assert one["tension_n"] / pound == pytest.approx(454.5, abs=0.06)
    assert two["tension_n"] / pound == pytest.approx(304.9, abs=0.06)
    assert one["vertical_n"] + two["vertical_n"] == pytest.approx(500 * pound)
    assert one["horizontal_n"] == pytest.approx(two["horizontal_n"])
    assert any(c["value"] == pytest.approx(26.565, abs=1e-3) for c in found["cautions"])
    assert "No rigging design" in run(*words).out


def test_a_pattern_s_coverage_angle(tmp_path: Path) -> None:
    lines = ["angle_deg,1000,4000"]
    for angle in range(-180, 181, 5):
        cells = [max(-24.0, -6.0206 * (angle / half) ** 2) for half in (40.0, 20.0)]
        lines.append(f"{angle},{cells[0]:.4f},{cells[1]:.4f}")
    path = tmp_path / "box.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    ended = run("pattern", path)
    assert ended.code == 0
    shown = dict(re.findall(r"^ +(\d+ kHz) +.* (\d+\.\d)° ", ended.out, re.MULTILINE))
    assert float(shown["1 kHz"]) == pytest.approx(80.0, abs=0.2)
    assert float(shown["4 kHz"]) == pytest.approx(40.0, abs=0.2)


def test_compare_shows_what_differs(file: Path, tmp_path: Path) -> None:
    ended = run("compare", file, "--out", tmp_path / "c")
    assert ended.code == 0 and (tmp_path / "c" / "compare.svg").exists()
    assert re.search(r"^ +as in the file +stacked on the stage", ended.out, re.MULTILINE)
    for label in ("tilt", "trim", "spread", "softest row", "load front", "cautions"):
        assert re.search(rf"^{label} ", ended.out, re.MULTILINE)
    assert "Caution, stacked on the stage:" in ended.out and "No rigging design" in ended.out
    data = json.loads(run("compare", file, "--json").out)["compared"]
    alone = json.loads(run("solve", file, "--json").out)
    assert data[0]["answer"] == alone and len(data) == 2


def test_choose_names_the_coverage_that_does_best(file: Path) -> None:
    found = json.loads(run("choose", file, "--set", AT[1], "--json", "--quiet").out)
    best = found["best"]["coverage_deg"]
    low, high = found["flat_deg"]
    assert low <= best <= high

    def reached(coverage: float) -> float:
        changes = {"speaker.main.pattern.coverage": coverage, "speaker.main.placement.height": 6.0}
        return float(aiming.solve(aiming.load(file, changes=changes)).speakers[0].best.objective_db)

    assert reached(best) == pytest.approx(found["best"]["objective_db"], abs=0.05)
    assert reached(best) <= min(reached(best - 8), reached(best + 8)) + 0.05


def test_a_starter_file_stands_and_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "hall.toml"
    assert run("new", path, "--plain").code == 0
    text = path.read_text(encoding="utf-8")
    assert text.count("#") > 10
    assert run("check", path).code == 0 and run("solve", path, "--quiet").code == 0
    assert run("new", path, "--plain").code == 2 and path.read_text(encoding="utf-8") == text
    feet = run("new", "--feet").out
    assert aiming.load("-", stdin_text=feet).units == "ft"


def test_schema_check_and_completion(file: Path) -> None:
    schema = json.loads(run("schema").out)
    assert {"datum", "seating", "speaker", "aim", "variant"} <= set(schema["properties"])
    assert run("check", file).code == 0
    missing = run("check", file.with_name("none.toml"))
    assert missing.code == 2 and re.match(r".*none\.toml:1:1: ", missing.err)
    done = process(_AIMING_COMPLETE="complete_bash", COMP_WORDS="aiming wh", COMP_CWORD="1")
    assert done.out.split() == ["what-if"]
    assert "_AIMING_COMPLETE" in process("--show-completion", "bash").out
    usage = process("nonsense")
    assert usage.code == 2 and usage.out == "" and "nonsense" in usage.err


# The page


@pytest.mark.skipif(MISSING is not None, reason=MISSING or "")
def test_sliders_show_what_evaluate_says(file: Path, tmp_path: Path) -> None:
    page = tmp_path / "p.html"
    assert run("page", file, "--out", page).code == 0
    assert run("page", file, "--out", page).code == 2
    page_stands_alone(page)
    (tmp_path / "browser").mkdir()
    with browser(tmp_path / "browser") as window:
        window.open(page, width=390, height=844)
        for tilt, vertical in ((12, 3), (40, 9)):
            for name, value in (("tilt", tilt), ("vertical", vertical)):
                window.run(
                    "const e = document.getElementById(arguments[0]); e.value = arguments[1];"
                    "e.dispatchEvent(new Event('input', {bubbles: true}))",
                    name,
                    value,
                )
            window.until("settled()")
            shown = str(window.run("return document.body.innerText"))
            command = re.search(r"aiming evaluate .*", shown)
            assert command is not None
            at = dict(re.findall(r"placement\.(\w+)=([−\-\d.]+)", command[0]))
            answer = aiming.evaluate(
                scene(height=float(at["height"]), tilt=float(at["tilt"]))
            ).speakers[0]
            told = re.search(r"Spread\s+(\d+\.\d) dB", shown)
            worst = re.search(r"[Ww]orst band\s+(\d+\.\d) dB", shown)
            assert told is not None and worst is not None
            assert float(told[1]) == pytest.approx(answer.spread_db, abs=0.0501)
            assert float(worst[1]) == pytest.approx(answer.worst_band_spread_db, abs=0.0501)
            front = re.search(r"Load, front\s+(\d+\.\d) kg", shown)
            assert front is not None
            mass_kg = answer.loads.points[0].tension_n / 9.80665
            assert float(front[1]) == pytest.approx(mass_kg, abs=0.0501)


def test_axes_of_a_table_are_in_the_file_s_own_unit() -> None:
    text = SCENARIO.replace('units = "m"', 'units = "ft"')
    table = aiming.what_if(
        aiming.load("-", stdin_text=text, changes={TILT: -12}),
        over={"speaker.main.placement.height": (15, 20, 2.5)},
        figures=("height_m",),
    )
    assert list(table["speaker.main.placement.height"]) == [15.0, 17.5, 20.0]
    assert list(table["height_m"]) == pytest.approx([4.572, 5.334, 6.096])
    assert all(second > first for first, second in pairwise(table["height_m"]))

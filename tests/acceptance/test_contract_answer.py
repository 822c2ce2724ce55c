"""The fixed words held from outside: the answer's fields, their types and what is unknown."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from asked import FULL, codes, mains, only, scene, solved
from command_line import process, run
from outside import write

import aiming

NUMBER = (int, float)
SPEAKER: dict[str, object] = {
    "name": str,
    "mount": str,
    "orientation": str,
    "x_m": NUMBER,
    "height_m": NUMBER,
    "trim_m": NUMBER,
    "tilt_deg": NUMBER,
    "aim_point": [NUMBER],
    "aim_seating": str,
    "aim_row": int,
    "spread_db": NUMBER,
    "worst_band_spread_db": NUMBER,
    "deviation_db": NUMBER,
    "rows_within_3db_percent": NUMBER,
    "best": {
        "objective_db": NUMBER,
        "x_m": NUMBER,
        "height_m": NUMBER,
        "tilt_deg": NUMBER,
        "orientation": str,
    },
    "gap_db": NUMBER,
    "limited_by": [str],
    "window": {"tilt_deg": [NUMBER], "within_db": NUMBER},
    "shortcut": {"tilt_deg": NUMBER, "spread_db": NUMBER},
    "by_band": {"1000": {"spread_db": NUMBER, "loudest": int, "softest": int}},
    "uniform_line": {"points": [[NUMBER]], "edge": [NUMBER]},
    "check_positions": [
        {
            "name": str,
            "x_m": NUMBER,
            "z_m": NUMBER,
            "distance_m": NUMBER,
            "off_axis_deg": NUMBER,
            "levels_db": {"1000": NUMBER},
        }
    ],
    "loads": {
        "weight_n": NUMBER,
        "points": [{"name": str, "tension_n": NUMBER, "share": NUMBER, "utilisation": NUMBER}],
        "tilt_range_deg": [NUMBER],
    },
}
ANSWER: dict[str, object] = {
    "schema": int,
    "version": str,
    "title": str,
    "speakers": [SPEAKER],
    "together": {
        "spread_db": NUMBER,
        "worst_band_spread_db": NUMBER,
        "by_band": {"1000": {"spread_db": NUMBER}},
    },
    "rows": [
        {
            "name": str,
            "seating": str,
            "x_m": NUMBER,
            "z_m": NUMBER,
            "levels_db": {"8000": NUMBER},
            "design_level_db": NUMBER,
            "by_speaker": {
                "main": {
                    "distance_m": NUMBER,
                    "off_axis_deg": NUMBER,
                    "levels_db": {"1000": NUMBER},
                    "shadow_db": {"1000": NUMBER},
                    "departure_db": NUMBER,
                    "departure_m": NUMBER,
                }
            },
        }
    ],
    "cautions": [{"code": str, "severity": str, "text": str}],
}


def holds(value: Any, shape: Any, where: str = "answer") -> None:
    """Every field that is fixed is there with its type."""
    if isinstance(shape, dict):
        assert isinstance(value, dict), where
        for key, inner in shape.items():
            assert key in value, f"{where}.{key}"
            holds(value[key], inner, f"{where}.{key}")
    elif isinstance(shape, list):
        assert isinstance(value, list), where
        assert value, where
        for one in value:
            holds(one, shape[0], where + "[]")
    else:
        assert isinstance(value, shape), f"{where}: {value!r}"
        assert not isinstance(value, bool), where


def numbers(value: Any) -> list[float]:
    """Every number anywhere within."""
    if isinstance(value, dict):
        return [n for one in value.values() for n in numbers(one)]
    if isinstance(value, list):
        return [n for one in value for n in numbers(one)]
    return [value] if isinstance(value, float) else []


def test_every_fixed_field_is_there(tmp_path: Path) -> None:
    ended = run("solve", write(tmp_path, FULL), "--json")
    answer = json.loads(ended.out)
    holds(answer, ANSWER)
    assert set(codes(answer)) and {one["severity"] for one in answer["cautions"]} <= {
        "stop",
        "caution",
        "note",
    }
    for one in answer["cautions"]:
        assert {"value", "unit", "limit"} <= set(one)
    assert ended.code == (3 if "stop" in {one["severity"] for one in answer["cautions"]} else 0)
    assert all(math.isfinite(n) for n in numbers(answer))
    assert "NaN" not in ended.out and "Infinity" not in ended.out


def test_json_is_full_precision_and_the_python_object_has_its_names(tmp_path: Path) -> None:
    path = write(tmp_path, FULL)
    found = aiming.solve(aiming.load(path))
    plain = json.loads(run("solve", path, "--json").out)
    assert plain == found.to_dict()
    assert found.speakers[0].tilt_deg == plain["speakers"][0]["tilt_deg"]
    assert list(found.rows.x_m) == [row["x_m"] for row in plain["rows"]]
    assert any(n != round(n, 12) for n in numbers(plain["rows"]))


def test_the_same_file_gives_the_same_bytes(tmp_path: Path) -> None:
    path = write(tmp_path, FULL)
    first, second = (process("solve", path, "--json", PYTHONHASHSEED=seed) for seed in ("1", "2"))
    assert first.out == second.out
    assert first.out.strip()


def test_loads_are_a_signed_balance_with_the_extra_mass() -> None:
    answer = solved(FULL)
    loads = only(answer)["loads"]
    assert loads["weight_n"] == pytest.approx(29.0 * 9.80665, rel=1e-3)
    flipped = only(answer)["orientation"] == "flipped"
    names = ["front, base", "rear, base"] if flipped else ["front", "rear"]
    assert [point["name"] for point in loads["points"]] == names
    total = sum(point["tension_n"] for point in loads["points"])
    assert total == pytest.approx(loads["weight_n"])
    for point in loads["points"]:
        assert point["share"] == pytest.approx(point["tension_n"] / loads["weight_n"])
        limit = 130.0 * loads["weight_n"] / 29.0 * 0.5
        assert point["utilisation"] == pytest.approx(point["tension_n"] / limit)


def test_a_slack_line_is_a_stop_and_exit_three(tmp_path: Path) -> None:
    text = (
        FULL.replace("[4.5, 8.0]", "6.0")
        .replace("[-60, 20]", "-85")
        .replace('"either"', '"upright"')
    )
    text = text.replace(", wll_kg = 130", "")
    ended = run("evaluate", write(tmp_path, text), "--json")
    answer = json.loads(ended.out)
    loads = only(answer)["loads"]
    assert min(point["tension_n"] for point in loads["points"]) < 0
    assert sum(point["tension_n"] for point in loads["points"]) == pytest.approx(loads["weight_n"])
    assert all(point["utilisation"] is None for point in loads["points"])
    assert "stop" in {one["severity"] for one in answer["cautions"]}
    assert ended.code == 3


NARROW = "\n".join(
    [
        "angle_deg,1000,2000,4000,8000",
        *(
            f"{a},{-abs(a) / 5},{-abs(a) / 5},{-abs(a) / 4},{-abs(a) / 3}"
            for a in range(-20, 21, 5)
        ),
    ]
)


def test_what_the_pattern_does_not_know_is_null_with_a_caution(tmp_path: Path) -> None:
    write(tmp_path, NARROW, "box.csv")
    text = scene(pattern='file = "box.csv"', placement="height = 6.0\ntilt = -20.0")
    ended = run("evaluate", write(tmp_path, text), "--json")
    answer = json.loads(ended.out)
    one = only(answer)
    known = [abs(heard["off_axis_deg"]) <= 20.0 for heard in mains(answer)]
    assert any(known) and not all(known)
    for row, heard, has in zip(answer["rows"], mains(answer), known, strict=True):
        for value in (
            heard["levels_db"]["1000"],
            heard["departure_db"],
            heard["departure_m"],
            row["design_level_db"],
            row["levels_db"]["8000"],
        ):
            assert (value is not None) == has
    for figure in ("spread_db", "worst_band_spread_db", "deviation_db", "rows_within_3db_percent"):
        assert one[figure] is None
    assert one["by_band"]["1000"]["spread_db"] is None
    assert answer["together"]["spread_db"] is None
    assert any("unknown" in one["text"] or "not known" in one["text"] for one in answer["cautions"])
    for heard, has in zip(mains(answer), known, strict=True):
        if has:
            far = 20 * math.log10(heard["distance_m"])
            between = heard["levels_db"]["1000"] + far + abs(heard["off_axis_deg"]) / 5
            assert -0.2 < between < 0.0  # read linearly in dB; the air alone is left


def test_unknown_at_a_row_that_is_not_served_is_null_together_with_a_caution(
    tmp_path: Path,
) -> None:
    write(tmp_path, NARROW, "box.csv")
    seating = '[[seating]]\nname = "tier"\nline = [[4.0, 0.0], [18.0, 1.4]]\n'
    seating += '[[seating]]\nname = "loft"\nline = [[1.0, 9.0], [3.0, 9.0]]\n'
    place = "height = [1.5, 6.0]"
    text = scene(
        seating=seating, speaker='serves = ["tier"]', pattern='file = "box.csv"', placement=place
    )
    answer = json.loads(run("solve", write(tmp_path, text), "--json").out)
    assert only(answer)["spread_db"] is not None
    assert answer["together"]["spread_db"] is None
    assert answer["rows"][-1]["design_level_db"] is None
    assert "pattern-unknown" in codes(answer)


def test_solve_takes_no_placement_whose_levels_are_unknown(tmp_path: Path) -> None:
    write(tmp_path, NARROW, "box.csv")
    text = scene(pattern='file = "box.csv"', placement="height = [1.5, 9.0]")
    answer = json.loads(run("solve", write(tmp_path, text), "--json").out)
    assert only(answer)["spread_db"] is not None
    assert all(abs(heard["off_axis_deg"]) <= 20.0 for heard in mains(answer))
    high = scene(pattern='file = "box.csv"', placement="height = 9.0")
    ended = run("solve", write(tmp_path, high))
    assert ended.code == 3

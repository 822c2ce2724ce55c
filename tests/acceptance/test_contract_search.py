"""The fixed words held from outside: what the search may choose, and what it is to choose."""

import json

import pytest
from asked import FULL, evaluated, only, scene, solved
from outside import lowest_corner


def test_a_number_fixes_and_a_range_is_searched() -> None:
    one = only(solved(scene(placement="x = [-1.0, 0.5]\nheight = 5.5\ntilt = [-40, -25]")))
    assert one["height_m"] == 5.5
    assert -1.0 <= one["x_m"] <= 0.5
    assert -40.0 <= one["tilt_deg"] <= -25.0


def test_trim_may_be_a_range_and_either_way_up_is_tried() -> None:
    outline = ((-0.38, -0.20), (0.02, -0.20), (0.02, 0.44), (-0.38, 0.44))
    text = scene(
        pattern="coverage = { above = 15, below = 45 }",
        placement='trim = [4.2, 7.6]\norientation = "either"',
    )
    text += f"[speaker.cabinet]\noutline = {json.dumps(outline)}\n"
    one = only(solved(text))
    hung = lowest_corner(outline, one["tilt_deg"], flipped=one["orientation"] == "flipped")
    assert one["trim_m"] == pytest.approx(one["height_m"] + hung)
    assert 4.2 - 1e-9 <= one["trim_m"] <= 7.6 + 1e-9
    ways = {
        way: only(solved(text.replace('"either"', f'"{way}"')))["best"]["objective_db"]
        for way in ("upright", "flipped")
    }
    assert one["best"]["objective_db"] <= min(ways.values()) + 0.05
    assert one["best"]["orientation"] == min(ways, key=lambda way: ways[way])


def test_an_orientation_without_rigging_is_left_out() -> None:
    text = FULL.replace("coverage = 60", "coverage = { above = 15, below = 45 }")
    free = only(solved(text))["best"]["orientation"]
    start = text.index(f"[speaker.rigging.{free}]")
    end = text.index("[speaker.", start + 5)
    other = "flipped" if free == "upright" else "upright"
    assert only(solved(text[:start] + text[end:]))["best"]["orientation"] == other


def test_the_lowest_that_is_good_enough_is_taken() -> None:
    place = "height = [4.0, 9.0]"
    taken, best = (
        only(solved(scene(placement=place, more=f"[aim]\nlower_if_within_db = {within}")))
        for within in (0.5, 0)
    )
    assert taken["height_m"] < best["height_m"]
    assert taken["spread_db"] <= taken["best"]["objective_db"] + 0.5 + 1e-9
    assert best["height_m"] == best["best"]["height_m"]
    assert best["spread_db"] == pytest.approx(best["best"]["objective_db"])
    assert taken["gap_db"] <= 0.05
    # Half a centimetre lower no tilt is good enough any more.
    lower = scene(placement=f"height = {taken['height_m'] - 0.005!r}")
    assert only(solved(lower))["spread_db"] > taken["best"]["objective_db"] + 0.45


@pytest.mark.parametrize(
    ("objective", "figure"),
    [
        ("spread", "spread_db"),
        ("worst band", "worst_band_spread_db"),
        ("deviation", "deviation_db"),
    ],
)
def test_the_objective_is_the_figure_of_its_name(objective: str, figure: str) -> None:
    more = f'[aim]\nobjective = "{objective}"\nlower_if_within_db = 0\ngap_db = 0.01'
    one = only(solved(scene(placement="height = 6.0", more=more)))
    assert one[figure] == pytest.approx(one["best"]["objective_db"])
    assert 0.0 <= one["gap_db"] <= 0.01
    for k in range(-46, 0, 3):
        answer = only(evaluated(scene(placement=f"height = 6.0\ntilt = {k}")))
        if answer["aim_point"] is not None:
            assert answer[figure] >= one[figure] - 0.01


def test_the_axis_may_be_let_off_the_audience() -> None:
    wide = scene(pattern="coverage = 90", placement="height = 4.0")
    held = only(solved(wide))
    free = only(
        solved(wide.replace("[[seating]]", "[aim]\naxis_on_audience = false\n[[seating]]", 1))
    )
    assert held["aim_point"] is not None
    assert free["aim_point"] is None
    assert free["spread_db"] < held["spread_db"] - 0.5
    assert "axis_on_audience" in held["limited_by"]


def test_a_limit_that_only_moving_and_turning_together_would_pass_is_named() -> None:
    text = scene(placement="x = [-2, 2]\nheight = 5")
    off = text.replace("[[seating]]", "[aim]\naxis_on_audience = false\n[[seating]]", 1)
    held, free = only(solved(text)), only(solved(off))
    assert free["spread_db"] < held["best"]["objective_db"] - 1.0
    assert "axis_on_audience" in held["limited_by"]

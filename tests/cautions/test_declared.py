"""What the declarations of the cautions promise: page, keys of the scenario, limits."""

import ast
from pathlib import Path

import numpy as np
import pytest
from held_scenes import BOX, TWO, solved

import aiming
from aiming.cautions.collect import ORDERED, TOPICS
from aiming.cautions.declare import DECLARED
from aiming.cautions.document import markdown
from aiming.results.answer import Answer
from aiming.scenario.aim import CautionsModel
from aiming.scenario.thresholds import BY_KEY

PACKAGE = Path(aiming.__file__).parent
ROOT = PACKAGE.parent

LOADED = {
    "cabinet": BOX.replace("wll_kg = 130", "wll_kg = 35"),
    "placement": "height = 4\ntilt = 0",
}
SHELF = '[[surface]]\nname = "shelf"\nline = [[6.0, 1.0], [6.0, 2.6]]\n'
WALL = '[[surface]]\nname = "wall"\nline = [[24.0, 0.0], [24.0, 9.0]]\n'
LID = '[[surface]]\nname = "lid"\nline = [[-1.0, 4.6], [6.0, 4.6]]\n'
UP = "height = 4.0\ntilt = 10"
FILL = """
[[speaker]]
name = "delay"
fills = "main"
gain_db = {gain}
delay_ms = {delay}
[speaker.pattern]
coverage = 90
[speaker.placement]
x = 8.0
height = 3.0
tilt = -20
"""

SCENES: dict[str, tuple[str, float, float, dict[str, str]]] = {
    "least_share": ("low-share", 0.0, 0.5, {"placement": "height = 4.0\ntilt = -23"}),
    "utilisation_near": ("nearly-loaded", 1.0, 0.1, LOADED),
    "utilisation_full": ("overloaded", 1.0, 0.1, LOADED),
    "off_axis_deg": ("off-axis-pull", 90.0, 0.0, {"upright": TWO + 'fitting = "shackle"\n'}),
    "stack_tip_deg": (
        "stack-slope",
        0.0,
        90.0,
        {"placement": 'mount = "stacked"\nbase = 0.0\ntilt = 0', "upright": ""},
    ),
    "grazing_deg": ("grazing", 0.0, 90.0, {"placement": "height = 2.2\ntilt = 0"}),
    "nearest_listener": ("near-listener", 0.01, 100.0, {}),
    "headroom": ("low-headroom", 0.01, 100.0, {}),
    "tallest_box": ("array-like-coverage", 100.0, 0.01, {}),
    "stage_top": ("in-sightline", 0.1, 6.0, {"placement": "height = 3.5\ntilt = 0\nx = 1.0"}),
    "fill_lag_ms": ("fill-lags", 1000.0, 0.1, {"top": "", "more": FILL.format(gain=0, delay=60)}),
    "fill_near_db": ("fill-leads", 0.0, 60.0, {"more": FILL.format(gain=-15, delay=0)}),
    "needed_db": ("fill-not-needed", 0.0, 60.0, {"more": FILL.format(gain=-12, delay=30)}),
    "soft_at_aim_db": (
        "fill-useless-place",
        60.0,
        0.0,
        {"more": FILL.format(gain=-15, delay=30)},
    ),
    "shadow_db": ("rows-in-shadow", 60.0, 0.0, {"more": SHELF}),
    "late_ms": ("late-reflection", 1000.0, 0.1, {"more": WALL}),
    "late_db": ("late-reflection", 60.0, -60.0, {"more": WALL}),
    "widest_row": ("rows-far-apart", 100.0, 0.1, {}),
    "narrowest_row": ("rows-close", 0.01, 5.0, {}),
    "highest_ears": ("ears-high", 10.0, 1.0, {}),
    "lowest_ears": ("ears-low", 0.1, 2.0, {}),
    "steepest_rake_deg": ("rake-steep", 90.0, 5.0, {"line": "[[3.0, 0.0], [15.0, 3.0]]"}),
    "falling_floor": ("floor-falls", 10.0, 0.1, {"line": "[[3.0, 1.0], [15.0, 0.0]]"}),
    "longest_throw": ("throw-long", 1000.0, 5.0, {}),
    "steepest_view_deg": ("far-over-house", 90.0, 1.0, {}),
    "farthest_beside": ("box-beside-house", 1000.0, 1.0, {}),
    "below_floor": ("centre-below-floor", 5.0, 0.1, {"placement": "height = -1.0\ntilt = 5"}),
    "largest_box": ("box-size", 100.0, 0.2, {}),
    "smallest_box": ("box-size", 0.01, 1.0, {}),
    "heaviest_box": ("box-density", 1e5, 1.0, {}),
    "lightest_box": ("box-density", 0.1, 350.0, {}),
    "largest_gain_db": ("setting-odd", 400.0, 1.0, {"more": FILL.format(gain=15, delay=0)}),
    "longest_delay_ms": ("delay-odd", 1e5, 1.0, {"more": FILL.format(gain=0, delay=200)}),
    "out_of_reach": ("out-of-reach", 0.01, 100.0, {}),
    "farthest_point": (
        "point-off-box",
        5.0,
        0.1,
        {"cabinet": BOX.replace("[-0.02, 0.44]", "[-0.02, 0.74]")},
    ),
    "largest_rating_kn": ("rating-odd", 1000.0, 1.0, {}),
    "longest_line": ("steel-far", 100.0, 1.0, {"upright": TWO + "steel_height = 12.0\n"}),
    "highest_base": (
        "base-high",
        10.0,
        0.5,
        {"placement": 'mount = "stacked"\nbase = 1.0\ntilt = 0', "upright": ""},
    ),
    "buried_surface": (
        "surface-buried",
        5.0,
        0.1,
        {"more": SHELF.replace("1.0", "-1.5").replace("2.6", "-0.5")},
    ),
    "farthest_reference": (
        "reference-far",
        1000.0,
        1.0,
        {"more": "[time]\nreference = [-3.0, 3.0]\n"},
    ),
    "lowest_target_db": (
        "target-low",
        1.0,
        100.0,
        {"more": '[programme]\nspectrum = "pink"\ntarget_db = 80\n'},
    ),
    "early_ms": ("early-reflection", 0.1, 1000.0, {"more": LID, "placement": UP}),
    "early_db": ("early-reflection", 60.0, -60.0, {"more": LID, "placement": UP}),
}
"""By key: the caution, a threshold at which it keeps quiet, one at which it speaks, and a scene."""


def answered(key: str, threshold: float) -> Answer:
    scene = dict(SCENES[key][3])
    scene["more"] = f"[cautions]\n{key} = {threshold!r}\n" + scene.get("more", "")
    return solved(**scene)


@pytest.mark.parametrize("key", BY_KEY)
def test_each_threshold_decides(key: str) -> None:
    """Quiet on one side, told on the other; where the figure is of the limit's own kind, exactly
    at it."""
    code, quiet, loud, _ = SCENES[key]
    assert code not in {one.code for one in answered(key, quiet).cautions}
    found = [one for one in answered(key, loud).cautions if one.code == code]
    assert found
    values = [one.value for one in found if one.limit == loud and one.value is not None]
    if not values:
        return
    worst = max(values, key=lambda value: abs(value - loud))
    step = 1e-6 * float(np.sign(quiet - loud))
    assert code not in {one.code for one in answered(key, worst + step).cautions}
    assert code in {one.code for one in answered(key, worst - step).cautions}


def test_every_threshold_is_a_key_of_the_file_with_its_default() -> None:
    beside = {"stage_focus", "level_limit_db", "level_limit_name"}
    assert set(CautionsModel.model_fields) - beside == set(BY_KEY)
    for key, limit in BY_KEY.items():
        assert f"{limit.value:g}" in (CautionsModel.model_fields[key].description or "")
        assert limit.source


def test_the_page_is_in_step_with_the_code() -> None:
    assert (ROOT / "docs" / "cautions.md").read_text(encoding="utf-8") == markdown()


def test_every_declaration_is_collected_and_says_when_it_is_told() -> None:
    assert list(ORDERED) == sorted(ORDERED, key=lambda one: TOPICS.index(_module(one.topic)))
    assert {one.code for one in ORDERED} == set(DECLARED)
    assert all(len(one.when) > 5 and one.severities for one in ORDERED)


def _module(name: str) -> object:
    return next(topic for topic in TOPICS if topic.__name__ == name)


def test_cautions_come_from_declarations_alone() -> None:
    """Nobody else makes one, so that no code and no severity is written down twice."""
    made = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Caution"
    }
    assert made == {"cautions/declare.py"}


@pytest.mark.parametrize(
    "path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda one: one.stem
)
def test_the_shipped_scenarios(path: Path) -> None:
    answer = aiming.solve(aiming.load(path))
    for one in answer.cautions:
        assert one.severity in DECLARED[one.code].severities
        assert one.text.strip() == one.text != ""
        assert one.limit is None or one.unit

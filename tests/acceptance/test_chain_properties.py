"""What must not change an answer, from the file's text to the answer's plain data.

Scenarios come from generated_scenes.py: any section, pattern, cabinet and place.  Two proofs
of one question agree to the larger of their gaps; what is evaluated at one placement agrees to
rounding, which a table's step of 3 dB in 0.001° makes 1e-6 dB of.

CHAIN_TIMES=20 pytest tests/acceptance -k chain tries twenty times as many as the suite does
"""

import functools
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from changed_scenes import (
    built_over,
    differences,
    given,
    in_feet,
    mirrored,
    moved,
    split,
    straight,
    turned,
)
from generated_scenes import Scene, Table, cabinet, rigging, scenes
from hypothesis import HealthCheck, Phase, assume, settings
from hypothesis import given as drawn
from hypothesis import strategies as st

import aiming
from aiming.aim import joint
from aiming.aim.problem import Problem
from aiming.analysis import solve as solving
from aiming.analysis.problems import searched_problem_of
from aiming.analysis.solve import NoPlacementError
from aiming.results.answer import Answer, SpeakerAnswer
from aiming.scenario import variant
from aiming.speaker.speaker import Placement

CAP = 1500
TIMES = int(os.environ.get("CHAIN_TIMES", "1"))
ROUNDING_DB = 1e-6
TIES = frozenset(
    {"loudest", "softest", "check_positions", "aim_row", "worst_row", "cautions", "limited_by"}
    | {"best_tilt_deg"}  # of a lobe's shapes, each scanned in steps
)
"""Which of two equals comes first, and the roundings of a text."""
SEARCHED = frozenset(
    {
        "best",
        "gap_db",
        "limited_by",
        "cautions",
        "window",
        "one_by_one_db",
        "proof",
        "none_found",
        "binds",
    }
)
"""What only a search gives, and the window, which a given tilt does not bound."""
PLACES = frozenset({"x_m", "z_m", "height_m", "by_sound_height_m", "trim_m", "aim_point",
                    "points", "edge", "at"})  # fmt: skip
HELD = frozenset({"loads", "lines", "room", "stack", "pulling_point"})

shares = st.sampled_from([0.0, 0.5, 1.0])


def quick(examples: int) -> Any:
    return settings(
        derandomize=True,
        deadline=None,
        max_examples=examples * TIMES,
        phases=[Phase.explicit, Phase.generate, Phase.shrink],
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("scenes")


@pytest.fixture(autouse=True, scope="module")
def capped() -> Iterator[None]:
    """A scene that would need 200,000 boxes stops at 1,500 and says so; its gap still holds."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("search", "lowest_within"):
            whole = getattr(solving, name)
            patch.setattr(solving, name, functools.partial(whole, most_boxes=CAP))
        patch.setattr(joint, "DEFAULT_BOXES", CAP)
        yield


def evaluated(scene: Scene, folder: Path) -> Answer:
    return aiming.evaluate(scene.load(folder), choices=False)


def solved(scene: Scene, folder: Path) -> Answer | None:
    """None where no placement meets the limits."""
    try:
        return aiming.solve(scene.load(folder), choices=False)
    except NoPlacementError:
        return None


def question(scene: Scene, folder: Path) -> Problem:
    scenario = scene.load(folder)
    return searched_problem_of(scenario, scenario.speakers[0])


def proven(one: SpeakerAnswer, problem: Problem) -> tuple[float, float]:
    """(low, high) that the true optimum lies between."""
    if one.best is None:  # all given
        value = float(problem.objective_db(one.placement))
        return value, value
    assert one.gap_db is not None
    return one.best.objective_db - one.gap_db, one.best.objective_db


def agree(one: Scene, other: Scene, folder: Path) -> None:
    """The two have one optimum, as far as is proven."""
    first, second = solved(one, folder), solved(other, folder)
    if first is None or second is None:
        # At the cap a search may end before it finds the placement that the other one found.
        none = [problem for problem, of in ((one, first), (other, second)) if of is None]
        assert len(none) == 2 or all(undecided(scene, folder) for scene in none)
        return
    low, high = proven(first.speakers[0], question(one, folder))
    other_low, other_high = proven(second.speakers[0], question(other, folder))
    if np.isfinite(high) and np.isfinite(other_high):
        assert low <= other_high + ROUNDING_DB and other_low <= high + ROUNDING_DB


def undecided(scene: Scene, folder: Path) -> bool:
    try:
        aiming.solve(scene.load(folder), choices=False)
    except NoPlacementError as none:
        return "was found" in str(none)
    return False


def same(one: Answer, other: Answer, *, within: float, but: frozenset[str] = TIES) -> None:
    if within and any(abs(of.shortcut.tilt_deg) == 90.0 for of in one.speakers):
        but |= {"shortcut"}  # the last row is behind, as near to straight up as to straight down
    assert list(differences(one.to_dict(), other.to_dict(), within=within, but=but)) == []


def unhidden(answer: Answer) -> np.ndarray[Any, Any]:
    """(bands, rows) of the first loudspeaker without what walls take."""
    rows = answer.rows.by_speaker["main"]
    return np.asarray(rows.levels_db + rows.shadow_db)


# One house, told another way


@quick(7)
@drawn(scene=scenes(), share=shares)
def test_mirrored_in_a_level_plane(scene: Scene, share: float, folder: Path) -> None:
    """Heights and tilts negated, boxes turned over: every row hears the same, floors aside."""
    bare = scene.with_speaker(cabinet={"mass_kg": 20.0}, rigging={})
    at = dict(scene.speaker["placement"])
    if "trim" in at:
        at["height"] = at.pop("trim")
    here = given(bare.with_speaker(placement=at), share)
    one, other = evaluated(here, folder), evaluated(mirrored(here), folder)
    np.testing.assert_allclose(unhidden(other), unhidden(one), rtol=0.0, atol=ROUNDING_DB)
    a, b = one.rows.by_speaker["main"], other.rows.by_speaker["main"]
    off = (a.off_axis_deg + b.off_axis_deg + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(off, 0.0, atol=1e-9)
    np.testing.assert_allclose(b.departure_m, a.departure_m, rtol=1e-5, atol=1e-5)


@quick(7)
@drawn(scene=scenes(), gain_db=st.integers(-200, 200), share=shares)
def test_output_moves_levels_and_no_aim(
    scene: Scene, gain_db: int, share: float, folder: Path
) -> None:
    quiet, (main, *others) = scene, scene.document["speaker"]
    louder = scene.with_(
        speaker=[
            {**main, "gain_db": 0.1 * gain_db},
            *({**of, "gain_db": of.get("gain_db", 0.0) + 0.1 * gain_db} for of in others),
        ]
    )
    but = TIES | {"levels_db", "design_level_db", "gain_db", "output"}
    one, other = evaluated(given(quiet, share), folder), evaluated(given(louder, share), folder)
    same(one, other, within=1e-9, but=but)
    raised = other.rows.by_speaker["main"].levels_db - one.rows.by_speaker["main"].levels_db
    assert raised[~np.isnan(raised)] == pytest.approx(0.1 * gain_db, abs=1e-9)
    first, second = solved(quiet, folder), solved(louder, folder)
    assert (first is None) == (second is None)
    if first is not None and second is not None:
        same(first, second, within=1e-9, but=but)


@quick(6)
@drawn(scene=scenes(), x=st.integers(-200, 200), z=st.integers(-50, 50), share=shares)
def test_the_origin_may_lie_anywhere(
    scene: Scene, x: int, z: int, share: float, folder: Path
) -> None:
    here = given(scene, share)
    one, other = evaluated(here, folder), evaluated(moved(here, x, z), folder)
    # What is looked at and where steel hangs is said from the datum.
    same(one, other, within=1e-5, but=TIES | PLACES | HELD | {"departure_m", "lands_percent"})
    rows, there = one.rows, other.rows
    np.testing.assert_allclose(there.x_m, rows.x_m + x, atol=1e-9)
    np.testing.assert_allclose(there.z_m, rows.z_m + z, atol=1e-9)
    agree(scene, moved(scene, x, z), folder)


@quick(7)
@drawn(scene=scenes(), share=shares)
def test_feet_and_metres_are_one_house(scene: Scene, share: float, folder: Path) -> None:
    here = given(scene, share)
    one, other = evaluated(here, folder), evaluated(in_feet(here), folder)
    same(one, other, within=1e-5, but=TIES | {"lands_percent"})  # a ray may pass an edge either way
    agree(scene, in_feet(scene), folder)


@quick(7)
@drawn(scene=scenes(), after=st.integers(1, 3), share=shares)
def test_a_seating_split_at_a_row(scene: Scene, after: int, share: float, folder: Path) -> None:
    """Its row stands in both parts: spreads know no difference; half its weight goes to each."""
    first, *others = straight(scene).document["seating"]
    whole = scene.with_(seating=[{**first, "rows": 5}, *others])
    parts = split(whole, after)
    one, other = evaluated(given(whole, share), folder), evaluated(given(parts, share), folder)
    levels = np.delete(other.rows.levels_db, after + 1, axis=1)
    np.testing.assert_allclose(levels, one.rows.levels_db, rtol=0.0, atol=ROUNDING_DB)
    for name in ("spread_db", "worst_band_spread_db", "deviation_db", "window"):
        a, b = (one.to_dict()["speakers"][0][name], other.to_dict()["speakers"][0][name])
        assert list(differences(a, b, within=1e-5)) == [], name
    agree(whole, parts, folder)


@quick(6)
@drawn(scene=scenes(), share=shares)
def test_a_block_told_twice_counts_once(scene: Scene, share: float, folder: Path) -> None:
    """The largest and the smallest level of rows do not know how many there are of each."""
    scene = scene.aimed(objective="worst band")
    twin = {**scene.document["seating"][0], "name": "twin"}
    doubled = scene.with_(seating=[*scene.document["seating"], twin])
    one, other = evaluated(given(scene, share), folder), evaluated(given(doubled, share), folder)
    for name in ("spread_db", "worst_band_spread_db", "shortcut", "window", "aim_point"):
        a, b = (one.to_dict()["speakers"][0][name], other.to_dict()["speakers"][0][name])
        assert list(differences(a, b, within=1e-9)) == [], name
    agree(scene, doubled, folder)


# The box


@quick(7)
@drawn(scene=scenes(), share=shares)
def test_flipping_twice_is_nothing(scene: Scene, share: float, folder: Path) -> None:
    """A box built upside down and hung flipped: its pattern, body, picks, loads are the same."""
    if "file" not in scene.speaker["pattern"]:
        lopsided = {**scene.speaker["pattern"], "coverage": {"above": 17.0, "below": 38.0}}
        scene = scene.with_speaker(pattern=lopsided)
    here = given(scene, share)
    one, two = evaluated(here, folder), evaluated(built_over(here), folder)
    same(one, two, within=1e-6, but=TIES | {"orientation", "name", "coverage_deg"})
    agree(scene, built_over(scene), folder)


@quick(7)
@drawn(scene=scenes(), share=shares, coverage=st.integers(20, 100))
def test_a_symmetric_pattern_has_no_upside(
    scene: Scene, share: float, coverage: int, folder: Path
) -> None:
    plain: Table = {"pattern": {"coverage": coverage}, "cabinet": {"mass_kg": 20.0}, "rigging": {}}
    here = given(scene.with_speaker(**plain), share)
    one = evaluated(here.placed(orientation="upright"), folder)
    other = evaluated(here.placed(orientation="flipped"), folder)
    same(one, other, within=1e-9, but=frozenset({"orientation", "cautions"}))


@quick(8)
@drawn(scene=scenes(), share=shares, by_deg=st.integers(-25, 25))
def test_all_turned_about_the_box(scene: Scene, share: float, by_deg: int, folder: Path) -> None:
    """Rows and axis turned together are seen at the same angles, from as far."""
    at = dict(scene.speaker["placement"])
    if "trim" in at:
        at["height"] = at.pop("trim")
    here = given(straight(scene).with_speaker(placement=at, cabinet={"mass_kg": 9.0}), share)
    here = here.with_speaker(rigging={})
    there = turned(here, by_deg)
    assume(there is not None)
    assert there is not None
    one, other = evaluated(here, folder), evaluated(there, folder)
    np.testing.assert_allclose(unhidden(other), unhidden(one), rtol=0.0, atol=1e-5)


@quick(10)
@drawn(scene=scenes(), share=shares, times=st.sampled_from([0.01, 0.5, 3.0, 100.0]))
def test_twice_the_mass_is_twice_the_load(
    scene: Scene, share: float, times: float, folder: Path
) -> None:
    def heavier(by: float) -> Scene:
        held = {turn: {**of, "extra_mass_kg": 3.0 * by} for turn, of in rigging().items()}
        box = {**cabinet(), "mass_kg": 26.0 * by}
        return scene.with_speaker(cabinet=box, rigging=held)

    one = evaluated(given(heavier(1.0), share), folder).to_dict()["speakers"][0]
    two = evaluated(given(heavier(times), share), folder).to_dict()["speakers"][0]
    assert list(differences(one, two, within=1e-9, but=HELD | {"settable_tilt_deg"})) == []
    loads, more = one["loads"], two["loads"]
    assert loads["weight_n"] == pytest.approx(29.0 * 9.80665, rel=1e-12)
    points, heavy = loads["points"], more["points"]
    assert sum(of["tension_n"] for of in points) == pytest.approx(loads["weight_n"], rel=1e-9)
    size = max(abs(of["tension_n"]) for of in points)
    for light, loaded in zip(points, heavy, strict=True):
        assert loaded["tension_n"] == pytest.approx(times * light["tension_n"], abs=1e-6 * size)
        assert loaded["share"] == pytest.approx(light["share"], abs=1e-6 * (1 + size))
    scaled = {"weight_n", "mass_kg", "points", "lines", "total_n"}
    assert list(differences(loads, more, within=1e-6, but=frozenset(scaled))) == []


# The search


@quick(10)
@drawn(scene=scenes())
def test_never_worse_than_the_shortcut(scene: Scene, folder: Path) -> None:
    """Where common practice, the axis on the last row, is allowed at the place that was taken."""
    answer = solved(scene, folder)
    assume(answer is not None and answer.speakers[0].best is not None)
    assert answer is not None
    one, problem = answer.speakers[0], question(scene, folder)
    there = Placement(one.x_m, one.height_m, one.shortcut.tilt_deg, one.orientation == "flipped")
    low, high = problem.hang.vertical_m
    vertical = one.height_m - float(problem.drop_m(there.tilt_deg, bool(there.flipped)))
    if low <= vertical <= high and bool(problem.allowed(there)):
        assert proven(one, problem)[0] <= float(problem.objective_db(there)) + ROUNDING_DB
    # And what was taken costs no more than was said, where it was not chosen for the sum of all.
    assert answer.together is not None
    if answer.together.proof is None:
        taken = float(problem.objective_db(one.placement))
        assert taken <= proven(one, problem)[1] + 0.5 + ROUNDING_DB


@quick(10)
@drawn(
    scene=scenes(), more=st.sampled_from(["x", "vertical", "tilt", "orientation", "axis", "all"])
)
def test_more_freedom_is_never_worse(scene: Scene, more: str, folder: Path) -> None:
    at, wider = scene.speaker["placement"], dict(scene.speaker["placement"])
    vertical = "trim" if "trim" in at else "height"

    def apart(value: Any) -> list[float]:
        low, high = value if isinstance(value, list) else (value, value)
        return [low - 0.7, high + 0.9]

    if more in ("x", "all"):
        wider["x"] = apart(at["x"])
    if more in ("vertical", "all"):
        wider[vertical] = apart(at[vertical])
    if more in ("tilt", "all"):
        wider["tilt"] = [-90.0, 90.0]
    if more in ("orientation", "all"):
        wider["orientation"] = "either"
    freer = scene.with_speaker(placement=wider)
    if more in ("axis", "all"):
        freer = freer.aimed(axis_on_audience=False)
    answer = solved(scene, folder)
    assume(answer is not None)
    assert answer is not None
    problem = question(scene, folder)
    # A given placement is taken as it is, whatever the limits.
    assume(
        answer.speakers[0].best is not None or bool(problem.allowed(answer.speakers[0].placement))
    )
    high = proven(answer.speakers[0], problem)[1]
    found = solved(freer, folder)
    if found is None:
        assert undecided(freer, folder) or not np.isfinite(high)
        return
    assert proven(found.speakers[0], question(freer, folder))[0] <= high + ROUNDING_DB


@quick(8)
@drawn(scene=scenes())
def test_solved_again_at_its_own_place(scene: Scene, folder: Path) -> None:
    """Nothing left to choose is evaluated; figures at the solved place are the answer's own."""
    answer = solved(scene, folder)
    assume(answer is not None)
    assert answer is not None
    one = answer.speakers[0]
    vertical = "trim" if "trim" in scene.speaker["placement"] else "height"
    place: Table = {"x": one.x_m, vertical: getattr(one, f"{vertical}_m"), "tilt": one.tilt_deg,
                    "orientation": one.orientation}  # fmt: skip
    there = scene.placed(**place)
    again, given_ = solved(there, folder), evaluated(there, folder)
    assert again is not None and again.to_dict() == given_.to_dict()
    same(answer, given_, within=0.0 if vertical == "height" else ROUNDING_DB, but=TIES | SEARCHED)


@quick(12)
@drawn(
    scene=scenes(),
    share=shares,
    edit=st.sampled_from(["tilt", "x", "ears", "air", "bands", "coverage", "gain", "either"]),
)
def test_a_change_is_an_edit_of_the_file(
    scene: Scene, share: float, edit: str, folder: Path
) -> None:
    here = given(scene, share)
    name = here.document["seating"][0]["name"]
    main, first = here.speaker, {**here.document["seating"][0], "ears": "1.45 m"}
    lobe = {key: of for key, of in main["pattern"].items() if key != "file"}
    dry = {**here.document["air"], "humidity_percent": 15}
    blocks = [first, *here.document["seating"][1:]]
    nominal = here.with_speaker(pattern={**lobe, "coverage": 55})
    place = "speaker.main.placement"
    key, value, edited = {
        "tilt": (f"{place}.tilt", -7.25, here.placed(tilt=-7.25)),
        "x": (f"{place}.x", "-45 cm", here.placed(x="-45 cm")),
        "either": (f"{place}.orientation", "flipped", here.placed(orientation="flipped")),
        "ears": (f"seating.{name}.ears", "1.45 m", here.with_(seating=blocks)),
        "air": ("air.humidity_percent", 15, here.with_(air=dry)),
        "bands": ("aim.objective", "deviation", here.aimed(objective="deviation")),
        "coverage": ("speaker.main.pattern.coverage", 55, nominal),
        "gain": ("speaker.main.gain_db", 4.5, here.with_speaker(gain_db=4.5)),
    }[edit]
    wanted = evaluated(edited, folder).to_dict()
    changed = here.load(folder, changes={key: value})
    assert aiming.evaluate(changed, choices=False).to_dict() == wanted
    told = here.with_(variant=[{"name": "other", "set": {key: value}}])
    other = variant(told.load(folder), "other")
    assert aiming.evaluate(other, choices=False).to_dict() == wanted
    assert evaluated(told, folder).to_dict() == evaluated(here, folder).to_dict()

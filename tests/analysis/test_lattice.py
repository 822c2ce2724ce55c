"""The lattice of the page: at every point the very figures of `evaluate`."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from answers import FOUR, HOUSE, SPEAKER
from paths import ROOT

from aiming.analysis.page_table import Lattice, Turned, lattice_of
from aiming.analysis.solve import evaluate, solve
from aiming.base.air import AirLoss
from aiming.field.levels import levels_db
from aiming.results.answer import Answer
from aiming.scenario import Scenario, load
from aiming.scenario.keys import quoted
from aiming.speaker.speaker import Placement

SCENARIOS = ROOT / "scenarios"
EXACT = 1e-9
Index = tuple[int, int, int]
"""Of x, height and tilt."""
SEARCHED = {"narrow-window", "tilt-sign"}
"""Cautions about what the file leaves open, not about one place."""


def fixed(
    scenario: Scenario, answer: Answer, lattice: Lattice, index: Index, turn: int
) -> Scenario:
    """The scenario with every loudspeaker where the lattice or the answer has it."""
    from aiming.scenario.read import rebuilt

    changes: dict[str, Any] = {}
    for one in answer.speakers:
        key = f"speaker.{quoted(one.name)}.placement"
        hang = scenario.speaker(one.name).hang
        moved = one.name == lattice.name
        turned = lattice.turned[turn]
        tilt = float(lattice.axes.tilt_deg[index[2]]) if moved else one.tilt_deg
        changes[f"{key}.tilt"] = tilt
        changes[f"{key}.x"] = f"{float(lattice.axes.x_m[index[0]]) if moved else one.x_m!r} m"
        changes[f"{key}.orientation"] = turned.orientation if moved else one.orientation
        if hang.vertical == "trim":
            vertical = float(lattice.axes.vertical_m[index[1]]) if moved else one.trim_m
        else:
            vertical = float(turned.height_m[index]) if moved else one.height_m
        if hang.mount == "flown" or hang.vertical == "height":
            changes[f"{key}.{hang.vertical}"] = f"{vertical!r} m"
    return rebuilt(scenario, changes)


def check(scenario: Scenario, answer: Answer, lattice: Lattice, index: Index, turn: int) -> None:
    """Every figure of one point against evaluate."""
    turned = lattice.turned[turn]
    one_file = fixed(scenario, answer, lattice, index, turn)
    found = evaluate(one_file)
    one = next(one for one in found.speakers if one.name == lattice.name)
    assert one.height_m == pytest.approx(float(turned.height_m[index]), abs=EXACT)
    assert one.trim_m == pytest.approx(float(turned.trim_m[index]), abs=EXACT)
    assert turned.aim_row[index] == (-1 if one.aim_row is None else one.aim_row)
    throw = None
    if one.aim_point is not None:
        throw = float(np.hypot(one.aim_point[0] - one.x_m, one.aim_point[1] - one.height_m))
    same_or_none(throw, turned.throw_m[index])
    check_line(one, turned, index)
    assert loads_alike(one.loads, turned.loads[index[0]][index[1]][index[2]])
    check_levels(found, lattice, turned, index)
    told = [of for of in found.cautions if of.code not in SEARCHED]
    assert list(turned.cautions[turned.caution_list[index]]) == told


def check_line(one: Any, turned: Turned, index: Index) -> None:
    """The uniform-level line's end is the answer's."""
    if one.uniform_line is None:
        assert np.isnan(turned.line_m[(slice(None), *index)]).all()
        return
    end = one.uniform_line.points_m[-1]
    angle = np.radians(one.tilt_deg + turned.line_end_deg[index])
    reach = turned.line_m[-1][index]
    assert one.x_m + reach * np.cos(angle) == pytest.approx(end[0], abs=1e-6)
    assert one.height_m + reach * np.sin(angle) == pytest.approx(end[1], abs=1e-6)


def check_levels(found: Answer, lattice: Lattice, turned: Turned, index: Index) -> None:
    """Levels put together from what the lattice has, as the page does."""
    place = Placement(
        float(lattice.axes.x_m[index[0]]),
        float(turned.height_m[index]),
        float(lattice.axes.tilt_deg[index[2]]),
        turned.orientation == "flipped",
    )
    shadow: Any = 0.0
    if turned.shadow_db is not None:
        shadow = turned.shadow_db[
            :, :, index[0], index[1], min(index[2], turned.shadow_db.shape[4] - 1)
        ]
    rows = found.scenario.rows
    slope = np.diff(lattice.air_db, axis=1) / np.diff(lattice.air_m)
    levels = levels_db(
        lattice.pattern,
        place,
        rows.x_m,
        rows.z_m,
        air_loss=AirLoss(slope, lattice.air_db[:, :-1] - slope * lattice.air_m[:-1]),
        offset_db=lattice.offset_db + lattice.gain_db,
        shadow_db=shadow,
    )
    np.testing.assert_allclose(levels, found.rows.by_speaker[lattice.name].levels_db, atol=EXACT)


def same_or_none(wanted: float | None, found: Any) -> None:
    """None in an answer is NaN in the lattice."""
    assert np.isnan(found) if wanted is None else found == pytest.approx(wanted, abs=EXACT)


def loads_alike(wanted: Any, found: Any) -> bool:
    """Equal but for rounding in the last digits."""
    if wanted is None or found is None:
        return wanted is found
    pairs = zip(wanted.points, found.points, strict=True)
    return all(
        one.name == other.name and one.tension_n == pytest.approx(other.tension_n, abs=1e-6)
        for one, other in pairs
    )


def points_of(lattice: Lattice) -> list[Index]:
    """Corners, the answer's own point, and some between."""
    xs, heights, tilts = lattice.turned[0].height_m.shape
    some = [
        (0, 0, 0),
        (xs - 1, heights - 1, tilts - 1),
        (xs // 2, heights // 2, tilts // 3),
        (xs // 3, heights // 3, 2 * tilts // 3),
    ]
    return [lattice.axes.own, *some]


@pytest.mark.parametrize(
    "name",
    ["basement_club", "chapel", "hillside_feet", "lecture_theatre", "quarry", "school_gym"],
)
def test_every_figure_is_that_of_evaluate(name: str) -> None:
    scenario = load(SCENARIOS / f"{name}.toml")
    answer = solve(scenario)
    for one in answer.speakers:
        lattice = lattice_of(answer, one.name, points=60)
        for turn in range(len(lattice.turned)):
            for index in points_of(lattice):
                check(scenario, answer, lattice, index, turn)


def test_several_loudspeakers_one_moved_the_others_where_the_answer_has_them() -> None:
    four = [dict(one) for one in FOUR[:3]]
    four[0] |= {"tilt": "[-40, 5]", "height": "[6.5, 9]"}
    scenario = load(
        "-", stdin_text=HOUSE.format(speakers="".join(SPEAKER.format(**of) for of in four))
    )
    answer = solve(scenario)
    lattice = lattice_of(answer, "stalls main", points=40)
    for index in points_of(lattice):
        check(scenario, answer, lattice, index, 0)


def test_the_answers_own_placement_is_a_point() -> None:
    scenario = load(SCENARIOS / "quarry.toml")
    answer = solve(scenario)
    axes = lattice_of(answer, "main", points=60).axes
    one = answer.speakers[0]
    assert float(axes.tilt_deg[axes.at_tilt]) == pytest.approx(one.tilt_deg, abs=5e-5)
    assert float(axes.vertical_m[axes.at_vertical]) == pytest.approx(one.height_m, abs=1e-5)
    assert (np.diff(axes.tilt_deg) > 0.0).all()
    assert (np.diff(axes.vertical_m) > 0.0).all()


def test_a_given_placement_can_still_be_moved_and_says_that_the_file_fixes_it() -> None:
    changes = {"speaker.main.placement.height": 6.0, "speaker.main.placement.tilt": -12.0}
    scenario = load(SCENARIOS / "quarry.toml", changes=changes)
    answer = evaluate(scenario)
    axes = lattice_of(answer, "main", points=60).axes
    assert axes.tilt_given
    assert axes.vertical_given
    assert axes.tilt_deg[0] == pytest.approx(-22.0)
    assert axes.vertical_m[-1] == pytest.approx(7.0)


def test_a_pattern_known_only_near_the_axis(tmp_path: Path) -> None:
    """No coverage edge, and rows whose level is unknown: nothing is taken over the known ones."""
    lines = ["angle_deg,1000,2000,4000,8000"]
    lines += [
        f"{angle},{-0.005 * angle**2:.3f},{-0.006 * angle**2:.3f},0,0"
        for angle in range(-20, 21, 5)
    ]
    (tmp_path / "near.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    text = (SCENARIOS / "quarry.toml").read_text(encoding="utf-8")
    text = text.replace("coverage = 60\ncontrol_from_hz = 900", 'file = "near.csv"')
    (tmp_path / "near.toml").write_text(text, encoding="utf-8")
    changes = {"speaker.main.placement.height": 6.0, "speaker.main.placement.tilt": -20.0}
    scenario = load(tmp_path / "near.toml", changes=changes)
    answer = evaluate(scenario)
    lattice = lattice_of(answer, "main", points=60)
    assert lattice.turned[0].edges_deg == (None, None)
    for index in points_of(lattice):
        check(scenario, answer, lattice, index, 0)

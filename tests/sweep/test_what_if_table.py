"""Every row of a sweep is what evaluate or solve says of the same changes."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sweep_sites import HALL, PAIR, site

import aiming
from aiming.base.errors import AimingError, ScenarioError
from aiming.scenario.read import rebuilt
from aiming.sweep import best_rows, front, what_if
from aiming.sweep.candidates import Pace, pace_of
from aiming.sweep.kernel import SPREAD_ERROR_DB
from aiming.sweep.run import work_of

MAIN = "speaker.main.placement."
OF_SPEAKER = ("spread_db", "worst_band_spread_db", "deviation_db", "rows_within_3db_percent")


def rows_of(table: Any, count: int, seed: int = 3) -> list[dict[str, Any]]:
    places = np.random.default_rng(seed).choice(len(table), size=min(count, len(table)))
    found: list[dict[str, Any]] = table.rows(places)
    return found


def changes_in(row: dict[str, Any], table: Any) -> dict[str, Any]:
    return {axis.key: row[axis.key] for axis in table.axes}


@pytest.mark.parametrize("order", [("tilt", "height", "x"), ("x", "height", "tilt")])
def test_bulk_rows_equal_evaluate(tmp_path: Path, order: tuple[str, ...]) -> None:
    hall = site(tmp_path)
    axes = {"tilt": (-35.0, 5.0, 0.25), "height": (4.5, 7.5, 0.5), "x": [-0.5, 0.0, 0.4]}
    over = {MAIN + name: axes[name] for name in order}
    figures = (
        "worst_band_spread_db",
        "spread_db",
        "spread_db_8000",
        "softest_row_level_db",
        "feasible",
    )
    assert pace_of(work_of(hall, over, figures)) is Pace.BULK
    table = what_if(hall, over, figures=figures)
    assert table.shape == tuple({"tilt": 161, "height": 7, "x": 3}[name] for name in order)
    assert len(table) == 161 * 7 * 3
    for row in rows_of(table, 15):
        answer = aiming.evaluate(rebuilt(hall, changes_in(row, table)))
        main = answer.speakers[0]
        expected = {
            "worst_band_spread_db": main.worst_band_spread_db,
            "spread_db": main.spread_db,
            "spread_db_8000": main.by_band[8000.0].spread_db,
            "softest_row_level_db": answer.rows.design_level_db.min(),
        }
        assert row["feasible"] is keeps_its_limits(answer)
        for name, value in expected.items():
            assert row[name] == pytest.approx(value, abs=SPREAD_ERROR_DB)


def keeps_its_limits(answer: aiming.Answer) -> bool:
    """Whether the axis meets the audience, and no served row is softer than the least level."""
    met = answer.speakers[0].aim_point is not None
    return met and all(caution.code != "too-soft" for caution in answer.cautions)


def test_exact_rows_equal_evaluate(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "height": (4.5, 7.5, 0.75), MAIN + "tilt": (-30.0, 0.0, 1.5)}
    figures = (*OF_SPEAKER, "tonal_change_db", "trim_m", "feasible", "tilt_deg", "flipped")
    table = what_if(hall, over, figures=figures)
    for row in rows_of(table, 12):
        answer = aiming.evaluate(rebuilt(hall, changes_in(row, table)))
        main = answer.speakers[0]
        for name in OF_SPEAKER:
            assert row[name] == pytest.approx(getattr(main, name), abs=1e-9)
        if main.aim_point is not None:
            assert main.tone is not None
            assert row["tonal_change_db"] == pytest.approx(main.tone.worst_change_db, abs=1e-9)
        assert row["trim_m"] == pytest.approx(main.trim_m, abs=1e-12)
        assert row["feasible"] is keeps_its_limits(answer)
        assert row["flipped"] == 0.0


def test_trim_moves_the_acoustic_centre_with_the_tilt(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "trim": [4.0, 5.0], MAIN + "tilt": (-30.0, 0.0, 1.0)}
    table = what_if(hall, over, figures=("spread_db", "height_m", "trim_m"))
    for row in rows_of(table, 10):
        main = aiming.evaluate(rebuilt(hall, changes_in(row, table))).speakers[0]
        assert row["spread_db"] == pytest.approx(main.spread_db, abs=1e-9)
        assert row["height_m"] == pytest.approx(main.height_m, abs=1e-12)
        assert row["trim_m"] == pytest.approx(row[MAIN + "trim"], abs=1e-12)
        assert row["height_m"] - row["trim_m"] > 0.15


def test_any_key_can_be_an_axis(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {
        "air.humidity_percent": [10, 60],
        "seating.gallery.ears": ["seated", "standing", 1.45],
        MAIN + "orientation": ["upright", "flipped"],
        "speaker.main.pattern.coverage": (50, 70, 10),
        MAIN + "tilt": [-20.0, -11.5],
        MAIN + "height": [5.0],
    }
    table = what_if(hall, over, figures=OF_SPEAKER)
    assert table.shape == (2, 3, 2, 3, 2, 1)
    assert list(table["seating.gallery.ears"][:12:6]) == ["seated", "seated"]
    assert table["speaker.main.pattern.coverage"].dtype == np.float64
    for row in rows_of(table, 10):
        main = aiming.evaluate(rebuilt(hall, changes_in(row, table))).speakers[0]
        for name in OF_SPEAKER:
            assert row[name] == pytest.approx(getattr(main, name), abs=SPREAD_ERROR_DB)


def test_where_ranges_remain_each_point_is_solved(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "height": (5.0, 8.0, 1.0), "speaker.main.pattern.lobe": ["piston", "quadratic"]}
    figures = ("spread_db", "tilt_deg", "gap_db", "cautions", "stops", "feasible")
    table = what_if(hall, over, figures=figures)
    for row in table.rows(range(len(table))):
        answer = aiming.solve(rebuilt(hall, changes_in(row, table)))
        main = answer.speakers[0]
        assert row["spread_db"] == pytest.approx(main.spread_db, abs=1e-9)
        assert row["tilt_deg"] == pytest.approx(main.tilt_deg, abs=1e-9)
        assert row["gap_db"] == pytest.approx(main.gap_db, abs=1e-12)
        assert row["cautions"] == sum(one.severity != "note" for one in answer.cautions)
        assert row["feasible"] is True


def test_a_point_without_a_placement_is_not_feasible(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "height": [6.0], MAIN + "tilt": [[-30, 0], [60, 80]]}
    table = what_if(hall, over, figures=("spread_db", "feasible", "cautions"))
    assert list(table["feasible"]) == [True, False]
    assert np.isnan(table["spread_db"][1]) and np.isnan(table["cautions"][1])


def test_loudspeakers_together_and_alone(tmp_path: Path) -> None:
    pair = site(tmp_path, PAIR)
    over = {'speaker."front.fill".gain_db': [-12.0, -6.0], MAIN + "tilt": (-20.0, 0.0, 2.0)}
    table = what_if(pair, over, figures=("spread_db", "main.spread_db", "front.fill.spread_db"))
    for row in table.rows(range(len(table))):
        answer = aiming.evaluate(rebuilt(pair, changes_in(row, table)))
        assert answer.together is not None
        assert row["spread_db"] == pytest.approx(answer.together.spread_db, abs=1e-9)
        for speaker in answer.speakers:
            assert row[f"{speaker.name}.spread_db"] == pytest.approx(speaker.spread_db, abs=1e-9)


def test_a_bare_figure_is_of_the_loudspeaker_that_the_keys_name(tmp_path: Path) -> None:
    pair = site(tmp_path, PAIR)
    over = {MAIN + "tilt": (-20.0, 0.0, 1.0), MAIN + "height": (15.0, 20.0, 1.0)}
    table = what_if(pair, over, figures=("spread_db", "together.spread_db"))
    for row in rows_of(table, 12):
        answer = aiming.evaluate(rebuilt(pair, changes_in(row, table)))
        assert answer.together is not None
        assert row["spread_db"] == pytest.approx(answer.speakers[0].spread_db, abs=1e-9)
        assert row["together.spread_db"] == pytest.approx(answer.together.spread_db, abs=1e-9)


def test_the_best_of_a_fine_grid_is_no_better_than_the_proven_best(tmp_path: Path) -> None:
    for objective, figure in (("spread", "spread_db"), ("worst band", "worst_band_spread_db")):
        hall = site(tmp_path, HALL + f'[aim]\nobjective = "{objective}"\n')
        main = aiming.solve(hall).speakers[0]
        assert main.best is not None and main.gap_db is not None
        over = {MAIN + "height": (4.5, 8.0, 0.1), MAIN + "tilt": (-40.0, 10.0, 0.05)}
        table = what_if(hall, over, figures=(figure, "feasible"))
        found = best_rows(table, figure, count=1)[0]
        assert found[figure] >= main.best.objective_db - main.gap_db - SPREAD_ERROR_DB
        assert found[figure] <= main.best.objective_db + 0.1


def test_the_front_holds_what_nothing_beats(tmp_path: Path) -> None:
    hall = site(tmp_path)
    over = {MAIN + "height": (4.5, 8.0, 0.25), MAIN + "tilt": (-30.0, 0.0, 0.5)}
    table = what_if(hall, over, figures=("spread_db", "softest_row_level_db"))
    for x, sign in ((MAIN + "height", 1.0), ("softest_row_level_db", -1.0)):
        points = front(table, x, "spread_db")
        all_x, all_y = sign * table[x], table["spread_db"]
        at = np.array([[sign * row[x], row["spread_db"]] for row in points])
        for px, py in at:
            assert not ((all_x <= px) & (all_y <= py) & ((all_x < px) | (all_y < py))).any()
        beaten = ((at[:, :1] <= all_x) & (at[:, 1:] <= all_y)).any(axis=0)
        assert beaten.all()
        assert [row[x] for row in points] == sorted(row[x] for row in points)


def test_of_equals_the_front_and_the_best_keep_the_first(tmp_path: Path) -> None:
    over = {"speaker.main.gain_db": [-3.0, 0.0], MAIN + "height": (5.0, 7.0, 0.5)}
    table = what_if(site(tmp_path), over, figures=("spread_db", "height_m"))
    points = front(table, MAIN + "height", "spread_db")
    assert points and all(row["speaker.main.gain_db"] == -3.0 for row in points)
    best = best_rows(table, "spread_db", count=2)
    assert [row["speaker.main.gain_db"] for row in best] == [-3.0, 0.0]


def test_best_rows_come_best_first(tmp_path: Path) -> None:
    hall = site(tmp_path)
    table = what_if(hall, {MAIN + "height": [6.0], MAIN + "tilt": (-30.0, 0.0, 0.5)})
    best = best_rows(table, "spread_db", count=4)
    assert [row["spread_db"] for row in best] == sorted(table["spread_db"])[:4]
    most = best_rows(table, "rows_within_3db_percent", count=1)[0]
    assert most["rows_within_3db_percent"] == table["rows_within_3db_percent"].max()


@pytest.mark.parametrize(
    ("over", "message"),
    [
        ({}, "no axis"),
        ({MAIN + "tlit": (0, 1, 1)}, 'unknown key "tlit"; did you mean "tilt"'),
        ({MAIN + "tilt": (0, -1, 1)}, "low ≤ high"),
        ({MAIN + "tilt": (0, 1, 0)}, "step > 0"),
        ({MAIN + "tilt": (0, 1)}, "a tuple of 2"),
        ({MAIN + "tilt": []}, "an empty list"),
        ({MAIN + "tilt": 3.0}, "or a list of values"),
        ({MAIN + "tilt": [float("nan")]}, "finite"),
        ({MAIN + "tilt": (-120, 0, 1)}, "-90"),
        ({MAIN + "tilt": (0.0, 1.0, 1e-12)}, "at most 1,000,000,000"),
    ],
)
def test_axes_that_are_refused(tmp_path: Path, over: dict[str, object], message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        what_if(site(tmp_path), over)


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        (("spred_db",), "known are"),
        ((), "none"),
        (("spread_db", "spread_db"), "each figure once"),
        (("spread_db_1250",), "known are"),
    ],
)
def test_figures_that_are_refused(tmp_path: Path, figures: tuple[str, ...], message: str) -> None:
    with pytest.raises(AimingError, match=message):
        what_if(site(tmp_path), {MAIN + "tilt": (-10, 0, 1)}, figures=figures)


def test_progress_is_told_in_rows(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    what_if(
        site(tmp_path),
        {MAIN + "height": (5.0, 7.0, 0.1)},
        figures=("spread_db",),
        progress=lambda done, rows: told.append((done, rows)),
    )
    assert told[0] == (0, 21) and told[-1] == (21, 21)
    assert [done for done, _ in told] == sorted(done for done, _ in told)

"""Front rows left to a fill, and the least level of a served row, against sums written here."""

from itertools import pairwise

import numpy as np
import pytest

import aiming
from aiming.analysis.front_rows import KNEE_DB
from aiming.analysis.solve import NoPlacementError
from aiming.base.errors import ScenarioError
from aiming.results.answer import Answer

HALL = """
[[seating]]
name = "floor"
line = [[3.0, 0.0], [20.0, 0.0]]
row_spacing = 0.9
[[speaker]]
name = "main"
pattern = { coverage = 60 }
placement = { height = [4.0, 7.0] }
"""


def solved(text: str, tmp_path, **changes) -> Answer:
    file = tmp_path / "hall.toml"
    file.write_text(text)
    return aiming.solve(
        aiming.load(file, changes={k.replace("__", "."): v for k, v in changes.items()})
    )


def _levels(answer: Answer) -> np.ndarray:
    return answer.rows.by_speaker["main"].levels_db


@pytest.mark.parametrize("left", [0, 1, 3])
def test_every_figure_of_evenness_is_over_the_rows_that_are_not_left(left, tmp_path) -> None:
    answer = solved(HALL, tmp_path, aim__left_to_fill=left)
    one, levels = answer.speakers[0], _levels(answer)
    rest = levels[:, left:]  # the floor's rows run from the stage away
    design = rest.mean(axis=0)
    assert len(answer.rows) == 20
    assert one.spread_db == pytest.approx(np.ptp(design), abs=1e-12)
    assert one.worst_band_spread_db == pytest.approx(np.ptp(rest, axis=1).max(), abs=1e-12)
    weight = np.full(20, 17.0 / 19)
    weight[[0, -1]] /= 2.0
    weight = weight[left:]
    mean = (design * weight).sum() / weight.sum()
    share = 100.0 * (np.abs(design - mean) <= 3.0).mean()
    assert one.rows_within_3db_percent == pytest.approx(share, abs=1e-9)
    assert answer.together.spread_db == pytest.approx(np.ptp(design), abs=1e-12)
    if left == 0:
        assert one.left_to_fill is None
        return
    told = one.left_to_fill
    assert told.rows == tuple(range(left)) and told.band_hz == 4000.0
    away = np.hypot(answer.rows.x_m[:left] - one.x_m, answer.rows.z_m[:left] - one.height_m)
    assert told.distance_m == pytest.approx((away.min(), away.max()), abs=1e-9)
    at_4k = levels[2]
    short = (at_4k[left:] * weight).sum() / weight.sum() - at_4k[:left]
    assert told.short_db == pytest.approx((short.min(), short.max()), abs=1e-9)
    assert [c.value for c in answer.cautions if c.code == "front-fill-wanted"] == [left]


def test_fewer_rows_to_serve_are_never_harder_to_serve(tmp_path) -> None:
    best = [
        solved(HALL, tmp_path, aim__left_to_fill=left).speakers[0].best.objective_db
        for left in range(5)
    ]
    assert all(after <= before + 0.05 for before, after in pairwise(best))


def test_the_knee_is_as_many_rows_as_gain_enough_each(tmp_path) -> None:
    at_knee = solved(HALL, tmp_path, aim__left_to_fill="knee").speakers[0]
    count = len(at_knee.left_to_fill.rows)
    best = [
        solved(HALL, tmp_path, aim__left_to_fill=left).speakers[0].best.objective_db
        for left in range(count + 2)
    ]
    gains = -np.diff(best)
    assert count >= 1
    # Each is proven to 0.05 dB, those that the knee was found by to 0.1 dB.
    assert all(gains[:count] > KNEE_DB - 0.15) and gains[count] < KNEE_DB + 0.15


def test_a_fill_that_serves_them_quiets_the_caution(tmp_path) -> None:
    text = HALL.replace("[[3.0, 0.0], [20.0, 0.0]]", "[[5.0, 0.0], [20.0, 0.0]]")
    text += """
[[seating]]
name = "front"
line = [[3.0, 0.0], [4.0, 0.0]]
[[speaker]]
name = "fill"
fills = "main"
serves = ["front"]
pattern = { coverage = 90 }
placement = { x = 1.0, height = 1.6 }
"""
    answer = solved(text, tmp_path, aim__left_to_fill=2)
    assert "front-fill-wanted" not in {c.code for c in answer.cautions}
    assert answer.speakers[1].left_to_fill is None
    # The fill is judged on them, so all loudspeakers together are as well.
    design = answer.rows.levels_db.mean(axis=0)
    assert answer.together.spread_db == pytest.approx(np.ptp(design), abs=1e-12)


def test_leaving_every_row_is_a_fault_that_says_how_many_can_be_left(tmp_path) -> None:
    with pytest.raises(ScenarioError, match=r"left_to_fill.*every row.*19 at most"):
        solved(HALL, tmp_path, aim__left_to_fill=20)


ROOF = """
[[seating]]
name = "floor"
line = [[6.0, 0.0], [30.0, 0.0]]
row_spacing = 1.5
[[speaker]]
name = "main"
pattern = { coverage = 30 }
placement = { height = 7.0 }
[aim]
axis_on_audience = false
"""


def _softest_re_last(answer: Answer) -> float:
    """The softest row re the last row on the axis, by spreading and air alone."""
    levels = _levels(answer).mean(axis=0)
    one = answer.speakers[0]
    away = np.hypot(30.0 - one.x_m, 1.2 - one.height_m)
    last = answer.rows.by_speaker["main"]
    # Level of the last row as it is, less the pattern there, is what it would be on the axis.
    half = 15.0
    lobe = max(-24.0, -20.0 * np.log10(2.0) * (float(last.off_axis_deg[-1]) / half) ** 2)
    assert last.distance_m[-1] == pytest.approx(away)
    return float(levels.min() - (levels[-1] - lobe))


def test_a_box_is_not_aimed_at_the_roof_to_be_even(tmp_path) -> None:
    free = solved(ROOF, tmp_path, aim__softest_db="off").speakers[0]
    held = solved(ROOF, tmp_path)
    assert free.tilt_deg > 10.0 and free.softest_db < -15.0  # what the limit is there for
    assert held.speakers[0].softest_db == pytest.approx(_softest_re_last(held), abs=0.002)
    assert held.speakers[0].softest_db >= -6.0 - 1e-9


@pytest.mark.parametrize("limit", [-18.0, -17.0, -10.0, -3.0])
def test_the_best_under_a_least_level_is_that_of_a_dense_scan(limit, tmp_path) -> None:
    answer = solved(ROOF, tmp_path, aim__softest_db=limit)
    one = answer.speakers[0]
    assert one.softest_db >= limit - 1e-9
    tilts = np.arange(-90.0, 90.0, 0.02)
    x = answer.rows.x_m
    away = np.hypot(x, 5.8)
    off = np.degrees(np.arctan2(-5.8, x)) - tilts[:, np.newaxis]
    lobe = np.maximum(-24.0, -20.0 * np.log10(2.0) * (off / 15.0) ** 2)
    seen = answer.rows.by_speaker["main"]
    own = np.maximum(-24.0, -20.0 * np.log10(2.0) * (seen.off_axis_deg / 15.0) ** 2)
    path = _levels(answer).mean(axis=0) - own  # distance and air, whatever the tilt
    level = path + lobe
    kept = level.min(axis=1) - path[-1] >= limit
    least = np.ptp(level[kept], axis=1).min()
    assert one.best.objective_db == pytest.approx(least, abs=0.06)
    assert away[0] < away[-1]


def test_a_limit_that_is_stated_stops_and_says_what_would_do(tmp_path) -> None:
    with pytest.raises(NoPlacementError, match="softest_db would have to be"):
        solved(ROOF, tmp_path, aim__softest_db=3.0)


def test_the_usual_limit_gives_way_and_says_so(tmp_path) -> None:
    text = ROOF.replace("tilt", "").replace("height = 7.0", "height = 7.0, tilt = [10, 30]")
    answer = solved(text, tmp_path)
    assert answer.speakers[0].softest_db < -6.0
    assert "too-soft" in {c.code for c in answer.cautions}


def test_what_binds_is_named(tmp_path) -> None:
    one = solved(ROOF, tmp_path, aim__softest_db=-2.55).speakers[0]
    assert "softest_db" in one.limited_by and one.softest_db == pytest.approx(-2.55, abs=0.05)

"""The trial on the ground: the trade's rules of thumb, and its levels read back."""

from pathlib import Path

import numpy as np
import pytest
from onsite_scenes import SCENARIO, long_csv

import aiming
from aiming.base.errors import ScenarioError
from aiming.scenario.pattern_report import pattern_report
from aiming.site.ground_trial import (
    AXIS,
    EDGE,
    HALFWAY,
    TWICE,
    GroundTrial,
    compare_on_ground,
    ground_trial,
)
from aiming.site.prediction import Departure

WITH_LOW = SCENARIO.replace("coverage = 60", "coverage = 60\ncontrol_from_hz = 1000")


def trial(folder: Path, *, text: str = SCENARIO, distance_m: float | None = None) -> GroundTrial:
    (folder / "s.toml").write_text(text, encoding="utf-8")
    scenario = aiming.load(folder / "s.toml")
    return ground_trial(scenario, scenario.speakers[0], distance_m=distance_m)


def test_the_trades_rules_hold(tmp_path: Path) -> None:
    # Common practice, no source: 6 dB less at every frequency for a doubled distance; a measurement
    # outdoors at 2 kHz lands within about 0.7 dB of it; the coverage edge at d is as loud as the
    # axis at 2d; low frequencies hardly change at the edge.
    of = trial(tmp_path, text=WITH_LOW, distance_m=8.0)
    point = {one.name: one for one in of.points}
    bands = (125.0, 1000.0, 2000.0, 4000.0, 8000.0)
    assert set(bands) <= set(of.bands_hz)
    twice, edge = point[TWICE].levels_db, point[EDGE].levels_db
    for band in bands[:3]:
        assert twice[band] == pytest.approx(-6.02, abs=0.1)
    assert twice[2000.0] == pytest.approx(-6.0206, abs=0.7)
    assert twice[8000.0] is not None
    assert -7.0 < twice[8000.0] < twice[125.0]
    for band in bands[1:4]:
        assert edge[band] == pytest.approx(twice[band], abs=0.3)
    assert edge[125.0] is not None
    assert -0.2 < edge[125.0] <= 0.0


def test_the_layout_is_the_one_of_the_rule(tmp_path: Path) -> None:
    of = trial(tmp_path, distance_m=10.0)
    at = {one.name: np.array([one.ahead_m, one.aside_m]) for one in of.points}
    assert list(at) == [AXIS, TWICE, EDGE, HALFWAY]
    assert at[AXIS].tolist() == [10.0, 0.0]
    assert at[TWICE].tolist() == [20.0, 0.0]
    assert np.hypot(*at[EDGE]) == pytest.approx(10.0)
    assert of.edge_deg == pytest.approx(-30.0, abs=0.01)
    assert at[HALFWAY] == pytest.approx(0.5 * (at[EDGE] + at[TWICE]))
    # The line between edge at d and axis at 2d is d·√(5 − 4·cos 30°) long (closed form).
    assert np.hypot(*(at[EDGE] - at[TWICE])) == pytest.approx(10.0 * 1.23931, rel=1e-5)


def test_d_lies_beyond_the_far_field(tmp_path: Path) -> None:
    of = trial(tmp_path)
    assert of.far_field_m is not None
    # A cabinet 0.70 m high at 7943 Hz: 0.7²/(2·343.2/7943.28) = 5.67 m.
    assert of.far_field_m == pytest.approx(5.670, abs=0.01)
    assert of.distance_m == 6.0
    near = trial(tmp_path, distance_m=3.0)
    assert any("nearer than the far field" in note for note in near.notes)
    start, end = SCENARIO.index("[speaker.cabinet]"), SCENARIO.index("[speaker.placement]")
    bare = trial(tmp_path, text=SCENARIO[:start] + SCENARIO[end:])
    assert bare.far_field_m is None
    assert "far field is not known" in bare.notes[0]


def test_levels_as_the_pattern_are_explained_and_saved(tmp_path: Path) -> None:
    of = trial(tmp_path)
    level = of.scene.levels_db(Departure()) + np.linspace(60.0, 90.0, 7)[:, np.newaxis]
    names = [one.name for one in of.points]
    found = compare_on_ground(of, long_csv(tmp_path / "g.csv", names, of.bands_hz[-4:], level[-4:]))
    assert found.explained
    assert "as its data say" in found.advice
    saved = tmp_path / "coarse.csv"
    saved.write_text(found.coarse_csv, encoding="utf-8")
    report = pattern_report(saved, display="coarse.csv")
    assert report.pattern.angle_deg == pytest.approx([-30.0, -9.896, 0.0])
    assert report.pattern.level_db[:, 0] == pytest.approx([-6.02] * 4, abs=0.01)
    assert report.pattern.level_db[:, 1] == pytest.approx([-0.655] * 4, abs=0.01)
    assert "no pattern to aim with" in report.pattern.reference


def test_a_wider_pattern_is_found_where_the_yard_is_quiet(tmp_path: Path) -> None:
    of = trial(tmp_path)
    level = of.scene.levels_db(Departure(pattern_scale=1.25))
    names = [one.name for one in of.points]
    path = long_csv(tmp_path / "g.csv", names, of.bands_hz, level)
    found = compare_on_ground(of, path, site_db=0.2, band_db=0.3)
    assert found.pattern_scale is not None
    assert found.pattern_scale.value == pytest.approx(1.25, abs=0.02)
    assert "25 % wider" in found.advice
    assert found.to_dict()["pattern_scale"]["value"] == found.pattern_scale.value
    narrow = of.scene.levels_db(Departure(pattern_scale=0.85))
    path = long_csv(tmp_path / "n.csv", names, of.bands_hz, narrow)
    found = compare_on_ground(of, path, site_db=0.2, band_db=0.3)
    assert "15 % narrower" in found.advice


def test_a_name_that_is_none_of_the_trials_is_refused(tmp_path: Path) -> None:
    of = trial(tmp_path)
    path = long_csv(tmp_path / "g.csv", [AXIS, "axis at 3d"], of.bands_hz, np.full((7, 2), -1.0))
    with pytest.raises(ScenarioError, match='"axis at 3d" is no position of the trial; axis at d'):
        compare_on_ground(of, path)

"""The trial on the ground, by closed forms."""

from pathlib import Path

import numpy as np
import pytest
from onsite_scenes import ALPHA, BANDS_HZ, SCENARIO, long_csv

import aiming
from aiming.site.ground_found import GroundFound, compare_on_ground
from aiming.site.ground_trial import GroundTrial, ground_trial

EVERY = ("axis at d", "axis at 2d", "edge at d", "other edge at d", "halfway")


def trial_of(folder: Path) -> GroundTrial:
    (folder / "s.toml").write_text(SCENARIO, encoding="utf-8")
    scenario = aiming.load(folder / "s.toml")
    return ground_trial(scenario, scenario.speakers[0], distance_m=8.0)


def walked(
    folder: Path,
    wide: float,
    *,
    turned_deg: float = 0.0,
    more: float = 0.0,
    names: tuple[str, ...] = (*EVERY, "line at 0.25"),
) -> GroundFound:
    """A quadratic lobe this much wider, the box turned off its line; the second one off by more."""
    trial = trial_of(folder)
    points = [trial.point(name) for name in names]
    x = np.array([one.ahead_m for one in points if one is not None])
    z = np.array([one.aside_m for one in points if one is not None])
    off = np.degrees(np.arctan2(z, x)) - turned_deg
    r = np.hypot(x, z)
    level = -6.0206 * (off / (30.0 * wide)) ** 2 - 20.0 * np.log10(r) - ALPHA[:, np.newaxis] * r
    level[:, 1] += more
    return compare_on_ground(trial, long_csv(folder / "g.csv", names, BANDS_HZ, level - 20.0))


def test_the_layout_by_the_closed_form(tmp_path: Path) -> None:
    points = {one.name: one for one in trial_of(tmp_path).points}
    assert tuple(points) == EVERY
    edge, other, half = points["edge at d"], points["other edge at d"], points["halfway"]
    assert (edge.ahead_m, edge.aside_m) == pytest.approx((8.0 * 0.75**0.5, -4.0), abs=0.01)
    assert (other.ahead_m, other.aside_m) == pytest.approx((8.0 * 0.75**0.5, 4.0), abs=0.01)
    assert half.ahead_m == pytest.approx(0.5 * (edge.ahead_m + 16.0))
    assert half.aside_m == pytest.approx(-2.0, abs=0.01)


@pytest.mark.parametrize("turned", [0.0, 4.0])
@pytest.mark.parametrize("wide", [0.7, 1.0, 1.4])
def test_the_coverage_angle_is_told_whatever_way_it_points(
    tmp_path: Path, wide: float, turned: float
) -> None:
    found = walked(tmp_path, wide, turned_deg=turned)
    assert found.coverage_deg is not None
    assert found.coverage_deg.holds(60.0 * wide)
    assert found.coverage_deg.half / found.coverage_deg.value < 0.15
    assert found.headline.startswith("COVERAGE")


def test_the_rules_hold_for_what_keeps_them_and_not_for_what_does_not(tmp_path: Path) -> None:
    kept = {one.rule: one.holds for one in walked(tmp_path, 1.0).verdicts}
    assert len(kept) == 5
    assert all(kept.values())
    assert not {one.rule: one.holds for one in walked(tmp_path, 1.4).verdicts}["edge at d"]
    far = {one.rule: one.holds for one in walked(tmp_path, 1.0, more=4.0).verdicts}
    assert not far["twice the distance"]


def test_a_rule_is_judged_where_its_positions_were_walked(tmp_path: Path) -> None:
    def rules(*names: str) -> set[str]:
        return {one.rule for one in walked(tmp_path, 1.0, names=names).verdicts}

    assert rules("axis at d", "axis at 2d") == {"twice the distance"}
    line = ("edge at d", "halfway", "axis at 2d")
    assert "along the line" in rules(*line)
    assert "along the line" not in rules("edge at d", "axis at 2d", "axis at d")
    assert "along the line" not in rules("edge at d", "halfway", "axis at d")


@pytest.mark.parametrize("more", [-9.0, 9.0])
def test_a_position_stands_out_softer_as_well_as_louder(tmp_path: Path, more: float) -> None:
    found = walked(tmp_path, 1.0, more=more)
    away = {one.name: one.stands_out for one in found.positions}
    assert away["axis at 2d"]
    assert not away["axis at d"]


def test_the_near_seats_edge_is_the_lower_one_and_the_upper_one_of_a_flipped_box(
    tmp_path: Path,
) -> None:
    text = SCENARIO.replace("coverage = 60", "coverage = { above = 15, below = 45 }")
    (tmp_path / "s.toml").write_text(text, encoding="utf-8")
    scenario = aiming.load(tmp_path / "s.toml")
    speaker = scenario.speakers[0]
    upright = ground_trial(scenario, speaker, distance_m=8.0)
    turned = ground_trial(scenario, speaker, distance_m=8.0, flipped=True)
    for trial, near, other in ((upright, -45.0, 15.0), (turned, 15.0, -45.0)):
        assert (trial.edge_deg, trial.other_edge_deg) == pytest.approx((near, other), abs=0.01)
        assert trial.coverage_deg == pytest.approx(60.0, abs=0.02)
        edge = trial.point("edge at d")
        assert edge is not None
        assert edge.aside_m == pytest.approx(8.0 * np.sin(np.radians(near)), abs=0.01)


def test_levels_along_the_line_run_from_the_edge_to_the_far_axis(tmp_path: Path) -> None:
    trial = trial_of(tmp_path)
    points = {one.name: one.levels_db for one in trial.points}
    from_edge = [float(points["axis at 2d"][hz]) - float(points["edge at d"][hz])
                 for hz in trial.design_hz]  # fmt: skip
    assert trial.line_db[0] == 0.0
    assert trial.line_db[-1] == pytest.approx(np.mean(from_edge), abs=1e-9)
    # In the middle by the formula of the lobe, of distance and of air, against the edge.
    x, z = trial.on_line(0.5)
    off, r = np.degrees(np.arctan2(z, x)), np.hypot(x, z)
    by_air = float(np.mean(ALPHA)) * (8.0 - r)
    wanted = 6.0206 - 6.0206 * (off / 30.0) ** 2 - 20.0 * np.log10(r / 8.0) + by_air
    assert trial.line_db[len(trial.line_db) // 2] == pytest.approx(wanted, abs=0.05)


def test_scale_and_percents_are_those_of_the_coverage_angle(tmp_path: Path) -> None:
    found = walked(tmp_path, 1.4)
    angle, scale = found.coverage_deg, found.pattern_scale
    assert angle is not None
    assert scale is not None
    for one, other in ((angle.low, scale.low), (angle.value, scale.value),
                       (angle.high, scale.high)):  # fmt: skip
        assert one == pytest.approx(60.0 * other, rel=1e-3)
    assert f"±{100.0 * angle.half / angle.value:.0f} %" in found.headline


def test_the_coarse_pattern_is_the_lobe_without_distance_and_air(tmp_path: Path) -> None:
    lines = walked(tmp_path, 1.0).coarse_csv.splitlines()
    table = np.array([[float(cell) for cell in line.split(",")] for line in lines[2:]])
    assert lines[1] == "angle_deg,1000,2000,4000,8000"
    assert len(table) == 5
    wanted = -6.0206 * (table[:, :1] / 30.0) ** 2
    assert table[:, 1:] == pytest.approx(np.broadcast_to(wanted, (5, 4)), abs=0.02)


def test_a_low_band_is_told_beside_the_edges_design_bands(tmp_path: Path) -> None:
    bands = (125.0, 1000.0, 2000.0, 4000.0, 8000.0)
    rows = [f"{a}," + ",".join(f"{-0.0067 * a * a * (hz > 500.0):.3f}" for hz in bands)
            for a in range(-180, 181, 10)]  # fmt: skip
    (tmp_path / "box.csv").write_text(
        "angle_deg," + ",".join(f"{hz:g}" for hz in bands) + "\n" + "\n".join(rows)
    )
    text = SCENARIO.replace("coverage = 60", 'file = "box.csv"')
    (tmp_path / "s.toml").write_text(text, encoding="utf-8")
    scenario = aiming.load(tmp_path / "s.toml")
    trial = ground_trial(scenario, scenario.speakers[0], distance_m=8.0)
    level = np.array([[0.0, -1.5], *[[0.0, -6.0]] * 4])
    found = compare_on_ground(
        trial, long_csv(tmp_path / "g.csv", ["axis at d", "edge at d"], bands, level)
    )
    (verdict,) = [one for one in found.verdicts if one.rule == "edge at d"]
    assert "−6.0 dB" in verdict.text
    assert "−1.5 dB at 125 Hz" in verdict.text
    # With no design band measured there is nothing to say of the pattern.
    low = compare_on_ground(
        trial, long_csv(tmp_path / "l.csv", ["axis at d", "edge at d"], bands[:1], level[:1])
    )
    assert (low.coverage_deg, low.turned_deg, low.explained, low.verdicts) == (None, None, None, ())
    for one in low.positions:
        assert one.measured_db[125.0] is not None
        assert set(one.found_db.values()) == set(one.doubt_db.values()) == {None}
        assert one.off_db is None


def test_levels_in_no_common_band_are_refused_where_they_begin(tmp_path: Path) -> None:
    trial = trial_of(tmp_path)
    low = long_csv(tmp_path / "g.csv", EVERY[:2], (50.0, 63.0), np.full((2, 2), -3.0))
    with pytest.raises(aiming.ScenarioError, match=r"g\.csv:2:1: frequency: no common"):
        compare_on_ground(trial, low)


def test_levels_are_told_against_the_axis_at_d(tmp_path: Path) -> None:
    """0 dB there; half the pressure and 8 m more air at twice the distance; 6 dB at an edge."""
    points = {one.name: one for one in trial_of(tmp_path).points}
    for hz, alpha in zip(BANDS_HZ, ALPHA, strict=True):
        assert points["axis at d"].levels_db[hz] == pytest.approx(0.0, abs=1e-9)
        twice = -20.0 * np.log10(2.0) - 8.0 * alpha
        assert points["axis at 2d"].levels_db[hz] == pytest.approx(twice, abs=0.05)
        assert points["edge at d"].levels_db[hz] == pytest.approx(-6.0206, abs=0.02)
    assert points["axis at 2d"].distance_m == pytest.approx(16.0)
    assert points["edge at d"].off_axis_deg == pytest.approx(-30.0, abs=0.05)
    assert points["other edge at d"].off_axis_deg == pytest.approx(30.0, abs=0.05)


def test_the_trial_lies_beyond_the_far_field(tmp_path: Path) -> None:
    # The rim of a box 0.70 m high is a quarter wave of 7943 Hz farther than its middle at
    # h²·f/(2·c) = 5.67 m; d is the next half metre.
    (tmp_path / "s.toml").write_text(SCENARIO, encoding="utf-8")
    scenario = aiming.load(tmp_path / "s.toml")
    speaker = scenario.speakers[0]
    far = 0.70**2 * 7943.28 / (2.0 * scenario.air.speed_of_sound_m_s)
    found = ground_trial(scenario, speaker)
    assert found.far_field_m == pytest.approx(far, rel=1e-4)
    assert found.distance_m == 6.0
    assert found.notes == ()
    near = ground_trial(scenario, speaker, distance_m=5.5)
    assert len(near.notes) == 1
    assert f"{far:.1f} m" in near.notes[0]
    assert ground_trial(scenario, speaker, distance_m=5.7).notes == ()
    # A small box in low bands: two metres all the same, and without an outline eight.
    low = aiming.load(tmp_path / "s.toml", changes={"aim.bands": [500, 1000]})
    assert ground_trial(low, low.speakers[0]).distance_m == 2.0
    bare = SCENARIO.replace(
        "outline = [[-0.5, -0.35], [0.0, -0.35], [0.0, 0.35], [-0.5, 0.35]]\n", ""
    )
    (tmp_path / "b.toml").write_text(bare, encoding="utf-8")
    unknown = aiming.load(tmp_path / "b.toml")
    trial = ground_trial(unknown, unknown.speakers[0])
    assert (trial.far_field_m, trial.distance_m, len(trial.notes)) == (None, 8.0, 1)
    given = ground_trial(unknown, unknown.speakers[0], distance_m=3.0)
    assert (given.distance_m, len(given.notes)) == (3.0, 1)


def test_spreads_are_those_of_the_line_and_of_the_edge(tmp_path: Path) -> None:
    found = walked(tmp_path, 1.0, more=2.0)
    at = {one.name: one.measured_db for one in found.positions}
    for hz in BANDS_HZ:
        line = [at[name][hz] for name in ("edge at d", "line at 0.25", "halfway", "axis at 2d")]
        edge = [at[name][hz] for name in ("edge at d", "axis at d")]
        for spread, levels in ((found.line_spread_db, line), (found.edge_spread_db, edge)):
            assert spread[hz] == pytest.approx(np.ptp(np.array(levels, dtype=float)), abs=1e-9)
    alone = walked(tmp_path, 1.0, names=("axis at d", "axis at 2d"))
    assert (alone.line_spread_db, alone.edge_spread_db) == ({}, {})


def test_positions_are_off_by_what_was_put_on_them(tmp_path: Path) -> None:
    found = walked(tmp_path, 1.0, more=1.2)
    off = {one.name: one.off_db for one in found.positions}
    assert off.pop("axis at 2d") == pytest.approx(1.2, abs=0.05)
    assert list(off.values()) == pytest.approx([0.0] * 5, abs=0.05)
    for one in found.positions:
        for hz in BANDS_HZ:
            measured, predicted = one.measured_db[hz], one.predicted_db[hz]
            assert measured is not None
            assert predicted is not None
            assert measured - predicted == pytest.approx(one.off_db, abs=0.05)
    # Where the levels fit, what was found is what was measured.
    fitted = walked(tmp_path, 1.0)
    for one in fitted.positions:
        assert one.found_db[2000.0] == pytest.approx(one.measured_db[2000.0], abs=0.3)
        # 90 % of errors of 0.4 and 0.7 dB lie within 1.33 dB, and the pattern's doubt comes to it.
        assert one.doubt_db[2000.0] is not None
        assert 1.6449 * np.hypot(0.4, 0.7) <= one.doubt_db[2000.0] < 2.5


def test_the_edge_is_under_or_over_the_far_axis_by_its_figure(tmp_path: Path) -> None:
    # A lobe 1.4 times as wide is 6.02·(1 − 1/1.4²) = 2.95 dB louder at its declared edge.
    def told(wide: float) -> str:
        found = walked(tmp_path, wide)
        (one,) = [v.text for v in found.verdicts if v.rule == "edge against far axis"]
        return one

    air = 8.0 * float(np.mean(ALPHA))
    assert f"{2.95 + air:.1f} dB over" in told(1.4)
    assert "as loud as" in told(1.0)
    narrow = 6.0206 * (1.0 / 0.7**2 - 1.0) - air
    assert f"{narrow:.1f} dB under" in told(0.7)


def test_twice_the_distance_costs_the_same_in_every_band_or_is_told_by_band(tmp_path: Path) -> None:
    trial = trial_of(tmp_path)
    names = ("axis at d", "axis at 2d")
    for tilted, even in ((0.0, True), (1.2, False)):
        fall = -6.0206 - 8.0 * ALPHA + tilted * np.array([1.5, 0.5, -0.5, -1.5])
        level = np.stack([np.zeros(4), fall], axis=1)
        found = compare_on_ground(trial, long_csv(tmp_path / "g.csv", names, BANDS_HZ, level))
        (one,) = found.verdicts
        assert ("at every frequency" in one.text) is even
        assert one.holds is even
        assert f"{fall.mean():.1f} dB".replace("-", "−") in one.text
        if not even:
            assert f"{fall.min():.1f} to {fall.max():.1f} dB".replace("-", "−") in one.text


def test_the_line_is_louder_between_its_ends_by_its_figure(tmp_path: Path) -> None:
    """Against the mean of both ends, the far one 2 dB louder than it should be."""
    found = walked(tmp_path, 1.0, more=2.0)
    mean = {one.name: float(np.mean([one.measured_db[hz] or 0.0 for hz in BANDS_HZ]))
            for one in found.positions}  # fmt: skip
    ends = 0.5 * (mean["edge at d"] + mean["axis at 2d"])
    most = max(mean["halfway"], mean["line at 0.25"]) - ends
    every = [mean[name] for name in ("edge at d", "line at 0.25", "halfway", "axis at 2d")]
    (told,) = [one.text for one in found.verdicts if one.rule == "along the line"]
    assert f"within {np.ptp(every):.1f} dB" in told
    assert f"{most:.1f} dB louder" in told
    top = float(found.trial.line_db.max() - max(found.trial.line_db[0], found.trial.line_db[-1]))
    assert f"computed {top:.1f} dB" in told

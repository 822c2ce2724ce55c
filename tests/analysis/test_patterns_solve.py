"""Measured patterns from the file to the answer: reading bounds, flipping, unknown directions."""

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from paths import ROOT
from pattern_samples import table_text

import aiming
from aiming.base.arrays import FloatArray
from aiming.base.bands import THIRDS_HZ
from aiming.base.errors import AimingError
from aiming.results.answer import Answer
from aiming.scenario import Scenario, load
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import EDGE_DB

DESIGN_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
HORN = ROOT / "scenarios" / "measured_horn.toml"
ROOM = """
[[seating]]
name = "floor"
line = [[4.0, 0.0], [12.0, 0.0], [24.0, 3.0]]
[[speaker]]
name = "main"
[speaker.pattern]
{pattern}
[speaker.placement]
{placement}
[aim]
gap_db = 0.01
{aim}
"""
FREE = "height = [4.5, 8.0]"
FIXED = "height = 6.0\ntilt = -12.0"


def room(
    folder: Path, pattern: str, *, placement: str = FREE, aim: str = "", more: str = ""
) -> Scenario:
    file = folder / "room.toml"
    file.write_text(ROOM.format(pattern=pattern, placement=placement, aim=aim) + more)
    return load(file)


def table(
    folder: Path,
    shape: Callable[[FloatArray, float], FloatArray],
    *,
    angle_deg: FloatArray,
    bands_hz: tuple[float, ...] = DESIGN_HZ,
    name: str = "box.csv",
) -> str:
    """A pattern file of a shape D(φ, band); the line of the scenario that names it."""
    level = np.stack([shape(angle_deg, band) for band in bands_hz], axis=-1)
    (folder / name).write_text(table_text(angle_deg, bands_hz, level))
    return f'file = "{name}"'


def quadratic(angle_deg: FloatArray, _band_hz: float) -> FloatArray:
    """60° of coverage: −20·lg 2·(φ/30°)², not below −24 dB."""
    return np.maximum(-EDGE_DB * (angle_deg / 30.0) ** 2, -24.0)


def lopsided(angle_deg: FloatArray, band_hz: float) -> FloatArray:
    """20° above and 40° below the axis, narrowing a little with frequency."""
    half = np.where(angle_deg > 0.0, 20.0, 40.0) * (1000.0 / band_hz) ** 0.05
    return np.maximum(-EDGE_DB * (angle_deg / half) ** 2, -30.0)


def reading_error_db(step_deg: float) -> float:
    """Linear reading of the quadratic lobe: step²/8 of its second derivative, 2·6.02/30²."""
    return step_deg**2 / 8.0 * 2.0 * EDGE_DB / 30.0**2


def rows_db(answer: Answer) -> FloatArray:
    return answer.rows.by_speaker["main"].levels_db


def every(step_deg: float) -> FloatArray:
    """All round, ends included."""
    return np.linspace(-180.0, 180.0, round(360.0 / step_deg) + 1)


def test_a_table_of_the_lobe_solves_as_the_formula(tmp_path: Path) -> None:
    lobe = nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=DESIGN_HZ)
    at_nodes = table(tmp_path, lambda a, _: lobe.read_db(a)[0], angle_deg=lobe.angle_deg)
    measured = aiming.solve(room(tmp_path, at_nodes))
    formula = aiming.solve(room(tmp_path, "coverage = 60"))
    one, other = measured.speakers[0], formula.speakers[0]
    assert one.tilt_deg == pytest.approx(other.tilt_deg, abs=1e-6)
    assert one.height_m == pytest.approx(other.height_m, abs=1e-6)
    assert one.spread_db == pytest.approx(other.spread_db, abs=1e-6)
    assert one.window is not None and other.window is not None
    assert one.window.tilt_deg == pytest.approx(other.window.tilt_deg, abs=1e-4)
    np.testing.assert_allclose(rows_db(measured), rows_db(formula), atol=1e-6)
    # The answer for lobes of other shapes is for data sheets alone.
    assert one.lobe_family is None and other.lobe_family is not None


def test_one_degree_and_a_tenth_differ_by_no_more_than_their_reading(tmp_path: Path) -> None:
    coarse = table(tmp_path, quadratic, angle_deg=every(1.0), name="coarse.csv")
    fine = table(tmp_path, quadratic, angle_deg=every(0.1), name="fine.csv")
    most = reading_error_db(1.0) + reading_error_db(0.1)
    assert most == pytest.approx(0.00169, abs=1e-5)
    placed = [aiming.evaluate(room(tmp_path, of, placement=FIXED)) for of in (coarse, fine)]
    apart = np.abs(rows_db(placed[0]) - rows_db(placed[1])).max()
    assert 0.1 * most < apart <= most
    # The best of either is at most two readings, and the proofs, from the other's.
    found = [aiming.solve(room(tmp_path, of)).speakers[0] for of in (coarse, fine)]
    best = [one.best.objective_db for one in found if one.best is not None]
    assert abs(best[0] - best[1]) <= 2.0 * most + 0.01


def test_half_amplitude_of_a_sampled_piston_is_its_edge(tmp_path: Path) -> None:
    """ka 10: −6.02 dB at 12.80°, Kinsler et al., Fundamentals of Acoustics, §7.4."""
    lobe = nominal_pattern(above_deg=12.8, below_deg=12.8, bands_hz=(1000.0,), lobe="piston")
    file = table(tmp_path, lambda a, _: lobe.read_db(a)[0], angle_deg=every(0.5))
    answer = aiming.evaluate(room(tmp_path, file, placement="height = 6.0\ntilt = -9.0"))
    line = answer.speakers[0].uniform_line
    assert line is not None and line.edge is not None
    seen = math.degrees(math.atan2(line.edge[1] - 6.0, line.edge[0]))
    assert -9.0 - seen == pytest.approx(12.80, abs=0.02)


def test_flipping_twice_changes_nothing(tmp_path: Path) -> None:
    angle = every(1.0)
    built = table(tmp_path, lopsided, angle_deg=angle)
    turned = table(tmp_path, lambda a, f: lopsided(-a, f), angle_deg=angle, name="turned.csv")
    upright = aiming.evaluate(room(tmp_path, built, placement=FIXED))
    again = aiming.evaluate(room(tmp_path, turned, placement=FIXED + '\norientation = "flipped"'))
    once = aiming.evaluate(room(tmp_path, built, placement=FIXED + '\norientation = "flipped"'))
    np.testing.assert_allclose(rows_db(again), rows_db(upright), atol=1e-9)
    assert np.abs(rows_db(once) - rows_db(upright)).max() > 3.0
    tones = [one.speakers[0].tone for one in (upright, again)]
    assert tones[0] is not None and tones[1] is not None
    np.testing.assert_allclose(tones[0].rows.relative_db, tones[1].rows.relative_db, atol=1e-9)


def test_either_picks_by_proof() -> None:
    best = {}
    for orientation in ("upright", "flipped", "either"):
        changes = {"speaker.horn.placement.orientation": orientation}
        found = aiming.solve(aiming.load(HORN, changes=changes)).speakers[0]
        assert found.best is not None and found.gap_db is not None and found.gap_db <= 0.05
        best[orientation] = found.best
    assert best["either"].orientation == "flipped"
    assert best["either"].objective_db <= best["flipped"].objective_db + 0.05
    assert best["upright"].objective_db > best["flipped"].objective_db + 0.5


def test_flips_are_told_band_by_band() -> None:
    from aiming.analysis.complete import complete
    from aiming.report.text.summary import summary_text

    scenario = aiming.load(HORN)
    answer = aiming.solve(scenario)
    text = " ".join(summary_text(complete(answer)).split())
    assert re.search(r"flipped against upright.{0,40} 1 kHz −\d", text)
    assert re.search(r"8 kHz against 125 Hz is \d\.\d dB", text)
    assert re.search(r"\d dB more than the 80 dB wanted", text)


def test_the_solver_avoids_what_was_not_measured(tmp_path: Path) -> None:
    """Known from 30° below to 10° above the axis alone."""
    angle = np.arange(-30.0, 10.5, 1.0)
    part = table(tmp_path, quadratic, angle_deg=angle)
    whole = aiming.solve(room(tmp_path, "coverage = 60")).speakers[0]
    answer = aiming.solve(room(tmp_path, part))
    one = answer.speakers[0]
    off = answer.rows.by_speaker["main"].off_axis_deg
    assert off.min() >= -30.0 and off.max() <= 10.0
    assert one.spread_db is not None and whole.spread_db is not None
    assert one.best is not None and whole.best is not None
    assert one.best.objective_db >= whole.best.objective_db - 0.02
    assert "pattern-unknown" not in [caution.code for caution in answer.cautions]
    notes = [caution.text for caution in answer.cautions if caution.code == "pattern-note"]
    assert any("measured from -30° to 10° only" in text for text in notes)


@pytest.mark.parametrize(
    ("low", "high", "placement", "aim"),
    [
        (-5.0, 5.0, FREE, ""),
        (-180.0, 1.0, "height = 6.0\ntilt = [-40, -30]", "axis_on_audience = false"),
    ],
    ids=["narrow", "nothing above the axis"],
)
def test_no_placement_within_the_data_is_said(
    tmp_path: Path, low: float, high: float, placement: str, aim: str
) -> None:
    part = table(tmp_path, quadratic, angle_deg=np.arange(low, high + 0.5, 1.0))
    with pytest.raises(AimingError, match="the pattern data would have to reach") as caught:
        aiming.solve(room(tmp_path, part, placement=placement, aim=aim))
    assert caught.value.exit_code == 3


def test_an_unknown_level_makes_its_figures_unknown(tmp_path: Path) -> None:
    """At this tilt the front rows lie further below the axis than was measured."""
    part = table(tmp_path, quadratic, angle_deg=np.arange(-20.0, 20.5, 1.0))
    answer = aiming.evaluate(room(tmp_path, part, placement=FIXED))
    seen = answer.rows.by_speaker["main"]
    beyond = np.abs(seen.off_axis_deg) > 20.0
    assert 0 < beyond.sum() < len(beyond)
    assert np.array_equal(np.isnan(seen.levels_db).all(axis=0), beyond)
    assert np.array_equal(np.isnan(seen.departure_m), beyond)
    one = answer.speakers[0]
    for figure in (
        one.spread_db, one.worst_band_spread_db, one.deviation_db, one.rows_within_3db_percent,
        one.window, one.by_band[1000.0].spread_db, answer.together and answer.together.spread_db,
    ):  # fmt: skip
        assert figure is None
    assert one.tone is not None
    assert (one.tone.worst_change_db, one.tone.range_db) == (None, None)
    told = [caution for caution in answer.cautions if caution.code == "pattern-unknown"]
    assert [(one.severity, one.value) for one in told] == [("caution", float(beyond.sum()))]
    text = json.dumps(answer.to_dict(), allow_nan=False)
    assert '"spread_db": null' in text


@pytest.mark.parametrize(
    "angle_deg",
    [np.arange(-175.0, 181.0, 5.0), np.arange(0.0, 360.0, 5.0), np.arange(-180.0, 180.0, 5.0)],
    ids=["to 180", "0 to 355", "from -180"],
)
def test_the_back_is_read_across_the_seam(tmp_path: Path, angle_deg: FloatArray) -> None:
    """Rows behind the box, either side of straight behind, from tables that stop at the seam."""

    def shape(angle: FloatArray, _: float) -> FloatArray:
        return np.asarray(-12.0 + 12.0 * np.cos(np.radians(angle)) + np.sin(np.radians(angle)))

    file = table(tmp_path, shape, angle_deg=angle_deg)
    whole = table(tmp_path, shape, angle_deg=every(5.0), name="whole.csv")
    placement = "x = 30.0\nheight = 2.0\ntilt = {}"
    for tilt in (-2.0, 0.0, 1.5, 4.0):
        where = placement.format(tilt)
        found, wanted = (
            aiming.evaluate(room(tmp_path, of, placement=where)) for of in (file, whole)
        )
        off = found.rows.by_speaker["main"].off_axis_deg
        assert np.abs(off).max() > 175.0
        assert np.isfinite(rows_db(found)).all()
        np.testing.assert_allclose(rows_db(found), rows_db(wanted), atol=1e-9)
    behind = "x = 30.0\nheight = 2.0\ntilt = [-3, 3]"
    aim = "axis_on_audience = false"
    solved = [aiming.solve(room(tmp_path, of, placement=behind, aim=aim)) for of in (file, whole)]
    assert solved[0].speakers[0].spread_db == pytest.approx(solved[1].speakers[0].spread_db)


def test_what_the_data_doubt_reaches_the_answer(tmp_path: Path) -> None:
    def odd(angle: FloatArray, band_hz: float) -> FloatArray:
        level = quadratic(angle, band_hz)
        return np.where((angle == 60.0) & (band_hz == 2000.0), -60.0, level) + 90.0

    angle = every(1.0)
    angle = angle[(angle < 100.0) | (angle > 110.0)]
    answer = aiming.evaluate(room(tmp_path, table(tmp_path, odd, angle_deg=angle), placement=FIXED))
    told = {caution.code: caution for caution in answer.cautions}
    assert "no angle was measured between 99° and 111°" in told["pattern-gap"].text
    assert "2 kHz steps by" in told["pattern-step"].text
    assert told["pattern-step"].speaker == "main"
    # 1, 4 and 8 kHz are copies of one another.
    assert "1 kHz, 4 kHz, 8 kHz are identical" in told["pattern-identical"].text
    assert any(
        "every band was shifted by its level there (90.0 dB)" in caution.text
        for caution in answer.cautions
        if caution.code == "pattern-note"
    )


def test_third_octaves_and_low_bands_that_are_no_design_bands(tmp_path: Path) -> None:
    bands = THIRDS_HZ[10:34]
    file = table(tmp_path, lopsided, angle_deg=every(5.0), bands_hz=bands)
    octaves = room(tmp_path, file).speakers[0]
    assert octaves.tone_hz == (125.0, 250.0, 500.0, *DESIGN_HZ)
    assert octaves.pattern.band_hz[:4] == DESIGN_HZ
    thirds = room(tmp_path, file, aim="bands = [1000, 1250, 1600]").speakers[0]
    assert thirds.tone_hz == THIRDS_HZ[11:30]
    chosen = room(tmp_path, file, aim="tone_bands = [250, 4000]")
    assert chosen.speakers[0].tone_hz == (250.0, 4000.0)
    answer = aiming.solve(chosen)
    assert answer.bands_hz == DESIGN_HZ and rows_db(answer).shape[0] == 4
    design = rows_db(answer).mean(axis=0)
    np.testing.assert_allclose(answer.rows.design_level_db, design, atol=1e-12)


def test_nothing_is_called_soft_or_loud_about_a_mean_of_known_rows(tmp_path: Path) -> None:
    from aiming.report.text.summary import summary_text

    part = table(tmp_path, quadratic, angle_deg=np.arange(-20.0, 20.5, 1.0))
    other = '[[speaker]]\nname = "other"\npattern.coverage = 60\nplacement.height = 6.0\n'
    scenario = room(tmp_path, part, placement=FIXED, more=other + "placement.tilt = -12\n")
    said = summary_text(aiming.evaluate(scenario))
    assert "TOO SOFT" not in said and "TOO LOUD" not in said

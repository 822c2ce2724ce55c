"""Tone, absolute level and headroom, and the range of lobes, each against figures by hand.

Male speech: IEC 60268-16:2011 Table A.4 and the 2020 edition.  A-weighting: IEC 61672-1:2013,
Table 3.  Loss of pattern control of a horn: Keele, AES 51st Convention, 1975.  105 dB at 2.5 m from
89 dB/1 W/1 m: Davis & Patronis, Sound System Engineering.
"""

import math
from collections.abc import Iterable

import numpy as np
import pytest
from outside import air_db
from paths import ROOT

import aiming
from aiming.base.bands import OCTAVES_HZ, exact_midband_hz
from aiming.results.answer import Answer
from aiming.results.sound import Loudness, Played
from aiming.scenario import load
from aiming.speaker.pattern import EDGE_DB
from aiming.speaker.pattern_figures import control_from_hz

OCTAVES = OCTAVES_HZ[3:10]
A_DB = (-16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1)
SPEECH = {
    "speech 2011": (2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8),
    "speech 2020": (-2.5, 0.5, 0.0, -6.0, -12.0, -18.0, -24.0),
}
# Ears at 1.2 m; acoustic centre at 1.2 m, so that distances are the rows' own x.
LEVEL = """
[[seating]]
name = "floor"
line = [[{near}, 0.0], [{far}, 0.0]]
rows = 2
[[speaker]]
name = "main"
{speaker}
[speaker.pattern]
{pattern}
[speaker.output]
{output}
[speaker.placement]
height = 1.2
tilt = 0
{more}
"""


def heard(
    *,
    near: float = 2.5,
    far: float = 5.0,
    pattern: str = "coverage = 60",
    output: str = "",
    speaker: str = "",
    more: str = "",
) -> Answer:
    text = LEVEL.format(
        near=near, far=far, pattern=pattern, output=output, speaker=speaker, more=more
    )
    return aiming.evaluate(load("-", stdin_text=text))


def output_of(answer: Answer) -> Loudness:
    found = answer.speakers[0].output
    assert found is not None
    return found


def greatest_of(answer: Answer) -> Played:
    found = output_of(answer).greatest
    assert found is not None
    return found


def sum_db(levels: Iterable[float]) -> float:
    return 10.0 * math.log10(sum(10.0 ** (0.1 * level) for level in levels))


def on_axis(distance_m: float, band_hz: float) -> float:
    return -20.0 * math.log10(distance_m) - air_db(band_hz, distance_m)


def programme(name: str, spectrum_db: tuple[float, ...], target: str = "") -> str:
    assert len(spectrum_db) == len(OCTAVES)
    return f'[programme]\nspectrum = "{name}"\n{target}\n'


@pytest.mark.parametrize("name", ["speech 2011", "speech 2020"])
def test_headroom_of_speech_by_hand(name: str) -> None:
    """One number limits the whole signal: 120 dB at 1 m, unweighted."""
    answer = heard(
        output="max_level_db = 120",
        more=programme(name, SPEECH[name], "target_db = 90"),
    )
    played = 120.0 - sum_db(SPEECH[name]) + np.array(SPEECH[name])
    far = [level + on_axis(5.0, band) for level, band in zip(played, OCTAVES, strict=True)]
    weighted = sum_db(np.array(far) + A_DB)
    found = greatest_of(answer)
    assert found.softest is not None and found.loudest is not None
    assert (found.softest.row, found.loudest.row) == (1, 0) and found.limited_by_hz is None
    np.testing.assert_allclose(found.levels_db[:, 1], far, atol=1e-9)
    assert found.total_db[1] == pytest.approx(weighted, abs=0.05)
    assert found.headroom_db == pytest.approx(weighted - 90.0, abs=0.05)
    # The spectra are re the A-weighted level, so A-weighting takes their unweighted sum away.
    assert weighted == pytest.approx(120.0 - 20.0 * math.log10(5.0) - sum_db(SPEECH[name]), abs=0.1)


def test_headroom_of_pink_noise_by_hand() -> None:
    answer = heard(output="max_level_db = 120", more='[programme]\ntarget_db = 99\nweighting = "Z"')
    far = [120.0 - 10.0 * math.log10(7.0) + on_axis(5.0, band) for band in OCTAVES]
    found = greatest_of(answer)
    assert found.total_db[1] == pytest.approx(sum_db(far), abs=1e-4)
    assert found.a_db[1] == pytest.approx(sum_db(np.array(far) + A_DB), abs=0.05)
    assert found.headroom_db == pytest.approx(sum_db(far) - 99.0, abs=1e-6)
    # One number for all bands is no limit of every band: that would be 10·lg 7 = 8.45 dB more.
    banded = heard(
        output="max_level_db = { " + ", ".join(f"{f:g} = 120" for f in OCTAVES) + " }",
        more='[programme]\ntarget_db = 99\nweighting = "Z"',
    )
    more = greatest_of(banded).total_db[1] - found.total_db[1]
    assert more == pytest.approx(10.0 * math.log10(7.0), abs=1e-9)


def test_a_target_out_of_reach_is_said() -> None:
    reached = heard(output="max_level_db = 120", more="[programme]\ntarget_db = 90")
    short = heard(output="max_level_db = 120", more="[programme]\ntarget_db = 110")
    assert "target-out-of-reach" not in [one.code for one in reached.cautions]
    (told,) = [one for one in short.cautions if one.code == "target-out-of-reach"]
    assert told.severity == "caution"
    assert told.value == greatest_of(short).headroom_db
    assert told.value is not None and told.value < 0.0
    silent = heard(more="[programme]\ntarget_db = 90")
    assert silent.speakers[0].output is None
    assert "target-not-checked" in [one.code for one in silent.cautions]


def test_power_for_a_level() -> None:
    """105 dB at 2.5 m from 89 dB, 1 W, 1 m: 248.8 W; air adds 0.1 dB at 2 kHz over 2.5 m."""
    answer = heard(
        near=2.0,
        far=2.5,
        output="sensitivity_db = 89",
        more='[aim]\nbands = [2000]\n[programme]\ntarget_db = 105\nweighting = "Z"',
    )
    one_watt = output_of(answer).one_watt
    assert one_watt is not None and one_watt.softest is not None and one_watt.softest.row == 1
    # Pink noise over seven octaves; without air it would be the same 248.8 W.
    path = sum_db([on_axis(2.5, band) - 10.0 * math.log10(7.0) for band in OCTAVES])
    dry = -20.0 * math.log10(2.5)
    assert one_watt.needed_w == pytest.approx(248.8 * 10.0 ** (0.1 * (dry - path)), rel=1e-3)
    assert 1.0 < 10.0 ** (0.1 * (dry - path)) < 1.02
    # Gain changes what arrives, not what is needed.
    louder = heard(
        near=2.0,
        far=2.5,
        speaker="gain_db = 6",
        output="sensitivity_db = 89",
        more='[aim]\nbands = [2000]\n[programme]\ntarget_db = 105\nweighting = "Z"',
    )
    six = output_of(louder).one_watt
    assert six is not None
    assert six.total_db[1] - one_watt.total_db[1] == pytest.approx(6.0)
    assert six.needed_w == pytest.approx(one_watt.needed_w)


def test_bands_without_a_figure_are_left_out_and_named() -> None:
    answer = heard(
        output="max_level_db = { 1000 = 120, 2000 = 118, 4000 = 117, 8000 = 112 }",
        more='[programme]\nspectrum = "speech 2020"\ntarget_db = 80',
    )
    found = output_of(answer)
    assert found.missing_hz == (125.0, 250.0, 500.0)
    # 120 − (−6) at 1 kHz is the least room of 126, 130, 135 and 136.
    assert greatest_of(answer).limited_by_hz == 1000.0
    assert greatest_of(answer).levels_db[0, 1] == pytest.approx(120.0 + on_axis(5.0, 1000.0))
    (told,) = [one for one in answer.cautions if one.code == "bands-left-out"]
    assert "125 Hz, 250 Hz, 500 Hz" in told.text


def test_an_equaliser_takes_from_the_limit() -> None:
    plain = greatest_of(heard(output="max_level_db = 120", more="[programme]\nweighting = 'Z'"))
    lifted = greatest_of(
        heard(
            speaker="eq_db = { 8000 = 6.0 }",
            output="max_level_db = 120",
            more="[programme]\nweighting = 'Z'",
        )
    )
    spent = 10.0 * math.log10((6.0 + 10.0**0.6) / 7.0)
    np.testing.assert_allclose(
        lifted.levels_db[:, 1] - plain.levels_db[:, 1], [-spent] * 6 + [6.0 - spent], atol=1e-9
    )


def test_tone_is_relative_to_the_aim_point() -> None:
    """A lobe that holds from 2 kHz up: below, its half-angle grows as 2000 / f."""
    answer = heard(near=1.0, far=8.0, pattern="coverage = 60\ncontrol_from_hz = 2000")
    # The axis runs along the ears: it meets the nearer row, 1 m away; the box stands at 1.2 m.
    tone = answer.speakers[0].tone
    assert tone is not None and tone.bands_hz == OCTAVES
    np.testing.assert_allclose(tone.rows.relative_db[:, 0], 0.0, atol=1e-9)
    away = [on_axis(8.0, band) - on_axis(1.0, band) for band in OCTAVES]
    np.testing.assert_allclose(tone.rows.relative_db[:, 1], away, atol=1e-9)
    far, near = (air_db(8000.0, r) - air_db(125.0, r) for r in (8.0, 1.0))
    high = far - near
    assert tone.rows.change_db[1] == pytest.approx(-high)
    assert (tone.worst_row, tone.low_hz, tone.high_hz) == (1, 125.0, 8000.0)
    assert tone.worst_change_db == pytest.approx(high)


def test_tone_off_the_axis_follows_the_lobe_of_each_band() -> None:
    text = LEVEL.format(
        near=4.0,
        far=12.0,
        pattern="coverage = 60\ncontrol_from_hz = 2000",
        output="",
        speaker="",
        more="",
    ).replace("height = 1.2\ntilt = 0", f"height = 5.2\ntilt = {-math.degrees(math.atan(4 / 12))}")
    answer = aiming.evaluate(load("-", stdin_text=text))
    tone = answer.speakers[0].tone
    assert tone is not None
    below = math.degrees(math.atan(4.0 / 4.0) - math.atan(4.0 / 12.0))
    near, far = math.hypot(4.0, 4.0), math.hypot(12.0, 4.0)
    for place, band in enumerate(OCTAVES):
        half = 30.0 * max(1.0, 2000.0 / exact_midband_hz(band))
        expected = on_axis(near, band) - EDGE_DB * (below / half) ** 2 - on_axis(far, band)
        assert tone.rows.relative_db[place, 0] == pytest.approx(expected, abs=0.0011)
    assert tone.worst_change_db == pytest.approx(abs(tone.rows.change_db[0]))
    assert 3.5 < abs(tone.rows.change_db[0]) < 6.0


def test_a_wall_takes_from_every_band_what_it_takes() -> None:
    """Behind a wall the high bands lose more than the low ones, and as much as in the rows."""
    wall = '[[surface]]\nname = "rail"\nline = [[8.0, 0.0], [8.0, 2.6]]\n'
    pattern = "coverage = 60\ncontrol_from_hz = 2000"
    near, far, output = 4.0, 12.0, "max_level_db = 120"
    free, hidden = (
        aiming.evaluate(
            load(
                "-",
                stdin_text=LEVEL.format(
                    near=near, far=far, pattern=pattern, output=output, speaker="", more=more
                ).replace("height = 1.2\ntilt = 0", "height = 3.0\ntilt = -10"),
            )
        )
        for more in ("", wall)
    )
    loss = hidden.rows.by_speaker["main"].shadow_db[:, 1]
    assert (loss > 3.0).all()
    tones = [one.speakers[0].tone for one in (free, hidden)]
    assert tones[0] is not None and tones[1] is not None
    lost = tones[0].rows.relative_db[:, 1] - tones[1].rows.relative_db[:, 1]
    np.testing.assert_allclose(lost[3:], loss, atol=1e-9)
    assert (np.diff(lost) >= 0.0).all() and 3.0 < lost[0] < lost[-1]
    apart = greatest_of(free).levels_db[:, 1] - greatest_of(hidden).levels_db[:, 1]
    np.testing.assert_allclose(apart[3:], loss, atol=1e-9)
    spreads = [one.speakers[0] for one in (free, hidden)]
    for one in spreads:
        assert one.lobe_family is not None
        assert one.lobe_family.lobes[0].spread_db == pytest.approx(one.spread_db, abs=0.005)
    assert spreads[1].spread_db != pytest.approx(spreads[0].spread_db, abs=1.0)


def test_nothing_is_said_of_bands_that_a_coverage_angle_does_not_tell() -> None:
    bare = heard().speakers[0].tone
    assert bare is not None and bare.low_hz == 1000.0
    asked = heard(more="[aim]\ntone_bands = [125, 8000]").speakers[0].tone
    assert asked is not None and asked.bands_hz == (125.0, 8000.0)


def test_control_is_estimated_from_a_height_and_marked() -> None:
    """Keele: 60° × 0.3 m lose control below 1411.1 Hz."""
    answer = heard(pattern='coverage = 60\ncontrol_height = "30 cm"')
    family = answer.speakers[0].lobe_family
    assert family is not None
    assert family.control_from_hz == pytest.approx(1411.1111, abs=1e-4)
    assert family.control_height_m == pytest.approx(0.3)
    (told,) = [one for one in answer.cautions if one.code == "control-estimated"]
    assert "estimate" in told.text and "0.30 m" in told.text and "1400 Hz" in told.text
    published = control_from_hz(coverage_deg=60.0, mouth_m=0.3)
    given = heard(pattern=f"coverage = 60\ncontrol_from_hz = {published}")
    np.testing.assert_allclose(given.rows.levels_db, answer.rows.levels_db, atol=1e-12)
    assert "control-estimated" not in [one.code for one in given.cautions]


@pytest.mark.parametrize("place", [("quarry", "main"), ("lecture_theatre", "centre")])
def test_the_family_is_what_each_lobe_comes_to(place: tuple[str, str]) -> None:
    file, name = place
    path = ROOT / "scenarios" / f"{file}.toml"
    answer = aiming.solve(aiming.load(path))
    one = answer.speakers[0]
    family = one.lobe_family
    assert family is not None and [of.lobe for of in family.lobes] == [
        "quadratic",
        "piston",
        "flat",
    ]
    where = f"speaker.{name}.placement."
    fixed = {
        f"{where}x": one.x_m,
        f"{where}tilt": one.tilt_deg,
        f"{where}orientation": one.orientation,
        f"{where}height": one.height_m,
        f"speaker.{name}.placement.mount": one.mount,
    }
    for of in family.lobes:
        there = aiming.load(path, changes={**fixed, f"speaker.{name}.pattern.lobe": of.lobe})
        # Rows beyond the coverage angle are left out: it says nothing of them.
        design_db = aiming.evaluate(there).rows.by_speaker[name].levels_db.mean(axis=0)
        told = np.setdiff1d(np.arange(len(design_db)), family.beyond_rows)
        assert of.spread_db == pytest.approx(np.ptp(design_db[told]), abs=0.005)
        free = {**fixed, f"{where}tilt": [-60, 40], f"speaker.{name}.pattern.lobe": of.lobe}
        best = aiming.solve(aiming.load(path, changes=free)).speakers[0].best
        assert best is not None and of.best_spread_db is not None
        assert of.best_spread_db == pytest.approx(best.objective_db, abs=0.06)
    spreads = [of.spread_db for of in family.lobes if of.spread_db is not None]
    assert family.spread_db is not None
    low, high = family.spread_db  # over a coverage angle that is off as well
    assert low <= min(spreads) < max(spreads) <= high and high - low > 0.5
    written = answer.to_dict()["speakers"][0]["lobe_family"]
    assert written["assumed"] == "quadratic"
    assert written["spread_db"] == list(family.spread_db)


def test_the_summary_gives_the_range_and_the_levels() -> None:
    from aiming.report.text.summary import summary_text

    text = LEVEL.format(
        near=2.5,
        far=14.0,
        pattern="coverage = 60",
        output="sensitivity_db = 97\nmax_level_db = 120",
        speaker="",
        more='[programme]\nspectrum = "speech 2011"\ntarget_db = 85',
    ).replace("height = 1.2\ntilt = 0", "height = 4.0\ntilt = -12")
    scenario = load("-", stdin_text=text)
    answer = aiming.evaluate(scenario)
    said = " ".join(summary_text(answer).split())
    family = answer.speakers[0].lobe_family
    assert family is not None and family.spread_db is not None
    low, high = family.spread_db
    assert f"{low:.1f}" in said and f"{high:.1f}" in said
    assert "speech 2011" in said
    assert "control_from_hz" in said
    for word in ("limit of", "safe", "approved"):
        assert word not in said


def test_low_bands_are_in_the_picture() -> None:
    from aiming.analysis.complete import complete
    from aiming.report.figures import style as drawing_style
    from aiming.report.figures.aim import aim_figure

    scenario = aiming.load(ROOT / "scenarios" / "measured_horn.toml")
    answer = complete(aiming.solve(scenario), ("section",))
    along = answer.curves
    assert along.further_hz == (125.0, 250.0, 500.0)
    weight = scenario.rows.weight
    np.testing.assert_allclose((along.further_db * weight).sum(axis=1), 0.0, atol=1e-9)
    tone = answer.speakers[0].tone
    assert tone is not None
    found = along.further_db[0] - tone.rows.relative_db[0]
    np.testing.assert_allclose(found, found[0], atol=1e-9)
    with drawing_style.style():
        chart = aim_figure(answer).axes[1]
        widths = {line.get_label(): line.get_linewidth() for line in chart.lines}
    low = next(of for label, of in widths.items() if label.startswith("125 Hz"))
    assert low < widths["1 kHz"] < widths["mean of the bands"]


def test_several_loudspeakers_add_up_only_where_their_outputs_are_known() -> None:
    second = """
[[speaker]]
name = "fill"
pattern = {{ coverage = 90, control_from_hz = 500 }}
placement = {{ height = 3.0, x = 8.0, tilt = -20 }}
output.sensitivity_db = {output}
"""
    found = {}
    for output in ("95", "{ 1000 = 95, 2000 = 95, 4000 = 95, 8000 = 95 }"):
        text = LEVEL.format(
            near=2.5,
            far=14.0,
            pattern="coverage = 60\ncontrol_from_hz = 900",
            output="sensitivity_db = 97",
            speaker="",
            more=second.format(output=output),
        )
        scenario = load("-", stdin_text=text)
        found[output] = aiming.evaluate(scenario).curves
    known, unknown = found.values()
    assert known.further_hz == (125.0, 250.0, 500.0) and known.further_db.shape == (3, 2)
    assert unknown.further_hz == ()
    # One alone is drawn about its own mean, whatever its output.
    alone = load(
        "-",
        stdin_text=LEVEL.format(
            near=2.5,
            far=14.0,
            pattern="coverage = 60\ncontrol_from_hz = 900",
            output="sensitivity_db = { 1000 = 95, 2000 = 95, 4000 = 95, 8000 = 95 }",
            speaker="",
            more="",
        ),
    )
    drawn = aiming.evaluate(alone).curves
    assert drawn.further_hz == (125.0, 250.0, 500.0) and np.isfinite(drawn.further_db).all()

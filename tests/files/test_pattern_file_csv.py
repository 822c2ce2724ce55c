"""CSV tables: layout, separators, turns, the axis, and closed forms read back.

Piston: Kinsler et al., Fundamentals of Acoustics, §7.4 (section from memory; values recomputed).
Uniform line: Beranek & Mellow, Acoustics, 2nd ed., eq. 13.318.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paths import ROOT
from pattern_samples import line, piston, table_text
from scipy.optimize import minimize_scalar

from aiming.base.arrays import FloatArray
from aiming.files.pattern_file import read_pattern
from aiming.files.pattern_result import PatternFile
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import EDGE_DB
from aiming.speaker.pattern_figures import coverage


def read(path: Path, text: str) -> PatternFile:
    path.write_text(text, encoding="utf-8")
    return read_pattern(path, display=path.name)


def db(pressure: FloatArray) -> FloatArray:
    return 20.0 * np.log10(np.maximum(pressure, 1e-6))


@pytest.mark.parametrize(
    ("separator", "comma"), [(",", False), (";", False), ("\t", False), (";", True), ("\t", True)]
)
def test_separators_and_decimal_commas_read_alike(
    separator: str, comma: bool, tmp_path: Path
) -> None:
    level = np.array([[-7.25, -9.5], [1.5, -0.25], [-3.125, -12.0]])
    text = table_text(
        np.array([-10.5, 0.0, 20.25]), (1000, 1250), level, separator=separator, comma=comma
    )
    found = read(tmp_path / "a.csv", text)
    assert found.pattern.band_hz == (1000.0, 1250.0)
    np.testing.assert_array_equal(found.pattern.angle_deg, [-10.5, 0.0, 20.25])
    np.testing.assert_allclose(found.pattern.level_db, (level - level[1]).T, atol=1e-9)


def test_comments_blank_lines_quotes_and_marks_are_no_hindrance(tmp_path: Path) -> None:
    text = (
        "\ufeff# Source: an invented box\r\n# more\r\n\r\n"
        '"angle";"1000 Hz";"2000 Hz"\r\n\u221210;"-1,5";-2\r\n0;0;0\r\n;;\r\n10;-1;-2,5\r\n\r\n'
    )
    found = read(tmp_path / "a.csv", text)
    assert found.pattern.reference == "a.csv (Source: an invented box)"
    np.testing.assert_array_equal(found.pattern.level_db, [[-1.5, 0, -1], [-2, 0, -2.5]])


def test_a_turn_from_0_to_360_is_the_turn_from_minus_180_to_180(tmp_path: Path) -> None:
    level = np.cos(np.radians(np.arange(0.0, 361.0, 10.0) - 20.0))[:, np.newaxis] * 6.0
    turn = read(tmp_path / "a.csv", table_text(np.arange(0.0, 361.0, 10.0), (1000,), level))
    plain = np.cos(np.radians(np.arange(-180.0, 181.0, 10.0) - 20.0))[:, np.newaxis] * 6.0
    same = read(tmp_path / "b.csv", table_text(np.arange(-180.0, 181.0, 10.0), (1000,), plain))
    np.testing.assert_array_equal(turn.pattern.angle_deg, same.pattern.angle_deg)
    np.testing.assert_allclose(turn.pattern.level_db, same.pattern.level_db, atol=1e-6)
    assert "350° is 10° below the axis" in turn.notes[0]
    # Above the axis stays above: the file is loudest at 20°.
    assert float(turn.pattern.read_db(20.0)[0]) > float(turn.pattern.read_db(-20.0)[0]) + 1.0


def test_a_quarter_turn_stays_above_the_axis(tmp_path: Path) -> None:
    found = read(tmp_path / "a.csv", "a,1000\n0,0\n45,-3\n90,-6\n")
    assert np.isnan(found.pattern.read_db(-10.0)[0])
    assert float(found.pattern.read_db(10.0)[0]) == pytest.approx(-3 * 10 / 45)
    assert "measured from 0° to 90° only; what lies beyond is unknown" in found.notes


@pytest.mark.parametrize("first", [-180.0, -170.0])
def test_straight_behind_is_one_direction(first: float, tmp_path: Path) -> None:
    angles = first + 10.0 * np.arange(36)
    level = -np.abs(angles)[:, np.newaxis] / 10.0
    found = read(tmp_path / "a.csv", table_text(angles, (1000,), level))
    assert (found.pattern.angle_deg[0], found.pattern.angle_deg[-1]) == (-180.0, 180.0)
    assert float(found.pattern.read_db(180.0)[0]) == pytest.approx(-18.0)
    assert float(found.pattern.read_db(-175.0)[0]) == pytest.approx(-17.5)
    assert found.notes == ()


def test_reading_across_the_back_is_said(tmp_path: Path) -> None:
    angles = np.arange(-175.0, 180.0, 10.0)
    found = read(tmp_path / "a.csv", table_text(angles, (1000,), -np.abs(angles)[:, np.newaxis]))
    assert "behind the box the level is read between 175° and -175°" in found.notes
    assert "the axis itself was not measured: it is read between -5° and 5°" in found.notes
    assert float(found.pattern.read_db(180.0)[0]) == pytest.approx(-170.0)


def test_a_lopsided_back_is_read_straight_across(tmp_path: Path) -> None:
    angles = np.arange(-172.0, 180.0, 10.0)
    level = np.where(angles == 178.0, -20.0, np.where(angles == -172.0, -40.0, 0.0))
    found = read(tmp_path / "a.csv", table_text(angles, (1000,), level[:, np.newaxis]))
    # From 178° over 180° to −172°.
    np.testing.assert_allclose(found.pattern.read_db([179.0, -177.0]), [[-22.0, -30.0]], atol=1e-6)


def test_a_wide_back_stays_unknown(tmp_path: Path) -> None:
    angles = np.arange(-120.0, 121.0, 10.0)
    found = read(tmp_path / "a.csv", table_text(angles, (1000,), -np.abs(angles)[:, np.newaxis]))
    assert np.isnan(found.pattern.read_db([-121.0, 121.0, 180.0])).all()


def test_absolute_levels_are_shifted_and_said(tmp_path: Path) -> None:
    text = "a,1000,2000\n-10,90,94\n0,96,101.5\n10,93,99\n"
    found = read(tmp_path / "a.csv", text)
    np.testing.assert_allclose(found.pattern.level_db, [[-6, 0, -3], [-7.5, 0, -2.5]])
    assert found.notes[0] == (
        "the file is not 0 dB on axis: every band was shifted by its level there (96.0 to 101.5 dB)"
    )


def test_an_axis_that_is_not_loudest_is_kept_and_said(tmp_path: Path) -> None:
    found = read(tmp_path / "a.csv", "a,1000\n-20,-1\n-10,1.5\n0,0\n10,-3\n")
    np.testing.assert_array_equal(found.pattern.level_db, [[-1, 1.5, 0, -3]])
    assert "1 kHz is loudest 10° below the axis, +1.5 dB; kept so" in found.notes


def test_holes_are_unknown_and_doubted(tmp_path: Path) -> None:
    text = "a,1000,2000\n-20,-4,-4.5\n-10,,-1\n0,0,0\n10,-1,-2\n20,-4,\n"
    found = read(tmp_path / "a.csv", text)
    level = found.pattern.read_db([-15.0, -10.0, -20.0, 5.0, 15.0])
    assert np.isnan(level[0, :2]).all()
    np.testing.assert_allclose(level[0, 2:], [-4, -0.5, -2.5])
    holes = [doubt for doubt in found.doubts if doubt.code == "hole"]
    assert [(d.band_hz, d.angle_deg) for d in holes] == [
        ((1000.0,), (-10.0, -10.0)),
        ((2000.0,), (20.0, 20.0)),
    ]


def test_steps_gaps_and_copied_columns_are_doubted(tmp_path: Path) -> None:
    rows = {-40: -6, -30: -4, -20: -2, -10: -1, 0: 0, 10: -1, 20: -13, 80: -14}
    text = "a,1000,2000\n" + "".join(f"{a},{v},{v}\n" for a, v in rows.items())
    found = read(tmp_path / "a.csv", text)
    assert [(d.code, d.band_hz, d.angle_deg) for d in found.doubts] == [
        ("gap", (), (20.0, 80.0)),
        ("step", (1000.0,), (10.0, 20.0)),
        ("step", (2000.0,), (10.0, 20.0)),
        ("identical", (1000.0, 2000.0), None),
    ]
    assert "steps by 12.0 dB between 10° and 20°" in found.doubts[1].text


def test_sound_data_raise_no_doubts() -> None:
    path = ROOT / "scenarios" / "patterns" / "invented_horn_60.csv"
    found = read_pattern(path, display="horn")
    assert (found.doubts, found.notes) == ((), ())
    assert found.pattern.reference.startswith("horn (Invented horn box")
    assert found.resolution.angles == 145
    edges = {one.band_hz: one for one in coverage(found.pattern)}
    # The formula behind the file has 20° above and 40° below.
    assert edges[2000.0].above_deg == pytest.approx(20.0, abs=0.8)
    assert edges[2000.0].below_deg == pytest.approx(40.0, abs=1.2)


def sampled(tmp_path: Path, step_deg: float, ka: float) -> PatternFile:
    angles = np.linspace(-90.0, 90.0, round(180.0 / step_deg) + 1)
    level = db(piston(ka, np.radians(angles)))
    return read(tmp_path / f"{step_deg}.csv", table_text(angles, (1000,), level[:, np.newaxis]))


# −6.02 dB full angle of the piston by ka: closed form, x = 2.215089 = ka·sin θ.
PISTON_WHOLE_DEG = {3: 95.18, 4: 67.25, 5: 52.59, 6: 43.33, 8: 32.15, 10: 25.60, 20: 12.72}


@pytest.mark.parametrize(("ka", "whole_deg"), PISTON_WHOLE_DEG.items())
def test_piston_coverage_from_a_file(ka: float, whole_deg: float, tmp_path: Path) -> None:
    (fine,) = coverage(sampled(tmp_path, 0.1, ka).pattern)
    (coarse,) = coverage(sampled(tmp_path, 1.0, ka).pattern)
    assert fine.whole_deg == pytest.approx(whole_deg, abs=0.006)
    # A chord of 1° errs by at most h²/8 of the curvature, here over the slope at the edge.
    assert coarse.whole_deg == pytest.approx(whole_deg, abs=0.1)


def test_piston_without_an_edge(tmp_path: Path) -> None:
    (one,) = coverage(sampled(tmp_path, 1.0, 2.2).pattern)
    # No edge below ka 2.2151; the file ends at ±90°, so what happens behind is not known.
    assert (one.above_deg, one.reach_above) == (None, "unknown")


def test_one_degree_and_a_tenth_agree_within_the_bound_of_linear_reading(tmp_path: Path) -> None:
    ka, inner = 6.0, 35.0
    coarse, fine = sampled(tmp_path, 1.0, ka).pattern, sampled(tmp_path, 0.1, ka).pattern
    angles = np.arange(-inner, inner, 0.01)
    # Within the main lobe the second derivative bounds the error of a chord: h²/8·max|L''|.
    curve = db(piston(ka, np.radians(np.arange(-inner - 1, inner + 1, 0.01))))
    bound = np.max(np.abs(np.diff(curve, 2))) / 0.01**2 / 8.0
    apart = float(np.max(np.abs(coarse.read_db(angles) - fine.read_db(angles))))
    assert 0.0005 < apart <= 1.05 * bound


def test_line_zero_and_side_lobe_from_a_file(tmp_path: Path) -> None:
    half_kl = 10.0
    angles = np.linspace(-90.0, 90.0, 3601)
    level = db(line(half_kl, np.radians(angles)))[:, np.newaxis]
    pattern = read(tmp_path / "a.csv", table_text(angles, (1000,), level)).pattern
    (one,) = coverage(pattern)
    # Half amplitude at x = 1.895494; first null at sin θ = λ/L, x = π; side lobe −13.26146 dB.
    assert one.above_deg == pytest.approx(np.degrees(np.arcsin(0.1895494)), abs=0.002)
    null = float(pattern.angle_deg[1800 + np.argmin(pattern.level_db[0, 1800:2300])])
    assert null == pytest.approx(np.degrees(np.arcsin(np.pi / half_kl)), abs=0.05)
    lobe = minimize_scalar(
        lambda a: -float(pattern.read_db(a)[0]), bounds=(20.0, 38.0), method="bounded"
    )
    assert -lobe.fun == pytest.approx(-13.26146, abs=0.001)
    assert lobe.x == pytest.approx(np.degrees(np.arcsin(0.4493409)), abs=0.06)


def test_piston_side_lobe_from_a_file(tmp_path: Path) -> None:
    pattern = sampled(tmp_path, 0.1, 10.0).pattern
    beyond = pattern.angle_deg > np.degrees(np.arcsin(0.3831706))
    assert float(pattern.level_db[0, beyond].max()) == pytest.approx(-17.57015, abs=0.0005)


def test_a_table_of_the_quadratic_lobe_is_the_formula(tmp_path: Path) -> None:
    nominal = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=(1000.0, 2000.0))
    text = table_text(nominal.angle_deg, nominal.band_hz, nominal.level_db.T)
    found = read(tmp_path / "a.csv", text).pattern
    angles = np.arange(-179.0, 180.0, 0.37)
    np.testing.assert_allclose(found.read_db(angles), nominal.read_db(angles), atol=1e-6)


def test_flipping_twice_is_nothing_and_once_swaps_above_and_below(tmp_path: Path) -> None:
    text = "a,1000\n-60,-9\n-40,-6.0206\n0,0\n20,-6.0206\n60,-15\n"
    pattern = read(tmp_path / "a.csv", text).pattern
    twice = pattern.flipped().flipped()
    np.testing.assert_array_equal(twice.angle_deg, pattern.angle_deg)
    np.testing.assert_array_equal(twice.level_db, pattern.level_db)
    (upright,), (flipped,) = coverage(pattern), coverage(pattern.flipped())
    assert (upright.above_deg, upright.below_deg) == (flipped.below_deg, flipped.above_deg)
    assert upright.above_deg == pytest.approx(20.0, abs=1e-3)
    assert upright.below_deg == pytest.approx(40.0, abs=1e-3)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    steps=st.lists(st.floats(0.5, 30.0), min_size=2, max_size=12),
    seed=st.integers(0, 2**31),
    shift=st.floats(-60.0, 120.0),
)
def test_what_is_written_is_read(
    steps: list[float], seed: int, shift: float, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("p") / "a.csv"
    angles = np.round(np.cumsum([0.0, *steps]), 3)
    angles = angles - angles[len(angles) // 2]
    if angles[0] < -180.0 or angles[-1] > 180.0 or np.any(np.diff(angles) <= 0.0):
        return
    level = np.round(np.random.default_rng(seed).uniform(-40.0, 3.0, (len(angles), 3)), 3)
    level[len(angles) // 2] = 0.0
    shift = round(shift, 3)
    found = read(path, table_text(angles, (1000, 2000, 4000), level + shift)).pattern
    inside = (found.angle_deg >= angles[0] - 1e-6) & (found.angle_deg <= angles[-1] + 1e-6)
    np.testing.assert_allclose(found.angle_deg[inside], np.round(angles, 7), atol=1e-6)
    np.testing.assert_allclose(found.level_db[:, inside], level.T, atol=1e-5)
    # Reading never overshoots what was measured.
    between = found.read_db(np.linspace(angles[0], angles[-1], 97))
    assert np.nanmax(between) <= level.max() + 1e-5
    assert np.nanmin(between) >= level.min() - 1e-5


def test_edge_is_20_lg_2() -> None:
    assert pytest.approx(6.0206, abs=1e-4) == EDGE_DB

"""The estimate on simulated sites: recovery, coverage, outliers, and scipy as a second formula."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from onsite_scenes import BANDS_HZ, levels, measured, problem, site
from scipy.optimize import curve_fit

from aiming.aim.check_positions import SITE_DB
from aiming.site.fit import EFFICIENCY, Noise, deviations, fit
from aiming.site.judge import WIDEST, estimate
from aiming.site.prediction import Departure, scaled, whole
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
NOISE = Noise()


@settings(deadline=None, derandomize=True, max_examples=20)
@given(error=st.floats(-12.0, 12.0))
def test_levels_without_noise_give_back_the_tilt(error: float) -> None:
    scene = site(problem(), PLAN)
    found = fit(
        scene,
        levels(measured(scene, Departure(tilt_deg=error))),
        ("tilt_deg",),
        start=Departure(),
        noise=NOISE,
    )
    assert found.departure.tilt_deg == pytest.approx(error, abs=0.05)
    value, low, high = found.interval("tilt_deg")
    assert low < value < high
    assert found.squares < 0.05


def test_height_and_width_come_back_too_where_they_are_fitted() -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(0, 17, 2)))
    true = Departure(tilt_deg=2.0, height_m=0.4, pattern_scale=1.12)
    free = ("tilt_deg", "height_m", "pattern_scale")
    found = fit(scene, levels(measured(scene, true)), free, start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(2.0, abs=0.1)
    assert found.departure.height_m == pytest.approx(0.4, abs=0.05)
    assert found.departure.pattern_scale == pytest.approx(1.12, abs=0.01)


@pytest.mark.parametrize("flipped", [False, True])
def test_departures_are_hung_minus_planned_positive_up(flipped: bool) -> None:
    # The truth here is another placement of another table, not the scene's own departure.
    of = problem(half_deg=20.0)
    lower = of.pattern.level_db * np.where(of.pattern.angle_deg > 0.0, 0.6, 1.0)
    of = replace(of, pattern=replace(of.pattern, level_db=lower))
    plan = replace(PLAN, flipped=flipped)
    scene = site(of, plan, rows=list(range(0, 17, 2)))
    wide = replace(of.pattern, angle_deg=of.pattern.angle_deg * 1.1)
    hangs = replace(plan, tilt_deg=-12.0, height_m=6.3)
    level = replace(scene.problem, pattern=whole(wide)).levels_db(hangs)
    free = ("tilt_deg", "height_m", "pattern_scale")
    found = fit(scene, levels(level), free, start=Departure(), noise=NOISE).departure
    assert found.tilt_deg == pytest.approx(3.0, abs=0.1)
    assert found.height_m == pytest.approx(0.3, abs=0.05)
    assert found.pattern_scale == pytest.approx(1.1, abs=0.01)


def test_what_readings_have_settled_is_not_fitted() -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(17)))
    level = measured(scene, Departure(tilt_deg=1.0, pattern_scale=1.1))
    quiet, known = Noise(site_db=0.02, band_db=0.02), frozenset({"pattern_scale", "height_m"})
    start = Departure(height_m=0.1, pattern_scale=1.1)
    found = estimate(scene, levels(level), start=start, noise=quiet, known=known)
    assert found.fit.free == ("tilt_deg",)
    assert found.fit.departure.height_m == 0.1
    assert found.fit.departure.pattern_scale == 1.1


def test_gains_of_bands_change_nothing_and_order_neither() -> None:
    scene = site(problem(), PLAN)
    level = measured(scene, Departure(tilt_deg=3.0), np.random.default_rng(4))

    def tilt(of: np.ndarray, order: np.ndarray) -> float:
        rows = scene.problem.rows.pick(order)
        there = replace(scene, problem=replace(scene.problem, rows=rows))
        found = fit(there, levels(of[:, order]), ("tilt_deg",), start=Departure(), noise=NOISE)
        return found.departure.tilt_deg

    same = np.arange(level.shape[1])
    plain = tilt(level, same)
    assert tilt(level + np.array([[5.0], [-80.0], [0.0], [1.0]]), same) == pytest.approx(
        plain, abs=1e-3
    )
    assert tilt(level, same[::-1]) == pytest.approx(plain, abs=1e-3)


def test_deviation_is_scipys_on_the_linear_case() -> None:
    # A quadratic lobe is linear in tilt; curve_fit with the whole covariance is a second formula.
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure(tilt_deg=1.0), np.random.default_rng(9))
    bands, points = level.shape
    noise = np.kron(SITE_DB**2 * np.ones((bands, bands)) + np.eye(bands), np.eye(points))
    slope = (scene.levels_db(Departure(tilt_deg=1.0)) - scene.levels_db(Departure())).ravel()
    which = np.repeat(np.arange(bands), points)

    def model(x: np.ndarray, tilt: float, *gains: float) -> np.ndarray:
        return tilt * slope + np.array(gains)[which]

    wanted, covariance = curve_fit(
        model,
        np.arange(bands * points),
        (level - scene.levels_db(Departure())).ravel(),
        p0=[0.0] * (1 + bands),
        sigma=noise,
        absolute_sigma=True,
    )
    ours = deviations(scene, levels(level), ("tilt_deg",), at=Departure(tilt_deg=1.0), noise=NOISE)
    assert ours[0] * EFFICIENCY**0.5 == pytest.approx(covariance[0, 0] ** 0.5, rel=0.01)
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    # Huber's loss moves it by less than half a standard deviation where nothing stands out.
    assert found.departure.tilt_deg == pytest.approx(wanted[0], abs=0.5 * ours[0])


def test_coverage_of_the_intervals() -> None:
    # tests/bench/bench_onsite.py does 1,000 sites; these 240 keep the test quick.
    rng = np.random.default_rng(11)
    scenes = [
        site(problem(), PLAN, count=5),
        site(problem(half_deg=20.0), Placement(0.0, 8.0, -22.0), count=4),
        site(problem(half_deg=45.0), Placement(0.0, 5.0, -20.0), count=6),
    ]
    inside, alarms, told = 0, 0, 0
    for number in range(240):
        scene = scenes[number % len(scenes)]
        true = rng.uniform(-5.0, 5.0)
        level = measured(scene, Departure(tilt_deg=true), rng)
        found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
        alarms += found.explained is False
        if "tilt_deg" in found.fit.free:
            _, low, high = found.fit.interval("tilt_deg")
            told += 1
            inside += low <= true <= high
    assert told > 200
    assert 0.85 <= inside / told <= 0.95
    assert alarms / 240 < 0.04


def test_tilt_is_told_within_two_to_eight_degrees() -> None:
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure(), np.random.default_rng(2))
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    _, low, high = found.fit.interval("tilt_deg")
    assert 2.0 < 0.5 * (high - low) < 8.0


def test_positions_that_cannot_tell_give_no_tilt() -> None:
    # A microphone near the aim point shows no tilt: neighbours there tell nothing.
    of = problem(half_deg=60.0)
    scene = site(of, Placement(0.0, 6.0, -22.0), rows=[9, 11, 13])
    level = measured(scene, Departure(tilt_deg=3.0), np.random.default_rng(5))
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    assert found.fit.free == ()
    assert found.fit.departure == Departure()


def test_nothing_wider_than_its_limit_is_fitted() -> None:
    rng = np.random.default_rng(21)
    for count in (3, 5, 7):
        scene = site(problem(), PLAN, rows=list(range(0, 17, 17 // count))[:count])
        found = estimate(
            scene, levels(measured(scene, Departure(), rng)), start=Departure(), noise=NOISE
        )
        for name in found.fit.free:
            _, low, high = found.fit.interval(name)
            assert high - low < WIDEST[name]


def test_width_is_told_where_many_quiet_positions_carry_it() -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(17)))
    quiet, true = Noise(site_db=0.1, band_db=0.1), Departure(tilt_deg=1.5, pattern_scale=1.1)
    rng = np.random.default_rng(8)
    inside = 0
    for _ in range(40):
        level = measured(scene, true, rng, site_db=0.1, band_db=0.1)
        found = estimate(scene, levels(level), start=Departure(), noise=quiet)
        assert found.fit.free == ("tilt_deg", "pattern_scale")
        value, low, high = found.fit.interval("pattern_scale")
        assert value == pytest.approx(1.1, abs=0.05)
        inside += low <= 1.1 <= high
    assert 32 <= inside <= 40


def test_a_comb_reflection_is_borne_or_named() -> None:
    # One reflection, 6 dB down and 1.3 ms late, at one position, read on 1/24-octave lines.
    scene = site(problem(), PLAN, count=5)
    lines = np.array([band * 2.0 ** ((k - 12) / 24.0) for band in BANDS_HZ for k in range(25)])
    comb = np.abs(1.0 + 0.5 * np.exp(-2j * np.pi * lines * 1.3e-3)).reshape(len(BANDS_HZ), 25)
    banded = 10.0 * np.log10((comb**2).mean(axis=1))
    level = measured(scene, Departure(tilt_deg=2.0))
    level[:, 2] += banded
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    _, low, high = found.fit.interval("tilt_deg")
    assert low <= 2.0 <= high
    assert found.explained


@pytest.mark.parametrize("place", [0, 2, 4])
def test_a_band_that_is_cut_is_named_and_hardly_moves_the_tilt(place: int) -> None:
    scene = site(problem(), PLAN, count=6)
    level = measured(scene, Departure(tilt_deg=2.0))
    level[3, place] -= 9.0
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    assert found.explained is False
    assert found.stands_out[0].position == scene.problem.rows.names[place]
    assert found.stands_out[0].band_hz == 8000.0
    assert found.stands_out[0].left_db < -5.0
    assert "below" in found.stands_out[0].text
    assert found.fit.departure.tilt_deg == pytest.approx(2.0, abs=1.5)


def test_a_position_that_is_off_in_all_bands_is_named() -> None:
    scene = site(problem(), PLAN, rows=[0, 3, 6, 9, 12, 16])
    level = measured(scene, Departure(tilt_deg=-1.0))
    level[:, 3] += 6.0
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    assert found.explained is False
    assert found.stands_out[0].position == scene.problem.rows.names[3]
    assert found.stands_out[0].band_hz is None
    assert found.stands_out[0].left_db > 3.0


def test_two_positions_cannot_be_explained_or_not() -> None:
    scene = site(problem(), PLAN, count=2)
    found = estimate(
        scene, levels(measured(scene, Departure(tilt_deg=1.0))), start=Departure(), noise=NOISE
    )
    assert found.explained is None


def test_bands_that_are_missing_at_a_position_are_left_out_there() -> None:
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure(tilt_deg=4.0))
    level[0, 1] = np.nan
    level[2, 3] = np.nan
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(4.0, abs=0.05)
    assert np.isnan(found.left_db[0, 1])


def test_doubt_from_low_coherence_widens_the_interval() -> None:
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure())
    sure = deviations(scene, levels(level), ("tilt_deg",), at=Departure(), noise=NOISE)
    doubtful = replace(levels(level), doubt_db=np.full(level.shape, 3.0))
    wide = deviations(scene, doubtful, ("tilt_deg",), at=Departure(), noise=NOISE)
    assert wide[0] > 1.3 * sure[0]


@settings(deadline=None, derandomize=True, max_examples=40)
@given(scale=st.floats(0.5, 2.0), angle=st.floats(-179.0, 179.0))
def test_a_scaled_pattern_reads_the_first_at_the_angle_over_the_scale(
    scale: float, angle: float
) -> None:
    pattern = problem().pattern
    wanted = pattern.read_db(np.clip(angle / scale, -180.0, 180.0))
    assert scaled(pattern, scale).read_db(angle) == pytest.approx(wanted, abs=2e-3)


def test_a_whole_pattern_fills_holes_and_ends() -> None:
    table = np.array([[-6.0, np.nan, 0.0, -2.0, -4.0]])
    cut = Pattern(np.array([-20.0, -10.0, 0.0, 10.0, 20.0]), (1000.0,), table, "cut")
    filled = whole(cut)
    assert filled.read_db(-10.0)[0] == pytest.approx(-3.0)
    assert filled.read_db(150.0)[0] == pytest.approx(-4.0)
    assert filled.read_db(-150.0)[0] == pytest.approx(-6.0)

"""The estimate's own arithmetic: whitening, scores, intervals, outliers and the correction."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from onsite_scenes import BANDS_HZ, levels, measured, problem, site
from scipy.stats import chi2, norm

from aiming.aim import measures
from aiming.aim.problem import Problem
from aiming.base.arrays import FloatArray
from aiming.site import judge
from aiming.site.advice import Correction, correction, coverage
from aiming.site.fit import EFFICIENCY, INTERVAL, Fit, Levels, Linear, Noise, deviations, fit
from aiming.site.judge import estimate
from aiming.site.model import Interval
from aiming.site.prediction import Departure, Scene, scaled, whole
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang, Placement

PLAN = Placement(0.0, 6.0, -15.0)
NOISE = Noise()


def test_the_linear_part_by_hand() -> None:
    level = np.array([[1.0, 2.0, np.nan], [3.0, 4.0, 5.0]])
    doubt = np.array([[0.0, 0.75, 0.0], [0.0, 0.0, 1.0]])
    of = Linear(Levels(level, doubt), Noise(site_db=0.5, band_db=1.0))
    assert (of.bands, of.points) == (2, 3)
    root = 2.0**0.5
    assert of.deviation_db == pytest.approx([1.0, 1.25, 1.0, 1.0, root])
    # Unknowns: two gains, three sites; rows: five levels, then the sites themselves.
    assert of.design == pytest.approx(
        np.array(
            [
                [1.0, 0.0, 1.0, 0.0, 0.0],
                [0.8, 0.0, 0.0, 0.8, 0.0],
                [0.0, 1.0, 1.0, 0.0, 0.0],
                [0.0, 1.0, 0.0, 1.0, 0.0],
                [0.0, 1.0 / root, 0.0, 0.0, 1.0 / root],
                [0.0, 0.0, 2.0, 0.0, 0.0],
                [0.0, 0.0, 0.0, 2.0, 0.0],
                [0.0, 0.0, 0.0, 0.0, 2.0],
            ]
        )
    )
    assert of.whitened(level) == pytest.approx([1.0, 1.6, 3.0, 4.0, 5.0 / root, 0.0, 0.0, 0.0])
    assert of.whitened(np.stack([level, level])).shape == (2, 8)


def whitened(scene: Scene, level: FloatArray, at: Departure) -> tuple[FloatArray, FloatArray]:
    """By another way, gains and tilt alone: the slopes and residuals, Cholesky-whitened."""
    bands, points = level.shape
    covariance = np.kron(0.49 * np.ones((bands, bands)) + np.eye(bands), np.eye(points))
    root = np.linalg.inv(np.linalg.cholesky(covariance))
    up, down = (scene.levels_db(replace(at, tilt_deg=at.tilt_deg + step)) for step in (0.25, -0.25))
    slope = ((up - down) / 0.5).ravel()
    gains = np.repeat(np.eye(bands), points, axis=0)
    return root @ np.column_stack([slope, gains]), root @ (level - scene.levels_db(at)).ravel()


def test_a_fit_by_generalised_least_squares() -> None:
    scene = site(problem(), PLAN, count=6)
    level = measured(scene, Departure(tilt_deg=1.0), np.random.default_rng(6), band_db=0.5)
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    design, left = whitened(scene, level, found.departure)
    solution, *_ = np.linalg.lstsq(design, left, rcond=None)
    rest = left - design @ solution
    assert found.squares == pytest.approx(float(rest @ rest), rel=1e-6)
    assert found.freedom == 4 * 6 - 5
    variance = np.linalg.inv(design.T @ design)
    assert found.deviation[0] == pytest.approx((variance[0, 0] / 0.95) ** 0.5, rel=1e-6)
    told = deviations(scene, levels(level), ("tilt_deg",), at=found.departure, noise=NOISE)
    assert told[0] == pytest.approx(found.deviation[0], rel=1e-9)
    # Nothing stands out, so Huber's loss is the squares' own: its gains are theirs.
    assert found.gain_db == pytest.approx(solution[1:], abs=0.02)
    wanted = level - scene.levels_db(found.departure) - found.gain_db[:, np.newaxis]
    assert found.left_db == pytest.approx(wanted)
    assert found.value[0] == found.departure.tilt_deg
    assert found.cost == pytest.approx(0.5 * found.squares, rel=1e-3)
    assert found.free == ("tilt_deg",)


def test_scores_are_what_is_left_in_its_own_deviation() -> None:
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure(), np.random.default_rng(3), band_db=0.4, site_db=0.3)
    level[1, 2] = np.nan
    of = Linear(levels(level), NOISE)
    found = fit(scene, levels(level), (), start=Departure(), noise=NOISE)
    left = of.whitened(level) - of.whitened(scene.levels_db(Departure()))
    hat = of.design @ np.linalg.pinv(of.design)
    rest = left - hat @ left
    score = rest / np.sqrt(1.0 - np.diag(hat))
    assert found.band_score[np.isfinite(level)] == pytest.approx(score[:19], rel=1e-6)
    assert np.isnan(found.band_score[1, 2])
    assert found.site_score == pytest.approx(score[19:], rel=1e-6)
    assert found.freedom == 19 - 4
    assert found.squares == pytest.approx(float(rest @ rest), rel=1e-9)
    assert found.value.shape == (0,)
    assert found.deviation.shape == (0,)


def test_a_level_that_nothing_can_check_has_no_score() -> None:
    # A band at one position only is its own gain.
    scene = site(problem(), PLAN, count=5)
    level = measured(scene, Departure(tilt_deg=1.0))
    level[0, 1:] = np.nan
    level[1:, 0] += 0.5
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.band_score[0, 0] == 0.0
    assert found.freedom == 1 + 15 - 5
    assert found.deviation[0] < 10.0


NONE = np.zeros(0)


def made(**given: Any) -> Fit:
    plain: dict[str, Any] = {
        "departure": Departure(), "free": (), "value": NONE, "deviation": NONE,
        "left_db": np.zeros((2, 3)), "gain_db": NONE, "cost": 0.0, "band_score": np.zeros((2, 3)),
        "site_score": np.zeros(3), "freedom": 10, "squares": 10.0, "rival_deg": None,
    }  # fmt: skip
    return Fit(**{**plain, **given})


def test_an_interval_reaches_to_a_rival() -> None:
    of = made(
        free=("tilt_deg", "height_m"), value=np.array([2.0, 0.1]), deviation=np.array([1.0, 0.01])
    )
    assert of.interval("tilt_deg") == pytest.approx((2.0, 2.0 - INTERVAL, 2.0 + INTERVAL))
    half = 0.01 * INTERVAL
    assert of.interval("height_m") == pytest.approx((0.1, 0.1 - half, 0.1 + half))
    above = replace(of, rival_deg=9.0)
    assert above.interval("tilt_deg") == pytest.approx((2.0, 2.0 - INTERVAL, 9.0 + INTERVAL))
    assert above.interval("height_m") == of.interval("height_m")
    below = replace(of, rival_deg=-9.0)
    assert below.interval("tilt_deg") == pytest.approx((2.0, -9.0 - INTERVAL, 2.0 + INTERVAL))


def wavy(slope_db: float) -> Problem:
    """Ripples of 20°, and a slope that tells them apart as far as it is steep."""
    angle = np.arange(-180.0, 180.5, 0.5)
    table = 3.0 * np.cos(2.0 * np.pi * angle / 20.0) + slope_db * (angle / 20.0) ** 2
    of = problem()
    return replace(of, pattern=Pattern(angle, BANDS_HZ, np.tile(table, (4, 1)), "wavy"))


def test_a_tilt_that_explains_the_levels_as_well_is_a_rival() -> None:
    scene = site(wavy(-0.05), PLAN, rows=[0, 2, 4, 6, 8, 12, 16])
    level = measured(scene, Departure(tilt_deg=1.0))
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(1.0, abs=0.1)
    assert found.rival_deg is not None
    assert abs(found.rival_deg - 1.0) == pytest.approx(20.0, abs=1.0)
    told = site(wavy(-1.5), PLAN, rows=[0, 2, 4, 6, 8, 12, 16])
    level = measured(told, Departure(tilt_deg=1.0))
    found = fit(told, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(1.0, abs=0.1)
    assert found.rival_deg is None


@pytest.mark.parametrize("error", [-28.0, 28.0])
def test_the_tilt_is_looked_for_far_away(error: float) -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(0, 17, 2)))
    level = measured(scene, Departure(tilt_deg=error))
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(error, abs=0.1)
    assert found.squares < 1e-3


def test_what_is_not_fitted_stays_where_it_starts() -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(0, 17, 2)))
    true = Departure(tilt_deg=2.0, height_m=0.2, pattern_scale=1.05)
    level = measured(scene, true)
    start = Departure(tilt_deg=0.0, height_m=0.2, pattern_scale=1.05)
    found = fit(scene, levels(level), ("tilt_deg",), start=start, noise=NOISE)
    assert found.departure.height_m == 0.2
    assert found.departure.pattern_scale == 1.05
    assert found.departure.tilt_deg == pytest.approx(2.0, abs=1e-3)
    start = replace(true, pattern_scale=1.0)
    found = fit(scene, levels(level), ("pattern_scale",), start=start, noise=NOISE)
    assert found.departure.pattern_scale == pytest.approx(1.05, abs=1e-4)
    assert found.departure.tilt_deg == 2.0


def test_a_band_that_is_cut_costs_as_huber_says() -> None:
    # One level 9 dB low: least squares would share it out, Huber's loss leaves it where it is.
    scene = site(problem(), PLAN, count=6)
    level = measured(scene, Departure(tilt_deg=2.0))
    level[3, 2] -= 30.0
    found = fit(scene, levels(level), ("tilt_deg",), start=Departure(), noise=NOISE)
    assert found.departure.tilt_deg == pytest.approx(2.0, abs=1.5)
    assert found.left_db[3, 2] == pytest.approx(-30.0, abs=2.5)
    # Half of Huber's loss far out is 1.345·(|r| − 1.345/2); the rest bears little of it.
    assert 0.75 < found.cost / (1.345 * (30.0 - 0.6725)) < 1.0


def test_levels_are_as_expected_or_too_much_is_left() -> None:
    for freedom in (1, 5, 30):
        limit = float(chi2.isf(0.01, freedom))
        assert judge._too_much(made(freedom=freedom, squares=limit * 1.001))
        assert not judge._too_much(made(freedom=freedom, squares=limit * 0.999))
    assert not judge._too_much(made(freedom=0, squares=99.0))


def test_what_stands_out_is_beyond_what_chance_leaves() -> None:
    # Two bands at three positions: nine scores, of which none passes the limit by chance
    # more often than once in a hundred sets.
    limit = float(norm.isf(0.5 * 0.01 / 9.0))
    band = np.zeros((2, 3))
    band[1, 2] = -1.001 * limit
    band[0, 1] = 0.999 * limit
    left = np.array([[0.0, 3.0, 4.0], [0.0, 0.0, -6.0]])
    of = made(band_score=band, left_db=left)
    (one,) = judge._outliers(of, ("a", "b", "c"), (1000.0, 2000.0))
    assert (one.position, one.band_hz, one.left_db) == ("c", 2000.0, -6.0)
    assert one.score == pytest.approx(-1.001 * limit)
    # A position that stands out as a whole is not told again by its bands.
    site_score = np.array([0.0, 0.0, 2.0 * limit])
    whole_one = judge._outliers(replace(of, site_score=site_score), ("a", "b", "c"), (1e3, 2e3))
    assert [(x.position, x.band_hz, x.left_db) for x in whole_one] == [("c", None, -1.0)]
    worst = judge._worst(of, ("a", "b", "c"), (1000.0, 2000.0))
    assert [(x.position, x.band_hz) for x in worst] == [("c", 2000.0), ("b", 1000.0)]
    # What was not measured has no score: seven are left, and the limit with them.
    band = np.full((2, 3), np.nan)
    band[:, 0] = 0.0
    band[0, 1] = float(norm.isf(0.5 * 0.01 / 5.0)) * 1.001
    left = np.where(np.isfinite(band), 2.0, np.nan)
    of = made(band_score=band, left_db=left)
    (one,) = judge._outliers(of, ("a", "b", "c"), (1000.0, 2000.0))
    assert (one.position, one.band_hz) == ("b", 1000.0)
    of.band_score[0, 1] *= 0.998
    assert judge._outliers(of, ("a", "b", "c"), (1000.0, 2000.0)) == ()


@pytest.mark.parametrize(("high", "wanted"), [(19.9, True), (20.0, False), (np.inf, False)])
def test_a_quantity_is_told_where_its_interval_is_narrow(high: float, wanted: bool) -> None:
    of = made(free=("tilt_deg",), value=np.zeros(1), deviation=np.array([0.5 * high / INTERVAL]))
    assert judge._narrow(of, "tilt_deg") is wanted


@pytest.mark.parametrize(("points", "wanted"), [(2, None), (3, True)])
def test_too_few_positions_cannot_tell(points: int, wanted: bool | None) -> None:
    # The tilt and one gain take two positions, so the third is the first that could object.
    scene = site(problem(half_deg=15.0), PLAN, rows=[0, 8, 16][:: 2 if points == 2 else 1])
    level = measured(scene, Departure(tilt_deg=1.0))
    quiet = Noise(site_db=0.1, band_db=0.1)
    found = estimate(
        scene, levels(level), start=Departure(), noise=quiet,
        known=frozenset({"height_m", "pattern_scale"}),
    )  # fmt: skip
    assert found.fit.free == ("tilt_deg",)
    assert found.explained is wanted
    assert found.stands_out == ()
    # A position counts where some of its bands are missing too.
    level[0, 1] = np.nan
    holed = estimate(
        scene, levels(level), start=Departure(), noise=quiet,
        known=frozenset({"height_m", "pattern_scale"}),
    )  # fmt: skip
    assert holed.explained is wanted
    # Nothing fitted takes one position less.
    known = frozenset({"tilt_deg", "height_m", "pattern_scale"})
    at = Departure(tilt_deg=1.0)
    held = estimate(scene, levels(level), start=at, noise=quiet, known=known)
    assert held.fit.free == ()
    assert held.explained is True


def test_one_that_stands_out_is_named_alone() -> None:
    scene = site(problem(), PLAN, count=6)
    level = measured(scene, Departure())
    level[3, 2] -= 12.0
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    assert found.explained is False
    assert [(one.position, one.band_hz) for one in found.stands_out] == [
        (scene.problem.rows.names[2], 8000.0)
    ]


@pytest.mark.parametrize(("wide", "wanted"), [(0.19, True), (0.199, True), (0.201, False)])
def test_the_width_is_fitted_where_its_interval_will_be_narrow(wide: float, wanted: bool) -> None:
    # Without doubt of its own, all intervals grow with the noise.
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(17)))
    level, free = levels(measured(scene, Departure())), ("tilt_deg", "pattern_scale")
    one = deviations(scene, level, free, at=Departure(), noise=Noise(0.1, 0.1))[1]
    size = 0.1 * wide / (2.0 * INTERVAL * float(one))
    found = estimate(scene, level, start=Departure(), noise=Noise(size, size))
    assert ("pattern_scale" in found.fit.free) is wanted


def test_much_left_everywhere_names_the_two_worst() -> None:
    scene = site(problem(), PLAN, count=6)
    level = measured(scene, Departure(), np.random.default_rng(6), band_db=1.7, site_db=0.7)
    found = estimate(scene, levels(level), start=Departure(), noise=NOISE)
    assert found.explained is False
    assert len(found.stands_out) == 2
    first, second = found.stands_out
    assert abs(first.score) >= abs(second.score)


def test_height_alone_is_fitted_where_the_width_is_known() -> None:
    scene = site(problem(half_deg=20.0), PLAN, rows=list(range(17)))
    quiet = Noise(site_db=0.01, band_db=0.01)
    level = measured(scene, Departure(tilt_deg=1.0, height_m=0.2))
    known = frozenset({"pattern_scale"})
    found = estimate(scene, levels(level), start=Departure(), noise=quiet, known=known)
    assert found.fit.free == ("tilt_deg", "height_m")
    assert found.fit.departure.height_m == pytest.approx(0.2, abs=0.01)
    level = measured(scene, Departure(tilt_deg=1.0, height_m=0.2, pattern_scale=1.1))
    found = estimate(scene, levels(level), start=Departure(), noise=quiet)
    assert found.fit.free == ("tilt_deg", "height_m", "pattern_scale")
    assert found.fit.departure.pattern_scale == pytest.approx(1.1, abs=0.01)


def test_a_departure_is_hung_minus_planned() -> None:
    plan = Placement(1.0, 6.0, -15.0, flipped=True)
    there = Departure(tilt_deg=-2.0, height_m=0.5, pattern_scale=1.2)
    assert there.of(plan) == Placement(1.0, 6.5, -17.0, flipped=True)
    scene = site(problem(), plan, rows=[0, 5, 16])
    tilts = np.array([-3.0, 0.0, 4.0])
    found = scene.at_tilts_db(tilts, there)
    assert found.shape == (3, 4, 3)
    for tilt, level in zip(tilts, found, strict=True):
        assert level == pytest.approx(scene.levels_db(replace(there, tilt_deg=float(tilt))))
    # And by the problem's own levels, the pattern stretched.
    wide = replace(scene.problem, pattern=scaled(scene.problem.pattern, 1.2))
    wanted = wide.levels_db(Placement(1.0, 6.5, -17.0, flipped=True))
    assert scene.levels_db(there) == pytest.approx(wanted)
    assert scene.levels_db(Departure()) == pytest.approx(scene.problem.levels_db(plan))


def test_a_pattern_made_whole_and_scaled_by_hand() -> None:
    table = np.array([[-8.0, -6.0, np.nan, 0.0, -4.0, -5.0]])
    angle = np.array([-180.0, -20.0, -10.0, 0.0, 20.0, 180.0])
    filled = whole(Pattern(angle, (1000.0,), table, "of a test"))
    assert filled.angle_deg.tolist() == angle.tolist()
    assert filled.level_db[0].tolist() == [-8.0, -6.0, -3.0, 0.0, -4.0, -5.0]
    assert (filled.band_hz, filled.reference) == ((1000.0,), "of a test")
    wide = scaled(filled, 2.0)
    assert wide.angle_deg.tolist() == [-180.0, -40.0, -20.0, 0.0, 40.0, 180.0]
    # At ±180 the wide pattern reads what the data have at ±90.
    assert wide.level_db[0] == pytest.approx(
        [-6.0 - 2.0 * 70.0 / 160.0, -6.0, -3.0, 0.0, -4.0, -4.0 - 70.0 / 160.0]
    )
    assert wide.reference == "of a test, 2 times as wide"
    narrow = scaled(filled, 0.5)
    assert narrow.angle_deg.tolist() == [-180.0, -90.0, -10.0, -5.0, 0.0, 10.0, 90.0, 180.0]
    assert narrow.level_db[0].tolist() == [-8.0, -8.0, -6.0, -3.0, 0.0, -4.0, -5.0, -5.0]


AUDIENCE = replace(problem(), pattern=whole(problem().pattern), hang=Hang(tilt_deg=(-40.0, 10.0)))


def corrected(
    tilt: Interval, height: Interval | None = None, scale: Interval | None = None,
    *, of: Problem = AUDIENCE, plan: Placement = PLAN,
) -> Correction:  # fmt: skip
    return correction(of, plan, tilt_error_deg=tilt, height_error_m=height, pattern_scale=scale)


def spread(of: Problem, at: Placement) -> float:
    return float(measures.spread_db(of.levels_db(at)))


def test_coverage_is_spread_and_rows_within() -> None:
    found = coverage(AUDIENCE, PLAN)
    assert found.spread_db == pytest.approx(spread(AUDIENCE, PLAN))
    level = AUDIENCE.levels_db(PLAN).mean(axis=0)
    mean = np.average(level, weights=AUDIENCE.rows.weight)
    wanted = 100.0 * float((np.abs(level - mean) <= 3.0).mean())
    assert found.rows_within_3db_percent == pytest.approx(wanted)


def test_a_tilt_that_is_surely_off_goes_back_to_the_plan() -> None:
    found = corrected(Interval(-9.0, -10.0, -8.0))
    assert found.hung == replace(PLAN, tilt_deg=-24.0)
    assert found.corrected == PLAN
    assert found.now == coverage(AUDIENCE, replace(PLAN, tilt_deg=-24.0))
    assert found.after == coverage(AUDIENCE, PLAN)


@pytest.mark.parametrize(
    "tilt", [Interval(-9.0, -19.0, 1.0), Interval(-9.0, -18.0, 0.0), Interval(-0.1, -0.15, -0.05)]
)
def test_what_may_be_as_planned_or_wins_nothing_is_left(tilt: Interval) -> None:
    found = corrected(tilt)
    assert found.corrected is None
    assert found.after == found.now
    assert found.hung.tilt_deg == -15.0 + tilt.value


def test_a_height_goes_back_where_it_is_surely_off() -> None:
    tilt = Interval(-9.0, -10.0, -8.0)
    sure = corrected(tilt, Interval(0.4, 0.3, 0.5))
    assert sure.hung == Placement(0.0, 6.4, -24.0)
    assert sure.corrected == PLAN
    maybe = corrected(tilt, Interval(0.4, -0.1, 0.9))
    assert maybe.hung == Placement(0.0, 6.4, -24.0)
    assert maybe.corrected == Placement(0.0, 6.4, -15.0)
    assert maybe.after == coverage(AUDIENCE, Placement(0.0, 6.4, -15.0))
    # Off in height alone, by as much as is heard, the tilt being what it may.
    steep = Placement(0.0, 3.0, -15.0)
    only = corrected(Interval(0.0, -1.0, 1.0), Interval(-1.5, -1.6, -1.4), plan=steep)
    assert spread(AUDIENCE, replace(steep, height_m=1.5)) > spread(AUDIENCE, steep) + 0.3
    assert only.corrected == steep


@pytest.mark.parametrize("width", [1.3, 0.8])
def test_another_pattern_has_another_best_tilt(width: float) -> None:
    scale = Interval(width, width - 0.05, width + 0.05)
    seen = replace(AUDIENCE, pattern=scaled(AUDIENCE.pattern, width))
    plan = replace(PLAN, tilt_deg=-24.0)
    found = corrected(Interval(0.0, -1.0, 1.0), None, scale, plan=plan)
    tilts = np.append(np.arange(-40.0, 10.0, 0.1), 10.0)
    spreads = [
        spread(seen, replace(plan, tilt_deg=float(tilt)))
        if seen.allowed(replace(plan, tilt_deg=float(tilt)))
        else np.inf
        for tilt in tilts
    ]
    best = float(tilts[int(np.argmin(spreads))])
    assert found.corrected == replace(plan, tilt_deg=best)
    assert found.hung == plan
    assert found.now == coverage(seen, plan)
    assert found.after.spread_db == pytest.approx(min(spreads))
    # A width that may be the data's own changes nothing.
    same = corrected(Interval(0.0, -1.0, 1.0), None, Interval(width, 0.7, 1.4), plan=plan)
    assert same.corrected is None
    assert same.now == coverage(AUDIENCE, plan)


def test_the_best_tilt_is_one_that_may_be_set() -> None:
    scale, tilt = Interval(1.3, 1.25, 1.35), Interval(0.0, -1.0, 1.0)
    plan = replace(PLAN, tilt_deg=-24.0)
    free = corrected(tilt, None, scale, plan=plan).corrected
    assert free is not None
    limit = float(free.tilt_deg) - 3.05
    held = replace(AUDIENCE, reachable_tilt_deg={"upright": ((-30.0, limit),)})
    found = corrected(tilt, None, scale, of=held, plan=plan).corrected
    assert found is not None
    assert found.tilt_deg == limit
    # Nothing that may be set, or a single tilt, leaves that.
    none = replace(AUDIENCE, reachable_tilt_deg={"upright": ()})
    hung = Interval(-5.0, -6.0, -4.0)
    left = corrected(hung, None, scale, of=none, plan=PLAN).corrected
    assert left == PLAN
    fixed = replace(AUDIENCE, reachable_tilt_deg={"upright": ((-14.0, -14.0),)})
    left = corrected(hung, None, scale, of=fixed, plan=PLAN).corrected
    assert left == replace(PLAN, tilt_deg=-14.0)
    assert EFFICIENCY == 0.95

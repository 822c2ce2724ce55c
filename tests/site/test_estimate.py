"""What a quantity is told to be, and what is held against what, by normal distributions."""

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from onsite_scenes import levels_at, points, prediction, problem

from aiming.site.estimate import Estimate, estimate, even, quantile_interval
from aiming.site.evidence import Blunder, Evidence
from aiming.site.reading_equations import Equation
from aiming.site.readings import Reading
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
FIELDS = {"tilt": "tilt_deg", "height": "height_m", "width": "width"}


def spread_out(count: int, deviation: float) -> np.ndarray:
    """Even draws of a normal distribution about 0."""
    share = (np.arange(count) + 0.5) / count
    return deviation * np.array([NormalDist().inv_cdf(float(one)) for one in share])


@pytest.fixture(scope="module")
def anything() -> Estimate:
    """What may be where nothing was measured or read."""
    return estimate(prediction(problem(), PLAN), None, None)


def among(of: Estimate, name: str, deviation: float) -> Estimate:
    """The levels leave a quantity this deviation."""
    count = len(of.draws)
    draws = replace(of.draws, **{FIELDS[name]: spread_out(count, deviation)})
    return replace(of, draws=draws, levels_weight=np.full(count, 1.0 / count))


def test_even_draws_have_the_quantiles_of_their_middles() -> None:
    # Ten even draws: the k-th stands for the shares from k/10 to (k + 1)/10, its middle between.
    found = quantile_interval(np.arange(10.0)[::-1], np.full(10, 0.1), (0.25, 0.85))
    assert (found.value, found.low, found.high) == pytest.approx((4.5, 2.0, 8.0))
    assert found.half == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("name", "prior", "narrower"),
    [("tilt", np.sqrt((1.5**2 + 5.0**2) / 2.0), 20.0),
     ("height", np.sqrt((0.05**2 + 0.2**2) / 2.0), 0.3), ("width", 0.10, 0.2)],
)  # fmt: skip
def test_levels_tell_what_they_narrow_beyond_the_prior(
    anything: Estimate, name: str, prior: float, narrower: float
) -> None:
    # Posterior precision less the prior's is the levels' own; 90 % of a normal distribution lie
    # within 1.6449 of its deviations, and from 0.06 to 0.94 within 1.5548 (table).
    own = narrower / (2.0 * 1.6449)
    told = (own**-2 + prior**-2) ** -0.5 * 1.6449 / 1.5548
    found = among(anything, name, 0.99 * told).interval(name, levels_only=True)
    assert found is not None
    assert found.half == pytest.approx(0.99 * told * 1.5548, rel=1e-3)
    assert among(anything, name, 1.01 * told).interval(name, levels_only=True) is None


@pytest.mark.parametrize(
    ("name", "tells"), [("tilt_deg", "tilt"), ("height_m", "height"), ("x_m", "x")]
)
def test_what_was_read_is_told_with_nine_of_ten(anything: Estimate, name: str, tells: str) -> None:
    """Of a normal distribution: its middle, and 1.6449 deviations to either side."""
    count = len(anything.draws)
    draws = replace(anything.draws, **{name: 0.1 + spread_out(count, 0.02)})
    read = Reading("x", "", 0.0, 0.1, "r.csv", (2, 1))
    one = Equation(read, tells, lambda tilt, height, x: x, 1.0)
    found = replace(anything, draws=draws, equations=(one,),
                    likeliest_weight=np.full(count, 1.0 / count))  # fmt: skip
    interval = found.interval(tells)
    assert interval is not None
    assert interval.value == pytest.approx(0.1, abs=1e-6)
    assert interval.half == pytest.approx(1.6449 * 0.02, rel=2e-3)


def test_rows_are_told_about_their_own_mean_with_nine_of_ten(anything: Estimate) -> None:
    level = anything.prediction.rows_db(anything.kept)
    level = level - level.mean(axis=1, keepdims=True)
    middle, low, high = anything.row_intervals
    assert (middle == np.median(level, axis=0)).all()
    for row in range(level.shape[1]):
        within = (level[:, row] >= low[row]) & (level[:, row] <= high[row])
        assert within.mean() == pytest.approx(0.90, abs=0.003)
    assert (np.sort([low, middle, high], axis=0) == [low, middle, high]).all()


def test_even_draws_stand_for_the_weights() -> None:
    """Of weights 1 : 2 : 5 in eighths, 64 draws are 8, 16 and 40; of no weight none."""
    which = even(np.array([1.0, 2.0, 0.0, 5.0]), 64)
    assert np.bincount(which, minlength=4).tolist() == [8, 16, 0, 40]
    assert (np.diff(which) >= 0).all()
    assert even(np.array([0.0, 1.0]), 3).tolist() == [1, 1, 1]


def test_levels_alone_weigh_as_everything_does_where_nothing_was_read() -> None:
    of = problem()
    at = points(of, [0, 4, 8, 12, 16], floor=False)
    level = levels_at(at.x_m, at.z_m, tilt_deg=-10.0)
    found = estimate(prediction(of, PLAN), at, Evidence(level))
    assert found.levels_weight == pytest.approx(found.weight, abs=1e-12)


def test_levels_alone_tell_no_x(anything: Estimate) -> None:
    sure = replace(anything, draws=replace(anything.draws, x_m=0.0 * anything.draws.x_m))
    assert sure.interval("x", levels_only=True) is None


@pytest.mark.parametrize("none", [0.48, 0.52])
def test_levels_are_sound_where_nothing_wrong_is_the_likelier(
    anything: Estimate, none: float
) -> None:
    held = ((Blunder("none"), none), (Blunder("microphone", (0,)), 1.0 - none))
    measured = replace(anything, evidence=Evidence(np.zeros((4, 3))), blunders=held)
    assert measured.sound is (none > 0.5)
    assert replace(measured, evidence=None).sound


def test_how_levels_speak_against_a_reading_by_normal_distributions(anything: Estimate) -> None:
    # Tilts N(0, 5²); read 0 ± 1; the levels say 4 ± 1.  A likelihood exp(−(t − m)²/2) over
    # N(0, s²) is on average exp(−m²/2(1 + s²))/√(1 + s²).
    count = len(anything.draws)
    tilt = spread_out(count, 5.0)
    read = Reading("inclinometer", "axis", PLAN.tilt_deg, 0.3, "r.csv", (2, 1))
    one = Equation(read, "tilt", lambda tilt, height, x: tilt - PLAN.tilt_deg, 1.0)
    levels = -0.5 * (tilt - 4.0) ** 2
    found = replace(
        anything,
        draws=replace(anything.draws, tilt_deg=tilt, log_weight=np.zeros(count)),
        equations=(one,),
        evidence=Evidence(np.zeros((4, 3))),
        log_levels=levels,
    )

    def mean(variance: float) -> float:
        return float(np.exp(-8.0 / (1.0 + variance)) / np.sqrt(1.0 + variance))

    wanted = mean(25.0) / mean(1.0 / (1.0 / 25.0 + 1.0))
    assert found.against == pytest.approx(wanted, rel=0.02)
    assert replace(found, log_levels=np.zeros(count)).against == pytest.approx(1.0)
    assert replace(found, equations=()).against == 1.0

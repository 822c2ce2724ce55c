"""Numbers that the judgement on site rests on, against where they come from.

Quantiles by scipy.stats; Huber's loss by integrating its efficiency on normal errors; the widths
beyond which a quantity is left out are those that docs/on-site.md states.
"""

import numpy as np
import pytest
from scipy import integrate
from scipy.stats import norm

from aiming.site import (
    advice as correct,
)
from aiming.site import (
    banding,
    compare,
    fit,
    hung,
    judge,
    readings,
    run,
    traces,
)
from aiming.site import (
    text_lines as lines,
)
from aiming.site.prediction import Departure


def test_quantiles_of_the_normal_distribution() -> None:
    assert float(norm.ppf(0.95)) == pytest.approx(fit.INTERVAL, abs=5e-5)
    # 99 % to either side, counted in half-widths of a 90 % interval.
    assert float(norm.ppf(0.995) / norm.ppf(0.95)) == pytest.approx(run.CONFIRMS, abs=1e-4)
    # One reading in about a hundred lies so far out by chance.
    assert 2.0 * float(norm.sf(hung.DISAGREE)) == pytest.approx(judge.DOUBT, abs=1e-3)


def test_hubers_loss_keeps_95_percent_of_the_efficiency() -> None:
    """(E ψ')² / E ψ² for ψ clipped at c, errors normal (P. J. Huber's asymptotic variance)."""
    c = fit.HUBER
    inside = norm.cdf(c) - norm.cdf(-c)
    square = integrate.quad(lambda x: x * x * norm.pdf(x), -c, c)[0] + 2.0 * c * c * norm.sf(c)
    assert float(inside**2 / square) == pytest.approx(fit.EFFICIENCY, abs=5e-4)


def test_what_is_left_out_and_what_is_worth_a_word() -> None:
    """As docs/on-site.md and the texts say it."""
    assert judge.WIDEST == {"tilt_deg": 20.0, "height_m": 0.3, "pattern_scale": 0.2}
    assert (correct.WORTH_DB, correct.STEP_DEG) == (0.3, 0.1)
    assert (hung.HEIGHT_DOUBT_M, hung.HEAVIER_SHARE) == (0.10, 0.05)
    assert (banding.AVERAGES, banding.LEAST_COHERENCE) == (16, 0.02)
    assert (traces.LINEAR_AT_MOST, traces.HIGHEST_DB) == (10.0, 400.0)
    assert (lines.LARGEST_BYTES, lines.MOST_LINES, lines.LONGEST_LINE) == (16e6, 200_000, 20_000)
    assert readings.LARGEST_M == 1e5
    assert compare.MOST_ROUNDS == 4


def test_where_a_fit_looks() -> None:
    assert fit.BOUNDS == {
        "tilt_deg": (-60.0, 60.0),
        "height_m": (-3.0, 3.0),
        "pattern_scale": (0.4, 2.5),
    }
    assert fit.WIDEST_TILT_DEG == 30.0
    # Steps of the derivatives: small against what an interval may be wide.
    for name, step in fit.STEPS.items():
        assert 0.01 <= step / judge.WIDEST[name] <= 0.2
    assert fit.STEPS == {"tilt_deg": 0.25, "height_m": 0.05, "pattern_scale": 0.01}
    assert np.isfinite(fit.HOPELESS) and fit.STARTS >= 3


def test_no_departure_is_the_plan() -> None:
    plan = Departure()
    assert (plan.tilt_deg, plan.height_m, plan.pattern_scale) == (0.0, 0.0, 1.0)

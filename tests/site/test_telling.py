"""What microphones would tell, in the limits where that is known without simulating anything."""

import numpy as np
import pytest
from onsite_scenes import points, prediction, problem

from aiming.site.draws import TILT_DEG, Draws, Prior, weights
from aiming.site.evidence import BAND_DB, SITE_DB, Evidence
from aiming.site.prediction import Points
from aiming.site.telling import _cost, _noisy, blind_deg, telling
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)


def together(count: int) -> Points:
    """Microphones all at one place: no difference between them, so that nothing is told."""
    return points(problem(), [8] * count, floor=False)


def test_microphones_at_one_place_leave_what_was_known_before() -> None:
    model = prediction(problem(), PLAN)
    told = telling(model, together(3))
    prior = np.sqrt(np.mean(np.square(TILT_DEG)))
    assert told.tilt_deg == pytest.approx(1.6449 * prior, rel=0.03)
    assert told.blind_deg is None
    # The rows' levels about their mean, as everything that may be leaves them.
    draws = Prior(4).first()
    rows = model.rows_db(draws)
    rows = rows - rows.mean(axis=1, keepdims=True)
    weight = weights(draws.log_weight)
    half = 1.6449 * np.sqrt(weight @ (rows - weight @ rows) ** 2)
    assert told.row_db == pytest.approx(half.mean(), rel=1e-6)
    assert told.worst_row_db == pytest.approx(half.max(), rel=1e-6)


def test_more_microphones_tell_more_of_everything() -> None:
    model = prediction(problem(), PLAN)
    few, many = (telling(model, points(problem(), at, floor=False))
                 for at in ([2, 14], list(range(17))))  # fmt: skip
    assert many.tilt_deg < 0.9 * few.tilt_deg
    assert many.row_db < 0.8 * few.row_db
    assert many.worst_row_db < few.worst_row_db
    assert few.row_db < few.worst_row_db


def test_a_narrow_lobe_and_small_errors_show_a_smaller_slip() -> None:
    """The wider the lobe, and the larger the errors, the larger a slip of the tilt that passes."""
    least = np.empty((3, 3))
    for row, half_deg in enumerate((8.0, 12.0, 20.0)):
        of = problem(half_deg=half_deg)
        model, at = prediction(of, PLAN), points(of, list(range(17)), floor=False)
        for column, (site_db, band_db) in enumerate(((0.1, 0.2), (0.7, 1.0), (2.0, 2.0))):
            errors = Evidence(np.zeros((4, 17)), site_db=site_db, band_db=band_db)
            least[row, column] = blind_deg(model, at, errors) or np.inf
    assert (np.diff(least[:, :2], axis=0) > 0.0).all()
    assert (np.diff(least[:2], axis=1) > 0.0).all()
    # 8° to the edge: 4° off are half of a lobe, and seen; errors of 2 dB hide every slip tried.
    assert least[0, 0] <= 4.0
    assert np.isinf(least[:, 2]).all()


def test_the_cost_of_a_draw_is_what_its_levels_leave_about_their_mean() -> None:
    # One band, each place with its own error of √(0.7² + 1²) dB, and a gain that is free: the
    # residuals' squares about their own mean, over that variance.
    rng = np.random.default_rng(3)
    evidence = Evidence(np.zeros((1, 5)))
    draws, sites = rng.normal(0.0, 3.0, (6, 1, 5)), rng.normal(0.0, 3.0, (2, 5))
    found = _cost(evidence, draws, sites)
    for site, heard in enumerate(sites):
        for draw, level in enumerate(draws[:, 0]):
            left = heard - level
            cost = ((left - left.mean()) ** 2).sum() / (SITE_DB**2 + BAND_DB**2)
            assert found[site, draw] == pytest.approx(-0.5 * cost)


def test_simulated_errors_are_those_of_places_and_bands() -> None:
    """Over many sites: 0.7 dB that a place's bands share beside 1 dB of each band for itself."""
    evidence = Evidence(np.zeros((2, 3)))
    noise = _noisy(evidence, np.zeros((4000, 2, 3)))
    covariance = np.cov(noise.T)
    # Level k of band b at place n stands at k = 3·b + n.
    for one in range(6):
        for other in range(6):
            shared = SITE_DB**2 if one % 3 == other % 3 else 0.0
            wanted = shared + (BAND_DB**2 if one == other else 0.0)
            assert covariance[one, other] == pytest.approx(wanted, abs=0.1)


def test_draws_at_other_tilts_are_the_same_otherwise() -> None:
    draws: Draws = Prior(4).first(257)
    turned = draws.at_tilt(np.full(257, 3.0))
    assert (turned.tilt_deg == 3.0).all()
    assert turned.width is draws.width

"""Likelihoods of levels, with gains, errors and blunders integrated out, against the long way."""

import numpy as np
import pytest
from scipy.stats import chi2, multivariate_normal

from aiming.site.evidence import BAND_DB, NOISIER, OFF_DB, SITE_DB, Blunder, Evidence

BANDS, PLACES = 3, 4
GAIN_DB = 3e3
"""A gain that may be anything, for the long way."""


def long_way(left: np.ndarray, noise: float, *, off: np.ndarray | None = None) -> float:
    """Log density of residuals (bands, n) with gains, errors and an off microphone as one normal
    distribution."""
    band, place = np.nonzero(np.ones_like(left, dtype=bool))
    covariance = (noise * SITE_DB) ** 2 * (place[:, None] == place)
    covariance = covariance + (noise * BAND_DB) ** 2 * np.eye(left.size)
    covariance = covariance + GAIN_DB**2 * (band[:, None] == band)
    if off is not None:
        covariance = covariance + OFF_DB**2 * np.outer(off.ravel(), off.ravel())
    return float(multivariate_normal(np.zeros(left.size), covariance).logpdf(left.ravel()))


def mixed(left: np.ndarray, *, off: np.ndarray | None = None) -> float:
    return float(np.logaddexp.reduce([np.log(p) + long_way(left, n, off=off) for n, p in NOISIER]))


@pytest.fixture
def level() -> np.ndarray:
    rng = np.random.default_rng(4)
    return rng.normal(0.0, 3.0, (BANDS, PLACES)) + rng.normal(0.0, 20.0, (BANDS, 1))


def test_differences_between_draws_are_those_of_the_long_way(level: np.ndarray) -> None:
    rng = np.random.default_rng(5)
    draws = rng.normal(0.0, 3.0, (6, BANDS, PLACES))
    evidence = Evidence(level)
    found = evidence.log_likelihood(draws)[0]
    wanted = np.array([mixed(level - one) for one in draws])
    assert found - found[0] == pytest.approx(wanted - wanted[0], abs=2e-3)


def test_a_gain_of_any_size_changes_nothing(level: np.ndarray) -> None:
    draws = np.zeros((1, BANDS, PLACES))
    louder = level + np.array([[30.0], [-80.0], [0.0]])
    assert Evidence(louder).log_likelihood(draws) == pytest.approx(
        Evidence(level).log_likelihood(draws), abs=1e-6
    )


def test_blunders_are_those_of_the_long_way(level: np.ndarray) -> None:
    evidence = Evidence(level)
    draws = np.zeros((1, BANDS, PLACES))
    found = evidence.log_likelihood(draws)[:, 0]
    kinds = [one.kind for one in evidence.blunders]
    share = {"none": 0.80, "microphone": 0.06 / 4, "band": 0.06 / 12, "swapped": 0.08 / 6}
    plain = mixed(level)
    for number, one in enumerate(evidence.blunders):
        off = np.zeros((BANDS, PLACES))
        left = level.copy()
        if one.kind == "microphone":
            off[:, one.places[0]] = 1.0
        elif one.kind == "band":
            off[one.band, one.places[0]] = 1.0
        elif one.kind == "swapped":
            left[:, list(one.places)] = left[:, list(one.places)[::-1]]
        wanted = mixed(left, off=off if off.any() else None) - plain
        wanted += np.log(share[one.kind] / share["none"])
        assert found[number] - found[0] == pytest.approx(wanted, abs=5e-3), one
    assert kinds.count("swapped") == 6
    assert kinds.count("microphone") == 4


def test_levels_that_were_not_measured_count_for_nothing(level: np.ndarray) -> None:
    holed = level.copy()
    holed[1, 2] = np.nan
    rng = np.random.default_rng(6)
    draws = rng.normal(0.0, 2.0, (3, BANDS, PLACES))
    other = draws.copy()
    other[:, 1, 2] += 50.0
    evidence = Evidence(holed)
    assert evidence.log_likelihood(draws)[0] == pytest.approx(evidence.log_likelihood(other)[0])


def test_sets_have_gains_of_their_own() -> None:
    level = np.zeros((BANDS, PLACES))
    level[:, 2:] += 17.0
    draws = np.zeros((1, BANDS, PLACES))
    one = Evidence(level).log_likelihood(draws)[0, 0]
    two = Evidence(level, sets=np.array([0, 0, 1, 1])).log_likelihood(draws)[0, 0]
    assert two > one + 50.0


def test_the_size_of_what_is_off_is_told() -> None:
    rng = np.random.default_rng(7)
    level = rng.normal(0.0, 0.2, (BANDS, 6))
    level[:, 3] += 8.0
    evidence = Evidence(level)
    size = evidence.size_db(Blunder("microphone", (3,)), np.zeros((1, BANDS, 6)))
    assert size == pytest.approx(8.0, abs=0.8)


def test_what_nothing_explains_is_a_misfit() -> None:
    rng = np.random.default_rng(8)
    draws = np.zeros((1, BANDS, 6))
    assert not Evidence(rng.normal(0.0, 1.2, (BANDS, 6))).misfit(draws)
    assert Evidence(rng.normal(0.0, 8.0, (BANDS, 6))).misfit(draws)


@pytest.mark.parametrize("places", [4, 9])
def test_a_misfit_is_what_chance_leaves_once_in_a_thousand(places: int) -> None:
    """At twice the errors, the squares about each band's mean are χ² of n − 1 for each band."""
    rng = np.random.default_rng(places)
    left = rng.normal(0.0, 1.0, (2, places))
    # One error of a band alone at each place: the covariance is 4·0.8² on the diagonal.
    squares = ((left - left.mean(axis=1, keepdims=True)) ** 2).sum() / (2.0 * 0.8) ** 2
    limit = chi2.ppf(0.999, 2 * (places - 1))
    draws = np.zeros((1, 2, places))
    for share, misfit in ((0.98, False), (1.02, True)):
        level = left * np.sqrt(share * limit / squares) + np.array([[20.0], [-9.0]])
        assert Evidence(level, site_db=0.0, band_db=0.8).misfit(draws) is misfit
        # The best of the draws counts, and that one explains everything.
        better = np.concatenate([draws, level[np.newaxis]])
        assert not Evidence(level, site_db=0.0, band_db=0.8).misfit(better)


def test_what_may_be_wrong_takes_three_places_to_tell() -> None:
    kinds = [[one.kind for one in Evidence(np.zeros((3, n))).blunders] for n in (2, 3)]
    assert kinds[0] == ["none"]
    assert [kinds[1].count(one) for one in ("none", "microphone", "band", "swapped")] == [
        1,
        3,
        9,
        3,
    ]
    # A place with one band is off in that band or as a whole: the same, so it is asked once.
    single = np.zeros((3, 4))
    single[1:, 3] = np.nan
    blunders = Evidence(single).blunders
    assert sum(one.kind == "band" for one in blunders) == 9
    assert sum(one.kind == "microphone" for one in blunders) == 4
    # A place that was not measured is no place.
    single[0, 3] = np.nan
    assert sum(one.kind == "microphone" for one in Evidence(single).blunders) == 3


def test_low_coherence_widens_the_errors_by_its_own_variance() -> None:
    # Two levels of one band at two places, one of them with a doubt of 1.5 dB: their difference is
    # N(0, 2·noise² + 1.5²), whatever the gain.
    draws = np.array([[[0.0, 3.0]], [[0.0, 0.0]], [[0.0, -1.0]]])
    usual = 0.4**2 + 0.7**2
    evidence = Evidence(np.zeros((1, 2)), np.array([[1.5, 0.0]]), site_db=0.4, band_db=0.7)
    found = evidence.log_likelihood(draws)[0]
    apart = draws[:, 0, 1] - draws[:, 0, 0]
    wanted = np.logaddexp.reduce(
        [
            np.log(p) - 0.5 * (np.log(v) + apart**2 / v)
            for n, p in NOISIER
            for v in [2.0 * n**2 * usual + 1.5**2]
        ]
    )
    assert found - found[0] == pytest.approx(wanted - wanted[0], abs=1e-9)
    root = evidence.noise_root
    assert root @ root.T == pytest.approx(np.diag([usual + 1.5**2, usual]))


def test_a_place_with_a_hole_may_be_off_as_any_other(level: np.ndarray) -> None:
    holed = level.copy()
    holed[1, 2] = np.nan
    blunders = Evidence(holed).blunders
    assert [one.places for one in blunders if one.kind == "microphone"] == [(0,), (1,), (2,), (3,)]
    assert sum(one.kind == "swapped" for one in blunders) == 6
    assert sum(one.kind == "band" for one in blunders) == 11

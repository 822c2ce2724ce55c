"""The fixed draws: their distributions by closed forms, and that readings only make them denser."""

import numpy as np
import pytest

from aiming.site.draws import (
    EDGE_DB,
    HEIGHT_M,
    ROOM_NONE,
    TILT_DEG,
    WIDTH,
    Draws,
    Near,
    Prior,
    effective,
    share_below,
    weights,
)


def weighed(draws: Draws, name: str) -> tuple[float, float]:
    """Mean and standard deviation of a quantity under its weights."""
    weight = weights(draws.log_weight)
    value = getattr(draws, name)
    mean = float(weight @ value)
    return mean, float(np.sqrt(weight @ (value - mean) ** 2))


def test_the_draws_have_the_priors_deviations() -> None:
    draws = Prior(4).first(4093)
    for name, wanted in (
        ("tilt_deg", np.sqrt(np.mean(np.square(TILT_DEG)))),
        ("height_m", np.sqrt(np.mean(np.square(HEIGHT_M)))),
        ("edge_db", EDGE_DB),
    ):
        mean, deviation = weighed(draws, name)
        assert mean == pytest.approx(0.0, abs=0.05 * wanted)
        assert deviation == pytest.approx(wanted, rel=0.03)
    assert np.log(draws.width).std() == pytest.approx(WIDTH, rel=0.02)
    assert draws.floor.mean() == pytest.approx(0.5, abs=0.01)
    assert np.isinf(draws.room_db).mean() == pytest.approx(ROOM_NONE, abs=0.01)
    assert np.isfinite(draws.tilt_deg).all()


def test_every_quantity_has_its_own_distribution_and_none_goes_with_another() -> None:
    draws = Prior(4).first(4093)
    assert weighed(draws, "x_m")[1] == pytest.approx(np.sqrt((0.1**2 + 0.4**2) / 2.0), rel=0.03)
    assert draws.skew_db.std() == pytest.approx(0.7, rel=0.02)
    assert np.log(draws.shape).std() == pytest.approx(0.15, rel=0.02)
    assert draws.own_db.shape == (4093, 4)
    assert draws.own_db.std(axis=0) == pytest.approx(0.7, rel=0.02)
    # Even from 0 to 1, and from −12 to +6 dB where there is a room.
    room = draws.room_db[np.isfinite(draws.room_db)]
    for value, low, high in ((draws.floor, 0.0, 1.0), (room, -12.0, 6.0)):
        quartiles = low + (high - low) * np.array([0.25, 0.5, 0.75])
        assert np.quantile(value, [0.25, 0.5, 0.75]) == pytest.approx(
            quartiles, abs=0.01 * (high - low)
        )
        assert value.min() >= low
        assert value.max() <= high
    every = [draws.tilt_deg, draws.height_m, draws.x_m, np.log(draws.width), draws.edge_db,
             draws.skew_db, np.log(draws.shape), draws.floor, np.isfinite(draws.room_db) * 1.0,
             *draws.own_db.T]  # fmt: skip
    together = np.corrcoef(every) - np.eye(len(every))
    assert np.abs(together).max() < 0.06


@pytest.mark.parametrize("name", ["tilt", "height", "x"])
def test_a_mixture_of_careful_and_careless_has_the_quantiles_of_both(name: str) -> None:
    """Φ(t/σ) of two normal distributions at even odds, whatever was read."""
    careful, careless = {"tilt": (1.5, 5.0), "height": (0.05, 0.2), "x": (0.1, 0.4)}[name]
    for near in ((), (Near(2.0 * careful, 0.2 * careful),)):
        draws = Prior(4, **{name: near}).first(4093)
        value = getattr(draws, {"tilt": "tilt_deg", "height": "height_m", "x": "x_m"}[name])
        weight = weights(draws.log_weight)
        for at in (-1.2 * careless, -careful, 0.3 * careful, 2.0 * careful, 1.5 * careless):
            wanted = share_below(np.array([at / careful, at / careless])).mean()
            assert float(weight[value <= at].sum()) == pytest.approx(wanted, abs=0.012)


def test_readings_make_draws_denser_and_not_likelier() -> None:
    plain, near = Prior(4).first(4093), Prior(4, tilt=(Near(-9.0, 0.3),)).first(4093)
    close = np.abs(near.tilt_deg + 9.0) < 0.5
    assert close.sum() > 20 * (np.abs(plain.tilt_deg + 9.0) < 0.5).sum()
    assert weighed(near, "tilt_deg")[1] == pytest.approx(weighed(plain, "tilt_deg")[1], rel=0.05)


def test_the_second_draws_have_the_same_posterior_and_more_of_it() -> None:
    # A posterior with a closed form: prior N(0, EDGE_DB²) times a likelihood N(1.5, 0.4²) of edge.
    prior = Prior(4)
    first = prior.first()

    def log(draws: Draws) -> np.ndarray:
        return draws.log_weight - 0.5 * ((draws.edge_db - 1.5) / 0.4) ** 2

    second = prior.second(first, (log(first),))
    weight = weights(log(second))
    variance = 1.0 / (1.0 / EDGE_DB**2 + 1.0 / 0.4**2)
    mean = variance * 1.5 / 0.4**2
    assert weight @ second.edge_db == pytest.approx(mean, abs=0.03)
    spread = np.sqrt(weight @ (second.edge_db - mean) ** 2)
    assert spread == pytest.approx(np.sqrt(variance), rel=0.05)
    share = effective(weights(log(first))) / len(first)
    assert effective(weight) / len(second) > 1.3 * share


def test_second_draws_find_what_few_of_the_first_ones_explain() -> None:
    # N(0, EDGE_DB²) times N(1.5, 0.1²), and the skew within 0.1 as well: nine of the first draws.
    prior = Prior(4)
    first = prior.first()

    def log(draws: Draws) -> np.ndarray:
        away = (draws.edge_db - 1.5) ** 2 + (draws.skew_db + 0.5) ** 2
        return draws.log_weight - 0.5 * away / 0.1**2

    assert effective(weights(log(first))) < 10.0
    second = prior.second(first, (log(first),))
    weight = weights(log(second))
    assert effective(weight) > 40.0
    assert weight @ second.edge_db == pytest.approx(1.5 / (1.0 + (0.1 / EDGE_DB) ** 2), abs=0.02)


def test_laid_out_boxes_have_no_floor_no_room_and_a_known_place() -> None:
    draws = Prior(4, laid_out=True, width=0.25).first()
    assert not draws.floor.any()
    assert np.isinf(draws.room_db).all()
    assert not draws.height_m.any()
    assert np.log(draws.width).std() == pytest.approx(0.25, rel=0.03)


def test_shares_of_the_normal_distribution() -> None:
    # Standard normal table: Φ(1.6449) = 0.95, Φ(−1.96) = 0.025.
    assert share_below(np.array([1.6449, -1.96, 0.0])) == pytest.approx(
        [0.95, 0.025, 0.5], abs=1e-4
    )


def test_a_height_that_was_read_makes_draws_denser_and_not_likelier() -> None:
    plain, near = Prior(4).first(4093), Prior(4, height=(Near(0.3, 0.02),)).first(4093)
    assert weighed(near, "height_m")[0] == pytest.approx(0.0, abs=0.01)
    assert weighed(near, "height_m")[1] == pytest.approx(weighed(plain, "height_m")[1], rel=0.05)


def test_second_draws_that_nothing_was_measured_for_have_the_prior_again() -> None:
    prior = Prior(4)
    first = prior.first()
    second = prior.second(first, (first.log_weight,))
    weight = weights(second.log_weight)
    deviation = np.sqrt(weight @ second.z**2)
    # 13 quantities, each standard normal; the tilt's z was drawn wider.
    assert deviation[1:].mean() == pytest.approx(1.0, abs=0.015)

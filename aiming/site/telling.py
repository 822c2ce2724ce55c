"""What microphones at these positions can tell, before and after they have measured.

Sites are simulated with the estimate's own model, and the same draws weighed by each of them: how
well every row's level is then known, how well the tilt, and how often an inclinometer that is wrong
by so much would be spoken against.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ..base.arrays import FloatArray
from .draws import Draws, Near, Prior, log_sum, weights
from .evidence import Evidence
from .prediction import Points, Prediction
from .reading_equations import INTERVAL, SEATED_DEG
from .readings import DEFAULT_DOUBT
from .words import SPEAKS_AGAINST

TRIED_DEG = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0)
SITES = 12
"""Simulated sites for each error, up and down."""
SEEN = 0.9
"""Share of sites in which an error must be seen."""
READING_DEG = float(np.hypot(DEFAULT_DOUBT["inclinometer"] / INTERVAL, SEATED_DEG))
PLANNED_SITES = 24


@dataclass(frozen=True)
class Telling:
    """Halves of 90 % intervals, expected."""

    tilt_deg: Annotated[float, "half of the tilt's 90 % interval, degrees"]
    row_db: Annotated[
        float,
        "half of that of a row's level about the mean of all, on average, dB",
    ]
    worst_row_db: Annotated[float, "the same at the worst row, dB"]
    blind_deg: Annotated[
        float | None,
        "the least error of an inclinometer that they would speak against in nine of ten sites, "
        "degrees; null where it is larger than any tried",
    ]


def telling(prediction: Prediction, points: Points) -> Telling:
    """What levels at these points would tell of a box hung about as planned."""
    evidence = Evidence(np.zeros((prediction.bands, len(points))))
    draws = Prior(prediction.bands).first()
    rows = prediction.rows_db(draws)
    rows = rows - rows.mean(axis=1, keepdims=True)
    prior = weights(draws.log_weight)
    which = np.searchsorted(np.cumsum(prior), (np.arange(PLANNED_SITES) + 0.5) / PLANNED_SITES)
    cost = _cost(evidence, prediction.levels_db(points, draws), _noisy(
        evidence, prediction.levels_db(points, draws.pick(which))))  # fmt: skip
    tilts, levels = [], []
    for one in cost:
        weight = weights(one + draws.log_weight)
        tilts.append(_deviation(draws.tilt_deg[:, np.newaxis], weight)[0])
        levels.append(_deviation(rows, weight))
    row = INTERVAL * np.mean(levels, axis=0)
    return Telling(
        tilt_deg=INTERVAL * float(np.mean(tilts)),
        row_db=float(row.mean()),
        worst_row_db=float(row.max()),
        blind_deg=blind_deg(prediction, points, evidence),
    )


def blind_deg(prediction: Prediction, points: Points, evidence: Evidence) -> float | None:
    """The least error of an inclinometer that these levels would speak against in nine of ten
    sites; None where it is larger than any tried.

    It is taken to have read the planned tilt, with the draws denser there.
    """
    draws = Prior(prediction.bands, tilt=(Near(0.0, READING_DEG),)).first()
    free = draws.log_weight
    near = free - 0.5 * (draws.tilt_deg / READING_DEG) ** 2
    cost = _cost(
        evidence, prediction.levels_db(points, draws), _wrong(prediction, points, evidence)
    )

    def mean(log: FloatArray) -> FloatArray:
        return log_sum(cost + log, axis=1) - log_sum(log, axis=0)

    seen = (mean(free) - mean(near) > np.log(SPEAKS_AGAINST)).reshape(len(TRIED_DEG), -1)
    share = seen.mean(axis=1)
    return next((e for k, e in enumerate(TRIED_DEG) if (share[k:] >= SEEN).all()), None)


def _wrong(prediction: Prediction, points: Points, evidence: Evidence) -> FloatArray:
    """(tried · 2 · SITES, m) noisy levels of sites at every tried error, up and down."""
    draws = Prior(prediction.bands).first()
    count = len(TRIED_DEG) * 2 * SITES
    # Even draws of everything but the tilt, which is set.
    others: Draws = draws.pick((np.arange(count) * 37) % len(draws))
    signs = np.tile(np.repeat([1.0, -1.0], SITES), len(TRIED_DEG))
    tilt = np.repeat(np.array(TRIED_DEG), 2 * SITES) * signs
    return _noisy(evidence, prediction.levels_db(points, others.at_tilt(tilt)))


def _noisy(evidence: Evidence, levels_db: FloatArray) -> FloatArray:
    """(s, m) with the usual errors; the same every time, so that the answer is."""
    level = levels_db[:, evidence.known]
    noise = np.random.default_rng(18).normal(size=level.shape)
    return np.asarray(level + noise @ evidence.noise_root.T)


def _cost(evidence: Evidence, levels_db: FloatArray, simulated: FloatArray) -> FloatArray:
    """(s, d) log likelihood of every draw at every simulated site."""
    heard = levels_db[:, evidence.known] @ evidence.root
    at = simulated @ evidence.root
    apart = (heard**2).sum(axis=1) - 2.0 * at @ heard.T + (at**2).sum(axis=1)[:, np.newaxis]
    return np.asarray(-0.5 * apart)


def _deviation(value: FloatArray, weight: FloatArray) -> FloatArray:
    """(k,) of weighed values (d, k)."""
    mean = weight @ value
    return np.asarray(np.sqrt(weight @ (value - mean) ** 2))

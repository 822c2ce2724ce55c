"""One estimate from everything: levels and readings together, and what may be wrong with either.

Every draw is weighed by how well it explains the levels (evidence) and what was read, where a
reading may be right, may have lost its sign, or may be a gross slip.  What is asked for, tilt,
place, pattern, the level of every row, is then a weighted quantile over the draws.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated

import numpy as np

from ..base.arrays import FloatArray, IntArray
from .draws import HEIGHT_M, TILT_DEG, WIDTH, Draws, Near, Prior, log_sum, weights
from .evidence import Blunder, Evidence
from .prediction import Points, Prediction
from .reading_equations import INTERVAL, STATES, Equation, State

LOW, HIGH = 0.05, 0.95
BY_LEVELS = (0.06, 0.94)
"""Quantiles that hold the truth in 90 % where levels alone tell a quantity: patterns, floors and
rooms of sites simulated from another model are mostly tamer than the priors let them be."""
KEPT = 512
"""Even draws that rows and moves are looked at with."""
NARROWER = {"tilt": 20.0, "height": 0.3, "width": 0.2}
"""A quantity is not told unless its 90 % interval, without the prior, would be narrower."""
PRIOR_DEVIATION = {
    "tilt": float(np.sqrt(np.mean(np.square(TILT_DEG)))),
    "height": float(np.sqrt(np.mean(np.square(HEIGHT_M)))),
    "width": WIDTH,
}


@dataclass(frozen=True)
class Interval:
    """A value with its 90 % interval."""

    value: Annotated[float, "the estimate"]
    low: Annotated[float, "lower end of its 90 % interval"]
    high: Annotated[float, "upper end"]

    @property
    def half(self) -> float:
        """Half of its width."""
        return 0.5 * (self.high - self.low)

    def holds(self, value: float) -> bool:
        """Whether the value lies in the interval."""
        return self.low <= value <= self.high


@dataclass(frozen=True, eq=False)
class Estimate:
    """What may be, weighed.

    draws, and their weights (d,): by everything; by the levels alone; by everything, if each
        reading is in its likeliest state, and (places, d) if one microphone is a slip besides
    states (readings, 3): how likely each reading is in each of STATES
    blunders: what may be wrong with the levels, and how likely each is
    """

    prediction: Prediction
    equations: tuple[Equation, ...]
    evidence: Evidence | None
    draws: Draws
    weight: FloatArray
    levels_weight: FloatArray
    likeliest_weight: FloatArray
    slip_weights: FloatArray
    states: FloatArray
    blunders: tuple[tuple[Blunder, float], ...]
    log_levels: FloatArray

    def interval(self, name: str, *, levels_only: bool = False) -> Interval | None:
        """Of "tilt", "height", "x" or "width" (a factor); None where nothing tells it.

        Where readings tell it, it holds if each reading is in its likeliest state.
        """
        weight = self.levels_weight if levels_only else self.likeliest_weight
        value = self._quantity(name)
        read = any(one.tells == name for one in self.equations) and not levels_only
        if read:
            return quantile_interval(value, weight)
        found = quantile_interval(value, weight, BY_LEVELS)
        if name == "x":
            return None
        # What the prior brings is taken out again: normal parts add by their inverse variance.
        deviation = found.half / INTERVAL
        told = deviation**-2 - PRIOR_DEVIATION[name] ** -2
        wide = 2.0 * INTERVAL * told**-0.5 if told > 0.0 else np.inf
        return found if wide < NARROWER[name] else None

    def _quantity(self, name: str) -> FloatArray:
        return {
            "tilt": self.draws.tilt_deg,
            "height": self.draws.height_m,
            "x": self.draws.x_m,
            "width": self.draws.width,
        }[name]

    @cached_property
    def kept(self) -> Draws:
        """KEPT even draws of everything that may be."""
        return self.draws.pick(even(self.weight, KEPT))

    @cached_property
    def rows_db(self) -> FloatArray:
        """(KEPT, rows) design level of the rows served about their own mean."""
        level = self.prediction.rows_db(self.kept)
        return np.asarray(level - level.mean(axis=1, keepdims=True))

    @cached_property
    def row_intervals(self) -> FloatArray:
        """(3, rows) middle, low and high of the level of each row about the mean of all."""
        return np.asarray(np.quantile(self.rows_db, [0.5, LOW, HIGH], axis=0))

    def prior_levels(self, points: Points) -> FloatArray:
        """(d, bands, n) levels that the planned aim would let be heard: pattern, floor and room in
        doubt."""
        few = Prior(self.prediction.bands).first(251)
        kept = weights(few.log_weight)
        few = few.pick(even(kept, 251))
        nothing = np.zeros(len(few))
        few = replace(few, tilt_deg=nothing, height_m=nothing, x_m=nothing)
        return self.prediction.levels_db(points, few)

    def state(self, reading: int) -> State:
        """The likeliest one of a reading."""
        return STATES[int(np.argmax(self.states[reading]))]

    @property
    def likeliest_blunder(self) -> tuple[Blunder, float]:
        """The likeliest of what may be wrong with the levels, none among them."""
        return max(self.blunders, key=lambda pair: pair[1])

    @property
    def sound(self) -> bool:
        """Whether no blunder, of levels or readings, is likelier than none."""
        levels = self.evidence is None or self.none >= 0.5
        return levels and all(self.state(k) == "right" for k in range(len(self.equations)))

    @property
    def none(self) -> float:
        """How likely nothing is wrong with the levels."""
        return next((likely for one, likely in self.blunders if one.kind == "none"), 1.0)

    @cached_property
    def against(self) -> float:
        """How many times better the levels fit the tilts that may be, than the tilt that was read.

        1 where nothing is measured or read.
        """
        told = [one for one in self.equations if one.tells == "tilt"]
        if self.evidence is None or not told:
            return 1.0
        plan = self.prediction.plan
        free = self.draws.log_weight
        read = free + sum(
            (one.log_states(self.draws, plan)[0] for one in told), np.zeros(len(self.draws))
        )
        level = self.log_levels

        def mean(log: FloatArray) -> float:
            return float(log_sum(log + level, axis=0) - log_sum(log, axis=0))

        return float(np.exp(np.clip(mean(free) - mean(read), -50.0, 50.0)))


def estimate(
    prediction: Prediction,
    points: Points | None,
    evidence: Evidence | None,
    equations: tuple[Equation, ...] = (),
    *,
    prior: Prior | None = None,
) -> Estimate:
    """Weigh what may be by levels at points, by readings, or by both."""
    plan = prediction.plan

    def near(tells: str) -> tuple[Near, ...]:
        return tuple(n for one in equations if one.tells == tells for n in one.near(plan))

    if prior is None:
        prior = Prior(
            prediction.bands,
            tilt=near("tilt"),
            height=near("height"),
            x=near("x"),
        )

    def weighed(draws: Draws) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(blunders, d), (readings, 3, d) and (d,) log likelihoods."""
        by_blunder = np.zeros((1, len(draws)))
        if evidence is not None:
            assert points is not None, "levels are heard at points"
            by_blunder = evidence.log_likelihood(prediction.levels_db(points, draws))
        by_state = np.array([one.log_states(draws, plan) for one in equations]).reshape(
            len(equations), len(STATES), len(draws)
        )
        levels = log_sum(by_blunder, axis=0)
        return by_blunder, by_state, levels

    def posterior(draws: Draws, by_state: FloatArray, levels: FloatArray) -> FloatArray:
        return np.asarray(draws.log_weight + levels + log_sum(by_state, axis=1).sum(axis=0))

    draws = prior.first()
    _, by_state, levels = weighed(draws)
    wanted = [posterior(draws, by_state, levels)]
    if equations and evidence is not None:
        wanted.append(draws.log_weight + levels)
    draws = prior.second(draws, tuple(wanted))
    by_blunder, by_state, levels = weighed(draws)
    log = posterior(draws, by_state, levels)
    weight = weights(log)
    share = np.exp(by_state - log_sum(by_state, axis=1)[:, np.newaxis])
    states = share @ weight
    likeliest = weight.copy()
    for k in range(len(equations)):
        likeliest = likeliest * share[k, int(np.argmax(states[k]))]
    held = evidence.blunders if evidence is not None else (Blunder("none"),)
    chance = np.exp(by_blunder - levels) @ weight
    return Estimate(
        prediction=prediction,
        equations=equations,
        evidence=evidence,
        draws=draws,
        weight=weight,
        levels_weight=weights(draws.log_weight + levels),
        likeliest_weight=_even_share(likeliest),
        slip_weights=np.array(
            [
                _even_share(likeliest * np.exp(by_blunder[k] - levels))
                for k, one in enumerate(held)
                if one.kind == "microphone"
            ]
        ),
        states=states,
        blunders=tuple((one, float(likely)) for one, likely in zip(held, chance, strict=True)),
        log_levels=levels,
    )


def _even_share(weight: FloatArray) -> FloatArray:
    """Weights that sum to 1."""
    return np.asarray(weight / max(float(weight.sum()), 1e-300))


def quantile_interval(
    value: FloatArray, weight: FloatArray, ends: tuple[float, float] = (LOW, HIGH)
) -> Interval:
    """Median and 90 % interval of weighed values."""
    order = np.argsort(value, kind="stable")
    below = np.cumsum(weight[order]) - 0.5 * weight[order]
    middle, low, high = np.interp([0.5, *ends], below, value[order])
    return Interval(float(middle), float(low), float(high))


def even(weight: FloatArray, count: int) -> IntArray:
    """Indices of count draws that stand for the weighed ones (systematic resampling)."""
    wanted = (np.arange(count) + 0.5) / count * weight.sum()
    return np.asarray(np.searchsorted(np.cumsum(weight), wanted).clip(0, len(weight) - 1))

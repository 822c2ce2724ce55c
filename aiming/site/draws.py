"""What may be, before anything is measured: the priors, and fixed draws from them.

Every quantity is a table of quantiles read at Φ(z), z standard normal.  The z are the points of a
Korobov lattice, k·aʲ mod N with N prime (N. M. Korobov, 1959, from memory): every quantity alone is
spread evenly over its distribution, and the same question always gives the same draws.  What was
measured leaves few of the first draws standing; a second set is drawn from a normal distribution
fitted to those, and weighted by prior over proposal (adaptive importance sampling).

    tilt       half of them N(0, 1.5°), half N(0, 5°), hung minus planned
    height, x  as measured out (0.05 m, 0.1 m) or carelessly (0.2 m, 0.4 m), at even odds
    pattern    width 10 %; its lobe flatter or more pointed: angles inside the edge to the power of
               1 ± 0.15; 1.2 dB more or less at the edge; 0.7 dB louder above than below it; 0.7 dB
               of each band for itself at the edge
    floor      sends back 0 to all of the sound, on its exact way
    room       none in every other; else a sound of its own, −12 to +6 dB re the direct sound at the
               back

Standard deviations; no published deviation of boxes from their data was found, so they are our own.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ..base.arrays import FloatArray, IntArray

FIRST, SECOND = 1021, 2503
"""Draws; primes."""
QUANTITIES = 9
"""Drawn beside one of each band."""
FACTOR = 1516
TILT_DEG = (1.5, 5.0)
HEIGHT_M = (0.05, 0.2)
X_M = (0.1, 0.4)
WIDTH = 0.10
EDGE_DB = 1.2
SKEW_DB = 0.7
SHAPE = 0.15
OWN_DB = 0.7
ROOM_NONE = 0.5
ROOM_DB = (-12.0, 6.0)
ELSEWHERE_DEG = 9.0
"""Draws of tilt reach further than the prior by this, so that a gross slip finds draws there."""
PRIOR_AGAIN = 0.25
"""Share of the second draws that comes from the prior again, so that no weight runs away."""
WIDER = 1.15
"""The second draws reach this much further than what was fitted to the first."""
ENOUGH = 120.0
"""Effective number of first draws that a fit of their covariance needs."""


@dataclass(frozen=True, eq=False)
class Draws:
    """What may be, (d,) each, hung minus planned where the plan has it.

    width: factor on the pattern's angles; shape: power of them in half-angles; edge_db: added at
    the coverage edge; skew_db: added at the
    edge above the axis and taken off below it; own_db (d, bands): of each band, at the edge
    floor: share of the sound pressure that the floor sends back, 0 to 1
    room_db: the room's own sound re the direct sound at the back; −inf for none
    z (d, quantities): what they were read at
    log_weight: of the prior over the density that they were drawn from
    """

    tilt_deg: FloatArray
    height_m: FloatArray
    x_m: FloatArray
    width: FloatArray
    shape: FloatArray
    edge_db: FloatArray
    skew_db: FloatArray
    own_db: FloatArray
    floor: FloatArray
    room_db: FloatArray
    z: FloatArray
    log_weight: FloatArray

    def __len__(self) -> int:
        return len(self.tilt_deg)

    def pick(self, which: IntArray) -> "Draws":
        """These draws."""
        return Draws(**{name: held[which] for name, held in vars(self).items()})

    def at_tilt(self, tilt_deg: FloatArray) -> "Draws":
        """The same with other departures of the tilt."""
        return replace(self, tilt_deg=tilt_deg)


@dataclass(frozen=True)
class Near:
    """Where a reading says that a quantity is: its draws are denser there, and weigh less."""

    value: float
    deviation: float


class Prior:
    """What may be of one loudspeaker."""

    def __init__(
        self,
        bands: int,
        *,
        tilt: tuple[Near, ...] = (),
        height: tuple[Near, ...] = (),
        x: tuple[Near, ...] = (),
        aimed_deg: tuple[float, float] = TILT_DEG,
        laid_out: bool = False,
        width: float = WIDTH,
    ) -> None:
        """laid_out: on open ground, its place known, without floor and room; the axis turned by eye
        to within aimed_deg; width: standard deviation of the pattern's width, a share"""
        self.bands, self.laid_out, self.width = bands, laid_out, width
        self._tilt = _Departure(aimed_deg, tilt, wider=0.0 if laid_out else ELSEWHERE_DEG)
        self._height = _Departure(HEIGHT_M, height)
        self._x = _Departure(X_M, x)

    def first(self, count: int = FIRST) -> Draws:
        """Draws from the prior, denser where a reading points."""
        return self._read(_lattice(count, QUANTITIES + self.bands), 0.0)

    def second(
        self, first: Draws, log_posteriors: tuple[FloatArray, ...], count: int = SECOND
    ) -> Draws:
        """Draws from where the first ones explain the measurements.

        log_posteriors (d,) of the first ones, log_weight included: each gets an even share
        """
        dims = first.z.shape[1]
        z = _lattice(count, dims)
        fits = [_fitted(first.z, one) for one in log_posteriors]
        part = (1.0 - PRIOR_AGAIN) / len(fits)
        # Which draw comes from which part is spread evenly over the lattice.
        which = (np.arange(count) * 0.6180339887 % 1.0 - PRIOR_AGAIN) / part
        for k, (mean, root) in enumerate(fits):
            of = (which >= k) & (which < k + 1)
            z[of] = mean + z[of] @ root.T
        log_prior = -0.5 * (z**2).sum(axis=1)
        mixed = np.log(PRIOR_AGAIN) + log_prior
        for mean, root in fits:
            inner = np.linalg.solve(root, (z - mean).T)
            log_fit = -0.5 * (inner**2).sum(axis=0) - np.log(np.diag(root)).sum()
            mixed = np.logaddexp(mixed, np.log(part) + log_fit)
        return self._read(z, log_prior - mixed)

    def _read(self, z: FloatArray, log_weight: FloatArray | float) -> Draws:
        share = share_below(z[:, :5])
        tilt, tilt_weight = self._tilt.read(share[:, 0])
        height, height_weight = self._height.read(share[:, 1])
        x, x_weight = self._x.read(share[:, 2])
        floor, room = share[:, 3], (share[:, 4] - ROOM_NONE) / (1.0 - ROOM_NONE)
        low, high = ROOM_DB
        if self.laid_out:
            height, x, floor = (np.zeros(len(z)) for _ in range(3))
            height_weight = x_weight = 0.0 * tilt_weight
            room = room * 0.0
        return Draws(
            tilt_deg=tilt,
            height_m=height,
            x_m=x,
            width=np.exp(self.width * z[:, 5]),
            edge_db=EDGE_DB * z[:, 6],
            skew_db=SKEW_DB * z[:, 7],
            shape=np.exp(SHAPE * z[:, 8]),
            own_db=OWN_DB * z[:, QUANTITIES:],
            floor=floor,
            room_db=np.where(room > 0.0, low + room * (high - low), -np.inf),
            z=z,
            log_weight=tilt_weight + height_weight + x_weight + log_weight,
        )


def _lattice(count: int, dims: int) -> FloatArray:
    """(count, dims) standard normal."""
    factors = [pow(FACTOR, column, count) for column in range(dims)]
    place = np.arange(count)[:, np.newaxis] * np.array(factors) % count
    return np.asarray(_normal_quantiles(count)[place])


@cache
def _normal_quantiles(count: int) -> FloatArray:
    grid, table = _normal_table()
    return np.asarray(np.interp((np.arange(count) + 0.5) / count, table, grid))


@cache
def _normal_table() -> tuple[FloatArray, FloatArray]:
    from statistics import NormalDist

    grid = np.linspace(-6.0, 6.0, 2401)
    return grid, np.array([NormalDist().cdf(float(one)) for one in grid])


def share_below(z: FloatArray) -> FloatArray:
    """Share of a standard normal distribution below z."""
    grid, table = _normal_table()
    place = np.clip((z - grid[0]) / (grid[1] - grid[0]), 0.0, len(grid) - 1.001)
    low = place.astype(np.intp)
    return np.asarray(table[low] + (place - low) * (table[low + 1] - table[low]))


class _Departure:
    """An even mixture of two normal distributions about 0, drawn more densely near readings."""

    def __init__(
        self, deviations: tuple[float, float], near: tuple[Near, ...], *, wider: float = 0.0
    ) -> None:
        self.prior = [(0.5, 0.0, one) for one in deviations]
        parts = self.prior.copy()
        parts += [(0.3, 0.0, wider)] if wider else []
        parts += [(1.0 / len(near), one.value, one.deviation) for one in near]
        total = sum(part for part, _, _ in parts)
        self.drawn = [(part / total, mean, one) for part, mean, one in parts]
        low = min(mean - 5.0 * one for _, mean, one in parts)
        high = max(mean + 5.0 * one for _, mean, one in parts)
        finest = min(one for _, _, one in parts)
        self.grid = np.linspace(low, high, min(6001, int(8.0 * (high - low) / finest) + 2))
        density = _mixture(self.grid, self.drawn)
        summed = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
        self.below = summed / summed[-1]

    def read(self, share: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values, and the log of prior over drawn density."""
        value = np.asarray(np.interp(share, self.below, self.grid))
        ratio: FloatArray = np.log(_mixture(value, self.prior) + 1e-300)
        return value, ratio - np.log(_mixture(value, self.drawn))


def _mixture(value: FloatArray, parts: list[tuple[float, float, float]]) -> FloatArray:
    return np.asarray(
        sum(part * np.exp(-0.5 * ((value - mean) / one) ** 2) / one for part, mean, one in parts)
    )


def weights(log_posterior: FloatArray) -> FloatArray:
    """(d,) that sum to 1."""
    found = np.exp(log_posterior - log_posterior.max())
    return np.asarray(found / found.sum())


def log_sum(log: FloatArray, *, axis: int) -> FloatArray:
    """The log of summed exponentials, some of which may be −∞ but not all."""
    top = log.max(axis=axis, keepdims=True)
    summed = np.exp(log - top).sum(axis=axis)
    return np.asarray(np.squeeze(top, axis=axis) + np.log(summed))


def effective(weight: FloatArray) -> float:
    """How many even draws these weights are worth."""
    return float(1.0 / (weight**2).sum())


def _tempered(log_posterior: FloatArray) -> FloatArray:
    """Weights flattened until enough of the draws count."""
    flat = 1.0
    while effective(found := weights(flat * log_posterior)) < ENOUGH and flat > 0.02:
        flat *= 0.8
    return found


def _fitted(z: FloatArray, log_posterior: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean (q,) and root of the covariance (q, q) of weighted draws, a little wider."""
    weight = _tempered(log_posterior)
    mean = weight @ z
    away = z - mean
    spread = (away * weight[:, np.newaxis]).T @ away
    # What the first draws left unmoved keeps some of its prior width: few draws seem too sure.
    spread = WIDER**2 * (0.9 * spread + 0.1 * np.eye(len(mean)))
    return mean, np.asarray(np.linalg.cholesky(spread), dtype=np.float64)

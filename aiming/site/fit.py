"""The linear part of the model: gains of bands and errors of positions, in standard deviations."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim.check_positions import BAND_DB, SITE_DB
from ..base.arrays import BoolArray, FloatArray
from .prediction import Departure, Scene


@dataclass(frozen=True)
class Noise:
    """Standard deviations in dB: site shared by one position's bands, band by itself."""

    site_db: float = SITE_DB
    band_db: float = BAND_DB


@dataclass(frozen=True, eq=False)
class Levels:
    """Measured levels at a scene's points.

    level_db (bands, n), NaN where not measured; doubt_db (bands, n) on top of the noise
    """

    level_db: FloatArray
    doubt_db: FloatArray

    @property
    def known(self) -> BoolArray:
        return np.isfinite(self.level_db)


class Linear:
    """The linear part: gains and site errors, whitened.

    The unknowns are gains (bands,) then sites (n,); the residuals are the known levels, then the
    site errors themselves.
    """

    def __init__(self, levels: Levels, noise: Noise) -> None:
        self.levels = levels
        self.known = levels.known
        band, point = np.nonzero(self.known)
        bands, points = levels.level_db.shape
        self.bands, self.points = bands, points
        self.deviation_db = np.hypot(noise.band_db, levels.doubt_db[self.known])
        self.site_db = noise.site_db
        count = len(band)
        self.design = np.zeros((count + points, bands + points))
        self.design[np.arange(count), band] = 1.0
        self.design[np.arange(count), bands + point] = 1.0
        self.design[:count] /= self.deviation_db[:, np.newaxis]
        self.design[count:, bands:] = np.eye(points) / noise.site_db

    def whitened(self, level_db: FloatArray) -> FloatArray:
        """(…, residuals) of levels (…, bands, n)."""
        data = level_db[..., self.known] / self.deviation_db
        none = np.zeros((*data.shape[:-1], self.points))
        return np.asarray(np.concatenate([data, none], axis=-1))


# The estimate: robust least squares with one unknown gain per band and one error per position.
#
#     level(band, position) = gain(band) + plan(band, position; tilt, height, scale)
#                             + site(position) + error(band, position)
#
# Gains are free.  Site errors (standard deviation SITE_DB, shared by the bands of a position) and
# band errors (BAND_DB, more where coherence is low) are unknowns and residuals alike, so Huber's
# loss bears both a misplaced microphone and a band that a reflection has cut.

HUBER = 1.345
EFFICIENCY = 0.95
"""Huber's loss at 1.345 costs 5 % of efficiency on normal errors (P. J. Huber, Robust Statistics,
from memory); intervals are widened by it."""
INTERVAL = 1.6449
"""Standard deviations to either side of a 90 % interval."""
WIDEST_TILT_DEG = 30.0
STEPS = {"tilt_deg": 0.25, "height_m": 0.05, "pattern_scale": 0.01}
BOUNDS = {"tilt_deg": (-60.0, 60.0), "height_m": (-3.0, 3.0), "pattern_scale": (0.4, 2.5)}
STARTS = 4
HOPELESS = 40.0
"""A hollow whose sum of squares is this much higher is no rival, with outliers or without."""


@dataclass(frozen=True, eq=False)
class Fit:
    """free: names of the quantities that were fitted, in the order of value and deviation.

    value, deviation: (free,) and standard deviations
    left_db: (bands, n) what is left of the levels after gains and plan, NaN where not measured
    gain_db: (bands,); cost: half the sum of Huber's loss
    band_score (bands, n), site_score (n,): what is left in standard deviations of itself
    freedom: degrees of freedom; squares: sum of squares that has the χ² distribution of them
    rival_deg: another tilt that explains the levels almost as well, or None
    """

    departure: Departure
    free: tuple[str, ...]
    value: FloatArray
    deviation: FloatArray
    left_db: FloatArray
    gain_db: FloatArray
    cost: float
    band_score: FloatArray
    site_score: FloatArray
    freedom: int
    squares: float
    rival_deg: float | None

    def interval(self, name: str) -> tuple[float, float, float]:
        """Value, low and high end of the 90 % interval of a quantity that was fitted."""
        k = self.free.index(name)
        value, half = float(self.value[k]), INTERVAL * float(self.deviation[k])
        low, high = value - half, value + half
        if name == "tilt_deg" and self.rival_deg is not None:
            low, high = min(low, self.rival_deg - half), max(high, self.rival_deg + half)
        return value, low, high


def fit(
    scene: Scene, levels: Levels, free: tuple[str, ...], *, start: Departure, noise: Noise
) -> Fit:
    """Fit the free quantities ("tilt_deg", "height_m", "pattern_scale"); the rest stays at start.

    The tilt is looked for within WIDEST_TILT_DEG of the start, so a wrong hollow does not hold it.
    """
    linear = Linear(levels, noise)
    starts = [start]
    if "tilt_deg" in free:
        starts = _hollows(scene, linear, start)
    found = sorted((_refined(scene, linear, free, one) for one in starts), key=lambda pair: pair[1])
    best, cost, solution = found[0]
    rival = None
    for other, other_cost, _ in found[1:]:
        apart = abs(other.tilt_deg - best.tilt_deg)
        if other_cost - cost < 0.5 * INTERVAL**2 and apart > 1.0:
            rival = other.tilt_deg
            break
    return _finished(scene, linear, free, best, cost, solution, rival)


def deviations(
    scene: Scene, levels: Levels, free: tuple[str, ...], *, at: Departure, noise: Noise
) -> FloatArray:
    """(free,) standard deviations that fitting these quantities together would give there."""
    linear = Linear(levels, noise)
    slopes = np.concatenate([_slopes(scene, linear, free, at), linear.design], axis=1)
    return _deviations(slopes, len(free))


def _deviations(slopes: FloatArray, count: int) -> FloatArray:
    """Of the first unknowns: the linear model's, widened by what Huber's loss costs."""
    _, sizes, turned = np.linalg.svd(slopes, full_matrices=False)
    blind = sizes <= 1e-9 * sizes.max()
    inverse = 1.0 / np.where(blind, 1e-12 * sizes.max(), sizes)
    # A gain of a band that one position alone has is unknown, and is no concern of the first ones.
    share = np.where(np.abs(turned[:, :count]) < 1e-9, 0.0, turned[:, :count])
    variance = ((share * inverse[:, np.newaxis]) ** 2).sum(axis=0)
    return np.asarray(np.sqrt(variance / EFFICIENCY))


def _hollows(scene: Scene, linear: Linear, start: Departure) -> list[Departure]:
    """Starts at the lowest hollows of the cost over tilt, the linear part solved exactly."""
    tilt = start.tilt_deg + np.linspace(-WIDEST_TILT_DEG, WIDEST_TILT_DEG, 121)
    left = linear.whitened(linear.levels.level_db) - linear.whitened(scene.at_tilts_db(tilt, start))
    basis, _ = np.linalg.qr(linear.design)
    cost = (left**2).sum(axis=-1) - ((left @ basis) ** 2).sum(axis=-1)
    cost = np.where(np.isfinite(cost), cost, np.inf)
    padded = np.concatenate([[np.inf], cost, [np.inf]])
    hollow = np.flatnonzero((cost <= padded[:-2]) & (cost <= padded[2:]) & np.isfinite(cost))
    lowest = hollow[np.argsort(cost[hollow], kind="stable")][:STARTS]
    lowest = lowest[cost[lowest] < cost[lowest[0]] + HOPELESS] if len(lowest) else lowest
    return [replace(start, tilt_deg=float(tilt[k])) for k in lowest] or [start]


def _refined(
    scene: Scene, linear: Linear, free: tuple[str, ...], start: Departure
) -> tuple[Departure, float, FloatArray]:
    """The departure, its cost and all unknowns (free, gains, sites) by Huber's loss."""
    from scipy.optimize import least_squares

    measured = linear.whitened(linear.levels.level_db)

    def residuals(unknown: FloatArray) -> FloatArray:
        there = _departure(free, unknown, start)
        predicted = linear.whitened(scene.levels_db(there))
        return np.asarray(predicted + linear.design @ unknown[len(free) :] - measured)

    def jacobian(unknown: FloatArray) -> FloatArray:
        there = _departure(free, unknown, start)
        return np.concatenate([_slopes(scene, linear, free, there), linear.design], axis=1)

    first = np.array([getattr(start, name) for name in free])
    left = measured - linear.whitened(scene.levels_db(start))
    gains, *_ = np.linalg.lstsq(linear.design, left, rcond=None)
    low = np.concatenate([[BOUNDS[name][0] for name in free], np.full(len(gains), -np.inf)])
    high = np.concatenate([[BOUNDS[name][1] for name in free], np.full(len(gains), np.inf)])
    unknown, cost = np.concatenate([first, gains]), np.inf
    # Huber's loss knows no curvature far out, so plain least squares goes ahead of it.
    for loss in ("linear", "huber"):
        found = least_squares(
            residuals,
            unknown,
            jac=jacobian,
            bounds=(low, high),
            loss=loss,
            f_scale=HUBER,
            x_scale="jac",
            max_nfev=60,
        )
        unknown, cost = np.asarray(found.x, dtype=np.float64), float(found.cost)
    return _departure(free, unknown, start), cost, unknown


def _departure(free: tuple[str, ...], unknown: FloatArray, start: Departure) -> Departure:
    values = {name: float(unknown[k]) for k, name in enumerate(free)}
    return replace(start, **values)


def _slopes(scene: Scene, linear: Linear, free: tuple[str, ...], at: Departure) -> FloatArray:
    """(residuals, free) by central differences."""
    columns = []
    for name in free:
        step = STEPS[name]
        up = replace(at, **{name: getattr(at, name) + step})
        down = replace(at, **{name: getattr(at, name) - step})
        change = scene.levels_db(up) - scene.levels_db(down)
        columns.append(linear.whitened(change / (2.0 * step)))
    count = len(linear.design)
    return np.stack(columns, axis=1) if columns else np.zeros((count, 0))


def _finished(
    scene: Scene,
    linear: Linear,
    free: tuple[str, ...],
    departure: Departure,
    cost: float,
    unknown: FloatArray,
    rival: float | None,
) -> Fit:
    slopes = np.concatenate([_slopes(scene, linear, free, departure), linear.design], axis=1)
    measured = linear.whitened(linear.levels.level_db)
    left = measured - linear.whitened(scene.levels_db(departure))
    # Judged is what plain least squares would leave, since its distribution is known.
    directions, sizes, _ = np.linalg.svd(slopes, full_matrices=False)
    basis = directions[:, sizes > 1e-9 * sizes.max()]
    rest = left - basis @ (basis.T @ left)
    free_share = np.sqrt(np.clip(1.0 - (basis**2).sum(axis=1), 1e-6, None))
    score = np.where(free_share > 0.05, rest / free_share, 0.0)
    count = len(left) - linear.points
    gain = unknown[len(free) :][: linear.bands]
    left_db = linear.levels.level_db - scene.levels_db(departure) - gain[:, np.newaxis]
    band_score = np.full(linear.known.shape, np.nan)
    band_score[linear.known] = score[:count]
    return Fit(
        departure=departure,
        free=free,
        value=unknown[: len(free)],
        deviation=_deviations(slopes, len(free)),
        left_db=left_db,
        gain_db=gain,
        cost=cost,
        band_score=band_score,
        site_score=score[count:],
        freedom=len(left) - basis.shape[1],
        squares=float(rest @ rest),
        rival_deg=rival,
    )

"""What the levels can carry, and whether aim and gain explain them."""

from dataclasses import dataclass

import numpy as np

from ..base.bands import band_label
from .fit import INTERVAL, Fit, Levels, Noise, deviations, fit
from .prediction import Departure, Scene

WIDEST = {"tilt_deg": 20.0, "height_m": 0.3, "pattern_scale": 0.2}
"""A quantity is left out unless its 90 % interval is narrower than this."""
DOUBT = 0.01
"""Levels count as unexplained where chance alone would leave as much in one set of a hundred."""
_MORE = (("height_m", "pattern_scale"), ("pattern_scale",), ("height_m",))


@dataclass(frozen=True)
class StandsOut:
    """A position, in one band or (None) in all of them, that the plan cannot explain.

    left_db: measured minus expected; score: the same in its own standard deviations
    """

    position: str
    band_hz: float | None
    left_db: float
    score: float

    @property
    def text(self) -> str:
        where = "all bands" if self.band_hz is None else band_label(self.band_hz)
        word = "above" if self.left_db > 0.0 else "below"
        return f"{self.position}, {where}: {abs(self.left_db):.1f} dB {word} what fits the rest"


@dataclass(frozen=True, eq=False)
class Estimate:
    """The fit that the levels carry; explained is None where too few positions could tell."""

    fit: Fit
    explained: bool | None
    stands_out: tuple[StandsOut, ...]


def estimate(
    scene: Scene,
    levels: Levels,
    *,
    start: Departure,
    noise: Noise,
    known: frozenset[str] = frozenset(),
) -> Estimate:
    """Fit tilt first; height and pattern scale only where their intervals stay narrow enough.

    known: quantities that readings have settled, held at start
    """
    asked = tuple(name for name in ("tilt_deg",) if name not in known)
    found = fit(scene, levels, asked, start=start, noise=noise)
    if asked and not _narrow(found, "tilt_deg"):
        found = fit(scene, levels, (), start=start, noise=noise)
    for free in _MORE if found.free == asked else ():
        wanted = (*asked, *free)
        if known & set(free) or not _would_be_narrow(scene, levels, wanted, found, noise):
            continue
        tried = fit(scene, levels, wanted, start=start, noise=noise)
        if all(_narrow(tried, name) for name in wanted):
            found = tried
            break
    names = scene.problem.rows.names
    stands_out = _outliers(found, names, scene.problem.pattern.band_hz)
    explained: bool | None = not (stands_out or _too_much(found))
    if not stands_out and not explained:
        stands_out = _worst(found, names, scene.problem.pattern.band_hz)
    measured = int(levels.known.any(axis=0).sum())
    if explained and measured - 1 - len(found.free) < 1:
        explained = None
    return Estimate(found, explained, stands_out)


def _would_be_narrow(
    scene: Scene, levels: Levels, free: tuple[str, ...], found: Fit, noise: Noise
) -> bool:
    """Before the fit, from the linear model where the tilt alone was found."""
    wide = 2.0 * INTERVAL * deviations(scene, levels, free, at=found.departure, noise=noise)
    return all(width < WIDEST[name] for name, width in zip(free, wide, strict=True))


def _narrow(found: Fit, name: str) -> bool:
    _, low, high = found.interval(name)
    return bool(high - low < WIDEST[name])


def _too_much(found: Fit) -> bool:
    from scipy.special import chdtri

    return found.freedom > 0 and found.squares > float(chdtri(found.freedom, DOUBT))


def _scored(found: Fit, names: tuple[str, ...], bands_hz: tuple[float, ...]) -> list[StandsOut]:
    """Every position, and every band of it, the most surprising first."""
    left = found.left_db
    scored = [
        StandsOut(name, band, float(left[k, n]), float(found.band_score[k, n]))
        for n, name in enumerate(names)
        for k, band in enumerate(bands_hz)
        if np.isfinite(found.band_score[k, n])
    ]
    scored += [
        StandsOut(name, None, float(np.nanmean(left[:, n])), float(found.site_score[n]))
        for n, name in enumerate(names)
        if np.isfinite(left[:, n]).any()
    ]
    return sorted(scored, key=lambda one: -abs(one.score))


def _outliers(
    found: Fit, names: tuple[str, ...], bands_hz: tuple[float, ...]
) -> tuple[StandsOut, ...]:
    """Those beyond what chance leaves anywhere in one set of a hundred; bands of a position that
    stands out as a whole are not told again."""
    from scipy.special import ndtri

    scored = _scored(found, names, bands_hz)
    limit = -float(ndtri(0.5 * DOUBT / len(scored)))
    beyond = [one for one in scored if abs(one.score) > limit]
    whole = {one.position for one in beyond if one.band_hz is None}
    return tuple(one for one in beyond if one.band_hz is None or one.position not in whole)


def _worst(
    found: Fit, names: tuple[str, ...], bands_hz: tuple[float, ...]
) -> tuple[StandsOut, ...]:
    return tuple(_scored(found, names, bands_hz)[:2])

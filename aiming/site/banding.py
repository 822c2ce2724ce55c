"""Measured frequencies into the design bands: by energy, what is not coherent counting less."""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..files.banding import BandPlan, plan_bands
from .traces import Trace

AVERAGES = 16
"""How many independent averages a transfer function is taken to have had; our own choice."""
LEAST_COHERENCE = 0.02


@dataclass(frozen=True, eq=False)
class Banded:
    """level_db (bands, n) with NaN where a band was not measured; doubt_db (bands, n) what low
    coherence adds to its standard deviation."""

    level_db: FloatArray
    doubt_db: FloatArray


def in_bands(traces: tuple[Trace, ...], bands_hz: tuple[float, ...]) -> Banded:
    """Every trace in the design bands.

    A line counts with the part of the band it stands for times its coherence.  The random error of
    a transfer function's magnitude is √((1 − γ²) / (2·γ²·averages)) of it (Bendat and Piersol,
    Random Data, from memory); the band takes that of its mean coherence.
    """
    level = np.full((len(bands_hz), len(traces)), np.nan)
    doubt = np.zeros_like(level)
    for column, trace in enumerate(traces):
        plan = plan_bands(trace.frequency_hz, bands_hz=bands_hz, width=None)
        nearest = _nearest(plan, trace.frequency_hz)
        for share, band in zip(plan.share.T, plan.band_hz, strict=True):
            if band not in nearest:
                continue
            row = bands_hz.index(band)
            weight = share * trace.coherence
            if weight.sum() < LEAST_COHERENCE:
                continue
            level[row, column] = _energy_db(trace.level_db, weight)
            # Shares of a band add to 1 but for rounding, and no coherence is above 1.
            doubt[row, column] = random_error_db(min(float(weight.sum()), 1.0))
    return Banded(frozen(level), frozen(doubt))


def _nearest(plan: BandPlan, frequency_hz: FloatArray) -> set[float]:
    """The bands without those that share their one measured frequency with a nearer band, so that
    coarse data do not count twice."""
    kept: dict[int, float] = {}
    several = {band for band, of in zip(plan.band_hz, plan.column, strict=True) if of < 0}
    for band, column in zip(plan.band_hz, plan.column, strict=True):
        if column < 0:
            continue
        source = np.log(frequency_hz[column])
        other = kept.setdefault(column, band)
        kept[column] = min(other, band, key=lambda one: abs(float(source - np.log(one))))
    return several | set(kept.values())


def random_error_db(coherence: float) -> float:
    """Standard deviation (dB) of a magnitude at this coherence."""
    share = np.sqrt((1.0 - coherence) / (2.0 * coherence * AVERAGES))
    return float(20.0 / np.log(10.0) * share)


def _energy_db(level_db: FloatArray, weight: FloatArray) -> float:
    used = np.flatnonzero(weight)
    if len(used) == 1:
        return float(level_db[used[0]])
    top = float(level_db.max())
    mean = float(weight @ 10.0 ** ((level_db - top) / 10.0) / weight.sum())
    return top + 10.0 * float(np.log10(max(mean, 1e-30)))

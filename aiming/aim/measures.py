"""How even an audience hears: spread, worst-band spread, deviation, rows within 3 dB.

All take levels (…, bands, rows) and reduce to (…).  NaN stays NaN: an unknown level makes the
figure unknown, it is never taken over the known rows alone.
"""

import numpy as np

from ..base.arrays import FloatArray

WITHIN_DB = 3.0
"""A row counts as even this far from the mean; common practice, no source."""


def design_level_db(levels_db: FloatArray) -> FloatArray:
    """(…, rows) mean over the bands of the level in dB."""
    return np.asarray(levels_db.mean(axis=-2))


def spread_db(levels_db: FloatArray) -> FloatArray:
    """Largest minus smallest design level."""
    return np.asarray(np.ptp(design_level_db(levels_db), axis=-1))


def band_spreads_db(levels_db: FloatArray) -> FloatArray:
    """(…, bands) largest minus smallest level of each band."""
    return np.asarray(np.ptp(levels_db, axis=-1))


def worst_band_spread_db(levels_db: FloatArray) -> FloatArray:
    """Largest of the bands' spreads."""
    return np.asarray(band_spreads_db(levels_db).max(axis=-1))


def deviation_db(levels_db: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted standard deviation about each band's own weighted mean, variances averaged."""
    share = weight / weight.sum()
    mean = (levels_db * share).sum(axis=-1, keepdims=True)
    variance = (share * (levels_db - mean) ** 2).sum(axis=-1)
    return np.asarray(np.sqrt(variance.mean(axis=-1)))


def rows_within_percent(
    levels_db: FloatArray, weight: FloatArray, *, within_db: float = WITHIN_DB
) -> FloatArray:
    """Share of rows whose design level is within ±within_db of the weighted mean design level."""
    design = design_level_db(levels_db)
    mean = (design * (weight / weight.sum())).sum(axis=-1, keepdims=True)
    share = 100.0 * (np.abs(design - mean) <= within_db).mean(axis=-1)
    return np.asarray(np.where(np.isnan(mean[..., 0]), np.nan, share))

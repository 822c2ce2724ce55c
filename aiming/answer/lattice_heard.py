"""What is heard at every placement of a lattice, from the levels at its rows."""

from dataclasses import dataclass

import numpy as np

from ..aim import measures
from ..arrays import BoolArray, FloatArray, IntArray
from ..section import Rows


@dataclass(frozen=True, eq=False)
class Heard:
    """Levels and figures; channel 0 is the design level, the others are the design bands.

    rows: (n,) indices into the answer's rows
    level_db: (channels, n, heights, tilts) about the channel's own weighted mean
    mean_db, spread_db: (channels, …); loudest, softest: the same shape, indices into the answer's
        rows, −1 where a level is unknown
    worst_band_spread_db, deviation_db, within_percent: (…)
    NaN where unknown.
    """

    rows: IntArray
    level_db: FloatArray
    mean_db: FloatArray
    spread_db: FloatArray
    loudest: IntArray
    softest: IntArray
    worst_band_spread_db: FloatArray
    deviation_db: FloatArray
    within_percent: FloatArray


def heard(levels_db: FloatArray, rows: Rows, which: IntArray) -> Heard:
    """The figures over rows which (n,) of levels (heights, tilts, bands, n)."""
    weight = rows.weight[which]
    design = measures.design_level_db(levels_db)[..., np.newaxis, :]
    channel = np.moveaxis(np.concatenate([design, levels_db], axis=-2), (2, 3), (0, 1))
    known: BoolArray = np.isfinite(channel)
    share = known * weight[:, np.newaxis, np.newaxis]
    total = share.sum(axis=1)
    level = np.where(known, channel, 0.0)
    with np.errstate(invalid="ignore"):
        mean = np.where(total > 0.0, (level * share).sum(axis=1) / total, np.nan)
    every = known.all(axis=1)
    return Heard(
        rows=which,
        level_db=np.where(known, channel - mean[:, np.newaxis], np.nan),
        mean_db=mean,
        spread_db=np.where(every, np.ptp(level, axis=1), np.nan),
        loudest=np.where(every, which[np.argmax(level, axis=1)], -1),
        softest=np.where(every, which[np.argmin(level, axis=1)], -1),
        worst_band_spread_db=measures.worst_band_spread_db(levels_db),
        deviation_db=measures.deviation_db(levels_db, weight),
        within_percent=measures.rows_within_percent(levels_db, weight),
    )

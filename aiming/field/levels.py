"""Levels at rows: spreading, pattern, air.  One function for one placement or an array of them.

L(band) = offset + pattern(off-axis angle) − 20·lg(r / 1 m) − air(r) − shadow
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..base.air import AirLoss
from ..base.arrays import FloatArray
from ..geometry.section import elevation_deg, wrap_deg
from ..speaker.pattern import Pattern, read_table_db
from ..speaker.speaker import OneOrMany

NEAREST_M = 1e-3
"""Distances below this are read as this: a level at the acoustic centre itself has no meaning."""


@dataclass(frozen=True, eq=False)
class Sight:
    """Rows seen from the acoustic centre, (…, rows).

    distance_m: from the acoustic centre to the ears
    off_axis_deg: elevation of the row minus tilt, (−180, 180], positive above the axis
    """

    distance_m: FloatArray
    off_axis_deg: FloatArray


def sight(placement: OneOrMany, x_m: FloatArray, z_m: FloatArray) -> Sight:
    """How rows (n,) are seen from one placement, or from an array of them: (…, n)."""
    dx = x_m - _column(placement.x_m)
    dz = z_m - _column(placement.height_m)
    return Sight(
        distance_m=np.maximum(np.hypot(dx, dz), NEAREST_M),
        off_axis_deg=wrap_deg(elevation_deg(dx, dz) - _column(placement.tilt_deg)),
    )


def loss_db(distance_m: FloatArray, air_loss: AirLoss) -> FloatArray:
    """(…, bands, n) loss by spreading (re 1 m) and air on the way to (…, n)."""
    return np.asarray(20.0 * np.log10(distance_m)[..., np.newaxis, :] + air_loss.at_db(distance_m))


def levels_db(
    pattern: Pattern,
    placement: OneOrMany,
    x_m: FloatArray,
    z_m: FloatArray,
    *,
    air_loss: AirLoss,
    offset_db: npt.ArrayLike = 0.0,
    shadow_db: npt.ArrayLike = 0.0,
) -> FloatArray:
    """(…, bands, n) levels at rows (n,), in the pattern's bands.

    air_loss: of the same bands; offset_db: (bands,); shadow_db broadcasts to the result.
    NaN where the pattern is unknown.
    """
    seen = sight(placement, x_m, z_m)
    turn = np.where(_column(placement.flipped), -1.0, 1.0)
    lobe = read_table_db(pattern.angle_deg, pattern.level_db, turn * seen.off_axis_deg)
    offset = np.broadcast_to(np.asarray(offset_db, dtype=np.float64), len(pattern.band_hz))
    return np.asarray(
        np.moveaxis(lobe, 0, -2)
        + offset[:, np.newaxis]
        - loss_db(seen.distance_m, air_loss)
        - np.asarray(shadow_db, dtype=np.float64)
    )


def power_sum_db(levels_db: FloatArray, *, axis: int = 0) -> FloatArray:
    """Incoherent sum of levels along an axis; −inf contributes nothing."""
    loudest = np.max(levels_db, axis=axis, keepdims=True)
    anchor = np.where(np.isfinite(loudest), loudest, 0.0)
    with np.errstate(divide="ignore"):
        total = 10.0 * np.log10(np.sum(10.0 ** ((levels_db - anchor) / 10.0), axis=axis))
    return np.asarray(total + np.squeeze(anchor, axis=axis))


def _column(value: npt.ArrayLike) -> FloatArray:
    """A placement's number or array, ready to broadcast against rows."""
    return np.asarray(value)[..., np.newaxis]

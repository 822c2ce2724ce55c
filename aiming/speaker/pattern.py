"""The pattern: one table of level against off-axis angle and band, read linearly in dB.

Measured files and nominal formulas end in the same table, so levels, the search and its proof know
one kind of pattern only.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray, frozen
from ..geometry.section import wrap_deg

EDGE_DB = 20.0 * float(np.log10(2.0))
"""6.0206 dB: the level drop that defines the coverage angle (IEC 60268-5 usage, half pressure)."""


@dataclass(frozen=True, eq=False)
class Pattern:
    """Level relative to on-axis, as built (upright).

    angle_deg: (n,) off-axis angles, strictly ascending within [−180, 180], positive above the axis
    band_hz: (b,) nominal mid-bands
    level_db: (b, n); NaN where the data have a hole.  Outside [angle_deg[0], angle_deg[-1]] the
        level is unknown (NaN), never invented
    reference: where the data come from, for the reports
    """

    angle_deg: FloatArray
    band_hz: tuple[float, ...]
    level_db: FloatArray
    reference: str

    def __post_init__(self) -> None:
        if self.level_db.shape != (len(self.band_hz), len(self.angle_deg)):
            raise ValueError(f"level_db {self.level_db.shape} does not fit angles and bands")
        if np.any(np.diff(self.angle_deg) <= 0.0):
            raise ValueError("angle_deg must ascend")

    @property
    def complete(self) -> bool:
        """Whether every direction of the plane is known in every band."""
        whole = self.angle_deg[0] <= -180.0 and self.angle_deg[-1] >= 180.0
        return bool(whole and not np.isnan(self.level_db).any())

    @property
    def symmetric(self) -> bool:
        """Whether turning the box half-way round its axis changes nothing."""
        return bool(
            np.array_equal(self.angle_deg, -self.angle_deg[::-1])
            and np.array_equal(self.level_db, self.level_db[:, ::-1], equal_nan=True)
        )

    def flipped(self) -> "Pattern":
        """The pattern of the box turned half-way round its axis: φ → −φ."""
        return Pattern(
            angle_deg=frozen(-self.angle_deg[::-1]),
            band_hz=self.band_hz,
            level_db=frozen(self.level_db[:, ::-1]),
            reference=self.reference,
        )

    def only(self, bands_hz: tuple[float, ...]) -> "Pattern":
        """These bands, in this order.

        Raises KeyError with the band where the table lacks one.
        """
        place = {band: position for position, band in enumerate(self.band_hz)}
        return Pattern(
            angle_deg=self.angle_deg,
            band_hz=bands_hz,
            level_db=frozen(self.level_db[[place[band] for band in bands_hz]]),
            reference=self.reference,
        )

    def mean(self) -> FloatArray:
        """(n,) mean over the bands of the level in dB: the design pattern."""
        return np.asarray(self.level_db.mean(axis=0))

    def read_db(self, off_axis_deg: npt.ArrayLike) -> FloatArray:
        """(b, …) level at off-axis angles (…) in degrees, linear in dB; NaN where unknown."""
        return read_table_db(self.angle_deg, self.level_db, off_axis_deg)


def read_table_db(
    angle_deg: FloatArray, level_db: FloatArray, off_axis_deg: npt.ArrayLike
) -> FloatArray:
    """(b, …) from a table (n,), (b, n) at angles (…) in degrees.  One look-up serves all bands."""
    asked = wrap_deg(np.asarray(off_axis_deg, dtype=np.float64))
    if len(angle_deg) == 1:
        known = asked == angle_deg[0]
        return np.where(known, level_db.reshape(len(level_db), *([1] * asked.ndim)), np.nan)
    after = np.minimum(np.maximum(np.searchsorted(angle_deg, asked), 1), len(angle_deg) - 1)
    low = angle_deg.take(after - 1)
    share = (asked - low) / (angle_deg.take(after) - low)
    before_db, after_db = level_db.take(after - 1, axis=1), level_db.take(after, axis=1)
    level = np.asarray(before_db + share * (after_db - before_db))
    if np.isnan(level).any():
        # A hole beside a known node must not make the node itself unknown.
        level = np.where(share <= 0.0, before_db, np.where(share >= 1.0, after_db, level))
    outside = (asked < angle_deg[0]) | (asked > angle_deg[-1])
    return np.where(outside, np.nan, level) if outside.any() else level


def edge_deg(angle_deg: FloatArray, level_db: FloatArray, *, above: bool) -> float | None:
    """First direction from the axis, above or below it, where one band (n,) is 6.02 dB down.

    Returns degrees (positive above), or None where the known pattern never gets there.
    """
    sign = 1.0 if above else -1.0
    angle, level = (angle_deg, level_db) if above else (-angle_deg[::-1], level_db[::-1])
    start = float(read_table_db(angle, level[np.newaxis], 0.0)[0])
    out = angle > 0.0
    angle = np.append(0.0, angle[out])
    level = np.append(start, level[out])
    for k in range(1, len(angle)):
        if np.isnan(level[k]) or np.isnan(level[k - 1]):
            return None
        if level[k] <= -EDGE_DB < level[k - 1]:
            share = (level[k - 1] + EDGE_DB) / (level[k - 1] - level[k])
            return sign * float(angle[k - 1] + share * (angle[k] - angle[k - 1]))
    return None

"""The linear part of the model: gains of bands and errors of positions, in standard deviations."""

from dataclasses import dataclass

import numpy as np

from ..aim.checks import BAND_DB, SITE_DB
from ..arrays import BoolArray, FloatArray


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

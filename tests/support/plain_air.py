"""Air that takes as much from every metre, as from tones: for formulas that are written out."""

import numpy as np
import numpy.typing as npt

from aiming.base.air import AirLoss
from aiming.base.arrays import frozen


def tones(absorption_db_per_m: npt.ArrayLike) -> AirLoss:
    """Straight losses of (bands,) dB/m."""
    slope = np.asarray(absorption_db_per_m, dtype=np.float64)[:, np.newaxis]
    return AirLoss(frozen(slope), frozen(np.zeros_like(slope)))

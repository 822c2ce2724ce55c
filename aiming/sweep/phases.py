"""A pattern tabulated on phases of the tilt step.

A sweep over tilts that are evenly spaced looks at each row under off-axis angles that are evenly
spaced too, so one row's look-up over all tilts is a contiguous slice of a table with that spacing.
Where the slice starts differs from row to row: its phase.  The table holds a whole number of
phases, and a row reads the nearest one.

    angle(phase, k) = high − (k + phase / phases)·step

Reading the nearest phase errs by at most half a phase times the pattern's steepest slope.  The
number of phases is chosen so that this is at most READING_DB.
"""

import hashlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..arrays import FloatArray
from ..speaker.pattern import read_table_db

Float32Array = npt.NDArray[np.float32]

READING_DB = 0.9e-3
"""Largest error of one level by reading the nearest phase.  A spread takes two levels: 1.8e-3 dB.
What single precision adds is below 1e-4 dB (kernel.py), so that a spread errs by less than 2e-3."""
MOST_BYTES = 64_000_000
_ROUND_DEG = 5.0
_MOST_KEPT = 2
_KEPT: "dict[bytes, PhaseTable | None]" = {}


@dataclass(frozen=True, eq=False)
class PhaseTable:
    """levels_db: (phases, channels, places), single precision, read at sign·off-axis angle.

    high_deg: the angle at phase 0, place 0; step_deg: between places
    """

    levels_db: Float32Array
    high_deg: float
    step_deg: float

    @property
    def phases(self) -> int:
        return int(self.levels_db.shape[0])

    def start(self, angle_deg: FloatArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
        """(phase, place) nearest to angles of any shape."""
        steps = (self.high_deg - angle_deg) / self.step_deg
        nearest = np.rint(steps * self.phases).astype(np.intp)
        return nearest % self.phases, nearest // self.phases


def steepest_db_per_deg(
    angle_deg: FloatArray, level_db: FloatArray, *, low_deg: float, high_deg: float
) -> float:
    """The steepest slope of a table (channels, n) between two angles, which may lie beyond ±180°.

    Infinite where the level jumps there, or is unknown anywhere between.
    """
    nodes = np.concatenate([angle_deg + turn for turn in (-360.0, 0.0, 360.0)])
    levels = np.concatenate([level_db] * 3, axis=1)
    if low_deg < nodes[0] or high_deg > nodes[-1]:
        return np.inf
    known_to = np.ones(len(nodes) - 1, dtype=bool)
    known_to[len(angle_deg) - 1 :: len(angle_deg)] = angle_deg[-1] - angle_deg[0] >= 360.0
    run = np.diff(nodes)
    step = np.abs(np.diff(levels, axis=1)).max(axis=0)
    slope = np.where(run > 0.0, step / np.where(run > 0.0, run, 1.0), np.where(step > 0, np.inf, 0))
    slope = np.where(known_to & ~np.isnan(slope), slope, np.inf)
    seen = (nodes[:-1] <= high_deg) & (nodes[1:] >= low_deg)
    return float(slope[seen].max(initial=0.0))


def kept_table(
    angle_deg: FloatArray,
    level_db: FloatArray,
    *,
    step_deg: float,
    low_deg: float,
    high_deg: float,
    sign: float = 1.0,
) -> PhaseTable | None:
    """The same as phase_table, for at least these angles, made once for one pattern and spacing."""
    low_deg = _ROUND_DEG * float(np.floor(low_deg / _ROUND_DEG))
    high_deg = _ROUND_DEG * float(np.ceil(high_deg / _ROUND_DEG))
    key = hashlib.sha256(angle_deg.tobytes() + level_db.tobytes())
    key.update(repr((step_deg, low_deg, high_deg, sign)).encode())
    name = key.digest()
    if name not in _KEPT:
        while len(_KEPT) >= _MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[name] = phase_table(
            angle_deg,
            level_db,
            step_deg=step_deg,
            low_deg=low_deg,
            high_deg=high_deg,
            sign=sign,
        )
    return _KEPT[name]


def phase_table(
    angle_deg: FloatArray,
    level_db: FloatArray,
    *,
    step_deg: float,
    low_deg: float,
    high_deg: float,
    sign: float = 1.0,
) -> PhaseTable | None:
    """The table of levels (channels, n) for off-axis angles from low to high, read at sign·angle.

    None where levels in there are unknown, or so steep that the table would grow too large.
    """
    ends = sorted((sign * (low_deg - step_deg), sign * (high_deg + step_deg)))
    steep = steepest_db_per_deg(angle_deg, level_db, low_deg=ends[0], high_deg=ends[1])
    if not np.isfinite(steep):
        return None
    phases = max(1, int(np.ceil(steep * step_deg / (2.0 * READING_DB))))
    places = int(np.ceil((high_deg - low_deg) / step_deg)) + 2
    if 4.0 * phases * places * len(level_db) > MOST_BYTES:
        return None
    # One angle after the other through all phases: place by place, phase by phase.
    fine = high_deg - np.arange(places * phases) * (step_deg / phases)
    levels = np.empty((phases, len(level_db), places), dtype=np.float32)
    for channel, of in enumerate(level_db):
        read = read_table_db(angle_deg, of[np.newaxis], sign * fine)[0]
        levels[:, channel] = read.reshape(places, phases).T
    return PhaseTable(levels_db=levels, high_deg=high_deg, step_deg=step_deg)

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
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..base.air import AirLoss
from ..base.arrays import BoolArray, FloatArray
from ..field.levels import NEAREST_M, loss_db
from ..geometry.section import elevation_deg, wrap_deg
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


# Spreads of whole grids tilt × place in bulk: add, largest, smallest over contiguous slices.
#
# For one place of the acoustic centre every row has one distance, so one loss per channel, and
# its levels over all tilts are that loss taken off one slice of the phase table.  The running
# largest and smallest over the rows give every band's spread.
#
# Error of a spread against the exact reading, guaranteed: 2·READING_DB = 1.8e-3 dB from the
# nearest phase, and below 1e-4 dB from single precision: levels are kept within ±LARGEST_DB about
# 0, where a number is rounded by at most 1.6e-5 dB, and each of a spread's two levels is rounded
# three times.

LARGEST_DB = 256.0
SPREAD_ERROR_DB = 2e-3
_TILE = 2048
_PLACES_AT_ONCE = 64


@dataclass(frozen=True, eq=False)
class Channels:
    """What is read at each row: bands, or means of bands.

    angle_deg: (n,) of the pattern; level_db: (channels, n); air_loss: of the channels
    """

    angle_deg: FloatArray
    level_db: FloatArray
    air_loss: AirLoss


@dataclass(frozen=True)
class Tilts:
    """Evenly spaced tilts, ascending: first + k·step, k < count."""

    first_deg: float
    step_deg: float
    count: int

    @property
    def last_deg(self) -> float:
        return self.first_deg + (self.count - 1) * self.step_deg


@dataclass(frozen=True, eq=False)
class TiltKernel:
    """One pattern, one set of rows, one spacing of tilts, upright or flipped."""

    channels: Channels
    row_x_m: FloatArray
    row_z_m: FloatArray
    tilts: Tilts
    table: PhaseTable

    def extremes_db(
        self,
        x_m: FloatArray,
        height_m: FloatArray,
        *,
        first: int,
        count: int,
        shadow: Callable[[FloatArray, FloatArray], FloatArray] | None = None,
    ) -> Iterator[tuple[int, slice, Float32Array, Float32Array, FloatArray]]:
        """Softest and loudest level over the rows, for acoustic centres (p,).

        first, count: which of the tilts; shadow: what (x_m, height_m) → (p, channels, rows) hides

        Yields (place, tilts within the count, softest, loudest (channels, tilts), base (channels,))
        with base to be added to both.  The arrays are reused for the next: copy what is to stay.
        """
        width = min(_TILE, count)
        shape = (len(self.channels.level_db), width)
        work = [np.empty(shape, dtype=np.float32) for _ in range(3)]
        for begin in range(0, len(x_m), _PLACES_AT_ONCE):
            some = slice(begin, begin + _PLACES_AT_ONCE)
            hidden = None if shadow is None else shadow(x_m[some], height_m[some])
            phase, place, level, base = self._seen(x_m[some], height_m[some], hidden)
            for which in range(len(level)):
                for start in range(0, count, width):
                    tilts = slice(start, min(start + width, count))
                    soft, loud = self._over_rows(
                        phase[which],
                        [at + first + start for at in place[which]],
                        level[which],
                        work,
                        tilts.stop - tilts.start,
                    )
                    yield begin + which, tilts, soft, loud, base[which]

    def _seen(
        self, x_m: FloatArray, height_m: FloatArray, shadow_db: FloatArray | None
    ) -> tuple[list[list[int]], list[list[int]], Float32Array, FloatArray]:
        """Phase and place of each row at the first tilt; minus its loss; what was taken out."""
        dx = self.row_x_m - x_m[:, np.newaxis]
        dz = self.row_z_m - height_m[:, np.newaxis]
        distance = np.maximum(np.hypot(dx, dz), NEAREST_M)
        gain = -loss_db(distance, self.channels.air_loss)
        if shadow_db is not None:
            gain -= shadow_db
        base = gain.mean(axis=-1)
        phase, place = self.table.start(elevation_deg(dx, dz) - self.tilts.first_deg)
        level = (gain - base[..., np.newaxis]).astype(np.float32)[..., np.newaxis]
        return phase.tolist(), place.tolist(), np.moveaxis(level, 2, 1), base

    def _over_rows(
        self,
        phase: list[int],
        place: list[int],
        level: Float32Array,
        work: list[Float32Array],
        count: int,
    ) -> tuple[Float32Array, Float32Array]:
        """The inner loop: levels (rows, channels, 1) over count tilts."""
        one, soft, loud = (array[:, :count] for array in work)
        table = self.table.levels_db
        soft.fill(np.inf)
        loud.fill(-np.inf)
        with _short_buffers():
            for row, (p, k) in enumerate(zip(phase, place, strict=True)):
                np.add(table[p, :, k : k + count], level[row], out=one)
                np.minimum(soft, one, out=soft)
                np.maximum(loud, one, out=loud)
        return soft, loud


def tilt_kernel(
    channels: Channels,
    row_x_m: FloatArray,
    row_z_m: FloatArray,
    tilts: Tilts,
    *,
    x_m: tuple[float, float],
    height_m: tuple[float, float],
    flipped: bool,
) -> TiltKernel | None:
    """The kernel for acoustic centres within these ranges (low, high).

    None where the pattern is unknown for some row and tilt, jumps, or is too steep for a table.
    """
    low, high = _elevations(row_x_m, row_z_m, x_m, height_m)
    table = kept_table(
        channels.angle_deg,
        channels.level_db,
        step_deg=tilts.step_deg,
        low_deg=low - tilts.last_deg - tilts.step_deg,
        high_deg=high - tilts.first_deg + tilts.step_deg,
        sign=-1.0 if flipped else 1.0,
    )
    if table is None or not _moderate(channels, table, row_x_m, row_z_m, x_m, height_m):
        return None
    return TiltKernel(channels, row_x_m, row_z_m, tilts, table)


def _elevations(
    row_x_m: FloatArray,
    row_z_m: FloatArray,
    x_m: tuple[float, float],
    height_m: tuple[float, float],
) -> tuple[float, float]:
    """Least and largest elevation of any row seen from the rectangle of acoustic centres.

    From outside, the rectangle's corners are the extremes, and less than half a turn apart.
    """
    middle = elevation_deg(row_x_m - np.mean(x_m), row_z_m - np.mean(height_m))
    corners = [elevation_deg(row_x_m - x, row_z_m - z) for x in x_m for z in height_m]
    seen = middle + wrap_deg(np.stack(corners) - middle)
    inside = (x_m[0] <= row_x_m) & (row_x_m <= x_m[1])
    inside &= (height_m[0] <= row_z_m) & (row_z_m <= height_m[1])
    low, high = float(seen.min()), float(seen.max())
    if inside.any() or low <= -180.0 or high > 180.0:
        return -180.0, 180.0
    return low, high


def _moderate(
    channels: Channels,
    table: PhaseTable,
    row_x_m: FloatArray,
    row_z_m: FloatArray,
    x_m: tuple[float, float],
    height_m: tuple[float, float],
) -> BoolArray | bool:
    """Whether no level can be so large that single precision tells."""
    dx = np.maximum(np.abs(row_x_m - x_m[0]), np.abs(row_x_m - x_m[1]))
    dz = np.maximum(np.abs(row_z_m - height_m[0]), np.abs(row_z_m - height_m[1]))
    far = float(np.hypot(dx, dz).max())
    largest = loss_db(np.array([far]), channels.air_loss).max()
    least = 20.0 * np.log10(NEAREST_M)
    return float(np.abs(table.levels_db).max()) + float(largest - least) < LARGEST_DB


@contextmanager
def _short_buffers() -> Iterator[None]:
    """Keep numpy from copying slices into its own buffers, which takes three times as long.

    Its ufuncs copy rows that fit into the buffer several at a time in order to have one long inner
    loop; with the shortest buffer they work on the slices in place.
    """
    before = np.setbufsize(16)
    try:
        yield
    finally:
        np.setbufsize(before)

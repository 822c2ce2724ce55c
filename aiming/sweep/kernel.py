"""Spreads of whole grids tilt × place in bulk: add, largest, smallest over contiguous slices.

For one place of the acoustic centre every row has one distance, so one loss per channel, and its
levels over all tilts are that loss taken off one slice of the phase table.  The running largest and
smallest over the rows give every band's spread.

Error of a spread against the exact reading, guaranteed: 2·READING_DB = 1.8e-3 dB from the nearest
phase, and below 1e-4 dB from single precision: levels are kept within ±LARGEST_DB about 0, where a
number is rounded by at most 1.6e-5 dB, and each of a spread's two levels is rounded three times.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from ..arrays import BoolArray, FloatArray
from ..field.levels import NEAREST_M, loss_db
from ..section import elevation_deg, wrap_deg
from .phases import Float32Array, PhaseTable, kept_table

LARGEST_DB = 256.0
SPREAD_ERROR_DB = 2e-3
_TILE = 2048
_PLACES_AT_ONCE = 64


@dataclass(frozen=True, eq=False)
class Channels:
    """What is read at each row: bands, or means of bands.

    angle_deg: (n,) of the pattern; level_db: (channels, n); absorption_db_per_m: (channels,)
    """

    angle_deg: FloatArray
    level_db: FloatArray
    absorption_db_per_m: FloatArray


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
        gain = -loss_db(distance, self.channels.absorption_db_per_m)
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
    largest = loss_db(np.array([far]), channels.absorption_db_per_m).max()
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

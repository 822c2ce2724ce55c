"""Straight-line enclosures of a pattern table over windows of angle, for the proof.

A box of placements shows a row under a whole interval of off-axis angles.  The proof needs, for
that interval, a slope m and numbers low, high with

    low ≤ D(φ) − m·φ ≤ high        for every angle φ of the interval whose level is known.

A piecewise-linear D makes this exact to compute: over a window the extremes of D − m·φ sit at the
table's own nodes or at the window's ends.  Windows are dyadic: level l cuts the circle into 2^l
cells, a window is four neighbouring cells, and one starts at each cell, so any interval up to three
cells wide lies in a window at most 2.7 times as wide.  Levels are built when first asked for, and
may be much finer than the table's nodes.
Why the bound holds is written out in docs/how-it-computes.md.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..base.arrays import BoolArray, FloatArray
from ..geometry.section import wrap_deg
from ..speaker.pattern import Pattern

FINEST_LEVEL = 18
_CELLS = 4
_NARROW_DEG = 0.5 * _CELLS * 360.0 / 2**FINEST_LEVEL
_FEW_NODES = 4
_ROUNDING_DEG = 1e-10
_COARSEST_LEVEL = 2
"""Level 0 stands for the whole circle: four cells of a quarter turn are the widest window."""


@dataclass(frozen=True, eq=False)
class _Level:
    """Windows of one width: (channels, cells) each.  NaN low where nothing is known."""

    slope: FloatArray
    low_db: FloatArray
    high_db: FloatArray


def windows_of(pattern: Pattern, *, per_band: bool) -> "Windows":
    """Of a pattern's bands, or of their mean; built once for patterns of the same content."""
    table = pattern.level_db if per_band else pattern.mean()[np.newaxis]
    return _windows_of(pattern.angle_deg.tobytes(), np.ascontiguousarray(table).tobytes())


@lru_cache(maxsize=16)
def _windows_of(angle_deg: bytes, level_db: bytes) -> "Windows":
    angle = np.frombuffer(angle_deg)
    return Windows(angle, np.frombuffer(level_db).reshape(-1, len(angle)))


class Windows:
    """The windows of one table with several channels (bands, or their mean)."""

    def __init__(self, angle_deg: FloatArray, level_db: FloatArray) -> None:
        """angle_deg (n,) ascending within [−180, 180]; level_db (channels, n)."""
        self._levels: dict[int, _Level] = {}
        self._nodes_deg, self._nodes_db = _unrolled(angle_deg, level_db)

    def enclose(
        self, centre_deg: FloatArray, halfwidth_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(slope, low, high), each (channels, …), for intervals centre ± half-width (…).

        low and high enclose D(φ) − slope·(φ − centre): slope in dB/degree, the others in dB.
        low is NaN where the whole window is unknown.
        """
        with np.errstate(divide="ignore", over="ignore"):
            finest = np.floor(np.log2((_CELLS - 1) * 180.0 / halfwidth_deg))
        level = np.minimum(np.maximum(finest, 0.0), FINEST_LEVEL).astype(np.intp)
        level[level < _COARSEST_LEVEL] = 0
        cells = np.left_shift(1, level)
        start_deg = wrap_deg(centre_deg - halfwidth_deg)
        cell = np.floor((start_deg + 180.0) * (cells / 360.0)).astype(np.intp) & (cells - 1)
        # wrap_deg ends at +180 itself, which is the first cell's start, −180.
        start_deg = np.where(start_deg == 180.0, -180.0, start_deg)
        offset = np.zeros(FINEST_LEVEL + 1, dtype=np.intp)
        built = []
        total = 0
        for one in np.flatnonzero(np.bincount(level.ravel())):
            offset[one] = total
            total += 1 << int(one)
            built.append(self._level(int(one)))
        place = offset[level] + cell
        slope, low, high = (
            np.concatenate(parts, axis=1).take(place, axis=1)
            for parts in zip(*((one.slope, one.low_db, one.high_db) for one in built), strict=True)
        )
        at_centre = slope * (start_deg + halfwidth_deg)
        low, high = low + at_centre, high + at_centre
        narrow = halfwidth_deg < _NARROW_DEG
        if narrow.any():
            few, *exact = self._narrow(centre_deg[narrow], halfwidth_deg[narrow])
            for whole, part in zip((slope, low, high), exact, strict=True):
                whole[:, narrow] = np.where(few, part, whole[:, narrow])
        return slope, low, high

    def _narrow(
        self, centre_deg: FloatArray, halfwidth_deg: FloatArray
    ) -> tuple[BoolArray, FloatArray, FloatArray, FloatArray]:
        """(few, slope, low, high) of intervals (n,) narrower than the finest windows.

        Straight from the nodes inside; few: (n,) whether they were few enough to look at.
        """
        half = halfwidth_deg + _ROUNDING_DEG
        start = wrap_deg(centre_deg - half)
        end, middle = start + 2.0 * half, start + half
        first, last = self._limit(start, from_right=True), self._limit(end, from_right=False)
        slope = (last - first) / (2.0 * half)
        slope = np.where(np.isnan(slope), 0.0, slope)
        first, last = first + slope * half, last - slope * half
        low, high = np.fmin(first, last), np.fmax(first, last)
        nodes = self._nodes_deg
        place = np.searchsorted(nodes, start)
        for step in range(_FEW_NODES):
            node = np.minimum(place + step, len(nodes) - 1)
            rest = self._nodes_db[:, node] - slope * (nodes[node] - middle)
            rest = np.where(nodes[node] <= end, rest, np.nan)
            low, high = np.fmin(low, rest), np.fmax(high, rest)
        few = nodes[np.minimum(place + _FEW_NODES, len(nodes) - 1)] > end
        return few, slope, low, high

    def _level(self, level: int) -> _Level:
        if level not in self._levels:
            self._levels[level] = self._whole_circle() if level == 0 else self._build(level)
        return self._levels[level]

    def _whole_circle(self) -> _Level:
        low = np.fmin.reduce(self._nodes_db, axis=1)[:, np.newaxis]
        high = np.fmax.reduce(self._nodes_db, axis=1)[:, np.newaxis]
        return _Level(slope=np.zeros_like(low), low_db=low, high_db=high)

    def _build(self, level: int) -> _Level:
        cells = 1 << level
        width = 360.0 / cells
        ends_deg: FloatArray = -180.0 + width * np.arange(cells + _CELLS, dtype=np.float64)
        first = self._limit(ends_deg[:cells], from_right=True)
        last = self._limit(ends_deg[_CELLS:], from_right=False)
        slope = (last - first) / (_CELLS * width)
        slope = np.where(np.isnan(slope), 0.0, slope)
        first -= slope * ends_deg[:cells]
        last -= slope * ends_deg[_CELLS:]
        low, high = np.fmin(first, last), np.fmax(first, last)
        # A reading straight behind takes the value at +180: the window that starts there holds it.
        seam = self._limit(np.array([180.0]), from_right=False)[:, 0] + 180.0 * slope[:, 0]
        low[:, 0], high[:, 0] = np.fmin(low[:, 0], seam), np.fmax(high[:, 0], seam)
        begin = np.searchsorted(self._nodes_deg, ends_deg)
        for step in range(_CELLS):
            # The nodes of the step-th cell of each window, seen with that window's slope.
            borders = begin[step : step + cells + 1]
            filled = np.flatnonzero(np.diff(borders))
            nodes = slice(borders[0], borders[-1])
            owner = np.repeat(np.arange(cells), np.diff(borders))
            rest = self._nodes_db[:, nodes] - slope[:, owner] * self._nodes_deg[nodes]
            starts = borders[filled] - borders[0]
            low[:, filled] = np.fmin(low[:, filled], np.fmin.reduceat(rest, starts, axis=1))
            high[:, filled] = np.fmax(high[:, filled], np.fmax.reduceat(rest, starts, axis=1))
        return _Level(slope=slope, low_db=low, high_db=high)

    def _limit(self, angle_deg: FloatArray, *, from_right: bool) -> FloatArray:
        """(channels, …) one-sided value at unrolled angles: the table may jump at ±180°.

        −180° itself is asked from the right only.
        """
        nodes = self._nodes_deg
        after = np.searchsorted(nodes, angle_deg, side="right" if from_right else "left")
        share = (angle_deg - nodes[after - 1]) / (nodes[after] - nodes[after - 1])
        before_db, after_db = self._nodes_db[:, after - 1], self._nodes_db[:, after]
        between = before_db + share * (after_db - before_db)
        return np.where(share <= 0.0, before_db, np.where(share >= 1.0, after_db, between))


def _unrolled(angle_deg: FloatArray, level_db: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The nodes of the circle and once more 360° on, with unknown (NaN) nodes beyond the data."""
    unknown = np.full((len(level_db), 2), np.nan)
    all_deg: list[FloatArray] = []
    all_db: list[FloatArray] = []
    for turn in (0.0, 360.0):
        nodes = angle_deg + turn
        if angle_deg[0] > -180.0:
            all_deg.append(np.array([turn - 180.0, np.nextafter(nodes[0], -np.inf)]))
            all_db.append(unknown)
        all_deg.append(nodes)
        all_db.append(level_db)
        if angle_deg[-1] < 180.0:
            all_deg.append(np.array([np.nextafter(nodes[-1], np.inf), turn + 180.0]))
            all_db.append(unknown)
    return np.concatenate(all_deg), np.concatenate(all_db, axis=1)

"""The vertical plane through the axis, out of directions all round."""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray, IntArray
from .pattern_result import Place

IN_PLANE_DEG = 0.01
LONGEST_READING_DEG = 30.0
"""Between receivers farther apart than this nothing is read; our own choice."""
APART_DB = 3.0
SAID_APART_DB = 0.5
_GRAIN = 1e5
"""Unit vectors that agree to 1e-5 (0.0006°) are one direction."""


@dataclass(frozen=True, eq=False)
class VerticalPlane:
    """angle_deg (n,) ascending in (−180, 180]; level_db (b, n)."""

    angle_deg: FloatArray
    level_db: FloatArray
    notes: tuple[str, ...]


def one_level_each(
    direction: FloatArray, level_db: FloatArray, place: Place
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Directions (m, 3) and levels (b, m) with each direction once: energy mean of its readings.

    A grid of latitudes and longitudes has its poles many times over.  Raises ScenarioError where
    one direction was measured with levels more than 3 dB apart.
    """
    whole = np.round(direction * _GRAIN).astype(np.int64) + int(2 * _GRAIN)
    key = (whole[:, 0] << 40) | (whole[:, 1] << 20) | whole[:, 2]
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    if len(first) == len(direction):
        return direction, level_db, ()
    mean_db, apart_db = _group_mean(level_db, group, len(first))
    repeated = len(direction) - len(first)
    if apart_db > APART_DB:
        place.refuse("ReceiverPosition", "found one direction measured more than once, with levels "
                     f"{apart_db:.1f} dB apart; one pattern in one file")  # fmt: skip
    notes: tuple[str, ...] = ()
    if apart_db > SAID_APART_DB:
        notes = (f"{repeated:,} repeated directions, up to {apart_db:.1f} dB apart, are averaged",)
    return direction[first], mean_db, notes


def vertical_plane(direction: FloatArray, level_db: FloatArray, place: Place) -> VerticalPlane:
    """Levels (b, m) in the vertical plane of the (m, 3) box directions.

    Receivers in the plane (to 0.01°) are taken as they are where there are as many of them as the
    layout leads one to expect.  Otherwise the plane is read between the neighbours on either side
    (linearly in dB along the edges of a triangulation), and a note says how far apart these are.
    Raises ScenarioError where the layout says nothing about the plane.
    """
    inside = np.flatnonzero(np.abs(direction[:, 1]) <= np.sin(np.radians(IN_PLANE_DEG)))
    # An even layout of m directions has about this many on a great circle; half of them will do.
    expected = 360.0 / np.sqrt(4.0 * np.pi / len(direction)) / np.degrees(1.0)
    if len(inside) >= max(2.0, min(0.5 * expected, len(direction))):
        angle_deg, plane_db = _sorted(direction[inside], level_db[:, inside])
        return VerticalPlane(angle_deg, plane_db, ())
    crossing, share, longest_deg = _crossings(direction)
    if len(crossing) + len(inside) < 3:
        place.refuse("ReceiverPosition", f"found {len(inside)} of {len(direction):,} directions in "
                     "the vertical plane through the axis, and none on either side to read it "
                     "from; receivers around that plane")  # fmt: skip
    near, far = direction[crossing[:, 0]], direction[crossing[:, 1]]
    between = near + share[:, np.newaxis] * (far - near)
    with np.errstate(invalid="ignore"):
        between_db = (1.0 - share) * level_db[:, crossing[:, 0]] + share * level_db[
            :, crossing[:, 1]
        ]
    angle_deg, plane_db = _sorted(
        np.concatenate([direction[inside], between]),
        np.concatenate([level_db[:, inside], between_db], axis=1),
    )
    note = (
        f"{len(inside)} receivers stand in the vertical plane: it is read between receivers "
        f"on either side, up to {longest_deg:.0f}° apart"
    )
    return VerticalPlane(angle_deg, plane_db, (note,))


def _crossings(direction: FloatArray) -> tuple[IntArray, FloatArray, float]:
    """Pairs (k, 2) of neighbours on either side of the plane, where between them it lies (0…1),
    and how far apart the farthest are, in degrees."""
    from scipy.spatial import ConvexHull, QhullError

    none = np.empty((0, 2), dtype=np.intp), np.empty(0), 0.0
    if len(direction) < 4 or np.linalg.matrix_rank(direction, tol=1e-6) < 3:
        return none
    try:
        faces = ConvexHull(direction).simplices
    except QhullError:
        return none
    sides = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [0, 2]]]))
    edge = np.unique(sides, axis=0).astype(np.intp)
    left = direction[:, 1][edge]
    cosine = np.sum(direction[edge[:, 0]] * direction[edge[:, 1]], axis=1)
    tolerance = np.sin(np.radians(IN_PLANE_DEG))
    across = (left[:, 0] * left[:, 1] < 0.0) & np.all(np.abs(left) > tolerance, axis=1)
    across &= cosine >= np.cos(np.radians(LONGEST_READING_DEG))
    if not across.any():
        return none
    edge, left = edge[across], left[across]
    longest = float(np.degrees(np.arccos(np.clip(cosine[across].min(), -1.0, 1.0))))
    return edge, np.asarray(left[:, 0] / (left[:, 0] - left[:, 1])), longest


def _sorted(direction: FloatArray, level_db: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Off-axis angles in the plane, ascending and each once, with their levels."""
    angle = np.round(np.degrees(np.arctan2(direction[:, 2], direction[:, 0])), 3) + 0.0
    angle[angle <= -180.0] = 180.0
    kept, group = np.unique(angle, return_inverse=True)
    return kept, _group_mean(level_db, group, len(kept))[0]


def _group_mean(level_db: FloatArray, group: IntArray, groups: int) -> tuple[FloatArray, float]:
    """(b, groups) energy means, and the largest difference within a group in dB.

    A difference counts where its louder reading is within 30 dB of the loudest there is.
    """
    order = np.argsort(group, kind="stable")
    start = np.searchsorted(group[order], np.arange(groups))
    ordered = level_db[:, order]
    high = np.maximum.reduceat(ordered, start, axis=1)
    low = np.minimum.reduceat(ordered, start, axis=1)
    size = np.bincount(group, minlength=groups)
    power = np.add.reduceat(10.0 ** (ordered / 10.0), start, axis=1) / size
    counted = (high > high.max(axis=1, keepdims=True) - 30.0) & np.isfinite(low)
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.where(counted, high - low, 0.0)
        mean_db = np.where(size == 1, high, 10.0 * np.log10(power))
    return np.asarray(mean_db), float(apart.max(initial=0.0))

"""Lines of sight and clearances in the section: plain geometry of points, edges and outlines."""

import numpy as np
import numpy.typing as npt

from ..base.arrays import BoolArray, FloatArray

EYE_RADIUS_M = 1e-3
"""An edge this close to an eye or a focus is one that it lies on."""


def crossed_each(
    from_m: FloatArray, to_m: FloatArray, start_m: FloatArray, end_m: FloatArray
) -> BoolArray:
    """(…) whether straight ways cross edges, each to each; all (…, 2), of shapes that broadcast.

    An edge that only touches an end of the way does not count; a way through a joint of two edges
    counts for exactly one of them.
    """
    x0, z0, x1, z1 = from_m[..., 0], from_m[..., 1], to_m[..., 0], to_m[..., 1]
    xa, za, xb, zb = start_m[..., 0], start_m[..., 1], end_m[..., 0], end_m[..., 1]
    run, rise = x1 - x0, z1 - z0
    first = run * (za - z0) >= rise * (xa - x0)
    second = run * (zb - z0) >= rise * (xb - x0)
    here = (xb - xa) * (z0 - za) - (zb - za) * (x0 - xa)
    there = (xb - xa) * (z1 - za) - (zb - za) * (x1 - xa)
    return np.asarray((first != second) & ((here > 0.0) != (there > 0.0)) & (here * there != 0.0))


def crossed(
    from_m: FloatArray, to_m: FloatArray, start_m: FloatArray, end_m: FloatArray
) -> BoolArray:
    """(…, e) whether the straight ways from (…, 2) to (…, 2) cross edges (e, 2)."""
    return crossed_each(from_m[..., np.newaxis, :], to_m[..., np.newaxis, :], start_m, end_m)


def side_of(point_m: FloatArray, start_m: FloatArray, end_m: FloatArray) -> npt.NDArray[np.int8]:
    """(p, e) on which side of edges (e, 2) points (p, 2) lie: 1 left, -1 right, 0 in line."""
    run, rise = (end_m - start_m).T
    over = run * (point_m[:, 1:] - start_m[:, 1]) - rise * (point_m[:, :1] - start_m[:, 0])
    return np.asarray(np.sign(over), np.int8)


def edge_distance_m(point_m: FloatArray, start_m: FloatArray, end_m: FloatArray) -> FloatArray:
    """(p, e) distance of points (p, 2) from edges (e, 2)."""
    run, rise = (end_m - start_m).T
    right, up = point_m[:, :1] - start_m[:, 0], point_m[:, 1:] - start_m[:, 1]
    share = (right * run + up * rise) / np.maximum(run**2 + rise**2, 1e-300)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(np.hypot(right - share * run, up - share * rise))


def loses_sight(eye_m: FloatArray, focus_m: npt.ArrayLike, outline_m: FloatArray) -> BoolArray:
    """(n,) whether an outline (k, 2) stands between eyes (n, 2) and the focus.

    An eye inside the outline sees nothing.
    """
    start, end = _edges(outline_m)
    focus = np.broadcast_to(np.asarray(focus_m, np.float64), eye_m.shape)
    hit = crossed(eye_m, focus, start, end).any(axis=-1)
    return np.asarray(hit | inside(eye_m, outline_m))


def hidden_by_edges(
    eye_m: FloatArray, focus_m: npt.ArrayLike, start_m: FloatArray, end_m: FloatArray
) -> BoolArray:
    """(n,) whether edges (e, 2) stand between eyes (n, 2) and the focus.

    An edge on which the eye or the focus itself lies hides nothing.
    """
    focus = np.broadcast_to(np.asarray(focus_m, np.float64), eye_m.shape)
    hit = crossed(eye_m, focus, start_m, end_m)
    hit &= edge_distance_m(eye_m, start_m, end_m) > EYE_RADIUS_M
    hit &= edge_distance_m(focus, start_m, end_m) > EYE_RADIUS_M
    return np.asarray(hit.any(axis=-1))


def inside(point_m: FloatArray, outline_m: FloatArray) -> BoolArray:
    """(p,) whether points (p, 2) lie inside an outline (k, 2), by counting crossings."""
    start, end = _edges(outline_m)
    x, z = point_m[:, :1], point_m[:, 1:]
    spans = (start[:, 1] > z) != (end[:, 1] > z)
    rise = np.where(start[:, 1] == end[:, 1], 1.0, end[:, 1] - start[:, 1])
    at = start[:, 0] + (z - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
    return np.asarray((spans & (x < at)).sum(axis=1) % 2 == 1)


def outline_distance_m(point_m: FloatArray, outline_m: FloatArray) -> FloatArray:
    """(p,) distance of points (p, 2) from an outline (k, 2); 0 inside it."""
    away = edge_distance_m(point_m, *_edges(outline_m)).min(axis=1)
    return np.where(inside(point_m, outline_m), 0.0, away)


def clearance_m(outline_m: FloatArray, line_m: FloatArray) -> float:
    """Smallest distance between an outline (k, 2) and a line (n, 2); 0 where they collide."""
    start, end = _edges(outline_m)
    if crossed(line_m[:-1], line_m[1:], start, end).any():
        return 0.0
    own = edge_distance_m(outline_m, line_m[:-1], line_m[1:])
    return float(min(outline_distance_m(line_m, outline_m).min(), own.min(initial=np.inf)))


def head_clearance_m(outline_m: FloatArray, floor_m: FloatArray, *, head_m: float) -> float | None:
    """Least height of an outline (k, 2) above the heads over a floor line (n, 2).

    head_m: top of the heads above the floor.  Negative where it hangs lower than the heads; None
    where the outline is nowhere over this floor, or only below it.
    """
    low = max(float(outline_m[:, 0].min()), float(floor_m[0, 0]))
    high = min(float(outline_m[:, 0].max()), float(floor_m[-1, 0]))
    if low > high:
        return None
    # The gap between two polylines is least at a corner of either, or at an end of the overlap.
    x = np.concatenate([[low, high], outline_m[:, 0], floor_m[:, 0]])
    x = x[(x >= low) & (x <= high)]
    start, end = _edges(outline_m)
    least = np.inf
    for at in set(x.tolist()):
        spans = (np.minimum(start[:, 0], end[:, 0]) <= at) & (
            at <= np.maximum(start[:, 0], end[:, 0])
        )
        run = end[spans, 0] - start[spans, 0]
        share = (at - start[spans, 0]) / np.where(run == 0.0, 1.0, run)
        # Of an upright edge its beginning; where its end lies lower, another edge has that corner.
        lowest = (start[spans, 1] + share * (end[spans, 1] - start[spans, 1])).min()
        beneath = _floor_z_m(floor_m, at)
        if lowest >= beneath.min():
            least = min(least, float(lowest - beneath.max()))
    return None if np.isinf(least) else least - head_m


def seen_elevation_deg(eye_m: FloatArray, at_m: npt.ArrayLike) -> FloatArray:
    """(n,) how high above the horizontal eyes (n, 2) see a point, [−90, 90], whichever way."""
    away = np.asarray(at_m, np.float64) - eye_m
    return np.asarray(np.degrees(np.arctan2(away[:, 1], np.abs(away[:, 0]))))


def _floor_z_m(floor_m: FloatArray, x_m: float) -> FloatArray:
    """The floor's heights at x: one, or all of a riser's."""
    on = floor_m[floor_m[:, 0] == x_m, 1]
    return on if len(on) else np.array([np.interp(x_m, floor_m[:, 0], floor_m[:, 1])])


def _edges(outline_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    return outline_m, np.roll(outline_m, -1, axis=0)

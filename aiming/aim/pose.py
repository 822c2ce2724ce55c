"""Axis and place of a loudspeaker over boxes of placements, as affine forms.

ln r and angle of a displacement d are the real and the imaginary part of ln d, d read as a complex
number.  Over a disc of radius ρ about d the straight line ln d + w/d leaves over at most
Σ q^k/k (k ≥ 2) = −ln(1 − q) − q, q = ρ/r.  docs/how-it-computes.md writes it out.
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import BoolArray, FloatArray
from ..speaker.cabinet import turned_m
from .boxes import GENERATORS, HEIGHT_LEFT, TILT_LEFT, Boxes, Q, V, X
from .problem import Problem


@dataclass(frozen=True, eq=False)
class Pose:
    """Axis and place of (b,) boxes as affine forms, radians and metres.

    tilt, height: at the centre; tilt_gen, height_gen: (6, b)
    reach_m: (b,) how far the acoustic centre may lie from its place at the centre

    Where the box is too large, or too near its aim point, for the forms, they say only that the
    tilt is anything.
    """

    tilt: FloatArray
    tilt_gen: FloatArray
    height: FloatArray
    height_gen: FloatArray
    reach_m: FloatArray


def _drop(problem: Problem, tilt: FloatArray, flipped: BoolArray) -> FloatArray:
    """(2, b) drop of the lowest point (m) and its slope (m/rad) at tilts (b,) in radians."""
    assert problem.cabinet is not None and problem.cabinet.outline_m is not None
    degrees = np.degrees(tilt)
    up = turned_m(problem.cabinet.outline_m, tilt_deg=degrees, flipped=False)
    down = turned_m(problem.cabinet.outline_m, tilt_deg=degrees, flipped=True)
    points = np.where(flipped[:, np.newaxis, np.newaxis], down, up)
    lowest = np.argmin(points[..., 1], axis=1)
    index = np.arange(len(tilt))
    # dz/dτ of a body point is its x.
    return np.stack([-points[index, lowest, 1], -points[index, lowest, 0]])


def _bend(problem: Problem, tilt: FloatArray, flipped: BoolArray, swing: FloatArray) -> FloatArray:
    """(b,) how far the drop may depart from its tangent within ±swing (rad)."""
    assert problem.cabinet is not None and problem.cabinet.outline_m is not None
    degrees = np.degrees(tilt)
    up = turned_m(problem.cabinet.outline_m, tilt_deg=degrees, flipped=False)
    down = turned_m(problem.cabinet.outline_m, tilt_deg=degrees, flipped=True)
    points = np.where(flipped[:, np.newaxis, np.newaxis], down, up)
    x, z = points[..., 0], points[..., 1]
    lowest = np.argmin(z, axis=1)[:, np.newaxis]
    ahead = np.take_along_axis(z, lowest, axis=1) - z
    steeper = np.abs(x - np.take_along_axis(x, lowest, axis=1))
    kink = np.max(ahead + steeper * swing[:, np.newaxis], axis=1)
    return np.asarray(kink + 0.5 * problem.cabinet.radius_m * swing**2)


def settle(problem: Problem, boxes: Boxes) -> tuple[FloatArray, FloatArray]:
    """(tilt in radians, height in metres) at the boxes' centres (b,)."""
    q, v, x = boxes.centre[:, :3].T
    if boxes.piece[0] < 0:
        tilt = np.radians(q)
        if not problem.from_trim:
            return tilt, v.copy()
        return tilt, v + _drop(problem, tilt, boxes.flipped)[0]
    planes = problem.planes
    start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
    aim = start + q[:, np.newaxis] * (end - start)
    height = v.copy()
    tilt = np.arctan2(aim[:, 1] - height, aim[:, 0] - x)
    if problem.from_trim:
        for _ in range(40):  # contracts by about cabinet size over distance
            height = v + _drop(problem, tilt, boxes.flipped)[0]
            new = np.arctan2(aim[:, 1] - height, aim[:, 0] - x)
            done = bool(np.max(np.abs(new - tilt)) < 1e-13)
            tilt = new
            if done:
                break
        height = v + _drop(problem, tilt, boxes.flipped)[0]
    return tilt, height


def own_reach_m(problem: Problem) -> float:
    """Aim points farther off than this belong to one tilt each, although trim ties height to tilt.

    Heights differ by at most two radii of the cabinet, and beyond one radius more the map from
    tilt to height to tilt contracts.
    """
    return 3.0 * _radius_m(problem)


def _radius_m(problem: Problem) -> float:
    """Of the cabinet that ties height to tilt; 0 where none does."""
    if not problem.from_trim:
        return 0.0
    assert problem.cabinet is not None
    return problem.cabinet.radius_m


def pose(problem: Problem, boxes: Boxes) -> Pose:
    """The affine forms of tilt and height over boxes."""
    count = len(boxes)
    tilt, height = settle(problem, boxes)
    half_q, half_v, half_x = boxes.half[:, :3].T
    tilt_gen = np.zeros((GENERATORS, count))
    height_gen = np.zeros((GENERATORS, count))
    height_gen[V] = half_v
    resolved = np.ones(count, dtype=bool)
    if boxes.piece[0] < 0:
        tilt_gen[Q] = np.radians(half_q)
        if problem.from_trim:
            slope = _drop(problem, tilt, boxes.flipped)[1]
            height_gen[Q] = slope * tilt_gen[Q]
            height_gen[HEIGHT_LEFT] = _bend(problem, tilt, boxes.flipped, tilt_gen[Q])
        reach_v = np.abs(height_gen).sum(axis=0)
        return Pose(tilt, tilt_gen, height, height_gen, np.hypot(reach_v, half_x))
    planes = problem.planes
    start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
    along = (end - start) * half_q[:, np.newaxis]
    x = boxes.centre[:, X]
    aim = start + boxes.centre[:, :1] * (end - start)
    dx, dz = aim[:, 0] - x, aim[:, 1] - height
    r2 = np.maximum(dx * dx + dz * dz, 1e-12)
    r = np.sqrt(r2)
    move_x = np.abs(along[:, 0]) + half_x
    move_z = np.abs(along[:, 1]) + half_v
    # Elevation of d = (dx, dz): gradient (−dz, dx)/r².
    by_height = -dx / r2
    tilt_gen[Q] = (dx * along[:, 1] - dz * along[:, 0]) / r2
    tilt_gen[V] = by_height * half_v
    tilt_gen[X] = dz / r2 * half_x
    if problem.from_trim:
        radius = _radius_m(problem)
        reach = np.hypot(move_x, move_z)
        clear = r - reach
        # The tilt cannot swing further than `swing` if that swing, with the height that it
        # brings, still keeps the line of sight within it.  Beyond the own reach the damping
        # below is at least 2/3.
        swing = 2.0 * reach / np.maximum(clear, 1e-9)
        moved = reach + radius * swing
        resolved = (clear > own_reach_m(problem)) & (moved <= swing * (r - moved))
        swing = np.minimum(swing, np.pi)
        slope = _drop(problem, tilt, boxes.flipped)[1]
        bend = _bend(problem, tilt, boxes.flipped, swing)
        move_z = move_z + np.minimum(np.abs(slope) * swing + bend, 2.0 * radius)
        damping = 1.0 - by_height * slope
        rho = np.hypot(move_x, move_z)
        left = left_over(rho, r)
        tilt_gen[HEIGHT_LEFT] = by_height * bend
        tilt_gen[TILT_LEFT] = left
        tilt_gen /= damping
        height_gen[:4] += slope * tilt_gen[:4]
        height_gen[HEIGHT_LEFT] = bend + slope * tilt_gen[HEIGHT_LEFT]
    else:
        rho = np.hypot(move_x, move_z)
        left = left_over(rho, r)
        tilt_gen[TILT_LEFT] = left
    lost = ~(resolved & (rho < r))
    if lost.any():
        tilt_gen[:, lost] = np.array([0.0, 0.0, 0.0, 2.0 * np.pi, 0.0, 0.0])[:, np.newaxis]
        height_gen[:, lost] = 0.0
        height_gen[V, lost] = half_v[lost]
        height_gen[HEIGHT_LEFT, lost] = 2.0 * _radius_m(problem)
    reach_v = np.abs(height_gen).sum(axis=0)
    return Pose(tilt, tilt_gen, height, height_gen, np.hypot(reach_v, half_x))


def left_over(rho_m: FloatArray, distance_m: FloatArray) -> FloatArray:
    """−ln(1 − q) − q, q = ρ/r: what a straight line leaves over of angle (rad) or of ln r."""
    q = rho_m / distance_m
    return np.where(q < 1.0, -np.log1p(-np.minimum(q, 1.0 - 1e-15)) - q, np.inf)

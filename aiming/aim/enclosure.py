"""Affine enclosures of every row's level over boxes of placements.

A box is a centre and half-widths in (q, v, x), and in the splay where a loudspeaker hangs under:

    q   where the axis points: a share along one piece of the audience plane ("aimed"), or the
        tilt itself ("tilted")
    v   height of the acoustic centre, or trim of the cabinet's lowest point
    x   of the acoustic centre

With t in [−1, 1] for each of them, and two further unknowns for what is left over in tilt and in
height (common to all rows, so they cancel where rows are compared; third and fourth, before the
splay), every row and channel obeys

    const + Σ gen[k]·t[k] + low  ≤  L  ≤  const + Σ gen[k]·t[k] + high

ln r and angle of a displacement d are the real and the imaginary part of ln d, d read as a complex
number.  Over a disc of radius ρ about d the straight line ln d + w/d leaves over at most
Σ q^k/k (k ≥ 2) = −ln(1 − q) − q, q = ρ/r.  docs/how-it-computes.md writes it out.  Two loudspeakers
are enclosed one by one and summed in enclosure_sum.py.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import BoolArray, FloatArray, IntArray
from ..field.levels import NEAREST_M
from ..speaker.cabinet import turned_m
from .problem import Problem
from .under import Shadow
from .windows import Windows

NEPER_DB = 20.0 / np.log(10.0)
GENERATORS = 6
_X, SPLAY = 2, 5
COLUMN_OF = {0: 0, 1: 1, 2: 2, SPLAY: 3}
"""Which column of a box an unknown belongs to."""
_NEAR_SHARE = 0.7
_DEG = 180.0 / np.pi


@dataclass(frozen=True, eq=False)
class Boxes:
    """(b,) boxes of placements.

    centre, half: (b, 3) in (q, v, x), or (b, 4) with the splay in degrees
    piece: (b,) index of the audience plane's piece, −1 where q is the tilt in degrees
    flipped: (b,)
    """

    centre: FloatArray
    half: FloatArray
    piece: IntArray
    flipped: BoolArray

    def __len__(self) -> int:
        return len(self.piece)

    def pick(self, which: IntArray | BoolArray) -> "Boxes":
        return Boxes(self.centre[which], self.half[which], self.piece[which], self.flipped[which])


def joined(parts: list[Boxes]) -> Boxes:
    """All boxes of several sets."""
    return Boxes(
        np.concatenate([part.centre for part in parts]),
        np.concatenate([part.half for part in parts]),
        np.concatenate([part.piece for part in parts]),
        np.concatenate([part.flipped for part in parts]),
    )


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


@dataclass(frozen=True, eq=False)
class Enclosure:
    """const, low, high: (b, channels, rows); gen: (active, b, channels, rows); all in dB.

    active: which of the six unknowns appear at all
    """

    const: FloatArray
    gen: FloatArray
    low: FloatArray
    high: FloatArray
    active: list[int]


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
    value, slope = -points[..., 1], -points[..., 0]
    lowest = np.argmax(value, axis=1)[:, np.newaxis]
    ahead = value - np.take_along_axis(value, lowest, axis=1)
    steeper = np.abs(slope - np.take_along_axis(slope, lowest, axis=1))
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
    return 3.0 * problem.cabinet.radius_m if problem.from_trim and problem.cabinet else 0.0


def pose(problem: Problem, boxes: Boxes) -> Pose:
    """The affine forms of tilt and height over boxes."""
    count = len(boxes)
    tilt, height = settle(problem, boxes)
    half_q, half_v, half_x = boxes.half[:, :3].T
    tilt_gen = np.zeros((GENERATORS, count))
    height_gen = np.zeros((GENERATORS, count))
    height_gen[1] = half_v
    resolved = np.ones(count, dtype=bool)
    if boxes.piece[0] < 0:
        tilt_gen[0] = np.radians(half_q)
        if problem.from_trim:
            slope = _drop(problem, tilt, boxes.flipped)[1]
            height_gen[0] = slope * tilt_gen[0]
            height_gen[4] = _bend(problem, tilt, boxes.flipped, tilt_gen[0])
        reach_v = np.abs(height_gen).sum(axis=0)
        return Pose(tilt, tilt_gen, height, height_gen, np.hypot(reach_v, half_x))
    planes = problem.planes
    start, end = planes.start_m[boxes.piece], planes.end_m[boxes.piece]
    along = (end - start) * half_q[:, np.newaxis]
    x = boxes.centre[:, 2]
    aim = start + boxes.centre[:, :1] * (end - start)
    dx, dz = aim[:, 0] - x, aim[:, 1] - height
    r2 = np.maximum(dx * dx + dz * dz, 1e-12)
    r = np.sqrt(r2)
    move_x = np.abs(along[:, 0]) + half_x
    move_z = np.abs(along[:, 1]) + half_v
    # Elevation of d = (dx, dz): gradient (−dz, dx)/r².
    by_height = -dx / r2
    tilt_gen[0] = (dx * along[:, 1] - dz * along[:, 0]) / r2
    tilt_gen[1] = by_height * half_v
    tilt_gen[2] = dz / r2 * half_x
    if problem.from_trim:
        radius = problem.cabinet.radius_m if problem.cabinet else 0.0
        reach = np.hypot(move_x, move_z)
        clear = r - reach
        # The tilt cannot swing further than `swing` if that swing, with the height that it
        # brings, still keeps the line of sight within it.
        swing = 2.0 * reach / np.maximum(clear, 1e-9)
        moved = reach + radius * swing
        resolved = (clear > own_reach_m(problem)) & (moved < r) & (moved <= swing * (r - moved))
        swing = np.where(resolved, np.minimum(swing, np.pi), np.pi)
        slope = _drop(problem, tilt, boxes.flipped)[1]
        bend = _bend(problem, tilt, boxes.flipped, swing)
        move_z = move_z + np.minimum(np.abs(slope) * swing + bend, 2.0 * radius)
        damping = 1.0 - by_height * slope
        rho = np.hypot(move_x, move_z)
        left = left_over(rho, r)
        tilt_gen[4] = by_height * bend
        tilt_gen[3] = left
        tilt_gen /= damping
        height_gen[:4] += slope * tilt_gen[:4]
        height_gen[4] = bend + slope * tilt_gen[4]
        resolved &= damping > 0.1
    else:
        rho = np.hypot(move_x, move_z)
        left = left_over(rho, r)
        tilt_gen[3] = left
    lost = ~(resolved & (rho < r))
    if lost.any():
        tilt_gen[:, lost] = np.array([0.0, 0.0, 0.0, 2.0 * np.pi, 0.0, 0.0])[:, np.newaxis]
        height_gen[:, lost] = 0.0
        height_gen[1, lost] = half_v[lost]
        if problem.from_trim and problem.cabinet is not None:
            height_gen[4, lost] = 2.0 * problem.cabinet.radius_m
    reach_v = np.abs(height_gen).sum(axis=0)
    return Pose(tilt, tilt_gen, height, height_gen, np.hypot(reach_v, half_x))


def left_over(rho_m: FloatArray, distance_m: FloatArray) -> FloatArray:
    """−ln(1 − q) − q, q = ρ/r: what a straight line leaves over of angle (rad) or of ln r."""
    q = rho_m / distance_m
    return np.where(q < 1.0, -np.log1p(-np.minimum(q, 1.0 - 1e-15)) - q, np.inf)


def enclose(problem: Problem, boxes: Boxes, at: Pose) -> Enclosure:
    """The affine enclosures of all rows; low is NaN where a row is surely unknown.

    Where the objective is taken at several displacements, each has its own channels, one after the
    other: a displacement moves the centre of a box and leaves its unknowns as they are.
    """
    from .enclosure_sum import enclose_with_under

    parts = []
    for off in problem.around:
        centre = boxes.centre.copy()
        centre[:, _X] += off.x_m
        there = replace(
            at, tilt=at.tilt + np.radians(off.tilt_deg), height=at.height + off.height_m
        )
        moved = replace(boxes, centre=centre)
        if problem.under is None:
            view = view_of(moved, there)
            parts.append(enclose_source(problem, own_source(problem), view, view.active()))
        else:
            parts.append(enclose_with_under(problem, moved, there))
    if len(parts) == 1:
        return parts[0]
    return Enclosure(
        const=np.concatenate([part.const for part in parts], axis=1),
        gen=np.concatenate([part.gen for part in parts], axis=2),
        low=np.concatenate([part.low for part in parts], axis=1),
        high=np.concatenate([part.high for part in parts], axis=1),
        active=parts[0].active,
    )


@dataclass(frozen=True, eq=False)
class View:
    """Axis and place of one loudspeaker over (b,) boxes as affine forms, radians and metres.

    x, height, tilt: at the centre; x_gen, height_gen, tilt_gen: (6, b)
    reach_m: (b,) how far it may lie from its place at the centre
    rest_m: (b,) how far it may lie from its affine forms; None where they are exact
    """

    x: FloatArray
    x_gen: FloatArray
    height: FloatArray
    height_gen: FloatArray
    tilt: FloatArray
    tilt_gen: FloatArray
    flipped: BoolArray
    reach_m: FloatArray
    rest_m: FloatArray | None = None

    def play_m(self) -> tuple[FloatArray, FloatArray]:
        """(b,) how far it may lie to either side, and up or down."""
        rest = 0.0 if self.rest_m is None else self.rest_m
        return np.abs(self.x_gen).sum(axis=0) + rest, np.abs(self.height_gen).sum(axis=0) + rest

    def active(self) -> list[int]:
        """Which of the unknowns appear."""
        forms = (self.tilt_gen, self.height_gen, self.x_gen)
        return [k for k in range(GENERATORS) if any(gen[k].any() for gen in forms)]


@dataclass(frozen=True, eq=False)
class Source:
    """What of a loudspeaker does not depend on where it is; channels as in the windows."""

    windows: Windows
    shadow: Shadow | None
    louder_db: FloatArray | None = None


def own_source(problem: Problem) -> Source:
    """The loudspeaker that the question is about."""
    return Source(problem.windows, problem.shadow)


def view_of(boxes: Boxes, at: Pose) -> View:
    """The same loudspeaker's forms."""
    x_gen = np.zeros_like(at.height_gen)
    x_gen[_X] = boxes.half[:, _X]
    return View(
        x=boxes.centre[:, _X],
        x_gen=x_gen,
        height=at.height,
        height_gen=at.height_gen,
        tilt=at.tilt,
        tilt_gen=at.tilt_gen,
        flipped=boxes.flipped,
        reach_m=at.reach_m,
    )


def enclose_source(problem: Problem, source: Source, at: View, active: list[int]) -> Enclosure:
    """One loudspeaker's affine enclosures in these unknowns."""
    dx = problem.rows.x_m - at.x[:, np.newaxis]
    dz = problem.rows.z_m - at.height[:, np.newaxis]
    r2 = np.maximum(dx * dx + dz * dz, NEAREST_M**2)
    inverse = 1.0 / r2
    r = np.sqrt(r2)
    reach = at.reach_m[:, np.newaxis]
    left = np.where(r > NEAREST_M, np.minimum(left_over(reach, r), np.pi), np.pi)
    if at.rest_m is not None:
        left = left + at.rest_m[:, np.newaxis] / r

    # Angle: elevation − tilt, signed so that a flipped box reads its own table.
    sign = np.where(at.flipped, -1.0, 1.0)[:, np.newaxis]
    by_height = -dx * inverse
    by_x = dz * inverse
    along_x = [bool(gen.any()) for gen in at.x_gen]
    gen = np.empty((len(active), *dx.shape))
    width = np.zeros(dx.shape)
    for place, k in enumerate(active):
        np.multiply(by_height, at.height_gen[k][:, np.newaxis], out=gen[place])
        if along_x[k]:
            gen[place] += by_x * at.x_gen[k][:, np.newaxis]
        gen[place] -= at.tilt_gen[k][:, np.newaxis]
        width += np.abs(gen[place])
    width = (width + left) * _DEG
    angle = (np.arctan2(dz, dx) - at.tilt[:, np.newaxis]) * _DEG
    slope, low, high = source.windows.enclose(sign * angle, np.minimum(width, 180.0))
    slope = np.moveaxis(slope, 0, 1) * (sign * _DEG)[:, np.newaxis]
    low, high = np.moveaxis(low, 0, 1), np.moveaxis(high, 0, 1)

    # Spreading and air: −K·ln r − α·r, gradient −(K/r² + α/r)·d.
    alpha = problem.channel_absorption_db_per_m[:, np.newaxis]
    pull = NEPER_DB * inverse[:, np.newaxis] + alpha / r[:, np.newaxis]
    clear = np.maximum(r - reach, NEAREST_M)
    rise = NEPER_DB * left
    fall = rise[:, np.newaxis] + alpha * (0.5 * reach**2 / clear)[:, np.newaxis]
    rise = np.broadcast_to(rise[:, np.newaxis], fall.shape)
    if at.rest_m is not None:
        air = alpha * at.rest_m[:, np.newaxis, np.newaxis]
        fall, rise = fall + air, rise + air
    near = (reach > _NEAR_SHARE * r) | (r <= NEAREST_M)
    if near.any():
        # No straight line, only how near and how far the row may be.
        near, air = near[:, np.newaxis], alpha * reach[:, np.newaxis]
        pull = np.where(near, 0.0, pull)
        fall = np.where(near, NEPER_DB * np.log1p(reach / r)[:, np.newaxis] + air, fall)
        rise = np.where(near, NEPER_DB * np.log(r / clear)[:, np.newaxis] + air, rise)
    const = -0.5 * NEPER_DB * np.log(r2)[:, np.newaxis] - alpha * r[:, np.newaxis]
    whole = np.empty((len(active), *const.shape))
    for place, k in enumerate(active):
        nearer = dz * at.height_gen[k][:, np.newaxis]
        if along_x[k]:
            nearer += dx * at.x_gen[k][:, np.newaxis]
        np.multiply(slope, gen[place][:, np.newaxis], out=whole[place])
        whole[place] += pull * nearer[:, np.newaxis]
    turn = np.abs(slope) * left[:, np.newaxis]
    low = low - turn - fall
    high = high + turn + rise
    if source.louder_db is not None:
        const = const + source.louder_db[:, np.newaxis]
    if source.shadow is not None:
        far_x, far_z = at.play_m()
        least, most = source.shadow.bounds_db(
            (at.x - far_x, at.x + far_x), (at.height - far_z, at.height + far_z)
        )
        if not problem.per_band:
            least, most = least.mean(axis=1, keepdims=True), most.mean(axis=1, keepdims=True)
        low, high = low - most, high - least
    return Enclosure(const=const, gen=whole, low=low, high=high, active=active)

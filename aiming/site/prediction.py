"""Levels at points for everything that may be: direct sound, the floor's, the room's own.

     o                      direct   r, off-axis φ
    / `--__                 floor    r', φ': to the microphone's image under the floor
   /       `--__
  /    r        `-o         |1 + ρ·(r/r')·10^((P(φ') − P(φ))/20)·e^(−ikΔ)|², Δ = r' − r, its
 /  r'       __-- |  h       cosine averaged over the band
/      __--  _____|_____ floor
`--__--           |
                  '  image
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..aim.problem import Problem
from ..base.arrays import FloatArray, frozen
from ..base.bands import exact_midband_hz
from ..field.levels import loss_db, power_sum_db
from ..geometry.section import Seating, elevation_deg
from ..speaker.pattern import Pattern, edge_deg
from ..speaker.speaker import Placement
from .draws import Draws

STEP_DEG = 0.25
ROOM_FALLS_DB_PER_M = 0.174 / 1.5
"""A room's own sound falls with the distance by 0.174 dB/m over its reverberation time in seconds
(M. Barron and L.-J. Lee, 1988, from memory); 1.5 s is our own choice."""
EDGE_MOST = 1.6
"""What is wrong with a pattern grows with the square of the angle, up to this many half-angles."""


@dataclass(frozen=True, eq=False)
class Points:
    """Where levels are asked for.

    x_m, z_m (n,); image_m (n, 2): their mirror images under the floor, NaN where there is none
    shadow_db (bands, n): what hides them, as planned
    """

    x_m: FloatArray
    z_m: FloatArray
    image_m: FloatArray
    shadow_db: FloatArray | float = 0.0

    def __len__(self) -> int:
        return len(self.x_m)


class Prediction:
    """One loudspeaker's plan, and what is heard of it at points if something is otherwise."""

    def __init__(
        self, problem: Problem, plan: Placement, *, speed_m_s: float, width_octaves: float
    ) -> None:
        """problem: its rows are the audience served, its pattern the design bands"""
        self.problem = problem
        self.plan = plan
        self.speed_m_s = speed_m_s
        pattern = whole(problem.pattern)
        if plan.flipped:
            pattern = pattern.flipped()
        self.angle_deg = np.arange(-180.0, 180.0 + STEP_DEG, STEP_DEG)
        self.table_db = pattern.read_db(np.clip(self.angle_deg, -180.0, 180.0)).T.copy()
        self.mean_db = self.table_db.mean(axis=1, keepdims=True)
        self.half_deg = _half_angles(pattern.angle_deg, pattern.mean())
        middle = np.array([exact_midband_hz(band) for band in pattern.band_hz])
        spread = 2.0 ** (0.5 * width_octaves)
        self.middle_hz = 0.5 * middle * (spread + 1.0 / spread)
        self.wide_hz = middle * (spread - 1.0 / spread)

    @property
    def bands(self) -> int:
        """How many design bands."""
        return int(self.table_db.shape[1])

    @cached_property
    def _throw_m(self) -> FloatArray:
        """(rows,) from the box as planned."""
        rows, plan = self.problem.rows, self.plan
        return np.asarray(np.hypot(rows.x_m - plan.x_m, rows.z_m - plan.height_m))

    @cached_property
    def back_m(self) -> float:
        """How far the farthest row served is, as planned."""
        return float(self._throw_m.max())

    @cached_property
    def back_db(self) -> FloatArray:
        """(bands,) direct level there, as planned."""
        return np.asarray(self.problem.levels_db(self.plan)[:, int(np.argmax(self._throw_m))])

    def pattern_db(
        self, off_axis_deg: FloatArray, draws: Draws, *, mean: bool = False
    ) -> FloatArray:
        """(d, …, n, bands) of off-axis angles (d, …, n); mean: one band, the mean of all."""
        column = (slice(None), *([np.newaxis] * (off_axis_deg.ndim - 1)))
        table = self.mean_db if mean else self.table_db
        half = np.where(off_axis_deg > 0.0, self.half_deg[1], self.half_deg[0])
        out = off_axis_deg / half
        # A flatter or more pointed lobe: half-angles to a power, the edge where it was.
        far = np.abs(out / draws.width[column])
        power = draws.shape[column]
        far = np.where(far < EDGE_MOST, far**power, far * EDGE_MOST ** (power - 1.0))
        place = (np.copysign(far, out) * half + 180.0) * (1.0 / STEP_DEG)
        place = np.clip(place, 0.0, len(table) - 1.001)
        low = place.astype(np.intp)
        share = (place - low)[..., np.newaxis]
        level = table[low]
        level += share * (table[low + 1] - level)
        out = np.clip(out, -EDGE_MOST, EDGE_MOST)
        own = draws.own_db.mean(axis=1, keepdims=True) if mean else draws.own_db
        wrong = own[(slice(None), *([np.newaxis] * (off_axis_deg.ndim - 1)))]
        wrong = wrong + draws.edge_db[column][..., np.newaxis]
        level += wrong * (out**2)[..., np.newaxis]
        level += (draws.skew_db[column] * out)[..., np.newaxis]
        return np.asarray(level)

    def levels_db(self, points: Points, draws: Draws) -> FloatArray:
        """(d, bands, n) of direct sound, floor and room together, without gains."""
        air = self.problem.air_loss
        r, level = self._way(points.x_m, points.z_m, draws)
        level -= np.moveaxis(air.at_db(r), -2, -1)
        level -= np.moveaxis(np.broadcast_to(points.shadow_db, (self.bands, len(points))), 0, -1)
        energy = None
        floored = np.isfinite(points.image_m[:, 0])
        if floored.any() and draws.floor.any():
            image = points.image_m[floored]
            far, below = self._way(image[:, 0], image[:, 1], draws)
            below -= np.moveaxis(air.at_db(far), -2, -1)
            part = 10.0 ** ((below - level[:, floored]) / 20.0)
            part *= draws.floor[:, np.newaxis, np.newaxis]
            turn = ((far - r[:, floored]) / self.speed_m_s)[..., np.newaxis]
            cosine = np.cos(2.0 * np.pi * turn * self.middle_hz) * np.sinc(turn * self.wide_hz)
            energy = 1.0 + part * (part + 2.0 * cosine)
            level[:, floored] += 10.0 * np.log10(np.maximum(energy, 1e-6))
        room = np.isfinite(draws.room_db)
        if room.any():
            own = draws.room_db[room, np.newaxis] + ROOM_FALLS_DB_PER_M * (self.back_m - r[room])
            own_db = np.broadcast_to(own[..., np.newaxis] + self.back_db, level[room].shape)
            level[room] = power_sum_db(np.stack([level[room], own_db]))
        return np.asarray(np.moveaxis(level, -1, -2))

    def rows_db(self, draws: Draws, *, turned_deg: FloatArray | None = None) -> FloatArray:
        """(d, rows) design level of the direct sound; (d, t, rows) with the box turned further."""
        rows, plan = self.problem.rows, self.plan
        dx = rows.x_m - (plan.x_m + draws.x_m[:, np.newaxis])
        dz = rows.z_m - (plan.height_m + draws.height_m[:, np.newaxis])
        off = elevation_deg(dx, dz) - (plan.tilt_deg + draws.tilt_deg[:, np.newaxis])
        r = np.hypot(dx, dz)
        fixed = -loss_db(r, self.problem.air_loss).mean(axis=-2) - self.row_shadow_db
        if turned_deg is not None:
            off = off[:, np.newaxis, :] - turned_deg[:, np.newaxis]
            fixed = fixed[:, np.newaxis, :]
        return np.asarray(self.pattern_db(off, draws, mean=True)[..., 0] + fixed)

    @cached_property
    def row_shadow_db(self) -> FloatArray:
        """(rows,) what hides the rows served, as planned."""
        shadow, plan = self.problem.shadow, self.plan
        if shadow is None:
            return np.zeros(len(self.problem.rows))
        loss = shadow.loss_db(np.asarray(plan.x_m), np.asarray(plan.height_m))
        return np.asarray(loss.mean(axis=-2))

    def _way(self, x_m: FloatArray, z_m: FloatArray, draws: Draws) -> tuple[FloatArray, FloatArray]:
        """Distance (d, n), and pattern less spreading (d, n, bands), to points (n,)."""
        plan = self.plan
        dx = x_m - (plan.x_m + draws.x_m[:, np.newaxis])
        dz = z_m - (plan.height_m + draws.height_m[:, np.newaxis])
        off = elevation_deg(dx, dz) - (plan.tilt_deg + draws.tilt_deg[:, np.newaxis])
        r = np.hypot(dx, dz)
        level = self.pattern_db(off, draws)
        level -= 20.0 * np.log10(r)[..., np.newaxis]
        return r, level


def image_m(seatings: tuple[Seating, ...], x_m: FloatArray, z_m: FloatArray) -> FloatArray:
    """(n, 2) mirror images of points under the floor of the seating that each stands in.

    A row of a raked floor is mirrored in its own slope.  NaN where no seating lies under a point.
    """
    image = np.full((len(x_m), 2), np.nan)
    for seating in seatings:
        floor = seating.floor_m
        for n, (x, z) in enumerate(zip(x_m, z_m, strict=True)):
            if not floor[0, 0] - 1e-6 <= x <= floor[-1, 0] + 1e-6:
                continue
            at = float(seating.ear_z_m(np.array([x]))[0]) - seating.ear_height_m
            over = z - at
            if not -0.01 <= over <= 4.0 or np.isfinite(image[n, 0]):
                continue
            after = int(np.clip(np.searchsorted(floor[:, 0], x, side="right"), 1, len(floor) - 1))
            run, rise = floor[after] - floor[after - 1]
            slope = 0.0 if run <= 0.0 else rise / run
            down = 2.0 * over / (1.0 + slope**2)
            image[n] = x + down * slope, z - down
    return image


def _half_angles(angle_deg: FloatArray, design_db: FloatArray) -> FloatArray:
    """(2,) half-angles below and above the axis; where there is no edge, 90°."""
    found = [edge_deg(angle_deg, design_db, above=above) for above in (False, True)]
    return np.array([90.0 if one is None else max(abs(one), 3.0) for one in found])


def whole(pattern: Pattern) -> Pattern:
    """The pattern with its holes filled in and its ends held to ±180°.

    Only for trying tilts: a microphone where the plan's own level is unknown is left out anyway.
    """
    angle = pattern.angle_deg
    inner = angle[(angle > -180.0) & (angle < 180.0)]
    wanted = np.concatenate([[-180.0], inner, [180.0]])
    level = []
    for table in pattern.level_db:
        has = np.isfinite(table)
        level.append(np.interp(wanted, angle[has], table[has]))
    return Pattern(frozen(wanted), pattern.band_hz, frozen(level), pattern.reference)

"""The uniform-level line: where a listener would hear exactly the aim point's design level.

In direction θ (off-axis angle φ) its distance r solves

    20·lg r + Ā(r) = 20·lg r₀ + Ā(r₀) + D̄(φ) − D̄(0),

r₀ the throw to the aim point, D̄ of the pattern and Ā of the air the means over the design bands.
"""

from dataclasses import dataclass

import numpy as np

from ..base.air import AirLoss
from ..base.arrays import FloatArray
from ..field.levels import loss_db, sight
from ..geometry.section import Rows
from ..speaker.pattern import Pattern, edge_deg, read_table_db
from ..speaker.speaker import Placement

NEPER_DB = 20.0 / float(np.log(10.0))
POINTS = 61


@dataclass(frozen=True, eq=False)
class UniformLevel:
    """Everything needed to ask for the line in any direction.

    angle_deg, design_db: the design pattern as hung (n,)
    throw_m: distance from the acoustic centre to the aim point
    """

    placement: Placement
    angle_deg: FloatArray
    design_db: FloatArray
    air_loss: AirLoss
    throw_m: float

    def distance_m(self, off_axis_deg: FloatArray) -> FloatArray:
        """(…) distance of the line in these directions; NaN where the pattern is unknown."""
        lobe = read_table_db(self.angle_deg, self.design_db[np.newaxis], off_axis_deg)[0]
        on_axis = read_table_db(self.angle_deg, self.design_db[np.newaxis], 0.0)[0]
        there = loss_db(np.array([self.throw_m]), self.air_loss)[0, 0]
        budget = np.atleast_1d((there + lobe - float(on_axis)) / NEPER_DB)
        # K·u + A(eᵘ) = budget·K with u = ln r: rising, and convex but for the joints of A's pieces,
        # so Newton from above converges.
        u = np.array(budget, dtype=np.float64)
        for _ in range(60):
            alpha, at_zero = (of[..., 0, :] / NEPER_DB for of in self.air_loss.line(np.exp(u)))
            step = (u + alpha * np.exp(u) + at_zero - budget) / (1.0 + alpha * np.exp(u))
            u = u - step
            if not np.any(np.abs(step) > 1e-13):
                break
        return np.exp(u).reshape(np.shape(off_axis_deg))

    def points_m(self, off_axis_deg: FloatArray) -> FloatArray:
        """(n, 2) x, z of the line in these directions (n,)."""
        distance = self.distance_m(off_axis_deg)
        angle = np.radians(off_axis_deg + self.placement.tilt_deg)
        return np.stack(
            [
                self.placement.x_m + distance * np.cos(angle),
                self.placement.height_m + distance * np.sin(angle),
            ],
            axis=-1,
        )


def uniform_level(
    pattern: Pattern, placement: Placement, *, air_loss: AirLoss, throw_m: float
) -> UniformLevel:
    """The line of one placement; pattern and air over the design bands."""
    hung = pattern.flipped() if placement.flipped else pattern
    return UniformLevel(
        placement=placement,
        angle_deg=hung.angle_deg,
        design_db=hung.mean(),
        air_loss=air_loss.mean(),
        throw_m=throw_m,
    )


def near_side_above(placement: Placement, rows: Rows) -> bool:
    """Whether the near end of the audience lies above the axis."""
    seen = sight(placement, rows.x_m, rows.z_m)
    return bool(seen.off_axis_deg[int(np.argmin(seen.distance_m))] > 0.0)


def coverage_edge_deg(pattern: Pattern, placement: Placement, *, above: bool) -> float | None:
    """Off-axis angle of the design pattern's first −6.02 dB direction on one side, as hung."""
    hung = pattern.flipped() if placement.flipped else pattern
    design = hung.mean()
    on_axis = float(read_table_db(hung.angle_deg, design[np.newaxis], 0.0)[0])
    return edge_deg(hung.angle_deg, design - on_axis, above=above)


def aim_to_edge_m(line: UniformLevel, edge_off_axis_deg: float | None) -> FloatArray:
    """(n, 2) the line from the aim point to the coverage edge, or to the last known direction."""
    if edge_off_axis_deg is None:
        known = line.angle_deg[np.isfinite(line.design_db)]
        edge_off_axis_deg = float(known.min())
    return line.points_m(np.linspace(0.0, edge_off_axis_deg, POINTS))


def departure_m(line: UniformLevel, rows: Rows) -> FloatArray:
    """(rows,) distance along each row's own ray from the line to the row, positive beyond it."""
    seen = sight(line.placement, rows.x_m, rows.z_m)
    return np.asarray(seen.distance_m - line.distance_m(seen.off_axis_deg))

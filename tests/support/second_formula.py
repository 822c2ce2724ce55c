"""Levels, limits and objectives once more, by other means than the core's.

`scalar_*` are plain loops over numbers with the math module, to check against; `Fast` is the same
question in numpy for ten thousand placements at once, built on np.interp and held to the scalar
form by the tests.  Neither uses anything of the package but the records of the question.
"""

import bisect
import math
from dataclasses import dataclass

import numpy as np

from aiming.aim.problem import Problem
from aiming.base.arrays import BoolArray, FloatArray


def scalar_pattern_db(angles_deg: list[float], levels_db: list[float], angle_deg: float) -> float:
    """One band at one angle; NaN where unknown."""
    angle = math.fmod(angle_deg, 360.0)
    if angle > 180.0:
        angle -= 360.0
    elif angle <= -180.0:
        angle += 360.0
    if angle < angles_deg[0] or angle > angles_deg[-1]:
        return math.nan
    right = bisect.bisect_left(angles_deg, angle)
    if angles_deg[right] == angle:
        return levels_db[right]
    step = (angle - angles_deg[right - 1]) / (angles_deg[right] - angles_deg[right - 1])
    return levels_db[right - 1] * (1.0 - step) + levels_db[right] * step


def scalar_levels_db(
    problem: Problem, x_m: float, height_m: float, tilt_deg: float, flipped: bool
) -> list[list[float]]:
    """[band][row] by loops."""
    angles = problem.pattern.angle_deg.tolist()
    levels = []
    for table, air in zip(
        problem.pattern.level_db.tolist(), problem.absorption_db_per_m.tolist(), strict=True
    ):
        one_band = []
        for row_x, row_z in zip(problem.rows.x_m.tolist(), problem.rows.z_m.tolist(), strict=True):
            away = math.sqrt((row_x - x_m) ** 2 + (row_z - height_m) ** 2)
            seen = math.degrees(math.atan2(row_z - height_m, row_x - x_m)) - tilt_deg
            lobe = scalar_pattern_db(angles, table, -seen if flipped else seen)
            one_band.append(lobe - 20.0 * math.log10(away) - air * away)
        levels.append(one_band)
    return levels


def scalar_objective_db(problem: Problem, levels_db: list[list[float]]) -> float:
    """The figure to make small; inf where a level is unknown."""
    if any(math.isnan(level) for band in levels_db for level in band):
        return math.inf
    if problem.objective == "spread":
        design = [math.fsum(of) / len(of) for of in zip(*levels_db, strict=True)]
        return max(design) - min(design)
    if problem.objective == "worst band":
        return max(max(band) - min(band) for band in levels_db)
    weights = problem.rows.weight.tolist()
    total = math.fsum(weights)
    variances = []
    for band in levels_db:
        mean = math.fsum(w * v for w, v in zip(weights, band, strict=True)) / total
        variances.append(
            math.fsum(w * (v - mean) ** 2 for w, v in zip(weights, band, strict=True)) / total
        )
    return math.sqrt(math.fsum(variances) / len(variances))


def scalar_drop_m(problem: Problem, tilt_deg: float, flipped: bool) -> float:
    """How far the cabinet's lowest point hangs below the acoustic centre; 0 for a height."""
    cabinet = problem.cabinet
    if problem.hang.vertical != "trim" or cabinet is None or cabinet.outline_m is None:
        return 0.0
    sine, cosine = math.sin(math.radians(tilt_deg)), math.cos(math.radians(tilt_deg))
    turn = -1.0 if flipped else 1.0
    points: list[tuple[float, float]] = cabinet.outline_m.tolist()
    return -min(u * sine + turn * w * cosine for u, w in points)


@dataclass(frozen=True)
class Sample:
    """(n,) placements, v in the scenario's own vertical measure."""

    x_m: FloatArray
    v_m: FloatArray
    tilt_deg: FloatArray
    flipped: BoolArray

    def pick(self, which: FloatArray | BoolArray) -> "Sample":
        return Sample(self.x_m[which], self.v_m[which], self.tilt_deg[which], self.flipped[which])

    def __len__(self) -> int:
        return len(self.x_m)


class Fast:
    """Heights, limits and objectives of many placements of one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        pattern = problem.pattern
        self._tables = pattern.level_db
        self._alphas = problem.absorption_db_per_m
        if problem.objective == "spread":  # the mean of tables read linearly is a table
            self._tables = pattern.level_db.mean(axis=0, keepdims=True)
            self._alphas = problem.absorption_db_per_m.mean(keepdims=True)
        self._angle = np.concatenate([[-999.0], pattern.angle_deg, [999.0]])

    def height_m(self, sample: Sample) -> FloatArray:
        problem = self.problem
        cabinet = problem.cabinet
        if problem.hang.vertical != "trim" or cabinet is None or cabinet.outline_m is None:
            return sample.v_m
        lowest = np.full(len(sample), np.inf)
        tilt = np.radians(sample.tilt_deg)
        for u, w in cabinet.outline_m:
            side = np.where(sample.flipped, -w, w)
            lowest = np.minimum(lowest, u * np.sin(tilt) + side * np.cos(tilt))
        return np.asarray(sample.v_m - lowest)

    def design_level_db(self, sample: Sample) -> FloatArray:
        """[row][placement]; NaN where the pattern says nothing."""
        pattern, rows = self.problem.pattern, self.problem.rows
        dx = rows.x_m[:, np.newaxis] - sample.x_m
        dz = rows.z_m[:, np.newaxis] - self.height_m(sample)
        away = np.hypot(dx, dz)
        angle = np.degrees(np.arctan2(dz, dx)) - sample.tilt_deg
        angle = np.where(sample.flipped, -angle, angle)
        angle -= 360.0 * np.round(angle / 360.0)
        table = np.concatenate([[np.nan], pattern.level_db.mean(axis=0), [np.nan]])
        air = self.problem.absorption_db_per_m.mean()
        return np.asarray(np.interp(angle, self._angle, table) - 20.0 * np.log10(away) - air * away)

    def objective_db(self, sample: Sample) -> FloatArray:
        problem = self.problem
        dx = problem.rows.x_m[:, np.newaxis] - sample.x_m
        dz = problem.rows.z_m[:, np.newaxis] - self.height_m(sample)
        r2 = dx * dx + dz * dz
        r = np.sqrt(r2)
        angle = np.degrees(np.arctan2(dz, dx)) - sample.tilt_deg
        angle = np.where(sample.flipped, -angle, angle)
        angle -= 360.0 * np.round(angle / 360.0)
        worst = np.full(len(sample), -np.inf)
        variance = np.zeros(len(sample))
        share = (problem.rows.weight / problem.rows.weight.sum())[:, np.newaxis]
        unknown = np.zeros(len(sample), dtype=bool)
        for table, alpha in zip(self._tables, self._alphas, strict=True):
            known = np.interp(angle, self._angle, np.concatenate([[np.nan], table, [np.nan]]))
            level = known - 10.0 * np.log10(r2) - alpha * r
            unknown |= np.isnan(level).any(axis=0)
            worst = np.fmax(worst, level.max(axis=0) - level.min(axis=0))
            mean = (share * level).sum(axis=0)
            variance += (share * (level - mean) ** 2).sum(axis=0)
        if problem.objective == "deviation":
            worst = np.sqrt(variance / len(self._tables))
        return np.where(unknown, np.inf, worst)

    def allowed(self, sample: Sample) -> BoolArray:
        """Tilt range, axis on a served plane, view from the front row, least level; exact."""
        problem = self.problem
        good = np.zeros(len(sample), dtype=bool)
        low, high = problem.hang.tilt_deg
        for name in problem.hang.orientations:
            turned = sample.flipped == (name == "flipped")
            if problem.reachable_tilt_deg is None or name not in problem.reachable_tilt_deg:
                reachable: tuple[tuple[float, float], ...] = ((-90.0, 90.0),)
            else:
                reachable = problem.reachable_tilt_deg[name]
            for a, b in reachable:
                good |= (
                    turned & (sample.tilt_deg >= max(a, low)) & (sample.tilt_deg <= min(b, high))
                )
        height = self.height_m(sample)
        if problem.axis_on_audience:
            good &= self._hits(sample, height)
        if problem.max_front_elevation_deg is not None and problem.front_ear_m is not None:
            x, z = problem.front_ear_m
            steep = np.degrees(np.arctan2(height - z, np.abs(sample.x_m - x)))
            good &= steep <= problem.max_front_elevation_deg
        if problem.softest_db is not None and len(problem.last_ears_m):
            softest = self.design_level_db(sample).min(axis=0)
            with np.errstate(invalid="ignore"):
                good &= softest >= self._last_row_could_db(sample.x_m, height) + problem.softest_db
        return good

    def _last_row_could_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
        """On the axis, in free sight, at the farthest last row."""
        x, z = self.problem.last_ears_m.T
        away = np.hypot(x[:, np.newaxis] - x_m, z[:, np.newaxis] - height_m).max(axis=0)
        away = np.maximum(away, 1e-3)  # nearer than this nothing is said to be louder
        air = self.problem.absorption_db_per_m.mean()
        return np.asarray(-20.0 * np.log10(away) - air * away)

    def _hits(self, sample: Sample, height_m: FloatArray) -> BoolArray:
        """Whether the ray along the axis crosses a piece: Cramer's rule, piece by piece."""
        tilt = np.radians(sample.tilt_deg)
        ax, az = np.cos(tilt), np.sin(tilt)
        hit = np.zeros(len(sample), dtype=bool)
        planes = self.problem.planes
        for (x0, z0), (x1, z1) in zip(planes.start_m, planes.end_m, strict=True):
            px, pz = x1 - x0, z1 - z0
            determinant = ax * -pz + az * px
            qx, qz = x0 - sample.x_m, z0 - height_m
            with np.errstate(divide="ignore", invalid="ignore"):
                out = (qx * -pz + qz * px) / determinant
                along = (ax * qz - az * qx) / determinant
            hit |= (determinant != 0.0) & (out > 1e-9) & (along >= 0.0) & (along <= 1.0)
        return hit

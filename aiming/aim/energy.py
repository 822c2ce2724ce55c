"""How much of what a loudspeaker sends out in the section goes to the seating that it serves."""

import numpy as np

from ..base.arrays import FloatArray
from ..geometry.section import Segments, elevation_deg
from ..speaker.pattern import Pattern, read_table_db
from ..speaker.speaker import OneOrMany

_STEP_DEG = 0.25


def seating_share_percent(pattern: Pattern, planes: Segments, placement: OneOrMany) -> FloatArray:
    """(…) share of the energy radiated into the section that starts towards audience planes.

    placement: one or (…).  Energy is 10^(level/10), averaged over the pattern's bands, integrated
    over all off-axis angles of the circle; what stands in the way is not looked at.  NaN where the
    pattern is not known all round.
    """
    tilt = np.asarray(placement.tilt_deg, dtype=np.float64)
    grid = np.arange(-360.0, 360.0 + 0.5 * _STEP_DEG, _STEP_DEG)
    level = read_table_db(pattern.angle_deg, pattern.level_db, grid)
    power = (10.0 ** (level / 10.0)).mean(axis=0)
    if np.isnan(power).any():
        return np.full(tilt.shape, np.nan)
    # Energy from −360° up to each angle of the grid, trapezoid rule.
    sent = np.append(0.0, np.cumsum(0.5 * (power[1:] + power[:-1]))) * _STEP_DEG
    total = np.interp(180.0, grid, sent) - np.interp(-180.0, grid, sent)

    def direction(point_m: FloatArray) -> FloatArray:
        x = np.asarray(placement.x_m, dtype=np.float64)[..., np.newaxis]
        z = np.asarray(placement.height_m, dtype=np.float64)[..., np.newaxis]
        return elevation_deg(point_m[:, 0] - x, point_m[:, 1] - z)

    start, end = direction(planes.start_m), direction(planes.end_m)
    # A piece is seen under less than half a turn: the shorter way round.
    end = start + (end - start + 180.0) % 360.0 - 180.0
    low, high = np.minimum(start, end), np.maximum(start, end)
    order = np.argsort(low, axis=-1)
    low = np.take_along_axis(low, order, axis=-1)
    high = np.take_along_axis(high, order, axis=-1)
    flip = np.where(np.broadcast_to(placement.flipped, tilt.shape), -1.0, 1.0)
    on_seating = np.zeros(tilt.shape)
    covered = np.full(tilt.shape, -np.inf)
    for piece in range(low.shape[-1]):
        a = np.maximum(low[..., piece], covered)
        b = np.maximum(high[..., piece], a)
        covered = np.maximum(covered, b)
        ends = [np.interp(flip * (angle - tilt), grid, sent) for angle in (a, b)]
        on_seating += np.abs(ends[1] - ends[0])
    return np.asarray(100.0 * on_seating / total)

"""The answer for every shape of lobe that fits a data sheet, so that it is read as a range.

The tilts are scanned, not proven: what counts here is how much hangs on an assumption.
"""

from dataclasses import replace

import numpy as np

from ..aim import measures
from ..base.arrays import FloatArray
from ..field.levels import levels_db
from ..results.serialise import known
from ..results.sound import HalfAngles, LobeAnswer, LobeFamily
from ..speaker.lobes import Lobe
from ..speaker.pattern import Pattern
from ..speaker.pattern_figures import lobe_family
from .placed_speaker import Placed

STEP_DEG, FINE_DEG = 1.0, 0.05


def family_of(at: Placed) -> LobeFamily | None:
    """Spread here, and the best tilt at this place, by shape; None for a measured pattern."""
    nominal = at.speaker.nominal
    if nominal is None:
        return None
    shapes = lobe_family(
        above_deg=nominal.above_deg,
        below_deg=nominal.below_deg,
        bands_hz=at.problem.pattern.band_hz,
        control_from_hz=nominal.control_from_hz,
        lowest_db=nominal.lowest_db,
    )
    return LobeFamily(
        assumed=nominal.lobe,
        coverage_deg=HalfAngles(above=nominal.above_deg, below=nominal.below_deg),
        control_from_hz=nominal.control_from_hz,
        control_height_m=nominal.control_height_m,
        lobes=tuple(_lobe_answer(at, lobe, pattern) for lobe, pattern in shapes.items()),
    )


def _lobe_answer(at: Placed, lobe: Lobe, pattern: Pattern) -> LobeAnswer:
    here = float(at.placement.tilt_deg)
    best = _best_tilt(at, pattern)
    return LobeAnswer(
        lobe=lobe,
        spread_db=known(_spread_db(at, pattern, np.array([here]))[0]),
        best_tilt_deg=None if best is None else best[0],
        best_spread_db=None if best is None else best[1],
    )


def _best_tilt(at: Placed, pattern: Pattern) -> tuple[float, float] | None:
    """Tilt and spread of the best among allowed tilts at this place; a given tilt is let go."""
    problem, place = at.problem, at.placement
    low, high = problem.hang.tilt_deg
    if low == high:
        low, high = -90.0, 90.0
        problem = problem.with_hang(replace(problem.hang, tilt_deg=(low, high)))

    def best_of(tilt_deg: FloatArray) -> tuple[float, float] | None:
        tilt = tilt_deg[problem.allowed(replace(place, tilt_deg=tilt_deg))]
        spread = _spread_db(at, pattern, tilt)
        if not np.isfinite(spread).any():
            return None
        least = int(np.nanargmin(spread))
        return float(tilt[least]), float(spread[least])

    coarse = best_of(np.append(np.arange(low, high + 0.5 * STEP_DEG, STEP_DEG), place.tilt_deg))
    if coarse is None:
        return None
    near = coarse[0] + np.arange(-STEP_DEG, STEP_DEG, FINE_DEG)
    return best_of(np.append(near[(near >= low) & (near <= high)], coarse[0]))


def _spread_db(at: Placed, pattern: Pattern, tilt_deg: FloatArray) -> FloatArray:
    """(tilts,) spread at this place; its design level alone is needed, so the bands go as one."""
    problem = at.problem
    x, height = np.asarray(at.placement.x_m), np.asarray(at.placement.height_m)
    hidden = 0.0 if problem.shadow is None else problem.shadow.loss_db(x, height).mean(axis=0)
    level = levels_db(
        Pattern(pattern.angle_deg, (0.0,), pattern.mean()[np.newaxis], pattern.reference),
        replace(at.placement, tilt_deg=tilt_deg),
        problem.rows.x_m,
        problem.rows.z_m,
        absorption_db_per_m=np.array([problem.absorption_db_per_m.mean()]),
        shadow_db=hidden,
    )
    return np.asarray(measures.spread_db(level))

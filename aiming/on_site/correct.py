"""What to change: back to the plan, or to the best tilt of the pattern that was found."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.problem import Problem
from ..answer.plain import known
from ..speaker.speaker import Placement
from .model import Coverage, Interval
from .scene import scaled

WORTH_DB = 0.3
"""A correction that wins less spread than this is left; our own choice."""
STEP_DEG = 0.1


@dataclass(frozen=True)
class Correction:
    """hung: as it hangs; corrected: None where it is better left; now, after: of the audience."""

    hung: Placement
    corrected: Placement | None
    now: Coverage
    after: Coverage


def coverage(problem: Problem, placement: Placement) -> Coverage:
    """Spread and rows within ±3 dB over the rows of a problem."""
    levels = problem.levels_db(placement)
    within = measures.rows_within_percent(levels, problem.rows.weight)
    return Coverage(known(float(measures.spread_db(levels))), known(float(within)))


def correction(
    problem: Problem,
    plan: Placement,
    *,
    tilt_error_deg: Interval,
    height_error_m: Interval | None,
    pattern_scale: Interval | None,
) -> Correction:
    """The tilt back to the plan (to the best one, where the pattern is not as its data say), and
    the height, where it is surely off; nothing, where that would win less than WORTH_DB.

    problem: the rows of the audience, with a whole pattern
    """
    seen, other = problem, pattern_scale is not None and not pattern_scale.holds(1.0)
    if pattern_scale is not None and other:
        seen = replace(problem, pattern=scaled(problem.pattern, pattern_scale.value))
    rise = height_error_m.value if height_error_m else 0.0
    hung = replace(
        plan,
        tilt_deg=float(plan.tilt_deg) + tilt_error_deg.value,
        height_m=float(plan.height_m) + rise,
    )
    off = height_error_m is not None and not height_error_m.holds(0.0)
    target = replace(plan, height_m=plan.height_m if off else hung.height_m)
    if other:
        target = replace(target, tilt_deg=_best_tilt_deg(seen, target))
    now, after = coverage(seen, hung), coverage(seen, target)
    certain = off or other or not tilt_error_deg.holds(0.0)
    better = (
        now.spread_db is not None
        and after.spread_db is not None
        and now.spread_db - after.spread_db >= WORTH_DB
    )
    if certain and better:
        return Correction(hung, target, now, after)
    return Correction(hung, None, now, now)


def _best_tilt_deg(problem: Problem, at: Placement) -> float:
    """Of the tilts that placement and rigging leave, the one of least spread there."""
    tilts = np.concatenate(
        [
            np.append(np.arange(low, high, STEP_DEG), high)
            for low, high in problem.tilt_ranges(bool(at.flipped))
        ]
        or [np.array([float(at.tilt_deg)])]
    )
    tried = replace(at, tilt_deg=tilts, height_m=np.full(len(tilts), float(at.height_m)))
    tried = replace(tried, x_m=np.full(len(tilts), float(at.x_m)))
    spread = measures.spread_db(problem.levels_db(tried))
    allowed = problem.allowed(tried) if len(tilts) > 1 else np.array([True])
    spread = np.where(allowed & np.isfinite(spread), spread, np.inf)
    best = int(np.argmin(spread))
    return float(tilts[best]) if np.isfinite(spread[best]) else float(at.tilt_deg)

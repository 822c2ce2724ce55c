"""The answer for every shape of lobe that fits a data sheet, so that it is read as a range.

The coverage angle itself may be wrong by the data sheet's doubt, and of rows beyond it the sheet
says nothing at all: these are named and left out.

The tilts are scanned, not proven: what counts here is how much hangs on an assumption.
"""

from dataclasses import replace

import numpy as np

from ..aim import measures
from ..aim.problem import Problem
from ..base.arrays import BoolArray, FloatArray
from ..field.levels import levels_db, sight
from ..results.serialise import known
from ..results.sound import HalfAngles, LobeAnswer, LobeFamily
from ..speaker.lobes import Lobe
from ..speaker.pattern import Pattern, edge_deg
from ..speaker.pattern_figures import lobe_family
from ..speaker.speaker import Nominal
from .placed_speaker import Placed

STEP_DEG, FINE_DEG = 1.0, 0.05
_AT_EDGE_DEG = 0.05


def family_of(at: Placed) -> LobeFamily | None:
    """Spread here, and the best tilt at this place, by shape; None for a measured pattern."""
    nominal = at.speaker.nominal
    if nominal is None:
        return None
    told, tilts = _told_rows(at), _coarse_tilts_deg(at)
    doubt = nominal.doubt_percent / 100.0
    scales = (1.0 - doubt, 1.0 + doubt) if doubt else ()
    return LobeFamily(
        assumed=nominal.lobe,
        coverage_deg=HalfAngles(above=nominal.above_deg, below=nominal.below_deg),
        control_from_hz=nominal.control_from_hz,
        control_height_m=nominal.control_height_m,
        lobes=_lobe_answers(at, nominal, told, tilts),
        doubt_percent=nominal.doubt_percent,
        doubted=tuple(
            answer
            for scale in scales
            for answer in _lobe_answers(at, coverage_off(nominal, scale), told, tilts)
        ),
        beyond_rows=tuple(int(row) for row in at.served[~told]),
    )


def coverage_off(nominal: Nominal, scale: float) -> Nominal:
    """The same data sheet with a coverage angle that is wrong by a factor."""
    above, below = (min(scale * of, 179.0) for of in (nominal.above_deg, nominal.below_deg))
    return replace(nominal, above_deg=above, below_deg=below)


def _told_rows(at: Placed) -> BoolArray:
    """(served,) rows within the coverage angle; all where no two are."""
    place, problem = at.placement, at.problem
    off = sight(place, problem.rows.x_m, problem.rows.z_m).off_axis_deg
    off = -off if place.flipped else off
    mean = problem.pattern.mean()
    above = edge_deg(problem.pattern.angle_deg, mean, above=True)
    below = edge_deg(problem.pattern.angle_deg, mean, above=False)
    low, high = -180.0 if below is None else below, 180.0 if above is None else above
    told: BoolArray = np.asarray((off >= low - _AT_EDGE_DEG) & (off <= high + _AT_EDGE_DEG))
    return told if told.sum() > 1 else np.ones_like(told)


def _lobe_answers(
    at: Placed, nominal: Nominal, told: BoolArray, tilts: FloatArray
) -> tuple[LobeAnswer, ...]:
    shapes = lobe_family(
        above_deg=nominal.above_deg,
        below_deg=nominal.below_deg,
        bands_hz=at.problem.pattern.band_hz,
        control_from_hz=nominal.control_from_hz,
        lowest_db=nominal.lowest_db,
    )
    return tuple(_lobe_answer(at, lobe, pattern, told, tilts) for lobe, pattern in shapes.items())


def _lobe_answer(
    at: Placed, lobe: Lobe, pattern: Pattern, told: BoolArray, tilts: FloatArray
) -> LobeAnswer:
    here = at.placement.tilt_deg
    best = _best_tilt(at, pattern, tilts)
    return LobeAnswer(
        lobe=lobe,
        spread_db=known(_spread_db(at, pattern, np.array([here]), told)[0]),
        best_tilt_deg=None if best is None else best[0],
        best_spread_db=None if best is None else best[1],
    )


def _tilt_free(problem: Problem) -> Problem:
    """The question with a given tilt let go."""
    low, high = problem.hang.tilt_deg
    if low < high:
        return problem
    return problem.with_hang(replace(problem.hang, tilt_deg=(-90.0, 90.0)))


def _coarse_tilts_deg(at: Placed) -> FloatArray:
    """(n,) the tilts of a first scan that are allowed at this place, whatever the lobe."""
    problem, place = _tilt_free(at.problem), at.placement
    low, high = problem.hang.tilt_deg
    tilts = np.append(np.arange(low, high + 0.5 * STEP_DEG, STEP_DEG), place.tilt_deg)
    return np.asarray(tilts[problem.allowed(place.varied(tilt_deg=tilts))])


def _best_tilt(at: Placed, pattern: Pattern, tilts: FloatArray) -> tuple[float, float] | None:
    """Tilt and spread of the best among these tilts, and then about it."""
    coarse = _best_of(at, pattern, tilts)
    if coarse is None:
        return None
    problem = _tilt_free(at.problem)
    low, high = problem.hang.tilt_deg
    near = coarse[0] + np.arange(-STEP_DEG, STEP_DEG, FINE_DEG)
    near = np.append(near[(near >= low) & (near <= high)], coarse[0])
    return _best_of(at, pattern, near[problem.allowed(at.placement.varied(tilt_deg=near))])


def _best_of(at: Placed, pattern: Pattern, tilts: FloatArray) -> tuple[float, float] | None:
    spread = _spread_db(at, pattern, tilts, np.ones(len(at.problem.rows), dtype=np.bool_))
    if not np.isfinite(spread).any():
        return None
    least = int(np.nanargmin(spread))
    return float(tilts[least]), float(spread[least])


def _spread_db(at: Placed, pattern: Pattern, tilt_deg: FloatArray, told: BoolArray) -> FloatArray:
    """(tilts,) spread at this place; its design level alone is needed, so the bands go as one."""
    problem = at.problem
    x, height = np.asarray(at.placement.x_m), np.asarray(at.placement.height_m)
    hidden = 0.0 if problem.shadow is None else problem.shadow.loss_db(x, height).mean(axis=0)
    level = levels_db(
        Pattern(pattern.angle_deg, (0.0,), pattern.mean()[np.newaxis], pattern.reference),
        at.placement.varied(tilt_deg=tilt_deg),
        problem.rows.x_m,
        problem.rows.z_m,
        air_loss=problem.air_loss.mean(),
        shadow_db=hidden,
    )
    return np.asarray(measures.spread_db(level[..., told]))

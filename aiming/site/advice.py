"""What to change: back to the plan, or to the best tilt of the pattern that was found."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.problem import Problem
from ..base.units import Unit, length_text, tilt_text
from ..results.serialise import known
from ..speaker.speaker import Placement
from .judge import Estimate, StandsOut
from .model import Coverage, Interval
from .prediction import scaled

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


# What to do, in sentences.

CANNOT_TELL = (
    "The levels cannot tell the tilt at these positions: trust the inclinometer, and measure at "
    "positions that tell more (the plan lists them)."
)
CLEAR_BELOW = (
    "Nobody stands below while it moves; loads, limits and the maker's data are checked again for "
    "the new tilt by a competent person."
)


def advice_text(
    *,
    unit: Unit,
    estimate: Estimate | None,
    correction: Correction | None,
    tilt_error_deg: Interval | None,
    height_error_m: Interval | None,
    pattern_scale: Interval | None,
    from_readings: bool,
    levels_tilt: Interval | None,
    confirmed: bool | None,
    planned: Coverage,
) -> str:
    """The advice, one sentence after another."""
    said: list[str] = []
    if tilt_error_deg is not None:
        said.append(_hangs(tilt_error_deg, correction, from_readings))
    if height_error_m is not None:
        said.append(_height(height_error_m, unit))
    if estimate is not None and estimate.explained is False:
        return " ".join([*said, unexplained_text(estimate.stands_out)])
    if estimate is not None:
        said += _levels(levels_tilt, confirmed, from_readings)
    if pattern_scale is not None:
        said.append(_width(pattern_scale))
    if confirmed is False:
        said.append("No correction is given until it is clear which of the two is wrong.")
    elif correction is not None:
        said += _change(correction, tilt_error_deg, unit, planned)
    return " ".join(said)


def unexplained_text(stands_out: tuple[StandsOut, ...]) -> str:
    """Which position and band stand out, what usually is the cause, and no correction."""
    told = "; ".join(one.text for one in stands_out[:4])
    more = len(stands_out) - 4
    told += f"; and {more} more" if more > 0 else ""
    bands = any(one.band_hz is not None for one in stands_out)
    whole = any(one.band_hz is None for one in stands_out)
    causes = []
    if whole:
        causes += [
            "a wrong position or name",
            "a gain changed between positions",
            "a shadow (someone or something in the way)",
        ]
    if bands:
        causes += [
            "a reflection that cuts or lifts the band",
            "polarity or delay where two sources meet",
            "a driver that is not working",
        ]
    if not whole:
        causes.append("a wrong position")
    return (
        f"Aim and gain cannot explain these levels. What stands out: {told}. Usual causes: "
        f"{', '.join(causes)}. No correction is given until the cause is found: look, listen, and "
        "measure there again."
    )


def _hangs(error: Interval, correction: Correction | None, from_readings: bool) -> str:
    by = "by the readings" if from_readings else "by the levels"
    where = f" {tilt_text(float(correction.hung.tilt_deg))}" if correction else ""
    if error.holds(0.0):
        return (
            f"As far as can be told it may hang as planned: {by}{where}, {_turned(error.value)} "
            f"than planned, give or take {error.half:.1f}° (90 %)."
        )
    return (
        f"It hangs{where}: {_turned(error.value)} than planned, ±{error.half:.1f}° ({by}, 90 %)."
        if abs(error.value) >= 0.05
        else f"It hangs{where}, as planned (±{error.half:.1f}°, {by})."
    )


def _turned(degrees: float) -> str:
    return f"{abs(degrees):.1f}° {'higher' if degrees > 0.0 else 'lower'}"


def _height(error: Interval, unit: Unit) -> str:
    word = "higher" if error.value > 0.0 else "lower"
    text = f"{length_text(abs(error.value), unit)} {word} than planned"
    if error.holds(0.0):
        text = f"as planned as far as can be told ({text})"
    return f"Its height is {text}, ±{length_text(error.half, unit)}."


def _width(scale: Interval) -> str:
    wide = 100.0 * (scale.value - 1.0)
    if scale.holds(1.0):
        return f"The pattern is as wide as its data say ({wide:+.0f} %, ±{100 * scale.half:.0f} %)."
    word = "wider" if wide > 0.0 else "narrower"
    return (
        f"The pattern is {abs(wide):.0f} % {word} than its data, ±{100.0 * scale.half:.0f} %: the "
        "correction is for the pattern as found."
    )


def _levels(levels_tilt: Interval | None, confirmed: bool | None, from_readings: bool) -> list[str]:
    if levels_tilt is None:
        return [CANNOT_TELL]
    alone = f"{_turned(levels_tilt.value)} than planned, ±{levels_tilt.half:.1f}°"
    if confirmed is True:
        return [f"The levels confirm it: by themselves they say {alone}."]
    if confirmed is False:
        return [
            f"The levels do not confirm it: by themselves they say {alone}. Check which face the "
            "inclinometer stood on, which box was measured, and the positions."
        ]
    return [] if from_readings else [_width_of_doubt(levels_tilt)]


def _width_of_doubt(levels_tilt: Interval) -> str:
    if levels_tilt.half > 2.0:
        return "An inclinometer tells the tilt better than these levels do: read it if you can."
    return "An inclinometer should say the same: read it before anything is moved."


def _change(
    correction: Correction, error: Interval | None, unit: Unit, planned: Coverage
) -> list[str]:
    hung, target = correction.hung, correction.corrected
    if target is None:
        reason = "what hangs may well be the plan"
        if error is not None and not error.holds(0.0):
            reason = "putting it right would win next to nothing"
        return [f"Leave it: {reason}. {_coverage('As it hangs', correction.now)}."]
    turn = float(target.tilt_deg) - float(hung.tilt_deg)
    rise = float(target.height_m) - float(hung.height_m)
    moves = [f"{'raise' if turn > 0.0 else 'lower'} the nose by {abs(turn):.1f}°"]
    if abs(rise) >= 0.01:
        way = "up" if rise > 0.0 else "down"
        moves.append(f"move the box {way} by {length_text(abs(rise), unit)}")
    remains = "What then remains is the plan's own spread."
    if planned.spread_db is not None and correction.after.spread_db is not None:
        more = correction.after.spread_db - planned.spread_db
        if abs(more) >= 0.1:
            remains = f"What then remains is {abs(more):.1f} dB "
            remains += f"{'more' if more > 0.0 else 'less'} than the plan's own spread."
    return [
        f"Correction: {' and '.join(moves)}.",
        f"{_coverage('As it hangs', correction.now)}; "
        f"{_coverage('corrected', correction.after)}. {remains}",
        CLEAR_BELOW,
    ]


def _coverage(when: str, one: Coverage) -> str:
    if one.spread_db is None or one.rows_within_3db_percent is None:
        return f"{when} the spread is not known"
    return (
        f"{when} the spread is {one.spread_db:.1f} dB and {one.rows_within_3db_percent:.0f} % of "
        "the rows lie within ±3 dB"
    )

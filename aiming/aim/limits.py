"""Which limits hold an answer, and what would have to give where there is none."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from ..base.units import Unit, length_text, tilt_text
from ..field.levels import sight
from ..speaker.headroom import Headroom
from ..speaker.pattern import Pattern
from ..speaker.speaker import Orientation, Placement, RangeName
from .problem import Problem, first_hit
from .search import improved_db, search

_AT_END = 0.005
_AT_SOFTEST_DB = 0.05
_COARSE_DB = 30.0
"""A search with this gap only asks whether any placement is allowed."""
_CAP = 20_000
_HIGHEST_M = 30.0
_AT_STEEL_M = 0.02
"""A best that is proven to a gap only stops a little short of the steel."""
_ROUGH_DB = 0.5
_NEAR_M = 0.25
_NEAR_DEG = 2.0
_NEAR_DB = 0.01
"""How far around a placement is searched, and how closely, for what a limit costs there."""


def limited_by(
    problem: Problem, placement: Placement, *, known: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """Names of the limits that the placement lies at, of those that leave a choice.

    known: names that are not asked for again
    """
    found = []
    hang = problem.hang
    tilt = placement.tilt_deg
    if (
        problem.axis_on_audience
        and "axis_on_audience" not in known
        and at_audience_end(problem, placement)
        and (_would_pass(problem, placement) or _would_move_past(problem, placement))
    ):
        found.append("axis_on_audience")
    v = placement.height_m - float(problem.drop_m(tilt, placement.flipped))
    spans = [(hang.vertical, v, hang.vertical_m), ("x", placement.x_m, hang.x_m)]
    spans.append(("tilt", tilt, hang.tilt_deg))
    spans.append(("splay", placement.splay_deg, problem.splay_deg))
    for name, value, (low, high) in spans:
        if low < high:
            close = _AT_END * min(1.0, high - low)
            if value <= low + close:
                found.append(f"{name} low")
            elif value >= high - close:
                found.append(f"{name} high")
    for low, high in problem.tilt_ranges(placement.flipped):
        outer_low, outer_high = hang.tilt_deg
        at_low = abs(tilt - low) < _AT_END and low > outer_low
        at_high = abs(tilt - high) < _AT_END and high < outer_high
        if at_low or at_high:
            found.append("rigging")
    if problem.headroom and float(problem.over_steel_m(placement)) > -_AT_STEEL_M:
        found.append("headroom")
    limit = problem.max_front_elevation_deg
    if limit is not None and problem.front_ear_m is not None:
        x, z = problem.front_ear_m
        rise, run = placement.height_m - z, abs(x - placement.x_m)
        if np.degrees(np.arctan2(rise, run)) > limit - 0.05:
            found.append("max_front_elevation_deg")
    if problem.least_level and problem.softest_db is not None:
        softest = float(problem.softest_re_last_db(placement))
        if softest < problem.softest_db + _AT_SOFTEST_DB:
            found.append("softest_db")
    return tuple(found)


def kept_by_sound_alone(problem: Problem) -> Problem:
    """The question without any limit on where a loudspeaker that hangs off its place may be."""
    return replace(
        problem.with_hang(replace(problem.hang, tilt_deg=(-90.0, 90.0))),
        axis_on_audience=False,
        reachable_tilt_deg=None,
        max_front_elevation_deg=None,
        softest_db=None,
    )


def broken(problem: Problem, placement: Placement) -> str | None:
    """The first limit that a placement does not keep, by its name from `limited_by`."""
    free = kept_by_sound_alone(problem)
    low, high = problem.hang.tilt_deg
    one = {
        "axis_on_audience": replace(free, axis_on_audience=problem.axis_on_audience),
        "softest_db": replace(free, softest_db=problem.softest_db),
        "tilt low": free.with_hang(replace(free.hang, tilt_deg=(low, 90.0))),
        "tilt high": free.with_hang(replace(free.hang, tilt_deg=(-90.0, high))),
        "rigging": replace(free, reachable_tilt_deg=problem.reachable_tilt_deg),
        "max_front_elevation_deg": replace(
            free, max_front_elevation_deg=problem.max_front_elevation_deg
        ),
    }
    return next((name for name, only in one.items() if not only.allowed(placement)), None)


def at_audience_end(problem: Problem, placement: Placement) -> bool:
    """Whether the axis meets the served audience at its outermost end as seen from the box."""
    return any(not _hits(problem, placement, placement.tilt_deg + nudge) for nudge in (-0.02, 0.02))


def _hits(problem: Problem, placement: Placement, tilt_deg: float) -> bool:
    moved = replace(placement, tilt_deg=tilt_deg)
    return bool(np.isfinite(first_hit(moved, problem.planes)[0]))


def _would_pass(problem: Problem, placement: Placement) -> bool:
    """Whether turning past the audience's end would make the objective better."""
    here = float(problem.objective_db(placement))
    for nudge in (-0.1, 0.1):
        tilt = placement.tilt_deg + nudge
        if abs(tilt) <= 90.0 and not _hits(problem, placement, tilt):
            there = float(problem.objective_db(replace(placement, tilt_deg=tilt)))
            if there < here - 1e-6:
                return True
    return False


def _would_move_past(problem: Problem, placement: Placement) -> bool:
    """Whether moving and turning together past the audience's end would make it better.

    The best of rows that are traded one for another has an edge: turning alone may cost there, and
    so may moving along the end, while both together gain.
    """
    hang = problem.hang
    if hang.x_m[0] == hang.x_m[1] and hang.vertical_m[0] == hang.vertical_m[1]:
        return False
    near = _near(problem, placement, by_m=_NEAR_M)
    kept = search(near, gap_db=_NEAR_DB, most_boxes=_CAP)
    free = search(replace(near, axis_on_audience=False), gap_db=_NEAR_DB, most_boxes=_CAP)
    return free.objective_db < kept.objective_db - 2.0 * _NEAR_DB


def _near(problem: Problem, placement: Placement, *, by_m: float) -> Problem:
    """The question within its ranges about one placement, and as it is turned there."""
    hang = problem.hang
    v = placement.height_m - float(problem.drop_m(placement.tilt_deg, placement.flipped))
    ranges: tuple[tuple[RangeName, float, float], ...] = (
        ("x_m", placement.x_m, by_m),
        ("vertical_m", v, by_m),
        ("tilt_deg", placement.tilt_deg, _NEAR_DEG),
    )
    for name, at, by in ranges:
        low, high = getattr(hang, name)
        hang = hang.with_range(name, (max(low, min(at, high) - by), min(high, max(at, low) + by)))
    return problem.with_hang(replace(hang, orientations=(placement.orientation,)))


_STEP_M, _STEP_DB = 0.5, 1.0


@dataclass(frozen=True)
class Past:
    """What lies beyond a limit: a step past it, in its unit, and how much that gains at most."""

    step: float
    unit: str
    gains_db: float


def past_limit(problem: Problem, placement: Placement, limit: str) -> Past:
    """What a step past a limit that holds this placement gains, by its name from `limited_by`.

    Everything else that is left to choose follows, near the placement; 0 where the limit only
    happens to lie there, or where to go past it is worse.
    """
    free, step, unit = _loosened(problem, limit)
    gains = _kept_db(problem, placement) - _nearby_db(free, placement)
    return Past(step, unit, gains if gains > _NEAR_DB else 0.0)


@lru_cache(maxsize=1)
def _kept_db(problem: Problem, placement: Placement) -> float:
    """The same for all limits that hold one placement."""
    return _nearby_db(problem, placement)


def _nearby_db(problem: Problem, placement: Placement) -> float:
    return improved_db(_near(problem, placement, by_m=_STEP_M), placement)


def _loosened(problem: Problem, limit: str) -> tuple[Problem, float, str]:
    """The question with one limit a step further out, or without it; the step and its unit."""
    hang, deg = problem.hang, (_NEAR_DEG, "°")
    if limit == "axis_on_audience":
        return replace(problem, axis_on_audience=False), *deg
    if limit == "rigging":
        return replace(problem, reachable_tilt_deg=None), *deg
    steepest = problem.max_front_elevation_deg
    if limit == "max_front_elevation_deg" and steepest is not None:
        return replace(problem, max_front_elevation_deg=steepest + _NEAR_DEG), *deg
    if limit == "softest_db" and problem.softest_db is not None:
        return replace(problem, softest_db=problem.softest_db - _STEP_DB), _STEP_DB, "dB"
    name, _, end = limit.rpartition(" ")
    step, unit = deg if name in ("tilt", "splay") else (_STEP_M, "m")
    less, more = (step, 0.0) if end == "low" else (0.0, step)
    if name == "splay" and problem.under is not None:
        low, high = problem.splay_deg
        held = replace(problem.under.held, splay_deg=(low - less, high + more))
        return replace(problem, under=replace(problem.under, held=held)), step, unit
    field: RangeName = "vertical_m" if name == hang.vertical else "x_m"
    if name == "tilt":
        field = "tilt_deg"
    low, high = getattr(hang, field)
    return problem.with_hang(hang.with_range(field, (low - less, high + more))), step, unit


@dataclass(frozen=True)
class Relief:
    """What one limit alone would have to become for a placement to exist.

    limit: its name; needed: the figure it would have to become, None where no figure of it helps
    or where it would have to go altogether (switch off)
    """

    limit: str
    needed: float | None
    unit: str | None
    text: str


def reliefs(problem: Problem, *, units: Unit = "m") -> tuple[Relief, ...]:
    """For a problem without an allowed placement: each limit alone, and what would be enough."""
    hang = problem.hang
    found = []

    def stretch(name: str, field: RangeName, side: int, most: float, unit: str) -> None:
        low, high = getattr(hang, field)

        def wider(by: float) -> Problem:
            ends = (low - by, high) if side < 0 else (low, high + by)
            return problem.with_hang(hang.with_range(field, ends))

        by = _least(wider, most)
        if by is not None:
            end = low - by if side < 0 else high + by
            word = "down to" if side < 0 else "up to"
            told = f"{end:.2f}°" if unit == "°" else length_text(end, units)
            found.append(Relief(name, end, unit, f"{name} would have to reach {word} {told}"))

    for side in (-1, 1):
        room = hang.tilt_deg[0] + 90.0 if side < 0 else 90.0 - hang.tilt_deg[1]
        stretch("tilt", "tilt_deg", side, room, "°")
        stretch(hang.vertical, "vertical_m", side, 30.0, "m")
        stretch("x", "x_m", side, 100.0, "m")
    if problem.axis_on_audience and allowed_at_all(replace(problem, axis_on_audience=False)):
        found.append(
            Relief("axis_on_audience", None, None, "axis_on_audience would have to be off")
        )
    if problem.reachable_tilt_deg:
        found.extend(_rigging_relief(problem))
    if problem.headroom:
        found.extend(_headroom_relief(problem, problem.headroom))
    limit = problem.max_front_elevation_deg
    if limit is not None:
        by = _least(lambda more: replace(problem, max_front_elevation_deg=limit + more), 90.0)
        if by is not None:
            found.append(
                Relief(
                    "max_front_elevation_deg",
                    limit + by,
                    "°",
                    f"max_front_elevation_deg would have to be at least {limit + by:.1f}°",
                )
            )
    if problem.least_level and problem.softest_db is not None:
        found.extend(_softest_relief(problem))
    if not problem.pattern.complete:
        whole = search(replace(problem, pattern=_completed(problem.pattern)), gap_db=1.0)
        if whole.placement is not None:
            seen = sight(whole.placement, problem.rows.x_m, problem.rows.z_m).off_axis_deg
            reach = float(np.abs(seen).max())
            found.append(
                Relief(
                    "pattern data",
                    reach,
                    "°",
                    f"the pattern data would have to reach {reach:.0f}° off axis",
                )
            )
    return tuple(found)


def _softest_relief(problem: Problem) -> tuple[Relief, ...]:
    """The least level that the placement with the loudest softest row can keep, to 0.1 dB."""
    without = replace(problem, softest_db=None)
    found = search(without, gap_db=_ROUGH_DB, most_boxes=_CAP)
    if found.placement is None or problem.softest_db is None:
        return ()
    low = float(problem.softest_re_last_db(found.placement))
    high = problem.softest_db
    while high - low > 0.1:
        middle = 0.5 * (low + high)
        if allowed_at_all(replace(problem, softest_db=middle)):
            low = middle
        else:
            high = middle
    needed = math.floor(low * 10.0) / 10.0
    text = f"softest_db would have to be {needed:.1f} or less".replace("-", "−")
    return (Relief("softest_db", needed, "dB", text),)


def _rigging_relief(problem: Problem) -> tuple[Relief, ...]:
    """The tilt that the rigging would have to hold for the best aim that the other limits allow."""
    free = search(replace(problem, reachable_tilt_deg=None), gap_db=_ROUGH_DB, most_boxes=_CAP)
    if free.placement is None:
        return ()
    tilt, turn = float(free.placement.tilt_deg), free.placement.orientation
    text = f"the rigging would have to hold {tilt_text(tilt)}, {turn}, for the best aim"
    return (Relief("rigging", tilt, "°", text),)


def _headroom_relief(problem: Problem, headroom: dict[Orientation, Headroom]) -> tuple[Relief, ...]:
    """How much shorter the lines would have to be, and the part that is as long as that."""

    def higher(by: float) -> Problem:
        raised = {turn: under.raised(by) for turn, under in headroom.items()}
        return replace(problem, headroom=raised)

    by = _least(higher, _HIGHEST_M)
    if by is None:
        return ()
    taken = sorted({name for under in headroom.values() for name in under.parts_of(by)})
    text = f"the lines would have to get {by:.2f} m more: hang it lower, or shorten them by as much"
    if taken:
        text += f" (without {' or '.join(taken)})"
    return (Relief("headroom", by, "m", text),)


def allowed_at_all(problem: Problem) -> bool:
    """Whether any placement is found that keeps the limits."""
    return search(problem, gap_db=_COARSE_DB, most_boxes=_CAP).placement is not None


def _least(wider: Callable[[float], Problem], most: float) -> float | None:
    """The least widening that lets a placement in, to 0.5 % of it or 1 cm; None within most."""
    if most <= 0.0 or not allowed_at_all(wider(most)):
        return None
    low, high = 0.0, most
    while high - low > max(0.01, 0.005 * high):
        middle = 0.5 * (low + high)
        if allowed_at_all(wider(middle)):
            high = middle
        else:
            low = middle
    return high


def _completed(pattern: Pattern) -> Pattern:
    """The pattern with a low level wherever it is unknown: only to see what data would be asked."""
    lowest = float(np.nanmin(pattern.level_db))
    angle = np.unique(np.concatenate([[-180.0], pattern.angle_deg, [180.0]]))
    level = pattern.read_db(angle)
    return replace(pattern, angle_deg=angle, level_db=np.where(np.isnan(level), lowest, level))

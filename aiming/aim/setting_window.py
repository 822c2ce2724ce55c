"""The setting window: how far tilt and height may be off before the spread grows too much."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..base.arrays import BoolArray, FloatArray
from ..speaker.speaker import Placement, Placements, Range
from .problem import Problem

WITHIN_DB = 0.5
Spread = Callable[[Placements], FloatArray]
"""(n,) spread in dB at (n,) placements."""
_TILT_STEP_DEG = 0.1
_HEIGHT_STEP_M = 0.05
_BLOCK, _BLOCKS = 48, 40
_REFINED = 2
"""Twice finer by 49: the ends are found to 1/2400 of a step."""


def tilt_window_deg(
    problem: Problem, placement: Placement, *, within_db: float, spread_db: Spread | None = None
) -> Range:
    """At this acoustic centre, the tilts around this one that cost at most within_db of spread.

    Tilts that break a limit end the window, where the placement itself keeps the limits.
    spread_db: of what; None for the rows of the problem
    """

    def moved(by: FloatArray) -> Placements:
        return placement.varied(tilt_deg=np.clip(placement.tilt_deg + by, -90.0, 90.0))

    spread_db = spread_db or problem.spread_db
    low, high = _around(problem, placement, moved, _TILT_STEP_DEG, within_db, spread_db)
    tilt = placement.tilt_deg
    return max(-90.0, tilt + low), min(90.0, tilt + high)


def height_window_m(
    problem: Problem, placement: Placement, *, within_db: float, spread_db: Spread | None = None
) -> Range:
    """At this x and tilt, the heights around this one that cost at most within_db of spread."""

    def moved(by: FloatArray) -> Placements:
        return placement.varied(height_m=placement.height_m + by)

    spread_db = spread_db or problem.spread_db
    low, high = _around(problem, placement, moved, _HEIGHT_STEP_M, within_db, spread_db)
    return placement.height_m + low, placement.height_m + high


def _around(
    problem: Problem,
    placement: Placement,
    moved: Callable[[FloatArray], Placements],
    step: float,
    within_db: float,
    spread_db: Spread,
) -> Range:
    """(low, high) offsets, stepping outwards, then ever finer towards the end."""
    here = _broadcast(moved(np.zeros(1)))
    most = float(spread_db(here)[0]) + within_db
    bound = bool(problem.allowed(here)[0])

    def good(by: FloatArray) -> BoolArray:
        there = _broadcast(moved(by))
        fits = spread_db(there) <= most + 1e-12
        return fits & problem.allowed(there) if bound else fits

    ends = []
    for side in (-step, step):
        inside, outside = 0.0, side * _BLOCK * _BLOCKS
        for block in range(_BLOCKS):
            steps = side * (block * _BLOCK + np.arange(1.0, _BLOCK + 1.0))
            fits = good(steps)
            if fits.all():
                inside = float(steps[-1])
                continue
            first = int(np.argmin(fits))
            inside = inside if first == 0 else float(steps[first - 1])
            outside = float(steps[first])
            break
        for _ in range(_REFINED):
            between = np.linspace(inside, outside, _BLOCK + 2)[1:]
            first = int(np.argmin(np.append(good(between[:-1]), False)))
            inside, outside = inside if first == 0 else float(between[first - 1]), between[first]
        ends.append(inside)
    return ends[0], ends[1]


def _broadcast(places: Placements) -> Placements:
    """The tilt an array of the whole shape; a place that stays is one number still, so that its
    shadow is worked out once."""
    return replace(places, tilt_deg=np.broadcast_to(places.tilt_deg, places.shape))

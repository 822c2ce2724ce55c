"""Ranges of tilt: a record of what can be set, and conditions that are linear in tan τ.

Divided by cos τ, whether a line is taut and whether the picks lie above the centre of gravity are
both linear in t = tan τ, so a range is a closed form: the intersection of half-lines in t.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..base.arrays import BoolArray
from ..speaker.speaker import Range
from .body import Point

SAME_DEG = 1e-6
PRINTED_DEG = 0.05
"""Half of the last digit that a tilt is printed with."""
NOTHING_M = 1e-12

Condition = tuple[float, float]
"""(c0, c1): c0 + c1·tan τ ≥ 0."""


@dataclass(frozen=True)
class Reach:
    """The tilts that a rigging can hold.

    intervals_deg: ranges of tilt, ascending, empty where there is none
    tilts_deg: None where every tilt of the ranges can be set; else the only ones that can
    holes_u_m: beside tilts_deg, the bar's hole that gives each; None where no bar has holes
    reason: why nothing is reachable; "" otherwise
    """

    intervals_deg: tuple[Range, ...]
    tilts_deg: tuple[float, ...] | None = None
    holes_u_m: tuple[float, ...] | None = None
    reason: str = ""

    @property
    def range_deg(self) -> Range | None:
        """Lowest and highest tilt, None where nothing is reachable."""
        if not self.intervals_deg:
            return None
        return self.intervals_deg[0][0], self.intervals_deg[-1][1]

    def allows(self, tilt_deg: npt.ArrayLike, *, within_deg: float = SAME_DEG) -> BoolArray:
        """Whether each tilt (tilts…) can be held, give or take within_deg."""
        tilt = np.asarray(tilt_deg, dtype=np.float64)
        spans = self.intervals_deg
        if self.tilts_deg is not None:
            spans = tuple((only, only) for only in self.tilts_deg)
        allowed = np.zeros(tilt.shape, dtype=np.bool_)
        for low, high in spans:
            allowed |= (tilt >= low - within_deg) & (tilt <= high + within_deg)
        return allowed

    def within(self, low_deg: float, high_deg: float) -> "Reach":
        """What of it lies in [low_deg, high_deg]."""
        cut = ((max(low, low_deg), min(high, high_deg)) for low, high in self.intervals_deg)
        spans = tuple((low, high) for low, high in cut if low <= high)
        if self.tilts_deg is None:
            return replace(self, intervals_deg=spans)
        kept = [k for k, tilt in enumerate(self.tilts_deg) if low_deg <= tilt <= high_deg]
        holes = self.holes_u_m
        return replace(
            self,
            intervals_deg=spans,
            tilts_deg=tuple(self.tilts_deg[k] for k in kept),
            holes_u_m=None if holes is None else tuple(holes[k] for k in kept),
        )


def in_steps(reach: Reach, step_deg: float | None) -> Reach:
    """Only whole multiples of a step, where the tilt is set in steps."""
    if step_deg is None or not reach.intervals_deg:
        return reach
    tilts: list[float] = []
    for low, high in reach.intervals_deg:
        first = int(np.ceil(low / step_deg - SAME_DEG))
        last = int(np.floor(high / step_deg + SAME_DEG))
        tilts.extend(min(max(k * step_deg, low), high) for k in range(first, last + 1))
    reason = "" if tilts else f"no multiple of the tilt step of {step_deg:g}° lies in the range"
    return replace(reach, tilts_deg=tuple(tilts), reason=reason)


def interval_deg(conditions: tuple[Condition, ...]) -> tuple[Range, ...]:
    """The tilts in [−90, 90] that meet every condition: one range or none."""
    low, high = -np.inf, np.inf
    for constant, slope in conditions:
        if slope > NOTHING_M:
            low = max(low, -constant / slope)
        elif slope < -NOTHING_M:
            high = min(high, -constant / slope)
        elif constant < -NOTHING_M:
            return ()
    if low > high:
        return ()
    return ((float(np.degrees(np.arctan(low))), float(np.degrees(np.arctan(high)))),)


def along_x(to: Point, origin: Point) -> Condition:
    """x of one point from another, divided by cos τ."""
    return to[0] - origin[0], -(to[1] - origin[1])


def along_z(to: Point, origin: Point) -> Condition:
    """z of one point from another, divided by cos τ."""
    return to[1] - origin[1], to[0] - origin[0]


def mixed(one: Condition, share: float, other: Condition, sign: float) -> Condition:
    """sign·(one − share·other)."""
    return sign * (one[0] - share * other[0]), sign * (one[1] - share * other[1])


def joined_reach(spans: list[Range], *, reason: str) -> Reach:
    """Ranges in order, those that touch made one; the reason where there is none."""
    joined: list[Range] = []
    for low, high in sorted(spans):
        if joined and low <= joined[-1][1] + SAME_DEG:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    if joined:
        return Reach(tuple(joined))
    return Reach((), reason=reason)

"""Which tilts a rigging can hold: every line in tension, the picks above the centre of gravity.

Divided by cos τ, whether a line is taut and whether the picks lie above the centre of gravity are
both linear in t = tan τ, so a range is a closed form: the intersection of half-lines in t.  Only a
pulling line to a fixed point needs its roots found.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..base.arrays import BoolArray, FloatArray
from ..speaker.cabinet import Cabinet
from ..speaker.rigging import Rigging
from ..speaker.speaker import Range
from .body import HungBody, NotChecked, Point, hung_body, one_point_places, x_and_z
from .statics import one_point_tilt_deg, pull_back_shares, pull_elevation_deg, two_point_shares

MOST_PULL_SHARE = 1.0
"""A pulling line is not to bear more than the whole weight; our own limit, editable."""
NEUTRAL_M2 = 1e-9
_SCANNED = 9001
"""Tilts tried from −90 to 90: every fiftieth of a degree."""
_NEUTRAL = "the centre of gravity lies on the line of the picks: nothing keeps it upright"
_NO_PULL = "at no tilt do both the carrying and the pulling line bear load"
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


def reachable_tilt_deg(
    cabinet: Cabinet | None,
    rigging: Rigging,
    *,
    flipped: bool,
    least_share: float = 0.0,
    at_m: Point | None = None,
) -> Reach | NotChecked:
    """The tilts in [−90, 90] at which every line bears at least least_share of the weight.

    at_m: (x, z) of the acoustic centre, which a pulling line to a fixed point depends on
    NotChecked where mass, centre of gravity or picks are missing: then nothing is limited.
    Raises RiggingError where the forces cannot be found at all.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    return reach_of(body, rigging, least_share=least_share, at_m=at_m)


def reach_of(
    body: HungBody, rigging: Rigging, *, least_share: float = 0.0, at_m: Point | None = None
) -> Reach | NotChecked:
    """The same for a body that is known."""
    if rigging.method == "one point":
        return _one_point(body, rigging, least_share)
    first, second = (pick.at_m for pick in body.picks)
    if rigging.method == "two points":
        reach = _two_points(first, second, body.centre_of_gravity_m, least_share)
    elif rigging.pull_elevation_deg is not None:
        reach = _pull_back(
            first, second, body.centre_of_gravity_m, rigging.pull_elevation_deg, least_share
        )
    elif rigging.pulling_point_m is None or at_m is None:
        return NotChecked(
            "which tilts it can reach was not checked: the pulling line's direction depends on "
            "where the box is"
        )
    else:
        reach = _pull_to_point(body, rigging.pulling_point_m, at_m, least_share)
    return in_steps(reach, rigging.tilt_step_deg)


def _side(one: Point, other: Point, centre: Point) -> float:
    """Sign of x_one − x_other for which the line of the picks is above the centre; 0: on it.

    Turning about that line stretches no rope, so a centre above it falls over, whatever the ropes.
    """
    area = (one[0] - other[0]) * (centre[1] - other[1])
    area -= (one[1] - other[1]) * (centre[0] - other[0])
    return 0.0 if abs(area) < NEUTRAL_M2 else float(-np.sign(area))


def _two_points(front: Point, rear: Point, centre: Point, least_share: float) -> Reach:
    span, to_front = along_x(front, rear), along_x(centre, rear)
    sign = _side(front, rear, centre)
    if sign == 0.0:
        return Reach((), reason=_NEUTRAL)
    spans = interval_deg(
        (
            mixed(span, 0.0, span, sign),
            mixed(to_front, least_share, span, sign),
            mixed(along_x(front, centre), least_share, span, sign),
        )
    )
    if spans:
        return Reach(spans)
    if sign < 0.0:
        return Reach((), reason="the picks do not lie above the combined centre of gravity")
    return Reach((), reason="at no tilt does the centre of gravity hang between the picks")


def _pull_back(
    carrying: Point, pulled: Point, centre: Point, elevation_deg: float, least_share: float
) -> Reach:
    sine, cosine = np.sin(np.radians(elevation_deg)), np.cos(np.radians(elevation_deg))
    turning = along_x(centre, carrying)
    across, upward = along_x(pulled, carrying), along_z(pulled, carrying)
    arm = (
        float(across[0] * sine + upward[0] * cosine),
        float(across[1] * sine + upward[1] * cosine),
    )
    side = _side(carrying, pulled, centre)
    if side == 0.0:
        return Reach((), reason=_NEUTRAL)
    spans: list[Range] = []
    # Between what it must bear and what it may, the pull has the sign of its arm.
    for sign in (-1.0, 1.0):
        carried = (
            (1.0 - least_share) * arm[0] - turning[0] * sine,
            (1.0 - least_share) * arm[1] - turning[1] * sine,
        )
        spans.extend(
            interval_deg(
                (
                    mixed(turning, least_share, arm, sign),
                    mixed(carried, 0.0, arm, sign),
                    mixed(turning, MOST_PULL_SHARE, arm, -sign),
                    along_z(carrying, centre),
                    mixed(along_x(carrying, pulled), 0.0, arm, side),
                )
            )
        )
    return joined_reach(spans, reason=_NO_PULL)


def _pull_to_point(
    body: HungBody, pulling_point_m: Point, at_m: Point, least_share: float
) -> Reach:
    carrying, pulled = (pick.at_m for pick in body.picks)
    centre = body.centre_of_gravity_m
    side = _side(carrying, pulled, centre)
    if side == 0.0:
        return Reach((), reason=_NEUTRAL)

    def margin(tilt_deg: FloatArray) -> FloatArray:
        """The least of all conditions; a tilt can be held where it is not negative."""
        beta = pull_elevation_deg(
            pulled, tilt_deg=tilt_deg, at_m=at_m, pulling_point_m=pulling_point_m
        )
        _, pull, _ = pull_back_shares(
            carrying, pulled, centre, tilt_deg=tilt_deg, elevation_deg=beta
        )
        carried = 1.0 - pull * np.sin(np.radians(beta))
        above = x_and_z(carrying, tilt_deg)[1] - x_and_z(centre, tilt_deg)[1]
        upright = side * (x_and_z(carrying, tilt_deg)[0] - x_and_z(pulled, tilt_deg)[0])
        loads = np.minimum(np.minimum(pull, carried) - least_share, MOST_PULL_SHARE - pull)
        return np.asarray(np.minimum(loads, np.minimum(above, upright)))

    tilt = np.linspace(-90.0, 90.0, _SCANNED)
    held = margin(tilt) >= 0.0
    starts = np.flatnonzero(held & ~np.append(False, held[:-1]))
    ends = np.flatnonzero(held & ~np.append(held[1:], False))
    spans: list[Range] = []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        low = _root(margin, tilt[max(start - 1, 0)], tilt[start])
        high = _root(margin, tilt[min(end + 1, _SCANNED - 1)], tilt[end])
        spans.append((float(low), float(high)))
    return joined_reach(spans, reason=_NO_PULL)


def _root(margin: Callable[[FloatArray], FloatArray], outside: float, inside: float) -> float:
    """Where the margin becomes negative, by halving to the last digit; the held side is given."""
    for _ in range(60):
        middle = 0.5 * (outside + inside)
        if margin(np.asarray(middle)) >= 0.0:
            inside = middle
        else:
            outside = middle
    return inside


def _one_point(body: HungBody, rigging: Rigging, least_share: float) -> Reach:
    centre = body.centre_of_gravity_m
    places_u_m, height = one_point_places(body, rigging)
    if height - centre[1] <= 0.0:
        return Reach(
            (), reason="it hangs from a point that is not above the combined centre of gravity"
        )
    if rigging.bar_u_m is not None:
        low, high = one_point_tilt_deg(places_u_m, height, centre)
        spans: tuple[Range, ...] = ((float(low), float(high)),)
        if len(body.picks) == 2:
            taut = _two_points(body.picks[0].at_m, body.picks[1].at_m, centre, least_share)
            if not taut.intervals_deg:
                return taut
            spans = taut.within(*spans[0]).intervals_deg
        reason = "" if spans else "at every place along the bar one of its picks goes slack"
        return in_steps(Reach(spans, reason=reason), rigging.tilt_step_deg)
    holes = np.asarray(places_u_m)
    tilts = one_point_tilt_deg(holes, height, centre)
    if len(body.picks) == 2:
        first, second = (pick.at_m for pick in body.picks)
        shares = two_point_shares(first, second, centre, tilt_deg=tilts)
        taut_holes = shares.min(axis=1) >= least_share - 1e-12
        holes, tilts = holes[taut_holes], tilts[taut_holes]
    order = np.argsort(tilts, kind="stable")
    found = tuple(float(tilt) for tilt in tilts[order])
    return Reach(
        tuple((tilt, tilt) for tilt in found),
        tilts_deg=found,
        holes_u_m=tuple(float(hole) for hole in holes[order]) if rigging.holes_u_m else None,
        reason="" if found else "at every hole one of the bar's picks goes slack",
    )


_LOOKED = 13


def last_tilt_deg(holds: Callable[[float], bool], from_deg: float, to_deg: float) -> float:
    """The last tilt that holds on the way from one that does to another, by looking and halving."""
    good = from_deg
    for tilt in np.linspace(from_deg, to_deg, _LOOKED)[1:].tolist():
        if holds(tilt):
            good = tilt
            continue
        bad = tilt
        while abs(bad - good) > SAME_DEG:
            middle = 0.5 * (good + bad)
            good, bad = (middle, bad) if holds(middle) else (good, middle)
        break
    return good

"""What would have to be moved for a tilt to be held: the other way round from reach.py."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import Rigging
from .body import HungBody, NotChecked, Point, hung_body, one_point_places
from .reach import along_x, reach_of
from .statics import one_point_hole_m

LEAST_MOVE_M = 1e-4
ON_END_DEG = 90.0 - 1e-6


@dataclass(frozen=True)
class Wanted:
    """One change that lets the rigging hold a tilt.

    what: the pick that would have to sit elsewhere, or the hole that hangs it
    name: of the pick, "" for a hole; u_m, w_m: where, body axes as hung; moved_m: how much further
        forward than now (a hole: than the nearest there is)
    """

    what: Literal["pick", "hole"]
    name: str
    u_m: float
    w_m: float
    moved_m: float


def wanted(
    cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool, tilt_deg: float, least_share: float
) -> Wanted | None:
    """The one point, moved along u alone, with which the tilt is held; None where none does.

    least_share: each line of two then bears at least this share of the weight
    Raises RiggingError as reachable_tilt_deg does.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked) or rigging.method == "pull-back":
        return None
    if abs(tilt_deg) >= ON_END_DEG:
        return None
    if rigging.method == "one point":
        return _hole(body, rigging, tilt_deg)
    found = [
        change
        for place in (0, 1)
        if (change := _pick(body, rigging, place, tilt_deg, least_share)) is not None
    ]
    return min(found, key=lambda change: abs(change.moved_m), default=None)


def _pick(
    body: HungBody, rigging: Rigging, place: int, tilt_deg: float, least_share: float
) -> Wanted | None:
    """The front or the rear pick moved, where it stays front or rear and that holds the tilt."""
    moved = _moved(body, place, tilt_deg, least_share)
    front, rear = (moved if k == place else pick for k, pick in enumerate(body.picks))
    by = moved.at_m[0] - body.picks[place].at_m[0]
    if front.at_m[0] <= rear.at_m[0] or abs(by) < LEAST_MOVE_M:
        return None
    free = replace(rigging, tilt_step_deg=None)
    reach = reach_of(replace(body, picks=(front, rear)), free)
    if isinstance(reach, NotChecked) or not reach.allows(tilt_deg):
        return None
    return Wanted("pick", moved.name, moved.at_m[0], moved.at_m[1], by)


def _moved(body: HungBody, place: int, tilt_deg: float, least_share: float) -> Pick:
    """One pick moved along u so that the other one bears the least share.

    With X = (x of a point)/cos τ = u − w·tan τ:  (X_G − X_m)/(X_o − X_m) = s gives X_m.
    """
    slope = float(np.tan(np.radians(tilt_deg)))

    def seen(at: Point) -> float:
        constant, by_slope = along_x(at, (0.0, 0.0))
        return constant + by_slope * slope

    other, mine = body.picks[1 - place], body.picks[place]
    x_m = (seen(body.centre_of_gravity_m) - least_share * seen(other.at_m)) / (1.0 - least_share)
    w = mine.at_m[1]
    return replace(mine, at_m=(x_m + w * slope, w))


def _hole(body: HungBody, rigging: Rigging, tilt_deg: float) -> Wanted | None:
    """The hole that hangs it; None where that lies too low, or leaves a pick of its bar slack."""
    places_u_m, w = one_point_places(body, rigging)
    u = float(one_point_hole_m(tilt_deg, w, body.centre_of_gravity_m))
    reach = reach_of(body, replace(rigging, holes_u_m=(u,), bar_u_m=None, bar_w_m=w))
    if isinstance(reach, NotChecked) or not reach.tilts_deg:
        return None
    nearest = min(places_u_m, key=lambda hole: abs(hole - u))
    return Wanted("hole", "", u, w, u - nearest)

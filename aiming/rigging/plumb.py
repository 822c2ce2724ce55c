"""The rigger's geometry: where each point comes down from the steel once the box has its tilt.

The picks move as the box tilts, so the points are laid out for the final tilt, not for level.
"""

from dataclasses import dataclass

import numpy as np

from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import Rigging
from .balance import pulling_elevation_deg, shares_and_leans
from .body import (
    HungBody,
    NotChecked,
    Point,
    RiggingError,
    has_bar,
    hung_body,
    one_point_places,
    x_and_z,
)
from .statics import one_point_hole_m


@dataclass(frozen=True)
class HangPoint:
    """One line, from where it holds the box to where it is made fast.

    x_m, height_m: the hook at the box, from the datum
    lean_deg: from plumb, positive with the upper end ahead
    steel_x_m, steel_z_m: where the line is made fast; steel_x_m None for a leaning line that no
        steel height or pulling point ends, steel_z_m None without either
    length_m: hook to steel, along the line; None where its end is unknown or below the hook
    reading_n, level_reading_n: what a load cell in it shows at the tilt, and with the box level;
        None where the line is slack then
    on_structure_n: with the hoist, where its mass is stated; structure_utilisation: that, with the
        dynamic factor on the box's part, over the capacity that is stated; else None
    """

    name: str
    x_m: float
    height_m: float
    lean_deg: float
    steel_x_m: float | None
    steel_z_m: float | None
    length_m: float | None
    reading_n: float | None
    level_reading_n: float | None
    on_structure_n: float
    structure_utilisation: float | None


@dataclass(frozen=True)
class HangLayout:
    """All lines of one box.

    difference_m: the first hook's height less the second's (front less rear; carrying less pulled)
    spacing_m: the first hook's x less the second's
    shift_m: how far the carrying steel point is ahead of its hook, that is how far the pull brings
        the box back; None without a steel height, 0 for plumb lines
    total_n: everything that the structure bears: box, extra, hoists, cable
    not_counted: what of these is not stated, so not in the total
    """

    points: tuple[HangPoint, ...]
    difference_m: float | None
    spacing_m: float | None
    shift_m: float | None
    total_n: float
    not_counted: tuple[str, ...]


def hang_layout(
    cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool, tilt_deg: float, at_m: Point
) -> HangLayout | NotChecked:
    """Where everything comes down, for the acoustic centre at at_m (x, z from the datum).

    A one-point hang with a bar comes down at the hole that gives this very tilt.
    Raises RiggingError where the forces cannot be told apart.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    hooks = _hooks(body, rigging, tilt_deg)
    beta = pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    now = _borne(body, rigging, tilt_deg, beta)
    level = _level_shares(body, rigging, at_m)
    points = tuple(
        _hang_point(
            hook, body, rigging,
            tilt_deg=tilt_deg, at_m=at_m, borne=now[k], level_share=level[k],
            pulling=rigging.method == "pull-back" and k == 1,
        )
        for k, hook in enumerate(hooks)
    )  # fmt: skip
    hoists_kg = None if rigging.hoist_mass_kg is None else rigging.hoist_mass_kg * len(points)
    unstated = (("hoists", hoists_kg), ("cable", rigging.cable_mass_kg))
    beside_kg = (hoists_kg or 0.0) + (rigging.cable_mass_kg or 0.0)
    first, last = points[0], points[-1]
    two = len(points) == 2
    shift = None if first.steel_x_m is None else first.steel_x_m - first.x_m
    return HangLayout(
        points=points,
        difference_m=first.height_m - last.height_m if two else None,
        spacing_m=first.x_m - last.x_m if two else None,
        shift_m=shift,
        total_n=body.weight_n + beside_kg * G_M_S2,
        not_counted=tuple(name for name, mass_kg in unstated if mass_kg is None),
    )


def _hooks(body: HungBody, rigging: Rigging, tilt_deg: float) -> tuple[Pick, ...]:
    """What the lines hold: the picks, or the one hole of a bar."""
    if rigging.method != "one point" or not has_bar(rigging):
        return body.picks
    _, w = one_point_places(body, rigging)
    hole = float(one_point_hole_m(tilt_deg, w, body.centre_of_gravity_m))
    return (Pick(name=f"bar at u = {hole:.3f} m", at_m=(hole, w)),)


def _borne(
    body: HungBody, rigging: Rigging, tilt_deg: float, beta: float | None
) -> tuple[tuple[float, float], ...]:
    """Share and lean of each line."""
    if rigging.method == "one point":
        return ((1.0, 0.0),)
    found = shares_and_leans(body, rigging, tilt_deg=tilt_deg, beta_deg=beta)
    return tuple((share, lean) for share, lean, _ in found)


def _level_shares(body: HungBody, rigging: Rigging, at_m: Point) -> tuple[float | None, ...]:
    """Share of each line with the box level; None where that cannot be told."""
    beta = pulling_elevation_deg(body, rigging, tilt_deg=0.0, at_m=at_m)
    try:
        return tuple(share for share, _ in _borne(body, rigging, 0.0, beta))
    except RiggingError:
        return (None,) * len(body.picks)


def _hang_point(
    hook: Pick,
    body: HungBody,
    rigging: Rigging,
    *,
    tilt_deg: float,
    at_m: Point,
    borne: tuple[float, float],
    level_share: float | None,
    pulling: bool,
) -> HangPoint:
    share, lean = borne
    along_x, along_z = x_and_z(hook.at_m, tilt_deg)
    x_m, height_m = at_m[0] + float(along_x), at_m[1] + float(along_z)
    steel_x, steel_z = _made_fast(
        rigging, x_m=x_m, height_m=height_m, lean_deg=lean, pulling=pulling
    )
    tension = share * body.weight_n
    hoist_n = (rigging.hoist_mass_kg or 0.0) * G_M_S2
    capacity = rigging.structure_capacity_n
    length = None
    if steel_x is not None and steel_z is not None and (pulling or steel_z > height_m):
        length = float(np.hypot(steel_x - x_m, steel_z - height_m))
    return HangPoint(
        name=hook.name,
        x_m=x_m,
        height_m=height_m,
        lean_deg=lean,
        steel_x_m=steel_x,
        steel_z_m=steel_z,
        length_m=length,
        reading_n=_not_slack_n(share, body.weight_n),
        level_reading_n=_not_slack_n(level_share, body.weight_n),
        on_structure_n=tension + hoist_n,
        structure_utilisation=(
            None if capacity is None else (tension * rigging.dynamic_factor + hoist_n) / capacity
        ),
    )


def _not_slack_n(share: float | None, weight_n: float) -> float | None:
    return None if share is None or share < 0.0 else share * weight_n


def _made_fast(
    rigging: Rigging, *, x_m: float, height_m: float, lean_deg: float, pulling: bool
) -> tuple[float | None, float | None]:
    """x, z where a line ends: the pulling point, or the steel; None where it never gets there."""
    if pulling and rigging.pulling_point_m is not None:
        return rigging.pulling_point_m
    steel = rigging.steel_height_m
    if abs(lean_deg) < 1e-9:
        return x_m, steel
    if steel is None or steel <= height_m or abs(lean_deg) >= 90.0 - 1e-6:
        return None, None
    return x_m + (steel - height_m) * float(np.tan(np.radians(lean_deg))), steel

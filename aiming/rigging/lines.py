"""What goes up from the box to the steel: each line, its parts, what it brings to the structure.

    structure  ═══╤═══   ← T, with the masses of the line's own parts and its share of cable,
        clamp     │        times the dynamic factor
        hoist     □
        sling     │      ← each part bears T and the parts below it: the one nearest its
        shackle   o        limit is the line's weakest
        hook    ──┴──    ← T, what a load cell reads here

A line holds a pick; a pick bar has one line.
"""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet, Pick
from ..speaker.headroom import Hanger, Headroom
from ..speaker.rigging import LinePart, Rigging
from ..speaker.speaker import Range
from .body import (
    HungBody,
    NotChecked,
    Point,
    RiggingError,
    has_bar,
    hung_body,
    hung_picks,
    one_point_places,
    x_and_z,
)
from .limits import CELL_DOUBT_N, CELL_DOUBT_SHARE, DOUBT_IN_CENTRE
from .points import PointLoad, utilisation_of
from .statics import one_point_hole_m, pulling_elevation_deg, shares_and_leans

PLUMB_DEG = 1e-9
LEVEL_DEG = 90.0 - 1e-6


@dataclass(frozen=True)
class PartLoad:
    """One part of a line, from the structure down."""

    name: Annotated[str, "as declared"]
    wll_n: Annotated[float | None, "its marked working load limit, N; null where not given"]
    mass_kg: Annotated[float, "its own, kg"]
    length_m: Annotated[float, "the least that it takes up, m"]
    load_n: Annotated[float, "what hangs on it at rest, the parts below it counted, N"]
    utilisation: Annotated[float | None, "as of a point; null without a limit"]


@dataclass(frozen=True)
class HangLine:
    """One line, from where it holds the box to where it is made fast; beyond a lean of 90° it
    pulls down.
    """

    name: Annotated[str, "the pick's, or the hole of the bar"]
    x_m: Annotated[float, "hook at the box, m from the datum"]
    height_m: Annotated[float, "hook at the box, m above the datum"]
    lean_deg: Annotated[float, "from plumb, degrees, positive with the upper end ahead"]
    steel_x_m: Annotated[
        float | None,
        "where the line is made fast, m from the datum; null for a leaning line without a steel "
        "height or pulling point",
    ]
    steel_z_m: Annotated[float | None, "the same, m above the datum; null without either"]
    length_m: Annotated[
        float | None,
        "hook to steel along the line, m; null where its end is unknown or below the hook",
    ]
    reading_n: Annotated[
        float | None, "what a load cell in it shows at the tilt, N; null where the line is slack"
    ]
    level_reading_n: Annotated[
        float | None,
        "the same with the box level; null where a line would be slack then, so that it cannot "
        "hang level, or the forces cannot be told",
    ]
    accept_n: Annotated[
        Range | None,
        "readings at the tilt that the doubts in the centre of gravity and in the cell allow, N; "
        "never beyond `stop_over_n`; null where the line is slack or over it",
    ]
    level_accept_n: Annotated[Range | None, "the same with the box level; null likewise"]
    stop_over_n: Annotated[
        float | None,
        "the reading at which a point, a part or the structure comes to its limit, N; null where "
        "no limit is known",
    ]
    vertical_n: Annotated[
        float,
        "the line's own pull at rest on what it is made fast to, downwards, N; negative where it "
        "pulls up",
    ]
    horizontal_n: Annotated[float, "the same, level, towards the box, N"]
    beside_n: Annotated[
        float, "weight at rest of its hoist or parts, and of its share of the cable, N"
    ]
    structure_vertical_n: Annotated[
        float, "everything on the structure there, times `dynamic_factor`, downwards, N"
    ]
    structure_horizontal_n: Annotated[float, "the same, level, N"]
    on_structure_n: Annotated[float, "both together, N"]
    structure_utilisation: Annotated[
        float | None, "that over the capacity stated; null where none is"
    ]
    parts: Annotated[tuple[PartLoad, ...], "what the line is made of, from the structure down"]
    weakest: Annotated[str, "the part nearest its limit; empty where none has one"]
    utilisation: Annotated[float | None, "that part's; null likewise"]
    parts_m: Annotated[float, "what the parts take up together, m; 0 where none are given"]
    spare_m: Annotated[
        float | None,
        "what the steel leaves over them, m; negative stops; null without a steel height and for "
        "a pulling line",
    ]


def _hooks(body: HungBody, rigging: Rigging, tilt_deg: float) -> tuple[Pick, ...]:
    """What the lines hold: the picks, or the one hole of a bar."""
    if rigging.method != "one point" or not has_bar(rigging):
        return body.picks
    _, w = one_point_places(body, rigging)
    hole = float(one_point_hole_m(tilt_deg, w, body.centre_of_gravity_m))
    return (Pick(name=f"bar at u = {hole:.3f} m", at_m=(hole, w)),)


def hang_lines(
    body: HungBody,
    rigging: Rigging,
    points: tuple[PointLoad, ...],
    *,
    tilt_deg: float,
    at_m: Point,
    full: float,
) -> tuple[HangLine, ...]:
    hooks = _hooks(body, rigging, tilt_deg)
    level = _level_borne(body, rigging, at_m)
    masses_kg, cable_n = line_masses_kg(body, rigging), line_cable_n(body, rigging)
    return tuple(
        _line(
            hook, body, rigging,
            tilt_deg=tilt_deg, at_m=at_m, full=full,
            held=points if len(hooks) != len(points) else (points[k],),
            level=level[k], own_n=masses_kg[k] * G_M_S2, cable_n=cable_n[k],
            pulling=rigging.method == "pull-back" and k == 1,
        )
        for k, hook in enumerate(hooks)
    )  # fmt: skip


def _line_names(body: HungBody, rigging: Rigging) -> tuple[str, ...]:
    """One per line, as the file names its pick; a bar's line is the first pick's."""
    return tuple(pick.name for pick in body.picks[: 1 if rigging.method == "one point" else None])


def line_masses_kg(body: HungBody, rigging: Rigging) -> tuple[float, ...]:
    """Mass of each line's own parts, or of its hoist."""
    return tuple(
        sum(part.mass_kg for part in parts) if parts else (rigging.hoist_mass_kg or 0.0)
        for parts in (rigging.line_of(name) for name in _line_names(body, rigging))
    )


def line_cable_n(body: HungBody, rigging: Rigging) -> tuple[float, ...]:
    """Weight of the cable on each line: on the one that carries it, else shared evenly."""
    names = _line_names(body, rigging)
    whole = (rigging.cable_mass_kg or 0.0) * G_M_S2
    if rigging.cable_pick in names:
        return tuple(whole if name == rigging.cable_pick else 0.0 for name in names)
    if rigging.method == "pull-back":
        return (whole, 0.0)  # what pulls a box back carries no cable up
    return (whole / len(names),) * len(names)


def not_counted(body: HungBody, rigging: Rigging) -> tuple[str, ...]:
    bare = not all(rigging.line_of(name) for name in _line_names(body, rigging))
    unstated = []
    if bare and rigging.hoist_mass_kg is None:
        unstated.append("hoists")
    if rigging.cable_mass_kg is None:
        unstated.append("cable")
    return tuple(unstated)


def _level_borne(
    body: HungBody, rigging: Rigging, at_m: Point
) -> tuple[tuple[float, float] | None, ...]:
    """Share and its doubt of each line with the box level; None where it cannot be held level."""
    if rigging.method == "one point":
        return ((1.0, 0.0),)
    beta = pulling_elevation_deg(body, rigging, tilt_deg=0.0, at_m=at_m)
    try:
        found = shares_and_leans(body, rigging, tilt_deg=0.0, beta_deg=beta)
    except RiggingError:
        return (None,) * len(body.picks)
    if any(share < 0.0 for share, _, _ in found):
        return (None,) * len(found)
    return tuple((share, doubt) for share, _, doubt in found)


def _line(
    hook: Pick,
    body: HungBody,
    rigging: Rigging,
    *,
    tilt_deg: float,
    at_m: Point,
    full: float,
    held: tuple[PointLoad, ...],
    level: tuple[float, float] | None,
    own_n: float,
    cable_n: float,
    pulling: bool,
) -> HangLine:
    """held: the points that hang by this line; own_n: weight of its parts or hoist."""
    one = len(held) == 1 and rigging.method != "one point"
    tension, lean = (held[0].tension_n, held[0].lean_deg) if one else (body.weight_n, 0.0)
    along_x, along_z = x_and_z(hook.at_m, tilt_deg)
    x_m, height_m = at_m[0] + float(along_x), at_m[1] + float(along_z)
    steel_x, steel_z = _made_fast(
        rigging, x_m=x_m, height_m=height_m, lean_deg=lean, pulling=pulling
    )
    length = None
    if steel_x is not None and steel_z is not None and (pulling or steel_z > height_m):
        length = float(np.hypot(steel_x - x_m, steel_z - height_m))
    slope, pull = np.radians(lean), max(tension, 0.0)
    down, across = pull * float(np.cos(slope)), pull * abs(float(np.sin(slope)))
    factor, capacity = rigging.dynamic_factor, rigging.structure_capacity_n
    beside = own_n + cable_n
    bears = (factor * (down + beside), factor * across)
    whole = float(np.hypot(*bears))
    declared = rigging.line_of(held[0].name)
    parts = _part_loads(declared, rigging, down_n=down, across_n=across)
    worst = max((one for one in parts if one.utilisation is not None),
                key=lambda one: one.utilisation or 0.0, default=None)  # fmt: skip
    stop_over = _stop_over_n(held, declared, rigging, beside_n=beside, full=full, whole_n=pull)
    parts_m = sum(part.length_m for part in declared)
    spare = None
    if steel_z is not None and not pulling:
        spare = steel_z - height_m - parts_m
    reading = None if tension < 0.0 else tension
    level_reading = None if level is None else level[0] * body.weight_n
    level_doubt_n = 0.0 if level is None else level[1] * DOUBT_IN_CENTRE.value * body.weight_n
    return HangLine(
        name=hook.name,
        x_m=x_m,
        height_m=height_m,
        lean_deg=lean,
        steel_x_m=steel_x,
        steel_z_m=steel_z,
        length_m=length,
        reading_n=reading,
        level_reading_n=level_reading,
        accept_n=_accept_n(reading, held[0].doubt_n if one else 0.0, stop_over),
        level_accept_n=_accept_n(level_reading, level_doubt_n, stop_over),
        stop_over_n=stop_over,
        vertical_n=down,
        horizontal_n=across,
        beside_n=beside,
        structure_vertical_n=bears[0],
        structure_horizontal_n=bears[1],
        on_structure_n=whole,
        structure_utilisation=None if capacity is None else whole / capacity,
        parts=parts,
        weakest="" if worst is None else worst.name,
        utilisation=None if worst is None else worst.utilisation,
        parts_m=parts_m,
        spare_m=spare,
    )


def _part_loads(
    declared: tuple[LinePart, ...], rigging: Rigging, *, down_n: float, across_n: float
) -> tuple[PartLoad, ...]:
    """What hangs on each part: the line's pull, and the weight of the parts below it."""
    found = []
    for k, part in enumerate(declared):
        below_n = G_M_S2 * sum(lower.mass_kg for lower in declared[k + 1 :])
        load = float(np.hypot(down_n + below_n, across_n))
        used = utilisation_of(load, part.wll_n, rigging)
        found.append(PartLoad(part.name, part.wll_n, part.mass_kg, part.length_m, load, used))
    return tuple(found)


def _stop_over_n(
    held: tuple[PointLoad, ...],
    declared: tuple[LinePart, ...],
    rigging: Rigging,
    *,
    beside_n: float,
    full: float,
    whole_n: float,
) -> float | None:
    """The least reading at which a point, a part or the structure comes to its limit.

    On a leaning line the weights beside the pull are added to it straight, which errs early.
    """
    factor = rigging.dynamic_factor
    usable = full * rigging.wll_share / factor
    limits = []
    for point in held:
        if point.wll_n is not None:
            kept = 1.0 if point.kept_share is None else point.kept_share
            share = point.tension_n / whole_n if len(held) > 1 and whole_n > 0.0 else 1.0
            if share > 0.0:
                limits.append(point.wll_n * kept * usable / share)
    for k, part in enumerate(declared):
        if part.wll_n is not None:
            below_n = G_M_S2 * sum(lower.mass_kg for lower in declared[k + 1 :])
            limits.append(part.wll_n * usable - below_n)
    if rigging.structure_capacity_n is not None:
        limits.append(full * rigging.structure_capacity_n / factor - beside_n)
    return max(0.0, min(limits)) if limits else None


def _accept_n(reading_n: float | None, doubt_n: float, stop_over_n: float | None) -> Range | None:
    """Readings that the doubts in the centre of gravity and in the cell allow; taut, no stop."""
    if reading_n is None:
        return None
    doubt = float(np.hypot(doubt_n, max(CELL_DOUBT_SHARE.value * reading_n, CELL_DOUBT_N.value)))
    low, high = max(0.0, reading_n - doubt), reading_n + doubt
    if stop_over_n is not None:
        high = min(high, stop_over_n)
    return (low, high) if low < high else None


def _made_fast(
    rigging: Rigging, *, x_m: float, height_m: float, lean_deg: float, pulling: bool
) -> tuple[float | None, float | None]:
    """x, z where a line ends: the pulling point, or the steel; None where it never gets there."""
    if pulling and rigging.pulling_point_m is not None:
        return rigging.pulling_point_m
    steel = rigging.steel_height_m
    if abs(lean_deg) < PLUMB_DEG:
        return x_m, steel
    if steel is None or steel <= height_m or abs(lean_deg) >= LEVEL_DEG:
        return None, steel if not pulling else None
    return x_m + (steel - height_m) * float(np.tan(np.radians(lean_deg))), steel


# What needs no loads.


@dataclass(frozen=True)
class Hook:
    """Where a line holds the box, from the datum; known without mass or centre of gravity."""

    name: str
    x_m: float
    height_m: float


def hooks_at(
    cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool, tilt_deg: float, at_m: Point
) -> tuple[Hook, ...]:
    """The hooks of the picks that carry lines; () for a bar, whose hole the centre decides.

    Raises RiggingError for a pick that the cabinet does not have.
    """
    if cabinet is None or (rigging.method == "one point" and has_bar(rigging)):
        return ()
    found = []
    for pick in hung_picks(cabinet, rigging, flipped=flipped):
        x, z = x_and_z(pick.at_m, tilt_deg)
        found.append(Hook(pick.name, at_m[0] + float(x), at_m[1] + float(z)))
    return tuple(found)


def headroom_of(cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool) -> Headroom | None:
    """The steel, and the lines that have to fit under it, at the least that their parts take up.

    None where no steel is given, or where it cannot be told (no picks; a bar without its centre of
    gravity).  A line that pulls back is none of them.
    Raises RiggingError for a pick that the cabinet does not have.
    """
    steel = rigging.steel_height_m
    if steel is None or cabinet is None or not cabinet.picks:
        return None
    if rigging.method == "one point" and has_bar(rigging):
        body = hung_body(cabinet, rigging, flipped=flipped)
        if isinstance(body, NotChecked):
            return None
        _, w = one_point_places(body, rigging)
        at = body.centre_of_gravity_m
        parts = _lengths(rigging, body.picks[0].name)
        return Headroom(steel, (Hanger(*at, plumb_m=w - at[1], parts=parts),))
    picks = hung_picks(cabinet, rigging, flipped=flipped)
    if rigging.method == "pull-back":
        picks = picks[:1]
    return Headroom(
        steel, tuple(Hanger(*pick.at_m, parts=_lengths(rigging, pick.name)) for pick in picks)
    )


def _lengths(rigging: Rigging, pick: str) -> tuple[tuple[str, float], ...]:
    return tuple((part.name, part.length_m) for part in rigging.line_of(pick))

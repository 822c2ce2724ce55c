"""What each point bears when the box hangs at its tilt, and what each line brings to the steel.

    structure  ═══╤═══   ← T, with the masses of the line's own parts and its share of cable,
        clamp     │        times the dynamic factor
        hoist     □
        sling     │      ← each part bears T and the parts below it: the one nearest its
        shackle   o        limit is the line's weakest
        hook    ──┴──    ← T, what a load cell reads here

Points are the picks of the box, lines what goes up from them; a pick bar has one line.  Where
the points come down is laid out for the final tilt, not for level: the picks move as the box tilts.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray
from ..base.described import Kind
from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import LinePart, Method, Rigging
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
from .limits import (
    CELL_DOUBT_N,
    CELL_DOUBT_SHARE,
    DOUBT_IN_CENTRE,
    LEAST_SHARE,
    UTILISATION_FULL,
    kept_share,
    off_axis_deg,
)
from .reach import PRINTED_DEG, SAME_DEG, Reach, reach_of
from .statics import (
    one_point_doubt_deg,
    one_point_hole_m,
    pulling_elevation_deg,
    shares_and_leans,
)
from .wind import FORCE_COEFFICIENT, FlownWind, wind_on_hung

PLUMB_DEG = 1e-9
LEVEL_DEG = 90.0 - 1e-6


@dataclass(frozen=True)
class PointLoad:
    """One pick's load at rest.

    tension_n: signed balance, negative is slack; share: of the weight
    wll_n: its marked working load limit; None where it is not given
    utilisation: tension · dynamic factor / (wll · share that may be used); None without a wll
    whole_weight_utilisation: the same with the whole weight on it, as when a hoist runs uneven
    lean_deg: of its line from plumb, positive with the upper end ahead of the pick
    off_axis_deg, kept_share: of the pull from its fitting's axis, and of the limit what that
        leaves; kept_utilisation holds the tension against it.  None where no fitting is declared
    above_centre_m: how far the pick lies above the centre of gravity at the tilt
    doubt_n: change of the tension for 10 mm of doubt in the centre of gravity, worst direction
    """

    name: Annotated[str, "the pick's"]
    tension_n: Annotated[
        float,
        "signed balance at rest, N; negative would push: the line is slack, which is a stop",
    ]
    share: Annotated[float, "tension over weight"]
    wll_n: Annotated[float | None, "its marked working load limit, N; null where it is not given"]
    utilisation: Annotated[
        float | None,
        "tension · `dynamic_factor` / (working load limit · `wll_share`); null without a limit",
    ]
    whole_weight_utilisation: Annotated[
        float | None,
        "the same with the whole weight on this point, as when a hoist runs uneven; null likewise",
    ]
    lean_deg: Annotated[float, "of its line from plumb, degrees, positive with the upper end ahead"]
    off_axis_deg: Annotated[
        float | None,
        "of the pull from its fitting's axis, degrees; null where no fitting is declared",
    ]
    kept_share: Annotated[float | None, "of the limit, what that angle leaves; null likewise"]
    kept_utilisation: Annotated[
        float | None,
        "utilisation of what is left; null likewise, without a limit, and where nothing is left",
    ]
    above_centre_m: Annotated[
        float,
        "how far the pick lies above the centre of gravity at the tilt, m",
    ]
    doubt_n: Annotated[
        float,
        "change of the tension for 10 mm of doubt in the centre of gravity, worst direction, N",
    ]


@dataclass(frozen=True)
class PartLoad:
    """One part of a line, from the structure down.

    load_n: what hangs on it at rest, the parts below it counted
    utilisation: that · dynamic factor / (wll · share that may be used); None without a wll
    """

    name: Annotated[str, "as declared"]
    wll_n: Annotated[float | None, "its marked working load limit, N; null where not given"]
    mass_kg: Annotated[float, "its own, kg"]
    length_m: Annotated[float, "the least that it takes up, m"]
    load_n: Annotated[float, "what hangs on it at rest, the parts below it counted, N"]
    utilisation: Annotated[float | None, "as of a point; null without a limit"]


@dataclass(frozen=True)
class HangLine:
    """One line, from where it holds the box to where it is made fast.

    x_m, height_m: the hook at the box, from the datum
    lean_deg: from plumb, positive with the upper end ahead; beyond 90 it pulls down
    steel_x_m, steel_z_m: where the line is made fast; steel_x_m None for a leaning line that no
        steel height or pulling point ends, steel_z_m None without either
    length_m: hook to steel, along the line; None where its end is unknown or below the hook
    reading_n, level_reading_n: what a load cell in it shows at the tilt, and with the box level;
        None where the line is slack then
    accept_n, level_accept_n: readings that the plan's doubts allow, never beyond stop_over_n
    stop_over_n: the reading at which something of this line comes to its limit; None where no
        limit is known
    vertical_n, horizontal_n: of the line's own pull on what it is made fast to, at rest: down
        (negative: it pulls up) and towards the box
    beside_n: weight at rest of the line's own parts or hoist and of its share of the cable
    structure_vertical_n, structure_horizontal_n: what the structure bears, everything counted,
        times the dynamic factor; on_structure_n both together; structure_utilisation: that over
        the capacity that is stated, else None
    parts: what the line is made of; weakest: the part nearest its limit, "" where none has one;
        utilisation: that part's
    parts_m: what the parts take up together; spare_m: what the steel leaves over them, None for a
        line that does not go up to the steel or where no steel is given
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
        float | None,
        "what a load cell in it shows at the tilt, N; null where the line is slack",
    ]
    level_reading_n: Annotated[
        float | None,
        "the same with the box level; null where the line is slack then, or the forces cannot be "
        "told",
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
        float,
        "weight at rest of its hoist or parts, and of its share of the cable, N",
    ]
    structure_vertical_n: Annotated[
        float,
        "everything on the structure there, times `dynamic_factor`, downwards, N",
    ]
    structure_horizontal_n: Annotated[float, "the same, level, N"]
    on_structure_n: Annotated[float, "both together, N"]
    structure_utilisation: Annotated[
        float | None,
        "that over the capacity stated; null where none is",
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


@dataclass(frozen=True)
class Setting:
    """One tilt that can be set where only single ones can; by a hole of a bar, where it has any.

    hole_u_m: the hole's u; hole_from_rear: which it is, counted from the rear, 1 the rearmost
    """

    tilt_deg: Annotated[float, "degrees"]
    hole_u_m: Annotated[
        float | None,
        "the bar's hole that gives it, m, u; null where steps give it",
    ]
    hole_from_rear: Annotated[int | None, "which hole that is, the rearmost being 1; null likewise"]


@dataclass(frozen=True)
class Loads:
    """The loads of one box at one tilt.

    weight_n, mass_kg, centre_of_gravity_m: of everything that hangs, body axes as hung
    lines: () where the box's place is not given
    difference_m: the first hook's height less the second's (front less rear; carrying less pulled)
    spacing_m: the first hook's x less the second's
    shift_m: how far the carrying steel point is ahead of its hook, that is how far the pull brings
        the box back; None without a steel height, 0 for plumb lines
    total_n: weight of everything at rest: box, extra, hoists or lines, cable
    not_counted: what of these is not stated, so not in the total
    tilt_range_deg: every point in tension; least_share_tilt_range_deg: each with the least share.
        None where there is no such tilt
    settings: where only single tilts can be set, else None
    reachable: whether this tilt is one that the rigging holds
    unreachable: the reason where no tilt is; "" otherwise
    hole_u_m: where a one-point hang's hole would have to be for this very tilt
    doubt_deg: change of the tilt for 10 mm of doubt along u; None where the lines hold the tilt
    pull_elevation_deg: of a pulling line
    wind: push and lean in the gust that is stated; None where none is, or no area is given
    """

    method: Annotated[Method, "`two points`, `one point` or `pull-back`"]
    weight_n: Annotated[float, "of everything that hangs, extra mass included, N"]
    mass_kg: Annotated[float, "the same, kg"]
    centre_of_gravity_m: Annotated[
        Point,
        Kind("[u, w]"),
        "of all that, m, body axes as hung from the acoustic centre",
    ]
    points: Annotated[tuple[PointLoad, ...], "one per pick that bears"]
    lines: Annotated[
        tuple[HangLine, ...],
        "what goes up to the steel: with a bar one line, otherwise one per point",
    ]
    difference_m: Annotated[
        float | None,
        "first hook's height less the second's, m: front less rear, carrying less pulled; null "
        "with one line",
    ]
    spacing_m: Annotated[float | None, "first hook's x less the second's, m; null with one line"]
    shift_m: Annotated[
        float | None,
        "carrying steel point ahead of its hook, m; null for a leaning line without a steel height",
    ]
    total_n: Annotated[float, "weight at rest of box, extra mass, hoists or lines, and cable, N"]
    not_counted: Annotated[
        tuple[str, ...],
        "of `hoists` and `cable`, what is not stated and so not in the total",
    ]
    tilt_range_deg: Annotated[
        Range | None,
        "tilts with every point in tension, degrees; null where there is none",
    ]
    least_share_tilt_range_deg: Annotated[
        Range | None,
        "tilts with the least share on every point, degrees; null where there is none",
    ]
    settings: Annotated[
        tuple[Setting, ...] | None,
        "the single tilts that can be set; null where any tilt of the range can",
    ]
    reachable: Annotated[bool, "whether the rigging holds this tilt"]
    unreachable: Annotated[str, "why no tilt is held; empty otherwise"]
    hole_u_m: Annotated[
        float | None,
        "where a one-point hang's hole would have to be for this very tilt, m, u; null for other "
        "methods",
    ]
    doubt_deg: Annotated[
        float | None,
        "change of the tilt for 10 mm of doubt along u, degrees; null where the lines hold the "
        "tilt",
    ]
    pull_elevation_deg: Annotated[
        float | None,
        "of a pulling line, degrees; null for other methods",
    ]
    dynamic_factor: Annotated[float, "on what hangs, as declared"]
    wll_share: Annotated[float, "share of a marked limit that may be used"]
    wind: Annotated[
        FlownWind | None,
        "a steady wind on what hangs; null without `gust_speed` or `wind_area_m2`",
    ]


def loads_at(
    cabinet: Cabinet | None,
    rigging: Rigging,
    *,
    flipped: bool,
    tilt_deg: float,
    at_m: Point | None = None,
    least_share: float = LEAST_SHARE.value,
    full: float = UTILISATION_FULL.value,
    gust_speed_m_s: float | None = None,
) -> Loads | NotChecked:
    """The loads at a tilt, reachable or not (a negative tension says that a line would go slack).

    least_share: of the weight on any point, for the narrower of the two ranges
    at_m: (x, z) of the acoustic centre, which a pulling line to a fixed point depends on
    full: the utilisation that stops, for the readings at which one does
    A one-point hang with a bar comes down at the hole that gives this very tilt.
    NotChecked says what is missing.  Raises RiggingError where the forces cannot be told apart.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    reach = reach_of(body, rigging, at_m=at_m)
    firm = reach_of(body, rigging, least_share=least_share, at_m=at_m)
    if isinstance(reach, NotChecked) or isinstance(firm, NotChecked):
        return NotChecked("loads not checked: the pulling line depends on where the box is")
    hole_u_m, doubt_deg = _one_point_figures(body, rigging, tilt_deg)
    points = _point_loads(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    lines: tuple[HangLine, ...] = ()
    if at_m is not None:
        lines = _lines(body, rigging, points, tilt_deg=tilt_deg, at_m=at_m, full=full)
    counted = _line_masses_kg(body, rigging)
    two = len(lines) == 2
    shift = None
    if lines and lines[0].steel_x_m is not None:
        shift = lines[0].steel_x_m - lines[0].x_m
    wind = None
    if gust_speed_m_s and rigging.wind_area_m2 is not None:
        wind = wind_on_hung(
            weight_n=body.weight_n,
            area_m2=rigging.wind_area_m2,
            gust_speed_m_s=gust_speed_m_s,
            force_coefficient=rigging.force_coefficient or FORCE_COEFFICIENT,
        )
    return Loads(
        method=rigging.method,
        weight_n=body.weight_n,
        mass_kg=body.mass_kg,
        centre_of_gravity_m=body.centre_of_gravity_m,
        points=points,
        lines=lines,
        difference_m=lines[0].height_m - lines[1].height_m if two else None,
        spacing_m=lines[0].x_m - lines[1].x_m if two else None,
        shift_m=shift,
        total_n=body.weight_n + G_M_S2 * (sum(counted) + (rigging.cable_mass_kg or 0.0)),
        not_counted=_not_counted(body, rigging),
        tilt_range_deg=reach.range_deg,
        least_share_tilt_range_deg=firm.range_deg,
        settings=_settings(reach, rigging),
        reachable=reachable(reach, tilt_deg),
        unreachable=reach.reason,
        hole_u_m=hole_u_m,
        doubt_deg=doubt_deg,
        pull_elevation_deg=pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m),
        dynamic_factor=rigging.dynamic_factor,
        wll_share=rigging.wll_share,
        wind=wind,
    )


def reachable(reach: Reach, tilt_deg: float) -> bool:
    """Whether a tilt can be set; one that is written as a hole's own is printed is that hole's."""
    within_deg = SAME_DEG if reach.tilts_deg is None else PRINTED_DEG
    return bool(reach.allows(tilt_deg, within_deg=within_deg))


def _settings(reach: Reach, rigging: Rigging) -> tuple[Setting, ...] | None:
    if reach.tilts_deg is None:
        return None
    if reach.holes_u_m is None:
        return tuple(Setting(tilt, None, None) for tilt in reach.tilts_deg)
    rear_first = sorted(rigging.holes_u_m)
    return tuple(
        Setting(tilt, hole, 1 + rear_first.index(hole))
        for tilt, hole in zip(reach.tilts_deg, reach.holes_u_m, strict=True)
    )


def _point_loads(
    body: HungBody, rigging: Rigging, *, tilt_deg: float, at_m: Point | None
) -> tuple[PointLoad, ...]:
    beta = pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    found = shares_and_leans(body, rigging, tilt_deg=tilt_deg, beta_deg=beta)
    return tuple(
        _point_load(pick, body, rigging, share=share, lean_deg=lean, doubt=doubt, tilt_deg=tilt_deg)
        for pick, (share, lean, doubt) in zip(body.picks, found, strict=True)
    )


def _point_load(
    pick: Pick,
    body: HungBody,
    rigging: Rigging,
    *,
    share: float,
    lean_deg: float,
    doubt: float,
    tilt_deg: float,
) -> PointLoad:
    tension = share * body.weight_n
    pick_z, centre_z = (x_and_z(at, tilt_deg)[1] for at in (pick.at_m, body.centre_of_gravity_m))
    off_axis = kept = None
    if rigging.fitting is not None:
        off_axis = off_axis_deg(90.0 - lean_deg, rigging.fitting_axis_deg + tilt_deg)
        kept = kept_share(rigging.fitting, off_axis)

    def utilisation(load_n: float, left: float | None = 1.0) -> float | None:
        return _utilisation(load_n, None if pick.wll_n is None else pick.wll_n * (left or 0.0),
                            rigging)  # fmt: skip

    return PointLoad(
        name=pick.name,
        tension_n=tension,
        share=share,
        wll_n=pick.wll_n,
        utilisation=utilisation(tension),
        whole_weight_utilisation=utilisation(max(tension, body.weight_n)),
        lean_deg=lean_deg,
        off_axis_deg=off_axis,
        kept_share=kept,
        kept_utilisation=utilisation(tension, kept),
        above_centre_m=float(pick_z - centre_z),
        doubt_n=doubt * DOUBT_IN_CENTRE.value * body.weight_n,
    )


def _utilisation(load_n: float, limit_n: float | None, rigging: Rigging) -> float | None:
    """A load, with the dynamic factor, over what of a marked limit may be used."""
    return load_n * rigging.dynamic_factor / (limit_n * rigging.wll_share) if limit_n else None


def _one_point_figures(
    body: HungBody, rigging: Rigging, tilt_deg: float
) -> tuple[float | None, float | None]:
    """Where the hole would have to be, and the tilt's doubt; None for other methods."""
    if rigging.method != "one point":
        return None, None
    _, height = one_point_places(body, rigging)
    rise = height - body.centre_of_gravity_m[1]
    if rise <= 0.0:
        return None, None
    hole = float(one_point_hole_m(tilt_deg, height, body.centre_of_gravity_m))
    doubt = one_point_doubt_deg(tilt_deg, rise, doubt_m=DOUBT_IN_CENTRE.value)
    return hole, float(doubt)


# Lines.


def _hooks(body: HungBody, rigging: Rigging, tilt_deg: float) -> tuple[Pick, ...]:
    """What the lines hold: the picks, or the one hole of a bar."""
    if rigging.method != "one point" or not has_bar(rigging):
        return body.picks
    _, w = one_point_places(body, rigging)
    hole = float(one_point_hole_m(tilt_deg, w, body.centre_of_gravity_m))
    return (Pick(name=f"bar at u = {hole:.3f} m", at_m=(hole, w)),)


def _lines(
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
    masses_kg, cable_n = _line_masses_kg(body, rigging), _cable_n(body, rigging)
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


def _line_masses_kg(body: HungBody, rigging: Rigging) -> tuple[float, ...]:
    """Mass of each line's own parts, or of its hoist."""
    return tuple(
        sum(part.mass_kg for part in parts) if parts else (rigging.hoist_mass_kg or 0.0)
        for parts in (rigging.line_of(name) for name in _line_names(body, rigging))
    )


def _cable_n(body: HungBody, rigging: Rigging) -> tuple[float, ...]:
    """Weight of the cable on each line: on the one that carries it, else shared evenly."""
    names = _line_names(body, rigging)
    whole = (rigging.cable_mass_kg or 0.0) * G_M_S2
    if rigging.cable_pick in names:
        return tuple(whole if name == rigging.cable_pick else 0.0 for name in names)
    if rigging.method == "pull-back":
        return (whole, 0.0)  # what pulls a box back carries no cable up
    return (whole / len(names),) * len(names)


def _not_counted(body: HungBody, rigging: Rigging) -> tuple[str, ...]:
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
    """Share and its doubt of each line with the box level; None where that cannot be told."""
    if rigging.method == "one point":
        return ((1.0, 0.0),)
    beta = pulling_elevation_deg(body, rigging, tilt_deg=0.0, at_m=at_m)
    try:
        found = shares_and_leans(body, rigging, tilt_deg=0.0, beta_deg=beta)
    except RiggingError:
        return (None,) * len(body.picks)
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
    reading = _not_slack_n(tension)
    level_reading = None if level is None else _not_slack_n(level[0] * body.weight_n)
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


def _not_slack_n(tension_n: float) -> float | None:
    return None if tension_n < 0.0 else tension_n


def _part_loads(
    declared: tuple[LinePart, ...], rigging: Rigging, *, down_n: float, across_n: float
) -> tuple[PartLoad, ...]:
    """What hangs on each part: the line's pull, and the weight of the parts below it."""
    found = []
    for k, part in enumerate(declared):
        below_n = G_M_S2 * sum(lower.mass_kg for lower in declared[k + 1 :])
        load = float(np.hypot(down_n + below_n, across_n))
        used = _utilisation(load, part.wll_n, rigging)
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


def highest_centre_m(
    cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool, tilt_deg: npt.ArrayLike
) -> FloatArray | None:
    """Highest acoustic centre (tilts…) at which every line still fits under the steel.

    None where no steel is given, or where it cannot be told (no picks; a bar without its centre of
    gravity).  Raises RiggingError for a pick that the cabinet does not have.
    """
    steel = rigging.steel_height_m
    if steel is None or cabinet is None or not cabinet.picks:
        return None
    tilt = np.asarray(tilt_deg, dtype=np.float64)
    if rigging.method == "one point" and has_bar(rigging):
        body = hung_body(cabinet, rigging, flipped=flipped)
        if isinstance(body, NotChecked):
            return None
        _, w = one_point_places(body, rigging)
        hole = one_point_hole_m(tilt, w, body.centre_of_gravity_m)
        rise = hole * np.sin(np.radians(tilt)) + w * np.cos(np.radians(tilt))
        return np.asarray(steel - rise - _taken_m(rigging, body.picks[0].name))
    picks = hung_picks(cabinet, rigging, flipped=flipped)
    if rigging.method == "pull-back":
        picks = picks[:1]
    rises = [x_and_z(pick.at_m, tilt)[1] + _taken_m(rigging, pick.name) for pick in picks]
    return np.asarray(steel - np.max(rises, axis=0))


def _taken_m(rigging: Rigging, pick: str) -> float:
    return sum(part.length_m for part in rigging.line_of(pick))


# Stops.

SLACK = 1e-9
"""At the very end of its range a point bears nothing; less than that is slack."""
NO_ROOM_M = 1e-6


def stopped(
    points: tuple[PointLoad, ...],
    lines: tuple[HangLine, ...],
    *,
    full: float,
    off_axis_most_deg: float,
) -> bool:
    """Whether anything stops: slack, over a limit, sideways on a fitting, under the steel."""
    for point in points:
        if point.share < -SLACK or (point.utilisation or 0.0) > full:
            return True
        off = point.off_axis_deg
        sideways = off is not None and off > off_axis_most_deg
        if sideways and (point.kept_share == 0.0 or (point.kept_utilisation or 0.0) > full):
            return True
    return any(
        (line.structure_utilisation or 0.0) > full
        or (line.utilisation or 0.0) > full
        or (line.spare_m is not None and line.spare_m < -NO_ROOM_M)
        for line in lines
    )


def holds_without_stop(
    cabinet: Cabinet | None,
    rigging: Rigging,
    *,
    flipped: bool,
    at_m: Point,
    full: float,
    off_axis_most_deg: float,
) -> Callable[[float], bool] | None:
    """Whether a tilt (degrees) can be held with nothing that stops, the acoustic centre at at_m.

    None where the loads are not known.  Raises RiggingError as loads_at does for its body.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return None
    reach = reach_of(body, rigging, at_m=at_m)
    if isinstance(reach, NotChecked):
        return None

    def holds(tilt_deg: float) -> bool:
        if not reachable(reach, tilt_deg):
            return False
        try:
            points = _point_loads(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
        except RiggingError:
            return False
        lines = _lines(body, rigging, points, tilt_deg=tilt_deg, at_m=at_m, full=full)
        return not stopped(points, lines, full=full, off_axis_most_deg=off_axis_most_deg)

    return holds

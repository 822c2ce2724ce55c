"""The loads of one box at one tilt: what its points bear, what its lines bring to the steel.

Where the points come down is laid out for the final tilt, not for level: the picks move as the box
tilts.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from ..base.described import Kind
from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet
from ..speaker.headroom import NO_ROOM_M
from ..speaker.rigging import Method, Rigging
from ..speaker.speaker import Range
from .body import HungBody, NotChecked, Point, RiggingError, hung_body, one_point_places
from .limits import DOUBT_IN_CENTRE, LEAST_SHARE, UTILISATION_FULL
from .lines import HangLine, hang_lines, line_masses_kg, not_counted
from .points import PointLoad, point_loads
from .reach import PRINTED_DEG, SAME_DEG, Reach, reach_of
from .statics import one_point_doubt_deg, one_point_hole_m, pulling_elevation_deg
from .wind import FORCE_COEFFICIENT, FlownWind, wind_on_hung


@dataclass(frozen=True)
class Setting:
    """One tilt that can be set where only single ones can; by a hole of a bar, where it has any."""

    tilt_deg: Annotated[float, "degrees"]
    hole_u_m: Annotated[
        float | None, "the bar's hole that gives it, m, u; null where steps give it"
    ]
    hole_from_rear: Annotated[int | None, "which hole that is, the rearmost being 1; null likewise"]


@dataclass(frozen=True)
class Loads:
    """The loads of one box at one tilt; without lines where the box's place is not given."""

    method: Annotated[Method, "`two points`, `one point` or `pull-back`"]
    weight_n: Annotated[float, "of everything that hangs, extra mass included, N"]
    mass_kg: Annotated[float, "the same, kg"]
    centre_of_gravity_m: Annotated[
        Point, Kind("[u, w]"), "of all that, m, body axes as hung from the acoustic centre"
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
        tuple[str, ...], "of `hoists` and `cable`, what is not stated and so not in the total"
    ]
    tilt_range_deg: Annotated[
        Range | None, "tilts with every point in tension, degrees; null where there is none"
    ]
    least_share_tilt_range_deg: Annotated[
        Range | None, "tilts with the least share on every point, degrees; null where there is none"
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
        float | None, "of a pulling line, degrees; null for other methods"
    ]
    dynamic_factor: Annotated[float, "on what hangs, as declared"]
    wll_share: Annotated[float, "share of a marked limit that may be used"]
    wind: Annotated[
        FlownWind | None, "a steady wind on what hangs; null without `gust_speed` or `wind_area_m2`"
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
    points = point_loads(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    lines: tuple[HangLine, ...] = ()
    if at_m is not None:
        lines = hang_lines(body, rigging, points, tilt_deg=tilt_deg, at_m=at_m, full=full)
    counted = line_masses_kg(body, rigging)
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
        not_counted=not_counted(body, rigging),
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


# Stops.

SLACK = 1e-9
"""At the very end of its range a point bears nothing; less than that is slack."""


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
            points = point_loads(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
        except RiggingError:
            return False
        lines = hang_lines(body, rigging, points, tilt_deg=tilt_deg, at_m=at_m, full=full)
        return not stopped(points, lines, full=full, off_axis_most_deg=off_axis_most_deg)

    return holds

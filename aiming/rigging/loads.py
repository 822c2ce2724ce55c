"""What each point bears when the box hangs at its tilt, and what that is of its limit."""

from dataclasses import dataclass

from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import Rigging
from ..speaker.speaker import Range
from .balance import pulling_elevation_deg, shares_and_leans
from .body import HungBody, NotChecked, Point, hung_body, one_point_places, x_and_z
from .limits import DOUBT_IN_CENTRE, LEAST_SHARE, kept_share, off_axis_deg
from .ranges import PRINTED_DEG, SAME_DEG, Reach
from .reach import reach_of
from .statics import one_point_doubt_deg, one_point_hole_m


@dataclass(frozen=True)
class PointLoad:
    """One pick's load at rest.

    tension_n: signed balance, negative is slack; share: of the weight
    utilisation: tension · dynamic factor / (wll · share that may be used); None without a wll
    whole_weight_utilisation: the same with the whole weight on it, as when a hoist runs uneven
    lean_deg: of its line from plumb, positive with the upper end ahead of the pick
    off_axis_deg, kept_share: of the pull from its fitting's axis, and of the limit what that
        leaves; kept_utilisation holds the tension against it.  None where no fitting is declared
    above_centre_m: how far the pick lies above the centre of gravity at the tilt
    doubt_n: change of the tension for 10 mm of doubt in the centre of gravity, worst direction
    """

    name: str
    tension_n: float
    share: float
    utilisation: float | None
    whole_weight_utilisation: float | None
    lean_deg: float
    off_axis_deg: float | None
    kept_share: float | None
    kept_utilisation: float | None
    above_centre_m: float
    doubt_n: float


@dataclass(frozen=True)
class Loads:
    """The loads of one box at one tilt.

    weight_n, mass_kg, centre_of_gravity_m: of everything that hangs, body axes as hung
    tilt_range_deg: every point in tension; least_share_range_deg: each with the least share.
        None where there is no such tilt
    settings: (tilt, hole's u or None) where only single tilts can be set, else None
    reachable: whether this tilt is one that the rigging holds
    unreachable: the reason where no tilt is; "" otherwise
    hole_u_m: where a one-point hang's hole would have to be for this very tilt
    doubt_deg: change of the tilt for 10 mm of doubt along u; None where the lines hold the tilt
    pull_elevation_deg: of a pulling line
    """

    weight_n: float
    mass_kg: float
    centre_of_gravity_m: Point
    points: tuple[PointLoad, ...]
    tilt_deg: float
    tilt_range_deg: Range | None
    least_share_range_deg: Range | None
    settings: tuple[tuple[float, float | None], ...] | None
    reachable: bool
    unreachable: str
    hole_u_m: float | None
    doubt_deg: float | None
    pull_elevation_deg: float | None
    dynamic_factor: float
    wll_share: float


def loads_at(
    cabinet: Cabinet | None,
    rigging: Rigging,
    *,
    flipped: bool,
    tilt_deg: float,
    at_m: Point | None = None,
    least_share: float = LEAST_SHARE.value,
) -> Loads | NotChecked:
    """The loads at a tilt, reachable or not (a negative tension says that a line would go slack).

    least_share: of the weight on any point, for the narrower of the two ranges
    at_m: (x, z) of the acoustic centre, which a pulling line to a fixed point depends on
    NotChecked says what is missing.  Raises RiggingError where the forces cannot be told apart.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    reach = reach_of(body, rigging, at_m=at_m)
    firm = reach_of(body, rigging, least_share=least_share, at_m=at_m)
    if isinstance(reach, NotChecked) or isinstance(firm, NotChecked):
        return NotChecked("loads not checked: the pulling line depends on where the box is")
    beta = pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    settings: tuple[tuple[float, float | None], ...] | None = None
    if reach.tilts_deg is not None:
        holes = reach.holes_u_m or (None,) * len(reach.tilts_deg)
        settings = tuple(zip(reach.tilts_deg, holes, strict=True))
    hole_u_m, doubt_deg = _one_point_figures(body, rigging, tilt_deg)
    return Loads(
        weight_n=body.weight_n,
        mass_kg=body.mass_kg,
        centre_of_gravity_m=body.centre_of_gravity_m,
        points=_point_loads(body, rigging, tilt_deg=tilt_deg, beta_deg=beta),
        tilt_deg=tilt_deg,
        tilt_range_deg=reach.range_deg,
        least_share_range_deg=firm.range_deg,
        settings=settings,
        reachable=_reachable(reach, tilt_deg),
        unreachable=reach.reason,
        hole_u_m=hole_u_m,
        doubt_deg=doubt_deg,
        pull_elevation_deg=beta,
        dynamic_factor=rigging.dynamic_factor,
        wll_share=rigging.wll_share,
    )


def _reachable(reach: Reach, tilt_deg: float) -> bool:
    """A tilt that is written as a hole's own is printed is that hole's."""
    within_deg = SAME_DEG if reach.tilts_deg is None else PRINTED_DEG
    return bool(reach.allows(tilt_deg, within_deg=within_deg))


def _point_loads(
    body: HungBody, rigging: Rigging, *, tilt_deg: float, beta_deg: float | None
) -> tuple[PointLoad, ...]:
    found = shares_and_leans(body, rigging, tilt_deg=tilt_deg, beta_deg=beta_deg)
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
    usable_n = None if pick.wll_n is None else pick.wll_n * rigging.wll_share
    factor = rigging.dynamic_factor

    def utilisation(load_n: float, left: float | None = 1.0) -> float | None:
        return load_n * factor / (usable_n * left) if usable_n and left else None

    return PointLoad(
        name=pick.name,
        tension_n=tension,
        share=share,
        utilisation=utilisation(tension),
        whole_weight_utilisation=utilisation(max(tension, body.weight_n)),
        lean_deg=lean_deg,
        off_axis_deg=off_axis,
        kept_share=kept,
        kept_utilisation=utilisation(tension, kept),
        above_centre_m=float(pick_z - centre_z),
        doubt_n=doubt * DOUBT_IN_CENTRE.value * body.weight_n,
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

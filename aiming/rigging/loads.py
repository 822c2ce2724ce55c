"""What each point bears when the box hangs at its tilt, and what that is of its limit."""

from dataclasses import dataclass

import numpy as np

from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import Rigging
from ..speaker.speaker import Range
from .body import HungBody, NotChecked, Point, RiggingError, has_bar, hung_body, x_and_z
from .limits import DOUBT_IN_CENTRE, LEAST_SHARE, kept_share, off_axis_deg
from .reach import reach_of
from .statics import (
    one_point_doubt_deg,
    one_point_hole_m,
    pull_back_shares,
    pull_elevation_deg,
    two_point_shares,
)


@dataclass(frozen=True)
class PointLoad:
    """One pick's load at rest.

    tension_n: signed balance, negative is slack; share: of the weight
    utilisation: tension · dynamic factor / (wll · share that may be used); None without a wll
    whole_weight_utilisation: the same with the whole weight on it, as when a hoist runs uneven
    lean_deg: of its line from plumb, positive with the upper end ahead of the pick
    off_axis_deg, kept_share: of the pull from its fitting's axis, and of the limit what that
        leaves; kept_utilisation holds the tension against it.  None where no fitting is declared
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
    doubt_n: float


@dataclass(frozen=True)
class Loads:
    """The loads of one box at one tilt.

    weight_n, mass_kg, centre_of_gravity_m: of everything that hangs, body axes as hung
    tilt_range_deg: every point in tension; least_share_range_deg: each with 10 % of the weight.
        None where there is no such tilt, or where it could not be known
    settings: (tilt, hole's u or None) where only single tilts can be set, else None
    reachable: whether this tilt is one that the rigging holds; None where that is not known
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
    reachable: bool | None
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
) -> Loads | NotChecked:
    """The loads at a tilt, reachable or not (a negative tension says that a line would go slack).

    at_m: (x, z) of the acoustic centre, which a pulling line to a fixed point depends on
    NotChecked says what is missing.  Raises RiggingError where the forces cannot be told apart.
    """
    body = hung_body(cabinet, rigging, flipped=flipped)
    if isinstance(body, NotChecked):
        return body
    beta = pulling_elevation_deg(body, rigging, tilt_deg=tilt_deg, at_m=at_m)
    if rigging.method == "pull-back" and beta is None:
        return NotChecked("loads not checked: the pulling line depends on where the box is")
    reach = reach_of(body, rigging, at_m=at_m)
    firm = reach_of(body, rigging, least_share=LEAST_SHARE.value, at_m=at_m)
    known = None if isinstance(reach, NotChecked) else reach
    settings: tuple[tuple[float, float | None], ...] | None = None
    if known is not None and known.tilts_deg is not None:
        holes = known.holes_u_m or (None,) * len(known.tilts_deg)
        settings = tuple(zip(known.tilts_deg, holes, strict=True))
    hole_u_m, doubt_deg = _one_point_figures(body, rigging, tilt_deg)
    return Loads(
        weight_n=body.weight_n,
        mass_kg=body.mass_kg,
        centre_of_gravity_m=body.centre_of_gravity_m,
        points=_point_loads(body, rigging, tilt_deg=tilt_deg, beta_deg=beta),
        tilt_deg=tilt_deg,
        tilt_range_deg=None if known is None else known.range_deg,
        least_share_range_deg=None if isinstance(firm, NotChecked) else firm.range_deg,
        settings=settings,
        reachable=None if known is None else bool(known.allows(tilt_deg)),
        unreachable="" if known is None else known.reason,
        hole_u_m=hole_u_m,
        doubt_deg=doubt_deg,
        pull_elevation_deg=beta,
        dynamic_factor=rigging.dynamic_factor,
        wll_share=rigging.wll_share,
    )


def pulling_elevation_deg(
    body: HungBody, rigging: Rigging, *, tilt_deg: float, at_m: Point | None
) -> float | None:
    """Elevation of the pulling line, declared or towards its fixed point; None where unknown."""
    if rigging.method != "pull-back" or rigging.pull_elevation_deg is not None:
        return rigging.pull_elevation_deg if rigging.method == "pull-back" else None
    if at_m is None or rigging.pulling_point_m is None:
        return None
    return float(
        pull_elevation_deg(
            body.picks[1].at_m,
            tilt_deg=tilt_deg,
            at_m=at_m,
            pulling_point_m=rigging.pulling_point_m,
        )
    )


def shares_and_leans(
    body: HungBody, rigging: Rigging, *, tilt_deg: float, beta_deg: float | None
) -> tuple[tuple[float, float, float], ...]:
    """Per pick its share of the weight, its line's lean (degrees) and the share's doubt per metre.

    The doubt is the worst over all directions in which the centre of gravity may be off.
    Raises RiggingError where one pick lies straight above the other, or the pull has no arm.
    """
    if len(body.picks) == 1:
        return ((1.0, 0.0, 0.0),)
    first, second = (pick.at_m for pick in body.picks)
    centre = body.centre_of_gravity_m
    if beta_deg is None:
        apart = float(x_and_z(first, np.float64(tilt_deg))[0])
        apart -= float(x_and_z(second, np.float64(tilt_deg))[0])
        shares = two_point_shares(first, second, centre, tilt_deg=tilt_deg)
        if not abs(apart) > 1e-9:
            raise RiggingError(
                f"at a tilt of {tilt_deg:g}° one pick lies straight above the other: the forces "
                "in the two lines cannot be told apart"
            )
        doubt = 1.0 / abs(apart)
        return ((float(shares[0]), 0.0, doubt), (float(shares[1]), 0.0, doubt))
    carried, pull, lean = pull_back_shares(
        first, second, centre, tilt_deg=tilt_deg, elevation_deg=beta_deg
    )
    if not np.isfinite(pull):
        raise RiggingError(
            f"at a tilt of {tilt_deg:g}° the pulling line runs through the carrying pick: it "
            "cannot turn the box"
        )
    beta = np.radians(beta_deg)
    arm = float(_arm_m(body, tilt_deg, beta_deg))
    # d|carried|/dpull = (pull − sin β)/|carried|
    slope = abs(float((pull - np.sin(beta)) / carried)) if carried > 0.0 else 1.0
    return (
        (float(carried), float(lean), slope / abs(arm)),
        (float(pull), _pull_lean_deg(beta_deg), 1.0 / abs(arm)),
    )


def _pull_lean_deg(beta_deg: float) -> float:
    """A pulling line's lean from plumb: 90° up is 0, level rearwards is −90."""
    return beta_deg - 90.0


def _arm_m(body: HungBody, tilt_deg: float, beta_deg: float) -> float:
    """Lever arm of the pulling line about the carrying pick."""
    tilt, beta = np.float64(tilt_deg), np.radians(beta_deg)
    (x_h, z_h), (x_p, z_p) = (x_and_z(pick.at_m, tilt) for pick in body.picks)
    return float((x_p - x_h) * np.sin(beta) + (z_p - z_h) * np.cos(beta))


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
        doubt_n=doubt * DOUBT_IN_CENTRE.value * body.weight_n,
    )


def _one_point_figures(
    body: HungBody, rigging: Rigging, tilt_deg: float
) -> tuple[float | None, float | None]:
    """Where the hole would have to be, and the tilt's doubt; None for other methods."""
    if rigging.method != "one point":
        return None, None
    height = rigging.bar_w_m if has_bar(rigging) else None
    height = body.picks[0].at_m[1] if height is None else height
    rise = height - body.centre_of_gravity_m[1]
    if rise <= 0.0:
        return None, None
    hole = float(one_point_hole_m(tilt_deg, height, body.centre_of_gravity_m))
    doubt = one_point_doubt_deg(tilt_deg, rise, doubt_m=DOUBT_IN_CENTRE.value)
    return hole, float(doubt)

"""What each point of the box bears at its tilt.

Points are the picks of the box; what goes up from them are lines (lines.py).
"""

from dataclasses import dataclass
from typing import Annotated

from ..speaker.cabinet import Pick
from ..speaker.rigging import Rigging
from .body import HungBody, Point, x_and_z
from .limits import DOUBT_IN_CENTRE, kept_share, off_axis_deg
from .statics import pulling_elevation_deg, shares_and_leans


@dataclass(frozen=True)
class PointLoad:
    """One pick's load at rest."""

    name: Annotated[str, "the pick's"]
    tension_n: Annotated[
        float, "signed balance at rest, N; negative would push: the line is slack, which is a stop"
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
        float, "how far the pick lies above the centre of gravity at the tilt, m"
    ]
    doubt_n: Annotated[
        float,
        "change of the tension for 10 mm of doubt in the centre of gravity, worst direction, N",
    ]


def point_loads(
    body: HungBody, rigging: Rigging, *, tilt_deg: float, at_m: Point | None
) -> tuple[PointLoad, ...]:
    """Each pick's load, in the body's order.  Raises RiggingError as shares_and_leans does."""
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
        return utilisation_of(load_n, None if pick.wll_n is None else pick.wll_n * (left or 0.0),
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


def utilisation_of(load_n: float, limit_n: float | None, rigging: Rigging) -> float | None:
    """A load, with the dynamic factor, over what of a marked limit may be used."""
    return load_n * rigging.dynamic_factor / (limit_n * rigging.wll_share) if limit_n else None

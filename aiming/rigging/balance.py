"""Each line's share of the weight, its lean and how much it doubts, for whichever method it is."""

import numpy as np

from ..speaker.rigging import Rigging
from .body import HungBody, Point, RiggingError, x_and_z
from .statics import pull_back_shares, pull_elevation_deg, two_point_shares

NO_ARM_M = 1e-9
NO_SHARE = 1e-9
"""So little of the weight on the carrying line that its direction is lost in rounding."""


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
        apart = float(x_and_z(first, tilt_deg)[0])
        apart -= float(x_and_z(second, tilt_deg)[0])
        if not abs(apart) > NO_ARM_M:
            raise RiggingError(
                f"at a tilt of {tilt_deg:g}° one pick lies straight above the other: the forces "
                "in the two lines cannot be told apart"
            )
        shares = two_point_shares(first, second, centre, tilt_deg=tilt_deg)
        doubt = 1.0 / abs(apart)
        return ((float(shares[0]), 0.0, doubt), (float(shares[1]), 0.0, doubt))
    arm = _arm_m(body, tilt_deg, beta_deg)
    if not abs(arm) > NO_ARM_M:
        raise RiggingError(
            f"at a tilt of {tilt_deg:g}° the pulling line runs through the carrying pick: it "
            "cannot turn the box"
        )
    carried, pull, lean = pull_back_shares(
        first, second, centre, tilt_deg=tilt_deg, elevation_deg=beta_deg
    )
    beta = np.radians(beta_deg)
    # d|carried|/dpull = (pull − sin β)/|carried|
    slope = abs(float((pull - np.sin(beta)) / carried)) if carried > NO_SHARE else 1.0
    return (
        (float(carried), float(lean), slope / abs(arm)),
        (float(pull), _pull_lean_deg(beta_deg), 1.0 / abs(arm)),
    )


def _pull_lean_deg(beta_deg: float) -> float:
    """A pulling line's lean from plumb: 90° up is 0, level rearwards is −90."""
    return beta_deg - 90.0


def _arm_m(body: HungBody, tilt_deg: float, beta_deg: float) -> float:
    """Lever arm of the pulling line about the carrying pick."""
    beta = np.radians(beta_deg)
    (x_h, z_h), (x_p, z_p) = (x_and_z(pick.at_m, tilt_deg) for pick in body.picks)
    return float((x_p - x_h) * np.sin(beta) + (z_p - z_h) * np.cos(beta))

"""Equilibrium in the section, as shares of the weight, over any array of tilts.

    steel ───┬───────────┬────           two points: both lines hang straight
             │ T_R       │ T_F
          R  o-----------o  F            ΣZ:  T_F + T_R = W
             |     G     |               ΣM about R:  T_F·(x_F − x_R) = W·(x_G − x_R)
             +-----+-----+
                   ↓ W

x, z are the points after the tilt τ (positive up).  Every formula here is held by tests to the
solution that derivation.py finds from the equations of equilibrium.
"""

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray
from ..speaker.rigging import Rigging
from .body import HungBody, Point, RiggingError, x_and_z

NO_ARM_M = 1e-9
NO_SHARE = 1e-9
"""So little of the weight on the carrying line that its direction is lost in rounding."""


def two_point_shares(
    front: Point, rear: Point, centre: Point, *, tilt_deg: npt.ArrayLike
) -> FloatArray:
    """Shares of the weight (tilts…, 2) on two straight lines, front and rear; negative is slack.

    Infinite or NaN where the tilt brings one pick straight above the other.
    """
    tilt = np.asarray(tilt_deg, dtype=np.float64)
    x_front, x_rear, x_centre = (x_and_z(at, tilt)[0] for at in (front, rear, centre))
    with np.errstate(divide="ignore", invalid="ignore"):
        on_front = (x_centre - x_rear) / (x_front - x_rear)
        on_rear = (x_front - x_centre) / (x_front - x_rear)
    return np.stack([on_front, on_rear], axis=-1)


def one_point_tilt_deg(hole_u_m: npt.ArrayLike, hole_w_m: float, centre: Point) -> FloatArray:
    """Tilt (holes…) at which a body hangs at rest from one point: the centre plumb below it.

    tan τ = −(u_G − u_H)/h with h = w_H − w_G > 0: a centre ahead of the hole pulls the nose down.
    """
    ahead = centre[0] - np.asarray(hole_u_m, dtype=np.float64)
    return np.asarray(-np.degrees(np.arctan2(ahead, hole_w_m - centre[1])))


def one_point_hole_m(tilt_deg: npt.ArrayLike, hole_w_m: float, centre: Point) -> FloatArray:
    """u (tilts…) where the hole would have to be for the body to rest at this tilt."""
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
    return np.asarray(centre[0] + (hole_w_m - centre[1]) * np.tan(tilt))


def one_point_doubt_deg(tilt_deg: npt.ArrayLike, rise_m: float, *, doubt_m: float) -> FloatArray:
    """Change of the rest tilt (tilts…) when the centre of gravity lies doubt_m further ahead.

    The slope of one_point_tilt_deg: dτ/du_G = −cos²τ/h; given as a size, degrees.
    """
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
    return np.asarray(np.degrees(doubt_m * np.cos(tilt) ** 2 / rise_m))


def pull_back_shares(
    carrying: Point,
    pulled: Point,
    centre: Point,
    *,
    tilt_deg: npt.ArrayLike,
    elevation_deg: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares (tilts…) along the carrying line and the pulling line, and the carrying line's lean.

    elevation_deg: of the pulling line, which leaves the pulled pick rearwards: its unit force is
        (−cos β, sin β)
    The lean is in degrees from plumb, positive where the line's upper end is ahead of the pick.
    A negative pull means that the line would have to push.

    ΣM about H:  T·[(x_P − x_H)·sin β + (z_P − z_H)·cos β] = W·(x_G − x_H)
    ΣX, ΣZ:      the carrying line bears (T·cos β, W − T·sin β)
    """
    tilt = np.asarray(tilt_deg, dtype=np.float64)
    beta = np.radians(np.asarray(elevation_deg, dtype=np.float64))
    (x_h, z_h), (x_p, z_p) = x_and_z(carrying, tilt), x_and_z(pulled, tilt)
    arm = (x_p - x_h) * np.sin(beta) + (z_p - z_h) * np.cos(beta)
    with np.errstate(divide="ignore", invalid="ignore"):
        pull = np.asarray((x_and_z(centre, tilt)[0] - x_h) / arm)
        across, up = pull * np.cos(beta), 1.0 - pull * np.sin(beta)
        lean = np.degrees(np.arctan2(across, up))
    return np.asarray(np.hypot(across, up)), pull, np.asarray(lean)


def pull_elevation_deg(
    pulled: Point, *, tilt_deg: npt.ArrayLike, at_m: Point, pulling_point_m: Point
) -> FloatArray:
    """Elevation β (tilts…) of the line from the pulled pick to a point (x, z) from the datum.

    at_m: (x, z) of the acoustic centre.  90° is straight up, 0° level rearwards.
    """
    x, z = x_and_z(pulled, np.asarray(tilt_deg, dtype=np.float64))
    rearwards = at_m[0] + x - pulling_point_m[0]
    upwards = pulling_point_m[1] - at_m[1] - z
    return np.asarray(np.degrees(np.arctan2(upwards, rearwards)))


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
        apart = float(x_and_z(first, tilt_deg)[0] - x_and_z(second, tilt_deg)[0])
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
    # The pulling line's lean from plumb: 90° up is 0, level rearwards is −90.
    return (
        (float(carried), float(lean), slope / abs(arm)),
        (float(pull), beta_deg - 90.0, 1.0 / abs(arm)),
    )


def _arm_m(body: HungBody, tilt_deg: float, beta_deg: float) -> float:
    """Lever arm of the pulling line about the carrying pick."""
    beta = np.radians(beta_deg)
    (x_h, z_h), (x_p, z_p) = (x_and_z(pick.at_m, tilt_deg) for pick in body.picks)
    return float((x_p - x_h) * np.sin(beta) + (z_p - z_h) * np.cos(beta))

"""What hangs: one rigid body of cabinet, frame and second box, in body axes as hung.

Statics know no "flipped": a flipped cabinet is turned here, once (w → −w), and everything after
works on the body as it hangs.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray
from ..base.errors import AimingError
from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet, Pick
from ..speaker.rigging import Rigging, Underhung

COINCIDE_M = 1e-6

Point = tuple[float, float]


class RiggingError(AimingError):
    """A rigging whose forces cannot be found, with the reason."""


@dataclass(frozen=True)
class NotChecked:
    """Why nothing was computed: what is missing is never assumed."""

    reason: str


@dataclass(frozen=True)
class HungBody:
    """The rigid body and its picks, body axes as hung.

    mass_kg, centre_of_gravity_m: of everything together
    picks: those that the rigging uses, turned as hung: front then rear, or carrying then pulled
    """

    mass_kg: float
    centre_of_gravity_m: Point
    picks: tuple[Pick, ...]

    @property
    def weight_n(self) -> float:
        return self.mass_kg * G_M_S2


def combined(parts: tuple[tuple[float, Point], ...]) -> tuple[float, Point]:
    """Mass (kg) and centre of gravity (u, w) of parts given by theirs."""
    mass_kg = np.array([part[0] for part in parts])
    at_m = np.array([part[1] for part in parts])
    u, w = mass_kg @ at_m / mass_kg.sum()
    return float(mass_kg.sum()), (float(u), float(w))


def underhung_at_m(below: Underhung) -> Point:
    """Centre of gravity (u, w) of the second box in the first one's axes: turned by its splay.

    The second box points `splay` further down, so its own axes are turned nose-down about the
    joint.
    """
    splay = np.radians(below.splay_deg)
    u, w = below.centre_of_gravity_m
    return (
        float(below.joint_m[0] + u * np.cos(splay) + w * np.sin(splay)),
        float(below.joint_m[1] - u * np.sin(splay) + w * np.cos(splay)),
    )


def hung_body(cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool) -> HungBody | NotChecked:
    """The body that hangs, or what is missing to know it.

    Raises RiggingError where the rigging names no pick, or one that the cabinet does not have.
    """
    missing = []
    if cabinet is None or cabinet.mass_kg is None:
        missing.append("mass")
    if cabinet is None or cabinet.centre_of_gravity_m is None:
        missing.append("centre of gravity")
    if cabinet is None or not cabinet.picks:
        missing.append("picks")
    if cabinet is None or missing:
        return NotChecked(f"loads not checked: the cabinet's {' and '.join(missing)} not given")
    mass_kg, centre = combined(
        tuple((mass, at) for _, mass, at in masses(cabinet, rigging, flipped=flipped))
    )
    picks = hung_picks(cabinet, rigging, flipped=flipped)
    _refuse_unknown_forces(rigging, picks)
    return HungBody(mass_kg=mass_kg, centre_of_gravity_m=centre, picks=picks)


def hung_picks(cabinet: Cabinet, rigging: Rigging, *, flipped: bool) -> tuple[Pick, ...]:
    """The picks that the rigging uses, as hung: front then rear, or carrying then pulled.

    Raises RiggingError for one that the cabinet does not have.
    """
    picks = tuple(_named(cabinet, name) for name in rigging.picks)
    if flipped:
        picks = tuple(replace(pick, at_m=(pick.at_m[0], -pick.at_m[1])) for pick in picks)
    return picks if rigging.method == "pull-back" else front_to_rear(picks)


def masses(
    cabinet: Cabinet | None, rigging: Rigging, *, flipped: bool
) -> tuple[tuple[str, float, Point], ...]:
    """Name, mass (kg) and centre of gravity (u, w as hung) of each part that hangs.

    Empty where the cabinet's own mass or centre of gravity is not known.
    """
    if cabinet is None or cabinet.mass_kg is None or cabinet.centre_of_gravity_m is None:
        return ()
    u, w = cabinet.centre_of_gravity_m
    own = (u, -w if flipped else w)
    parts = [("cabinet", cabinet.mass_kg, own)]
    if rigging.extra_mass_kg > 0.0:
        parts.append(("extra", rigging.extra_mass_kg, rigging.extra_at_m or own))
    if rigging.below is not None:
        parts.append(("second box", rigging.below.mass_kg, underhung_at_m(rigging.below)))
    return tuple(parts)


def front_to_rear(picks: tuple[Pick, ...]) -> tuple[Pick, ...]:
    """Picks as hung from the foremost to the rearmost, the upper first where they are level."""
    return tuple(sorted(picks, key=lambda pick: (-pick.at_m[0], -pick.at_m[1])))


def _named(cabinet: Cabinet, name: str) -> Pick:
    try:
        return cabinet.pick(name)
    except KeyError:
        known = ", ".join(pick.name for pick in cabinet.picks)
        raise RiggingError(f"no pick is called {name!r}; the cabinet has {known}") from None


def _refuse_unknown_forces(rigging: Rigging, picks: tuple[Pick, ...]) -> None:
    """Statics give three equations in a plane; vertical lines leave two of them.

    Raises RiggingError where the forces are more than that, or not enough to hold the tilt.
    """
    named = f"picks = [{', '.join(repr(pick.name) for pick in picks)}]"
    if not picks:
        raise RiggingError(f"the rigging ({rigging.method}) names no pick")
    if len(picks) > 2:
        raise RiggingError(
            f"{rigging.method} with {named}: {len(picks)} unknown forces, but statics give two "
            "equations for lines that hang straight; how they share the load depends on stretch "
            "and length, so it cannot be computed; name two picks"
        )
    if rigging.method != "one point" and len(picks) == 1:
        raise RiggingError(f"{rigging.method} needs two picks; found {named}")
    if len(picks) == 2 and distance_m(picks[0].at_m, picks[1].at_m) < COINCIDE_M:
        raise RiggingError(
            f"{named} lie on one point: the two forces cannot be told apart, and nothing holds "
            "the tilt; give two different places"
        )
    if rigging.method == "one point":
        _refuse_bar(rigging, picks, named)
    if rigging.method == "pull-back" and (
        (rigging.pull_elevation_deg is None) == (rigging.pulling_point_m is None)
    ):
        raise RiggingError(
            "pull-back needs the pulling line's elevation or its far end, one of them"
        )


def _refuse_bar(rigging: Rigging, picks: tuple[Pick, ...], named: str) -> None:
    if rigging.holes_u_m and rigging.bar_u_m is not None:
        raise RiggingError("a pick bar has holes or is continuous; found both")
    if has_bar(rigging) and rigging.bar_w_m is None:
        raise RiggingError("a pick bar needs its height w; found holes or a bar without one")
    if len(picks) == 2 and not has_bar(rigging):
        raise RiggingError(
            f"one point with {named} and no pick bar: give the bar's holes, or one pick that hangs"
        )


def has_bar(rigging: Rigging) -> bool:
    """Whether a one-point hang goes by a pick bar, not by the pick itself."""
    return bool(rigging.holes_u_m) or rigging.bar_u_m is not None


def one_point_places(body: HungBody, rigging: Rigging) -> tuple[tuple[float, ...], float]:
    """What a one-point hang can go by: u of the bar's holes or ends, or of the pick; their w."""
    places = rigging.holes_u_m or rigging.bar_u_m
    if places is None or rigging.bar_w_m is None:
        u, w = body.picks[0].at_m
        return (u,), w
    return places, rigging.bar_w_m


def distance_m(one: Point, other: Point) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def x_and_z(point: Point, tilt_deg: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """x, z (tilts…) of a body point as hung, relative to the acoustic centre."""
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
    u, w = point
    return np.asarray(u * np.cos(tilt) - w * np.sin(tilt)), np.asarray(
        u * np.sin(tilt) + w * np.cos(tilt)
    )

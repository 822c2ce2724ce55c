"""The cabinet: a body in the section plane, and where its points are when it hangs.

Body axes: u forward along the axis, w up, origin the acoustic centre, as built (upright).

    w                      z    u'
    |                      |   /        tilt τ positive up:
    +----+                 |  /         x = u·cos τ − w·sin τ
    |  o-|---- u           | /  τ       z = u·sin τ + w·cos τ
    +----+                 +------ x    flipped: w → −w first
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray


@dataclass(frozen=True)
class Pick:
    """A rigging point of the cabinet.

    at_m: (u, w) body axes, as built
    wll_n: marked working load limit in newtons, None where it is not known
    """

    name: str
    at_m: tuple[float, float]
    wll_n: float | None = None


@dataclass(frozen=True, eq=False)
class Cabinet:
    """What is known of the body; None means unknown, never assumed.

    outline_m: (n, 2) u, w, a simple polygon, or None
    centre_of_gravity_m: (u, w)
    laser_at_m: (u, w) where a laser sits that points along the axis
    reference_face_deg: the face that an inclinometer stands on, relative to the axis
    assumed: what was assumed for want of a drawing: "acoustic centre", "centre of gravity"
    """

    mass_kg: float | None = None
    outline_m: FloatArray | None = None
    centre_of_gravity_m: tuple[float, float] | None = None
    picks: tuple[Pick, ...] = ()
    laser_at_m: tuple[float, float] | None = None
    reference_face_deg: float = 0.0
    assumed: tuple[str, ...] = ()

    def pick(self, name: str) -> Pick:
        """The pick of this name; KeyError where there is none."""
        for pick in self.picks:
            if pick.name == name:
                return pick
        raise KeyError(name)

    @property
    def height_m(self) -> float | None:
        """Extent of the outline along w, which bounds the far field."""
        return None if self.outline_m is None else float(np.ptp(self.outline_m[:, 1]))

    @property
    def radius_m(self) -> float:
        """Largest distance of the outline from the acoustic centre; 0 without an outline."""
        if self.outline_m is None:
            return 0.0
        return float(np.hypot(self.outline_m[:, 0], self.outline_m[:, 1]).max())


def turned_m(
    points_m: npt.ArrayLike, *, tilt_deg: npt.ArrayLike, flipped: bool = False
) -> FloatArray:
    """Body points (…, 2) as they hang, relative to the acoustic centre: (tilts…, …, 2) x, z."""
    points = np.asarray(points_m, dtype=np.float64)
    u, w = points[..., 0], -points[..., 1] if flipped else points[..., 1]
    tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
    tilt = tilt.reshape(tilt.shape + (1,) * u.ndim)
    x = u * np.cos(tilt) - w * np.sin(tilt)
    z = u * np.sin(tilt) + w * np.cos(tilt)
    return np.stack([x, z], axis=-1)


def drop_m(cabinet: Cabinet | None, *, tilt_deg: npt.ArrayLike, flipped: bool) -> FloatArray:
    """How far the lowest point of the outline lies below the acoustic centre (tilts…).

    0 without an outline: then the trim is the height.
    """
    tilt = np.asarray(tilt_deg, dtype=np.float64)
    if cabinet is None or cabinet.outline_m is None:
        return np.zeros(tilt.shape)
    return np.asarray(-turned_m(cabinet.outline_m, tilt_deg=tilt, flipped=flipped)[..., 1].min(-1))

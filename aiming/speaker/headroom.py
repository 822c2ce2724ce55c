"""How high the acoustic centre may be for the lines to fit under the steel, over boxes of tilts.

A hook rises above the acoustic centre by u·sin τ + w·cos τ; one that keeps the centre of gravity
(u, w) plumb under a bar's hole by p/cos τ more.  Both may be read off a tangent: the first bends
away from it by at most ½·√(u² + w²)·Δτ², the second only upwards, being convex.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray

NO_ROOM_M = 1e-6
"""Lines that are too long by less than this fit."""
FAR_M = 1e3
"""How far below it counts what hangs under no steel."""
STEEP = np.radians(89.9)
"""Beyond this the tangent of 1/cos τ is not read; 1 is below it anywhere."""


@dataclass(frozen=True)
class Hanger:
    """One line: its hook, and the parts above it.

    u_m, w_m: the hook, body axes as hung; with plumb_m the centre of gravity under it
    plumb_m: how far the hook lies over that centre, along w; 0 for a hook fixed to the box
    parts: name and length of what the line is made of
    """

    u_m: float
    w_m: float
    plumb_m: float = 0.0
    parts: tuple[tuple[str, float], ...] = ()

    @property
    def taken_m(self) -> float:
        """What the parts take up together, at the least."""
        return sum(length for _, length in self.parts)

    def rise_m(self, tilt: FloatArray) -> FloatArray:
        """(tilts…) top of the line over the acoustic centre; tilt in radians."""
        cos = np.cos(tilt)
        over = self.plumb_m / np.maximum(cos, 1e-12) if self.plumb_m else 0.0
        return np.asarray(self.u_m * np.sin(tilt) + self.w_m * cos + over + self.taken_m)

    def tangent_m(self, tilt: FloatArray, swing: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(b,) value and slope of a line below rise_m within ±swing (rad) of each tilt (b,)."""
        fixed = replace(self, plumb_m=0.0)
        slope = self.u_m * np.cos(tilt) - self.w_m * np.sin(tilt)
        value = fixed.rise_m(tilt) - 0.5 * np.hypot(self.u_m, self.w_m) * swing**2
        if self.plumb_m:
            steep = np.abs(tilt) + swing > STEEP
            cos = np.where(steep, 1.0, np.cos(tilt))
            value = value + self.plumb_m / cos
            slope = slope + np.where(steep, 0.0, self.plumb_m * np.sin(tilt) / cos**2)
        return np.asarray(value), np.asarray(slope)


@dataclass(frozen=True)
class Headroom:
    """The steel, and every line that goes up to it."""

    steel_m: float
    hangers: tuple[Hanger, ...]

    def highest_m(self, tilt_deg: npt.ArrayLike) -> FloatArray:
        """(tilts…) highest acoustic centre at which every line fits."""
        tilt = np.radians(np.asarray(tilt_deg, dtype=np.float64))
        rises = [one.rise_m(tilt) for one in self.hangers]
        return np.asarray(self.steel_m - np.max(rises, axis=0))

    def raised(self, by_m: float) -> "Headroom":
        """With the steel that much higher."""
        return replace(self, steel_m=self.steel_m + by_m)

    def parts_of(self, length_m: float) -> tuple[str, ...]:
        """Parts, in a line each, whose length alone is this or more."""
        long = (n for one in self.hangers for n, of in one.parts if of >= length_m)
        return tuple(dict.fromkeys(long))

    def over_m(
        self, tilt: FloatArray, tilt_gen: FloatArray, height: FloatArray, height_gen: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Lower estimate of how much too high boxes (b,) are: values and generators (g, b).

        tilt (rad) and height are affine forms; of the lines the one that is longest at the centre
        is read.
        """
        swing = np.abs(tilt_gen).sum(axis=0)
        tangents = [one.tangent_m(tilt, swing) for one in self.hangers]
        values, slopes = (np.stack(of) for of in zip(*tangents, strict=True))
        longest = np.argmax(values, axis=0)[np.newaxis]
        value = np.take_along_axis(values, longest, axis=0)[0]
        slope = np.take_along_axis(slopes, longest, axis=0)[0]
        return height + value - self.steel_m, height_gen + slope * tilt_gen

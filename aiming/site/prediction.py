"""What the plan predicts at the microphones, and what it would be if something hung otherwise."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim.problem import Problem
from ..base.arrays import FloatArray, frozen
from ..speaker.pattern import Pattern
from ..speaker.speaker import Placement


@dataclass(frozen=True)
class Departure:
    """What hangs, minus what was planned.

    tilt_deg, height_m: hung minus planned; pattern_scale: how much wider the pattern is than its
    data, as a factor on every off-axis angle
    """

    tilt_deg: float = 0.0
    height_m: float = 0.0
    pattern_scale: float = 1.0

    def of(self, plan: Placement) -> Placement:
        """Where the loudspeaker then hangs."""
        return replace(
            plan,
            tilt_deg=float(plan.tilt_deg) + self.tilt_deg,
            height_m=float(plan.height_m) + self.height_m,
        )


@dataclass(frozen=True, eq=False)
class Scene:
    """One loudspeaker's plan, seen from listening points.

    problem: its rows are the points, its pattern is whole; plan: the planned placement
    """

    problem: Problem
    plan: Placement

    def levels_db(self, departure: Departure) -> FloatArray:
        """(bands, n) at the points, without gains."""
        return self._with(departure.pattern_scale).levels_db(departure.of(self.plan))

    def at_tilts_db(self, tilt_deg: FloatArray, departure: Departure) -> FloatArray:
        """(t, bands, n) for departures (t,) of the tilt, the others as given."""
        there = departure.of(self.plan)
        turned = Placement(
            x_m=np.full(len(tilt_deg), float(there.x_m)),
            height_m=np.full(len(tilt_deg), float(there.height_m)),
            tilt_deg=float(self.plan.tilt_deg) + tilt_deg,
            flipped=there.flipped,
        )
        return self._with(departure.pattern_scale).levels_db(turned)

    def _with(self, scale: float) -> Problem:
        if scale == 1.0:
            return self.problem
        return replace(self.problem, pattern=scaled(self.problem.pattern, scale))


def whole(pattern: Pattern) -> Pattern:
    """The pattern with its holes filled in and its ends held to ±180°.

    Only for trying tilts: a microphone where the plan's own level is unknown is left out anyway.
    """
    angle = pattern.angle_deg
    inner = angle[(angle > -180.0) & (angle < 180.0)]
    wanted = np.concatenate([[-180.0], inner, [180.0]])
    level = []
    for table in pattern.level_db:
        has = np.isfinite(table)
        level.append(np.interp(wanted, angle[has], table[has]))
    return Pattern(frozen(wanted), pattern.band_hz, frozen(level), pattern.reference)


def scaled(pattern: Pattern, scale: float) -> Pattern:
    """A whole pattern with every off-axis angle times scale; held where it then ends short."""
    angle = pattern.angle_deg * scale
    wanted = np.concatenate([[-180.0], angle[np.abs(angle) < 180.0], [180.0]])
    return Pattern(
        angle_deg=frozen(wanted),
        band_hz=pattern.band_hz,
        level_db=frozen([np.interp(wanted, angle, table) for table in pattern.level_db]),
        reference=f"{pattern.reference}, {scale:.3g} times as wide",
    )

"""What the plan predicts at the microphones, and what it would be if something hung otherwise."""

from dataclasses import dataclass, replace

import numpy as np

from ..aim.problem import Problem
from ..arrays import FloatArray, frozen
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

    problem: its rows are the points; plan: the planned placement
    """

    problem: Problem
    plan: Placement

    def levels_db(self, departure: Departure) -> FloatArray:
        """(bands, n) at the points, without gains."""
        return self._with(departure.pattern_scale).levels_db(departure.of(self.plan))

    def at_tilts_db(self, tilt_deg: FloatArray, departure: Departure) -> FloatArray:
        """(t, bands, n) for departures (t,) of the tilt, the others as given."""
        there = departure.of(self.plan)
        turned = replace(there, tilt_deg=float(self.plan.tilt_deg) + tilt_deg)
        return self._with(departure.pattern_scale).levels_db(turned)

    def _with(self, scale: float) -> Problem:
        if scale == 1.0:
            return self.problem
        return replace(self.problem, pattern=scaled(self.problem.pattern, scale))


def scaled(pattern: Pattern, scale: float) -> Pattern:
    """The pattern with every off-axis angle times scale; held where it ends short of ±180°."""
    angle = pattern.angle_deg * scale
    level = pattern.level_db
    kept = np.abs(angle) < 180.0
    angle, inside = angle[kept], level[:, kept]
    whole = bool(pattern.angle_deg[0] <= -180.0 and pattern.angle_deg[-1] >= 180.0)
    if whole:
        ends = pattern.read_db(np.array([-180.0, 180.0]) / max(scale, 1.0))
        if scale < 1.0:
            ends = level[:, [0, -1]]
        angle = np.concatenate([[-180.0], angle, [180.0]])
        inside = np.concatenate([ends[:, :1], inside, ends[:, 1:]], axis=1)
    return Pattern(
        angle_deg=frozen(angle),
        band_hz=pattern.band_hz,
        level_db=frozen(inside),
        reference=f"{pattern.reference}, {scale:.3g} times as wide",
    )

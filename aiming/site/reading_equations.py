"""What each reading says of tilt and height, as an equation.

inclinometer   tilt + the face's own angle (the other sign for a flipped box) = reading
laser          tilt = ε − asin(w / r);  r, ε: the dot from the acoustic centre, w: laser above
               the axis
load           share of the weight that statics give the pick at this tilt = share read
height         height + z of the point read, re the acoustic centre at this tilt = reading
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..base.errors import found_text
from ..base.units import parse_length_m
from ..rigging.loads import Loads, loads_at
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m, turned_m
from ..speaker.speaker import Placement, Speaker
from .readings import Reading

Residual = Callable[[float, float], float]
"""Of tilt (degrees) and height (m)."""


@dataclass(frozen=True)
class Equation:
    """residual is 0 where the reading holds; doubt is half of its 90 % interval, in its unit."""

    reading: Reading
    residual: Residual
    doubt: float


@dataclass(frozen=True, eq=False)
class Box:
    """The box as planned, and what was read at it."""

    scenario: Scenario
    speaker: Speaker
    plan: Placement
    readings: tuple[Reading, ...]

    def equation(self, one: Reading) -> Equation:
        """Raises ValueError, "found; allowed", where the scenario has no such point."""
        if one.kind == "inclinometer":
            return Equation(one, self._inclinometer(one), one.doubt)
        if one.kind == "laser":
            return self._laser(one)
        if one.kind == "load":
            return self._load(one)
        return Equation(one, self._height(one), one.doubt)

    @property
    def sign(self) -> float:
        """What flipping does to body angles and to w."""
        return -1.0 if self.plan.flipped else 1.0

    def _inclinometer(self, one: Reading) -> Residual:
        where = one.at.casefold()
        if where not in ("", "reference face", "axis"):
            raise ValueError(f'{found_text(one.at)}; on the "reference face", or on the "axis"')
        cabinet = self.speaker.cabinet
        face = cabinet.reference_face_deg * self.sign if cabinet and where != "axis" else 0.0
        return lambda tilt, height: tilt + face - one.value

    def _laser(self, one: Reading) -> Equation:
        cabinet = self.speaker.cabinet
        above = cabinet.laser_at_m[1] * self.sign if cabinet and cabinet.laser_at_m else 0.0
        x, z = float(self.plan.x_m), self.dot_z_m(one, one.value)
        dx, dz = one.value - x, z - float(self.plan.height_m)
        try:
            aside = 0.01
            rise = (self.dot_z_m(one, one.value + aside) - self.dot_z_m(one, one.value - aside)) / (
                2.0 * aside
            )
        except ValueError:  # at the end of a floor, which is taken as level there
            rise = 0.0
        per_m = float(np.degrees((rise * dx - dz) / (dx**2 + dz**2)))

        def residual(tilt: float, height: float) -> float:
            return tilt - laser_tilt_deg(dx, z - height, above)

        return Equation(one, residual, max(one.doubt * abs(per_m), 1e-6))

    def dot_z_m(self, one: Reading, x_m: float) -> float:
        """z of a laser's dot at x: on the floor, at ear height, or where the reading says."""
        where = one.at.casefold() or "floor"
        if where not in ("floor", "ears"):
            try:
                return parse_length_m(one.at, self.scenario.units)
            except ValueError:
                text = f'{found_text(one.at)}; "floor", "ears" or the z of the dot'
                raise ValueError(text) from None
        for seating in self.scenario.seatings:
            if seating.floor_m[0, 0] <= x_m <= seating.floor_m[-1, 0]:
                ear = float(seating.ear_z_m(np.array([x_m]))[0])
                return ear if where == "ears" else ear - seating.ear_height_m
        raise ValueError(f"{x_m:.2f} m lies on no seating; give the dot's z in place of {where}")

    def _load(self, one: Reading) -> Equation:
        names = [point.name for point in self.planned_loads.points]
        if one.at not in names:
            raise ValueError(f"{found_text(one.at)} bears no load; {', '.join(names)}")
        place, weight = names.index(one.at), self.weight_n

        def residual(tilt: float, height: float) -> float:
            return self._loads(tilt).points[place].share - one.value / weight

        return Equation(one, residual, one.doubt / weight)

    @cached_property
    def planned_loads(self) -> Loads:
        """At the planned tilt.  Raises ValueError where nothing is declared to reckon with."""
        return self._loads(float(self.plan.tilt_deg))

    @cached_property
    def weight_n(self) -> float:
        """What shares are taken of: what all cells read together, else the file's weight."""
        read = {one.at: one.value for one in self.readings if one.kind == "load"}
        picks = {point.name for point in self.planned_loads.points}
        if self.planned_loads.pull_elevation_deg is None and picks <= set(read):
            return max(sum(read[name] for name in picks), 1e-9)
        return self.planned_loads.weight_n

    def _loads(self, tilt_deg: float) -> Loads:
        plan = self.plan
        rigging = self.scenario.rigging.get(self.speaker.name, {}).get(plan.orientation)
        if rigging is None:
            raise ValueError(f"no rigging is declared for the box {plan.orientation}; declare it")
        found = loads_at(
            self.speaker.cabinet,
            rigging,
            flipped=bool(plan.flipped),
            tilt_deg=tilt_deg,
            at_m=(float(plan.x_m), float(plan.height_m)),
        )
        if not isinstance(found, Loads):
            raise ValueError(f"{found.reason}; declare what is missing")
        return found

    def _height(self, one: Reading) -> Residual:
        cabinet, flipped = self.speaker.cabinet, bool(self.plan.flipped)
        where = one.at.casefold()
        if where in ("", "acoustic centre"):
            return lambda tilt, height: height - one.value
        if where == "lowest point":
            if cabinet is None or cabinet.outline_m is None:
                raise ValueError("the cabinet has no outline; the acoustic centre, or a pick")
            return lambda tilt, height: (
                height - float(drop_m(cabinet, tilt_deg=tilt, flipped=flipped)) - one.value
            )
        names = [pick.name for pick in cabinet.picks] if cabinet else []
        if cabinet is None or one.at not in names:
            known = ", ".join(["acoustic centre", "lowest point", *names])
            raise ValueError(f"{found_text(one.at)} is no point of the box; {known}")
        at = cabinet.pick(one.at).at_m
        return lambda tilt, height: (
            height + float(turned_m(at, tilt_deg=tilt, flipped=flipped)[1]) - one.value
        )


def laser_tilt_deg(dx_m: float, dz_m: float, above_m: float) -> float:
    """Tilt of an axis whose parallel, above_m above it, passes through a dot at (dx, dz)."""
    away = max(float(np.hypot(dx_m, dz_m)), 1e-6)
    share = float(np.clip(above_m / away, -1.0, 1.0))
    return float(np.degrees(np.arctan2(dz_m, dx_m) - np.arcsin(share)))

"""What each reading says of the box, as an equation over everything that may be.

inclinometer   tilt + the face's own angle (the other sign for a flipped box) = reading
laser          tilt = ε − asin(w / r);  r, ε: the dot from the acoustic centre, w: laser above
               the axis
load           share of the weight that statics give the pick at this tilt = share read
height         height + z of the point read, re the acoustic centre at this tilt = reading
x              x + x of the point read, re the acoustic centre at this tilt = reading

A reading may be right; an inclinometer's may have lost its sign; or it may be a gross slip,
anywhere over a wide range.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import Fault, ScenarioError, found_text
from ..base.units import parse_length_m
from ..rigging.limits import UTILISATION_FULL
from ..rigging.loads import Loads, loads_at
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.cabinet import drop_m, turned_m
from ..speaker.rigging import Rigging
from ..speaker.speaker import Placement, Speaker
from .draws import Draws, Near
from .readings import Reading

INTERVAL = 1.6449
"""Standard deviations to either side of a 90 % interval."""
Quantity = Literal["tilt", "height", "x"]
Residual = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]
"""Of tilt (degrees), height and x (m), each (d,)."""
State = Literal["right", "sign lost", "gross"]
STATES: tuple[State, ...] = ("right", "sign lost", "gross")
LIKELY: dict[str, tuple[float, float, float]] = {
    "inclinometer": (0.90, 0.05, 0.05),
    "laser": (0.93, 0.0, 0.07),
    "load": (0.95, 0.0, 0.05),
    "height": (0.97, 0.0, 0.03),
    "x": (0.97, 0.0, 0.03),
}
"""How likely a reading is right, has lost its sign, is a gross slip; our own choice."""
ANYWHERE = {"inclinometer": 180.0, "laser": 90.0, "load": 0.5, "height": 2.0, "x": 4.0}
"""A gross slip lies anywhere over this width: degrees (a face, like a line, over half a turn),
degrees, share of the weight, metres."""
SAID = {
    "inclinometer": "inclinometer on the",
    "laser": "laser mark at",
    "load": "load cell at",
    "height": "height of the",
    "x": "x of the",
}
SEATED_DEG = 0.15
"""Standard deviation of how an inclinometer sits on its face, beside its own doubt; our own."""


@dataclass(frozen=True)
class Equation:
    """residual is 0 where the reading holds; deviation is its standard deviation, in its unit.

    tells: what it is about; mirrored: the residual if its sign was lost
    """

    reading: Reading
    tells: Quantity
    residual: Residual
    deviation: float
    mirrored: Residual | None = None

    @property
    def text(self) -> str:
        """What was read, and where, to follow "the"."""
        kind, at = self.reading.kind, self.reading.at
        return f"{SAID[kind]} {at}" if at else kind

    def log_states(self, draws: Draws, plan: Placement) -> FloatArray:
        """(3, d) log of how likely the reading is in each state of STATES, at each draw."""
        there = (
            plan.tilt_deg + draws.tilt_deg,
            plan.height_m + draws.height_m,
            plan.x_m + draws.x_m,
        )
        right, sign, gross = LIKELY[self.reading.kind]
        states = np.full((3, len(draws)), -np.inf)
        states[0] = np.log(right) + self._normal(self.residual(*there))
        if self.mirrored is not None:
            states[1] = np.log(sign) + self._normal(self.mirrored(*there))
        states[2] = np.log(gross / ANYWHERE[self.reading.kind])
        return states

    def near(self, plan: Placement) -> tuple[Near, ...]:
        """Where it says that its quantity is, hung minus planned, all else as planned."""
        found = []
        for residual in (self.residual, self.mirrored):
            if residual is None:
                continue
            value, slope = _solved(residual, self.tells, plan)
            if (
                np.isfinite(value)
                and abs(value) < {"tilt": 45.0, "height": 5.0, "x": 8.0}[self.tells]
            ):
                found.append(Near(value, 1.5 * self.deviation / max(abs(slope), 1e-9)))
        return tuple(one for one in found if one.deviation < 10.0)

    def _normal(self, residual: FloatArray) -> FloatArray:
        scaled = residual / self.deviation
        return np.asarray(-0.5 * scaled**2 - np.log(self.deviation * np.sqrt(2.0 * np.pi)))


def _solved(residual: Residual, tells: Quantity, plan: Placement) -> tuple[float, float]:
    """The departure of one quantity from the plan that meets the reading, and the slope there."""
    at = {"tilt": plan.tilt_deg, "height": plan.height_m, "x": plan.x_m}
    value = 0.0
    step = 0.05 if tells == "tilt" else 0.005

    def left(by: float) -> float:
        there = {**at, tells: at[tells] + by}
        return float(residual(*(np.array([there[one]]) for one in ("tilt", "height", "x")))[0])

    for _ in range(8):
        slope = (left(value + step) - left(value - step)) / (2.0 * step)
        if abs(slope) < 1e-6:
            return float("inf"), slope
        value -= left(value) / slope
    return value, slope


@dataclass(frozen=True, eq=False)
class Box:
    """The box as planned, and what was read at it."""

    scenario: Scenario
    speaker: Speaker
    plan: Placement
    readings: tuple[Reading, ...]

    def equations(self) -> tuple[Equation, ...]:
        """One for each reading.  Raises ScenarioError for points that there are not."""
        found, faults = [], []
        for one in self.readings:
            if one.tilt_deg is not None:
                continue  # weighed before: it says nothing of how the box hangs
            try:
                found.append(self._equation(one))
            except ValueError as error:
                faults.append(Fault(one.file, *one.place, one.kind, str(error)))
        if faults:
            raise ScenarioError(faults)
        return tuple(found)

    def _equation(self, one: Reading) -> Equation:
        """Raises ValueError, "found; allowed", where the scenario has no such point."""
        deviation = one.doubt / INTERVAL
        if one.kind == "inclinometer":
            face = self._face_deg(one)
            return Equation(
                one,
                "tilt",
                lambda tilt, height, x: _as_lines_do(tilt + face - one.value),
                float(np.hypot(deviation, SEATED_DEG)),
                lambda tilt, height, x: _as_lines_do(tilt + face + one.value),
            )
        if one.kind == "laser":
            return self._laser(one)
        if one.kind == "load":
            return self._load(one)
        if one.kind == "height":
            return Equation(one, "height", self._height(one), deviation)
        return Equation(one, "x", self._x(one), deviation)

    @property
    def sign(self) -> float:
        """What flipping does to body angles and to w."""
        return -1.0 if self.plan.flipped else 1.0

    def _face_deg(self, one: Reading) -> float:
        where = one.at.casefold()
        if where not in ("", "reference face", "axis"):
            raise ValueError(f'{found_text(one.at)}; on the "reference face", or on the "axis"')
        return face_deg(self.speaker, self.plan) if where != "axis" else 0.0

    def _laser(self, one: Reading) -> Equation:
        cabinet = self.speaker.cabinet
        above = cabinet.laser_at_m[1] * self.sign if cabinet and cabinet.laser_at_m else 0.0
        z = self.dot_z_m(one, one.value)
        dx, dz = one.value - self.plan.x_m, z - self.plan.height_m
        try:
            aside = 0.01
            rise = (self.dot_z_m(one, one.value + aside) - self.dot_z_m(one, one.value - aside)) / (
                2.0 * aside
            )
        except ValueError:  # at the end of a floor, which is taken as level there
            rise = 0.0
        per_m = float(np.degrees((rise * dx - dz) / (dx**2 + dz**2)))
        deviation = max(one.doubt * abs(per_m), 1e-6) / INTERVAL

        def residual(tilt: FloatArray, height: FloatArray, x: FloatArray) -> FloatArray:
            return tilt - laser_tilt_deg(one.value - x, z - height, above)

        return Equation(one, "tilt", residual, float(np.hypot(deviation, 0.05)))

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
        grid = np.linspace(-25.0, 25.0, 51)
        plan = self.plan.tilt_deg
        shares = np.array([self._share(plan + by, place) for by in grid])
        known = np.isfinite(shares)

        def residual(tilt: FloatArray, height: FloatArray, x: FloatArray) -> FloatArray:
            share = np.interp(tilt - plan, grid[known], shares[known])
            return np.asarray(share - one.value / weight)

        return Equation(one, "tilt", residual, one.doubt / weight / INTERVAL)

    def _share(self, tilt_deg: float, place: int) -> float:
        try:
            return self._loads(tilt_deg).points[place].share
        except ValueError:
            return float("nan")

    @cached_property
    def planned_loads(self) -> Loads:
        """At the planned tilt.  Raises ValueError where nothing is declared to reckon with."""
        return self._loads(self.plan.tilt_deg)

    @cached_property
    def weight_n(self) -> float:
        """What shares are taken of: what all cells read together, else the file's weight."""
        read = {
            one.at: one.value
            for one in self.readings
            if one.kind == "load" and one.tilt_deg is None
        }
        picks = {point.name for point in self.planned_loads.points}
        if self.planned_loads.pull_elevation_deg is None and picks <= set(read):
            return max(sum(read[name] for name in picks), 1e-9)
        return self.planned_loads.weight_n

    @cached_property
    def rigging(self) -> Rigging:
        """As declared for the planned orientation.  Raises ValueError where none is."""
        plan = self.plan
        found = self.scenario.rigging.get(self.speaker.name, {}).get(plan.orientation)
        if found is None:
            raise ValueError(f"no rigging is declared for the box {plan.orientation}; declare it")
        return found

    def _loads(self, tilt_deg: float) -> Loads:
        plan = self.plan
        found = loads_at(
            self.speaker.cabinet,
            self.rigging,
            flipped=plan.flipped,
            tilt_deg=tilt_deg,
            at_m=(plan.x_m, plan.height_m),
            full=threshold(self.scenario, UTILISATION_FULL),
        )
        if not isinstance(found, Loads):
            raise ValueError(f"{found.reason}; declare what is missing")
        return found

    def _height(self, one: Reading) -> Residual:
        cabinet, flipped = self.speaker.cabinet, self.plan.flipped
        where = one.at.casefold()
        if where == "lowest point":
            if cabinet is None or cabinet.outline_m is None:
                raise ValueError("the cabinet has no outline; read the acoustic centre, or a point")
            return lambda tilt, height, x: (
                height - drop_m(cabinet, tilt_deg=tilt, flipped=flipped) - one.value
            )
        return self._point(one, 1, ["acoustic centre", "lowest point"])

    def _x(self, one: Reading) -> Residual:
        return self._point(one, 0, ["acoustic centre"])

    def _point(self, one: Reading, axis: int, more: list[str]) -> Residual:
        """x (0) or z (1) of the acoustic centre or of a pick."""
        cabinet, flipped = self.speaker.cabinet, self.plan.flipped
        if one.at.casefold() in ("", "acoustic centre"):
            return lambda tilt, height, x: (x, height)[axis] - one.value
        names = [pick.name for pick in cabinet.picks] if cabinet else []
        if cabinet is None or one.at not in names:
            raise ValueError(
                f"{found_text(one.at)} is no point of the box; {', '.join([*more, *names])}"
            )
        at = cabinet.pick(one.at).at_m
        return lambda tilt, height, x: (
            (x, height)[axis] + turned_m(at, tilt_deg=tilt, flipped=flipped)[..., axis] - one.value
        )


def _as_lines_do(difference_deg: FloatArray) -> FloatArray:
    """A face lies as a line does: its elevation is known but for half a turn."""
    return np.asarray(90.0 - np.mod(90.0 - difference_deg, 180.0))


def face_deg(speaker: Speaker, plan: Placement) -> float:
    """What an inclinometer on the reference face reads beyond the tilt."""
    face = speaker.cabinet.reference_face_deg if speaker.cabinet else 0.0
    return -face if plan.flipped else face


def laser_tilt_deg(dx_m: FloatArray, dz_m: FloatArray, above_m: float) -> FloatArray:
    """Tilt of an axis whose parallel, above_m above it, passes through a dot at (dx, dz)."""
    away = np.maximum(np.hypot(dx_m, dz_m), 1e-6)
    share = np.clip(above_m / away, -1.0, 1.0)
    return np.asarray(np.degrees(np.arctan2(dz_m, dx_m) - np.arcsin(share)))

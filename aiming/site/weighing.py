"""The box weighed as it comes off the ground: where its centre of gravity is, and what to do then.

Cells in both lines, or in one with the weight of the file, level and again tilted: readings of the
kind `load` with a tilt beside them.  What is found goes into the file, and the plan is solved
again; so nothing of the file's own centre of gravity is needed here.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated

from ..base.described import Kind, Named
from ..base.errors import Fault, ScenarioError, found_text
from ..base.units import FOOT_M, G_M_S2, Unit
from ..rigging.body import NotChecked, Point, RiggingError, hung_picks, underhung_at_m
from ..rigging.centre_of_gravity import CentreFound, Weighing, centre_found, own_centre_m
from ..rigging.loads import Loads, loads_at
from ..speaker.rigging import Rigging
from ..speaker.speaker import Placement, Range, Speaker
from .readings import Reading


@dataclass(frozen=True)
class Cell:
    """What a load cell is to read with the centre of gravity that was weighed."""

    name: Annotated[str, "the pick's"]
    level_reading_n: Annotated[float | None, "with the box level, N; null where slack"]
    level_accept_n: Annotated[Range | None, "what may be accepted then, N; null likewise"]
    reading_n: Annotated[float | None, "at the planned tilt, N; null where slack"]
    accept_n: Annotated[Range | None, "what may be accepted then, N; null likewise"]
    stop_over_n: Annotated[
        float | None,
        "the reading at which something comes to its limit, N; null where no limit is known",
    ]


@dataclass(frozen=True)
class Weighed:
    """What the weighing told.

    loads: with the centre found, what each cell is to read level and at the planned tilt, what may
        be accepted, and over what to stop; None where that is not known
    """

    whole: Annotated[CentreFound, "of everything that hangs, body axes as hung"]
    mass_kg: Annotated[
        float | None,
        "of the cabinet alone, by the cells; null where the file's weight stood in for one",
    ]
    centre_m: Annotated[
        Point | None,
        Named("centre_of_gravity_m"),
        Kind("[u, w] or null"),
        "of the cabinet alone as built, for the file; null without a second tilt",
    ]
    loads: Loads | None

    @property
    def usable(self) -> Annotated[bool, "whether both are known well enough to plan with"]:
        """Whether both are known well enough to plan with."""
        return self.whole.usable

    @property
    def cells(self) -> Annotated[tuple[Cell, ...], "with that centre, what each cell is to read"]:
        """With the centre found, what each cell is to read."""
        lines = () if self.loads is None else self.loads.lines
        return tuple(
            Cell(one.name, one.level_reading_n, one.level_accept_n, one.reading_n, one.accept_n,
                 one.stop_over_n)
            for one in lines
        )  # fmt: skip

    def for_file(self, unit: Unit) -> dict[str, float | list[float]]:
        """Keys of the cabinet, in the file's unit, to the millimetre and the hundred grams."""
        metre = FOOT_M if unit == "ft" else 1.0
        values: dict[str, float | list[float]] = {}
        if self.mass_kg is not None:
            values["mass_kg"] = round(self.mass_kg, 1)
        if self.centre_m is not None:
            values["centre_of_gravity"] = [round(at / metre, 3) for at in self.centre_m]
        return values


def weighed(
    speaker: Speaker,
    rigging: Rigging,
    plan: Placement,
    readings: tuple[Reading, ...],
    *,
    full: float,
) -> Weighed | None:
    """The weighings among the readings; None where there are none.

    full: the utilisation that stops
    Raises ScenarioError for readings that tell nothing.
    """
    mine = [one for one in readings if one.tilt_deg is not None]
    if not mine:
        return None
    try:
        return _weighed(speaker, rigging, plan, mine, full=full)
    except RiggingError as error:
        first = mine[0]
        raise ScenarioError([Fault(first.file, *first.place, "load", str(error))]) from None


def _weighed(
    speaker: Speaker, rigging: Rigging, plan: Placement, mine: list[Reading], *, full: float
) -> Weighed:
    cabinet, flipped = speaker.cabinet, plan.flipped
    if cabinet is None or rigging.method != "two points":
        raise RiggingError(
            "a centre of gravity is weighed on two plumb lines; rigging by two points is needed"
        )
    front, rear = hung_picks(cabinet, rigging, flipped=flipped)
    for one in mine:
        if one.at not in (front.name, rear.name):
            raise RiggingError(f"{found_text(one.at)} bears no load; {front.name}, {rear.name}")
    beside = list(_beside(rigging))
    whole = centre_found(
        tuple(_weighings(mine, front.name, rear.name)),
        front=front.at_m,
        rear=rear.at_m,
        stated_weight_n=stated_weight_n(speaker, rigging),
    )
    mass, centre = _cabinet_alone(whole, rigging, beside)
    by_cells = whole.weight_n.doubt > 0.0
    loads: Loads | None = None
    if centre is not None:
        centre = (centre[0], -centre[1] if flipped else centre[1])
        known = replace(cabinet, mass_kg=mass, centre_of_gravity_m=centre)
        found = loads_at(
            known, rigging, flipped=flipped, tilt_deg=plan.tilt_deg,
            at_m=(plan.x_m, plan.height_m), full=full,
        )  # fmt: skip
        loads = None if isinstance(found, NotChecked) else found
    return Weighed(whole, mass if by_cells else None, centre, loads)


def stated_weight_n(speaker: Speaker, rigging: Rigging) -> float | None:
    """Of everything that hangs on the cells, by the file; None without the cabinet's mass."""
    cabinet = speaker.cabinet
    if cabinet is None or cabinet.mass_kg is None:
        return None
    below_kg = 0.0 if rigging.below is None else rigging.below.mass_kg
    return G_M_S2 * (cabinet.mass_kg + rigging.extra_mass_kg + below_kg)


def _weighings(mine: list[Reading], front: str, rear: str) -> Iterator[Weighing]:
    """The readings of each tilt together."""
    for tilt in dict.fromkeys(one.tilt_deg for one in mine):
        read = {one.at: one for one in mine if one.tilt_deg == tilt}
        at_front, at_rear = read.get(front), read.get(rear)
        yield Weighing(
            tilt_deg=tilt or 0.0,
            front_n=None if at_front is None else at_front.value,
            rear_n=None if at_rear is None else at_rear.value,
            front_doubt_n=None if at_front is None else at_front.doubt,
            rear_doubt_n=None if at_rear is None else at_rear.doubt,
        )


def _beside(rigging: Rigging) -> Iterator[tuple[float, Point]]:
    """Mass and place of what hangs with the cabinet, where its place is its own."""
    if rigging.extra_at_m is not None and rigging.extra_mass_kg > 0.0:
        yield rigging.extra_mass_kg, rigging.extra_at_m
    if rigging.below is not None:
        yield rigging.below.mass_kg, underhung_at_m(rigging.below)


def _cabinet_alone(
    whole: CentreFound, rigging: Rigging, beside: list[tuple[float, Point]]
) -> tuple[float, Point | None]:
    """Mass (kg) and centre of gravity, as hung, less all that hangs with it."""
    whole_kg = whole.weight_n.value / G_M_S2
    centre = None if whole.w_m is None else (whole.u_m.value, whole.w_m.value)
    own = None if centre is None else own_centre_m(centre, whole_kg, tuple(beside))
    # Extra mass whose place is not given acts at the cabinet's own centre, and moves it nowhere.
    loose_kg = rigging.extra_mass_kg if rigging.extra_at_m is None else 0.0
    return whole_kg - loose_kg - sum(mass for mass, _ in beside), own

"""Where the centre of gravity is, from what load cells read: level, and again tilted.

    T_R        T_F          ΣM about R:  (x_G − x_R)/(x_F − x_R) = T_F/(T_F + T_R)
     │          │
    R o────────o F          x = u·cos τ − w·sin τ, so every weighing is one line in u_G, w_G:
      |   G    |
      +---+----+                u_G·cos τ − w_G·sin τ = x_R + (x_F − x_R)·T_F/W
          ↓ W

Level, that tells u_G and nothing of w_G; a second weighing at another tilt crosses it.  Of what
hangs together; `own_centre_m` takes the frame and the like off again.
"""

from dataclasses import dataclass, replace
from math import hypot
from typing import Annotated

import numpy as np

from ..base.arrays import FloatArray
from ..base.units import G_M_S2
from .body import Point, RiggingError, x_and_z
from .limits import CELL_DOUBT_N, CELL_DOUBT_SHARE, INCLINOMETER_DOUBT

LEAST_TURN_DEG = 5.0
"""Two weighings closer in tilt than this say nothing of w; our own."""
USABLE_M = 0.05
"""A centre known to no better than this is no ground for a plan; our own."""


@dataclass(frozen=True)
class Weighing:
    """What the cells of front and rear line read at one tilt; None where a line has no cell.

    front_doubt_n, rear_doubt_n: how far the reading may be off; None for the usual share of it
    """

    tilt_deg: float
    front_n: float | None
    rear_n: float | None
    front_doubt_n: float | None = None
    rear_doubt_n: float | None = None


@dataclass(frozen=True)
class Known:
    """A value, and how far it may be off either way."""

    value: Annotated[float, "as found"]
    doubt: float

    @property
    def low(self) -> Annotated[float, "lower end of its 90 % interval"]:
        return self.value - self.doubt

    @property
    def high(self) -> Annotated[float, "upper end"]:
        return self.value + self.doubt


@dataclass(frozen=True)
class CentreFound:
    """The centre of gravity of everything that hangs, body axes as hung, metres.

    usable: whether both are known well enough to plan with (USABLE_M)
    """

    u_m: Annotated[Known, "how far forward it lies, m"]
    w_m: Annotated[Known | None, "how high, m; null where the weighings do not tell it"]
    weight_n: Annotated[Known, "by the cells, or as the file states it where a line has none, N"]
    usable: bool


def centre_found(
    weighings: tuple[Weighing, ...],
    *,
    front: Point,
    rear: Point,
    stated_weight_n: float | None = None,
    centre_w_m: float | None = None,
    cell_doubt_share: float = CELL_DOUBT_SHARE.value,
    tilt_doubt_deg: float = INCLINOMETER_DOUBT.value,
) -> CentreFound:
    """u and w of the centre of gravity from one or more weighings on two plumb lines.

    front, rear: (u, w) of the two picks, body axes as hung
    stated_weight_n: of everything that hangs; needed where only one line has a cell
    centre_w_m: w where it is known otherwise; then one tilted weighing tells u as well
    The intervals hold where each cell is within its own doubt, or its share of its reading (at
    least CELL_DOUBT_N), and each tilt within its doubt; independent doubts add by their squares.
    Raises RiggingError for readings that are missing, not positive, or that leave u unknown.
    """
    if not weighings:
        raise RiggingError("no weighing: readings of a cell in each line are needed")
    for one in weighings:
        _refuse(one, stated_weight_n)
    turn = float(np.ptp([one.tilt_deg for one in weighings]))
    crossed = len(weighings) > 1 and turn >= LEAST_TURN_DEG

    def solved(of: tuple[Weighing, ...]) -> FloatArray:
        numbers = np.array([_front_rear_tilt(one, stated_weight_n) for one in of])
        return _solved(numbers, front, rear, crossed=crossed, centre_w_m=centre_w_m)

    centre, squares, weight_doubt_n = solved(weighings), np.zeros(2), 0.0
    for place, one in enumerate(weighings):
        doubts = _cell_doubts_n(one, cell_doubt_share)
        if len(doubts) == 2:
            weight_doubt_n = max(weight_doubt_n, hypot(*doubts.values()))
        # Taken level: what a tilt does to x depends on the w that nobody knows.
        known = crossed or centre_w_m is not None
        for name, doubt in {**doubts, "tilt_deg": tilt_doubt_deg if known else 0.0}.items():
            less, more = (
                replace(one, **{name: getattr(one, name) + side * doubt}) for side in (-1.0, 1.0)
            )
            before, after = weighings[:place], weighings[place + 1 :]
            change = solved((*before, more, *after)) - solved((*before, less, *after))
            squares += (0.5 * change) ** 2
    u, w = (Known(float(at), float(off)) for at, off in zip(centre, np.sqrt(squares), strict=True))
    tells_w = w if crossed else None if centre_w_m is None else Known(centre_w_m, 0.0)
    sums = [
        one.front_n + one.rear_n
        for one in weighings
        if one.front_n is not None and one.rear_n is not None
    ]
    weight_n = float(np.mean(sums)) if sums else stated_weight_n
    assert weight_n is not None, "else refused"
    return CentreFound(
        u_m=u,
        w_m=tells_w,
        weight_n=Known(weight_n, weight_doubt_n),
        usable=tells_w is not None and max(u.doubt, tells_w.doubt) <= USABLE_M,
    )


def own_centre_m(
    whole_m: Point, whole_mass_kg: float, others: tuple[tuple[float, Point], ...]
) -> Point:
    """(u, w) of the cabinet alone: the whole's centre, less the others' masses (kg) and places.

    Raises RiggingError where the others weigh as much as the whole.
    """
    left_kg = whole_mass_kg - sum(mass for mass, _ in others)
    if not left_kg > 0.0:
        raise RiggingError(
            f"frame and the like weigh {whole_mass_kg - left_kg:.1f} kg, the whole "
            f"{whole_mass_kg:.1f} kg: nothing is left for the cabinet"
        )
    own = [
        (whole_mass_kg * whole_m[axis] - sum(mass * at[axis] for mass, at in others)) / left_kg
        for axis in (0, 1)
    ]
    return own[0], own[1]


def _refuse(one: Weighing, stated_weight_n: float | None) -> None:
    """Raises RiggingError where a cell reads nothing, or the readings do not tell both lines."""
    for name, force in (("front", one.front_n), ("rear", one.rear_n)):
        if force is not None and not force > 0.0:
            raise RiggingError(f"{name} cell at {one.tilt_deg:g}°: {force:g} N; a taut line pulls")
    if one.front_n is not None and one.rear_n is not None:
        return
    read = one.rear_n if one.front_n is None else one.front_n
    if read is None:
        raise RiggingError(f"at {one.tilt_deg:g}° neither line has a cell")
    if stated_weight_n is None:
        raise RiggingError(
            f"at {one.tilt_deg:g}° one line has no cell: state the weight of what hangs, or put a "
            "cell in both"
        )
    if not stated_weight_n > read:
        raise RiggingError(
            f"at {one.tilt_deg:g}° one cell alone reads {read / G_M_S2:.1f} kg, the stated weight "
            f"is {stated_weight_n / G_M_S2:.1f} kg: that weight is not what hangs"
        )


def _front_rear_tilt(one: Weighing, weight_n: float | None) -> tuple[float, float, float]:
    """Both forces (N) and the tilt (degrees); a missing cell's is what is left of the weight."""
    whole = weight_n or 0.0
    front = whole - (one.rear_n or 0.0) if one.front_n is None else one.front_n
    rear = whole - front if one.rear_n is None else one.rear_n
    return front, rear, one.tilt_deg


def _cell_doubts_n(one: Weighing, share: float) -> dict[str, float]:
    """How far each cell that was read may be off: as given, else its share of the reading."""
    read = (("front_n", one.front_n, one.front_doubt_n), ("rear_n", one.rear_n, one.rear_doubt_n))
    return {
        name: max(share * force, CELL_DOUBT_N.value) if doubt is None else doubt
        for name, force, doubt in read
        if force is not None
    }


def _solved(
    numbers: FloatArray, front: Point, rear: Point, *, crossed: bool, centre_w_m: float | None
) -> FloatArray:
    """(u, w) by least squares over the lines that the weighings give."""
    share = numbers[:, 0] / (numbers[:, 0] + numbers[:, 1])
    x_front, x_rear = x_and_z(front, numbers[:, 2])[0], x_and_z(rear, numbers[:, 2])[0]
    x_centre = x_rear + (x_front - x_rear) * share
    tilt = np.radians(numbers[:, 2])
    if crossed:
        lines = np.stack([np.cos(tilt), -np.sin(tilt)], axis=1)
        return np.asarray(np.linalg.lstsq(lines, x_centre, rcond=None)[0])
    # One tilt: w as known, else that of the picks, which makes no odds where it is level.
    w = 0.5 * (front[1] + rear[1]) if centre_w_m is None else centre_w_m
    return np.array([float(np.mean((x_centre + w * np.sin(tilt)) / np.cos(tilt))), w])

"""From readings to how the box hangs: each reading by itself, and all of them together."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import Fault, ScenarioError
from ..speaker.speaker import Placement
from .fit import INTERVAL
from .model import Interval, ReadingFound
from .reading_equations import Box, Equation

HEIGHT_DOUBT_M = 0.10
"""Half of the 90 % interval of a height that nobody has read: hung as planned, within this."""
HEAVIER_SHARE = 0.05
"""Cells that read this much more or less than the file's weight are worth a word; our own."""
DISAGREE = 2.6
"""Standard deviations between one reading and all together that are worth a word; our own."""
_STEPS = (0.05, 0.005)


@dataclass(frozen=True)
class Hung:
    """What the readings together say of tilt (degrees) and height (m); None where they do not."""

    tilt_deg: Interval | None
    height_m: Interval | None
    readings: tuple[ReadingFound, ...]
    notes: tuple[str, ...]


def hung_from(box: Box) -> Hung:
    """Tilt and height from all readings of a box.

    Raises ScenarioError for readings at points that the scenario does not have.
    """
    equations = _equations(box)
    read_height = any(one.reading.kind == "height" for one in equations)
    at, deviation = _solved(equations, box.plan, read_height)
    items = tuple(_alone(one, at, deviation) for one in equations)
    notes = list(_weight_notes(box))
    apart = [abs(_scaled(one, at)) for one in equations]
    told = int(np.isfinite(deviation).sum())
    spare = len(equations) + (not read_height) - told
    if spare > 0 and max(apart) > DISAGREE:
        # Readings that disagree are not as good as they say: all doubt grows alike.
        deviation = deviation * max(1.0, float(np.hypot.reduce(apart)) / spare**0.5)
        worst = items[int(np.argmax(apart))].text
        notes.append(f"the readings disagree, {worst} most of all: read them again")
    return Hung(
        tilt_deg=Interval.about(at[0], INTERVAL * deviation[0])
        if np.isfinite(deviation[0])
        else None,
        height_m=Interval.about(at[1], INTERVAL * deviation[1]) if read_height else None,
        readings=items,
        notes=tuple(notes),
    )


def _equations(box: Box) -> list[Equation]:
    found, faults = [], []
    for one in box.readings:
        try:
            found.append(box.equation(one))
        except ValueError as error:
            faults.append(Fault(one.file, *one.place, one.kind, str(error)))
    if faults:
        raise ScenarioError(faults)
    return found


def _scaled(one: Equation, at: FloatArray) -> float:
    """The residual in standard deviations at (tilt, height)."""
    return one.residual(float(at[0]), float(at[1])) / (one.doubt / INTERVAL)


def _solved(
    equations: list[Equation], plan: Placement, read_height: bool
) -> tuple[FloatArray, FloatArray]:
    """(tilt, height) and their standard deviations, infinite for a tilt that nothing tells."""
    from scipy.optimize import least_squares

    first = np.array([float(plan.tilt_deg), float(plan.height_m)])

    def scaled(unknown: FloatArray) -> FloatArray:
        left = [_scaled(one, unknown) for one in equations]
        prior = (unknown[1] - first[1]) / (HEIGHT_DOUBT_M / INTERVAL)
        return np.array(left if read_height else [*left, prior])

    if len(scaled(first)) < 2 or np.abs(_slope(scaled, first, 0)).max() < 1e-9:
        # Nothing depends on the tilt, or one height stands alone: it is read at the planned tilt.
        left, slope = scaled(first), _slope(scaled, first, 1)
        size = float(slope @ slope)
        height = first[1] - float(left @ slope) / size
        return np.array([first[0], height]), np.array([np.inf, size**-0.5])
    found = least_squares(scaled, first, x_scale=(1.0, 0.1))
    slopes = np.stack([_slope(scaled, found.x, which) for which in (0, 1)], axis=1)
    covariance = np.linalg.pinv(slopes.T @ slopes)
    return np.asarray(found.x), np.asarray(np.sqrt(np.diag(covariance)))


def _slope(scaled: Callable[[FloatArray], FloatArray], at: FloatArray, which: int) -> FloatArray:
    step = np.zeros(2)
    step[which] = _STEPS[which]
    return np.asarray((scaled(at + step) - scaled(at - step)) / (2.0 * step[which]))


def _alone(one: Equation, at: FloatArray, deviation: FloatArray) -> ReadingFound:
    """The reading by itself, the other quantity being as all readings have it."""

    def scaled(unknown: FloatArray) -> FloatArray:
        return np.array([_scaled(one, unknown)])

    which, other = (1, 0) if one.reading.kind == "height" else (0, 1)
    slope = float(_slope(scaled, at, which)[0])
    text = f"{one.reading.kind} {one.reading.at}".strip()
    if abs(slope) < 1e-9:
        return ReadingFound(text, None, None)
    cross = float(_slope(scaled, at, other)[0])
    shared = cross * float(deviation[other]) if np.isfinite(deviation[other]) else 0.0
    value = float(at[which]) - _scaled(one, at) / slope
    interval = Interval.about(value, INTERVAL * float(np.hypot(1.0, shared)) / abs(slope))
    if which == 1:
        return ReadingFound(text, None, interval)
    return ReadingFound(text, interval, None)


def _weight_notes(box: Box) -> list[str]:
    if not any(one.kind == "load" for one in box.readings):
        return []
    planned, read = box.planned_loads.weight_n, box.weight_n
    if abs(read / planned - 1.0) <= HEAVIER_SHARE:
        return []
    word = "more" if read > planned else "less"
    return [
        f"the cells read {100.0 * abs(read / planned - 1.0):.0f} % {word} than the weight in the "
        "file: find out why before anyone goes underneath"
    ]

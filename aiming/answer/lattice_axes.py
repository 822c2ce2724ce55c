"""Which tilts and heights a lattice has: round steps, the ends the file gives, the answer's."""

from dataclasses import dataclass, replace
from math import ceil, floor, sqrt

import numpy as np

from ..arrays import FloatArray, frozen
from ..speaker.speaker import Hang, Orientation, Range, Speaker
from ..units import INCH_M, Unit
from .model import SpeakerAnswer

TILT_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0)
METRE_STEPS_M = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
INCH_STEPS_M = tuple(INCH_M * step for step in (2, 4, 6, 12, 24, 60, 120, 360))
AROUND_DEG = 15.0
"""How far from the answer's tilt the lattice reaches, where the file leaves the tilt open."""
AROUND_GIVEN_DEG = 10.0
AROUND_GIVEN_M = 1.0
"""How far it reaches from a tilt, and from the height of a flown box, that the file gives."""
_TILTS_PER_HEIGHT = 4.0
_SAME = 1e-6


@dataclass(frozen=True, eq=False)
class Axes:
    """What can be moved.

    tilt_deg: (tilts,) ascending; vertical_m: (heights,) ascending, heights of the acoustic centre
        or, where vertical is "trim", of the vertical limit's own point
    at_tilt, at_vertical: indices of the answer's own placement; orientation: the answer's
    tilt_given, vertical_given: whether the file fixes them, so that other values are only shown
    """

    tilt_deg: FloatArray
    vertical: str
    vertical_m: FloatArray
    at_tilt: int
    at_vertical: int
    orientation: Orientation
    tilt_given: bool
    vertical_given: bool

    def hang(self, hang: Hang) -> Hang:
        """The placement left as open as this lattice is."""
        vertical = float(self.vertical_m[0]), float(self.vertical_m[-1])
        tilt = float(self.tilt_deg[0]), float(self.tilt_deg[-1])
        return replace(hang, vertical_m=vertical, tilt_deg=tilt)


def axes_of(
    speaker: Speaker, one: SpeakerAnswer, unit: Unit, *, drop_m: float, points: int
) -> Axes:
    """The axes of one loudspeaker, with at most about this many points in all; 0 leaves only one.

    drop_m: the acoustic centre above the vertical limit's own point, at the answer's placement
    """
    hang = speaker.hang
    vertical_m = one.height_m - drop_m
    tilt, vertical = frozen(np.array([one.tilt_deg])), frozen(np.array([vertical_m]))
    most_tilts = max(5, round(sqrt(points * _TILTS_PER_HEIGHT)))
    most_heights = max(3, round(points / most_tilts))
    if points > 0:
        turns, steps = _tilts_around(hang, one.tilt_deg), _steps_m(unit)
        tilt = _axis(one.tilt_deg, turns, TILT_STEPS_DEG, most_tilts)
        vertical = _axis(vertical_m, _verticals_around(hang, vertical_m), steps, most_heights)
    return Axes(
        tilt_deg=tilt,
        vertical=hang.vertical,
        vertical_m=vertical,
        at_tilt=int(np.argmin(np.abs(tilt - one.tilt_deg))),
        at_vertical=int(np.argmin(np.abs(vertical - vertical_m))),
        orientation=one.orientation,
        tilt_given=hang.tilt_deg[0] == hang.tilt_deg[1],
        vertical_given=hang.vertical_m[0] == hang.vertical_m[1],
    )


def _steps_m(unit: Unit) -> tuple[float, ...]:
    return METRE_STEPS_M if unit == "m" else INCH_STEPS_M


def _tilts_around(hang: Hang, tilt_deg: float) -> Range:
    low, high = hang.tilt_deg
    if low == high:
        low, high, around = -90.0, 90.0, AROUND_GIVEN_DEG
    else:
        around = AROUND_DEG
    return max(low, tilt_deg - around), min(high, tilt_deg + around)


def _verticals_around(hang: Hang, vertical_m: float) -> Range:
    """A flown box that the file fixes can still be looked at higher and lower; a stack stands."""
    low, high = hang.vertical_m
    if low == high and hang.mount == "flown":
        return vertical_m - AROUND_GIVEN_M, vertical_m + AROUND_GIVEN_M
    return low, high


def _axis(own: float, span: Range, steps: tuple[float, ...], most: int) -> FloatArray:
    """Multiples of the finest step that is coarse enough, the span's ends, and the answer's own."""
    low, high = span
    step = next((one for one in steps if (high - low) / one <= most), (high - low) / most)
    if low == high:
        return frozen(np.array([own]))
    count = np.arange(ceil(low / step - _SAME), floor(high / step + _SAME) + 1)
    known = [own]
    for value in (low, high, *(float(of) for of in np.round(count * step, 9))):
        if all(abs(value - other) > _SAME for other in known):
            known.append(value)
    return frozen(np.array(sorted(known)))

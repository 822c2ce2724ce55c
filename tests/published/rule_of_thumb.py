"""The trade's rule of thumb for aiming one box: its geometry, and the level along its line.

The rule (common practice of the trade, no source): a point at distance d on the coverage edge is as
loud as one at 2d on the axis.  What follows (closed forms): the straight line between the two has
length d·√(5 − 4·cos φ), φ the half-angle, and meets the axis at atan(sin φ/(2 − cos φ)); so a
straight audience line of length L has the far throw L/√(5/4 − cos φ).  No loss in air throughout.
"""

import math
from collections.abc import Callable, Iterator
from functools import cache

import numpy as np
from plain_air import tones

from aiming.aim.ideal import Ideal, ideal
from aiming.base.arrays import FloatArray, frozen
from aiming.field.levels import levels_db
from aiming.speaker.lobes import nominal_pattern, piston_db, quadratic_db
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

from .check import Check

NEAR_M = 10.0
TILT_DEG = -17.0
SHARES = np.linspace(0.0, 1.0, 20001)

# half-angle, L/d, β; per lobe: excess over the ends in dB, where as a share from the near end;
# quadratic also the angle off the axis there
TABLE = (
    (15.0, 1.06597, 14.05, (2.093, 0.348, 7.26), (2.204, 0.330), (2.231, 0.326)),
    (20.0, 1.11410, 17.88, (2.152, 0.349, 9.66), (2.243, 0.334), (2.270, 0.330)),
    (30.0, 1.23931, 23.79, (2.321, 0.351, 14.40), (2.356, 0.346), (2.382, 0.342)),
    (45.0, 1.47363, 28.68, (2.711, 0.355, 21.36), (2.616, 0.367), (2.642, 0.364)),
    (52.5, 1.60155, 29.69, (2.971, 0.357, 24.78), (2.788, 0.379), (2.814, 0.376)),
)
NARROW_DEG, NARROW_DB, NARROW_SHARE = 0.5, 2.018, 0.3463
"""The limit for small angles, quadratic lobe: (1 + s)² = 4·ln 2·(1 − s)."""


def uniform_line_db(off_axis_deg: FloatArray, half_deg: float) -> FloatArray:
    """sin x/x with x = 1.895494·sin θ/sin φ, half amplitude at the edge.

    Beranek and Mellow, Acoustics, 2nd ed., eq. 13.318 (read); the number is from the closed form.
    """
    x = 1.895494 * np.sin(np.radians(off_axis_deg)) / math.sin(math.radians(half_deg))
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(np.sinc(x / np.pi)), 1e-6)))


FORMULA: dict[str, Callable[[FloatArray, float], FloatArray]] = {
    "quadratic": quadratic_db, "piston": piston_db, "uniform line": uniform_line_db,
}  # fmt: skip


@cache
def lobe(name: str, half_deg: float) -> Pattern:
    """The tool's own table; for the uniform line, which it has not, one that is handed to it."""
    if name == "uniform line":
        angle = np.linspace(-90.0, 90.0, 36001)
        level = uniform_line_db(angle, half_deg)
        return Pattern(frozen(angle), (1000.0,), frozen(level[np.newaxis]), name)
    return nominal_pattern(above_deg=half_deg, below_deg=half_deg, bands_hz=(1000.0,), lobe=name)


def line_points_m(half_deg: float) -> FloatArray:
    """(n, 2) from the near end on the coverage edge to the far end on the axis; box at (3, 8)."""
    tilt, edge = math.radians(TILT_DEG), math.radians(TILT_DEG - half_deg)
    far = 2.0 * NEAR_M * np.array([math.cos(tilt), math.sin(tilt)])
    near = NEAR_M * np.array([math.cos(edge), math.sin(edge)])
    return np.asarray(near + SHARES[:, np.newaxis] * (far - near) + [3.0, 8.0])


@cache
def level_along(name: str, half_deg: float) -> FloatArray:
    """(n,) level along the line through the tool's table and field, dB."""
    x_m, z_m = line_points_m(half_deg).T
    placement = Placement(x_m=3.0, height_m=8.0, tilt_deg=TILT_DEG)
    pattern = lobe(name, half_deg)
    return levels_db(pattern, placement, x_m, z_m, air_loss=tones(np.zeros(1)))[0]


def excess_db(name: str, half_deg: float) -> float:
    level = level_along(name, half_deg)
    return float(level.max() - level[0])


@cache
def loudest(name: str, half_deg: float) -> tuple[float, float]:
    """(share of the line, degrees below the axis) on the formula itself: the top is flat, about
    17 dB times the square of the share, so a table's 0.001 dB would move it."""
    dx, dz = (line_points_m(half_deg) - [3.0, 8.0]).T
    off_axis = np.degrees(np.arctan2(dz, dx)) - TILT_DEG
    top = int(np.argmax(FORMULA[name](off_axis, half_deg) - 10.0 * np.log10(dx**2 + dz**2)))
    return float(SHARES[top]), float(-off_axis[top])


def placed(half_deg: float) -> Ideal:
    """For a line of 1 m."""
    return ideal(coverage_deg=2.0 * half_deg, near_m=(0.0, 0.0), far_m=(1.0, 0.0))


def checks() -> Iterator[Check]:
    topic, trigonometry = "The trade's rule of thumb", "trigonometry; the rule has no source"
    for half, length, beta, *lobes in TABLE:
        box = f"half-angle {half:g}°"
        yield Check(
            topic, f"{box}: length of the line over d", trigonometry, "C", length, 6e-6, "",
            lambda h=half: 1.0 / placed(h).near_throw_m,
        )  # fmt: skip
        yield Check(
            topic, f"{box}: axis to line", trigonometry, "C", beta, 0.006, "°",
            lambda h=half: placed(h).axis_to_plane_deg,
        )  # fmt: skip
        for name, (excess, share, *angle) in zip(FORMULA, lobes, strict=True):
            formula = f"{name} lobe, dense reading"
            yield Check(
                topic, f"{box}: louder than the ends by, {name}", formula, "C", excess, 0.005,
                "dB", lambda n=name, h=half: excess_db(n, h),
            )  # fmt: skip
            yield Check(
                topic, f"{box}: where, share from the near end, {name}", formula, "C", share,
                0.002, "", lambda n=name, h=half: loudest(n, h)[0],
            )  # fmt: skip
            for below in angle:
                yield Check(
                    topic, f"{box}: where, below the axis, {name}", formula, "C", below, 0.1, "°",
                    lambda n=name, h=half: loudest(n, h)[1],
                )  # fmt: skip
    limit = "4·ln 2·(1 − s) = (1 + s)²"
    yield Check(
        topic, "narrow lobes: louder than the ends by, quadratic", limit, "C", NARROW_DB, 0.005,
        "dB", lambda: excess_db("quadratic", NARROW_DEG),
    )  # fmt: skip
    yield Check(
        topic, "narrow lobes: where, share from the near end, quadratic", limit, "C",
        NARROW_SHARE, 0.001, "", lambda: loudest("quadratic", NARROW_DEG)[0],
    )  # fmt: skip

"""Closed forms of sources and horns: circular piston, loss of control."""

import math
from collections.abc import Iterator

import numpy as np

from aiming.speaker.lobes import PISTON_EDGE, nominal_pattern, piston_db
from aiming.speaker.pattern import edge_deg
from aiming.speaker.pattern_figures import control_from_hz

from .check import Check

# x = ka·sin θ, level and how closely it is held, dB
PISTON_DB = {
    2.215089: (-6.0206, 1e-4), 2.21179: (-6.0, 1e-4), 1.61374: (-3.0, 1e-4),
    2.73138: (-10.0, 1e-4), 5.135622: (-17.57015, 1e-5),
}  # fmt: skip
PISTON_WIDTH_DEG = {3: 95.18, 4: 67.25, 5: 52.59, 6: 43.33, 8: 32.15, 10: 25.60, 20: 12.72}
# coverage angle, mouth in m: Hz
CONTROL_HZ = {(90.0, 0.5): 564.4444, (40.0, 0.5): 1270.0, (60.0, 0.3): 1411.1111}
# horizontal and vertical coverage angle


def piston_at(x: float, *, half_deg: float = 10.0) -> float:
    """The tool's lobe where ka·sin θ is x, for a piston whose coverage half-angle is half_deg."""
    sine = x * math.sin(math.radians(half_deg)) / 2.215089
    return float(piston_db(np.array(math.degrees(math.asin(sine))), half_deg))


def piston_width_deg(ka: float) -> float:
    """Between the edges of the table that the tool makes, read as the solver reads it."""
    half_deg = math.degrees(math.asin(PISTON_EDGE / ka))
    made = nominal_pattern(
        above_deg=half_deg, below_deg=half_deg, bands_hz=(1000.0,), lobe="piston"
    )
    edge = edge_deg(made.angle_deg, made.level_db[0], above=True)
    return math.nan if edge is None else 2.0 * edge


def checks() -> Iterator[Check]:
    topic = "Patterns"
    kinsler = "2·J1(x)/x: Kinsler et al., Fundamentals of Acoustics, §7.4 (place from memory)"
    for x, (level, within) in PISTON_DB.items():
        yield Check(
            topic, f"piston at x = {x}", kinsler, "C", level, within, "dB",
            lambda x=x: piston_at(x),
        )  # fmt: skip
    for ka, whole in PISTON_WIDTH_DEG.items():
        yield Check(
            topic, f"piston, coverage angle at ka {ka}", kinsler, "C", whole, 0.01, "°",
            lambda ka=ka: piston_width_deg(ka),
        )  # fmt: skip
    for (angle, mouth), hz in CONTROL_HZ.items():
        yield Check(
            topic, f"loss of control, {angle:g}°, mouth {mouth} m",
            "Keele, AES 51st Convention, 1975", "V2", hz, 1e-4, "Hz",
            lambda a=angle, m=mouth: control_from_hz(coverage_deg=a, mouth_m=m),
        )  # fmt: skip

"""How far wind and warm or cold air bend the sound on its way to the last row, outdoors.

In a layer whose effective speed of sound grows with height by g = dc/dz (1/s), rays are arcs of
radius R = c/g (Kinsler et al., as an architectural-acoustics text gives it).  Over a throw L the
direction turns by L/R; the arc that ends at the row leaves L/2R away from the straight line.
Downwind, and over cold ground, g is positive: what reaches the row has left higher.

The wind grows with the logarithm of height (u ~ ln(z/z0), z0 = 0.03 m for open ground: from
memory); g is its mean between the box and the ears, and the temperature's c/2T per degree.  None
of this is in the proof.
"""

import numpy as np

from ..results.sound import Refraction
from ..scenario.scenario import Scenario, Weather
from ..speaker.pattern import read_table_db
from .placed_speaker import Placed, last_row_ear_m

ROUGHNESS_M = 0.03
LOWEST_M = 0.3
"""Nearer to the ground the law of the logarithm does not hold."""


def gradient_per_s(
    weather: Weather, *, low_m: float, high_m: float, c_m_s: float, temperature_c: float
) -> float:
    """Mean dc/dz between two heights over the ground, along the wind's own direction."""
    low, high = sorted((max(low_m, LOWEST_M), max(high_m, LOWEST_M)))
    warm = c_m_s / (2.0 * (temperature_c + 273.15)) * weather.temperature_gradient_c_m
    if weather.wind_speed_m_s == 0.0:
        return warm
    per_log = weather.wind_speed_m_s / np.log(weather.wind_height_m / ROUGHNESS_M)
    if high - low < 1e-6:
        return float(warm + per_log / low)
    return float(warm + per_log * np.log(high / low) / (high - low))


def turned_deg(throw_m: float, gradient_per_s: float, *, c_m_s: float) -> float:
    """How far the direction turns over a throw, positive down."""
    return float(np.degrees(throw_m * gradient_per_s / c_m_s))


def refraction_of(scenario: Scenario, at: Placed) -> Refraction | None:
    """At the farthest last row; None where the file states neither wind nor gradient."""
    weather = scenario.weather
    if weather is None:
        return None
    x, z = last_row_ear_m(scenario, at)
    place, c = at.placement, scenario.air.speed_of_sound_m_s
    dx, dz = x - place.x_m, z - place.height_m
    throw = float(np.hypot(dx, dz))
    ears = min(of.ear_height_m for of in scenario.seatings)
    ground = z - ears
    gradient = gradient_per_s(
        weather,
        low_m=ears,
        high_m=place.height_m - ground,
        c_m_s=c,
        temperature_c=scenario.air.temperature_c,
    )
    turned = turned_deg(throw, gradient, c_m_s=c)
    off = float(np.degrees(np.arctan2(dz, dx))) - place.tilt_deg
    pattern = at.problem.pattern
    turn = -1.0 if place.flipped else 1.0
    level = read_table_db(
        pattern.angle_deg, pattern.level_db, turn * np.array([off, off + 0.5 * turned])
    ).mean(axis=0)
    change = float(level[1] - level[0])
    return Refraction(
        gradient_per_s=gradient,
        throw_m=throw,
        turned_deg=turned,
        leaves_deg=0.5 * turned,
        last_row_db=change if np.isfinite(change) else None,
    )

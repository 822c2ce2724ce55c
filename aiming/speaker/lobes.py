"""Nominal patterns: what shape a lobe has when only its coverage angle is known.

Each formula is sampled into the one pattern table, finely enough that reading it linearly errs by
at most 0.001 dB.
"""

from collections.abc import Callable
from functools import lru_cache, partial
from typing import Literal

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.bands import exact_midband_hz
from .pattern import EDGE_DB, Pattern

Lobe = Literal["quadratic", "piston", "flat"]
READING_ERROR_DB = 0.001
PISTON_EDGE = 2.215089
"""x where 2·J1(x)/x is half; Kinsler et al., Fundamentals of Acoustics, §7.4 (value recomputed)."""
_FINEST_DEG = 1e-4


def quadratic_db(off_axis_deg: FloatArray, half_deg: float) -> FloatArray:
    """−20·lg 2·(φ/half)² (dB): −6.02 dB at the coverage edge."""
    return np.asarray(-EDGE_DB * (off_axis_deg / half_deg) ** 2)


def flat_db(off_axis_deg: FloatArray, half_deg: float) -> FloatArray:
    """−20·lg 2·(φ/half)⁴ (dB): level across the middle, steeper at the edge; our own choice."""
    square = (off_axis_deg / half_deg) ** 2  # squared again: alike to the bit on both sides
    return np.asarray(-EDGE_DB * square * square)


def piston_db(off_axis_deg: FloatArray, half_deg: float) -> FloatArray:
    """20·lg|2·J1(x)/x|, x = 2.215089·sin φ / sin half, held beyond ±90°; half at most 90°.

    Kinsler et al., Fundamentals of Acoustics, §7.4 (circular piston in a baffle).
    """
    sine = np.sin(np.radians(np.minimum(np.abs(off_axis_deg), 90.0)))
    x = PISTON_EDGE * sine / np.sin(np.radians(min(half_deg, 90.0)))
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(_jinc(x)), 1e-12)))


def _jinc(x: FloatArray) -> FloatArray:
    """2·J1(x)/x for x ≥ 0, from Bessel's integral J1(x) = (2/π)∫sin t·sin(x·sin t)dt over 0…π/2.

    The trapezoid rule is exact to rounding here, since the integrand is a quarter of a periodic
    one: with m points in the whole period the error is of the order J_(m−1)(x), nil for x well
    below m.  (scipy.special would cost the solving path several times numpy's own import.)
    """
    quarter = 16 + int(np.ceil(0.25 * np.max(x, initial=0.0)))
    sine = np.sin(np.linspace(0.0, 0.5 * np.pi, quarter + 1)[1:])
    weight = sine / quarter
    weight[-1] *= 0.5
    j1 = np.sin(x[..., np.newaxis] * sine) @ weight
    return np.divide(2.0 * j1, x, out=np.ones_like(x), where=x >= 1e-6)


SHAPES: dict[str, Callable[[FloatArray, float], FloatArray]] = {
    "quadratic": quadratic_db,
    "piston": piston_db,
    "flat": flat_db,
}


@lru_cache(maxsize=64)
def nominal_pattern(
    *,
    above_deg: float,
    below_deg: float,
    bands_hz: tuple[float, ...],
    lobe: Lobe = "quadratic",
    control_from_hz: float | None = None,
    lowest_db: float = -24.0,
) -> Pattern:
    """The table of a lobe with these half-angles (degrees above and below the axis, as built).

    Below control_from_hz both half-angles grow as control_from_hz / f, f the exact mid-band.
    No direction falls below lowest_db.  Kept, since a sweep asks for the same few lobes often.
    """
    shape = SHAPES[lobe]

    def level_db(off_axis_deg: FloatArray, half_deg: float) -> FloatArray:
        return np.maximum(shape(off_axis_deg, half_deg), lowest_db)

    def halves_deg(band_hz: float) -> tuple[float, float]:
        by = max(1.0, (control_from_hz or 0.0) / exact_midband_hz(band_hz))
        return above_deg * by, below_deg * by

    # Each half once: alike to the bit above and below where the half-angles are alike.
    widths = dict.fromkeys(half for band in bands_hz for half in halves_deg(band))
    off_axis = _sample_angles([partial(level_db, half_deg=half) for half in widths])
    by_width = {half: level_db(off_axis, half) for half in widths}
    levels = [
        np.concatenate([by_width[below][:0:-1], by_width[above]])
        for above, below in map(halves_deg, bands_hz)
    ]
    whole = above_deg + below_deg
    return Pattern(
        angle_deg=frozen(np.concatenate([-off_axis[:0:-1], off_axis])),
        band_hz=bands_hz,
        level_db=frozen(np.stack(levels)),
        reference=f"{lobe} lobe fitted to a coverage angle of {whole:.4g}°",
    )


def _sample_angles(formulas: list[Callable[[FloatArray], FloatArray]]) -> FloatArray:
    """(n,) angles from the axis, 0 to 180, at which all formulas read linearly within the error."""
    start = np.linspace(0.0, 180.0, 91)
    found, low, high = [start], start[:-1], start[1:]
    while len(low):
        worst = np.zeros(len(low))
        fifths = low + np.array([[0.0], [0.25], [0.5], [0.75], [1.0]]) * (high - low)
        for formula in formulas:
            level = formula(fifths)
            for place, share in ((1, 0.25), (2, 0.5), (3, 0.75)):
                read = level[0] + share * (level[4] - level[0])
                worst = np.maximum(worst, np.abs(level[place] - read))
        # 0.8: the largest error need not sit at a quarter point.
        coarse = (worst > 0.8 * READING_ERROR_DB) & (high - low > _FINEST_DEG)
        low, high = low[coarse], high[coarse]
        middle = 0.5 * (low + high)
        found.append(middle)
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
    return np.sort(np.concatenate(found))

"""Nominal patterns: what shape a lobe has when only its coverage angle is known.

Each formula is sampled into the one pattern table, finely enough that reading it linearly errs by
at most 0.001 dB.
"""

from collections.abc import Callable
from typing import Literal

import numpy as np

from ..arrays import FloatArray, frozen
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
    """2·J1(x)/x for x ≥ 0, from Bessel's integral J1(x) = (1/π)∫cos(t − x·sin t)dt over 0…π.

    The trapezoid rule is exact to rounding here, since the integrand is periodic: with m points the
    error is of the order J_(2m−1)(x), nil for x well below 2m.  (scipy.special would cost the
    solving path several times numpy's own import.)
    """
    points = 64 + int(np.ceil(np.max(x, initial=0.0)))
    t = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    j1 = np.cos(t - x[..., np.newaxis] * np.sin(t)).mean(axis=-1)
    return np.asarray(np.where(x < 1e-6, 1.0, 2.0 * j1 / np.where(x < 1e-6, 1.0, x)))


SHAPES: dict[str, Callable[[FloatArray, float], FloatArray]] = {
    "quadratic": quadratic_db,
    "piston": piston_db,
    "flat": flat_db,
}


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

    Below control_from_hz both half-angles grow as control_from_hz / f, f the nominal mid-band.
    No direction falls below lowest_db.
    """
    shape = SHAPES[lobe]

    def of_band(band_hz: float) -> Callable[[FloatArray], FloatArray]:
        wider = max(1.0, control_from_hz / band_hz) if control_from_hz else 1.0

        def level(angle_deg: FloatArray) -> FloatArray:
            above = shape(angle_deg, above_deg * wider)
            below = shape(angle_deg, below_deg * wider)
            return np.maximum(np.where(angle_deg >= 0.0, above, below), lowest_db)

        return level

    formulas: dict[float, Callable[[FloatArray], FloatArray]] = {}
    for band in bands_hz:
        wider = max(1.0, control_from_hz / band) if control_from_hz else 1.0
        formulas.setdefault(wider, of_band(band))
    angle = _sample_angles(list(formulas.values()))
    by_width = {wider: formula(angle) for wider, formula in formulas.items()}
    levels = [
        by_width[max(1.0, control_from_hz / band) if control_from_hz else 1.0] for band in bands_hz
    ]
    whole = above_deg + below_deg
    return Pattern(
        angle_deg=frozen(angle),
        band_hz=bands_hz,
        level_db=frozen(np.stack(levels)),
        reference=f"{lobe} lobe fitted to a coverage angle of {whole:.4g}°",
    )


def _sample_angles(formulas: list[Callable[[FloatArray], FloatArray]]) -> FloatArray:
    """(n,) angles, symmetric about 0, at which all formulas read linearly within the error."""
    angle = np.linspace(0.0, 180.0, 91)
    while True:
        low, high = angle[:-1], angle[1:]
        worst = np.zeros(len(low))
        for formula in formulas:
            for side in (1.0, -1.0):
                at_low, at_high = formula(side * low), formula(side * high)
                for share in (0.25, 0.5, 0.75):
                    exact = formula(side * (low + share * (high - low)))
                    read = at_low + share * (at_high - at_low)
                    worst = np.maximum(worst, np.abs(exact - read))
        # 0.8: the largest error need not sit at a quarter point.
        coarse = (worst > 0.8 * READING_ERROR_DB) & (high - low > _FINEST_DEG)
        if not coarse.any():
            return np.concatenate([-angle[:0:-1], angle])
        angle = np.sort(np.concatenate([angle, 0.5 * (low + high)[coarse]]))

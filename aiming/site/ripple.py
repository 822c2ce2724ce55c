"""The floor's ripple in a finely resolved trace: foreseen from the image path, fitted, taken out.

A microphone over a hard floor hears the sound twice, the second time Δ later: the trace is
multiplied
by |1 + ρ·e^(−i2πfΔ/c)|, with notches at odd multiples of c/(2Δ).  Δ is known from the section; ρ,
and Δ within a tenth, are fitted together with a smooth trace underneath (a polynomial in log f).
"""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray, frozen
from .model import Ripple
from .prediction import Points, Prediction
from .traces import Trace

FROM_HZ, TO_HZ = 200.0, 10_000.0
SMOOTH = 6
"""Terms of the smooth trace underneath."""
EXPLAINS = 0.5
"""Share of what is left of the smooth trace that the ripple must explain to be called the floor."""
LEAST_SHARE = 0.12
FEWEST = 40


def ripples_taken_out(
    traces: tuple[Trace, ...], prediction: Prediction, points: Points
) -> tuple[tuple[Trace, ...], tuple[Ripple, ...]]:
    """The traces without the ripples that are the floor's, and those ripples."""
    cleaned, found = [], []
    plan = prediction.plan
    for n, trace in enumerate(traces):
        far = np.hypot(points.image_m[n, 0] - plan.x_m, points.image_m[n, 1] - plan.height_m)
        near = np.hypot(points.x_m[n] - plan.x_m, points.z_m[n] - plan.height_m)
        detour = float(far - near)
        # None of a microphone that lies on the floor, and none where no floor is known.
        fitted = fit_ripple(trace, detour, prediction.speed_m_s) if detour > 0.0 else None
        if fitted is None:
            cleaned.append(trace)
            continue
        share, detour, level = fitted
        cleaned.append(replace(trace, level_db=frozen(trace.level_db - level)))
        found.append(Ripple(trace.position, share, prediction.speed_m_s / (2.0 * detour), detour))
    return tuple(cleaned), tuple(found)


def fit_ripple(
    trace: Trace, detour_m: float, speed_m_s: float
) -> tuple[float, float, FloatArray] | None:
    """(ρ, Δ, ripple in dB at every frequency of the trace); None where there is none to be seen."""
    f = trace.frequency_hz
    used = (f >= FROM_HZ) & (f <= TO_HZ)
    spacing = speed_m_s / detour_m
    if used.sum() < FEWEST:
        return None
    # Above where two notches share a few lines, there is nothing to be fitted.
    fine = used & (np.gradient(f) < 0.2 * spacing)
    if fine.sum() < FEWEST or np.ptp(f[fine]) < 1.5 * spacing:
        return None
    x = np.log(f[fine])
    x = 2.0 * (x - x.min()) / np.ptp(x) - 1.0
    basis, _ = np.linalg.qr(np.polynomial.chebyshev.chebvander(x, SMOOTH - 1))
    level = trace.level_db[fine]
    rest = level - basis @ (basis.T @ level)
    share = np.linspace(0.05, 0.95, 19)
    stretch = np.linspace(0.9, 1.1, 41)
    best: tuple[float, float, float] = (np.inf, 0.0, 1.0)
    for by in stretch:
        ripple = ripple_db(f[fine], share[:, None], by * detour_m, speed_m_s)
        ripple = ripple - (ripple @ basis) @ basis.T
        left = ((rest - ripple) ** 2).sum(axis=1)
        k = int(np.argmin(left))
        if left[k] < best[0]:
            best = (float(left[k]), float(share[k]), float(by))
    left_over, rho, by = best
    if left_over > (1.0 - EXPLAINS) * float(rest @ rest) or rho < LEAST_SHARE:
        return None
    detour = by * detour_m
    return rho, detour, ripple_db(f, rho, detour, speed_m_s)


def ripple_db(
    frequency_hz: FloatArray, share: npt.ArrayLike, detour_m: float, speed_m_s: float
) -> FloatArray:
    """20·lg |1 + ρ·e^(−i2πfΔ/c)|, dB re the direct sound; share ρ broadcasts against (f,)."""
    rho = np.asarray(share, dtype=np.float64)
    turn = np.cos(2.0 * np.pi * frequency_hz * detour_m / speed_m_s)
    return np.asarray(10.0 * np.log10(1.0 + rho**2 + 2.0 * rho * turn))

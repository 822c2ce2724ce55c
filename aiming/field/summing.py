"""Several loudspeakers at the same rows: when they arrive, and their sum with its phase.

Two that play the same add up with their relative phase.  At one frequency f and a difference of
arrival Δt the energies a² and b² give a² + b² + 2ab·cos 2πfΔt.  A level in a band is taken from a
band of noise, so the cosine is averaged over the band's frequencies,

    mean cos 2πfΔt  over [f1, f2]  =  cos π(f1 + f2)Δt · sin π(f2 − f1)Δt / (π(f2 − f1)Δt),

which is 1 in step and goes to nothing once the arrivals are further apart than the band's own
ripple: then the energies just add.

Limits.  Straight ways in still air; the phase that pattern, crossover, filters and screening add is
not known and counts as alike; the spectrum is taken as even over each band, its edges as in IEC
61260-1.  Single tones, and the comb's teeth within a band, differ from this.
"""

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import edges_hz, exact_midband_hz, width_of

FAINTEST = 1e-30
"""Share of the whole energy below which nothing is told from nothing."""


def arrival_ms(distance_m: FloatArray, *, c_m_s: float, delay_ms: float = 0.0) -> FloatArray:
    """When a sound let off at time 0 with this delay arrives over these distances."""
    return np.asarray(1000.0 * distance_m / c_m_s + delay_ms)


def in_step_share(difference_ms: FloatArray, bands_hz: tuple[float, ...]) -> FloatArray:
    """(bands, …) mean of cos 2πfΔt over each band for differences of arrival (…)."""
    per_octave = 1 if width_of(bands_hz) == "octave" else 3
    edges = [edges_hz(exact_midband_hz(band), per_octave=per_octave) for band in bands_hz]
    difference_s = difference_ms / 1000.0
    return np.stack(
        [
            np.cos(np.pi * (low + high) * difference_s) * np.sinc((high - low) * difference_s)
            for low, high in edges
        ]
    )


def coherent_sum_db(
    levels_db: FloatArray, arrivals_ms: FloatArray, bands_hz: tuple[float, ...]
) -> FloatArray:
    """(bands, n) sum of levels (s, bands, n) that arrive at (s, n), phase counted."""
    loudest = np.max(levels_db, axis=0)
    anchor = np.where(np.isfinite(loudest), loudest, 0.0)
    size = 10.0 ** ((levels_db - anchor) / 20.0)
    energy = (size**2).sum(axis=0)
    whole = energy.copy()
    for one in range(len(size)):
        for other in range(one):
            apart = arrivals_ms[one] - arrivals_ms[other]
            whole += 2.0 * size[one] * size[other] * in_step_share(apart, bands_hz)
    return np.asarray(10.0 * np.log10(np.maximum(whole, FAINTEST * energy)) + anchor)

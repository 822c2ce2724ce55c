"""Measured frequencies into fractional-octave bands, by energy.

Every measured frequency stands for the stretch of the log-frequency axis that is nearest to it; a
band takes each in proportion to the part of the band that it stands for.  So thirds make an octave
with equal shares, the lines of a spectrum are weighted as pink noise would weight them, and a band
between two coarse columns takes the nearer one.
"""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import (
    OCTAVE_RATIO,
    OCTAVES_HZ,
    THIRDS_HZ,
    Width,
    band_label,
    edges_hz,
    exact_midband_hz,
    width_of,
)

HALF_OCTAVE = 0.5 * float(np.log(OCTAVE_RATIO))
LEAST_SHARE = 0.5
"""A band of which less than this is measured counts as not measured; our own choice."""
WHOLE_SHARE = 0.97
"""Rounded frequencies may leave a sliver of a band bare without a word."""


@dataclass(frozen=True, eq=False)
class BandPlan:
    """Which measured frequency makes which band.

    share: (f, b), each column adds to 1
    missing: bands asked for that the data do not hold
    column: (b,) the one measured frequency that a band comes from, −1 where from several
    """

    band_hz: tuple[float, ...]
    share: FloatArray
    missing: tuple[float, ...]
    column: tuple[int, ...]
    notes: tuple[str, ...]


def plan_bands(
    frequency_hz: FloatArray,
    *,
    bands_hz: tuple[float, ...] | None,
    also_hz: tuple[float, ...] = (),
    width: Width | None,
) -> BandPlan:
    """How the measured frequencies (f,), ascending, in Hz, make the bands.

    bands_hz: nominal mid-bands; None takes all that the data hold
    also_hz: further bands, taken where the data hold them and not missed where they do not
    width: None takes octaves where every band asked for is one (or, with nothing asked, where the
        data are coarser than thirds), otherwise thirds
    """
    exact = _exact(frequency_hz)
    low, high = _stretches(exact)
    if width is None:
        third = 2.0 * HALF_OCTAVE / 3.0
        data: Width = "octave" if np.median(high - low) > 1.2 * third else "third"
        width = data if bands_hz is None else width_of(bands_hz)
    if bands_hz is None:
        wanted: tuple[float, ...] = OCTAVES_HZ if width == "octave" else THIRDS_HZ
    else:
        wanted = (*bands_hz, *(band for band in also_hz if band not in bands_hz))
    per_octave = 1 if width == "octave" else 3
    edges = [edges_hz(exact_midband_hz(band), per_octave=per_octave) for band in wanted]
    bottom, top = np.log(np.array(edges)).T
    overlap = np.minimum(high[:, np.newaxis], top) - np.maximum(low[:, np.newaxis], bottom)
    overlap[overlap < 1e-6] = 0.0
    filled = overlap.sum(axis=0) / (top - bottom)
    held = np.flatnonzero(filled >= LEAST_SHARE)
    share = overlap[:, held] / overlap[:, held].sum(axis=0)
    band_hz = tuple(wanted[k] for k in held)
    single = np.where(share.max(axis=0) == 1.0, share.argmax(axis=0), -1)
    notes = []
    partly = [f"{band_label(wanted[k])} ({100 * filled[k]:.0f} %)" for k in held
              if filled[k] < WHOLE_SHARE]  # fmt: skip
    if partly:
        notes.append(f"measured over a part of the band only: {', '.join(partly)}")
    wide = (high - low)[np.argmax(share, axis=0)] > 1.2 * (top - bottom)[held]
    coarse = [band_label(band) for band, is_wide in zip(band_hz, wide, strict=True) if is_wide]
    if coarse:
        notes.append(
            f"the data are coarser than the {width} bands {', '.join(coarse)}: "
            "each takes the nearest frequency that was measured"
        )
    return BandPlan(
        band_hz=band_hz,
        share=share,
        missing=tuple(band for band in bands_hz or () if band not in band_hz),
        column=tuple(int(k) for k in single),
        notes=tuple(notes),
    )


def band_levels_db(level_db: FloatArray, plan: BandPlan) -> FloatArray:
    """(b, n) energy averages of the levels (n, f) in dB; NaN where a part of the band is NaN."""
    hole = np.isnan(level_db)
    power = np.where(hole, 0.0, 10.0 ** (level_db / 10.0))
    with np.errstate(divide="ignore"):
        level = 10.0 * np.log10(plan.share.T @ power.T)
    if hole.any():
        level[(plan.share.T > 0.0).astype(float) @ hole.T.astype(float) > 0.0] = np.nan
    # A band of one column is that column, not its power and back to the last digit but one.
    for band, column in enumerate(plan.column):
        if column >= 0:
            level[band] = level_db[:, column]
    return np.asarray(level)


def _exact(frequency_hz: FloatArray) -> FloatArray:
    """Nominal or rounded third-octave mid-bands as exact ones; any other frequencies unchanged."""
    step = np.round(10.0 * np.log10(frequency_hz))
    exact = 10.0 ** (step / 10.0)
    named = np.all(np.abs(frequency_hz / exact - 1.0) < 0.0125) and np.all(np.diff(step) > 0)
    return exact if named else frequency_hz


def _stretches(frequency_hz: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Low and high end (f,) of what each frequency stands for, in ln Hz.

    Half-way to its neighbours, and never more than half an octave.
    """
    place = np.log(frequency_hz)
    if len(place) == 1:
        return place - HALF_OCTAVE, place + HALF_OCTAVE
    half = 0.5 * np.diff(place)
    most = 1.02 * HALF_OCTAVE
    below = np.minimum(np.append(half[0], half), most)
    above = np.minimum(np.append(half, half[-1]), most)
    return place - below, place + above

"""Data that cannot be right, or may not be: said, never mended."""

import numpy as np

from ...arrays import FloatArray
from ...bands import band_label
from ...speaker.pattern import Pattern
from .result import Doubt

STEP_DB = 10.0
GAP_RATIO = 2.5
GAP_LEAST_DEG = 5.0
ALIKE_DECIMALS = 6


def find_doubts(pattern: Pattern, *, column: tuple[int, ...]) -> tuple[Doubt, ...]:
    """What is doubtful in a table.

    column: (b,) the measured frequency that a band comes from alone; negative where from several
    """
    found = _gaps(pattern.angle_deg)
    for band, level in zip(pattern.band_hz, pattern.level_db, strict=True):
        found += _holes(pattern.angle_deg, band, level)
        found += _steps(pattern.angle_deg, band, level)
    return tuple(found + _identical(pattern, column))


def _gaps(angle_deg: FloatArray) -> list[Doubt]:
    step = np.diff(angle_deg)
    wide = step > max(GAP_LEAST_DEG, GAP_RATIO * float(np.median(step)))
    return [
        Doubt(
            code="gap",
            band_hz=(),
            angle_deg=(float(low), float(high)),
            text=f"no angle was measured between {low:g}° and {high:g}°: "
            "levels there are read linearly across the gap",
        )
        for low, high in zip(angle_deg[:-1][wide], angle_deg[1:][wide], strict=True)
    ]


def _holes(angle_deg: FloatArray, band_hz: float, level_db: FloatArray) -> list[Doubt]:
    hole = np.isnan(level_db)
    if not hole.any():
        return []
    starts = np.flatnonzero(hole & ~np.append(False, hole[:-1]))
    ends = np.flatnonzero(hole & ~np.append(hole[1:], False))
    places = ", ".join(
        f"{angle_deg[a]:g}°" if a == b else f"{angle_deg[a]:g}° to {angle_deg[b]:g}°"
        for a, b in zip(starts[:5], ends[:5], strict=True)
    )
    more = f" and {len(starts) - 5} more places" if len(starts) > 5 else ""
    return [
        Doubt(
            code="hole",
            band_hz=(band_hz,),
            angle_deg=(float(angle_deg[starts[0]]), float(angle_deg[ends[-1]])),
            text=f"{band_label(band_hz)} has no level at {places}{more}: "
            "unknown there and up to the neighbouring angles",
        )
    ]


def _steps(angle_deg: FloatArray, band_hz: float, level_db: FloatArray) -> list[Doubt]:
    step = np.abs(np.diff(level_db))
    large = int(np.sum(step > STEP_DB))
    if not large:
        return []
    worst = int(np.nanargmax(step))
    low, high = float(angle_deg[worst]), float(angle_deg[worst + 1])
    more = f" (and {large - 1} more such steps)" if large > 1 else ""
    return [
        Doubt(
            code="step",
            band_hz=(band_hz,),
            angle_deg=(low, high),
            text=f"{band_label(band_hz)} steps by {step[worst]:.1f} dB between {low:g}° and "
            f"{high:g}°{more}: a null too coarsely measured, or a fault in the data",
        )
    ]


def _identical(pattern: Pattern, column: tuple[int, ...]) -> list[Doubt]:
    groups: dict[bytes, list[int]] = {}
    for position, level_db in enumerate(pattern.level_db):
        if np.ptp(level_db[~np.isnan(level_db)]) > 10.0**-ALIKE_DECIMALS:
            key = (np.round(level_db, ALIKE_DECIMALS) + 0.0).tobytes()
            groups.setdefault(key, []).append(position)
    found = []
    for group in groups.values():
        # Bands that come from one measured frequency alone cannot but be identical.
        differ = {column[k] if column[k] >= 0 else -1 - k: k for k in reversed(group)}
        bands = tuple(pattern.band_hz[k] for k in sorted(differ.values()))
        if len(bands) > 1:
            names = ", ".join(band_label(band) for band in bands)
            text = f"{names} are identical at every angle: copied columns?"
            found.append(Doubt("identical", bands, None, text))
    return found

"""Levels against angle into the pattern that travels: what both kinds of file end in."""

import numpy as np

from ...arrays import FloatArray, frozen
from ...bands import band_label
from ...speaker.pattern import Pattern
from .banding import BandPlan
from .doubts import find_doubts
from .plane import finish_plane
from .result import PatternFile, Place, Resolution


def check_bands(plan: BandPlan, frequency_hz: FloatArray, place: Place) -> None:
    """Refuse a file without the bands asked for, or without any."""
    faults = [
        place.fault(
            "bands",
            f"found no data for the band {band_label(band)}; the file holds frequencies "
            f"from {frequency_hz[0]:g} to {frequency_hz[-1]:g} Hz",
        )
        for band in plan.missing
    ]
    if not faults and not plan.band_hz:
        faults = [place.fault("bands", "found no frequency in any band; 10 Hz to 20 kHz")]
    place.refuse_all(faults)


def as_pattern_file(
    angle_deg: FloatArray,
    level_db: FloatArray,
    *,
    plan: BandPlan,
    frequency_hz: FloatArray,
    directions: int,
    notes: tuple[str, ...],
    reference: str,
    place: Place,
) -> tuple[PatternFile, FloatArray]:
    """The finished pattern, and the (b,) on-axis levels in dB that it was shifted by.

    angle_deg: (n,) ascending; level_db: (b, n), NaN in holes
    """
    plane = finish_plane(angle_deg, level_db, plan.band_hz, place)
    pattern = Pattern(
        angle_deg=frozen(plane.angle_deg),
        band_hz=plan.band_hz,
        level_db=frozen(plane.level_db),
        reference=reference,
    )
    step = np.diff(angle_deg)
    found = PatternFile(
        pattern=pattern,
        notes=(*notes, *plan.notes, *plane.notes),
        doubts=find_doubts(pattern, column=plan.column),
        resolution=Resolution(
            angles=len(angle_deg),
            typical_step_deg=float(np.median(step)),
            widest_step_deg=float(np.max(step)),
            low_deg=float(angle_deg[0]),
            high_deg=float(angle_deg[-1]),
            frequencies=len(frequency_hz),
            lowest_hz=float(frequency_hz[0]),
            highest_hz=float(frequency_hz[-1]),
            directions=directions,
        ),
    )
    return found, plane.shift_db

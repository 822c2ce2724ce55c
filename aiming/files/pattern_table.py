"""The vertical plane as the one pattern table wants it: a closed turn, 0 dB on axis."""

from dataclasses import dataclass

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.bands import band_label
from ..base.errors import ScenarioError
from ..speaker.pattern import Pattern, read_table_db
from .banding import BandPlan
from .pattern_result import Doubt, PatternFile, Place, Resolution

SEAM_LARGEST_DEG = 30.0
SAID_SHIFT_DB = 0.005
SAID_LOUDER_DB = 0.05
FLOOR_DB = -200.0
"""A null of nothing at all (−∞ dB) is read as this, so that it can be read between."""


@dataclass(frozen=True, eq=False)
class Finished:
    """angle_deg (n,), level_db (b, n) 0 dB on axis, shift_db (b,) what was taken away."""

    angle_deg: FloatArray
    level_db: FloatArray
    shift_db: FloatArray
    notes: tuple[str, ...]


def finish_plane(
    angle_deg: FloatArray, level_db: FloatArray, band_hz: tuple[float, ...], place: Place
) -> Finished:
    """Close the turn behind the box where it was measured all round, and put 0 dB on the axis.

    angle_deg: (n,) ascending within [−180, 180]; level_db: (b, n), NaN in holes, −∞ in nulls
    Raises ScenarioError where the axis was not measured.
    """
    angle_deg, level_db, notes = _closed(angle_deg, level_db)
    if not angle_deg[0] <= 0.0 <= angle_deg[-1]:
        place.refuse("angle", f"found {angle_deg[0]:g}° to {angle_deg[-1]:g}°; "
                     "a range with the axis (0°) in it")  # fmt: skip
    if 0.0 not in angle_deg:
        after = int(np.searchsorted(angle_deg, 0.0))
        low, high = angle_deg[after - 1], angle_deg[after]
        notes.append(f"the axis itself was not measured: it is read between {low:g}° and {high:g}°")
        on_axis = read_table_db(angle_deg, level_db, 0.0)
        angle_deg = np.insert(angle_deg, after, 0.0)
        level_db = np.insert(level_db, after, on_axis, axis=1)
    shift_db = level_db[:, int(np.searchsorted(angle_deg, 0.0))]
    for band, shift in zip(band_hz, shift_db, strict=True):
        if not np.isfinite(shift):
            found = "no level" if np.isnan(shift) else "no sound at all"
            place.refuse("angle", f"found {found} on the axis (0°) at {band_label(band)}; "
                         "a level to refer the band to")  # fmt: skip
    level_db = np.maximum(level_db - shift_db[:, np.newaxis], FLOOR_DB)
    notes += _shift_notes(shift_db)
    loudest = np.nanmax(level_db, axis=1)
    for band, top, row in zip(band_hz, loudest, level_db, strict=True):
        if top > SAID_LOUDER_DB:
            where = float(angle_deg[int(np.nanargmax(row))])
            side = "above" if where > 0.0 else "below"
            notes.append(
                f"{band_label(band)} is loudest {abs(where):g}° {side} the axis, "
                f"{top:+.1f} dB; kept so"
            )
    if angle_deg[0] > -180.0 or angle_deg[-1] < 180.0:
        notes.append(
            f"measured from {angle_deg[0]:g}° to {angle_deg[-1]:g}° only; "
            "what lies beyond is unknown"
        )
    return Finished(angle_deg, level_db, shift_db, tuple(notes))


def _closed(
    angle_deg: FloatArray, level_db: FloatArray
) -> tuple[FloatArray, FloatArray, list[str]]:
    """−180° and 180° are one direction: what is measured at one end stands at both."""
    seam = 360.0 - float(angle_deg[-1] - angle_deg[0])
    if seam == 0.0:
        return angle_deg, level_db, []
    if angle_deg[-1] == 180.0 and _next_door(angle_deg, seam):
        return np.append(-180.0, angle_deg), np.column_stack([level_db[:, -1], level_db]), []
    if angle_deg[0] == -180.0 and _next_door(angle_deg, seam):
        return np.append(angle_deg, 180.0), np.column_stack([level_db, level_db[:, 0]]), []
    if not _next_door(angle_deg, seam):
        return angle_deg, level_db, []
    share = (180.0 - angle_deg[-1]) / seam
    back = level_db[:, -1] + share * (level_db[:, 0] - level_db[:, -1])
    note = f"behind the box the level is read between {angle_deg[-1]:g}° and {angle_deg[0]:g}°"
    return (
        np.concatenate([[-180.0], angle_deg, [180.0]]),
        np.column_stack([back, level_db, back]),
        [note],
    )


def _next_door(angle_deg: FloatArray, seam_deg: float) -> bool:
    """Whether the two ends are neighbours like the others, so that reading between them is fair."""
    return seam_deg <= min(SEAM_LARGEST_DEG, 1.5 * float(np.max(np.diff(angle_deg))) + 1e-9)


def _shift_notes(shift_db: FloatArray) -> list[str]:
    low, high = np.round([shift_db.min(), shift_db.max()], 3) + 0.0
    if max(abs(low), abs(high)) <= SAID_SHIFT_DB:
        return []
    size = f"{low:.1f} dB" if high - low < 0.05 else f"{low:.1f} to {high:.1f} dB"
    return [f"the file is not 0 dB on axis: every band was shifted by its level there ({size})"]


# Data that cannot be right, or may not be: said, never mended.

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


# Levels against angle into the pattern that travels: what both kinds of file end in.


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
    if faults:
        raise ScenarioError(faults)


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

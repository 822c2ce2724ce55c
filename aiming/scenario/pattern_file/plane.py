"""The vertical plane as the one pattern table wants it: a closed turn, 0 dB on axis."""

from dataclasses import dataclass

import numpy as np

from ...arrays import FloatArray
from ...bands import band_label
from ...speaker.pattern import read_table_db
from .result import Place

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

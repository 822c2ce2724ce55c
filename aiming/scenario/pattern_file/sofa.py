"""AES69 (SOFA) files of the convention FreeFieldDirectivityTF.

Spectra are read block by block and leave only their bands behind, so that a file of tens of
thousands of directions fits into a small memory.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from ...arrays import FloatArray, frozen
from ...errors import MissingExtraError
from ...speaker.sphere import Sphere
from .banding import BandPlan
from .plane import FLOOR_DB
from .result import PatternFile, Place
from .sofa_directions import directions
from .sofa_file import (
    MOST_DIRECTIONS,
    check_convention,
    frequencies,
    shape_text,
    taking,
    text_of,
    variable,
)
from .table import as_pattern_file, check_bands
from .vertical import one_level_each, vertical_plane

BLOCK_VALUES = 4_000_000


def read_sofa(path: Path, *, place: Place, plan: Callable[[FloatArray], BandPlan]) -> PatternFile:
    """The pattern of an AES69 file; plan tells how its frequencies in Hz make the bands."""
    try:
        import h5py
    except ImportError:
        raise MissingExtraError(
            package="h5py", extra="sofa", purpose="reading an AES69 (SOFA) file"
        ) from None
    with taking(place, "file"):
        if not h5py.is_hdf5(path):
            place.refuse("file", "found no HDF5 file; AES69 (SOFA) files are HDF5")
        file = h5py.File(path, "r")
    with file:
        return _read(file, place=place, plan=plan)


def _read(file: Any, *, place: Place, plan: Callable[[FloatArray], BandPlan]) -> PatternFile:
    check_convention(file, place)
    frequency_hz = frequencies(file, place)
    real, imag = variable(file, "Data.Real", place), variable(file, "Data.Imag", place)
    _check_shapes(real, imag, len(frequency_hz), place)
    measurements, receivers, _ = real.shape
    direction = directions(file, measurements, receivers, place)
    # A line at 0 Hz is part of no band.
    heard = frequency_hz > 0.0
    bands = plan(frequency_hz[heard])
    check_bands(bands, frequency_hz[heard], place)
    share = np.zeros((len(frequency_hz), len(bands.band_hz)))
    share[heard] = bands.share
    level_db = _band_levels_db(real, imag, share, place)
    direction, level_db, repeat_notes = one_level_each(direction, level_db, place)
    plane = vertical_plane(direction, level_db, place)
    title = text_of(file, "Title", place)
    found, shift_db = as_pattern_file(
        plane.angle_deg,
        plane.level_db,
        plan=bands,
        frequency_hz=frequency_hz[heard],
        directions=len(direction),
        notes=(*repeat_notes, *plane.notes),
        reference=f"{place.display} ({title})" if title else place.display,
        place=place,
    )
    if np.all(np.abs(direction[:, 1]) < 1e-3):
        return found
    sphere = Sphere(
        direction=frozen(direction),
        band_hz=bands.band_hz,
        level_db=frozen(np.maximum(level_db - shift_db[:, np.newaxis], FLOOR_DB)),
    )
    return replace(found, sphere=sphere)


def _check_shapes(real: Any, imag: Any, frequencies_held: int, place: Place) -> None:
    shape = real.shape
    if len(shape) != 3 or 0 in shape:
        place.refuse("Data.Real", f"found {shape_text(shape)} values; "
                     "measurements × receivers × frequencies")  # fmt: skip
    if imag.shape != shape:
        place.refuse("Data.Imag", f"found {shape_text(imag.shape)} values; "
                     f"{shape_text(shape)} as in Data.Real")  # fmt: skip
    if shape[2] != frequencies_held:
        place.refuse("N", f"found {frequencies_held:,} frequencies; "
                     f"{shape[2]:,} as in Data.Real")  # fmt: skip
    if shape[0] * shape[1] > MOST_DIRECTIONS:
        place.refuse("Data.Real", f"found {shape[0] * shape[1]:,} directions; "
                     f"at most {MOST_DIRECTIONS:,}")  # fmt: skip


def _band_levels_db(real: Any, imag: Any, share: FloatArray, place: Place) -> FloatArray:
    """(b, M·R) band levels from the spectra, by energy; share is (N, b)."""
    measurements, receivers, lines = real.shape
    level_db = np.empty((share.shape[1], measurements, receivers))
    for part in _blocks(real):
        with taking(place, "Data.Real"), np.errstate(over="ignore"):
            power = np.square(real[part], dtype=np.float64)
            power += np.square(imag[part], dtype=np.float64)
            # One sum tells whether any of them is NaN or infinite.
            finite = np.isfinite(power.sum())
        if not finite:
            _refuse_not_finite(real, imag, part, place)
        band_power = power.reshape(-1, lines) @ share
        with np.errstate(divide="ignore"):
            band_db = 10.0 * np.log10(band_power)
        level_db[:, part[0], part[1]] = band_db.T.reshape(-1, *power.shape[:2])
    return level_db.reshape(len(level_db), -1)


def _blocks(data: Any) -> Iterator[tuple[slice, slice]]:
    """Slices over measurements and receivers that hold about BLOCK_VALUES values each.

    Along the receivers they keep to the file's own blocks, so that none is unpacked twice.
    """
    measurements, receivers, lines = data.shape
    own_m, own_r, _ = data.chunks or (1, 1, lines)
    many_r = _whole_blocks(BLOCK_VALUES // lines, own_r, receivers)
    many_m = _whole_blocks(BLOCK_VALUES // (lines * many_r), own_m, measurements)
    for m in range(0, measurements, many_m):
        for r in range(0, receivers, many_r):
            yield slice(m, min(m + many_m, measurements)), slice(r, min(r + many_r, receivers))


def _whole_blocks(wanted: int, own: int, most: int) -> int:
    return min(max(wanted // own, 1) * own, most)


def _refuse_not_finite(real: Any, imag: Any, part: tuple[slice, slice], place: Place) -> None:
    for name, data in (("Data.Real", real), ("Data.Imag", imag)):
        values = data[part]
        bad = np.argwhere(~np.isfinite(values))
        if len(bad):
            m, r, n = bad[0]
            where = f"[{part[0].start + m}, {part[1].start + r}, {n}]"
            place.refuse(name, f"found {values[m, r, n]} at {where}; finite numbers")
    place.refuse("Data.Real", "found values too large to square; magnitudes below 1e150")

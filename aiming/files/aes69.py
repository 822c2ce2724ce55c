"""An AES69 file's attributes, variables and promises, each checked before it is relied on.

AES69 (SOFA), convention FreeFieldDirectivityTF: an HDF5 file with the complex spectra Data.Real and
Data.Imag (M measurements × R receivers × N frequencies), N in hertz, and positions.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from math import prod
from pathlib import Path
from typing import Any

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.errors import MissingExtraError, ScenarioError, printable
from ..speaker.pattern_figures import Sphere
from .banding import BandPlan
from .pattern_result import PatternFile, Place
from .pattern_table import FLOOR_DB, as_pattern_file, check_bands
from .vertical_plane import one_level_each, vertical_plane

CONVENTION = "FreeFieldDirectivityTF"
MOST_VALUES = 1_000_000_000
MOST_DIRECTIONS = 1_000_000
MOST_NUMBERS = 10 * MOST_DIRECTIONS
"""Of positions, or of frequencies; these are in memory all at once."""
MOST_IN_BLOCK = 10_000_000
"""HDF5 unpacks a block as a whole, and a file of a few bytes can claim any size."""
LARGEST = 1e9
"""No position in metres or degrees, and no frequency, is larger."""
_WORDS = {
    "metre": "metre", "metres": "metre", "meter": "metre", "meters": "metre",
    "degree": "degree", "degrees": "degree", "hertz": "hertz",
}  # fmt: skip
"""The spellings of units that AES69 allows."""
UNITS = {"cartesian": "metre", "spherical": "degree, degree, metre"}


@contextmanager
def taking(place: Place, key: str) -> Iterator[None]:
    """Around every touch of the file: h5py tells of damage by exceptions of many kinds."""
    try:
        yield
    except ScenarioError:
        raise
    except (OSError, RuntimeError, KeyError, TypeError, ValueError) as error:
        reason = str(error).strip("'").split("(")[-1].rstrip(")")
        place.refuse(key, f"found a damaged or cut-off HDF5 file ({reason}); a whole one")


def text_of(holder: Any, name: str, place: Place) -> str:
    """A text attribute, "" where it is missing; h5py gives bytes, str or an array of one."""
    import h5py

    with taking(place, name):
        if name not in holder.attrs:
            return ""
        # Of a type that damage has changed HDF5 follows addresses that lead nowhere, and crashes.
        if not isinstance(holder.attrs.get_id(name).get_type(), h5py.h5t.TypeStringID):
            place.refuse(name, "found values that are no text; text")
        value = holder.attrs[name]
    if isinstance(value, np.ndarray):
        value = value.reshape(-1)[0] if value.size else ""
    if isinstance(value, h5py.Empty):
        return ""
    return printable(value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value))


def check_convention(file: Any, place: Place) -> None:
    """Refuse what is no AES69 file of this convention."""
    wanted = {"Conventions": "SOFA", "SOFAConventions": CONVENTION, "DataType": "TF"}
    for key, value in wanted.items():
        found = text_of(file, key, place) or "none"
        if found != value:
            place.refuse(key, f"found {found}; {value}, as an AES69 file of this kind says")


def variable(file: Any, name: str, place: Place) -> Any:
    """A numeric variable that holds all that its dimensions promise."""
    with taking(place, name):
        if type(file.get(name, getlink=True)).__name__ == "ExternalLink":
            place.refuse(name, "found a link to another file; the values themselves")
        found = file.get(name)
        if found is None or not hasattr(found, "shape"):
            place.refuse(name, f"found no such variable; {CONVENTION} must have it")
        if found.dtype.kind not in "fiu":
            place.refuse(name, "found text or other values; numbers")
        if prod(found.shape) > MOST_VALUES:
            place.refuse(name, f"found {shape_text(found.shape)} values; at most {MOST_VALUES:,}")
        _check_stored(found, name, place)
    return found


def _check_stored(found: Any, name: str, place: Place) -> None:
    """HDF5 hands out fill values for what was never written; that is no measurement."""
    if found.is_virtual or found.external is not None:
        place.refuse(name, "found values kept in another file; the values themselves")
    if found.chunks is not None and prod(found.chunks) > MOST_IN_BLOCK:
        place.refuse(name, f"found blocks of {shape_text(found.chunks)} values; "
                     f"at most {MOST_IN_BLOCK:,} in one")  # fmt: skip
    if found.chunks is None:
        stored, promised = found.id.get_storage_size(), prod(found.shape) * found.dtype.itemsize
        what = "bytes"
    else:
        stored = found.id.get_num_chunks()
        promised = prod(-(-n // c) for n, c in zip(found.shape, found.chunks, strict=True))
        what = "blocks"
    if stored < promised:
        place.refuse(name, f"found {stored:,} of the {promised:,} {what} that its dimensions "
                     f"{shape_text(found.shape)} need; all of them")  # fmt: skip


def shape_text(shape: tuple[int, ...]) -> str:
    """As people write a size: 1 × 72 × 23."""
    return " × ".join(f"{n:,}" for n in shape)


def numbers(file: Any, name: str, place: Place) -> FloatArray:
    """A small variable, finite throughout."""
    found = variable(file, name, place)
    if found.size > MOST_NUMBERS:
        place.refuse(name, f"found {shape_text(found.shape)} values; at most {MOST_NUMBERS:,}")
    with taking(place, name):
        values = np.asarray(found[...], dtype=np.float64)
    bad = np.argwhere(~(np.abs(values) <= LARGEST))
    if len(bad):
        where = ", ".join(str(k) for k in bad[0])
        place.refuse(name, f"found {values[tuple(bad[0])]} at [{where}]; numbers up to {LARGEST:g}")
    return values


def check_units(found: str, wanted: str, key: str, place: Place) -> None:
    """Refuse units other than the wanted ones, which are comma-separated."""
    words = found.lower().replace(",", " ").replace(";", " ").split()
    plain = [_WORDS.get(word, word) for word in words]
    allowed = wanted.split(", ")
    # "metre" for three Cartesian coordinates may stand once or three times.
    if plain not in (allowed, allowed * 3):
        place.refuse(key, f"found {found or 'none'}; {wanted}")


def frequencies(file: Any, place: Place) -> FloatArray:
    """(n,) the frequencies N in Hz, ascending."""
    values = numbers(file, "N", place).reshape(-1)
    check_units(text_of(file["N"], "Units", place), "hertz", "N:Units", place)
    if len(values) == 0 or np.any(values < 0.0) or np.any(np.diff(values) <= 0.0):
        place.refuse("N", f"found {len(values)} frequencies that do not ascend from 0 Hz or above; "
                     "ascending frequencies")  # fmt: skip
    if values[-1] <= 0.0:
        place.refuse("N", "found 0 Hz only; frequencies above it")
    return values


# Where the receivers of an AES69 file stand, seen from the loudspeaker.
#
# AES69 places receivers in the listener's own coordinates and turns listener and source by a view
# and an up vector; each may be Cartesian or spherical (azimuth anticlockwise from the view,
# elevation, radius), and each may change from measurement to measurement (a loudspeaker on a
# turntable).


def directions(file: Any, measurements: int, receivers: int, place: Place) -> FloatArray:
    """(M·R, 3) unit vectors from the source to each receiver in box axes: forward, left, up.

    Raises ScenarioError where positions are missing, of other units or sizes, or have no direction.
    """
    at = _receivers(file, measurements, receivers, place)
    listener = _vectors(file, "ListenerPosition", measurements, place)
    source = _vectors(file, "SourcePosition", measurements, place)
    array_axes = _axes(file, "Listener", measurements, place)
    box_axes = _axes(file, "Source", measurements, place)
    room = listener[:, np.newaxis] + np.einsum("mrc,mcx->mrx", at, array_axes)
    seen = np.einsum("mrx,mcx->mrc", room - source[:, np.newaxis], box_axes)
    seen = np.broadcast_to(seen, (measurements, receivers, 3)).reshape(-1, 3)
    radius = np.linalg.norm(seen, axis=1)
    if np.any(radius < 1e-9):
        where = int(np.argmin(radius)) % receivers
        place.refuse("ReceiverPosition", f"found receiver {where} at the source itself; "
                     "receivers at a distance")  # fmt: skip
    return np.asarray(seen / radius[:, np.newaxis])


def _receivers(file: Any, measurements: int, receivers: int, place: Place) -> FloatArray:
    """(M or 1, R, 3) receiver positions in the listener's coordinates, Cartesian."""
    name = "ReceiverPosition"
    values = numbers(file, name, place)
    if values.ndim == 2:
        values = values[:, :, np.newaxis]
    if values.ndim != 3 or values.shape[1] != 3 or values.shape[2] not in (1, measurements):
        place.refuse(name, f"found {shape_text(values.shape)} values; "
                     f"{receivers:,} receivers × 3 coordinates")  # fmt: skip
    if values.shape[0] != receivers:
        place.refuse(name, f"found {values.shape[0]:,} receivers; "
                     f"{receivers:,} as in Data.Real")  # fmt: skip
    return _cartesian(np.moveaxis(values, 2, 0), _kind(file, name, place))


def _vectors(file: Any, name: str, measurements: int, place: Place) -> FloatArray:
    """(M or 1, 3) one vector per measurement, Cartesian."""
    values = numbers(file, name, place)
    if values.ndim != 2 or values.shape[1] != 3 or values.shape[0] not in (1, measurements):
        place.refuse(name, f"found {shape_text(values.shape)} values; 1 × 3, or "
                     f"{measurements:,} × 3")  # fmt: skip
    # AES69 gives the kind of coordinates of view and up once, on the view.
    kind_name = name.removesuffix("Up") + "View" if name.endswith("Up") else name
    return _cartesian(values, _kind(file, kind_name, place))


def _kind(file: Any, name: str, place: Place) -> str:
    holder = file[name]
    kind = text_of(holder, "Type", place).lower()
    if kind not in UNITS:
        place.refuse(f"{name}:Type", f"found {kind or 'none'}; cartesian or spherical")
    check_units(text_of(holder, "Units", place), UNITS[kind], f"{name}:Units", place)
    return kind


def _cartesian(values: FloatArray, kind: str) -> FloatArray:
    if kind == "cartesian":
        return values
    azimuth, elevation = np.radians(values[..., 0]), np.radians(values[..., 1])
    return np.asarray(
        np.stack(
            [
                values[..., 2] * np.cos(elevation) * np.cos(azimuth),
                values[..., 2] * np.cos(elevation) * np.sin(azimuth),
                values[..., 2] * np.sin(elevation),
            ],
            axis=-1,
        )
    )


def _axes(file: Any, owner: str, measurements: int, place: Place) -> FloatArray:
    """(M or 1, 3, 3) rows forward, left and up of the source or the listener in room axes."""
    view = _vectors(file, f"{owner}View", measurements, place)
    up = _vectors(file, f"{owner}Up", measurements, place)
    length = np.linalg.norm(view, axis=1, keepdims=True)
    if np.any(length < 1e-9):
        place.refuse(f"{owner}View", "found a vector of no length; a direction")
    forward = view / length
    upright = up - np.sum(up * forward, axis=1, keepdims=True) * forward
    length = np.linalg.norm(upright, axis=1, keepdims=True)
    if np.any(length < 1e-6 * np.linalg.norm(up, axis=1, keepdims=True)) or np.any(length < 1e-9):
        place.refuse(f"{owner}Up", "found a vector along the view; a direction across it")
    upright = upright / length
    forward, upright = np.broadcast_arrays(forward, upright)
    return np.stack([forward, np.cross(upright, forward), upright], axis=1)


# AES69 (SOFA) files of the convention FreeFieldDirectivityTF.
#
# Spectra are read block by block and leave only their bands behind, so that a file of tens of
# thousands of directions fits into a small memory.

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

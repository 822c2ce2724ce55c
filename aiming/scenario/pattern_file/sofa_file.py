"""An AES69 file's attributes, variables and promises, each checked before it is relied on.

AES69 (SOFA), convention FreeFieldDirectivityTF: an HDF5 file with the complex spectra Data.Real and
Data.Imag (M measurements × R receivers × N frequencies), N in hertz, and positions.
"""

from math import prod
from typing import Any

import numpy as np

from ...arrays import FloatArray
from .result import Place

CONVENTION = "FreeFieldDirectivityTF"
MOST_VALUES = 1_000_000_000
MOST_DIRECTIONS = 1_000_000
_WORDS = {
    "metre": "metre", "metres": "metre", "meter": "metre", "meters": "metre",
    "degree": "degree", "degrees": "degree", "hertz": "hertz",
}  # fmt: skip
"""The spellings of units that AES69 allows."""
UNITS = {"cartesian": "metre", "spherical": "degree, degree, metre"}


def text_of(holder: Any, name: str) -> str:
    """A text attribute, "" where it is missing; h5py gives bytes, str or an array of one."""
    value = holder.attrs.get(name, "")
    if isinstance(value, np.ndarray):
        value = value.reshape(-1)[0] if value.size else ""
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)


def check_convention(file: Any, place: Place) -> None:
    """Refuse what is no AES69 file of this convention."""
    if text_of(file, "Conventions") != "SOFA":
        place.refuse("Conventions", f"found {text_of(file, 'Conventions') or 'none'} in an HDF5 "
                     "file; SOFA, as every AES69 file says")  # fmt: skip
    for key, wanted in (("SOFAConventions", CONVENTION), ("DataType", "TF")):
        if text_of(file, key) != wanted:
            place.refuse(key, f"found {text_of(file, key) or 'none'}; {wanted}")


def variable(file: Any, name: str, place: Place) -> Any:
    """A numeric variable that holds all that its dimensions promise."""
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
    values = np.asarray(variable(file, name, place)[...], dtype=np.float64)
    bad = np.argwhere(~np.isfinite(values))
    if len(bad):
        where = ", ".join(str(k) for k in bad[0])
        place.refuse(name, f"found {values[tuple(bad[0])]} at [{where}]; finite numbers")
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
    check_units(text_of(file["N"], "Units"), "hertz", "N:Units", place)
    if len(values) == 0 or np.any(values < 0.0) or np.any(np.diff(values) <= 0.0):
        place.refuse("N", f"found {len(values)} frequencies that do not ascend from 0 Hz or above; "
                     "ascending frequencies")  # fmt: skip
    if values[-1] <= 0.0:
        place.refuse("N", "found 0 Hz only; frequencies above it")
    return values

"""An AES69 file's attributes, variables and promises, each checked before it is relied on.

AES69 (SOFA), convention FreeFieldDirectivityTF: an HDF5 file with the complex spectra Data.Real and
Data.Imag (M measurements × R receivers × N frequencies), N in hertz, and positions.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from math import prod
from typing import Any

import numpy as np

from ...arrays import FloatArray
from ...errors import ScenarioError, printable
from .result import Place

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

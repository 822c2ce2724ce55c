"""Numbers for the page: rounded as they are shown, then packed small.

The page adds nothing up: what it shows is looked up here, in the very rounding that it shows.
"""

import json
import zlib
from base64 import b64encode
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

import numpy as np

from ...arrays import FloatArray, IntArray
from ...units import INCH_M, length_text

UNKNOWN = -32768
_INCH_PARTS = 8.0


def tenths(value: FloatArray) -> IntArray:
    """One decimal, as text formatting rounds it."""
    return _whole(_as_formatted(value, 1) * 10.0)


def whole(value: FloatArray) -> IntArray:
    """No decimals."""
    return _whole(value)


def centimetres(length_m: FloatArray) -> IntArray:
    """As length_text has metres."""
    return _whole(_as_formatted(length_m, 2) * 100.0)


def eighths(length_m: FloatArray) -> IntArray:
    """Eighths of an inch, as length_text has feet."""
    return _whole(length_m / INCH_M * _INCH_PARTS)


def lengths(length_m: FloatArray) -> dict[str, IntArray]:
    """Both units; the sign of an unknown length is that of UNKNOWN."""
    return {"m": centimetres(length_m), "ft": eighths(length_m)}


def length_texts(length_m: float) -> dict[str, str]:
    """One length in words, in both units."""
    return {"m": length_text(length_m, "m"), "ft": length_text(length_m, "ft")}


def number(value: float | None) -> float | None:
    """A plain number or nothing."""
    return None if value is None or not isfinite(value) else float(value)


def _as_formatted(value: FloatArray, places: int) -> FloatArray:
    """Rounded as text formatting rounds, which looks at the exact number where it is a near tie."""
    value = np.asarray(value, dtype=np.float64)
    rounded = np.asarray(np.round(value, places))
    near_tie = np.abs(np.abs(value - rounded) * 10.0**places - 0.5) < 1e-6
    for index in np.argwhere(near_tie):
        at = tuple(index)
        rounded[at] = float(f"{value[at]:.{places}f}")
    return rounded


def _whole(value: FloatArray) -> IntArray:
    rounded = np.rint(np.nan_to_num(value, nan=UNKNOWN, posinf=UNKNOWN, neginf=UNKNOWN))
    return np.asarray(rounded, dtype=np.intp)


@dataclass
class Packer:
    """Collects tables; in the tree each stands as {"table": its number}."""

    shapes: list[list[int]] = field(default_factory=list)
    planes: list[int] = field(default_factory=list)
    data: list[bytes] = field(default_factory=list)

    def add(self, table: IntArray) -> dict[str, int]:
        """Keep a table: differences along the last axis, zigzag, one plane of bytes after another.

        Neighbours on a lattice differ little, so the upper planes are zeros, which pack to nothing.
        """
        flat = np.asarray(table, dtype=np.int64).reshape(-1, table.shape[-1])
        step = np.diff(flat, axis=1, prepend=0)
        step[1:, 0] = np.diff(flat[:, 0])
        zigzag = np.where(step < 0, -2 * step - 1, 2 * step).ravel()
        count = max(1, (int(zigzag.max(initial=0)).bit_length() + 7) // 8)
        planes = [((zigzag >> (8 * of)) & 0xFF).astype(np.uint8).tobytes() for of in range(count)]
        self.shapes.append([int(of) for of in table.shape])
        self.planes.append(count)
        self.data.append(b"".join(planes))
        return {"table": len(self.shapes) - 1}

    def text(self, tree: dict[str, Any]) -> str:
        """Everything as base64 of a zlib stream: length of the JSON, the JSON, the tables."""
        whole_tree = {**tree, "tables": {"shapes": self.shapes, "planes": self.planes}}
        head = json.dumps(
            whole_tree, ensure_ascii=False, allow_nan=False, separators=(",", ":")
        ).encode()
        size = len(head).to_bytes(4, "little")
        return b64encode(zlib.compress(size + head + b"".join(self.data), 9)).decode()

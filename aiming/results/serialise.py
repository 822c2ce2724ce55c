"""A result as plain lists, numbers and strings under the contract's names, ready for JSON."""

from dataclasses import is_dataclass
from typing import Any

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import band_key
from ..base.described import Columns, Described, described


def known(value: float | np.floating[Any] | FloatArray) -> float | None:
    """A number, or an array () of one, as a float; None for NaN and infinity."""
    number = float(value)
    return number if np.isfinite(number) else None


def plain(value: Any, bands_hz: tuple[float, ...] = ()) -> Any:
    """Full precision; NaN and infinity are None; band keys are the nominal frequency as text.

    A dataclass is a table of what it describes, or of all its fields where it describes nothing.
    bands_hz: of the arrays by band in it, where it has no bands_hz of its own
    """
    if isinstance(value, Columns):
        return _tables(value, getattr(value, "bands_hz", bands_hz))
    if is_dataclass(value) and not isinstance(value, type):
        return _table(value, getattr(value, "bands_hz", bands_hz))
    if isinstance(value, dict):
        return {
            band_key(key) if isinstance(key, float) else str(key): plain(of, bands_hz)
            for key, of in value.items()
        }
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item, bands_hz) for item in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return known(value)
    if isinstance(value, np.integer):
        return int(value)
    return value


def _table(value: Any, bands_hz: tuple[float, ...]) -> dict[str, Any]:
    said = described(type(value))
    if not said:
        return {name: plain(of, bands_hz) for name, of in vars(value).items()}
    return {one.name: plain(getattr(value, one.attribute), bands_hz) for one in said}


def _tables(value: Columns, bands_hz: tuple[float, ...]) -> list[dict[str, Any]]:
    """Each column is made plain as a whole, then cut into the tables."""
    columns = _columns(value, bands_hz)
    return [_at(columns, place) for place in range(_length(columns))]


def _columns(value: Any, bands_hz: tuple[float, ...]) -> dict[str, Any]:
    keys = [band_key(band) for band in bands_hz]

    def column(one: Described) -> Any:
        of = getattr(value, one.attribute)
        if one.by_band:
            return dict(zip(keys, plain(of), strict=True))
        if isinstance(of, dict):
            return {name: _columns(each, bands_hz) for name, each in of.items()}
        return plain(of)

    return {
        one.name: column(one)
        for one in described(type(value))
        if getattr(value, one.attribute) is not None
    }


def _length(columns: dict[str, Any]) -> int:
    return len(next(of for of in columns.values() if isinstance(of, list)))


def _at(columns: dict[str, Any], place: int) -> dict[str, Any]:
    return {
        name: _at(of, place) if isinstance(of, dict) else of[place] for name, of in columns.items()
    }

"""Where the receivers of an AES69 file stand, seen from the loudspeaker.

AES69 places receivers in the listener's own coordinates and turns listener and source by a view and
an up vector; each may be Cartesian or spherical (azimuth anticlockwise from the view, elevation,
radius), and each may change from measurement to measurement (a loudspeaker on a turntable).
"""

from typing import Any

import numpy as np

from ...arrays import FloatArray
from .result import Place
from .sofa_file import UNITS, check_units, numbers, shape_text, text_of


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

"""Patterns with a closed form, and files of them, for the tests of the pattern reader."""

from collections.abc import Callable, Sequence
from pathlib import Path

import h5py
import numpy as np
from scipy.special import j1

from aiming.base.arrays import FloatArray

GLOBALS = {
    "Conventions": "SOFA",
    "Version": "2.1",
    "SOFAConventions": "FreeFieldDirectivityTF",
    "SOFAConventionsVersion": "1.1",
    "APIName": "h5py",
    "APIVersion": "3",
    "ApplicationName": "",
    "ApplicationVersion": "",
    "AuthorContact": "none: an invented file",
    "Comment": "",
    "DataType": "TF",
    "History": "",
    "License": "No license provided, ask the author for permission",
    "Organization": "none: an invented file",
    "References": "",
    "RoomType": "free field",
    "Origin": "",
    "DateCreated": "2000-01-01 00:00:00",
    "DateModified": "2000-01-01 00:00:00",
    "DatabaseName": "",
    "Musician": "",
    "SourceType": "loudspeaker",
    "SourceManufacturer": "none: an invented file",
    "Description": "",
}


def piston(ka: float, off_axis_rad: FloatArray) -> FloatArray:
    """Pressure |2·J1(x)/x|, x = ka·sin θ: Kinsler et al., Fundamentals of Acoustics, §7.4."""
    x = ka * np.sin(np.abs(off_axis_rad))
    return np.where(x < 1e-9, 1.0, np.abs(2.0 * j1(x) / np.where(x < 1e-9, 1.0, x)))


def line(half_kl: float, off_axis_rad: FloatArray) -> FloatArray:
    """Pressure |sin(x)/x|, x = ½kL·sin θ: Beranek & Mellow, Acoustics, 2nd ed., eq. 13.318."""
    return np.abs(np.sinc(half_kl * np.sin(off_axis_rad) / np.pi))


def table_text(
    angle_deg: FloatArray,
    frequency_hz: Sequence[float],
    level_db: FloatArray,
    *,
    separator: str = ",",
    comma: bool = False,
) -> str:
    """A CSV table; level_db is (n, f)."""
    rows = [["angle_deg", *(f"{f:.10g}" for f in frequency_hz)]]
    for angle, levels in zip(angle_deg, level_db, strict=True):
        rows.append([f"{angle:.10g}", *(f"{level:.7f}" for level in levels)])
    text = "\n".join(separator.join(row) for row in rows) + "\n"
    return text.replace(".", ",") if comma else text


def grid(azimuth_step_deg: float, elevation_step_deg: float) -> FloatArray:
    """(m, 2) azimuth and elevation of a grid round the whole sphere, poles many times over."""
    azimuth = np.arange(0.0, 360.0, azimuth_step_deg)
    elevation = np.arange(-90.0, 90.0 + elevation_step_deg / 2, elevation_step_deg)
    return np.stack(np.meshgrid(azimuth, elevation, indexing="ij"), axis=-1).reshape(-1, 2)


def even_layout(count: int) -> FloatArray:
    """(m, 2) azimuth and elevation of a spiral that covers the sphere evenly, on no plane."""
    k = np.arange(count) + 0.5
    golden = 180.0 * (3.0 - np.sqrt(5.0))
    return np.stack([np.mod(golden * k, 360.0), np.degrees(np.arcsin(1 - 2 * k / count))], axis=-1)


def unit(azimuth_elevation_deg: FloatArray) -> FloatArray:
    """(m, 3) unit vectors: forward, left, up."""
    azimuth, elevation = np.radians(azimuth_elevation_deg).T
    return np.stack(
        [
            np.cos(elevation) * np.cos(azimuth),
            np.cos(elevation) * np.sin(azimuth),
            np.sin(elevation),
        ],
        axis=-1,
    )


def write_sofa(
    path: Path,
    *,
    position: FloatArray,
    frequency_hz: FloatArray,
    spectrum: FloatArray,
    kind: str = "spherical",
    view: Sequence[float] = (1.0, 0.0, 0.0),
    up: Sequence[float] = (0.0, 0.0, 1.0),
    title: str = "an invented piston",
    packed: bool = False,
    change: Callable[[h5py.File], object] | None = None,
) -> Path:
    """An AES69 file by hand: position (R, 3), spectrum (M, R, N).

    packed: single precision, compressed; change: spoils or refines the file before it is closed
    """
    how = {"dtype": np.float32, "compression": "gzip", "track_times": False} if packed else {}
    with h5py.File(path, "w") as file:
        for key, value in {**GLOBALS, "Title": title}.items():
            file.attrs[key] = np.bytes_((value or " ").encode())
        file["N"] = np.asarray(frequency_hz, dtype=float)
        file["N"].attrs["Units"] = np.bytes_("hertz")
        file["N"].attrs["LongName"] = np.bytes_("frequency")
        file.create_dataset("Data.Real", data=np.real(spectrum).astype(float), **how)
        file.create_dataset("Data.Imag", data=np.imag(spectrum).astype(float), **how)
        units = {"spherical": "degree, degree, metre", "cartesian": "metre"}
        points = {
            "ListenerPosition": ([[0.0, 0.0, 0.0]], "cartesian"),
            "ListenerView": ([[1.0, 0.0, 0.0]], "cartesian"),
            "ReceiverPosition": (position, kind),
            "SourcePosition": ([[0.0, 0.0, 0.0]], "cartesian"),
            "SourceView": (np.atleast_2d(view), "cartesian"),
            "EmitterPosition": ([[0.0, 0.0, 0.0]], "cartesian"),
        }
        for name, (values, coordinates) in points.items():
            file[name] = np.asarray(values, dtype=float)
            file[name].attrs["Type"] = np.bytes_(coordinates)
            file[name].attrs["Units"] = np.bytes_(units[coordinates])
        file["ListenerUp"] = np.array([[0.0, 0.0, 1.0]])
        file["SourceUp"] = np.asarray(np.atleast_2d(up), dtype=float)
        for name in ("SourcePosition", "SourceView", "SourceUp"):
            file[name].attrs["Reference"] = np.bytes_("invented")
        if change:
            change(file)
    return path

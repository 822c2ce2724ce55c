"""Drawings: floor lines and surfaces from one layer of a DXF."""

from dataclasses import dataclass
from pathlib import Path

from ..arrays import FloatArray


@dataclass(frozen=True)
class LayerSummary:
    """What one layer holds.

    low, high: x, y of the extents, in drawing units; None where nothing on it can be a line
    counts: entity type and number, in alphabetical order
    """

    name: str
    low: tuple[float, float] | None
    high: tuple[float, float] | None
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class DrawingSummary:
    """What a drawing holds: its unit ("mm", "ft", …; None where it names none) and layers."""

    unit: str | None
    metres_per_unit: float | None
    layers: tuple[LayerSummary, ...]


def floor_from_drawing(
    path: Path,
    *,
    layer: str,
    drawing_units: str | None = None,
    origin_m: tuple[float, float] = (0.0, 0.0),
    display: str | None = None,
) -> FloatArray:
    """(n, 2) x, z in metres, x never decreasing: the one floor line on this layer."""
    raise NotImplementedError


def surfaces_from_drawing(
    path: Path,
    *,
    layer: str,
    drawing_units: str | None = None,
    origin_m: tuple[float, float] = (0.0, 0.0),
    display: str | None = None,
) -> tuple[FloatArray, ...]:
    """Every line on this layer, each (n, 2) x, z in metres, longest first."""
    raise NotImplementedError


def drawing_summary(
    path: Path, *, drawing_units: str | None = None, display: str | None = None
) -> DrawingSummary:
    """The layers, their extents and entities, and the unit."""
    raise NotImplementedError

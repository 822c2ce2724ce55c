"""A pattern over the whole sphere, and its true directivity index."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..arrays import FloatArray

LARGEST_HOLE_DEG = 20.0
"""A sphere with a larger bare patch than this (radius, degrees) gets no directivity index."""


@dataclass(frozen=True, eq=False)
class Sphere:
    """Level relative to on-axis in every measured direction, as built (upright).

    direction: (m, 3) different unit vectors in box axes: forward, left, up
    band_hz: (b,) nominal mid-bands
    level_db: (b, m), 0 dB on axis
    """

    direction: FloatArray
    band_hz: tuple[float, ...]
    level_db: FloatArray


@dataclass(frozen=True, eq=False)
class Cells:
    """How the directions share the sphere.

    share: (m,) of the sphere nearest to each direction; the shares add to 1
    hole_deg: radius of the largest patch without a direction
    """

    share: FloatArray
    hole_deg: float


def cells(direction: FloatArray) -> Cells | None:
    """The share of the sphere of each of the (m, 3) directions, by nearest direction (Voronoi).

    None where the directions do not surround the loudspeaker: fewer than four, or all in a plane.
    """
    from scipy.spatial import QhullError, SphericalVoronoi

    if len(direction) < 4:
        return None
    try:
        diagram: Any = SphericalVoronoi(direction, radius=1.0)  # refuses those in a plane
    except (QhullError, ValueError):
        return None
    nearest = np.concatenate([np.full(len(region), k) for k, region in enumerate(diagram.regions)])
    corner = diagram.vertices[np.concatenate([np.asarray(r) for r in diagram.regions])]
    cosine = np.sum(corner * direction[nearest], axis=1)
    area = diagram.calculate_areas()
    return Cells(
        share=np.asarray(area / area.sum()), hole_deg=float(np.degrees(np.arccos(cosine.min())))
    )


def sphere_directivity_index_db(sphere: Sphere) -> FloatArray | None:
    """(b,) true directivity index in dB: on-axis intensity over its mean over the sphere.

    DI = 10·lg(4π / ∫ 10^(L/10) dΩ), L relative to on-axis (Kinsler et al., Fundamentals of
    Acoustics, §7.6; section from memory).  None where the directions leave a patch bare that is
    larger than LARGEST_HOLE_DEG: half a sphere says nothing about the other half.
    """
    found = cells(sphere.direction)
    if found is None or found.hole_deg > LARGEST_HOLE_DEG:
        return None
    return np.asarray(-10.0 * np.log10(10.0 ** (sphere.level_db / 10.0) @ found.share))

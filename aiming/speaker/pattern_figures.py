"""A pattern over the whole sphere, and its true directivity index."""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import band_label
from .lobes import Lobe, nominal_pattern
from .pattern import Pattern, edge_deg

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


# What a pattern's data sheet would say: coverage angles, directivity, where control is lost.

KEELE_M_DEG_HZ = 2.54e4
"""1e6 in·deg·Hz.  Keele, AES 51st Convention, 1975 (read in secondary texts)."""

CONTROL_RATIO = 1.25
"""Control counts as lost where the coverage angle is this much wider than it is higher up."""

Reach = Literal["reached", "never", "unknown"]


@dataclass(frozen=True)
class Coverage:
    """The coverage angle of one band: the directions that are 6.02 dB down re the axis.

    above_deg, below_deg: first such direction from the axis, both counted positive; None where
        there is none.  IEC 60268-5 usage, for a reference axis at 0°.
    reach_above, reach_below: "never" where the pattern is known up to straight behind the box and
        stays louder, "unknown" where the data end, or have a hole, before it gets there
    """

    band_hz: float
    above_deg: float | None
    below_deg: float | None
    reach_above: Reach
    reach_below: Reach

    @property
    def whole_deg(self) -> float | None:
        """Above and below together, or None."""
        if self.above_deg is None or self.below_deg is None:
            return None
        return self.above_deg + self.below_deg


def coverage(pattern: Pattern) -> tuple[Coverage, ...]:
    """The coverage angle of each band, upright."""
    found = []
    for band, level_db in zip(pattern.band_hz, pattern.level_db, strict=True):
        above = edge_deg(pattern.angle_deg, level_db, above=True)
        below = edge_deg(pattern.angle_deg, level_db, above=False)
        found.append(
            Coverage(
                band_hz=band,
                above_deg=above,
                below_deg=None if below is None else -below,
                reach_above=_reach(above, pattern.angle_deg, level_db),
                reach_below=_reach(below, -pattern.angle_deg[::-1], level_db[::-1]),
            )
        )
    return tuple(found)


def _reach(edge: float | None, angle_deg: FloatArray, level_db: FloatArray) -> Reach:
    if edge is not None:
        return "reached"
    known = angle_deg[-1] >= 180.0 and not np.isnan(level_db[angle_deg >= 0.0]).any()
    return "never" if known else "unknown"


def plane_directivity_index_db(pattern: Pattern) -> FloatArray:
    """(b,) directivity index of the vertical plane in dB; NaN where a part of the turn is unknown.

    10·lg of the on-axis intensity over its mean over the whole turn in this plane; nothing is
    claimed for the directions beside it.  The integral is exact for a table read linearly in dB.
    """
    angle = pattern.angle_deg
    if angle[-1] - angle[0] < 360.0:
        return np.full(len(pattern.band_hz), np.nan)
    rate = np.log(10.0) / 10.0
    start, end = rate * pattern.level_db[:, :-1], rate * pattern.level_db[:, 1:]
    change = end - start
    # ∫ of an exponential between two levels; its limit where they are alike.
    mean = np.divide(
        np.exp(end) - np.exp(start),
        change,
        out=np.exp(0.5 * (start + end)),
        where=np.abs(change) >= 1e-6,
    )
    return np.asarray(-10.0 * np.log10(mean @ np.diff(angle) / 360.0))


@dataclass(frozen=True)
class Control:
    """Down to which frequency the vertical coverage holds.

    steady_deg: median coverage angle of the bands from 1 kHz up (of all, where none are)
    control_from_hz: below it, coverage widens in inverse proportion to frequency: read where the
        coverage has grown to CONTROL_RATIO times the steady angle, log-log between the bands.  None
        where it holds down to the lowest band, or is nowhere steady
    """

    steady_deg: float | None
    control_from_hz: float | None
    text: str


def control(found: tuple[Coverage, ...]) -> Control:
    """Where, going down in frequency, control of the vertical coverage is lost."""
    order = sorted(found, key=lambda c: c.band_hz)
    upper = [c for c in order if c.band_hz >= 1000.0] or order
    wholes = [c.whole_deg for c in upper if c.whole_deg is not None]
    if not wholes:
        return Control(None, None, "not known: no coverage angle from 1 kHz up is")
    if len(order) == 1:
        return Control(wholes[0], None, "not known: one band cannot tell")
    steady = float(np.median(wholes))
    limit = narrow = CONTROL_RATIO * steady
    for position in reversed(range(len(order))):
        here = _width(order[position])
        if here is None:
            band = order[position].band_hz
            return Control(steady, None, f"not known: nor is the coverage at {band_label(band)}")
        if here <= limit:
            narrow = here
            continue
        if position == len(order) - 1:
            text = "nowhere: the coverage narrows all the way up"
            return Control(steady, None, text)
        above = order[position + 1]
        share = np.log(limit / narrow) / np.log(here / narrow)
        log_hz = (1.0 - share) * np.log(above.band_hz) + share * np.log(order[position].band_hz)
        frequency = float(CONTROL_RATIO * np.exp(log_hz))
        return Control(steady, frequency, f"lost below about {float(f'{frequency:.2g}'):.0f} Hz")
    return Control(steady, None, f"kept down to the lowest band, {band_label(order[0].band_hz)}")


def _width(one: Coverage) -> float | None:
    """The coverage angle, 360° where the pattern never falls off, None where it is not known."""
    if "unknown" in (one.reach_above, one.reach_below):
        return None
    return 360.0 if one.whole_deg is None else one.whole_deg


def control_from_hz(*, coverage_deg: float, mouth_m: float) -> float:
    """Frequency (Hz) below which a horn or cabinet of this height loses its vertical coverage.

    f = K / (α·d), K = 2.54e4 m·deg·Hz, α the coverage angle and d the height of the mouth: Keele,
    AES 51st Convention, 1975 (read in secondary texts).  An estimate, to be marked as one.
    """
    if not (coverage_deg > 0.0 and mouth_m > 0.0):
        raise ValueError(f"coverage {coverage_deg}° and height {mouth_m} m; both above 0")
    return KEELE_M_DEG_HZ / (coverage_deg * mouth_m)


def lobe_family(
    *,
    above_deg: float,
    below_deg: float,
    bands_hz: tuple[float, ...],
    control_from_hz: float | None = None,
    lowest_db: float = -24.0,
) -> dict[Lobe, Pattern]:
    """Every lobe shape that fits a data sheet's coverage angle, so that an answer can be a range.

    Quadratic first.  A piston's half-angle is at most 90°, so a wider box has none.
    """
    shapes: tuple[Lobe, ...] = ("quadratic", "piston", "flat")
    return {
        shape: nominal_pattern(
            above_deg=above_deg,
            below_deg=below_deg,
            bands_hz=bands_hz,
            lobe=shape,
            control_from_hz=control_from_hz,
            lowest_db=lowest_db,
        )
        for shape in shapes
        if shape != "piston" or max(above_deg, below_deg) <= 90.0
    }

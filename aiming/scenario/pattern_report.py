"""The figures of one pattern file, for `aiming pattern`."""

from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import Width, band_key
from ..files.pattern_file import read_pattern
from ..files.pattern_result import Doubt, Resolution
from ..speaker.pattern import Pattern
from ..speaker.pattern_figures import (
    Control,
    Coverage,
    control,
    coverage,
    plane_directivity_index_db,
    sphere_directivity_index_db,
)


@dataclass(frozen=True, eq=False)
class PatternReport:
    """What a pattern file says, band by band.

    plane_index_db: (b,) directivity index of the vertical plane, NaN where a part is unknown
    sphere_index_db: (b,) true directivity index; None where the file has no whole sphere
    """

    pattern: Pattern
    resolution: Resolution
    coverage: tuple[Coverage, ...]
    plane_index_db: FloatArray
    sphere_index_db: FloatArray | None
    control: Control
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...]

    def to_dict(self) -> dict[str, object]:
        """Plain data for JSON: full precision, null for what is unknown."""
        sphere = self.sphere_index_db
        return {
            "reference": self.pattern.reference,
            "resolution": asdict(self.resolution),
            "by_band": {
                band_key(one.band_hz): {
                    "coverage_above_deg": one.above_deg,
                    "coverage_below_deg": one.below_deg,
                    "coverage_deg": one.whole_deg,
                    "reach_above": one.reach_above,
                    "reach_below": one.reach_below,
                    "plane_directivity_index_db": _or_none(self.plane_index_db[k]),
                    "directivity_index_db": None if sphere is None else _or_none(sphere[k]),
                }
                for k, one in enumerate(self.coverage)
            },
            "control": asdict(self.control),
            "notes": list(self.notes),
            "doubts": [asdict(doubt) for doubt in self.doubts],
        }


def pattern_report(
    path: Path,
    *,
    display: str,
    bands_hz: tuple[float, ...] | None = None,
    width: Width | None = None,
) -> PatternReport:
    """Read a pattern file and gather its figures; arguments and errors as in read_pattern."""
    found = read_pattern(path, bands_hz=bands_hz, width=width, display=display)
    covered = coverage(found.pattern)
    return PatternReport(
        pattern=found.pattern,
        resolution=found.resolution,
        coverage=covered,
        plane_index_db=plane_directivity_index_db(found.pattern),
        sphere_index_db=None if found.sphere is None else sphere_directivity_index_db(found.sphere),
        control=control(covered),
        notes=found.notes,
        doubts=found.doubts,
    )


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None

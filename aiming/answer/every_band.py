"""Levels in bands beyond the design bands: what tone and absolute levels are made of."""

from dataclasses import dataclass

import numpy as np

from ..arrays import FloatArray
from ..field.levels import levels_db
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement, Speaker
from .hiding import screening_of
from .problems import band_absorption_db_per_m


@dataclass(frozen=True, eq=False)
class EveryBand:
    """path_db: (b, n) level at every row re 1 m on axis: pattern, spreading, air, shadow."""

    bands_hz: tuple[float, ...]
    path_db: FloatArray

    def of(self, bands_hz: tuple[float, ...]) -> FloatArray:
        """(bands, n) these bands, which must be among them."""
        return self.path_db[[self.bands_hz.index(band) for band in bands_hz]]


def every_band(scenario: Scenario, speaker: Speaker, placement: Placement) -> EveryBand:
    """All bands that the pattern holds, at every row of the scenario."""
    bands, rows = speaker.pattern.band_hz, scenario.rows
    place = np.asarray(float(placement.x_m)), np.asarray(float(placement.height_m))
    return EveryBand(
        bands_hz=bands,
        path_db=levels_db(
            speaker.pattern,
            placement,
            rows.x_m,
            rows.z_m,
            absorption_db_per_m=band_absorption_db_per_m(scenario, bands),
            shadow_db=screening_of(scenario, rows, bands).loss_db(*place),
        ),
    )


def on_axis_db(scenario: Scenario, bands_hz: tuple[float, ...], distance_m: float) -> FloatArray:
    """(bands,) level on the axis at this distance re 1 m on axis; nothing hides the aim point."""
    air = band_absorption_db_per_m(scenario, bands_hz) * distance_m
    return np.asarray(-20.0 * np.log10(distance_m) - air)

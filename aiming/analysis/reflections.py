"""Sound that misses the rows: what surfaces send back, and where the pattern's sound lands.

Found only when it is asked for: an answer that is solved and thrown away pays nothing for it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..base.arrays import FloatArray
from ..base.bands import band_key, exact_midband_hz
from ..field.diffraction import Screening
from ..field.reflections import Landing, Reflections, first_reflections, landing
from ..field.walls import Walls, walls_of
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern
from ..speaker.speaker import Placement, Speaker
from .problems import band_absorption_db_per_m


@dataclass(frozen=True, eq=False)
class Misses:
    """Of one loudspeaker at its placement.

    row_shadow_db: (bands, rows) what its direct sound loses at every row of the scenario
    Targets are numbered: every row, then every watched point.
    """

    scenario: Scenario
    speaker: Speaker
    placement: Placement
    row_shadow_db: FloatArray

    @property
    def _pattern(self) -> Pattern:
        return self.speaker.pattern.only(self.scenario.aim.bands_hz)

    @cached_property
    def _walls(self) -> Walls:
        return walls_of(self.scenario.seatings, self.scenario.surfaces)

    @cached_property
    def target_m(self) -> FloatArray:
        """(rows + points, 2) x, z."""
        rows = self.scenario.rows
        return np.vstack([np.stack([rows.x_m, rows.z_m], axis=1), self._point_m])

    @property
    def _point_m(self) -> FloatArray:
        return np.array([one.at_m for one in self.scenario.points]).reshape(-1, 2)

    @cached_property
    def shadow_db(self) -> FloatArray:
        """(bands, rows + points) what the direct sound loses at each target."""
        scenario = self.scenario
        if not scenario.points:
            return self.row_shadow_db
        bands = scenario.aim.bands_hz
        point = Screening(
            walls=self._walls,
            row_x_m=self._point_m[:, 0],
            row_z_m=self._point_m[:, 1],
            midband_hz=np.array([exact_midband_hz(band) for band in bands]),
            c_m_s=scenario.air.speed_of_sound_m_s,
        )
        lost = point.loss_db(float(self.placement.x_m), float(self.placement.height_m))
        return np.hstack([self.row_shadow_db, lost])

    @cached_property
    def reflections(self) -> Reflections:
        """First reflections at every target."""
        return self.later_than(-np.inf)

    def later_than(self, late_ms: float) -> Reflections:
        """First reflections that come later than this after the direct sound."""
        scenario = self.scenario
        return first_reflections(
            self._pattern,
            self.placement,
            self.target_m,
            surfaces=scenario.surfaces,
            walls=self._walls,
            absorption_db_per_m=band_absorption_db_per_m(scenario, scenario.aim.bands_hz),
            c_m_s=scenario.air.speed_of_sound_m_s,
            direct_loss_db=self.shadow_db,
            later_than_ms=late_ms,
        )

    @cached_property
    def landing(self) -> Landing:
        """Where its sound of the section goes first."""
        scenario = self.scenario
        return landing(
            self._pattern,
            self.placement,
            seatings=scenario.seatings,
            surfaces=scenario.surfaces,
        )

    def target_text(self, target: int) -> str:
        """ "row C of stalls", or the watched point's name and kind."""
        rows = self.scenario.rows
        if target < len(rows):
            return rows.label(target)
        point = self.scenario.points[target - len(rows)]
        return f"{point.name} ({point.kind})" if point.kind else point.name

    def reflections_list(self) -> list[dict[str, Any]]:
        """Plain dictionaries by surface, then by target: row is an index into rows, or point a
        name."""
        found, rows = self.reflections, len(self.scenario.rows)
        keys = [band_key(band) for band in self.scenario.aim.bands_hz]
        told = []
        for index in range(len(found)):
            target = int(found.point[index])
            level = found.level_db[:, index]
            told.append(
                {
                    "surface": self.scenario.surfaces[int(found.surface[index])].name,
                    "row": target if target < rows else None,
                    "point": None if target < rows else self.scenario.points[target - rows].name,
                    "at": found.at_m[index],
                    "distance_m": found.distance_m[index],
                    "delay_ms": found.delay_ms[index],
                    "level_db": dict(zip(keys, level, strict=True)),
                    "design_level_db": level.mean(),
                }
            )
        return told

    def lands_dict(self) -> Mapping[str, Any]:
        """Shares of the pattern's energy in the section, %, mean over the design bands."""
        lands = self.landing
        seating = 100.0 * lands.seating.mean(axis=0)
        surface = 100.0 * lands.surface.mean(axis=0)
        return {
            "seating": {
                one.name: share for one, share in zip(self.scenario.seatings, seating, strict=True)
            },
            "surface": {
                one.name: share for one, share in zip(self.scenario.surfaces, surface, strict=True)
            },
            "beneath_floors": 100.0 * lands.beneath.mean(),
            "nowhere": 100.0 * lands.nowhere.mean(),
            "known_deg": lands.known_deg.min(),
        }

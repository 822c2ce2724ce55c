"""Sound that misses the rows: what surfaces send back, and where the pattern's sound lands."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..base.arrays import FloatArray
from ..field.reflections import ReflectedPaths, first_reflections, landing
from ..field.walls import walls_of
from ..results.room import Landing, Reflections
from ..results.serialise import known
from ..scenario.scenario import Scenario
from ..speaker.pattern import Pattern
from ..speaker.speaker import Placement, Speaker
from .problems import band_air_loss, hiding_points, points_m


@dataclass(frozen=True, eq=False)
class Missing:
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

    @property
    def _target_m(self) -> FloatArray:
        """(rows + points, 2) x, z."""
        rows = self.scenario.rows
        return np.vstack([np.stack([rows.x_m, rows.z_m], axis=1), points_m(self.scenario)])

    @property
    def _shadow_db(self) -> FloatArray:
        """(bands, rows + points) what the direct sound loses at each target."""
        if not self.scenario.points:
            return self.row_shadow_db
        hiding = hiding_points(self.scenario, self.speaker)
        if hiding is None:
            lost = np.zeros((len(self.row_shadow_db), len(self.scenario.points)))
        else:
            lost = hiding.loss_db(self.placement.x_m, self.placement.height_m)
        return np.hstack([self.row_shadow_db, lost])

    @cached_property
    def paths(self) -> ReflectedPaths:
        """First reflections off every surface at every target."""
        scenario = self.scenario
        return first_reflections(
            self._pattern,
            self.placement,
            self._target_m,
            surfaces=scenario.surfaces,
            walls=walls_of(scenario.seatings, scenario.surfaces),
            air_loss=band_air_loss(scenario, scenario.aim.bands_hz),
            c_m_s=scenario.air.speed_of_sound_m_s,
            direct_loss_db=self._shadow_db,
        )

    def target_text(self, target: int) -> str:
        """ "row C of stalls", or the watched point's name and kind."""
        rows = self.scenario.rows
        if target < len(rows):
            return rows.label(target)
        point = self.scenario.points[target - len(rows)]
        return f"{point.name} ({point.kind})" if point.kind else point.name


def reflections_of(missing: Missing) -> Reflections:
    """First reflections at every row and every watched point."""
    found, scenario = missing.paths, missing.scenario
    rows, points = len(scenario.rows), scenario.points
    targets = [int(of) for of in found.point]
    return Reflections(
        surface=tuple(scenario.surfaces[int(of)].name for of in found.surface),
        row=tuple(of if of < rows else None for of in targets),
        point=tuple(None if of < rows else points[of - rows].name for of in targets),
        at=found.at_m,
        distance_m=found.distance_m,
        delay_ms=found.delay_ms,
        level_db=found.level_db,
        design_level_db=found.level_db.mean(axis=0),
    )


def landing_of(missing: Missing) -> Landing:
    """Shares of the pattern's energy in the section, %, mean over the design bands."""
    scenario = missing.scenario
    lands = landing(
        missing._pattern,
        missing.placement,
        seatings=scenario.seatings,
        surfaces=scenario.surfaces,
    )
    return Landing(
        seating=_shares([one.name for one in scenario.seatings], lands.seating),
        surface=_shares([one.name for one in scenario.surfaces], lands.surface),
        beneath_floors=known(100.0 * lands.beneath.mean()),
        nowhere=known(100.0 * lands.nowhere.mean()),
        known_deg=float(lands.known_deg.min()),
    )


def _shares(names: Sequence[str], share: FloatArray) -> dict[str, float | None]:
    """By name, from shares (bands, names) of one."""
    percent = 100.0 * share.mean(axis=0)
    return {name: known(of) for name, of in zip(names, percent, strict=True)}

"""What a picture of the section shows between the rows: levels on a grid, and coverage edges."""

from dataclasses import dataclass

import numpy as np

from ..aim.line import coverage_edge_deg
from ..aim.measures import design_level_db
from ..arrays import FloatArray
from ..field.levels import levels_db, power_sum_db
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement
from .matching import as_answered
from .model import Answer, SpeakerAnswer
from .problems import band_absorption_db_per_m

Extent = tuple[float, float, float, float]
"""x from, x to, z from, z to in metres."""


@dataclass(frozen=True, eq=False)
class LevelMap:
    """Design level of all loudspeakers together, direct sound, nothing screened.

    x_m (w,), z_m (h,): the grid; design_level_db (h, w), NaN where a pattern is unknown
    """

    x_m: FloatArray
    z_m: FloatArray
    design_level_db: FloatArray


@dataclass(frozen=True)
class Edges:
    """Elevation of the coverage edges above and below the axis (degrees, positive up), or None."""

    above_deg: float | None
    below_deg: float | None


def placement_of(one: SpeakerAnswer) -> Placement:
    """Where the answer puts this loudspeaker."""
    return one.placement


def level_map(
    scenario: Scenario, answer: Answer, *, extent_m: Extent, points: int = 160
) -> LevelMap:
    """Levels on a square grid over a part of the section, points along its longer side."""
    scenario = as_answered(scenario, answer)
    x_from, x_to, z_from, z_to = extent_m
    step = max(x_to - x_from, z_to - z_from) / points
    x = np.linspace(x_from, x_to, max(2, round((x_to - x_from) / step)))
    z = np.linspace(z_from, z_to, max(2, round((z_to - z_from) / step)))
    every_x, every_z = (one.ravel() for one in np.meshgrid(x, z))
    bands = answer.bands_hz
    absorption = band_absorption_db_per_m(scenario, bands)
    each = []
    for one in answer.speakers:
        speaker = scenario.speaker(one.name)
        offset = [speaker.offset_db[speaker.pattern.band_hz.index(band)] for band in bands]
        each.append(
            levels_db(
                speaker.pattern.only(bands),
                placement_of(one),
                every_x,
                every_z,
                absorption_db_per_m=absorption,
                offset_db=np.array(offset),
            )
        )
    together = design_level_db(power_sum_db(np.stack(each)))
    return LevelMap(x_m=x, z_m=z, design_level_db=together.reshape(len(z), len(x)))


def coverage_edges(scenario: Scenario, answer: Answer) -> dict[str, Edges]:
    """By loudspeaker, where its design pattern is first 6.02 dB down."""
    found = {}
    for one in answer.speakers:
        pattern = scenario.speaker(one.name).pattern.only(answer.bands_hz)
        above = coverage_edge_deg(pattern, placement_of(one), above=True)
        below = coverage_edge_deg(pattern, placement_of(one), above=False)
        found[one.name] = Edges(
            above_deg=None if above is None else one.tilt_deg + above,
            below_deg=None if below is None else one.tilt_deg + below,
        )
    return found

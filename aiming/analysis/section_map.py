"""What a picture of the section shows between the rows: levels on a grid, and coverage edges."""

from dataclasses import dataclass, field

import numpy as np

from ..aim.measures import design_level_db
from ..aim.uniform_line import coverage_edge_deg
from ..base.arrays import BoolArray, FloatArray, IntArray
from ..base.bands import OCTAVES_HZ, exact_midband_hz
from ..field.diffraction import Screening
from ..field.levels import levels_db, power_sum_db
from ..field.walls import Walls, clear, walls_of
from ..results.answer import Answer, SpeakerAnswer
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement
from .fill_alignment import as_answered
from .problems import band_absorption_db_per_m, served_rows
from .tone_and_level import every_band

Extent = tuple[float, float, float, float]
"""x from, x to, z from, z to in metres."""


@dataclass(frozen=True, eq=False)
class LevelMap:
    """Design level of all loudspeakers together: direct sound, and what bends round the edges.

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


def level_map(answer: Answer, *, extent_m: Extent, points: int = 160) -> LevelMap:
    """Levels on a square grid over a part of the section, points along its longer side."""
    scenario = as_answered(answer)
    x_from, x_to, z_from, z_to = extent_m
    step = max(x_to - x_from, z_to - z_from) / points
    x = np.linspace(x_from, x_to, max(2, round((x_to - x_from) / step)))
    z = np.linspace(z_from, z_to, max(2, round((z_to - z_from) / step)))
    every_x, every_z = (one.ravel() for one in np.meshgrid(x, z))
    bands = answer.bands_hz
    absorption = band_absorption_db_per_m(scenario, bands)
    screening = Screening(
        walls=walls_of(scenario.seatings, scenario.surfaces),
        row_x_m=every_x,
        row_z_m=every_z,
        midband_hz=np.array([exact_midband_hz(band) for band in bands]),
        c_m_s=scenario.air.speed_of_sound_m_s,
    )
    each = []
    for one in answer.speakers:
        speaker = scenario.speaker(one.name)
        shadow = screening.loss_db(np.asarray(one.x_m), np.asarray(one.height_m))
        offset = [speaker.offset_db[speaker.pattern.band_hz.index(band)] for band in bands]
        each.append(
            levels_db(
                speaker.pattern.only(bands),
                placement_of(one),
                every_x,
                every_z,
                absorption_db_per_m=absorption,
                offset_db=np.array(offset),
                shadow_db=shadow,
            )
        )
    together = design_level_db(power_sum_db(np.stack(each)))
    return LevelMap(x_m=x, z_m=z, design_level_db=together.reshape(len(z), len(x)))


def coverage_edges(answer: Answer) -> dict[str, Edges]:
    """By loudspeaker, where its design pattern is first 6.02 dB down."""
    found = {}
    for one in answer.speakers:
        pattern = answer.scenario.speaker(one.name).pattern.only(answer.bands_hz)
        above = coverage_edge_deg(pattern, placement_of(one), above=True)
        below = coverage_edge_deg(pattern, placement_of(one), above=False)
        found[one.name] = Edges(
            above_deg=None if above is None else one.tilt_deg + above,
            below_deg=None if below is None else one.tilt_deg + below,
        )
    return found


# Where the shadow of an edge begins among the rows, for pictures.

_HAIR_M = 1e-3


@dataclass(frozen=True, eq=False)
class ShadowLines:
    """Of one loudspeaker.

    lines_m: each (2, 2) from the edge that hides to between the last row seen and the first hidden
    hidden: (rows,) that it serves and does not see
    """

    lines_m: tuple[FloatArray, ...]
    hidden: BoolArray


def shadow_lines(answer: Answer) -> dict[str, ShadowLines]:
    """By loudspeaker, over the rows that it serves."""
    scenario = answer.scenario
    walls = walls_of(scenario.seatings, scenario.surfaces)
    return {one.name: _of(scenario, walls, one) for one in answer.speakers}


def _of(scenario: Scenario, walls: Walls, one: SpeakerAnswer) -> ShadowLines:
    rows, source = scenario.rows, np.array([one.x_m, one.height_m])
    ears = np.stack([rows.x_m, rows.z_m], axis=1)
    served = np.isin(rows.seating, scenario.speaker(one.name).serves)
    hidden = served & ~clear(walls, np.broadcast_to(source, ears.shape), ears)
    lines = []
    for row in np.flatnonzero(hidden[1:] != hidden[:-1]):
        if rows.seating[row] == rows.seating[row + 1]:
            seen, lost = (ears[row], ears[row + 1])[:: -1 if hidden[row] else 1]
            line = _line(walls, source, seen, lost)
            if line is not None:
                lines.append(line)
    return ShadowLines(lines_m=tuple(lines), hidden=hidden)


def _line(
    walls: Walls, source: FloatArray, seen: FloatArray, lost: FloatArray
) -> FloatArray | None:
    """From the corner that the ray passes on its way between the two rows; None for none."""
    to_seen, to_lost, to_corner = seen - source, lost - source, walls.corner_m - source
    side = np.sign(_turn(to_seen, to_lost))
    between = (side * _turn(to_seen, to_corner) >= -_HAIR_M) & (
        side * _turn(to_corner, to_lost) >= -_HAIR_M
    )
    away = np.hypot(*to_corner.T)
    between &= (to_corner @ to_lost > 0.0) & (away < np.hypot(*to_lost)) & (away > _HAIR_M)
    between &= clear(walls, np.broadcast_to(source, walls.corner_m.shape), walls.corner_m)
    found = np.flatnonzero(between)
    if len(found) == 0:
        return None
    # The farthest corner is the one whose shadow falls on the rows.
    corner = int(found[np.argmax(away[found])])
    reach = 0.5 * (np.hypot(*to_seen) + np.hypot(*to_lost))
    end = source + to_corner[corner] * max(float(reach / away[corner]), 1.0)
    return np.stack([walls.corner_m[corner], end])


def _turn(a: FloatArray, b: FloatArray) -> FloatArray:
    """Positive where b lies anticlockwise of a."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


# Levels along the rows, each curve about its own mean: what charts and summaries show.


@dataclass(frozen=True, eq=False)
class Curves:
    """All loudspeakers together.

    mean_db: weighted mean design level; NaN where no row's level is known
    design_db: (n,) design level minus that mean
    by_band_db: (bands, n) each band minus its own weighted mean
    complete: False where a row's level is unknown, so that the means leave it out
    further_hz, further_db: octaves of interest beside the design bands, likewise (bands, n)
    """

    mean_db: float
    design_db: FloatArray
    by_band_db: FloatArray
    complete: bool
    further_hz: tuple[float, ...] = ()
    further_db: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))


def curves(answer: Answer) -> Curves:
    """The answer's levels about their weighted means (row weights as in the deviation)."""
    scenario = as_answered(answer)
    weight = scenario.rows.weight
    design, mean = _about_mean_db(answer.rows.design_level_db, weight)
    further, levels = _further_db(scenario, answer)
    return Curves(
        mean_db=mean,
        design_db=design,
        by_band_db=np.stack([_about_mean_db(one, weight)[0] for one in answer.rows.levels_db]),
        complete=bool(np.isfinite(answer.rows.levels_db).all()),
        further_hz=further,
        further_db=np.array([_about_mean_db(one, weight)[0] for one in levels]),
    )


def _further_db(scenario: Scenario, answer: Answer) -> tuple[tuple[float, ...], FloatArray]:
    """Octaves that are of interest to every loudspeaker, and their levels (bands, n) together.

    Several loudspeakers add up only where the sensitivity of each is known in a band.
    """
    speakers = [scenario.speaker(one.name) for one in answer.speakers]
    held = set.intersection(*(set(speaker.tone_hz) for speaker in speakers))
    bands = [band for band in OCTAVES_HZ if band in held and band not in answer.bands_hz]
    each, outputs = [], []
    for one, speaker in zip(answer.speakers, speakers, strict=True):
        each.append(every_band(scenario, speaker, placement_of(one)).of(tuple(bands)))
        place = [speaker.pattern.band_hz.index(band) for band in bands]
        outputs.append(speaker.offset_db[place, np.newaxis])
    if len(speakers) == 1:
        return tuple(bands), each[0]
    levels = power_sum_db(np.stack(each) + np.stack(outputs))
    known = np.flatnonzero(np.isfinite(np.stack(outputs)).all(axis=(0, 2)))
    return tuple(bands[k] for k in known), levels[known]


def _about_mean_db(level_db: FloatArray, weight: FloatArray) -> tuple[FloatArray, float]:
    known = np.isfinite(level_db)
    if not known.any():
        return level_db, float("nan")
    mean = float((level_db[known] * weight[known]).sum() / weight[known].sum())
    return level_db - mean, mean


def served_curve(answer: Answer, name: str) -> tuple[IntArray, FloatArray]:
    """Rows that this loudspeaker serves (s,), and its own design level about its mean there."""
    scenario = answer.scenario
    rows = served_rows(scenario, scenario.speaker(name))
    level = answer.rows.by_speaker[name].levels_db[:, rows].mean(axis=0)
    return rows, _about_mean_db(level, scenario.rows.weight[rows])[0]

"""What a picture of the section shows between the rows: levels on a grid, and coverage edges."""

import numpy as np

from ..aim.measures import design_level_db
from ..aim.uniform_line import coverage_edge_deg
from ..base.arrays import FloatArray
from ..base.bands import OCTAVES_HZ
from ..field.levels import levels_db, power_sum_db
from ..field.walls import Walls, clear, walls_of
from ..results.answer import Answer, RowsAnswer, SpeakerAnswer
from ..results.section import (
    Curves,
    Edges,
    Extent,
    LevelMap,
    SectionMap,
    ServedCurve,
    ShadowLines,
)
from ..scenario.scenario import Scenario
from .fill_alignment import as_answered
from .problems import band_air_loss, screening_at, served_rows
from .tone_and_level import EveryBand

_POINTS = 160
"""Of the level map, along the longer side of what is worth showing."""
_BESIDE = 0.2
"""How far beside the house, as a share of its size, watched points still count as part of it."""
_FLATTEST, _STEEPEST = 5.0, 1.2
"""Width over height of the drawings that the level map has to fill."""


def extent_of(scenario: Scenario, speakers: tuple[SpeakerAnswer, ...]) -> Extent:
    """Everything that is worth showing, the datum included, with a margin."""
    points = [np.zeros((1, 2))]
    for seating in scenario.seatings:
        points += [seating.floor_m, seating.audience_plane_m]
    points += [surface.line_m for surface in scenario.surfaces]
    if scenario.focus is not None:
        points.append(np.array([scenario.focus.at_m]))
    for one in speakers:
        cabinet = scenario.speaker(one.name).cabinet
        reach = max(0.3, 0.0 if cabinet is None else cabinet.radius_m)
        place = np.array([one.x_m, one.height_m])
        points.append(np.stack([place - reach, place + reach]))
    every = np.concatenate(points)
    low, high = every.min(axis=0), every.max(axis=0)
    # A watched point far outside would leave the house small.
    for point in scenario.points:
        at, most = np.array(point.at_m), _BESIDE * (high - low)
        if (at >= low - most).all() and (at <= high + most).all():
            low, high = np.minimum(low, at), np.maximum(high, at)
    margin = 0.05 * float(max(high - low))
    return Extent(
        x_from=float(low[0]) - 1.6 * margin,
        x_to=float(high[0]) + margin,
        z_from=float(low[1]) - 1.2 * margin,
        z_to=float(high[1]) + margin,
    )


def section_map(answer: Answer) -> SectionMap:
    """Levels over every drawing that may be made of the section, and the shadows in it."""
    return SectionMap(levels=wide_map(answer), shadows=shadow_lines(answer))


def wide_map(answer: Answer, *, points: int = _POINTS) -> LevelMap:
    """Levels over every drawing that may be made of the section, so many points along the house."""
    extent = answer.extent
    wide = extent.widened(_FLATTEST).joined(extent.widened(_STEEPEST))
    finer = max(wide.width_m, wide.height_m) / max(extent.width_m, extent.height_m)
    return level_map(answer, extent=wide, points=round(points * finer))


def level_map(answer: Answer, *, extent: Extent, points: int = _POINTS) -> LevelMap:
    """Levels on a square grid over a part of the section, points along its longer side."""
    scenario = as_answered(answer)
    step = max(extent.width_m, extent.height_m) / points
    x = np.linspace(extent.x_from, extent.x_to, max(2, round(extent.width_m / step)))
    z = np.linspace(extent.z_from, extent.z_to, max(2, round(extent.height_m / step)))
    every_x, every_z = (one.ravel() for one in np.meshgrid(x, z))
    bands = answer.bands_hz
    screening = screening_at(scenario, every_x, every_z, bands)
    each = []
    for one in answer.speakers:
        speaker = scenario.speaker(one.name)
        shadow = screening.loss_db(np.asarray(one.x_m), np.asarray(one.height_m))
        offset = [speaker.offset_db[speaker.pattern.band_hz.index(band)] for band in bands]
        each.append(
            levels_db(
                speaker.pattern.only(bands),
                one.placement,
                every_x,
                every_z,
                air_loss=band_air_loss(scenario, bands),
                offset_db=np.array(offset),
                shadow_db=shadow,
            )
        )
    together = power_sum_db(np.stack(each))
    return LevelMap(
        x_m=x,
        z_m=z,
        design_level_db=design_level_db(together).reshape(len(z), len(x)),
        by_band_db=together.reshape(len(bands), len(z), len(x)),
    )


def edges_of(scenario: Scenario, speakers: tuple[SpeakerAnswer, ...]) -> dict[str, Edges]:
    """By loudspeaker, where its design pattern is first 6.02 dB down."""
    found = {}
    for one in speakers:
        pattern = scenario.speaker(one.name).pattern.only(scenario.aim.bands_hz)
        above = coverage_edge_deg(pattern, one.placement, above=True)
        below = coverage_edge_deg(pattern, one.placement, above=False)
        found[one.name] = Edges(
            above_deg=None if above is None else one.tilt_deg + above,
            below_deg=None if below is None else one.tilt_deg + below,
        )
    return found


# Where the shadow of an edge begins among the rows, for pictures.

_HAIR_M = 1e-3


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


def curves_of(
    scenario: Scenario,
    speakers: tuple[SpeakerAnswer, ...],
    rows: RowsAnswer,
    every: dict[str, EveryBand],
) -> Curves:
    """The levels about their weighted means (row weights as in the deviation).

    every: by loudspeaker, all its bands at the rows
    """
    weight = scenario.rows.weight
    design, mean = _about_mean_db(rows.design_level_db, weight)
    further, levels = _further_db(scenario, speakers, every)
    return Curves(
        mean_db=mean,
        design_db=design,
        by_band_db=np.stack([_about_mean_db(one, weight)[0] for one in rows.levels_db]),
        complete=bool(np.isfinite(rows.levels_db).all()),
        further_hz=further,
        further_db=np.array([_about_mean_db(one, weight)[0] for one in levels]),
        alone={one.name: _alone(scenario, rows, one.name) for one in speakers},
    )


def _alone(scenario: Scenario, rows: RowsAnswer, name: str) -> ServedCurve:
    served = served_rows(scenario, scenario.speaker(name))
    level = rows.by_speaker[name].levels_db[:, served].mean(axis=0)
    return ServedCurve(served, _about_mean_db(level, scenario.rows.weight[served])[0])


def _further_db(
    scenario: Scenario, placed: tuple[SpeakerAnswer, ...], every: dict[str, EveryBand]
) -> tuple[tuple[float, ...], FloatArray]:
    """Octaves that are of interest to every loudspeaker, and their levels (bands, n) together.

    Several loudspeakers add up only where the sensitivity of each is known in a band.
    """
    speakers = [scenario.speaker(one.name) for one in placed]
    held = set.intersection(*(set(speaker.tone_hz) for speaker in speakers))
    bands = [band for band in OCTAVES_HZ if band in held and band not in scenario.aim.bands_hz]
    each, outputs = [], []
    for speaker in speakers:
        each.append(every[speaker.name].of(tuple(bands)))
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

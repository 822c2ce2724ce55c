"""Every figure of many placements of one loudspeaker, for the page that has no solver.

Tilts and heights on round steps, the answer's own placement among them, and at each the very
figures that `evaluate` gives.  The other loudspeakers stay where the answer has them.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..aim.line import coverage_edge_deg
from ..arrays import FloatArray, IntArray
from ..field.levels import power_sum_db
from ..rigging.loads import Loads
from ..scenario.scenario import Scenario
from ..speaker.speaker import Orientation, Placement, Speaker
from .cautions import cautions_of, speaker_cautions
from .figures import levels_and_shadow_db
from .held import held_at
from .lattice_axes import Axes, axes_of
from .lattice_heard import Heard, heard
from .lattice_spots import Spots
from .matching import as_answered
from .model import Answer, Caution, SpeakerAnswer, SpeakerRows
from .placed import Placed, aim_point_m, placed, trim_m
from .problems import problem_of


@dataclass(frozen=True, eq=False)
class Turned:
    """One loudspeaker in one orientation over its lattice; shapes end in (heights, tilts).

    edges_deg: off-axis angle of the coverage edges below and above the axis, None where unknown
    height_m, trim_m, throw_m: throw is NaN where the axis meets no served plane
    aim_row: index into the answer's rows, −1 for none
    aim_db: design level at the aim point, about the mean over the rows that it serves
    line_m: (LINE_POINTS, …) distance of the uniform-level line at equal steps of off-axis angle
    line_end_deg: the off-axis angle at which it ends
    alone: over the rows that it serves; together: all loudspeakers, all rows, where there are more
    loads: [height][tilt], None where nothing could be computed
    cautions: the distinct lists of cautions; caution_list: which of them holds
    """

    orientation: Orientation
    edges_deg: tuple[float | None, float | None]
    height_m: FloatArray
    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
    aim_db: FloatArray
    line_m: FloatArray
    line_end_deg: FloatArray
    alone: Heard
    together: Heard | None
    loads: tuple[tuple[Loads | None, ...], ...]
    cautions: tuple[tuple[Caution, ...], ...]
    caution_list: IntArray


@dataclass(frozen=True, eq=False)
class Lattice:
    """One loudspeaker: what can be moved, and what comes of it in each orientation."""

    name: str
    axes: Axes
    turned: tuple[Turned, ...]


def lattice_of(scenario: Scenario, answer: Answer, name: str, *, points: int) -> Lattice:
    """The lattice of one loudspeaker with at most about this many placements in all."""
    scenario = as_answered(scenario, answer)
    one = next(one for one in answer.speakers if one.name == name)
    speaker = scenario.speaker(name)
    orientations = speaker.hang.orientations
    drop = problem_of(scenario, speaker).drop_m(one.tilt_deg, one.orientation == "flipped")
    company = scenario.company
    if name in company.hung_under or company.under(name) is not None:
        points = 0  # it moves only together with another
    axes = axes_of(
        speaker, one, scenario.units, drop_m=float(drop), points=points // len(orientations)
    )
    explored = replace(speaker, hang=axes.hang(speaker.hang))
    return Lattice(
        name=name,
        axes=axes,
        turned=tuple(_turned(scenario, answer, explored, axes, of) for of in orientations),
    )


def _turned(
    scenario: Scenario, answer: Answer, speaker: Speaker, axes: Axes, orientation: Orientation
) -> Turned:
    one = next(one for one in answer.speakers if one.name == speaker.name)
    problem = problem_of(scenario, speaker)
    flipped = orientation == "flipped"
    vertical = axes.vertical_m[:, np.newaxis]
    height = vertical + problem.drop_m(axes.tilt_deg, flipped) if problem.from_trim else vertical
    every = Placement(one.x_m, height, axes.tilt_deg[np.newaxis], flipped)
    levels, shadow = levels_and_shadow_db(scenario, speaker, problem, every)
    others = [of.levels_db for name, of in answer.rows.by_speaker.items() if name != speaker.name]
    shape = levels.shape[:2]
    height = np.broadcast_to(height, shape)
    all_levels = levels
    if others:
        everyone = [levels, *(np.broadcast_to(of, levels.shape) for of in others)]
        all_levels = power_sum_db(np.stack(everyone))
    served = scenario.rows.of(speaker.serves)
    alone = heard(levels[..., served], scenario.rows, served)
    # Where one follows another, or phase counts, a sum of levels is not what all give together.
    together = heard(all_levels, scenario.rows, np.arange(len(scenario.rows)))
    spots = Spots.blank(shape)
    told: dict[tuple[Caution, ...], int] = {}
    standing = [_standing(scenario, of) for of in answer.speakers]
    which = answer.speakers.index(one)
    settled = {
        at.speaker.name: speaker_cautions(scenario, at, answer, capped=False)
        for at in standing
        if at.speaker.name != speaker.name
    }
    edges = (
        coverage_edge_deg(problem.pattern, Placement(0.0, 0.0, 0.0, flipped), above=False),
        coverage_edge_deg(problem.pattern, Placement(0.0, 0.0, 0.0, flipped), above=True),
    )
    for index in np.ndindex(shape):
        tilt = float(axes.tilt_deg[index[1]])
        place = Placement(one.x_m, float(height[index]), tilt, flipped)
        at = placed(scenario, speaker, problem, place)
        held = held_at(scenario, speaker, place)
        spots.fill(index, scenario, at, edges, held)
        moved = _moved(one, at, alone, index)
        rows = _rows_of(levels[index], shadow[index])
        light = _light_answer(answer, moved, rows, all_levels[index])
        standing[which] = at
        settled[speaker.name] = speaker_cautions(scenario, at, light, capped=False, held=held)
        told_here = cautions_of(scenario, standing, light, capped=(), known=settled).cautions
        spots.caution_list[index] = told.setdefault(told_here, len(told))
    return Turned(
        orientation=orientation,
        edges_deg=edges,
        height_m=height,
        trim_m=spots.trim_m,
        throw_m=spots.throw_m,
        aim_row=spots.aim_row,
        aim_db=spots.aim_db - alone.mean_db[0],
        line_m=spots.line_m,
        line_end_deg=spots.line_end_deg,
        alone=alone,
        together=together if others and not scenario.company.attached else None,
        loads=tuple(map(tuple, spots.loads)),
        cautions=tuple(told),
        caution_list=spots.caution_list,
    )


def _standing(scenario: Scenario, one: SpeakerAnswer) -> Placed:
    """A loudspeaker where the answer has it."""
    speaker = scenario.speaker(one.name)
    place = one.placement
    return placed(scenario, speaker, problem_of(scenario, speaker), place)


def _moved(
    one: SpeakerAnswer,
    at: Placed,
    alone: Heard,
    index: tuple[int, ...],
) -> SpeakerAnswer:
    """The loudspeaker's answer at this placement, as far as cautions look at it."""

    def figure(table: FloatArray) -> float | None:
        value = float(table[index])
        return value if np.isfinite(value) else None

    return replace(
        one,
        orientation=at.placement.orientation,
        height_m=float(at.placement.height_m),
        tilt_deg=float(at.placement.tilt_deg),
        trim_m=trim_m(at),
        aim_point=aim_point_m(at),
        spread_db=figure(alone.spread_db[0]),
        worst_band_spread_db=figure(alone.worst_band_spread_db),
        deviation_db=figure(alone.deviation_db),
        rows_within_3db_percent=figure(alone.within_percent),
        best=None,
        gap_db=None,
        limited_by=(),
        window=None,
        check_positions=(),
        loads=None,
    )


def _rows_of(levels_db: FloatArray, shadow_db: FloatArray) -> SpeakerRows:
    unknown = np.full(levels_db.shape[-1], np.nan)
    return SpeakerRows(unknown, unknown, levels_db, shadow_db, unknown, unknown)


def _light_answer(
    answer: Answer, moved: SpeakerAnswer, rows: SpeakerRows, levels_db: FloatArray
) -> Answer:
    """The answer with one loudspeaker moved, without windows and check positions."""
    return replace(
        answer,
        speakers=tuple(moved if of.name == moved.name else of for of in answer.speakers),
        rows=replace(
            answer.rows,
            levels_db=levels_db,
            design_level_db=levels_db.mean(axis=0),
            by_speaker={**answer.rows.by_speaker, moved.name: rows},
        ),
        cautions=(),
    )

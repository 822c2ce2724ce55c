"""Which tilts and heights a lattice has: round steps, the ends the file gives, the answer's."""

from dataclasses import dataclass, replace
from math import ceil, floor, sqrt
from typing import Any

import numpy as np

from ..aim import measures
from ..aim.uniform_line import coverage_edge_deg, near_side_above
from ..base.arrays import BoolArray, FloatArray, IntArray, frozen
from ..base.units import INCH_M, Unit
from ..cautions.collect import cautions_of, speaker_cautions
from ..field.levels import power_sum_db
from ..geometry.section import Rows
from ..results.answer import Answer, Caution, SpeakerAnswer, SpeakerRows
from ..results.page_table import MOST_ROWS, Axes, Heard, Lattice, Turned
from ..scenario.scenario import Scenario
from ..speaker.speaker import Hang, Orientation, Placement, Range, Speaker
from .fill_alignment import as_answered
from .placed_speaker import (
    Placed,
    aim_level_db,
    aim_point_m,
    aim_seating_and_row,
    levels_and_shadow_db,
    placed,
    trim_m,
    uniform_of,
)
from .problems import problem_of, served_rows
from .support_loads import Support, support_at

TILT_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0)
METRE_STEPS_M = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
INCH_STEPS_M = tuple(INCH_M * step for step in (2, 4, 6, 12, 24, 60, 120, 360))
AROUND_DEG = 15.0
"""How far from the answer's tilt the lattice reaches, where the file leaves the tilt open."""
AROUND_GIVEN_DEG = 10.0
AROUND_GIVEN_M = 1.0
"""How far it reaches from a tilt, and from the height of a flown box, that the file gives."""
_TILTS_PER_HEIGHT = 4.0
_SAME = 1e-6


def axes_of(
    speaker: Speaker, one: SpeakerAnswer, unit: Unit, *, drop_m: float, points: int
) -> Axes:
    """The axes of one loudspeaker, with at most about this many points in all; 0 leaves only one.

    drop_m: the acoustic centre above the vertical limit's own point, at the answer's placement
    """
    hang = speaker.hang
    vertical_m = one.height_m - drop_m
    tilt, vertical = frozen(np.array([one.tilt_deg])), frozen(np.array([vertical_m]))
    most_tilts = max(5, round(sqrt(points * _TILTS_PER_HEIGHT)))
    most_heights = max(3, round(points / most_tilts))
    if points > 0:
        turns, steps = _tilts_around(hang, one.tilt_deg), _steps_m(unit)
        tilt = _axis(one.tilt_deg, turns, TILT_STEPS_DEG, most_tilts)
        vertical = _axis(vertical_m, _verticals_around(hang, vertical_m), steps, most_heights)
    return Axes(
        tilt_deg=tilt,
        vertical=hang.vertical,
        vertical_m=vertical,
        at_tilt=int(np.argmin(np.abs(tilt - one.tilt_deg))),
        at_vertical=int(np.argmin(np.abs(vertical - vertical_m))),
        orientation=one.orientation,
        tilt_given=hang.tilt_deg[0] == hang.tilt_deg[1],
        vertical_given=hang.vertical_m[0] == hang.vertical_m[1],
    )


def _steps_m(unit: Unit) -> tuple[float, ...]:
    return METRE_STEPS_M if unit == "m" else INCH_STEPS_M


def _tilts_around(hang: Hang, tilt_deg: float) -> Range:
    low, high = hang.tilt_deg
    if low == high:
        low, high, around = -90.0, 90.0, AROUND_GIVEN_DEG
    else:
        around = AROUND_DEG
    return max(low, tilt_deg - around), min(high, tilt_deg + around)


def _verticals_around(hang: Hang, vertical_m: float) -> Range:
    """A flown box that the file fixes can still be looked at higher and lower; a stack stands."""
    low, high = hang.vertical_m
    if low == high and hang.mount == "flown":
        return vertical_m - AROUND_GIVEN_M, vertical_m + AROUND_GIVEN_M
    return low, high


def _axis(own: float, span: Range, steps: tuple[float, ...], most: int) -> FloatArray:
    """Multiples of the finest step that is coarse enough, the span's ends, and the answer's own."""
    low, high = span
    step = next((one for one in steps if (high - low) / one <= most), (high - low) / most)
    if low == high:
        return frozen(np.array([own]))
    count = np.arange(ceil(low / step - _SAME), floor(high / step + _SAME) + 1)
    known = [own]
    for value in (low, high, *(float(of) for of in np.round(count * step, 9))):
        if all(abs(value - other) > _SAME for other in known):
            known.append(value)
    return frozen(np.array(sorted(known)))


# What is heard at every placement of a lattice, from the levels at its rows.


def heard(levels_db: FloatArray, rows: Rows, which: IntArray) -> Heard:
    """The figures over rows which (n,) of levels (heights, tilts, bands, n)."""
    weight = rows.weight[which]
    design = measures.design_level_db(levels_db)[..., np.newaxis, :]
    channel = np.moveaxis(np.concatenate([design, levels_db], axis=-2), (2, 3), (0, 1))
    known: BoolArray = np.isfinite(channel)
    share = known * weight[:, np.newaxis, np.newaxis]
    total = share.sum(axis=1)
    level = np.where(known, channel, 0.0)
    with np.errstate(invalid="ignore"):
        mean = np.where(total > 0.0, (level * share).sum(axis=1) / total, np.nan)
    every = known.all(axis=1)
    return Heard(
        rows=which,
        level_db=np.where(known, channel - mean[:, np.newaxis], np.nan),
        mean_db=mean,
        spread_db=np.where(every, np.ptp(level, axis=1), np.nan),
        loudest=np.where(every, which[np.argmax(level, axis=1)], -1),
        softest=np.where(every, which[np.argmin(level, axis=1)], -1),
        worst_band_spread_db=measures.worst_band_spread_db(levels_db),
        deviation_db=measures.deviation_db(levels_db, weight),
        within_percent=measures.rows_within_percent(levels_db, weight),
    )


# What is found at each placement of a lattice one by one: trim, throw, line, loads, cautions.

LINE_POINTS = 17
"""Points of the uniform-level line from the aim point to the coverage edge."""


@dataclass(frozen=True, eq=False)
class Spots:
    """What is found placement by placement, unknown to begin with."""

    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
    aim_db: FloatArray
    line_m: FloatArray
    line_end_deg: FloatArray
    loads: Any
    caution_list: IntArray

    @classmethod
    def blank(cls, shape: tuple[int, ...]) -> "Spots":
        return cls(
            trim_m=np.full(shape, np.nan),
            throw_m=np.full(shape, np.nan),
            aim_row=np.full(shape, -1, dtype=np.intp),
            aim_db=np.full(shape, np.nan),
            line_m=np.full((LINE_POINTS, *shape), np.nan),
            line_end_deg=np.full(shape, np.nan),
            loads=np.full(shape, None, dtype=object),
            caution_list=np.zeros(shape, dtype=np.intp),
        )

    def fill(
        self,
        index: tuple[int, ...],
        scenario: Scenario,
        at: Placed,
        edges_deg: tuple[float | None, float | None],
        held: Support,
    ) -> None:
        """Trim, loads, throw, aim row and uniform-level line of one placement."""
        self.trim_m[index] = trim_m(at)
        self.loads[index] = held.loads
        line = uniform_of(at)
        row = aim_seating_and_row(scenario, at)[1]
        if line is None or row is None:
            return
        self.throw_m[index] = line.throw_m
        self.aim_row[index] = row
        self.aim_db[index] = aim_level_db(scenario, at)
        end = edges_deg[int(near_side_above(at.placement, at.problem.rows))]
        if end is None:
            end = float(line.angle_deg[np.isfinite(line.design_db)].min())
        self.line_end_deg[index] = end
        off_axis = np.linspace(0.0, end, LINE_POINTS)
        self.line_m[:, index[0], index[1]] = line.distance_m(off_axis)


# Every figure of many placements of one loudspeaker, for the page that has no solver.
#
# Tilts and heights on round steps, the answer's own placement among them, and at each the very
# figures that `evaluate` gives.  The other loudspeakers stay where the answer has them.


MOST_POINTS = 2000
"""Placements in all, which takes a second or two."""
MOST_VALUES = 700_000
"""Levels per loudspeaker, which keeps its share of the page well under 400 kB."""
_MOST_LEVELS = 20_000_000
"""Levels held at once while the page is made."""


def lattices_of(answer: Answer) -> tuple[Lattice, ...]:
    """Of every loudspeaker, as fine as a page can carry."""
    channels = len(answer.bands_hz) + 1
    drawn = min(len(answer.rows), MOST_ROWS) * (1 if len(answer.speakers) == 1 else 2)
    points = min(
        MOST_POINTS // len(answer.speakers),
        MOST_VALUES // (channels * drawn),
        _MOST_LEVELS // (channels * len(answer.rows)),
    )
    return tuple(lattice_of(answer, one.name, points=points) for one in answer.speakers)


def lattice_of(answer: Answer, name: str, *, points: int) -> Lattice:
    """The lattice of one loudspeaker with at most about this many placements in all."""
    scenario = as_answered(answer)
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
    served = served_rows(scenario, speaker)
    alone = heard(levels[..., served], scenario.rows, served)
    # Where one follows another, or phase counts, a sum of levels is not what all give together.
    together = heard(all_levels, scenario.rows, np.arange(len(scenario.rows)))
    softest = np.broadcast_to(problem.softest_re_last_db(every), shape)
    spots = Spots.blank(shape)
    told: dict[tuple[Caution, ...], int] = {}
    standing = [_standing(scenario, of) for of in answer.speakers]
    which = answer.speakers.index(one)
    settled = {
        at.speaker.name: speaker_cautions(scenario, at, answer)
        for at in standing
        if at.speaker.name != speaker.name
    }
    edges = (
        coverage_edge_deg(problem.pattern, Placement(0.0, 0.0, 0.0, flipped), above=False),
        coverage_edge_deg(problem.pattern, Placement(0.0, 0.0, 0.0, flipped), above=True),
    )
    for index in np.ndindex(shape):
        tilt = float(axes.tilt_deg[index[1]])
        place = Placement(one.x_m, float(height[index]), tilt, flipped, one.placement.splay_deg)
        at = placed(scenario, speaker, problem, place, served=served)
        held = support_at(scenario, speaker, place)
        spots.fill(index, scenario, at, edges, held)
        moved = replace(_moved(one, at, alone, softest, index), support=held)
        rows = _rows_of(levels[index], shadow[index])
        light = _light_answer(answer, moved, rows, all_levels[index])
        standing[which] = at
        settled[speaker.name] = speaker_cautions(scenario, at, light, held=held)
        told_here = cautions_of(scenario, standing, light, known=settled).cautions
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
    softest_db: FloatArray,
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
        softest_db=figure(softest_db),
        best=None,
        gap_db=None,
        limited_by=(),
        window=None,
        check_positions=(),
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

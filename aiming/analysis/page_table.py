"""Which places a lattice has: round steps, the ends the file gives, the answer's."""

from dataclasses import dataclass, replace
from math import ceil, floor, sqrt
from typing import Any

import numpy as np

from ..aim import measures
from ..aim.uniform_line import coverage_edge_deg, near_side_above
from ..base.arrays import FloatArray, IntArray, frozen
from ..base.units import INCH_M, Unit
from ..cautions.collect import cautions_of, speaker_cautions
from ..field.levels import power_sum_db
from ..results.answer import Answer, Caution, SpeakerAnswer, SpeakerRows
from ..results.choices import Choice, ChoiceKind
from ..results.page_table import Axes, Lattice, PageTable, Turned
from ..results.serialise import known
from ..results.support import Support
from ..scenario.scenario import Scenario
from ..speaker.groups import CHOSEN_GAIN_DB
from ..speaker.speaker import Hang, Orientation, Placement, Placements, Range, Speaker
from .fill_alignment import as_answered
from .placed_speaker import (
    Placed,
    aim_point_m,
    aim_seating_and_row,
    levels_and_shadow_db,
    placed,
    trim_m,
    uniform_of,
)
from .problems import offset_db, problem_of, served_rows
from .section_map import wide_map
from .support_loads import support_at

FINE_DEG, FINE_WITHIN_DEG = 0.1, 1.0
"""The finest steps of tilt, and how near the answer's they stay."""
TILT_STEPS_DEG = (0.5, 1.0, 2.0, 5.0, 10.0)
METRE_STEPS_M = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
INCH_STEPS_M = tuple(INCH_M * step for step in (2, 4, 6, 12, 24, 60, 120, 360))
AROUND_DEG = 15.0
"""How far from the answer's tilt the lattice reaches, where the file leaves the tilt open."""
AROUND_GIVEN_DEG = 10.0
AROUND_GIVEN_M = 1.0
"""How far it reaches from a tilt, and from the height of a flown box, that the file gives."""
LATER_MS = 30.0
"""How much later than the answer's the page lets a fill play."""
_TILTS_PER_HEIGHT = 4.0
_MOST_XS = 5
_SAME = 1e-6
_DECIMALS = 5
"""Of the answer's own place as the page has it: what it prints for the command line is short, and
no figure moves by more than 0.0001 dB."""


@dataclass(frozen=True)
class Own:
    """A place in short numbers: of the acoustic centre or, by trim, of the limit's own point."""

    x_m: float
    vertical_m: float
    tilt_deg: float
    orientation: Orientation


def own_of(scenario: Scenario, speaker: Speaker, place: Placement) -> Own:
    """A placement in short numbers, at which its axis still meets what it met."""
    problem, flipped = problem_of(scenario, speaker), place.flipped
    below = place.height_m - float(problem.drop_m(place.tilt_deg, flipped))
    x, vertical = round(place.x_m, _DECIMALS), round(below, _DECIMALS)
    least, tilt = 10.0**-_DECIMALS, round(place.tilt_deg, _DECIMALS)
    meets = placed(scenario, speaker, problem, place).throw_m is not None
    for near in (tilt + of * least for of in (0, -1, 1, -2, 2, -3, 3)):
        height = vertical + float(problem.drop_m(near, flipped))
        there = Placement(x, height, near, flipped, place.splay_deg)
        if (placed(scenario, speaker, problem, there).throw_m is not None) == meets:
            tilt = round(near, _DECIMALS)
            break
    return Own(x, vertical, tilt, place.orientation)


def axes_of(
    speaker: Speaker, own: "Own", unit: Unit, *, also: tuple["Own", ...] = (), points: int
) -> Axes:
    """The axes of one loudspeaker, with at most about this many points in all; 0 leaves only one.

    also: other places that have to be points
    """
    hang = speaker.hang
    x_m, vertical_m, own_deg = own.x_m, own.vertical_m, own.tilt_deg
    x, tilt, vertical = (frozen(np.array([of])) for of in (x_m, own_deg, vertical_m))
    if points > 0:
        steps = METRE_STEPS_M if unit == "m" else INCH_STEPS_M
        x = _axis(x_m, hang.x_m, steps, _MOST_XS, also=tuple(of.x_m for of in also))
        most_tilts = max(5, round(sqrt(points / len(x) * _TILTS_PER_HEIGHT)))
        most_heights = max(3, round(points / len(x) / most_tilts))
        around = _tilts_around(hang, own_deg)
        fine = _fine_deg(own_deg, around) if most_tilts > 40 else ()
        kept = (*fine, *(of.tilt_deg for of in also))
        tilt = _axis(own_deg, around, TILT_STEPS_DEG, max(4, most_tilts - len(kept)), also=kept)
        vertical = _axis(
            vertical_m,
            _verticals_around(hang, vertical_m),
            steps,
            max(3, most_heights - len(also)),
            also=tuple(of.vertical_m for of in also),
        )
    return Axes(
        x_m=x,
        tilt_deg=tilt,
        vertical=hang.vertical,
        vertical_m=vertical,
        at_x=int(np.argmin(np.abs(x - x_m))),
        at_tilt=int(np.argmin(np.abs(tilt - own_deg))),
        at_vertical=int(np.argmin(np.abs(vertical - vertical_m))),
        orientation=own.orientation,
        tilt_given=hang.tilt_deg[0] == hang.tilt_deg[1],
        vertical_given=hang.vertical_m[0] == hang.vertical_m[1],
    )


def _fine_deg(own_deg: float, span: Range) -> tuple[float, ...]:
    """Tilts on tenths of a degree near the answer's, within what may be chosen."""
    tenths = round(FINE_WITHIN_DEG / FINE_DEG)
    near = (round(round(own_deg, 1) + FINE_DEG * of, 1) for of in range(-tenths, tenths + 1))
    return tuple(of for of in near if span[0] <= of <= span[1])


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


def _axis(
    own: float,
    span: Range,
    steps: tuple[float, ...],
    most: int,
    *,
    also: tuple[float, ...] = (),
) -> FloatArray:
    """Multiples of the finest step that is coarse enough, the span's ends, and the answer's own."""
    low, high = span
    step = next((one for one in steps if (high - low) / one <= most), (high - low) / most)
    if low == high:
        return frozen(np.array([own]))
    count = np.arange(ceil(low / step - _SAME), floor(high / step + _SAME) + 1)
    known = [own]
    for value in (low, high, *also, *(float(of) for of in np.round(count * step, 9))):
        if all(abs(value - other) > _SAME for other in known):
            known.append(value)
    return frozen(np.array(sorted(known)))


# What is found at each placement of a lattice one by one: trim, throw, line, loads, cautions.

LINE_POINTS = 17
"""Points of the uniform-level line from the aim point to the coverage edge."""


@dataclass(frozen=True, eq=False)
class Spots:
    """What is found placement by placement, unknown to begin with."""

    trim_m: FloatArray
    throw_m: FloatArray
    aim_row: IntArray
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
            line_m=np.full((LINE_POINTS, *shape), np.nan),
            line_end_deg=np.full(shape, np.nan),
            loads=np.full(shape, None, dtype=object),
            caution_list=np.zeros(shape, dtype=np.intp),
        )

    def fill(
        self,
        index: tuple[int, int, int],
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
        end = edges_deg[int(near_side_above(at.placement, at.problem.rows))]
        if end is None:
            end = float(line.angle_deg[np.isfinite(line.design_db)].min())
        self.line_end_deg[index] = end
        off_axis = np.linspace(0.0, end, LINE_POINTS)
        x, height, tilt = index
        self.line_m[:, x, height, tilt] = line.distance_m(off_axis)


# What comes of many placements of one loudspeaker, for the page that has no solver.
#
# Places on round steps, the answer's own among them, and at each the very figures that `evaluate`
# gives.  The other loudspeakers stay where the answer has them; levels the page puts together from
# distance, pattern, air and what walls take, so that gains are free and every loudspeaker may move.


MOST_POINTS = 2000
"""Placements in all, which takes a few seconds."""
MAP_POINTS = 60
"""Of the page's map along the longer side of the house."""
MOST_SHADOWS = 400_000
"""Losses by walls per loudspeaker, which keeps its share of the page well under 400 kB."""


def page_table(answer: Answer) -> PageTable:
    """Every loudspeaker's lattice, as fine as a page can carry, and the map of the answer's aim."""
    losses = len(answer.bands_hz) * len(answer.rows)
    points = min(MOST_POINTS // len(answer.speakers), MOST_SHADOWS // losses)
    return PageTable(
        lattices=tuple(lattice_of(answer, one.name, points=points) for one in answer.speakers),
        levels=wide_map(answer, points=MAP_POINTS),
    )


def lattice_of(answer: Answer, name: str, *, points: int) -> Lattice:
    """The lattice of one loudspeaker with at most about this many placements in all."""
    scenario = as_answered(answer)
    one = next(one for one in answer.speakers if one.name == name)
    speaker = scenario.speaker(name)
    orientations = speaker.hang.orientations
    problem = problem_of(scenario, speaker)
    company = scenario.company
    choices = chosen_places(answer, name)
    if name in company.hung_under or company.under(name) is not None:
        points, choices = 0, ()  # it moves only together with another
    axes = axes_of(
        speaker,
        own_of(scenario, speaker, one.placement),
        scenario.units,
        also=tuple(
            own_of(scenario, speaker, of.placement) for of in choices if of.placement is not None
        ),
        points=points // len(orientations),
    )
    explored = replace(speaker, hang=axes.hang(speaker.hang))
    fill = company.fills.get(name)
    chosen = CHOSEN_GAIN_DB if fill is not None and not fill.gain_given else None
    later = None if fill is None or fill.delay_given else (0.0, one.delay_ms + LATER_MS)
    rows, low = scenario.rows, min(float(axes.vertical_m.min()), float(scenario.rows.z_m.min()))
    reach = np.hypot(
        np.ptp(np.append(axes.x_m, rows.x_m)),
        max(float(axes.vertical_m.max()), float(rows.z_m.max())) - low,
    )
    body_m = (
        0.0
        if speaker.cabinet is None or speaker.cabinet.outline_m is None
        else float(np.abs(speaker.cabinet.outline_m).max())
    )
    air_m, air_db = problem.air_loss.table(float(reach) + 2.0 * body_m)
    return Lattice(
        name=name,
        axes=axes,
        turned=tuple(_turned(scenario, answer, explored, axes, of) for of in orientations),
        pattern=problem.pattern,
        offset_db=offset_db(speaker, scenario.aim.bands_hz) - speaker.gain_db,
        air_m=air_m,
        air_db=air_db,
        gain_db=one.gain_db,
        delay_ms=one.delay_ms,
        gain_range_db=company.gain_range_db.get(name, chosen),
        delay_range_ms=later,
    )


PLACED: tuple[ChoiceKind, ...] = ("best", "front rows", "axis", "evenest", "turned", "height")
"""Choices that are another place, and other rows left to a fill: the page can go there."""


def chosen_places(answer: Answer, name: str) -> tuple[Choice, ...]:
    """The choices for a loudspeaker that a page can show."""
    return tuple(of for of in answer.choices if of.speaker == name and of.kind in PLACED)


def _turned(
    scenario: Scenario, answer: Answer, speaker: Speaker, axes: Axes, orientation: Orientation
) -> Turned:
    one = next(one for one in answer.speakers if one.name == speaker.name)
    problem = problem_of(scenario, speaker)
    flipped = orientation == "flipped"
    vertical = axes.vertical_m[:, np.newaxis]
    above = vertical + problem.drop_m(axes.tilt_deg, flipped) if problem.from_trim else vertical
    shape = len(axes.x_m), len(axes.vertical_m), len(axes.tilt_deg)
    height = np.broadcast_to(above, shape)
    others = [of.levels_db for name, of in answer.rows.by_speaker.items() if name != speaker.name]
    served = served_rows(scenario, speaker)
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
    shadows = []
    for place, x in enumerate(axes.x_m):
        every = Placements.of(x, above, axes.tilt_deg[np.newaxis], flipped)
        levels, shadow = levels_and_shadow_db(scenario, speaker, problem, every)
        softest = np.broadcast_to(problem.softest_re_last_db(every), shape[1:])
        shadows.append(np.broadcast_to(shadow, levels.shape))
        for up, turn in np.ndindex(*shape[1:]):
            index, inside = (place, up, turn), (up, turn)
            tilt = float(axes.tilt_deg[turn])
            there = Placement(
                float(x), float(height[place, up, turn]), tilt, flipped, one.placement.splay_deg
            )
            at = placed(scenario, speaker, problem, there, served=served)
            held = support_at(scenario, speaker, there)
            spots.fill(index, scenario, at, edges, held)
            own_db = levels[inside]
            moved = replace(
                _moved(one, at, own_db[:, served], float(softest[inside])), support=held
            )
            rows = _rows_of(own_db, shadow[inside])
            together = power_sum_db(np.stack([own_db, *others])) if others else own_db
            light = _light_answer(answer, moved, rows, together)
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
        line_m=spots.line_m,
        line_end_deg=spots.line_end_deg,
        shadow_db=_hidden(np.stack(shadows), from_trim=problem.from_trim),
        loads=tuple(tuple(map(tuple, of)) for of in spots.loads),
        cautions=tuple(told),
        caution_list=spots.caution_list,
    )


def _hidden(shadow_db: FloatArray, *, from_trim: bool) -> FloatArray | None:
    """(bands, rows, xs, heights, tilts) from (xs, heights, tilts, bands, rows), as small as it is.

    What walls take goes with the place alone: by height it is alike at all tilts.
    """
    if not shadow_db.any():
        return None
    moved = np.moveaxis(shadow_db, (3, 4), (0, 1))
    return moved if from_trim else moved[..., :1]


def _standing(scenario: Scenario, one: SpeakerAnswer) -> Placed:
    """A loudspeaker where the answer has it."""
    speaker = scenario.speaker(one.name)
    place = one.placement
    return placed(scenario, speaker, problem_of(scenario, speaker), place)


def _moved(
    one: SpeakerAnswer, at: Placed, levels_db: FloatArray, softest_db: float
) -> SpeakerAnswer:
    """The loudspeaker's answer at this placement, as far as cautions look at it.

    levels_db: (bands, n) at the rows that it is judged on
    """
    weight = at.problem.rows.weight
    return replace(
        one,
        orientation=at.placement.orientation,
        x_m=at.placement.x_m,
        height_m=at.placement.height_m,
        tilt_deg=at.placement.tilt_deg,
        trim_m=trim_m(at),
        aim_point=aim_point_m(at),
        spread_db=known(float(measures.spread_db(levels_db))),
        worst_band_spread_db=known(float(measures.worst_band_spread_db(levels_db))),
        deviation_db=known(float(measures.deviation_db(levels_db, weight))),
        rows_within_3db_percent=known(float(measures.rows_within_percent(levels_db, weight))),
        softest_db=known(softest_db),
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

"""One loudspeaker where it is to hang, and where its axis meets the audience."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..aim import measures
from ..aim.check_positions import choose_checks
from ..aim.limits import broken, kept_by_sound_alone
from ..aim.problem import Problem, first_hit
from ..aim.setting_window import WITHIN_DB, Spread, height_window_m, tilt_window_deg
from ..aim.uniform_line import (
    UniformLevel,
    aim_to_edge_m,
    coverage_edge_deg,
    departure_m,
    near_side_above,
    uniform_level,
)
from ..base.arrays import FloatArray, IntArray
from ..field.diffraction import Screening
from ..field.levels import levels_db, sight
from ..geometry.section import elevation_deg
from ..results.answer import (
    BandFigures,
    CheckPosition,
    Ends,
    LeftToFill,
    Shortcut,
    SpeakerRows,
    UniformLine,
    Window,
)
from ..results.serialise import known
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.speaker import OneOrMany, Placement, Range, Speaker
from .problems import (
    hiding_for,
    last_ears_m,
    left_rows,
    offset_db,
    screening_of,
    served_rows,
)


@dataclass(frozen=True, eq=False)
class Placed:
    """A loudspeaker where it is to hang.

    served: (s,) indices of the rows that it is judged on among the scenario's: those it serves
        and does not leave to a fill
    throw_m: to the aim point, None where the axis meets no served plane
    aim_piece: index of the plane's piece there
    together: the question about it and the one that hangs under it; None where none does
    """

    speaker: Speaker
    problem: Problem
    placement: Placement
    served: IntArray
    throw_m: float | None
    aim_piece: int | None
    together: Problem | None = None

    @property
    def question(self) -> Problem:
        """What the search was, or would be, asked."""
        return self.problem if self.together is None else self.together


def placed(
    scenario: Scenario,
    speaker: Speaker,
    problem: Problem,
    placement: Placement,
    *,
    together: Problem | None = None,
    served: IntArray | None = None,
) -> Placed:
    """The loudspeaker, with where its axis meets the audience.

    served: the rows that it is judged on, where they are known already
    """
    distance, piece = first_hit(placement, problem.planes)
    hit = bool(np.isfinite(distance))
    return Placed(
        speaker=speaker,
        problem=problem,
        placement=placement,
        served=served_rows(scenario, speaker) if served is None else served,
        throw_m=float(distance) if hit else None,
        aim_piece=int(piece) if hit else None,
        together=together,
    )


def trim_m(at: Placed) -> float:
    """z of the cabinet's lowest point; the height where there is no outline."""
    tilt, flipped = at.placement.tilt_deg, at.placement.flipped
    drop = drop_m(at.speaker.cabinet, tilt_deg=tilt, flipped=flipped)
    return at.placement.height_m - float(drop)


def aim_point_m(at: Placed) -> tuple[float, float] | None:
    """x, z where the axis first meets a served audience plane."""
    if at.throw_m is None:
        return None
    tilt = np.radians(at.placement.tilt_deg)
    return (
        at.placement.x_m + at.throw_m * float(np.cos(tilt)),
        at.placement.height_m + at.throw_m * float(np.sin(tilt)),
    )


def aim_seating_and_row(scenario: Scenario, at: Placed) -> tuple[str | None, int | None]:
    """The seating that the axis meets, and the row nearest to the aim point in it."""
    point = aim_point_m(at)
    if point is None or at.aim_piece is None:
        return None, None
    seating = int(at.problem.planes.seating[at.aim_piece])
    rows = scenario.rows
    index = rows.of((seating,))
    away = np.hypot(rows.x_m[index] - point[0], rows.z_m[index] - point[1])
    return scenario.seatings[seating].name, int(index[int(np.argmin(away))])


def uniform_of(at: Placed) -> UniformLevel | None:
    """The uniform-level line through the aim point."""
    if at.throw_m is None:
        return None
    return uniform_level(
        at.problem.pattern,
        at.placement,
        air_loss=at.problem.air_loss,
        throw_m=at.throw_m,
    )


# One loudspeaker at one placement: every figure of the answer that needs no search.


def uniform_line(at: Placed) -> UniformLine | None:
    """Its part from the aim point to the coverage edge towards the near end."""
    line = uniform_of(at)
    if line is None:
        return None
    above = near_side_above(at.placement, at.problem.rows)
    edge = coverage_edge_deg(at.problem.pattern, at.placement, above=above)
    points = aim_to_edge_m(line, edge)
    points = points[np.isfinite(points).all(axis=1)]
    end = None if edge is None else (float(points[-1, 0]), float(points[-1, 1]))
    return UniformLine(points_m=points, edge=end)


def rows_of_speaker(scenario: Scenario, at: Placed) -> SpeakerRows:
    """This loudspeaker at every row of the scenario, output and shadow included."""
    rows = scenario.rows
    seen = sight(at.placement, rows.x_m, rows.z_m)
    levels, shadow = levels_and_shadow_db(scenario, at.speaker, at.problem, at.placement)
    line = uniform_of(at)
    if line is None or at.throw_m is None:
        nothing = np.full(len(rows), np.nan)
        return SpeakerRows(seen.distance_m, seen.off_axis_deg, levels, shadow, nothing, nothing)
    aim_level = aim_level_db(scenario, at)
    return SpeakerRows(
        distance_m=seen.distance_m,
        off_axis_deg=seen.off_axis_deg,
        levels_db=levels,
        shadow_db=shadow,
        departure_db=measures.design_level_db(levels) - aim_level,
        departure_m=departure_m(line, rows),
    )


NEAR_BAND_HZ = 4000.0
"""What a front row lacks is told in the design band nearest to this: consonants."""


def left_to_fill(scenario: Scenario, at: Placed, rows: SpeakerRows) -> LeftToFill | None:
    """The front rows that it leaves to a fill, and how far they fall short; None for none."""
    left = left_rows(scenario, at.speaker.name)
    left = left[np.isin(left, scenario.rows.of(at.speaker.serves))]
    if len(left) == 0:
        return None
    bands = np.array(scenario.aim.bands_hz)
    band = int(np.argmin(np.abs(np.log(bands / NEAR_BAND_HZ))))
    weight = scenario.rows.weight[at.served]
    mean = float((rows.levels_db[band, at.served] * weight).sum() / weight.sum())
    short, away = mean - rows.levels_db[band, left], rows.distance_m[left]
    return LeftToFill(
        rows=tuple(int(row) for row in left),
        distance_m=(float(away.min()), float(away.max())),
        short_db=(float(short.min()), float(short.max())) if np.isfinite(short).all() else None,
        band_hz=float(bands[band]),
    )


def aim_level_db(scenario: Scenario, at: Placed) -> float:
    """Design level at the aim point, which there must be; no shadow."""
    assert at.throw_m is not None
    point = aim_point_m(at)
    assert point is not None
    level = levels_db(
        at.problem.pattern,
        at.placement,
        np.array([point[0]]),
        np.array([point[1]]),
        air_loss=at.problem.air_loss,
        offset_db=offset_db(at.speaker, scenario.aim.bands_hz),
    )
    return float(measures.design_level_db(level)[0])


def levels_and_shadow_db(
    scenario: Scenario, speaker: Speaker, problem: Problem, placement: OneOrMany
) -> tuple[FloatArray, FloatArray]:
    """Levels, output and shadow included, and the loss by screening, at every row of the scenario.

    Both (…, bands, rows) for placements whose fields broadcast to (…); the loss is 0 where nothing
    hides.
    """
    rows = scenario.rows
    many = placement.shape
    shape = (*many, len(scenario.aim.bands_hz), len(rows))
    hidden: Screening | None = screening_of(scenario, rows, scenario.aim.bands_hz)
    if many:  # for one placement it does not pay to know what can never hide
        hidden = hiding_for(scenario, rows, speaker)
    shadow: FloatArray = np.zeros(shape)
    if hidden is not None:
        x, height = np.asarray(placement.x_m), np.asarray(placement.height_m)
        shadow = np.broadcast_to(hidden.loss_db(x, height), shape)
    levels = levels_db(
        problem.pattern,
        placement,
        rows.x_m,
        rows.z_m,
        air_loss=problem.air_loss,
        offset_db=offset_db(speaker, scenario.aim.bands_hz),
        shadow_db=shadow,
    )
    return levels, shadow


def band_figures(
    levels: FloatArray, bands_hz: tuple[float, ...], index: IntArray
) -> dict[float, BandFigures]:
    """Per band over rows (bands, n) that stand at these indices; None where a level is unknown."""
    found = {}
    for band, level in zip(bands_hz, levels, strict=True):
        if np.isfinite(level).all():
            found[band] = BandFigures(
                spread_db=float(np.ptp(level)),
                loudest=int(index[int(np.argmax(level))]),
                softest=int(index[int(np.argmin(level))]),
            )
        else:
            found[band] = BandFigures(None, None, None)
    return found


def shortcut_of(scenario: Scenario, at: Placed) -> Shortcut:
    """Same place, axis at the last row of the farthest served seating."""
    x, z = last_row_ear_m(scenario, at)
    dx, dz = x - at.placement.x_m, z - at.placement.height_m
    tilt = float(np.clip(elevation_deg(np.asarray(dx), np.asarray(dz)), -90.0, 90.0))
    there = Placement(at.placement.x_m, at.placement.height_m, tilt, at.placement.flipped)
    return Shortcut(tilt_deg=tilt, spread_db=known(measures.spread_db(at.problem.levels_db(there))))


def last_row_ear_m(scenario: Scenario, at: Placed) -> tuple[float, float]:
    """x, z of the ears in the served last row that is farthest from the acoustic centre."""
    ears_m = [(float(x), float(z)) for x, z in last_ears_m(scenario, at.speaker)]
    centre_m = (at.placement.x_m, at.placement.height_m)
    return max(ears_m, key=lambda ear_m: math.dist(ear_m, centre_m))


def window_of(at: Placed, of_all_db: Spread | None = None) -> Window | None:
    """How far tilt and height may be off; None where a level is unknown.

    With another under it both move, and the spread is that of both.
    of_all_db: spread of all loudspeakers together, where that is what is to stay
    """
    place, ruled = at.placement, _with_tolerance(at.question)
    free = kept_by_sound_alone(ruled)
    spread_db = of_all_db or ruled.spread_db
    here = place.varied(tilt_deg=np.array([place.tilt_deg]))
    if not np.isfinite(spread_db(here)).all():
        return None
    (tilts, free_tilts), (heights, free_heights) = (
        [of(problem, place, within_db=WITHIN_DB, spread_db=spread_db) for problem in (ruled, free)]
        for of in (tilt_window_deg, height_window_m)
    )

    def rules(of: Range, by_sound: Range, past: Callable[[float], Placement]) -> Ends:
        """The limit just past each end that the sound alone would not have."""
        low, high = (
            broken(ruled, past(end + step)) if abs(other - end) > abs(step) else None
            for end, other, step in zip(of, by_sound, (-_JUST, _JUST), strict=True)
        )
        return low, high

    return Window(
        tilt_deg=tilts,
        height_m=heights,
        within_db=WITHIN_DB,
        of="own" if of_all_db is None else "all",
        tilt_rules=rules(tilts, free_tilts, lambda to: replace(place, tilt_deg=to)),
        height_rules=rules(heights, free_heights, lambda to: replace(place, height_m=to)),
        by_sound_tilt_deg=free_tilts,
        by_sound_height_m=free_heights,
    )


_JUST = 0.01
"""Degrees or metres: two ends this close are the same."""


def _with_tolerance(problem: Problem) -> Problem:
    """The question without what leaves a single tilt: a given tilt, or a rigging set in steps.

    How far the tilt may be off is not how finely it can be set.
    """
    hang, reach = problem.hang, problem.reachable_tilt_deg
    if hang.tilt_deg[0] == hang.tilt_deg[1]:
        problem = problem.with_hang(replace(hang, tilt_deg=(-90.0, 90.0)))
    if reach and all(low == high for spans in reach.values() for low, high in spans):
        problem = replace(problem, reachable_tilt_deg=None)
    return problem


def check_positions(scenario: Scenario, at: Placed) -> tuple[CheckPosition, ...]:
    """Where a microphone tells most about the hang, the most telling first."""
    bands = scenario.aim.bands_hz
    rows = scenario.rows
    return tuple(
        CheckPosition(
            name=rows.label(int(at.served[check.row])),
            x_m=check.x_m,
            z_m=check.z_m,
            distance_m=check.distance_m,
            off_axis_deg=check.off_axis_deg,
            levels_db={
                band: known(level) for band, level in zip(bands, check.levels_db, strict=True)
            },
            level_per_degree_db=check.level_per_degree_db,
            reason=check.reason,
        )
        for check in choose_checks(at.problem, at.placement)
    )

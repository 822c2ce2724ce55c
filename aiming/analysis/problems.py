"""What hides rows of a scenario: surfaces, and the floors of all seatings."""

from dataclasses import replace
from functools import lru_cache, reduce
from math import ceil, floor

import numpy as np

from ..aim.hung_pair import Under
from ..aim.problem import Problem
from ..aim.tolerance import Tolerance
from ..base.air import Air, AirLoss, air_loss
from ..base.arrays import FloatArray, IntArray
from ..base.bands import exact_midband_hz, width_of
from ..field.diffraction import Screening
from ..field.walls import walls_of
from ..geometry.section import Rows, Seating, Surface, plane_segments
from ..rigging.body import NotChecked, has_bar
from ..rigging.lines import headroom_of
from ..rigging.reach import reachable_tilt_deg
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from ..speaker.headroom import Headroom
from ..speaker.pattern import Pattern
from ..speaker.rigging import Rigging, Underhung
from ..speaker.speaker import Orientation, Placement, Range, Speaker


def screening_of(scenario: Scenario, rows: Rows, bands_hz: tuple[float, ...]) -> Screening:
    """What hides these rows, in these bands."""
    return screening_at(scenario, rows.x_m, rows.z_m, bands_hz)


def screening_at(
    scenario: Scenario, x_m: FloatArray, z_m: FloatArray, bands_hz: tuple[float, ...]
) -> Screening:
    """What hides places (n,) each of the section, in these bands."""
    return _screening(scenario.seatings, scenario.surfaces, x_m, z_m, bands_hz, scenario.air)


def _screening(
    seatings: tuple[Seating, ...],
    surfaces: tuple[Surface, ...],
    x_m: FloatArray,
    z_m: FloatArray,
    bands_hz: tuple[float, ...],
    air: Air,
) -> Screening:
    return Screening(
        walls=walls_of(seatings, surfaces),
        row_x_m=x_m,
        row_z_m=z_m,
        midband_hz=np.array([exact_midband_hz(band) for band in bands_hz]),
        c_m_s=air.speed_of_sound_m_s,
    )


NEARBY_M, _PAST_M = 3.0, 1.0
"""Questions about a placement, its tolerance, a metre higher, what was really hung, go no further
than this beyond the ranges that are searched; what a limit costs is asked nearer by."""


def hiding_for(scenario: Scenario, rows: Rows, speaker: Speaker) -> Screening | None:
    """The screening of these rows in the design bands, from wherever the loudspeaker may hang,
    and from wherever it may be off within the tolerance.

    None where nothing can hide any of them, from there or from nearby: then nothing has to be
    computed.
    """
    screening = screening_of(scenario, rows, scenario.aim.bands_hz)
    return _hiding(screening, *_asked_m(scenario, speaker))


@lru_cache(maxsize=32)
def hiding_points(scenario: Scenario, speaker: Speaker) -> Screening | None:
    """The same of the watched points: what hides them is found once."""
    x_m, z_m = points_m(scenario).T
    screening = screening_at(scenario, x_m, z_m, scenario.aim.bands_hz)
    return _hiding(screening, *_asked_m(scenario, speaker))


def points_m(scenario: Scenario) -> FloatArray:
    """(p, 2) x, z of the watched points."""
    return np.array([one.at_m for one in scenario.points]).reshape(-1, 2)


def _hiding(screening: Screening, x_m: Range, height_m: Range) -> Screening | None:
    if screening.never_hides(_wider(x_m, NEARBY_M), _wider(height_m, NEARBY_M)):
        return None
    return _narrowed(screening, x_m, height_m)


def _narrowed(screening: Screening, x_m: Range, height_m: Range) -> Screening:
    """The screening made for these ranges; lit, where nothing inside them is hidden."""
    for by_m in (_PAST_M, 0.0):
        ranges = _wider(x_m, by_m), _wider(height_m, by_m)
        if screening.never_hides(*ranges):
            return screening.lit_within(*ranges)
    return screening.within(x_m, height_m)


def picked_shadow(scenario: Scenario, which: IntArray, speaker: Speaker) -> Screening | None:
    """The same for rows of the scenario: what is asked again, of a house that is the same, is
    found once."""
    x_m, height_m = _asked_m(scenario, speaker)
    of = scenario
    house = (of.seatings, of.surfaces, of.rows, of.aim.bands_hz, of.air)
    wide = [_whole_metres(_wider(one, NEARBY_M)) for one in (x_m, height_m)]
    if _all_lit(*house, *wide):
        return None
    return _picked(*house, tuple(which.tolist()), x_m, height_m)


@lru_cache(maxsize=64)
def _picked(
    seatings: tuple[Seating, ...],
    surfaces: tuple[Surface, ...],
    rows: Rows,
    bands_hz: tuple[float, ...],
    air: Air,
    which: tuple[int, ...],
    x_m: Range,
    height_m: Range,
) -> Screening:
    of = rows.pick(np.array(which, dtype=np.intp))
    screening = _screening(seatings, surfaces, of.x_m, of.z_m, bands_hz, air)
    return _narrowed(screening, x_m, height_m)


def _whole_metres(range_m: Range) -> Range:
    """Outwards, so that what moves by little is asked once."""
    return float(floor(range_m[0])), float(ceil(range_m[1]))


@lru_cache(maxsize=64)
def _all_lit(
    seatings: tuple[Seating, ...],
    surfaces: tuple[Surface, ...],
    rows: Rows,
    bands_hz: tuple[float, ...],
    air: Air,
    x_m: Range,
    height_m: Range,
) -> bool:
    screening = _screening(seatings, surfaces, rows.x_m, rows.z_m, bands_hz, air)
    return screening.never_hides(x_m, height_m)


def _asked_m(scenario: Scenario, speaker: Speaker) -> tuple[Range, Range]:
    """Where the acoustic centre may be, x and height, with what it may be off."""
    off = scenario.aim.tolerance or Tolerance()
    return _wider(speaker.hang.x_m, off.x_m), _wider(_height_range_m(speaker), off.height_m)


def _height_range_m(speaker: Speaker) -> Range:
    """Where the acoustic centre may lie, whatever the tilt."""
    low, high = speaker.hang.vertical_m
    if speaker.hang.vertical == "height":
        return low, high
    tilt = np.linspace(-90.0, 90.0, 181)
    drops = [drop_m(speaker.cabinet, tilt_deg=tilt, flipped=turn) for turn in (False, True)]
    return low + float(np.min(drops)), high + float(np.max(drops))


def _wider(range_m: Range, by_m: float) -> Range:
    return range_m[0] - by_m, range_m[1] + by_m


# From a scenario to the question that the search answers, one loudspeaker at a time.


def band_air_loss(scenario: Scenario, bands_hz: tuple[float, ...]) -> AirLoss:
    """What the air takes from these bands, octaves or thirds as the design bands are."""
    return air_loss(bands_hz, scenario.air, width=width_of(scenario.aim.bands_hz))


def left_rows(scenario: Scenario, name: str) -> IntArray:
    """Indices of the rows that a loudspeaker leaves to a front fill, the foremost first."""
    front = scenario.front_rows(name)
    return front[: left_count(scenario, name)]


def left_count(scenario: Scenario, name: str) -> int:
    """How many front rows a loudspeaker leaves to a fill; "knee" is looked for once."""
    above = scenario.company.hung_under.get(name)
    head = name if above is None else above.above
    if head in scenario.left_to_fill:
        return scenario.left_to_fill[head]
    if isinstance(scenario.aim.left_to_fill, int):
        return scenario.aim.left_to_fill
    return 0 if head in scenario.company.fills else _knee_count(scenario, head)


@lru_cache(maxsize=32)
def _knee_count(scenario: Scenario, name: str) -> int:
    from .front_rows import knee

    return knee(scenario, scenario.speaker(name))


def leaving(scenario: Scenario, counts: dict[str, int]) -> Scenario:
    """The scenario with so many front rows left to a fill, by loudspeaker."""
    return replace(scenario, left_to_fill={**scenario.left_to_fill, **counts})


def served_rows(scenario: Scenario, speaker: Speaker) -> IntArray:
    """Indices of the rows that a loudspeaker is judged on: those served and not left to a fill."""
    rows = scenario.rows.of(speaker.serves)
    left = left_rows(scenario, speaker.name)
    return rows[~np.isin(rows, left)] if len(left) else rows


def judged_rows(scenario: Scenario) -> IntArray:
    """Indices of the rows that all loudspeakers together are judged on.

    Left out are those that some loudspeaker leaves to a fill and no other is judged on.
    """
    left, kept = set[int](), set[int]()
    for speaker in scenario.speakers:
        left |= set(left_rows(scenario, speaker.name).tolist())
        kept |= set(served_rows(scenario, speaker).tolist())
    return np.array([row for row in range(len(scenario.rows)) if row in kept or row not in left])


@lru_cache(maxsize=64)
def design_pattern(pattern: Pattern, bands_hz: tuple[float, ...]) -> Pattern:
    """The design bands of a pattern, one object for each, so that its windows are built once."""
    return pattern.only(bands_hz)


def problem_of(scenario: Scenario, speaker: Speaker) -> Problem:
    """What the search is asked for this loudspeaker."""
    bands = scenario.aim.bands_hz
    served = served_rows(scenario, speaker)
    met = range(len(scenario.seatings)) if scenario.aim.axis_on_any else speaker.serves
    return Problem(
        pattern=design_pattern(speaker.pattern, bands),
        rows=scenario.rows.pick(served),
        planes=plane_segments(scenario.seatings, tuple(met)),
        air_loss=band_air_loss(scenario, bands),
        hang=speaker.hang,
        cabinet=speaker.cabinet,
        objective=scenario.aim.objective,
        axis_on_audience=scenario.aim.axis_on_audience,
        shadow=picked_shadow(scenario, served, speaker),
        reachable_tilt_deg=reachable(scenario, speaker),
        headroom=headroom(scenario, speaker),
        max_front_elevation_deg=scenario.aim.max_front_elevation_deg,
        front_ear_m=front_ear_m(scenario, scenario.rows.pick(scenario.rows.of(speaker.serves))),
        softest_db=scenario.aim.softest_db,
        last_ears_m=last_ears_m(scenario, speaker),
    )


def last_ears_m(scenario: Scenario, speaker: Speaker) -> FloatArray:
    """(k, 2) x, z of the ears in the last row of each seating that it serves."""
    last = [int(scenario.rows.of((name,))[-1]) for name in speaker.serves]
    return np.stack([scenario.rows.x_m[last], scenario.rows.z_m[last]], axis=1)


def front_ear_m(scenario: Scenario, rows: Rows) -> tuple[float, float]:
    """x, z of the ears nearest to what is looked at, along x; of several the lowest."""
    away = np.abs(rows.x_m - scenario.looked_at_m[0])
    row = int(np.lexsort((rows.z_m, away))[0])
    return float(rows.x_m[row]), float(rows.z_m[row])


def searched_problem_of(scenario: Scenario, speaker: Speaker) -> Problem:
    """What the search is asked for this loudspeaker and, where one hangs under it, for both."""
    alone = problem_of(scenario, speaker)
    name = scenario.company.under(speaker.name)
    if name is None:
        return alone
    below = scenario.speaker(name)
    bands = scenario.aim.bands_hz
    seatings = tuple({*speaker.serves, *below.serves})
    both = np.union1d(served_rows(scenario, speaker), served_rows(scenario, below))
    rows = scenario.rows.pick(both)
    return replace(
        alone,
        rows=rows,
        front_ear_m=front_ear_m(scenario, scenario.rows.pick(scenario.rows.of(seatings))),
        last_ears_m=np.unique(
            np.concatenate([alone.last_ears_m, last_ears_m(scenario, below)]), axis=0
        ),
        shadow=picked_shadow(scenario, both, speaker),
        under=Under(
            held=scenario.company.hung_under[name],
            pattern=design_pattern(below.pattern, bands),
            flipped=below.hang.orientations[0] == "flipped",
            louder_db=offset_db(below, bands) - offset_db(speaker, bands),
            shadow=picked_shadow(scenario, both, below),
        ),
    )


def fixed(problem: Problem) -> bool:
    """Whether nothing is left to choose."""
    low, high = problem.splay_deg
    return problem.hang.fixed and low == high


def only_placement(problem: Problem) -> Placement:
    """The placement of a loudspeaker with nothing left to choose."""
    hang = problem.hang
    flipped = hang.orientations[0] == "flipped"
    tilt = hang.tilt_deg[0]
    height = hang.vertical_m[0] + float(problem.drop_m(tilt, flipped))
    return Placement(
        x_m=hang.x_m[0],
        height_m=height,
        tilt_deg=tilt,
        flipped=flipped,
        splay_deg=problem.splay_deg[0],
    )


def offset_db(speaker: Speaker, bands_hz: tuple[float, ...]) -> FloatArray:
    """(bands,) its output in these bands."""
    held = speaker.pattern.band_hz
    return speaker.offset_db[[held.index(band) for band in bands_hz]]


def rigging_with_below(
    scenario: Scenario, speaker: Speaker, rigging: Rigging, splay_deg: float
) -> Rigging | None:
    """The rigging with the loudspeaker that hangs under this one, as a mass at its place.

    The same where none hangs there; None where its mass or centre of gravity is not given.
    """
    name = scenario.company.under(speaker.name)
    if name is None:
        return rigging
    below, held = scenario.speaker(name), scenario.company.hung_under[name]
    cabinet = below.cabinet
    if cabinet is None or cabinet.mass_kg is None or cabinet.centre_of_gravity_m is None:
        return None
    u, w = cabinet.centre_of_gravity_m
    w = -w if below.hang.orientations[0] == "flipped" else w
    own = held.own_joint_m
    return replace(
        rigging,
        below=Underhung(
            mass_kg=cabinet.mass_kg,
            joint_m=held.joint_m,
            centre_of_gravity_m=(u - own[0], w - own[1]),
            splay_deg=splay_deg,
        ),
    )


def with_hung_masses(scenario: Scenario, splays_deg: dict[str, float]) -> Scenario:
    """The scenario with what hangs under each loudspeaker among the masses that its rigging holds.

    splays_deg: by the name of the loudspeaker above; what has no known mass is left out here, and
    its loads are then not checked
    """
    rigging = dict(scenario.rigging)
    for name, splay in splays_deg.items():
        if name in rigging and scenario.company.under(name) is not None:
            speaker = scenario.speaker(name)
            rigging[name] = {
                turn: rigging_with_below(scenario, speaker, held, splay) or held
                for turn, held in rigging[name].items()
            }
    return replace(scenario, rigging=rigging)


def reachable(scenario: Scenario, speaker: Speaker) -> dict[Orientation, tuple[Range, ...]] | None:
    """Per orientation the intervals of tilt that the declared rigging holds; None without one.

    A pulling line to a fixed point limits the search only where the place is given: elsewhere it
    depends on what the search is to find, and the placement found is checked afterwards.  Where a
    loudspeaker hangs under it at a splay that is left open, a tilt counts that is held at every
    splay of the range; with a pick bar's holes, whose tilts move with the splay, there is no limit.
    """
    declared = scenario.rigging.get(speaker.name, {})
    if speaker.hang.mount != "flown" or not declared:
        return None
    found: dict[Orientation, tuple[Range, ...]] = {}
    at_m = _given_place_m(speaker)
    name = scenario.company.under(speaker.name)
    low, high = scenario.company.hung_under[name].splay_deg if name else (0.0, 0.0)
    splays = np.linspace(low, high, 1 + ceil(high - low)).tolist()
    for orientation, rigging in declared.items():
        spans: list[tuple[Range, ...]] = []
        for splay in splays:
            whole = rigging_with_below(scenario, speaker, rigging, splay)
            if whole is None or (low < high and rigging.holes_u_m):
                continue
            reach = reachable_tilt_deg(
                speaker.cabinet, whole, flipped=orientation == "flipped", at_m=at_m
            )
            if isinstance(reach, NotChecked):
                continue
            if reach.tilts_deg is None:
                spans.append(reach.intervals_deg)
            else:
                spans.append(tuple((tilt, tilt) for tilt in sorted(set(reach.tilts_deg))))
        if spans:
            found[orientation] = reduce(_in_both, spans)
    return found or None


def headroom(scenario: Scenario, speaker: Speaker) -> dict[Orientation, Headroom] | None:
    """Per orientation the steel and the lines under it; None without.

    With a pick bar the hook's place moves with the splay of what hangs under: where that is left
    open there is no limit, and the placement found is checked afterwards.
    """
    if speaker.hang.mount != "flown":
        return None
    found: dict[Orientation, Headroom] = {}
    name = scenario.company.under(speaker.name)
    low, high = scenario.company.hung_under[name].splay_deg if name else (0.0, 0.0)
    for orientation, rigging in scenario.rigging.get(speaker.name, {}).items():
        whole = rigging_with_below(scenario, speaker, rigging, low)
        if has_bar(rigging) and (whole is None or low < high):
            continue
        under = headroom_of(speaker.cabinet, whole or rigging, flipped=orientation == "flipped")
        if under is not None:
            found[orientation] = under
    return found or None


def _in_both(one: tuple[Range, ...], other: tuple[Range, ...]) -> tuple[Range, ...]:
    """The tilts that both have."""
    cut = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple(sorted({(low, high) for low, high in cut if low <= high}))


def _given_place_m(speaker: Speaker) -> tuple[float, float] | None:
    """x, z of the acoustic centre where the placement leaves nothing of it open."""
    hang = speaker.hang
    if hang.vertical != "height" or hang.x_m[0] != hang.x_m[1]:
        return None
    return (hang.x_m[0], hang.vertical_m[0]) if hang.vertical_m[0] == hang.vertical_m[1] else None

"""Cautions about the room: views to the stage, room to walk under, near listeners, wind."""

from collections.abc import Iterable, Iterator

import numpy as np

from ..analysis.clearances import collided, hidden_rows, outline_at_m
from ..analysis.placed_speaker import Placed
from ..analysis.reflections import Misses
from ..analysis.support_loads import Support
from ..base.arrays import FloatArray
from ..base.units import length_text
from ..geometry.section import Rows
from ..results.answer import Answer, Caution
from ..scenario.scenario import Scenario
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Speaker
from .rule import threshold

BESIDE_M = 0.5
"""A head this far beside the cabinet still counts as under it; our own choice."""


def place_cautions(scenario: Scenario, held: Support) -> Iterator[Caution]:
    """Of one loudspeaker where it hangs or stands."""
    yield from _near_listener(scenario, held)
    corners = _corners_m(held)
    if corners is None:
        return
    if held.flown:
        yield from _headroom(scenario, held, corners)
    if scenario.focus is None:
        yield from _sightline(scenario, held, corners)


def wind_cautions(scenario: Scenario, speakers: list[Speaker]) -> Iterator[Caution]:
    """Of a section outdoors."""
    if not scenario.outdoors:
        return
    if scenario.gust_speed_m_s is None:
        yield Caution(
            "wind-limit-missing",
            "caution",
            "outdoors without a wind speed: neither what stands nor what hangs was held against "
            "wind, and no wind is named at which everything comes down",
        )
    for one in speakers:
        if one.hang.mount == "flown":
            yield Caution(
                "wind-not-in-loads",
                "caution",
                "outdoors: wind on the flown box, its swing and its turn about the points are not "
                "in these loads",
                speaker=one.name,
            )


def _corners_m(held: Support) -> FloatArray | None:
    """(n, 2) x, z of the outline as it is placed; None without one."""
    cabinet = held.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None:
        return None
    turned = turned_m(cabinet.outline_m, tilt_deg=held.tilt_deg, flipped=held.flipped)
    return np.asarray(turned + np.array(held.at_m))


def _near_listener(scenario: Scenario, held: Support) -> Iterator[Caution]:
    rows, least = scenario.rows, threshold(scenario, "nearest_listener")
    away = np.hypot(rows.x_m - held.at_m[0], rows.z_m - held.at_m[1])
    row = int(np.argmin(away))
    nearest = float(away[row])
    if nearest < least:
        unit = scenario.units
        yield Caution(
            "near-listener",
            "caution",
            f"{rows.label(row)} is {length_text(nearest, unit)} from the loudspeaker, nearer than "
            f"{length_text(least, unit)}: it is loud there whatever the aim",
            value=nearest,
            unit="m",
            limit=least,
            speaker=held.speaker.name,
        )


def _headroom(scenario: Scenario, held: Support, corners: FloatArray) -> Iterator[Caution]:
    low, high = float(corners[:, 0].min()) - BESIDE_M, float(corners[:, 0].max()) + BESIDE_M
    floors = [
        float(top)
        for seating in scenario.seatings
        for top in _tops_m(seating.floor_m, low, high)
        if top < float(corners[:, 1].min())
    ]
    ground = max(floors, default=0.0)
    room, least = float(corners[:, 1].min()) - ground, threshold(scenario, "headroom")
    if room < least:
        unit = scenario.units
        over = "the floor below it" if floors else "the datum (no seating lies below it)"
        yield Caution(
            "low-headroom",
            "caution",
            f"the cabinet hangs {length_text(room, unit)} above {over}, lower than "
            f"{length_text(least, unit)}: keep people from under it",
            value=room,
            unit="m",
            limit=least,
            speaker=held.speaker.name,
        )


def _tops_m(floor: FloatArray, low: float, high: float) -> FloatArray:
    """z of a floor line at the ends and corners of what of it lies in [low, high]."""
    x, z = floor[:, 0], floor[:, 1]
    start, end = max(low, float(x[0])), min(high, float(x[-1]))
    if start > end:
        return np.zeros(0)
    ends = np.interp([start, end], x, z)
    return np.concatenate([ends, z[(x >= start) & (x <= end)]])


def _sightline(scenario: Scenario, held: Support, corners: FloatArray) -> Iterator[Caution]:
    """Rows between whose eyes and the stage the cabinet stands, in this section."""
    rows = scenario.rows
    hidden = np.flatnonzero(_hides(scenario, rows, corners))
    if len(hidden) == 0:
        return
    first, last = (rows.label(int(row)) for row in hidden[[0, -1]])
    which = first if len(hidden) == 1 else f"{len(hidden)} rows, {first} to {last},"
    focus_x, focus_z = scenario.cautions.stage_focus_m
    unit = scenario.units
    yield Caution(
        "in-sightline",
        "caution",
        f"in this section the cabinet stands in the view from {which} to the stage "
        f"(x {length_text(focus_x, unit)}, from {length_text(focus_z, unit)} up "
        f"{length_text(threshold(scenario, 'stage_top'), unit)})",
        value=float(len(hidden)),
        unit="rows",
        limit=0.0,
        speaker=held.speaker.name,
    )


def _hides(scenario: Scenario, rows: Rows, corners: FloatArray) -> FloatArray:
    """(rows,) whether part of the outline lies between an eye and the stage, by slopes seen.

    Eyes are taken at ear height.  Only corners between the eye and the stage count.
    """
    focus_x, focus_z = scenario.cautions.stage_focus_m
    top = focus_z + threshold(scenario, "stage_top")
    out = np.abs(rows.x_m - focus_x)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = (focus_z - rows.z_m) / out, (top - rows.z_m) / out
        side = np.sign(rows.x_m - focus_x)[:, np.newaxis]
        away = (rows.x_m[:, np.newaxis] - corners[:, 0]) * side
        slope = (corners[:, 1] - rows.z_m[:, np.newaxis]) / away
    between = (away > 0.0) & (away < out[:, np.newaxis])
    least = np.where(between, slope, np.inf).min(axis=1)
    most = np.where(between, slope, -np.inf).max(axis=1)
    return np.asarray((out > 0.0) & (least < high) & (most > low))


# Cautions about a real room: rows in shadow, late reflections, collisions, the view from rows.


def room_cautions(scenario: Scenario, at: Placed, answer: Answer) -> Iterator[Caution]:
    """Of one loudspeaker where it is placed."""
    shadow = answer.rows.by_speaker[at.speaker.name].shadow_db
    yield from _shadowed(scenario, at, shadow)
    yield from _late(scenario, at, Misses(scenario, at.speaker, at.placement, shadow))
    yield from _collision(scenario, at)
    yield from _front_elevation(scenario, at)
    yield from _focus(scenario, at)


def which_rows(rows: Rows, indices: Iterable[int]) -> str:
    """ "row C, rows F to K of stalls": runs of neighbours, each with its seating."""
    runs: list[list[int]] = []
    for row in indices:
        if runs and row == runs[-1][-1] + 1 and rows.seating[row] == rows.seating[row - 1]:
            runs[-1].append(row)
        else:
            runs.append([row])
    shown = [
        rows.label(run[0])
        if len(run) == 1
        else f"rows {rows.names[run[0]]} to {rows.label(run[-1]).removeprefix('row ')}"
        for run in runs
    ]
    return ", ".join(shown)


def _shadowed(scenario: Scenario, at: Placed, shadow_db: FloatArray) -> Iterator[Caution]:
    """Served rows that lose more than a little behind floors and surfaces."""
    lost, least = shadow_db.mean(axis=0), threshold(scenario, "shadow_db")
    hidden = [int(row) for row in at.served if lost[row] > least]
    if not hidden:
        return
    most = float(lost[hidden].max())
    yield Caution(
        "rows-in-shadow",
        "caution",
        f"{which_rows(scenario.rows, hidden)} in the shadow of floors or surfaces, or at its edge: "
        f"up to {most:.1f} dB lost, mean over the design bands. They count in the figures; where "
        "another loudspeaker is to serve them, give them a seating of their own and name it in "
        "`serves`",
        value=most,
        unit="dB",
        limit=least,
        speaker=at.speaker.name,
    )


def _late(scenario: Scenario, at: Placed, misses: Misses) -> Iterator[Caution]:
    """The strongest late reflection off each surface at served rows, and at each point."""
    if not scenario.surfaces:
        return
    late_ms, strong_db = threshold(scenario, "late_ms"), threshold(scenario, "late_db")
    found = misses.later_than(late_ms)
    level = found.level_db.mean(axis=0)
    heard = np.isin(found.point, at.served) | (found.point >= len(scenario.rows))
    strong = heard & (level > strong_db)
    # All rows are one group, each point is its own.
    group = np.where(found.point < len(scenario.rows), -1, found.point)
    pairs = zip(found.surface[strong].tolist(), group[strong].tolist(), strict=True)
    for surface, target in sorted(set(pairs)):
        of = np.flatnonzero(strong & (found.surface == surface) & (group == target))
        worst = int(of[np.argmax(level[of])])
        targets = len(set(found.point[of].tolist()))
        more = ""
        if targets > 1:
            more = f", and at {targets - 1} more row{'s' if targets > 2 else ''}"
        yield Caution(
            "late-reflection",
            "caution",
            f"{scenario.surfaces[surface].name} sends sound to "
            f"{misses.target_text(int(found.point[worst]))} {found.delay_ms[worst]:.0f} ms after "
            f"the direct sound, {_against(float(level[worst]))} it{more}",
            value=float(level[worst]),
            unit="dB",
            limit=strong_db,
            speaker=at.speaker.name,
        )


def _against(level_db: float) -> str:
    return f"{abs(level_db):.1f} dB {'softer than' if level_db < 0.0 else 'louder than'}"


def _collision(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    through = collided(scenario, outline_at_m(at.speaker, at.placement))
    if through:
        yield Caution(
            "collision",
            "stop",
            f"at this place and tilt the cabinet runs through {', '.join(through)}",
            value=float(len(through)),
            unit="lines",
            limit=0.0,
            speaker=at.speaker.name,
        )


def _front_elevation(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """The limit of the search, where a placement that was given breaks it."""
    most = at.problem.max_front_elevation_deg
    if most is None or at.problem.front_ear_m is None:
        return
    x, z = at.problem.front_ear_m
    run, rise = abs(x - float(at.placement.x_m)), float(at.placement.height_m) - z
    seen = float(np.degrees(np.arctan2(rise, run)))
    if seen > most + 0.05:
        yield Caution(
            "front-elevation",
            "caution",
            f"from its front row the loudspeaker is seen {seen:.1f}° above the horizontal, "
            f"over the {most:g}° of `max_front_elevation_deg`: sound seems to come from "
            "overhead there",
            value=seen,
            unit="°",
            limit=most,
            speaker=at.speaker.name,
        )


def _focus(scenario: Scenario, at: Placed) -> Iterator[Caution]:
    """Rows whose view of the focus the cabinet takes; without a focus the stage is asked of."""
    hidden = hidden_rows(scenario, outline_at_m(at.speaker, at.placement))
    if scenario.focus is None or hidden is None or len(hidden) == 0:
        return
    x, z = (length_text(of, scenario.units) for of in scenario.focus.at_m)
    yield Caution(
        "in-sightline",
        "caution",
        f"in this section the cabinet stands between {which_rows(scenario.rows, hidden)} and the "
        f"focus (x {x}, z {z})",
        value=float(len(hidden)),
        unit="rows",
        limit=0.0,
        speaker=at.speaker.name,
    )

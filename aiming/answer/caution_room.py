"""Cautions about a real room: rows in shadow, late reflections, collisions, the view from rows."""

from collections.abc import Iterable, Iterator

import numpy as np

from ..arrays import FloatArray
from ..scenario.scenario import Scenario
from ..section import Rows
from ..units import length_text
from .caution_limits import threshold
from .in_room import collided, hidden_rows, outline_at_m
from .misses import Misses
from .model import Answer, Caution
from .placed import Placed


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

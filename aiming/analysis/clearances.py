"""The cabinet as it hangs in the room: what it is near, what it runs into, whose view it takes.

Eyes are at ear height, which is within a few centimetres where they are (from memory); the
scenario's `focus.eyes_above_ears` moves them.  Crowns of heads are taken CROWN_M over the ears.
"""

import numpy as np

from ..base.arrays import FloatArray, IntArray
from ..field.walls import walls_of
from ..geometry.sight_lines import (
    clearance_m,
    crossed,
    head_clearance_m,
    hidden_by_edges,
    inside,
    loses_sight,
    outline_distance_m,
    seen_elevation_deg,
)
from ..results.room import NearestRow, NearestSurface, Room
from ..scenario.scenario import Scenario
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Placement, Speaker
from .problems import front_ear_m

CROWN_M = 0.12
"""Of a head over its ears: our own, as far as the comfortable sightline clearance over an eye."""
TOUCH_M = 0.01
"""A cabinet may touch a line by this much: drawings and surveys are no finer; our own."""


def outline_at_m(speaker: Speaker, placement: Placement) -> FloatArray | None:
    """(k, 2) x, z of the cabinet's outline as it is placed; None without one."""
    cabinet = speaker.cabinet
    if cabinet is None or cabinet.outline_m is None:
        return None
    turned = turned_m(cabinet.outline_m, tilt_deg=placement.tilt_deg, flipped=placement.flipped)
    return np.asarray(turned + _centre_m(placement))


def in_room(scenario: Scenario, speaker: Speaker, placement: Placement) -> Room:
    """What stands around the loudspeaker where it is placed."""
    rows, centre = scenario.rows, _centre_m(placement)
    ears = np.stack([rows.x_m, rows.z_m], axis=1)
    outline = outline_at_m(speaker, placement)
    away = np.hypot(*(ears - centre).T) if outline is None else outline_distance_m(ears, outline)
    nearest = int(np.argmin(away))
    front = np.array([front_ear_m(scenario, rows.pick(rows.of(speaker.serves)))])
    lost = hidden_rows(scenario, outline)
    return Room(
        nearest_listener=NearestRow(rows.label(nearest), float(away[nearest])),
        front_elevation_deg=float(seen_elevation_deg(front, centre)[0]),
        over_heads_m=None if outline is None else _over_heads_m(scenario, outline),
        nearest_surface=None if outline is None else _nearest(scenario, outline),
        collides=collided(scenario, outline),
        hides_focus_from=None if lost is None else tuple(int(row) for row in lost),
    )


def collided(scenario: Scenario, outline: FloatArray | None) -> tuple[str, ...]:
    """Surfaces and floors that an outline runs through."""
    if outline is None:
        return ()
    return tuple(name for name, line in _lines(scenario) if runs_through(outline, line))


def runs_through(outline_m: FloatArray, line_m: FloatArray) -> bool:
    """Whether a line (n, 2) runs through an outline (k, 2) by more than TOUCH_M."""
    middle = outline_m.mean(axis=0)
    towards = middle - outline_m
    reach = np.maximum(np.hypot(*towards.T), 1e-9)[:, np.newaxis]
    core = outline_m + towards * np.minimum(TOUCH_M / reach, 1.0)
    if inside(line_m, core).any():
        return True
    return bool(crossed(line_m[:-1], line_m[1:], core, np.roll(core, -1, axis=0)).any())


def _centre_m(placement: Placement) -> FloatArray:
    return np.array([placement.x_m, placement.height_m])


def _lines(scenario: Scenario) -> list[tuple[str, FloatArray]]:
    """Surfaces and floors, named."""
    found = [(one.name, one.line_m) for one in scenario.surfaces]
    return found + [(f"the floor of {one.name}", one.floor_m) for one in scenario.seatings]


def _nearest(scenario: Scenario, outline: FloatArray) -> NearestSurface:
    gaps = [(clearance_m(outline, line), name) for name, line in _lines(scenario)]
    gap, name = min(gaps, key=lambda one: one[0])
    return NearestSurface(name, gap)


def _over_heads_m(scenario: Scenario, outline: FloatArray) -> float | None:
    over = [
        head_clearance_m(outline, one.floor_m, head_m=one.ear_height_m + CROWN_M)
        for one in scenario.seatings
    ]
    return min((one for one in over if one is not None), default=None)


def hidden_rows(scenario: Scenario, outline: FloatArray | None) -> IntArray | None:
    """Rows whose view of the focus an outline takes, and that nothing else hides; None without
    a focus."""
    focus, rows = scenario.focus, scenario.rows
    if focus is None:
        return None
    if outline is None:
        return np.zeros(0, dtype=np.intp)
    eyes = np.stack([rows.x_m, rows.z_m + focus.eyes_above_ears_m], axis=1)
    lost = loses_sight(eyes, focus.at_m, outline)
    if lost.any():
        walls = walls_of(scenario.seatings, scenario.surfaces)
        lost &= ~hidden_by_edges(eyes, focus.at_m, walls.start_m, walls.end_m)
    return np.flatnonzero(lost)

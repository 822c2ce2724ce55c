"""Where the dot of a laser falls that is fixed to the cabinet and points along its axis.

laser o----___              the beam runs beside the axis, so it is followed from where the
 box  |       ----___       laser sits, not from the acoustic centre
               ears  ----x---- - - -    (a) at ear height
          floor _______________----x    (b) on the bare floor
"""

from dataclasses import replace

import numpy as np

from ..aim.problem import first_hit
from ..geometry.section import Segments, plane_segments
from ..results.hang_sheet import LaserMarks
from ..scenario.scenario import Scenario
from ..speaker.cabinet import turned_m
from ..speaker.speaker import Placement, Speaker
from .problems import served_rows

Point = tuple[float, float]
CARRIED_ON_M = 100.0
BEFORE_M = 0.02


def laser_marks(
    scenario: Scenario, speaker: Speaker, place: Placement, *, aim_row: int | None
) -> LaserMarks | None:
    """The marks for a laser at the cabinet's laser_at; None where none is declared."""
    cabinet = speaker.cabinet
    if cabinet is None or cabinet.laser_at_m is None:
        return None
    tilt = place.tilt_deg
    beside = turned_m(cabinet.laser_at_m, tilt_deg=tilt, flipped=place.flipped)
    x, z = place.x_m + float(beside[0]), place.height_m + float(beside[1])
    beam = Placement(x, z, tilt)
    ear = _met(beam, plane_segments(scenario.seatings, speaker.serves))
    bare = tuple(replace(one, ear_height_m=0.0) for one in scenario.seatings)
    floor = _met(beam, plane_segments(bare, tuple(range(len(bare)))))
    beyond = floor is None
    if beyond:
        floor = _met(beam, _carried_on(scenario, speaker))
    wall, wall_point = _first_wall(scenario, beam)
    far = float(np.hypot(wall_point[0] - x, wall_point[1] - z)) if wall_point else np.inf
    if floor is not None and np.hypot(floor[0] - x, floor[1] - z) > far:
        floor = None
    elif floor is not None:
        wall, wall_point = "", None
    if ear is not None and np.hypot(ear[0] - x, ear[1] - z) > far:
        ear = None
    row = _row(scenario, speaker, place, ear, aim_row)
    seating = scenario.seatings[int(scenario.rows.seating[row])]
    row_x = float(scenario.rows.x_m[row])
    to_row = abs(row_x - x) / max(float(np.cos(np.radians(tilt))), 1e-9) - BEFORE_M
    before = ""
    if far < to_row:
        before = _first_wall(scenario, beam)[0]
    elif floor is not None and np.hypot(floor[0] - x, floor[1] - z) < to_row:
        before = "the floor"
    return LaserMarks(
        at_m=(x, z),
        ear_m=ear,
        row=row,
        row_x_m=row_x,
        floor_z_m=float(scenario.rows.z_m[row]) - seating.ear_height_m,
        ear_height_m=seating.ear_height_m,
        dot_z_m=z + (row_x - x) * float(np.tan(np.radians(tilt))),
        floor_m=floor,
        beyond_seating=beyond and floor is not None,
        wall=wall,
        wall_m=wall_point,
        before_row=before,
    )


def _met(beam: Placement, lines: Segments) -> Point | None:
    """x, z where the beam first meets one of the lines."""
    distance = float(first_hit(beam, lines)[0])
    if not np.isfinite(distance):
        return None
    tilt = np.radians(beam.tilt_deg)
    along, up = distance * float(np.cos(tilt)), distance * float(np.sin(tilt))
    return beam.x_m + along, beam.height_m + up


def _carried_on(scenario: Scenario, speaker: Speaker) -> Segments:
    """The served floors carried on level in front of the first row and behind the last."""
    ends = [
        (end, side)
        for index in speaker.serves
        for end, side in ((scenario.seatings[index].floor_m[-1], 1.0),
                          (scenario.seatings[index].floor_m[0], -1.0))
    ]  # fmt: skip
    start = np.array([end for end, _ in ends])
    far = start + np.array([[side * CARRIED_ON_M, 0.0] for _, side in ends])
    return Segments(start, far, np.zeros(len(ends), dtype=np.intp))


def _first_wall(scenario: Scenario, beam: Placement) -> tuple[str, Point | None]:
    """The nearest surface in the beam, by name, and where it is met."""
    found: tuple[float, str, Point | None] = (np.inf, "", None)
    for surface in scenario.surfaces:
        line = surface.line_m
        point = _met(beam, Segments(line[:-1], line[1:], np.zeros(len(line) - 1, dtype=np.intp)))
        if point is not None:
            away = float(np.hypot(point[0] - beam.x_m, point[1] - beam.height_m))
            if away < found[0]:
                found = (away, surface.name, point)
    return found[1], found[2]


def _row(
    scenario: Scenario, speaker: Speaker, place: Placement, ear: Point | None, aim_row: int | None
) -> int:
    """The row to hold the mark in: nearest to the beam at ear height, else the one aimed at."""
    rows, served = scenario.rows, served_rows(scenario, speaker)
    if ear is not None:
        away = np.hypot(rows.x_m[served] - ear[0], rows.z_m[served] - ear[1])
        return int(served[int(np.argmin(away))])
    if aim_row is not None:
        return aim_row
    rise = rows.z_m[served] - place.height_m
    seen = np.degrees(np.arctan2(rise, rows.x_m[served] - place.x_m))
    return int(served[int(np.argmin(np.abs(seen - place.tilt_deg)))])

"""A house of its own beside the program's: walls, ways round them and losses, number by number.

A wall is a piece from one point to another.  Every corner is stood beside, a hair away from it and
in the middle of each side of more than half a turn, so that a way that passes a corner crosses no
wall, and the shortest way is found among these places.
"""

import math
from itertools import pairwise

from outside import Point, midband_hz

Wall = tuple[Point, Point]
_HAIR_M = 1e-7
_DEEP_M = 1e4
C_M_S = 343.2


def walls_of_floors(floors: list[list[Point]], ground: list[int], fronts: list[Wall]) -> list[Wall]:
    """Floors are walls; those of the ground are solid beneath."""
    walls = [piece for floor in floors for piece in pairwise(floor)] + fronts
    for index in ground:
        for x, z in (floors[index][0], floors[index][-1]):
            walls.append(((x, z), (x, z - _DEEP_M)))
    return walls


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _clear(a: Point, b: Point, walls: list[Wall]) -> bool:
    return not any(
        _side(a, b, c) * _side(a, b, d) < 0.0 and _side(c, d, a) * _side(c, d, b) < 0.0
        for c, d in walls
    )


def _beside(walls: list[Wall]) -> list[Point]:
    """Places a hair from every corner that a way can bend round."""
    found = []
    for corner in {point for wall in walls for point in wall if point[1] > -0.5 * _DEEP_M}:
        away = sorted(
            math.atan2(end[1] - corner[1], end[0] - corner[0])
            for wall in walls
            for end in wall
            if corner in wall and end != corner
        )
        for start, end in pairwise([*away, away[0] + 2.0 * math.pi]):
            if end - start > math.pi + 1e-6:
                middle = 0.5 * (start + end)
                found.append(
                    (
                        corner[0] + _HAIR_M * math.cos(middle),
                        corner[1] + _HAIR_M * math.sin(middle),
                    )
                )
    return found


def detour_m(source: Point, ear: Point, walls: list[Wall]) -> float:
    """The way round less the straight way; in the light minus the least detour over a corner."""
    straight = math.dist(source, ear)
    places = _beside(walls)
    from_source = [_clear(source, place, walls) for place in places]
    to_ear = [_clear(place, ear, walls) for place in places]
    over = [math.dist(source, place) + math.dist(place, ear) - straight for place in places]
    if _clear(source, ear, walls):
        both = [d for d, a, b in zip(over, from_source, to_ear, strict=True) if a and b]
        return -min(both, default=math.inf)
    way = [
        math.dist(source, p) if seen else math.inf
        for p, seen in zip(places, from_source, strict=True)
    ]
    for _ in places:
        way = [
            min(
                [own]
                + [
                    way[k] + math.dist(places[k], place)
                    for k in range(len(places))
                    if way[k] < own and _clear(places[k], place, walls)
                ]
            )
            for place, own in zip(places, way, strict=True)
        ]
    ends = [w + math.dist(p, ear) for w, p, seen in zip(way, places, to_ear, strict=True) if seen]
    return min(ends, default=math.inf) - straight


def edge_db(detour: float, nominal_hz: float) -> float:
    """Kurze and Anderson, at most 20 dB; in the light no wider than at 1 kHz."""
    hz = midband_hz(nominal_hz)
    number = 2.0 * detour * (hz if detour >= 0.0 else max(hz, 1000.0)) / C_M_S
    if number <= -0.2:
        return 0.0
    x = math.sqrt(2.0 * math.pi * min(abs(number), 100.0))
    if x == 0.0:
        return 5.0
    ratio = x / (math.tanh(x) if number > 0.0 else math.tan(x))
    return min(max(5.0 + 20.0 * math.log10(ratio), 0.0), 20.0)

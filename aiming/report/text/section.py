"""A small picture of the section in characters, to scale."""

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from ...base.arrays import FloatArray
from ...results.answer import Answer
from .terminal import Terminal, hanging
from .words import throw_m

CELL_RATIO = 2.0
"""A character is about twice as high as it is wide."""
BESIDE, NARROWEST, MOST_LINES = 4, 24, 10


@dataclass(frozen=True)
class Glyphs:
    """The characters that the picture is made of."""

    speaker: str
    axis: str
    edge: str
    floor: str
    wall: str
    datum: str
    aim: str
    louder: str
    within: str
    softer: str
    unknown: str
    left: str


BLOCKS = Glyphs("■", "·", ":", "▁", "░", "+", "×", "▲", "●", "▼", "?", "○")
ASCII = Glyphs("#", ".", ":", "_", "%", "+", "X", "^", "o", "v", "?", "O")


@dataclass
class _Canvas:
    x_from: float
    z_to: float
    step_m: float
    width: int
    height: int
    cells: list[list[str]] = field(init=False)

    def __post_init__(self) -> None:
        self.cells = [[" "] * self.width for _ in range(self.height)]

    def put(self, x_m: float, z_m: float, glyph: str) -> None:
        column = math.floor((x_m - self.x_from) / self.step_m)
        line = math.floor((self.z_to - z_m) / (CELL_RATIO * self.step_m))
        if 0 <= column < self.width and 0 <= line < self.height:
            self.cells[line][column] = glyph

    def line(self, points_m: FloatArray, glyph: str, *, every: int = 1) -> None:
        """A line through points (n, 2); every: a mark in so many columns."""
        for start, end in pairwise(points_m):
            steps = max(1, math.ceil(float(np.abs(end - start).max()) / (0.5 * self.step_m)))
            for step in range(0, steps + 1, every):
                x, z = start + (end - start) * (step / steps)
                self.put(float(x), float(z), glyph)


def section_lines(answer: Answer, *, terminal: Terminal) -> list[str]:
    """The picture, and what its marks mean."""
    scenario = answer.scenario
    glyphs = BLOCKS if terminal.blocks else ASCII
    extent = answer.extent
    ratio = CELL_RATIO * extent.width_m / extent.height_m
    width = round(min(terminal.width - BESIDE, max(NARROWEST, MOST_LINES * ratio)))
    step = max(extent.width_m / width, extent.height_m / (CELL_RATIO * MOST_LINES))
    height = max(1, min(MOST_LINES, math.ceil(extent.height_m / (CELL_RATIO * step))))
    canvas = _Canvas(extent.x_from, extent.z_to, step, width, height)
    far = 2.0 * (extent.width_m + extent.height_m)
    for one in answer.speakers:
        centre = np.array([one.x_m, one.height_m])
        edge = answer.edges[one.name]
        for direction in (edge.above_deg, edge.below_deg):
            if direction is not None:
                canvas.line(_ray(centre, direction, far), glyphs.edge, every=4)
        canvas.line(_ray(centre, one.tilt_deg, throw_m(one) or far), glyphs.axis, every=3)
    for surface in scenario.surfaces:
        canvas.line(surface.line_m, glyphs.wall)
    for seating in scenario.seatings:
        canvas.line(seating.floor_m, glyphs.floor)
    canvas.put(0.0, 0.0, glyphs.datum)
    level_db = answer.curves.design_db
    for x, z, level in zip(answer.rows.x_m, answer.rows.z_m, level_db, strict=True):
        canvas.put(float(x), float(z), _mark(float(level), glyphs))
    left = [row for one in answer.speakers if one.left_to_fill for row in one.left_to_fill.rows]
    for row in left:
        canvas.put(float(answer.rows.x_m[row]), float(answer.rows.z_m[row]), glyphs.left)
    for one in answer.speakers:
        if one.aim_point is not None:
            canvas.put(*one.aim_point, glyphs.aim)
        canvas.put(one.x_m, one.height_m, glyphs.speaker)
    drawn = ["".join(line).rstrip() for line in canvas.cells]
    while drawn and not drawn[0]:
        drawn.pop(0)
    key = hanging(_key(glyphs), width=terminal.width) + [
        f"{glyphs.left} left to a front fill"
    ] * bool(left)
    return [*drawn, *key]


def _key(glyphs: Glyphs) -> str:
    return (
        f"{glyphs.speaker} box {glyphs.axis} axis {glyphs.edge} −6 dB edge {glyphs.aim} aim "
        f"{glyphs.louder} too loud {glyphs.within} within ±3 dB {glyphs.softer} too soft "
        f"{glyphs.datum} datum"
    )


def _ray(start_m: FloatArray, elevation_deg: float, length_m: float) -> FloatArray:
    angle = math.radians(elevation_deg)
    along = np.array([math.cos(angle), math.sin(angle)])
    return np.stack([start_m, start_m + length_m * along])


def _mark(level_db: float, glyphs: Glyphs) -> str:
    if not math.isfinite(level_db):
        return glyphs.unknown
    if level_db > 3.0:
        return glyphs.louder
    return glyphs.softer if level_db < -3.0 else glyphs.within

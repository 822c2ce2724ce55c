"""What a line must be: floors, surfaces, outlines."""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from ...base.units import Unit, plain_length_text
from ...geometry.section import DEFAULT_ROW_SPACING_M
from ..models.base import MOST_POINTS
from .raw import Problem, Raw, table_in

MOST_ROWS = 100_000
LEAST_RUN_M = 0.001
_UNCOUNTED = 10**12

PointProblem = tuple[int, str]
"""Which point of the line, and "found; allowed"."""


def floor_problems(points_m: npt.ArrayLike, unit: Unit) -> Iterator[PointProblem]:
    """Faults of a floor line (n, 2): x that decreases, points that repeat, no run at all."""
    points = np.asarray(points_m, dtype=np.float64).reshape(-1, 2)
    if len(points) < 2:
        return
    step = np.diff(points, axis=0)
    for index in np.flatnonzero(step[:, 0] < 0.0):
        before, x = (plain_length_text(float(at), unit) for at in points[index : index + 2, 0])
        text = f"x = {x} after {before}; x never decreases from the first row to the last"
        yield int(index) + 1, text
    yield from _repeats(step)
    if np.all(step[:, 0] >= 0.0) and np.any(step) and np.ptp(points[:, 0]) < LEAST_RUN_M:
        yield 0, "the line has no length along x; a first and a last row apart in x"


def edge_problems(points_m: npt.ArrayLike, *, closed: bool = False) -> Iterator[PointProblem]:
    """Faults of an edge (n, 2), or of a closed outline: points that repeat, sides that cross.

    An edge may end where it begins, as a beam or a column does.
    """
    points = np.asarray(points_m, dtype=np.float64).reshape(-1, 2)
    if len(points) < 2 or len(points) > MOST_POINTS:
        return
    if closed and len(points) > 2 and np.array_equal(points[0], points[-1]):
        yield len(points) - 1, "the last corner repeats the first; each corner once"
        points = points[:-1]
    step = np.diff(points, axis=0)
    repeats = list(_repeats(step))
    yield from repeats
    if repeats:
        return
    ring = not closed and len(points) > 3 and np.array_equal(points[0], points[-1])
    points = points[:-1] if ring else points
    if (pair := _crossing(points, closed=closed or ring)) is not None:
        yield (
            pair[1],
            f"the side from here crosses the side from point {pair[0] + 1}; "
            "a line that does not cross itself",
        )
    elif closed and len(points) > 2 and _area(points) == 0.0:
        yield 0, "the outline has no area; corners that do not lie on one line"


def _repeats(step: npt.NDArray[np.float64]) -> Iterator[PointProblem]:
    for index in np.flatnonzero(np.all(step == 0.0, axis=1)):
        yield int(index) + 1, "the same point twice; a piece of some length between two points"


def _area(points: npt.NDArray[np.float64]) -> float:
    x, z = points.T
    return float(abs(np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1))) / 2.0)


def _crossing(points: npt.NDArray[np.float64], *, closed: bool) -> tuple[int, int] | None:
    """The first two sides, not neighbours, that share a point."""
    start = points if closed else points[:-1]
    end = np.roll(points, -1, axis=0) if closed else points[1:]
    sides = len(start)
    for one in range(sides - 2):
        last = sides - 1 if closed and one == 0 else sides
        others = slice(one + 2, last)
        a, b = start[one], end[one]
        c, d = start[others], end[others]
        turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
        across = (turns[0] * turns[1] < 0.0) & (turns[2] * turns[3] < 0.0)
        touching = (
            ((turns[0] == 0.0) & _between(a, b, c))
            | ((turns[1] == 0.0) & _between(a, b, d))
            | ((turns[2] == 0.0) & _between(c, d, a))
            | ((turns[3] == 0.0) & _between(c, d, b))
        )
        found = np.flatnonzero(across | touching)
        if len(found):
            return one, int(found[0]) + one + 2
    return None


def _turn(
    a: npt.NDArray[np.float64], b: npt.NDArray[np.float64], c: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Sign of the turn a → b → c."""
    ab, ac = b - a, c - a
    return np.asarray(np.sign(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0]))


def _between(
    a: npt.NDArray[np.float64], b: npt.NDArray[np.float64], c: npt.NDArray[np.float64]
) -> npt.NDArray[np.bool_]:
    """Whether c, on the line through a and b, lies between them."""
    low, high = np.minimum(a, b), np.maximum(a, b)
    return np.asarray(np.all((low <= c) & (c <= high), axis=-1))


def line_rules(raw: Raw) -> Iterator[Problem]:
    """Floor lines, surfaces and outlines of the file, and the number of rows."""
    rows = 0
    for path, seating in raw.tables("seating"):
        points = raw.line(seating.get("line"))
        if points is None:
            continue
        for index, message in floor_problems(points, raw.unit):
            yield (*path, "line", index), message
        rows += rows_asked(raw, seating, abs(points[-1][0] - points[0][0]) if points else 0.0)
        if rows > MOST_ROWS:
            key = "rows" if "rows" in seating else "row_spacing"
            yield (*path, key), f"{rows} rows up to here; at most {MOST_ROWS} in all"
            rows = 0
    for path, surface in raw.tables("surface"):
        for index, message in edge_problems(raw.line(surface.get("line")) or []):
            yield (*path, "line", index), message
    for path, speaker in raw.tables("speaker"):
        outline = raw.line(table_in(speaker, "cabinet").get("outline")) or []
        for index, message in edge_problems(outline, closed=True):
            yield (*path, "cabinet", "outline", index), message


def rows_asked(raw: Raw, seating: dict[str, object], run_m: float) -> int:
    """How many rows a seating asks for on a line of this run."""
    count = seating.get("rows")
    if isinstance(count, int) and not isinstance(count, bool):
        return max(min(count, _UNCOUNTED), 0)
    wished = raw.length(seating.get("row_spacing", f"{DEFAULT_ROW_SPACING_M} m"))
    if wished is None or wished <= 0.0:
        return 0
    return int(min(run_m / wished, _UNCOUNTED)) + 1

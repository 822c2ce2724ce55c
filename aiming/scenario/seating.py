"""The place: datum, air, seating, surfaces, points, focus: keys, rules and construction."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar

import numpy as np
import numpy.typing as npt
from pydantic import BeforeValidator, Field, Tag, ValidationInfo, WithJsonSchema

from ..base.arrays import FloatArray, frozen
from ..base.errors import found_text
from ..base.units import Unit, length_text, plain_length_text
from ..files.read_once import read_once
from ..files.toml_places import Path
from ..geometry.section import (
    DEFAULT_ROW_SPACING_M,
    SEATED_EAR_M,
    SPACING_NOTE_SHARE,
    STANDING_EAR_M,
    Seating,
    Surface,
)
from .keys import (
    BY_KIND,
    MOST_POINTS,
    Length,
    Line,
    Name,
    Number,
    Point,
    PositiveLength,
    Strict,
    metres,
)
from .raw import Gathered, Problem, Raw, one_of, table_in
from .scenario import Focus, WatchedPoint

if TYPE_CHECKING:
    from .root import ScenarioModel


EARS_M = {"seated": SEATED_EAR_M, "standing": STANDING_EAR_M}


def _ear_height_m(value: object, info: ValidationInfo) -> float:
    if isinstance(value, str) and value in EARS_M:
        return EARS_M[value]
    if isinstance(value, str) and not any(character.isdigit() for character in value):
        raise ValueError(f'{found_text(value)}; must be "seated", "standing" or a length')
    return metres(value, info)


EarHeight = Annotated[
    float,
    BeforeValidator(_ear_height_m),
    Field(ge=0.0, le=10.0),
    WithJsonSchema({"$comment": "length", "anyOf": [{"type": "number"}, {"type": "string"}]}),
]


class DatumModel(Strict):
    """The named origin, printed beside every height and distance."""

    name: Name = Field("datum", description="What the origin x = 0, z = 0 is, in the house's words")


class DrawingModel(Strict):
    """A line taken from a drawing."""

    file: Name = Field(description="DXF file, relative to the scenario's folder")
    layer: Name = Field(description="The layer that holds the line")


class SurveyModel(Strict):
    """One line of a survey file that holds several."""

    file: Name = Field(description="Survey file, relative to the scenario's folder")
    line: Name = Field(description="Name of the line in the survey file")


SurveySource = Annotated[
    Annotated[Name, Tag("single")] | Annotated[SurveyModel, Tag("table")], BY_KIND
]


class SeatingModel(Strict):
    """One block of rows: a floor line from its first row to its last."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "line": ("drawing", "survey"),
        "drawing": ("line", "survey"),
        "survey": ("line", "drawing"),
        "rows": ("row_spacing",),
        "row_spacing": ("rows",),
    }

    name: Name = Field(description="The block's name, unlike any other seating's")
    line: Line | None = Field(
        None, description="Floor from the first row to the last, points [x, z]; x never decreases"
    )
    drawing: DrawingModel | None = Field(
        None, description="Instead of line: the floor line from one layer of a DXF drawing"
    )
    survey: SurveySource | None = Field(
        None, description="Instead of line: a survey file, or { file, line } where it holds several"
    )
    ears: EarHeight = Field(
        SEATED_EAR_M, description='"seated" (1.2 m, the default), "standing" (1.6 m), or a length'
    )
    row_spacing: PositiveLength | None = Field(
        None, description="Wished distance between rows along x; default 0.9 m"
    )
    rows: Annotated[int, Field(ge=1)] | None = Field(
        None, description="Instead of row_spacing: the number of rows"
    )
    row_names: list[Name] = Field(
        default_factory=list, description="The house's own row names; default 1, 2, 3 …"
    )
    weight: Annotated[Number, Field(ge=1e-6, le=1e6)] = Field(
        1.0, description="How much a row of this seating counts in weighted figures"
    )


class SurfaceModel(Strict):
    """A solid edge that can shadow a row or send sound back."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {"line": ("drawing",), "drawing": ("line",)}

    name: Name = Field(description="The surface's name, unlike any other surface's")
    line: Line | None = Field(None, description="Points [x, z] along the edge")
    drawing: DrawingModel | None = Field(
        None, description="Instead of line: every line on one layer of a DXF drawing"
    )
    absorption: Annotated[Number, Field(ge=0.0, le=1.0)] = Field(
        0.0, description="Share of the energy that a reflection loses, 0 to 1"
    )


class PointModel(Strict):
    """A place to watch that is no row: what sound reaches it by way of the surfaces."""

    name: Name = Field(description="The point's name, unlike any other point's")
    at: Point = Field(description="[x, z] of the point")
    kind: Name | None = Field(
        None, description='What it is, in your own words: "stage microphone", "neighbour"'
    )


class FocusModel(Strict):
    """What every row is to see."""

    at: Point = Field(
        description="[x, z] to which every eye looks: the performer's head, a screen's lower edge"
    )
    eyes_above_ears: Annotated[Length, Field(ge=-1.0, le=1.0)] = Field(
        0.0, description="Height of the eyes over the ears; default 0, level with them"
    )


# What a line must be: floors, surfaces, outlines.

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
        text = f"x = {x} after {before}; x must never decrease from the first row to the last"
        yield int(index) + 1, text
    yield from _repeats(step)
    if np.all(step[:, 0] >= 0.0) and np.any(step) and np.ptp(points[:, 0]) < LEAST_RUN_M:
        yield 0, "the line has no length along x; its first and last row must lie apart in x"


def edge_problems(points_m: npt.ArrayLike, *, closed: bool = False) -> Iterator[PointProblem]:
    """Faults of an edge (n, 2), or of a closed outline: points that repeat, sides that cross.

    An edge may end where it begins, as a beam or a column does.
    """
    points = np.asarray(points_m, dtype=np.float64).reshape(-1, 2)
    if len(points) < 2 or len(points) > MOST_POINTS:
        return
    if closed and len(points) > 2 and np.array_equal(points[0], points[-1]):
        yield len(points) - 1, "the last corner repeats the first; give each corner once"
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
            "the line must not cross itself",
        )
    elif closed and len(points) > 2 and _area(points) == 0.0:
        yield 0, "the outline has no area; its corners must not lie on one line"


def _repeats(step: npt.NDArray[np.float64]) -> Iterator[PointProblem]:
    for index in np.flatnonzero(np.all(step == 0.0, axis=1)):
        yield int(index) + 1, "the same point twice; give each point once"


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
            yield (*path, key), f"{rows} rows up to here; there may be at most {MOST_ROWS} in all"
            rows = 0
    for path, surface in raw.tables("surface"):
        for index, message in edge_problems(raw.line(surface.get("line")) or []):
            yield (*path, "line", index), message
    for path, speaker in raw.tables("speaker"):
        outline = raw.line(table_in(speaker, "cabinet").get("outline")) or []
        for index, message in edge_problems(outline, closed=True):
            yield (*path, "cabinet", "outline", index), message


def source_rules(raw: Raw) -> Iterator[Problem]:
    """Where a line comes from, and how its rows are counted: each said once."""
    for path, seating in raw.tables("seating"):
        yield from one_of(path, seating, ("line", "drawing", "survey"))
        if "rows" in seating and "row_spacing" in seating:
            yield (*path, "row_spacing"), "both rows and row_spacing; give one of them"
    for path, surface in raw.tables("surface"):
        yield from one_of(path, surface, ("line", "drawing"))


def rows_asked(raw: Raw, seating: dict[str, object], run_m: float) -> int:
    """How many rows a seating asks for on a line of this run."""
    count = seating.get("rows")
    if isinstance(count, int) and not isinstance(count, bool):
        return max(min(count, _UNCOUNTED), 0)
    wished = raw.length(seating.get("row_spacing", f"{DEFAULT_ROW_SPACING_M} m"))
    if wished is None or wished <= 0.0:
        return 0
    return int(min(run_m / wished, _UNCOUNTED)) + 1


# Seatings and surfaces from their tables.


def build_seatings(model: "ScenarioModel", gathered: Gathered) -> tuple[Seating, ...]:
    """Every seating of the file; those whose line cannot be had are left out, with a fault."""
    found: list[Seating] = []
    for index, table in enumerate(model.seating):
        path: Path = ("seating", index)
        floor = _floor(table, model, path, gathered)
        if floor is None:
            continue
        seating = Seating(
            name=table.name,
            floor_m=floor,
            ear_height_m=table.ears,
            row_spacing_m=table.row_spacing or DEFAULT_ROW_SPACING_M,
            row_count=table.rows,
            row_names=tuple(table.row_names),
            weight=table.weight,
        )
        if seating.intervals >= MOST_ROWS:
            gathered.problems.append(
                (path, f"{seating.intervals + 1} rows; there may be at most {MOST_ROWS} in all")
            )
            continue
        gathered.notes.extend(_notes(seating, model.units))
        found.append(seating)
    return tuple(found)


def _notes(seating: Seating, unit: Unit) -> list[str]:
    notes = []
    if seating.spacing_moved_share > SPACING_NOTE_SHARE:
        moved = length_text(seating.run_m / seating.intervals, unit)
        wished = length_text(seating.row_spacing_m, unit)
        notes.append(
            f"seating {seating.name}: rows stand {moved} apart instead of {wished}, "
            "so that both ends of its line are rows"
        )
    surplus = len(seating.row_names) - (seating.intervals + 1)
    if surplus > 0:
        notes.append(f"seating {seating.name}: {surplus} more row names than rows")
    return notes


def _floor(
    table: SeatingModel, model: "ScenarioModel", path: Path, gathered: Gathered
) -> FloatArray | None:
    """(n, 2) of the floor line, wherever it comes from."""
    if table.line is not None:
        return frozen(table.line)
    floor: FloatArray | None = None
    key = "drawing" if table.drawing is not None else "survey"
    if table.drawing is not None:
        from ..files.drawing import floor_from_drawing

        with gathered.reading(
            (*path, key, "file"), table.drawing.file, keys=_drawing_keys((*path, key))
        ) as file:
            floor = read_once(
                floor_from_drawing,
                file,
                layer=table.drawing.layer,
                drawing_units=model.drawing_units,
                origin_m=_origin_m(model),
                mirrored=model.drawing_mirrored,
                display=table.drawing.file,
            )
            what = f"seating {table.name}"
            gathered.notes.append(_extents_note(what, table.drawing, [floor], model.units))
    elif table.survey is not None:
        from ..files.survey import floor_from_survey

        survey = table.survey
        several = isinstance(survey, SurveyModel)
        name = survey.file if isinstance(survey, SurveyModel) else survey
        with gathered.reading((*path, key, "file") if several else (*path, key), name) as file:
            result = read_once(
                floor_from_survey,
                file,
                unit=model.units,
                display=name,
                line=survey.line if isinstance(survey, SurveyModel) else None,
            )
            gathered.survey_notes.extend(result.notes)
            floor = result.points_m
    if floor is None:
        return None
    problems = [message for _, message in floor_problems(floor, model.units)]
    gathered.problems.extend(((*path, key), message) for message in problems)
    return None if problems else frozen(floor)


def _extents_note(what: str, drawing: DrawingModel, lines: Sequence[FloatArray], unit: Unit) -> str:
    """Where what was drawn lies, so that a wrong unit or origin shows."""
    every = np.concatenate(lines)
    ends = (every.min(axis=0), every.max(axis=0))
    across, up = (
        f"{length_text(float(low), unit)} to {length_text(float(high), unit)}"
        for low, high in zip(*ends, strict=True)
    )
    return f'{what}: layer "{drawing.layer}" of {drawing.file}, x {across}, z {up}'


def _drawing_keys(path: Path) -> dict[str, Path]:
    """Where the scenario says what the reader of drawings asks for."""
    return {"layer": (*path, "layer"), "drawing_units": ("drawing_units",)}


def _origin_m(model: "ScenarioModel") -> tuple[float, float]:
    origin = model.drawing_origin or [0.0, 0.0]
    return origin[0], origin[1]


def build_surfaces(model: "ScenarioModel", gathered: Gathered) -> tuple[Surface, ...]:
    """Every surface; a drawing's layer with several lines gives as many, numbered."""
    found: list[Surface] = []
    for index, table in enumerate(model.surface):
        if table.line is not None:
            found.append(Surface(table.name, frozen(table.line), table.absorption))
        elif table.drawing is not None:
            path: Path = ("surface", index, "drawing")
            lines = _drawn_lines(table.drawing, model, path, gathered)
            for number, line in enumerate(lines):
                name = table.name if len(lines) == 1 else f"{table.name} {number + 1}"
                found.append(Surface(name, frozen(line), table.absorption))
    return tuple(found)


def _drawn_lines(
    drawing: DrawingModel, model: "ScenarioModel", path: Path, gathered: Gathered
) -> tuple[FloatArray, ...]:
    from ..files.drawing import surfaces_from_drawing

    lines: tuple[FloatArray, ...] = ()
    with gathered.reading((*path, "file"), drawing.file, keys=_drawing_keys(path)) as file:
        lines = read_once(
            surfaces_from_drawing,
            file,
            layer=drawing.layer,
            drawing_units=model.drawing_units,
            origin_m=_origin_m(model),
            mirrored=model.drawing_mirrored,
            display=drawing.file,
        )
        what = f"surface {model.surface[int(path[1])].name}"
        gathered.notes.append(_extents_note(what, drawing, lines, model.units))
    for line in lines:
        gathered.problems.extend((path, message) for _, message in edge_problems(np.asarray(line)))
    return lines


def build_points(model: "ScenarioModel") -> tuple[WatchedPoint, ...]:
    """Every place to watch."""
    return tuple(
        WatchedPoint(name=one.name, at_m=(one.at[0], one.at[1]), kind=one.kind or "")
        for one in model.point
    )


def build_focus(model: "ScenarioModel") -> Focus | None:
    """What every row is to see, where the file says."""
    given = model.focus
    if given is None:
        return None
    return Focus(at_m=(given.at[0], given.at[1]), eyes_above_ears_m=given.eyes_above_ears)

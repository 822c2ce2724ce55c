"""Seatings and surfaces from their tables."""

from collections.abc import Sequence

import numpy as np

from ..base.arrays import FloatArray, frozen
from ..base.units import Unit, length_text
from ..files.toml_places import Path
from ..geometry.section import DEFAULT_ROW_SPACING_M, SPACING_NOTE_SHARE, Seating, Surface
from .gather import Gathered
from .models.place import DrawingModel, SeatingModel, SurveyModel
from .models.root import ScenarioModel
from .rules.lines import MOST_ROWS, edge_problems, floor_problems
from .scenario import Focus, WatchedPoint


def build_seatings(model: ScenarioModel, gathered: Gathered) -> tuple[Seating, ...]:
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
                (path, f"{seating.intervals + 1} rows; at most {MOST_ROWS} in all")
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
    table: SeatingModel, model: ScenarioModel, path: Path, gathered: Gathered
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
            floor = floor_from_drawing(
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
            result = floor_from_survey(
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


def _origin_m(model: ScenarioModel) -> tuple[float, float]:
    origin = model.drawing_origin or [0.0, 0.0]
    return origin[0], origin[1]


def build_surfaces(model: ScenarioModel, gathered: Gathered) -> tuple[Surface, ...]:
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
    drawing: DrawingModel, model: ScenarioModel, path: Path, gathered: Gathered
) -> tuple[FloatArray, ...]:
    from ..files.drawing import surfaces_from_drawing

    lines: tuple[FloatArray, ...] = ()
    with gathered.reading((*path, "file"), drawing.file, keys=_drawing_keys(path)) as file:
        lines = surfaces_from_drawing(
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


def build_points(model: ScenarioModel) -> tuple[WatchedPoint, ...]:
    """Every place to watch."""
    return tuple(
        WatchedPoint(name=one.name, at_m=(one.at[0], one.at[1]), kind=one.kind or "")
        for one in model.point
    )


def build_focus(model: ScenarioModel) -> Focus | None:
    """What every row is to see, where the file says."""
    given = model.focus
    if given is None:
        return None
    return Focus(at_m=(given.at[0], given.at[1]), eyes_above_ears_m=given.eyes_above_ears)

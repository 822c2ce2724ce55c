"""Tables of the file about the place: datum, air, seating, surfaces, drawings, surveys."""

from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field, Tag, ValidationInfo, WithJsonSchema

from ...base.errors import found_text
from ...geometry.section import SEATED_EAR_M, STANDING_EAR_M
from .base import BY_KIND, Length, Line, Name, Number, Point, PositiveLength, Strict, metres

EARS_M = {"seated": SEATED_EAR_M, "standing": STANDING_EAR_M}


def _ear_height_m(value: object, info: ValidationInfo) -> float:
    if isinstance(value, str) and value in EARS_M:
        return EARS_M[value]
    if isinstance(value, str) and not any(character.isdigit() for character in value):
        raise ValueError(f'{found_text(value)}; "seated", "standing" or a length')
    return metres(value, info)


EarHeight = Annotated[
    float,
    BeforeValidator(_ear_height_m),
    Field(ge=0.0, le=10.0),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"type": "string"}]}),
]


class DatumModel(Strict):
    """The named origin, printed beside every height and distance."""

    name: Name = Field("datum", description="What the origin x = 0, z = 0 is, in the house's words")


class AirModel(Strict):
    """The air between loudspeaker and audience."""

    temperature_c: Annotated[Number, Field(gt=-100.0, le=100.0)] = Field(
        20.0, description="Air temperature in °C"
    )
    humidity_percent: Annotated[Number, Field(ge=0.0, le=100.0)] = Field(
        50.0, description="Relative humidity in %, 0 to 100"
    )
    pressure_kpa: Annotated[Number, Field(ge=1.0, le=1000.0)] = Field(
        101.325, description="Air pressure in kPa"
    )


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

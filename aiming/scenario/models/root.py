"""The whole file."""

from typing import Annotated, Any, Literal

from pydantic import Field

from ...base.bands import DEFAULT_DESIGN_HZ
from .base import BandHz, Name, Number, Point, Strict
from .cautions import CautionsModel
from .place import AirModel, DatumModel, FocusModel, PointModel, SeatingModel, SurfaceModel
from .programme import ProgrammeModel
from .speaker import SpeakerModel
from .stack import OutdoorsModel
from .together import TimeModel, TogetherModel
from .tolerance import ToleranceModel


class AimModel(Strict):
    """What counts as best, and how well it must be proven."""

    bands: Annotated[list[BandHz], Field(min_length=1)] = Field(
        default_factory=lambda: list(DEFAULT_DESIGN_HZ),
        description="Design bands, nominal mid-bands in Hz; default the octaves 1 to 8 kHz",
    )
    tone_bands: Annotated[list[BandHz], Field(min_length=1)] | None = Field(
        None,
        description="Bands of interest for tone, where the pattern holds them; default the "
        "octaves 125 Hz to 8 kHz (thirds where the design bands are), and the design bands",
    )
    objective: Literal["spread", "worst band", "deviation"] = Field(
        "spread", description='What is made small: "spread" (default), "worst band", "deviation"'
    )
    axis_on_audience: bool = Field(
        True, description="Whether the axis must meet a seating that this loudspeaker serves"
    )
    max_front_elevation_deg: Annotated[Number, Field(ge=-90.0, le=90.0)] | None = Field(
        None,
        description="The acoustic centre is seen at most this high above the horizontal from the "
        "served row nearest to the focus",
    )
    gap_db: Annotated[Number, Field(ge=1e-6, le=100.0)] = Field(
        0.05, description="The best is proven to within this, dB of the objective"
    )
    lower_if_within_db: Annotated[Number, Field(ge=0.0, le=100.0)] = Field(
        0.5,
        description="Of all placements this close to the best the lowest is taken; 0 takes the "
        "best itself",
    )
    left_to_fill: Annotated[int, Field(ge=0)] | Literal["knee"] = Field(
        0,
        description="Front rows left to a front fill, out of objective, spread and shares; "
        '"knee": as many as gain at least 0.5 dB each',
    )
    softest_db: Annotated[Number, Field(ge=-100.0, le=20.0)] | Literal["off"] | None = Field(
        None,
        description="Least design level of a served row, re what the box would give the last row "
        'with its axis on it; default -6 where a placement can keep it; "off" for none',
    )
    tolerance: ToleranceModel | None = Field(
        None, description="How far the hung loudspeaker may be off: { tilt, height, x }"
    )
    objective_at: Literal["placement", "worst"] = Field(
        "placement",
        description='Where the objective is taken: at the "placement" itself (default), or at its '
        '"worst" case within the tolerance',
    )


class VariantModel(Strict):
    """A named set of changes to this scenario."""

    name: Name = Field(description="The variant's name, unlike any other's")
    set: dict[str, Any] = Field(
        default_factory=dict,
        description="Dotted key and new value, members of a table array by name",
    )


class ScenarioModel(Strict):
    """An aiming scenario, version 1."""

    schema_version: Literal[1] = Field(
        1, alias="schema", description="Version of this file's layout, 1"
    )
    title: Name | None = Field(None, description="What this section is; default the file's name")
    units: Literal["m", "ft"] = Field("m", description="What a bare length means")
    datum: DatumModel = Field(
        default_factory=lambda: DatumModel.model_validate({}), description="The origin"
    )
    air: AirModel = Field(
        default_factory=lambda: AirModel.model_validate({}), description="The air"
    )
    outdoors: OutdoorsModel | None = Field(
        None, description="Present where the section is outdoors"
    )
    drawing_units: Name | None = Field(
        None, description="Unit of the drawings; takes precedence over what they say themselves"
    )
    drawing_origin: Point | None = Field(
        None, description="Where the datum lies in the drawings, [x, y] as lengths"
    )
    drawing_mirrored: bool = Field(
        False, description="True where the drawings' audience sits to the left of the datum"
    )
    seating: Annotated[list[SeatingModel], Field(min_length=1)] = Field(
        description="Blocks of rows, at least one"
    )
    surface: list[SurfaceModel] = Field(default_factory=list, description="Solid edges")
    point: list[PointModel] = Field(
        default_factory=list, description="Places to watch: a stage microphone, a neighbour"
    )
    focus: FocusModel | None = Field(None, description="What every row is to see")
    speaker: Annotated[list[SpeakerModel], Field(min_length=1)] = Field(
        description="Loudspeakers, at least one"
    )
    aim: AimModel = Field(
        default_factory=lambda: AimModel.model_validate({}), description="What counts as best"
    )
    cautions: CautionsModel = Field(
        default_factory=lambda: CautionsModel.model_validate({}),
        description="Thresholds of the cautions",
    )
    programme: ProgrammeModel | None = Field(
        None, description="What is played, and how loud it is wanted"
    )
    together: TogetherModel = Field(
        default_factory=lambda: TogetherModel.model_validate({}),
        description="How the loudspeakers' levels add up",
    )
    time: TimeModel | None = Field(None, description="What arrivals are counted from")
    variant: list[VariantModel] = Field(default_factory=list, description="Named sets of changes")

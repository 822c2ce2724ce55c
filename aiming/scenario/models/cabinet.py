"""Tables of the file about the body: cabinet, picks, rigging."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from ...speaker.rigging import DEFAULT_WLL_SHARE
from .base import Line, Name, Number, Point, Strict

Mass = Annotated[Number, Field(gt=0.0)]


class PickModel(Strict):
    """One rigging point of the cabinet."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {"wll_kg": ("wll_kn",), "wll_kn": ("wll_kg",)}

    name: Name = Field(description="The pick's name, unlike any other pick's of the cabinet")
    at: Point = Field(description="[u, w], body axes, as built (upright)")
    wll_kg: Mass | None = Field(None, description="Marked working load limit in kg")
    wll_kn: Mass | None = Field(None, description="Instead of wll_kg: the same in kN")


class CabinetModel(Strict):
    """The body; axes u forward, w up, origin the acoustic centre, as built (upright)."""

    mass_kg: Mass | None = Field(None, description="Mass of the cabinet in kg")
    outline: Annotated[Line, Field(min_length=3)] | None = Field(
        None, description="Corners [u, w] of the side view in order; the line does not cross itself"
    )
    centre_of_gravity: Point | None = Field(None, description="[u, w] of the centre of gravity")
    picks: list[PickModel] = Field(default_factory=list, description="The cabinet's rigging points")
    laser_at: Point | None = Field(
        None, description="[u, w] where a laser sits that points along the axis"
    )
    reference_face_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] = Field(
        0.0, description="Angle of the face that an inclinometer stands on, relative to the axis"
    )


class RiggingModel(Strict):
    """How the cabinet is held in one orientation."""

    method: Literal["two points", "one point", "pull-back"] = Field(
        description='"two points" front and rear, vertical; "one point" on a pick bar; "pull-back"'
    )
    picks: list[Name] = Field(
        default_factory=list,
        description="Names of the picks used; for pull-back the carrying one, then the pulled one",
    )
    extra_mass_kg: Annotated[Number, Field(ge=0.0)] = Field(
        0.0, description="Frame, hardware and cable in kg"
    )
    extra_at: Point | None = Field(
        None,
        description="[u, w] where the extra mass acts, body axes as hung; default the centre of "
        "gravity",
    )
    wll_share: Annotated[Number, Field(gt=0.0, le=1.0)] = Field(
        DEFAULT_WLL_SHARE, description="Share of a marked working load limit that may be used"
    )


class RiggingsModel(Strict):
    """Rigging per orientation; an orientation without one is left out of the search."""

    upright: RiggingModel | None = Field(None, description="Held upright")
    flipped: RiggingModel | None = Field(None, description="Held turned half-way round its axis")

"""Tables of the file about the body: the cabinet and its picks."""

from typing import Annotated, ClassVar

from pydantic import Field

from .base import Line, LoadText, Mass, MassText, Name, Number, Point, PositiveLength, Strict


class PickModel(Strict):
    """One rigging point of the cabinet."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "wll": ("wll_kg", "wll_kn"),
        "wll_kg": ("wll", "wll_kn"),
        "wll_kn": ("wll", "wll_kg"),
    }

    name: Name = Field(description="The pick's name, unlike any other pick's of the cabinet")
    at: Point = Field(description="[u, w], body axes, as built (upright)")
    wll_kg: Mass | None = Field(None, description="Marked working load limit in kg")
    wll_kn: Mass | None = Field(None, description="Instead of wll_kg: the same in kN")
    wll: LoadText | None = Field(
        None, description='Instead of wll_kg: the same with its unit, as "330 lb" or "1.5 kN"'
    )


class CabinetModel(Strict):
    """The body; axes u forward, w up, origin the acoustic centre, as built (upright)."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "mass": ("mass_kg",),
        "mass_kg": ("mass",),
        "outline": ("height", "depth"),
        "height": ("outline",),
        "depth": ("outline",),
    }

    mass_kg: Mass | None = Field(None, description="Mass of the cabinet in kg")
    mass: MassText | None = Field(
        None, description='Instead of mass_kg: the mass with its unit, as "57 lb"'
    )
    outline: Annotated[Line, Field(min_length=3)] | None = Field(
        None, description="Corners [u, w] of the side view in order; the line does not cross itself"
    )
    height: PositiveLength | None = Field(
        None,
        description="Instead of outline, with depth: height of the box; the acoustic centre is "
        "then assumed amid its front",
    )
    depth: PositiveLength | None = Field(
        None,
        description="Instead of outline, with height: depth of the box; the centre of gravity is "
        "assumed amid it, unless it is given",
    )
    centre_of_gravity: Point | None = Field(None, description="[u, w] of the centre of gravity")
    picks: list[PickModel] = Field(default_factory=list, description="The cabinet's rigging points")
    laser_at: Point | None = Field(
        None, description="[u, w] where a laser sits that points along the axis"
    )
    reference_face_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] = Field(
        0.0, description="Angle of the face that an inclinometer stands on, relative to the axis"
    )

"""Tables of the file about the body: the cabinet and its picks."""

from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field, WithJsonSchema

from ...base.units import parse_load_n, parse_mass_kg
from .base import Line, Name, Number, Point, Strict

Mass = Annotated[Number, Field(gt=0.0, le=1e6)]
_TEXT = WithJsonSchema({"type": "string"})
MassText = Annotated[float, BeforeValidator(parse_mass_kg), Field(gt=0.0, le=1e6), _TEXT]
"""Kilograms of a text with kg, lb, N, kN or lbf."""
LoadText = Annotated[float, BeforeValidator(parse_load_n), Field(gt=0.0, le=1e7), _TEXT]
"""Newtons of the same."""


def rivals_of(*groups: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """Each key of a group with the others of its group, which say the same another way."""
    return {key: tuple(one for one in group if one != key) for group in groups for key in group}


class PickModel(Strict):
    """One rigging point of the cabinet."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = rivals_of(("wll_kg", "wll_kn", "wll"))

    name: Name = Field(description="The pick's name, unlike any other pick's of the cabinet")
    at: Point = Field(description="[u, w], body axes, as built (upright)")
    wll_kg: Mass | None = Field(None, description="Marked working load limit in kg")
    wll_kn: Mass | None = Field(None, description="Instead of wll_kg: the same in kN")
    wll: LoadText | None = Field(
        None, description='Instead of wll_kg: the same as text, "290 lb", "1.3 kN"'
    )


class CabinetModel(Strict):
    """The body; axes u forward, w up, origin the acoustic centre, as built (upright)."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = rivals_of(("mass_kg", "mass"))

    mass_kg: Mass | None = Field(None, description="Mass of the cabinet in kg")
    mass: MassText | None = Field(None, description='Instead of mass_kg: as text, "57 lb"')
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

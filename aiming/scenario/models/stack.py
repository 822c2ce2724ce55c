"""Tables of the file about what stands on the ground, and about weather."""

from typing import Annotated, ClassVar

from pydantic import Field

from .base import Length, MassText, Name, Number, Point, PositiveLength, Strict

Positive = Annotated[Number, Field(gt=0.0)]
NotNegative = Annotated[Number, Field(ge=0.0)]


class StandingModel(Strict):
    """Something else on the same base: a box, a riser, ballast."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {"mass": ("mass_kg",), "mass_kg": ("mass",)}

    name: Name = Field(description="What it is")
    mass_kg: Positive | None = Field(None, description="Its mass in kg")
    mass: MassText | None = Field(
        None, description='Instead of mass_kg: the mass with its unit, as "40 lb"'
    )
    at: Point = Field(description="[x, z] of its centre of gravity from the datum")
    wind_area_m2: NotNegative = Field(0.0, description="Area that the wind sees of it, in m²")
    wind_z: Length | None = Field(
        None, description="z of the middle of that area; default its centre of gravity's"
    )


class StackModel(Strict):
    """How a stacked loudspeaker stands."""

    footprint: Point | None = Field(
        None,
        description="[rear, front]: x of the tipping edges from the acoustic centre; default the "
        "ends of the face that it stands on",
    )
    ground: Length | None = Field(
        None, description="z of what the footprint stands on, where that is not the base"
    )
    friction: Positive | None = Field(
        None,
        description="Coefficient of friction between stack and ground, and between the box and "
        "its wedge",
    )
    wind_area_m2: NotNegative | None = Field(
        None, description="Area of the box that the wind sees along the section, in m²"
    )
    force_coefficient: Positive | None = Field(
        None, description="Force coefficient of the wind; default 1.8"
    )
    ballast_x: Length | None = Field(
        None,
        description="Where ballast goes, x from the acoustic centre; default amid the footprint",
    )
    margin: Annotated[Number, Field(ge=1.0)] | None = Field(
        None, description="What holds over what upsets must reach this; default 1.5"
    )
    margin_source: Name | None = Field(None, description="Who asks for that margin")
    tied: bool = Field(
        False,
        description="The box is fixed to what it stands on: it neither tips nor slides off it",
    )
    also: list[StandingModel] = Field(
        default_factory=list, description="What else stands on the same base"
    )


class OutdoorsModel(Strict):
    """Present where the section is outdoors."""

    gust_speed: NotNegative | None = Field(
        None, description="Wind speed in m/s, gusts included, that everything must stand"
    )
    wind_speed: Annotated[Number, Field(ge=-50.0, le=50.0)] | None = Field(
        None,
        description="Mean wind along the section in m/s, positive towards the audience; with it "
        "the answer says how far sound bends",
    )
    wind_height: PositiveLength = Field(
        10.0, description="Height over the ground at which wind_speed is meant; default 10 m"
    )
    temperature_gradient: Annotated[Number, Field(ge=-1.0, le=1.0)] | None = Field(
        None,
        description="Change of the air's temperature with height in °C per metre, negative where "
        "the ground is warmer than the air above",
    )

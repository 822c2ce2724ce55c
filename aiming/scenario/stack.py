"""How a stack stands: keys, rules and construction."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from ..base.units import plain_length_text
from ..files.toml_places import Path
from ..speaker.stack import Stack, Standing
from .keys import (
    Length,
    MassText,
    Name,
    NotNegative,
    Number,
    Point,
    Positive,
    Strict,
)
from .raw import ONE_MASS, Problem, Raw, Table, one_of, pair, table_in, tables_in

if TYPE_CHECKING:
    from .root import ScenarioModel


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
        description="Where ballast goes, x from the acoustic centre; default in the middle of the "
        "footprint",
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


BELOW_GROUND_M = 1e-3


def stack_rules(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """A footprint's order, masses given once, and nothing below the ground that it stands on."""
    stack = table_in(speaker, "stack")
    ends = raw.point(stack.get("footprint"))
    if ends is not None and not ends[0] < ends[1]:
        shown = f"[{', '.join(plain_length_text(end, raw.unit) for end in ends)}]"
        yield (*path, "stack", "footprint"), f"{shown}; must be [rear, front], with the front ahead"
    for also_path, other in tables_in(stack.get("also"), (*path, "stack", "also")):
        yield from one_of(also_path, other, ONE_MASS)
    yield from _ground_rules(path, speaker, raw)


def _ground_rules(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """Nothing of a stack lies below the ground that it stands on."""
    stack = table_in(speaker, "stack")
    base = raw.length(table_in(speaker, "placement").get("base"))
    given = raw.length(stack.get("ground"))
    if given is not None and base is not None and given > base + BELOW_GROUND_M:
        yield (
            (*path, "stack", "ground"),
            f"{given:g} m, above the base of {base:g} m; must be the z of what the "
            "footprint stands on, at most the base",
        )
    ground = base if given is None else given
    also = stack.get("also")
    if ground is None or not isinstance(also, list):
        return
    for place, other in enumerate(also):
        if not isinstance(other, dict):
            continue
        at = raw.point(other.get("at"))
        heights = [
            ("at", None if at is None else at[1]),
            ("wind_z", raw.length(other.get("wind_z"))),
        ]
        for key, z in heights:
            if z is not None and z < ground - BELOW_GROUND_M:
                yield (
                    (*path, "stack", "also", place, key),
                    f"z = {z:g} m, {ground - z:.2f} m below the ground at {ground:g} m that the "
                    "stack stands on; give its z from the datum, or `ground`, the z of the ground",
                )


def build_stacks(model: "ScenarioModel") -> dict[str, Stack]:
    """By loudspeaker, where one is declared."""
    return {table.name: _stack(table.stack) for table in model.speaker if table.stack is not None}


def _stack(table: StackModel) -> Stack:
    return Stack(
        footprint_m=pair(table.footprint),
        ground_m=table.ground,
        friction=table.friction,
        wind_area_m2=table.wind_area_m2,
        force_coefficient=table.force_coefficient,
        ballast_x_m=table.ballast_x,
        margin=table.margin,
        margin_source=table.margin_source or "",
        tied=table.tied,
        also=tuple(
            Standing(
                name=other.name,
                mass_kg=other.mass_kg or other.mass or 0.0,
                at_m=(other.at[0], other.at[1]),
                wind_area_m2=other.wind_area_m2,
                wind_z_m=other.wind_z,
            )
            for other in table.also
        ),
    )

"""The body of a loudspeaker: its keys, rules and construction."""

from collections.abc import Iterator
from typing import Annotated, ClassVar

from pydantic import Field

from ..base.arrays import frozen
from ..base.units import G_M_S2
from ..files.toml_places import Path
from ..speaker.cabinet import Cabinet, Pick
from .keys import (
    Line,
    LoadText,
    Mass,
    MassText,
    Name,
    Number,
    Point,
    PositiveLength,
    Strict,
)
from .raw import ONE_MASS, Problem, Table, at_most_one, pair, table_in, tables_in


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
        "then assumed in the middle of its front",
    )
    depth: PositiveLength | None = Field(
        None,
        description="Instead of outline, with height: depth of the box; the centre of gravity is "
        "assumed in its middle, unless it is given",
    )
    centre_of_gravity: Point | None = Field(None, description="[u, w] of the centre of gravity")
    picks: list[PickModel] = Field(default_factory=list, description="The cabinet's rigging points")
    laser_at: Point | None = Field(
        None, description="[u, w] where a laser sits that points along the axis"
    )
    reference_face_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] = Field(
        0.0, description="Angle of the face that an inclinometer stands on, relative to the axis"
    )


def cabinet_rules(path: Path, speaker: Table) -> Iterator[Problem]:
    """Masses and limits given once; a box by height and depth, both, and no outline beside."""
    cabinet = table_in(speaker, "cabinet")
    here = (*path, "cabinet")
    yield from at_most_one(here, cabinet, ONE_MASS)
    for pick_path, pick in tables_in(cabinet.get("picks"), (*here, "picks")):
        yield from at_most_one(pick_path, pick, ("wll_kg", "wll_kn", "wll"))
    yield from at_most_one(here, cabinet, ("outline", "height"))
    yield from at_most_one(here, cabinet, ("outline", "depth"))
    for one, other in (("height", "depth"), ("depth", "height")):
        if all(cabinet.get(key) is None for key in (other, "outline")) and cabinet.get(one):
            yield (*here, one), f"{one} without {other}; give both, or an outline"


def build_cabinet(table: CabinetModel) -> Cabinet:
    outline, gravity, assumed = table.outline, pair(table.centre_of_gravity), []
    if table.height is not None and table.depth is not None:
        half = 0.5 * table.height
        outline = [[-table.depth, -half], [0.0, -half], [0.0, half], [-table.depth, half]]
        assumed.append("acoustic centre")
        if gravity is None:
            gravity = (-0.5 * table.depth, 0.0)
            assumed.append("centre of gravity")
    return Cabinet(
        mass_kg=table.mass if table.mass_kg is None else table.mass_kg,
        outline_m=None if outline is None else frozen(outline),
        centre_of_gravity_m=gravity,
        assumed=tuple(assumed),
        picks=tuple(
            Pick(
                name=pick.name,
                at_m=(pick.at[0], pick.at[1]),
                wll_n=_wll_n(pick),
            )
            for pick in table.picks
        ),
        laser_at_m=pair(table.laser_at),
        reference_face_deg=table.reference_face_deg,
    )


def _wll_n(table: PickModel) -> float | None:
    if table.wll_kg is not None:
        return table.wll_kg * G_M_S2
    return table.wll if table.wll_kn is None else table.wll_kn * 1000.0

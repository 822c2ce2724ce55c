"""Tables of the file about what holds a loudspeaker."""

from typing import Annotated, ClassVar

from pydantic import Field

from ...speaker.rigging import DEFAULT_WLL_SHARE, Fitting, Method
from .base import Length, LoadText, Mass, MassText, Name, Number, Point, Strict


class BelowModel(Strict):
    """A second box fixed under the first, turning with it."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {"mass": ("mass_kg",), "mass_kg": ("mass",)}

    mass_kg: Mass | None = Field(
        None, description="Mass of the second box and of what joins it, in kg"
    )
    mass: MassText | None = Field(
        None, description='Instead of mass_kg: the mass with its unit, as "40 lb"'
    )
    joint: Point = Field(description="[u, w] of the joint, in the first box's axes as hung")
    centre_of_gravity: Point = Field(
        description="[u, w] of its centre of gravity from the joint, in its own axes as hung"
    )
    splay: Annotated[Number, Field(ge=-90.0, le=90.0)] = Field(
        0.0, description="How much further nose-down it points, in degrees"
    )


class PartModel(Strict):
    """One part of a line: clamp, hoist, sling, shackle."""

    name: Name = Field(description="What it is")
    wll: LoadText | None = Field(
        None, description='Marked working load limit, "500 kg", "1100 lb", "5 kN"'
    )
    mass: MassText | None = Field(
        None, description="Its own mass, a hoist's with its chain; default 0"
    )
    length: Annotated[Length, Field(ge=0.0)] = Field(
        0.0,
        description="The least that it takes up between steel and hook; of a hoist its lowest hook "
        "under what it hangs from",
    )


class LineModel(Strict):
    """What lines are made of, from the structure down to the box."""

    picks: list[Name] = Field(
        default_factory=list, description="Picks whose lines these are; default every line"
    )
    parts: Annotated[list[PartModel], Field(min_length=1, max_length=100)] = Field(
        description="The parts, from the structure down"
    )


class RiggingModel(Strict):
    """How the cabinet is held in one orientation; places [u, w] are body axes as hung."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "holes": ("bar",),
        "bar": ("holes",),
        "pull_elevation_deg": ("pulling_point",),
        "pulling_point": ("pull_elevation_deg",),
        "extra_mass": ("extra_mass_kg",),
        "extra_mass_kg": ("extra_mass",),
        "hoist_mass": ("hoist_mass_kg",),
        "hoist_mass_kg": ("hoist_mass",),
        "cable_mass": ("cable_mass_kg",),
        "cable_mass_kg": ("cable_mass",),
        "structure_capacity": ("structure_capacity_kn",),
        "structure_capacity_kn": ("structure_capacity",),
    }

    method: Method = Field(
        description='"two points" front and rear, vertical; "one point" on a pick bar; "pull-back"'
    )
    picks: list[Name] = Field(
        default_factory=list,
        description="Names of the picks used; for pull-back the carrying one, then the pulled one",
    )
    extra_mass_kg: Annotated[Number, Field(ge=0.0, le=1e6)] = Field(
        0.0, description="Frame, hardware and cable in kg"
    )
    extra_mass: MassText | None = Field(
        None, description='Instead of extra_mass_kg: the mass with its unit, as "7 lb"'
    )
    extra_at: Point | None = Field(
        None, description="[u, w] where the extra mass acts; default the centre of gravity"
    )
    wll_share: Annotated[Number, Field(gt=0.0, le=1.0)] = Field(
        DEFAULT_WLL_SHARE, description="Share of a marked working load limit that may be used"
    )
    dynamic_factor: Annotated[Number, Field(ge=1.0, le=100.0)] = Field(
        1.0, description="What the resting loads are multiplied by before they meet a limit"
    )
    tilt_step: Annotated[Number, Field(ge=0.001, le=90.0)] | None = Field(
        None, description="The tilt can be set in multiples of this only, in degrees"
    )
    holes: Annotated[list[Length], Field(min_length=1, max_length=1000)] | None = Field(
        None, description="One point: u of each hole of the pick bar"
    )
    bar: Point | None = Field(
        None, description="One point, instead of holes: [low, high] in u of a continuous pick bar"
    )
    holes_w: Length | None = Field(None, description="w of the holes, or of the continuous bar")
    pull_elevation_deg: Annotated[Number, Field(ge=-90.0, le=90.0)] | None = Field(
        None,
        description="Pull-back: elevation of the pulling line, which leaves the box rearwards",
    )
    pulling_point: Point | None = Field(
        None,
        description="Instead of pull_elevation_deg: [x, z] from the datum where the line is made "
        "fast",
    )
    steel_height: Length | None = Field(None, description="z of what everything hangs from")
    hoist_mass_kg: Annotated[Number, Field(ge=0.0, le=1e6)] | None = Field(
        None, description="Mass of each hoist with its chain, in kg"
    )
    cable_mass_kg: Annotated[Number, Field(ge=0.0, le=1e6)] | None = Field(
        None, description="Mass of all cable that the steel carries beside the box, in kg"
    )
    hoist_mass: MassText | None = Field(
        None, description="Instead of hoist_mass_kg: the mass with its unit"
    )
    cable_mass: MassText | None = Field(
        None, description="Instead of cable_mass_kg: the mass with its unit"
    )
    cable_pick: Name | None = Field(
        None, description="The pick whose line carries the cable; default shared evenly"
    )
    line: list[LineModel] = Field(
        default_factory=list,
        description="What the lines are made of; then their masses, not hoist_mass_kg",
    )
    wind_area_m2: Annotated[Number, Field(gt=0.0, le=1e4)] | None = Field(
        None, description="Area of everything that hangs that the wind sees along the section, m²"
    )
    force_coefficient: Annotated[Number, Field(gt=0.0, le=100.0)] | None = Field(
        None, description="Force coefficient of the wind; default 1.8"
    )
    secondary_suspension: bool = Field(
        False, description="Whether an independent secondary suspension is fitted"
    )
    structure_capacity_kn: Mass | None = Field(
        None, description="What the structure may carry at each point, in kN"
    )
    structure_capacity: LoadText | None = Field(
        None, description='Instead of structure_capacity_kn: with its unit, as "500 lbf" or "2 kN"'
    )
    fitting: Fitting | None = Field(
        None,
        description='The line is hooked to a "shackle", "shoulder eyebolt" or "plain eyebolt"',
    )
    fitting_axis_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] = Field(
        90.0, description="Which way the fitting is meant to be pulled: 90 up, 0 forward"
    )
    below: BelowModel | None = Field(None, description="A second box hung under this one")


class RiggingsModel(Strict):
    """Rigging per orientation; an orientation without one is left out of the search."""

    upright: RiggingModel | None = Field(None, description="Held upright")
    flipped: RiggingModel | None = Field(None, description="Held turned half-way round its axis")

"""The body and what holds it: cabinet, rigging, stack, weather: keys, rules and construction."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from ..base.errors import found_text
from ..base.units import plain_length_text
from ..files.toml_places import Path
from ..speaker.rigging import DEFAULT_WLL_SHARE, Fitting, LinePart, Method, Rigging, Underhung
from ..speaker.rigging import Line as Chain
from ..speaker.speaker import Orientation
from ..speaker.stack import Stack, Standing
from .keys import (
    Length,
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
from .raw import Problem, Raw, Table, at_most_one, one_of, pair, reversed_range, table_in, tables_in

if TYPE_CHECKING:
    from .root import ScenarioModel
    from .speaker import SpeakerModel


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


# What a rigging method needs, a stack's footprint, a limit's name.
#
# Forces that cannot be found are refused.

ORIENTATIONS = ("upright", "flipped")
BELOW_GROUND_M = 1e-3


def held_rules(raw: Raw) -> Iterator[Problem]:
    """Keys that a method cannot do without, a footprint's order, and where a level limit holds."""
    limits = table_in(raw.document, "cautions")
    for one, other in (
        ("level_limit_db", "level_limit_name"),
        ("level_limit_name", "level_limit_db"),
    ):
        if limits.get(one) is not None and limits.get(other) is None:
            yield ("cautions", one), f"{one} without {other}; give both, or none"
    for path, speaker in raw.tables("speaker"):
        rigging = table_in(speaker, "rigging")
        for orientation in ORIENTATIONS:
            if isinstance(rigging.get(orientation), dict):
                yield from _method((*path, "rigging", orientation), rigging[orientation])
        ends = raw.point(table_in(speaker, "stack").get("footprint"))
        if ends is not None and not ends[0] < ends[1]:
            shown = f"[{', '.join(plain_length_text(end, raw.unit) for end in ends)}]"
            yield (
                (*path, "stack", "footprint"),
                f"{shown}; must be [rear, front], with the front ahead",
            )
        yield from _ground(path, speaker, raw)


def _ground(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
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


def _method(path: Path, held: Table) -> Iterator[Problem]:
    method, picks = held.get("method"), held.get("picks")
    if method == "one point":
        bar = [key for key in ("holes", "bar") if held.get(key) is not None]
        if bar and held.get("holes_w") is None:
            yield (
                (*path, bar[0]),
                f"{bar[0]} without holes_w; give holes_w too, the height of the bar",
            )
        if not bar and isinstance(picks, list) and len(picks) == 2:
            yield (
                (*path, "picks"),
                'a list of 2 for "one point" without a pick bar; give holes or bar, or one pick',
            )
    yield from _lines(path, held)
    turning = ("pull_elevation_deg", "pulling_point")
    if method == "pull-back" and all(held.get(key) is None for key in turning):
        yield (
            (*path, "method"),
            f"{found_text(method)} without a direction of pull; give one of {', '.join(turning)}",
        )


def _lines(path: Path, held: Table) -> Iterator[Problem]:
    """Lines and cable of picks that the rigging has; each line once; masses in one place."""
    picks = held.get("picks")
    known = [one for one in picks if isinstance(one, str)] if isinstance(picks, list) else []
    cable = held.get("cable_pick")
    if isinstance(cable, str) and cable not in known:
        yield (*path, "cable_pick"), f"{found_text(cable)}; must be one of its picks"
    lines = held.get("line")
    if not isinstance(lines, list):
        return
    told: list[str] = []
    for place, line in enumerate(one for one in lines if isinstance(one, dict)):
        names = line.get("picks") or known
        for name in names if isinstance(names, list) else []:
            if name not in known:
                yield (
                    (*path, "line", place, "picks"),
                    f"{found_text(name)}; must be one of its picks",
                )
            elif name in told:
                yield (
                    (*path, "line", place),
                    f"a second line for {found_text(name)}; give each pick one",
                )
            told.append(name)
        parts = line.get("parts")
        parts = parts if isinstance(parts, list) else []
        heavy = any("mass" in part for part in parts if isinstance(part, dict))
        for key in ("hoist_mass_kg", "hoist_mass"):
            if heavy and held.get(key) is not None:
                yield (*path, key), f"{key} beside parts of a line with a mass; give it there alone"


# The declared rigging of each orientation, from its tables.


def build_rigging(table: "SpeakerModel") -> dict[Orientation, Rigging]:
    """By orientation; empty where none is declared."""
    found: dict[Orientation, Rigging] = {}
    if table.rigging is not None:
        if table.rigging.upright is not None:
            found["upright"] = _rigging(table.rigging.upright)
        if table.rigging.flipped is not None:
            found["flipped"] = _rigging(table.rigging.flipped)
    return found


def _rigging(table: RiggingModel) -> Rigging:
    capacity_n = table.structure_capacity
    if table.structure_capacity_kn is not None:
        capacity_n = 1000.0 * table.structure_capacity_kn
    return Rigging(
        method=table.method,
        picks=tuple(table.picks),
        extra_mass_kg=table.extra_mass_kg if table.extra_mass is None else table.extra_mass,
        extra_at_m=pair(table.extra_at),
        wll_share=table.wll_share,
        dynamic_factor=table.dynamic_factor,
        tilt_step_deg=table.tilt_step,
        holes_u_m=tuple(table.holes or ()),
        bar_u_m=pair(table.bar),
        bar_w_m=table.holes_w,
        pull_elevation_deg=table.pull_elevation_deg,
        pulling_point_m=pair(table.pulling_point),
        steel_height_m=table.steel_height,
        hoist_mass_kg=table.hoist_mass_kg if table.hoist_mass is None else table.hoist_mass,
        cable_mass_kg=table.cable_mass_kg if table.cable_mass is None else table.cable_mass,
        cable_pick=table.cable_pick or "",
        lines=tuple(_line(line) for line in table.line),
        wind_area_m2=table.wind_area_m2,
        force_coefficient=table.force_coefficient,
        secondary_suspension=table.secondary_suspension,
        structure_capacity_n=capacity_n,
        fitting=table.fitting,
        fitting_axis_deg=table.fitting_axis_deg,
        below=None if table.below is None else _below(table.below),
    )


def _line(table: LineModel) -> Chain:
    parts = tuple(
        LinePart(name=part.name, wll_n=part.wll, mass_kg=part.mass or 0.0, length_m=part.length)
        for part in table.parts
    )
    return Chain(parts=parts, picks=tuple(table.picks))


def _below(table: BelowModel) -> Underhung:
    return Underhung(
        mass_kg=table.mass_kg or table.mass or 0.0,
        joint_m=(table.joint[0], table.joint[1]),
        centre_of_gravity_m=(table.centre_of_gravity[0], table.centre_of_gravity[1]),
        splay_deg=table.splay,
    )


def order_notes(table: "SpeakerModel") -> list[str]:
    """Says where two picks are not named from front to rear; the order makes no difference.

    A pull-back's order does: the carrying pick comes first.
    """
    places = {pick.name: pick.at[0] for pick in table.cabinet.picks} if table.cabinet else {}
    notes = []
    for orientation, held in build_rigging(table).items():
        named = [name for name in held.picks if name in places]
        if held.method == "pull-back" or len(named) != 2 or places[named[0]] >= places[named[1]]:
            continue
        notes.append(
            f"loudspeaker {table.name}, rigging {orientation}: the picks are named from rear to "
            f"front; taken as {named[1]}, then {named[0]}"
        )
    return notes


# Stacks from their tables.


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


def held_keys(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """Keys of the rigging that say the same thing two ways, and a bar's reversed range."""
    for orientation in ("upright", "flipped"):
        held = table_in(table_in(speaker, "rigging"), orientation)
        here = (*path, "rigging", orientation)
        for one, other in (("holes", "bar"), ("pull_elevation_deg", "pulling_point")):
            if held.get(one) is not None and held.get(other) is not None:
                yield (*here, other), f"both {one} and {other}; give one of them"
        yield from reversed_range((*here, "bar"), held.get("bar"), raw)


def body_rules(path: Path, speaker: Table) -> Iterator[Problem]:
    """Masses and limits given once; a box by height and depth, both, and no outline beside."""
    cabinet = table_in(speaker, "cabinet")
    here = (*path, "cabinet")
    yield from at_most_one(here, cabinet, _ONE_MASS)
    for pick_path, pick in tables_in(cabinet.get("picks"), (*here, "picks")):
        yield from at_most_one(pick_path, pick, ("wll_kg", "wll_kn", "wll"))
    yield from at_most_one(here, cabinet, ("outline", "height"))
    yield from at_most_one(here, cabinet, ("outline", "depth"))
    for one, other in (("height", "depth"), ("depth", "height")):
        if all(cabinet.get(key) is None for key in (other, "outline")) and cabinet.get(one):
            yield (*here, one), f"{one} without {other}; give both, or an outline"
    for orientation in ("upright", "flipped"):
        held = table_in(table_in(speaker, "rigging"), orientation)
        there = (*path, "rigging", orientation)
        for keys in _ONE_OF_RIGGING:
            yield from at_most_one(there, held, keys)
        if isinstance(held.get("below"), dict):
            yield from one_of((*there, "below"), held["below"], _ONE_MASS)
    also = table_in(speaker, "stack").get("also")
    for also_path, other_box in tables_in(also, (*path, "stack", "also")):
        yield from one_of(also_path, other_box, _ONE_MASS)


_ONE_MASS = ("mass_kg", "mass")


_ONE_OF_RIGGING = (
    ("extra_mass_kg", "extra_mass"),
    ("hoist_mass_kg", "hoist_mass"),
    ("cable_mass_kg", "cable_mass"),
    ("structure_capacity_kn", "structure_capacity"),
)

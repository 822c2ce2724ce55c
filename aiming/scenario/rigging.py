"""What holds a loudspeaker up: its keys, rules and construction."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from ..base.errors import found_text
from ..files.toml_places import Path
from ..speaker.rigging import DEFAULT_WLL_SHARE, Fitting, LinePart, Method, Rigging, Underhung
from ..speaker.rigging import Line as Chain
from ..speaker.speaker import Orientation
from .keys import (
    Length,
    LoadText,
    Mass,
    MassText,
    Name,
    Number,
    Point,
    Strict,
)
from .raw import (
    ONE_MASS,
    Problem,
    Raw,
    Table,
    at_most_one,
    one_of,
    pair,
    reversed_range,
    table_in,
)

if TYPE_CHECKING:
    from .speaker import SpeakerModel


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


# What a rigging method needs: forces that cannot be found are refused.

ORIENTATIONS: tuple[Orientation, ...] = ("upright", "flipped")
_GIVEN_ONCE = (
    ("extra_mass_kg", "extra_mass"),
    ("hoist_mass_kg", "hoist_mass"),
    ("cable_mass_kg", "cable_mass"),
    ("structure_capacity_kn", "structure_capacity"),
)


def rigging_rules(path: Path, speaker: Table, raw: Raw) -> Iterator[Problem]:
    """Keys that a method cannot do without, that say the same thing twice, a bar's range."""
    for orientation in ORIENTATIONS:
        held = table_in(table_in(speaker, "rigging"), orientation)
        here = (*path, "rigging", orientation)
        if held:
            yield from _method(here, held)
        for one, other in (("holes", "bar"), ("pull_elevation_deg", "pulling_point")):
            if held.get(one) is not None and held.get(other) is not None:
                yield (*here, other), f"both {one} and {other}; give one of them"
        yield from reversed_range((*here, "bar"), held.get("bar"), raw)
        for keys in _GIVEN_ONCE:
            yield from at_most_one(here, held, keys)
        if isinstance(held.get("below"), dict):
            yield from one_of((*here, "below"), held["below"], ONE_MASS)


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

"""The declared rigging of each orientation, from its tables."""

from ..speaker.rigging import Line, LinePart, Rigging, Underhung
from ..speaker.speaker import Orientation
from .models.rigging import BelowModel, LineModel, RiggingModel
from .models.speaker import SpeakerModel


def build_rigging(table: SpeakerModel) -> dict[Orientation, Rigging]:
    """By orientation; empty where none is declared."""
    found: dict[Orientation, Rigging] = {}
    if table.rigging is not None:
        if table.rigging.upright is not None:
            found["upright"] = _rigging(table.rigging.upright)
        if table.rigging.flipped is not None:
            found["flipped"] = _rigging(table.rigging.flipped)
    return found


def pair(point: list[float] | None) -> tuple[float, float] | None:
    """A point of the file as a value; None where there is none."""
    return None if point is None else (point[0], point[1])


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


def _line(table: LineModel) -> Line:
    parts = tuple(
        LinePart(name=part.name, wll_n=part.wll, mass_kg=part.mass or 0.0, length_m=part.length)
        for part in table.parts
    )
    return Line(parts=parts, picks=tuple(table.picks))


def _below(table: BelowModel) -> Underhung:
    return Underhung(
        mass_kg=table.mass_kg or table.mass or 0.0,
        joint_m=(table.joint[0], table.joint[1]),
        centre_of_gravity_m=(table.centre_of_gravity[0], table.centre_of_gravity[1]),
        splay_deg=table.splay,
    )


def order_notes(table: SpeakerModel) -> list[str]:
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

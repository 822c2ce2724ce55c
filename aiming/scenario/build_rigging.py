"""The declared rigging of each orientation, from its tables."""

from ..speaker.rigging import Rigging
from ..speaker.speaker import Orientation
from .models.rigging import RiggingModel
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
    capacity_kn = table.structure_capacity_kn
    return Rigging(
        method=table.method,
        picks=tuple(table.picks),
        extra_mass_kg=table.extra_mass_kg,
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
        hoist_mass_kg=table.hoist_mass_kg,
        cable_mass_kg=table.cable_mass_kg,
        secondary_suspension=table.secondary_suspension,
        structure_capacity_n=None if capacity_kn is None else 1000.0 * capacity_kn,
        fitting=table.fitting,
        fitting_axis_deg=table.fitting_axis_deg,
    )

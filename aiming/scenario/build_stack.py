"""Stacks from their tables."""

from ..speaker.stack import Stack, Standing
from .build_rigging import pair
from .models.root import ScenarioModel
from .models.stack import StackModel


def build_stacks(model: ScenarioModel) -> dict[str, Stack]:
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

"""The declared rigging of each orientation, from its tables."""

from ..speaker.rigging import Rigging
from ..speaker.speaker import Orientation
from .models.cabinet import RiggingModel
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


def _rigging(table: RiggingModel) -> Rigging:
    at = table.extra_at
    return Rigging(
        method=table.method,
        picks=tuple(table.picks),
        extra_mass_kg=table.extra_mass_kg,
        extra_at_m=None if at is None else (at[0], at[1]),
        wll_share=table.wll_share,
    )

"""Cautions about a two-leg bridle."""

from collections.abc import Iterator

from ..rigging.bridle import Bridle
from ..rigging.limits import INCLUDED_ANGLE_MOST, LEG_ELEVATION_LEAST, Limit
from .caution_general import plain_caution
from .model import Caution


def bridle_cautions(
    found: Bridle,
    *,
    leg_elevation_least: Limit = LEG_ELEVATION_LEAST,
    included_angle_most: Limit = INCLUDED_ANGLE_MOST,
) -> tuple[Caution, ...]:
    """The plain one, then flat legs and a wide angle between them."""
    return (plain_caution(), *_flat(found, leg_elevation_least), *_wide(found, included_angle_most))


def _flat(found: Bridle, least: Limit) -> Iterator[Caution]:
    for number, leg in enumerate(found.legs, start=1):
        if leg.elevation_deg < least.value - 1e-9:
            yield Caution(
                "bridle-leg-flat",
                "caution",
                f"leg {number} stands {leg.elevation_deg:.1f}° above horizontal, under the "
                f"{least.value:g}° of {least.source}; its tension is {leg.leg_factor:.2f} times "
                "what it lifts",
                value=leg.elevation_deg,
                unit="°",
                limit=least.value,
            )


def _wide(found: Bridle, most: Limit) -> Iterator[Caution]:
    if found.included_deg > most.value + 1e-9:
        yield Caution(
            "bridle-wide",
            "caution",
            f"the legs stand {found.included_deg:.1f}° apart, over the {most.value:g}° of "
            f"{most.source}",
            value=found.included_deg,
            unit="°",
            limit=most.value,
        )

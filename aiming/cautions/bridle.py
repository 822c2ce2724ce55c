"""What a bridle's legs must not be asked."""

from collections.abc import Iterator

from ..results.answer import Caution
from ..rigging.bridle import Bridle
from ..rigging.limits import (
    INCLUDED_ANGLE_MOST,
    LEAST_SHARE,
    LEG_ELEVATION_LEAST,
    LEG_ELEVATION_STOP,
)
from ..rigging.loads import SLACK
from .declare import DECLARED, Told, caution, told_of
from .facts import BRIDLE, BridleFacts
from .general import plain_caution


def bridle_cautions(found: Bridle, *, dynamic_factor: float = 1.0) -> tuple[Caution, ...]:
    """The plain one, then flat legs and a wide angle; dynamic_factor: that is in the load."""
    return (plain_caution((dynamic_factor,)), *told_of(BridleFacts(found), DECLARED.values()))


@caution("bridle-leg-flat", ("caution", "stop"), BRIDLE, limit=LEG_ELEVATION_LEAST)
def bridle_leg_flat(of: BridleFacts) -> Iterator[Told]:
    """A leg flatter than this; a stop where it is flatter than 15° (ours)."""
    least, stop = LEG_ELEVATION_LEAST, LEG_ELEVATION_STOP
    for number, leg in enumerate(of.bridle.legs, start=1):
        if leg.elevation_deg < least.value - 1e-9:
            yield Told(
                f"leg {number} stands {leg.elevation_deg:.1f}° above horizontal, flatter than the "
                f"{least.value:g}° of {least.source}; its tension is {leg.leg_factor:.2f} times "
                "what it lifts"
                + ("; raise its point" if leg.elevation_deg < stop.value - 1e-9 else ""),
                leg.elevation_deg,
                limit=stop.value if leg.elevation_deg < stop.value - 1e-9 else least.value,
                severity="stop" if leg.elevation_deg < stop.value - 1e-9 else "caution",
            )


@caution("bridle-leg-slack", ("caution", "stop"), BRIDLE, limit=LEAST_SHARE)
def bridle_leg_slack(of: BridleFacts) -> Iterator[Told]:
    """A leg lifts less than this; a stop where it lifts nothing."""
    for number, leg in enumerate(of.bridle.legs, start=1):
        lifted = leg.vertical_n / of.bridle.load_n
        if lifted <= SLACK:
            yield Told(
                f"leg {number} bears nothing: the load hangs from the others and swings where they "
                "let it; move the apex, or leave that leg out",
                lifted,
                limit=0.0,
                severity="stop",
            )
        elif lifted < LEAST_SHARE.value:
            yield Told(
                f"leg {number} lifts {100.0 * lifted:.1f} % of the load; below "
                f"{100.0 * LEAST_SHARE.value:g} % a small error lets it go slack",
                lifted,
            )


@caution("bridle-wide", "caution", BRIDLE, limit=INCLUDED_ANGLE_MOST)
def bridle_wide(of: BridleFacts) -> Iterator[Told]:
    """The legs stand wider apart than this."""
    most = INCLUDED_ANGLE_MOST
    if of.bridle.included_deg > most.value + 1e-9:
        yield Told(
            f"two legs stand {of.bridle.included_deg:.1f}° apart, wider than the {most.value:g}° "
            f"of {most.source}",
            of.bridle.included_deg,
        )

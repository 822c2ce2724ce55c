"""What stands: whether it tips or slides, by itself and in wind."""

from collections.abc import Iterator

from ..base.units import length_text, mass_text
from ..results.answer import Severity
from ..rigging.limits import STACK_MARGIN, STACK_TIP
from ..scenario.thresholds import threshold
from ..speaker.cabinet import drop_m
from .declare import LIKELY_SLIP, NOT_ASSUMED, Told, caution
from .facts import STACKED, STANDS, SpeakerFacts
from .hang import NOTHING_PUSHES

OFF_BASE_M = 0.01
"""Base and lowest corner may differ by this much: a tape reads no finer; our own."""


@caution("stack-off-base", "caution", STANDS, unit="m", basis=LIKELY_SLIP)
def off_base(of: SpeakerFacts) -> Iterator[Told]:
    """A stack with both `base` and `height`, whose height puts the outline's lowest corner more
    than 1 cm above or below the base.
    """
    scenario, held = of.scenario, of.held
    base_m, cabinet = scenario.base_m.get(of.speaker_name), held.speaker.cabinet
    if base_m is None or cabinet is None or cabinet.outline_m is None:
        return
    drop = float(drop_m(cabinet, tilt_deg=held.tilt_deg, flipped=held.flipped))
    off_m = held.at_m[1] - drop - base_m
    if abs(off_m) <= OFF_BASE_M:
        return
    unit, side = scenario.units, "above" if off_m > 0.0 else "below"
    stack = scenario.stacks.get(of.speaker_name)
    ground = "base" if stack is None or stack.ground_m is None else "stack's ground"
    yield Told(
        f"the height given puts its lowest corner {length_text(abs(off_m), unit)} {side} the base "
        f"of {length_text(base_m, unit)}: the aim is taken at the height, tipping and wind are "
        f"taken from the {ground}; leave one of them out, or correct it",
        off_m,
        OFF_BASE_M,
    )


@caution("stack-not-checked", "caution", STANDS, basis=NOT_ASSUMED)
def not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A stack whose mass, centre of gravity, or outline and footprint is not given."""
    if of.held.stack is None and not of.held.refused:
        yield Told(f"tipping and sliding were not checked: {of.held.not_checked}")


@caution("stack-tips", "stop", STACKED, unit="m", basis=NOTHING_PUSHES)
def tips(of: SpeakerFacts) -> Iterator[Told]:
    """The centre of gravity lies beyond a tipping edge."""
    for edge in (of.stack.front, of.stack.rear):
        if edge.margin_m <= 0.0:
            yield Told(
                f"the centre of gravity lies {abs(edge.margin_m):.2f} m beyond the {edge.name} "
                "edge: it tips by itself",
                edge.margin_m,
                limit=0.0,
            )


@caution("stack-slope", "caution", STACKED, limit=STACK_TIP)
def slope(of: SpeakerFacts) -> Iterator[Told]:
    """It would tip by itself on less than this."""
    for edge in (of.stack.front, of.stack.rear):
        if edge.margin_m > 0.0 and edge.tip_deg < threshold(of.scenario, STACK_TIP):
            yield Told(
                f"it tips over the {edge.name} edge on a slope of {edge.tip_deg:.1f}°, or when "
                "pushed",
                edge.tip_deg,
            )


@caution("stack-wind-not-checked", "caution", STACKED, basis=NOT_ASSUMED)
def wind_not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A wind speed is given, but not the stack's wind area."""
    if not of.held.in_wind:
        yield Told("wind on the stack was not checked: its wind area is not given")


@caution("stack-friction-missing", "caution", STACKED, basis=NOT_ASSUMED)
def friction_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Wind on a stack without a coefficient of friction."""
    for _, safety in _margins(of):
        if safety is None:
            yield Told("sliding in the wind was not checked: no coefficient of friction is given")


def _margins(of: SpeakerFacts) -> tuple[tuple[str, float | None], ...]:
    """What holds over what upsets, each way that wind may upset it; None where it is not known."""
    stack = of.stack
    if not of.held.in_wind or stack.wind_n <= 0.0:
        return ()
    return (
        ("tipping over the front edge", stack.front.safety),
        ("tipping over the rear edge", stack.rear.safety),
        ("sliding", stack.sliding_safety),
    )


def _upset(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    stack, unit = of.stack, of.scenario.units
    for what, safety in _margins(of):
        if safety is None or safety >= stack.asked.value:
            continue
        if ("stop" if safety < 1.0 else "caution") != severity:
            continue
        ballast = "no ballast where it is meant to go is enough"
        if stack.ballast_kg is not None:
            ballast = f"{mass_text(stack.ballast_kg, unit)} of ballast is the least for all of it"
        yield Told(
            f"{what} at {stack.gust_speed_m_s:g} m/s: what holds is {safety:.2f} times what "
            f"upsets; {stack.asked.value:g} is asked for ({stack.asked.source}); {ballast}",
            safety,
            stack.asked.value,
        )


@caution("stack-margin", "caution", STACKED, limit=STACK_MARGIN)
def margin(of: SpeakerFacts) -> Iterator[Told]:
    """In the wind what holds, against tipping or sliding, is less than this many times what upsets
    (`stack.margin` and `stack.margin_source` of the loudspeaker move it).
    """
    yield from _upset(of, "caution")


@caution(
    "stack-upset-by-wind",
    "stop",
    STACKED,
    unit="times",
    basis="EN 1991-1-4, read in a secondary text, without its site factors",
)
def upset_by_wind(of: SpeakerFacts) -> Iterator[Told]:
    """In the wind what upsets is more than what holds; q = ½ρv², ρ 1.25 kg/m³, c_f 1.8 of
    sign-boards unless given.
    """
    yield from _upset(of, "stop")

"""What stands: whether it tips or slides, by itself and in wind."""

from collections.abc import Iterator

from ..base.units import mass_text
from ..results.answer import Severity
from ..rigging.ground_stack import BoxAlone, Edge
from ..rigging.limits import STACK_MARGIN, STACK_TIP
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
    side = "above" if off_m > 0.0 else "below"
    stack = scenario.stacks.get(of.speaker_name)
    ground = "base" if stack is None or stack.ground_m is None else "stack's ground"
    yield Told(
        f"the height given puts its lowest corner {of.length(abs(off_m))} {side} the base "
        f"of {of.length(base_m)}: the aim is taken at the height, tipping and wind are "
        f"taken from the {ground}; leave one of them out, or correct it",
        off_m,
        OFF_BASE_M,
    )


@caution("stack-not-checked", "caution", STANDS, basis=NOT_ASSUMED)
def not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A stack whose mass, centre of gravity, or outline and footprint is not given."""
    if of.held.stack is None and not of.held.refused:
        yield Told(f"tipping and sliding were not checked: {of.held.not_checked}")


def _edges(of: SpeakerFacts) -> Iterator[tuple[str, Edge]]:
    """The stack's two edges, and the box's own where it is less firm on them than the stack is."""
    stack, box = of.stack, of.stack.box
    for edge in (stack.front, stack.rear):
        yield "", edge
    if box is not None:
        for own, edge in ((box.front, stack.front), (box.rear, stack.rear)):
            if own.tip_deg < edge.tip_deg - 1e-6 or own.margin_m < edge.margin_m - 1e-6:
                yield "the box alone: ", own


@caution("stack-tips", "stop", STACKED, unit="m", basis=NOTHING_PUSHES)
def tips(of: SpeakerFacts) -> Iterator[Told]:
    """The centre of gravity of the stack, or of a box not tied to it, lies beyond an edge."""
    for whose, edge in _edges(of):
        if edge.margin_m <= 0.0:
            yield Told(
                f"{whose}the centre of gravity lies {abs(edge.margin_m):.2f} m beyond the "
                f"{edge.name} edge: it tips by itself",
                edge.margin_m,
                limit=0.0,
            )


@caution("stack-slope", "caution", STACKED, limit=STACK_TIP)
def slope(of: SpeakerFacts) -> Iterator[Told]:
    """It would tip by itself on less than this."""
    for whose, edge in _edges(of):
        if edge.margin_m > 0.0 and edge.tip_deg < of.limit(STACK_TIP):
            yield Told(
                f"{whose}it tips over the {edge.name} edge on a slope of {edge.tip_deg:.1f}°, or "
                "when pushed",
                edge.tip_deg,
            )


@caution("stack-wind-not-checked", "caution", STACKED, basis=NOT_ASSUMED)
def wind_not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A wind speed is given, but not the stack's wind area."""
    if not of.stack.wind_checked:
        yield Told("wind on the stack was not checked: its wind area is not given")


@caution("stack-friction-missing", "caution", STACKED, basis=NOT_ASSUMED)
def friction_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Wind on a stack, or a box on a wedge, without a coefficient of friction."""
    stack = of.stack
    if stack.friction is not None:
        return
    if stack.wind_checked and stack.wind_n > 0.0:
        yield Told("sliding in the wind was not checked: no coefficient of friction is given")
    if stack.box is not None and stack.box.raised:
        yield Told(
            f"{_wedge_text(stack.box)}: whether it slides off was not checked, no coefficient of "
            "friction is given; tie it to what it stands on (`tied = true`), or give friction"
        )


def _wedge_text(box: BoxAlone) -> str:
    return (
        f"it stands on a wedge that raises its {box.raised} end by {1000 * box.wedge_height_m:.0f} "
        f"mm ({box.wedge_deg:.1f}°)"
    )


def _margins(of: SpeakerFacts) -> Iterator[tuple[str, float | None, bool]]:
    """What holds over what upsets, each way; None where it is not known; whether ballast helps."""
    stack, box = of.stack, of.stack.box
    if stack.wind_checked and stack.wind_n > 0.0:
        wind = f" at {stack.gust_speed_m_s:g} m/s"
        yield f"tipping over the front edge{wind}", stack.front.safety, True
        yield f"tipping over the rear edge{wind}", stack.rear.safety, True
        yield f"sliding{wind}", stack.sliding_safety, True
        if box is not None:
            for own, edge in ((box.front, stack.front), (box.rear, stack.rear)):
                if (own.safety or 0.0) < (edge.safety or 0.0) - 1e-9:
                    name = f"the box alone, tipping over its {own.name} edge{wind}"
                    yield name, own.safety, False
            less = (box.sliding_safety or 0.0) < (stack.sliding_safety or 0.0) - 1e-9
            if less and not box.raised:
                yield f"the box alone, sliding{wind}", box.sliding_safety, False


def _upset(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    stack, unit = of.stack, of.scenario.units
    for what, safety, by_ballast in _margins(of):
        if safety is None or safety >= stack.asked:
            continue
        if ("stop" if safety < 1.0 else "caution") != severity:
            continue
        helps = "tie it to what it stands on"
        if by_ballast:
            helps = "no ballast where it is meant to go is enough"
            if stack.ballast_kg is not None:
                helps = f"{mass_text(stack.ballast_kg, unit)} of ballast is the least for all of it"
        yield Told(
            f"{what}: what holds is {safety:.2f} times what upsets; {stack.asked:g} is asked for "
            f"({stack.asked_source}); {helps}",
            safety,
            stack.asked,
        )


@caution("stack-margin", "caution", STACKED, limit=STACK_MARGIN)
def margin(of: SpeakerFacts) -> Iterator[Told]:
    """In the wind what holds, against tipping or sliding, is less than this many times what upsets
    (`stack.margin` and `stack.margin_source` of the loudspeaker move it).
    """
    yield from _upset(of, "caution")


@caution("stack-slides", ("stop", "caution"), STACKED, limit=STACK_MARGIN)
def slides(of: SpeakerFacts) -> Iterator[Told]:
    """A box on a wedge, not tied to it: friction holds less than this many times what pushes it
    down, wind included; a stop where it does not hold at all.
    """
    stack, box = of.stack, of.stack.box
    if box is None or not box.raised or box.sliding_safety is None:
        return
    safety = box.sliding_safety
    if safety < stack.asked:
        gust = f" at {stack.gust_speed_m_s:g} m/s" if stack.wind_n > 0.0 else ""
        yield Told(
            f"{_wedge_text(box)}, and with a friction of {stack.friction:g} it slides from "
            f"{box.slides_deg:.1f}°: what holds is {safety:.2f} times what pushes{gust}; "
            f"{stack.asked:g} is asked for ({stack.asked_source}); tie it to what it stands on",
            safety,
            stack.asked,
            severity="stop" if safety < 1.0 else "caution",
        )


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

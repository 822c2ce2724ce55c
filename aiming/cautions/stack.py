"""Cautions about what stands: whether it tips or slides, by itself and in wind."""

from collections.abc import Iterator

from ..analysis.support_loads import Support
from ..base.units import length_text, mass_text
from ..results.answer import Caution, Severity
from ..rigging.ground_stack import BoxAlone, Edge, Stability
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from .rule import threshold

OFF_BASE_M = 0.01
"""Base and lowest corner may differ by this much: a tape reads no finer; our own."""


def stack_cautions(scenario: Scenario, held: Support) -> Iterator[Caution]:
    """Of one loudspeaker that stands."""
    name = held.speaker.name
    yield from _off_base(scenario, held)
    if held.refused:
        yield Caution("forces-unknown", "stop", held.refused, speaker=name)
        return
    if held.stack is None:
        text = f"tipping and sliding were not checked: {held.not_checked}"
        yield Caution("stack-not-checked", "caution", text, speaker=name)
        return
    stack, box = held.stack, held.stack.box
    for edge in (stack.front, stack.rear):
        yield from _tipping(scenario, held, edge, "")
    if box is not None:
        for own, edge in ((box.front, stack.front), (box.rear, stack.rear)):
            if own.tip_deg < edge.tip_deg - 1e-6 or own.margin_m < edge.margin_m - 1e-6:
                yield from _tipping(scenario, held, own, "the box alone: ")
        yield from _wedge(held, stack, box)
    yield from _wind(scenario, held, stack)


def _off_base(scenario: Scenario, held: Support) -> Iterator[Caution]:
    """A height that is given beside the base, and does not put the box on it."""
    base_m, cabinet = scenario.base_m.get(held.speaker.name), held.speaker.cabinet
    if base_m is None or cabinet is None or cabinet.outline_m is None:
        return
    drop = float(drop_m(cabinet, tilt_deg=held.tilt_deg, flipped=held.flipped))
    off_m = held.at_m[1] - drop - base_m
    if abs(off_m) <= OFF_BASE_M:
        return
    unit, side = scenario.units, "above" if off_m > 0.0 else "below"
    stack = scenario.stacks.get(held.speaker.name)
    ground = "base" if stack is None or stack.ground_m is None else "stack's ground"
    yield Caution(
        "stack-off-base",
        "caution",
        f"the height given puts its lowest corner {length_text(abs(off_m), unit)} {side} the base "
        f"of {length_text(base_m, unit)}: the aim goes by the height, tipping and wind are taken "
        f"from the {ground}; leave one of them out, or correct it",
        value=off_m,
        unit="m",
        limit=OFF_BASE_M,
        speaker=held.speaker.name,
    )


def _tipping(scenario: Scenario, held: Support, edge: Edge, whose: str) -> Iterator[Caution]:
    name, least = held.speaker.name, threshold(scenario, "stack_tip_deg")
    if edge.margin_m <= 0.0:
        yield Caution(
            "stack-tips",
            "stop",
            f"{whose}the centre of gravity lies {abs(edge.margin_m):.2f} m beyond the "
            f"{edge.name} edge: it tips by itself",
            value=edge.margin_m,
            unit="m",
            limit=0.0,
            speaker=name,
        )
    elif edge.tip_deg < least:
        yield Caution(
            "stack-slope",
            "caution",
            f"{whose}it tips over the {edge.name} edge on a slope of {edge.tip_deg:.1f}°, "
            "or with a push",
            value=edge.tip_deg,
            unit="°",
            limit=least,
            speaker=name,
        )


def _wedge(held: Support, stack: Stability, box: BoxAlone) -> Iterator[Caution]:
    """A box on a wedge slides down it unless friction or a tie holds it."""
    if not box.raised:
        return
    name = held.speaker.name
    stands = (
        f"it stands on a wedge that raises its {box.raised} end by {1000 * box.wedge_height_m:.0f} "
        f"mm ({box.wedge_deg:.1f}°)"
    )
    if box.slides_deg is None:
        yield Caution(
            "stack-friction-missing",
            "caution",
            f"{stands}: whether it slides off was not checked, no coefficient of friction given; "
            "tie it (`tied = true`), or give friction",
            value=box.wedge_deg,
            unit="°",
            speaker=name,
        )
        return
    safety = box.sliding_safety
    if safety is None or safety >= stack.asked:
        return
    severity: Severity = "stop" if safety < 1.0 else "caution"
    yield Caution(
        "stack-slides" if severity == "stop" else "stack-margin",
        severity,
        f"{stands}, and with a friction of {stack.friction:g} it slides from "
        f"{box.slides_deg:.1f}°: what holds is {safety:.2f} times what pushes{_gust_text(stack)}; "
        f"{stack.asked:g} is asked for ({stack.asked_source}); tie it to what it stands on",
        value=safety,
        unit="times",
        limit=stack.asked,
        speaker=name,
    )


def _gust_text(stack: Stability) -> str:
    return f" at {stack.gust_speed_m_s:g} m/s" if stack.wind_n > 0.0 else ""


def _wind(scenario: Scenario, held: Support, stack: Stability) -> Iterator[Caution]:
    name = held.speaker.name
    if not stack.wind_checked:
        yield Caution(
            "stack-wind-not-checked",
            "caution",
            "wind on the stack was not checked: its wind area is not given",
            speaker=name,
        )
        return
    if stack.wind_n <= 0.0:
        return
    if stack.friction is None:
        yield Caution(
            "stack-friction-missing",
            "caution",
            "sliding in the wind was not checked: no coefficient of friction given",
            speaker=name,
        )
    figures = [
        ("tipping over the front edge", stack.front.safety, True),
        ("tipping over the rear edge", stack.rear.safety, True),
        ("sliding", stack.sliding_safety, True),
    ]
    box = stack.box
    if box is not None:
        for own, edge in ((box.front, stack.front), (box.rear, stack.rear)):
            if (own.safety or 0.0) < (edge.safety or 0.0) - 1e-9:
                what = f"the box alone, tipping over its {own.name} edge"
                figures.append((what, own.safety, False))
        if not box.raised and (box.sliding_safety or 0.0) < (stack.sliding_safety or 0.0) - 1e-9:
            figures.append(("the box alone, sliding", box.sliding_safety, False))
    for what, safety, by_ballast in figures:
        if safety is None or safety >= stack.asked:
            continue
        severity: Severity = "stop" if safety < 1.0 else "caution"
        yield Caution(
            "stack-upset-by-wind" if severity == "stop" else "stack-margin",
            severity,
            f"{what} at {stack.gust_speed_m_s:g} m/s: what holds is {safety:.2f} times what "
            f"upsets; {stack.asked:g} is asked for ({stack.asked_source}); "
            + (_ballast_text(scenario, stack) if by_ballast else "tie it to what it stands on"),
            value=safety,
            unit="times",
            limit=stack.asked,
            speaker=name,
        )


def _ballast_text(scenario: Scenario, stack: Stability) -> str:
    if stack.ballast_kg is None:
        return "no ballast where it is meant to go reaches that"
    return f"least ballast for all of it {mass_text(stack.ballast_kg, scenario.units)}"

"""Cautions about what stands: whether it tips or slides, by itself and in wind."""

from collections.abc import Iterator

from ..analysis.support_loads import Held
from ..base.units import length_text, mass_text
from ..results.answer import Caution, Severity
from ..rigging.stack import Edge, Stability
from ..scenario.scenario import Scenario
from ..speaker.cabinet import drop_m
from .rule import threshold

OFF_BASE_M = 0.01
"""Base and lowest corner may differ by this much: a tape reads no finer; our own."""


def stack_cautions(scenario: Scenario, held: Held) -> Iterator[Caution]:
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
    for edge in (held.stack.front, held.stack.rear):
        yield from _tipping(scenario, held, edge)
    yield from _wind(scenario, held, held.stack)


def _off_base(scenario: Scenario, held: Held) -> Iterator[Caution]:
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


def _tipping(scenario: Scenario, held: Held, edge: Edge) -> Iterator[Caution]:
    name, least = held.speaker.name, threshold(scenario, "stack_tip_deg")
    if edge.margin_m <= 0.0:
        yield Caution(
            "stack-tips",
            "stop",
            f"the centre of gravity lies {abs(edge.margin_m):.2f} m beyond the {edge.name} edge: "
            "it tips by itself",
            value=edge.margin_m,
            unit="m",
            limit=0.0,
            speaker=name,
        )
    elif edge.tip_deg < least:
        yield Caution(
            "stack-slope",
            "caution",
            f"it tips over the {edge.name} edge on a slope of {edge.tip_deg:.1f}°, or with a push",
            value=edge.tip_deg,
            unit="°",
            limit=least,
            speaker=name,
        )


def _wind(scenario: Scenario, held: Held, stack: Stability) -> Iterator[Caution]:
    name = held.speaker.name
    if not held.in_wind:
        yield Caution(
            "stack-wind-not-checked",
            "caution",
            "wind on the stack was not checked: its wind area is not given",
            speaker=name,
        )
        return
    if stack.wind_n <= 0.0:
        return
    figures = [
        ("tipping over the front edge", stack.front.safety),
        ("tipping over the rear edge", stack.rear.safety),
        ("sliding", stack.sliding_safety),
    ]
    for what, safety in figures:
        if safety is None:
            yield Caution(
                "stack-friction-missing",
                "caution",
                "sliding in the wind was not checked: no coefficient of friction given",
                speaker=name,
            )
        elif safety < stack.asked.value:
            severity: Severity = "stop" if safety < 1.0 else "caution"
            yield Caution(
                "stack-upset-by-wind" if severity == "stop" else "stack-margin",
                severity,
                f"{what} at {stack.gust_speed_m_s:g} m/s: what holds is {safety:.2f} times what "
                f"upsets; {stack.asked.value:g} is asked for ({stack.asked.source}); "
                + _ballast_text(scenario, stack),
                value=safety,
                unit="times",
                limit=stack.asked.value,
                speaker=name,
            )


def _ballast_text(scenario: Scenario, stack: Stability) -> str:
    if stack.ballast_kg is None:
        return "no ballast where it is meant to go reaches that"
    return f"least ballast for all of it {mass_text(stack.ballast_kg, scenario.units)}"

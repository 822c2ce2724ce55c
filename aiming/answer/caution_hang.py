"""Cautions about what hangs: what is not known, who bears nothing, which tilts are out of reach."""

from collections.abc import Iterator

from ..rigging.loads import Loads
from ..scenario.scenario import Scenario
from ..units import Unit, force_text, length_text, tilt_text
from .caution_limits import threshold
from .held import Held
from .model import Caution, Window

ROUNDING = 1e-9
"""At the very end of its range a point bears nothing; less than that is slack."""


def hang_cautions(scenario: Scenario, held: Held, window: Window | None) -> Iterator[Caution]:
    """Of one flown loudspeaker at its placement."""
    name = held.speaker.name
    if held.refused:
        yield Caution("forces-unknown", "stop", f"{held.refused}", speaker=name)
        return
    if held.loads is None:
        text = f"loads, reachable tilt and utilisation were not checked: {held.not_checked}"
        yield Caution("loads-not-checked", "caution", text, speaker=name)
        return
    yield from _slack(scenario, held, held.loads)
    yield from _reach(held, held.loads)
    yield from _below_centre(held, held.loads)
    yield from _pull_back(scenario, held, held.loads)
    yield from _doubt(held, held.loads, window)


def _slack(scenario: Scenario, held: Held, loads: Loads) -> Iterator[Caution]:
    least, unit = threshold(scenario, "least_share"), scenario.units
    for point in loads.points:
        if point.share < -ROUNDING:
            pull = force_text(-point.tension_n, unit)
            yield Caution(
                "slack-point",
                "stop",
                f"point {point.name} is slack at {tilt_text(held.tilt_deg)}: it would have to push "
                f"with {pull}, which a line cannot; the box would not stay at this tilt",
                value=point.tension_n,
                unit="N",
                limit=0.0,
                speaker=held.speaker.name,
            )
        elif point.share < least and len(loads.points) > 1:
            yield Caution(
                "low-share",
                "caution",
                f"point {point.name} bears {100 * point.share:.1f} % of the weight; below "
                f"{100 * least:g} % a small error lets it go slack",
                value=point.share,
                unit="of the weight",
                limit=least,
                speaker=held.speaker.name,
            )


def _reach(held: Held, loads: Loads) -> Iterator[Caution]:
    if loads.reachable is not False:
        return
    limit = None
    if loads.settings:
        tilts = sorted((tilt for tilt, _ in loads.settings), key=lambda of: abs(of - held.tilt_deg))
        limit = tilts[0]
        near = " or ".join(tilt_text(tilt) for tilt in sorted(tilts[:2]))
        why = f"it can be set to {near}, nothing between or nearer"
    elif loads.tilt_range_deg is not None:
        low, high = loads.tilt_range_deg
        limit = low if held.tilt_deg < low else high
        why = f"it holds {tilt_text(low)} to {tilt_text(high)}"
    else:
        why = loads.unreachable or "it holds no tilt at all"
    yield Caution(
        "tilt-out-of-reach",
        "stop",
        f"the rigging as declared does not hold {tilt_text(held.tilt_deg)}: {why}",
        value=held.tilt_deg,
        unit="°",
        limit=limit,
        speaker=held.speaker.name,
    )


def _below_centre(held: Held, loads: Loads) -> Iterator[Caution]:
    """Points that do not lie above the centre of gravity: those of a bar hang by the bar."""
    assert held.rigging is not None
    carrying = loads.points[:1] if held.rigging.method == "pull-back" else loads.points
    for point in () if held.on_bar else carrying:
        if point.above_centre_m <= 0.0:
            yield Caution(
                "point-below-centre",
                "caution",
                f"point {point.name} is not above the combined centre of gravity at this tilt: "
                "what hangs from it tends to turn over",
                value=point.above_centre_m,
                unit="m",
                limit=0.0,
                speaker=held.speaker.name,
            )


def _pull_back(scenario: Scenario, held: Held, loads: Loads) -> Iterator[Caution]:
    if held.rigging is None or held.rigging.method != "pull-back":
        return
    carrying, pulled = loads.points
    shift = None if held.layout is None else held.layout.shift_m
    yield Caution(
        "pull-back",
        "caution",
        f"pull-back: line {pulled.name} pulls with {force_text(pulled.tension_n, scenario.units)} "
        f"on a point that has to be rated for it; the carrying line leans {carrying.lean_deg:.1f}°"
        + _shift_text(shift, scenario.units)
        + ", and if the pulling line lets go the box swings",
        value=carrying.lean_deg,
        unit="°",
        speaker=held.speaker.name,
    )


def _shift_text(shift_m: float | None, unit: Unit) -> str:
    if shift_m is None:
        return ""
    way = "ahead of" if shift_m > 0.0 else "behind"
    return f" and is hung {length_text(abs(shift_m), unit)} {way} the box's hook"


def _doubt(held: Held, loads: Loads, window: Window | None) -> Iterator[Caution]:
    """A free-hanging box whose tilt follows the centre of gravity more than the window allows."""
    if loads.doubt_deg is None or window is None:
        return
    low, high = window.tilt_deg
    room = min(held.tilt_deg - low, high - held.tilt_deg)
    if loads.doubt_deg > room:
        yield Caution(
            "tilt-doubtful",
            "caution",
            f"10 mm of doubt in the centre of gravity moves the tilt by {loads.doubt_deg:.1f}°, "
            f"more than the {max(room, 0.0):.1f}° that the aim allows: measure the tilt as hung",
            value=loads.doubt_deg,
            unit="°",
            limit=room,
            speaker=held.speaker.name,
        )


def outline_cautions(held: Held) -> Iterator[Caution]:
    """What the cabinet's outline tells, or cannot tell."""
    from ..rigging.standing import centre_outside_outline

    cabinet, name = held.speaker.cabinet, held.speaker.name
    if cabinet is None or cabinet.outline_m is None:
        yield Caution(
            "outline-missing",
            "note",
            "no outline given: trim is taken as the height of the acoustic centre; room below it "
            "and sightlines were not checked",
            speaker=name,
        )
    elif centre_outside_outline(cabinet):
        assert cabinet.centre_of_gravity_m is not None
        u, w = cabinet.centre_of_gravity_m
        yield Caution(
            "centre-outside-outline",
            "caution",
            f"the centre of gravity, u = {u:g} m, w = {w:g} m, lies outside the cabinet's "
            "outline: one of the two is likely wrong",
            speaker=name,
        )

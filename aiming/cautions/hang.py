"""Cautions about what hangs: what is not known, who bears nothing, which tilts are out of reach."""

from collections.abc import Iterator

from ..analysis.support_loads import Held
from ..base.units import Unit, force_text, length_text, tilt_text
from ..results.answer import Caution, Severity, Window
from ..rigging.bridle import Bridle
from ..rigging.limits import INCLUDED_ANGLE_MOST, LEG_ELEVATION_LEAST, SECONDARY_FALL_MOST, Limit
from ..rigging.loads import Loads, PointLoad
from ..rigging.plumb import HangLayout
from ..scenario.scenario import Scenario
from ..speaker.rigging import Rigging
from .general import factor_text, plain_caution
from .rule import threshold

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


# Cautions about what bears the load: marked limits, uneven hoists, fittings, the structure.


def capacity_cautions(scenario: Scenario, held: Held) -> Iterator[Caution]:
    """Of one flown loudspeaker whose loads are known, and of what else it needs."""
    if held.rigging is None:
        return
    name = held.speaker.name
    if held.loads is not None and held.layout is not None:
        yield from _marked(scenario, name, held.loads)
        for point in held.loads.points:
            yield from _fitting(scenario, name, held.rigging, point)
        yield from _structure(scenario, name, held.rigging, held.layout)
    if not held.rigging.secondary_suspension:
        fall = length_text(SECONDARY_FALL_MOST.value, scenario.units)
        yield Caution(
            "secondary-not-declared",
            "caution",
            "no independent secondary suspension is declared: overhead loads are usually to have "
            f"one without fall path, or with at most {fall} for gear aligned after mounting",
            limit=SECONDARY_FALL_MOST.value,
            unit="m",
            speaker=name,
        )


def _marked(scenario: Scenario, name: str, loads: Loads) -> Iterator[Caution]:
    unknown = [point.name for point in loads.points if point.utilisation is None]
    if unknown:
        yield Caution(
            "load-limits-missing",
            "caution",
            f"no working load limit given for {', '.join(unknown)}: utilisation not checked",
            speaker=name,
        )
    share, factor = 100.0 * loads.wll_share, factor_text(loads.dynamic_factor)
    for point in loads.points:
        used = point.utilisation
        if used is None:
            continue
        found = _used(scenario, used)
        if found is not None:
            severity, limit = found
            yield Caution(
                "overloaded" if severity == "stop" else "nearly-loaded",
                severity,
                f"point {point.name} bears {100 * used:.0f} % of what may be used "
                f"({share:g} % of its marked limit, dynamic factor {factor})",
                value=used,
                unit="of what may be used",
                limit=limit,
                speaker=name,
            )
        whole, full = point.whole_weight_utilisation, threshold(scenario, "utilisation_full")
        if len(loads.points) > 1 and whole is not None and whole > full >= used:
            yield Caution(
                "uneven-hoists",
                "caution",
                f"with the whole weight on point {point.name}, as when hoists run unevenly, it "
                f"bears {100 * whole:.0f} % of what may be used",
                value=whole,
                unit="of what may be used",
                limit=full,
                speaker=name,
            )


def _used(scenario: Scenario, used: float) -> tuple[Severity, float] | None:
    full, near = threshold(scenario, "utilisation_full"), threshold(scenario, "utilisation_near")
    if used > full:
        return "stop", full
    return ("caution", near) if used > near else None


def _fitting(
    scenario: Scenario, name: str, rigging: Rigging, point: PointLoad
) -> Iterator[Caution]:
    """A pull off the fitting's axis, by what it leaves of the limit."""
    limit = threshold(scenario, "off_axis_deg")
    off, kept = point.off_axis_deg, point.kept_share
    if off is None or kept is None or off <= limit:
        return
    used = point.kept_utilisation
    left = f"keeps {100 * kept:.0f} % of its limit (training texts vary; the maker's table counts)"
    if used is not None:
        left += f", of which {100 * used:.0f} % is used"
    full = threshold(scenario, "utilisation_full")
    severity: Severity = "stop" if kept == 0.0 or (used or 0.0) > full else "caution"
    yield Caution(
        "off-axis-pull",
        severity,
        f"the pull on point {point.name} is {off:.0f}° off the axis of its {rigging.fitting}: "
        + ("that is not to be pulled sideways at all" if kept == 0.0 else f"it {left}"),
        value=off,
        unit="°",
        limit=limit,
        speaker=name,
    )


def _structure(
    scenario: Scenario, name: str, rigging: Rigging, layout: HangLayout
) -> Iterator[Caution]:
    if rigging.structure_capacity_n is None:
        yield Caution(
            "structure-capacity-missing",
            "caution",
            "what the structure may carry at each point is not stated, so not checked",
            speaker=name,
        )
        return
    for line in layout.points:
        used = line.structure_utilisation
        found = None if used is None else _used(scenario, used)
        if used is None or found is None:
            continue
        severity, limit = found
        yield Caution(
            "structure-overloaded" if severity == "stop" else "structure-nearly-loaded",
            severity,
            f"the structure over {line.name} carries {100 * used:.0f} % of the capacity stated",
            value=used,
            unit="of the capacity",
            limit=limit,
            speaker=name,
        )


# Cautions about a two-leg bridle.


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

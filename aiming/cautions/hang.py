"""Cautions about what hangs: what is not known, who bears nothing, which tilts are out of reach."""

import re
from collections.abc import Iterator
from math import ceil

from ..analysis.support_loads import Support, under_steel_m
from ..base.units import Unit, force_text, length_text, tilt_text
from ..results.answer import Caution, Severity, Window
from ..rigging.bridle import Bridle
from ..rigging.ground_stack import centre_outside_outline
from ..rigging.limits import (
    INCLUDED_ANGLE_MOST,
    LEAST_SHARE,
    LEG_ELEVATION_LEAST,
    LEG_ELEVATION_STOP,
    SECONDARY_FALL_MOST,
    WLL_SHARE_MOST,
    Limit,
)
from ..rigging.loads import NO_ROOM_M, SLACK, HangLine, Loads, PointLoad
from ..scenario.scenario import Scenario
from ..speaker.rigging import Rigging
from .general import factor_text, plain_caution
from .rule import threshold


def hang_cautions(scenario: Scenario, held: Support, window: Window | None) -> Iterator[Caution]:
    """Of one flown loudspeaker at its placement."""
    name = held.speaker.name
    yield from _names_crossed(held)
    yield from _under_steel(scenario, held)
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


_SIDES = {"front": 1.0, "rear": -1.0, "back": -1.0}


def _side(name: str) -> float:
    """+1 for a pick whose name says front, −1 for rear or back, 0 for any other."""
    return sum(side for word, side in _SIDES.items() if word in re.split(r"\W+", name.casefold()))


def _names_crossed(held: Support) -> Iterator[Caution]:
    """Picks whose names say the other way round than where they are."""
    if held.rigging is None or held.speaker.cabinet is None:
        return
    at = {pick.name: pick.at_m[0] for pick in held.speaker.cabinet.picks}
    used = [name for name in held.rigging.picks if name in at]
    for front in used:
        for rear in used:
            if _side(front) > 0.0 > _side(rear) and at[front] < at[rear]:
                behind = at[rear] - at[front]
                yield Caution(
                    "pick-names-crossed",
                    "stop",
                    f"pick {front} lies {behind:.3f} m behind pick {rear}: whoever hangs it would "
                    "hook it the wrong way round; correct the places or the names",
                    value=-behind,
                    unit="m",
                    limit=0.0,
                    speaker=held.speaker.name,
                )


def _under_steel(scenario: Scenario, held: Support) -> Iterator[Caution]:
    """Steel below the hooks, or lines that are longer than what is between the two."""
    room = under_steel_m(held)
    if room is None or room >= -NO_ROOM_M or held.rigging is None:
        return
    steel, unit = held.rigging.steel_height_m, scenario.units
    assert steel is not None
    lines = held.loads.lines if held.loads is not None else ()
    heights = [one.height_m for one in lines or held.hooks]
    if heights and max(heights) > steel + NO_ROOM_M:
        yield Caution(
            "steel-below-hook",
            "stop",
            f"the steel at {length_text(steel, unit)} lies below the hook at "
            f"{length_text(max(heights), unit)}: nothing can hang there; correct one of them, or "
            f"lower the box by {_fine_text(-room, unit)} at least",
            value=steel - max(heights),
            unit="m",
            limit=0.0,
            speaker=held.speaker.name,
        )
        return
    yield Caution(
        "line-too-long",
        "stop",
        f"the parts of a line take up {_fine_text(-room, unit)} more than there is between hook "
        f"and steel at this place: lower the box by that much" + _taken_out_text(held, -room, unit),
        value=room,
        unit="m",
        limit=0.0,
        speaker=held.speaker.name,
    )


def _taken_out_text(held: Support, too_long_m: float, unit: Unit) -> str:
    """The shortest part that would do, taken out or replaced; of hoists nobody can do without."""
    assert held.rigging is not None
    parts = {part.name: part.length_m for line in held.rigging.lines for part in line.parts}
    enough = [(length, name) for name, length in parts.items() if length >= too_long_m - NO_ROOM_M]
    if not enough:
        return ", or take out more than one part"
    length, name = min(enough)
    return f", or shorten or take out {name} ({_fine_text(length, unit)})"


def _fine_text(length_m: float, unit: Unit) -> str:
    """A length between hook and steel, where a centimetre is much; rounded up."""
    return length_text(length_m, unit) if unit == "ft" else f"{ceil(1000.0 * length_m)} mm"


def _slack(scenario: Scenario, held: Support, loads: Loads) -> Iterator[Caution]:
    least, unit = threshold(scenario, "least_share"), scenario.units
    for point in loads.points:
        if point.share < -SLACK:
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


def _reach(held: Support, loads: Loads) -> Iterator[Caution]:
    if loads.reachable is not False:
        return
    limit = None
    if loads.settings:
        tilts = sorted(
            (one.tilt_deg for one in loads.settings), key=lambda of: abs(of - held.tilt_deg)
        )
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


def _below_centre(held: Support, loads: Loads) -> Iterator[Caution]:
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


def _pull_back(scenario: Scenario, held: Support, loads: Loads) -> Iterator[Caution]:
    if held.rigging is None or held.rigging.method != "pull-back":
        return
    carrying, pulled = loads.points
    shift = loads.shift_m
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


def _doubt(held: Support, loads: Loads, window: Window | None) -> Iterator[Caution]:
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


def outline_cautions(held: Support) -> Iterator[Caution]:
    """What the cabinet's outline tells, or cannot tell."""
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


def capacity_cautions(scenario: Scenario, held: Support) -> Iterator[Caution]:
    """Of one flown loudspeaker whose loads are known, and of what else it needs."""
    if held.rigging is None:
        return
    name = held.speaker.name
    if held.rigging.wll_share > WLL_SHARE_MOST.value:
        yield Caution(
            "wll-share-high",
            "caution",
            f"{100.0 * held.rigging.wll_share:g} % of marked limits is used: "
            f"{WLL_SHARE_MOST.source}; more only where nobody can come underneath, "
            "or as a competent person decides",
            value=held.rigging.wll_share,
            unit=WLL_SHARE_MOST.unit,
            limit=WLL_SHARE_MOST.value,
            speaker=name,
        )
    if held.loads is not None:
        yield from _marked(scenario, name, held.loads)
        for point in held.loads.points:
            yield from _fitting(scenario, name, held.rigging, point)
        yield from _structure(scenario, name, held.rigging, held.loads)
        yield from _parts(scenario, name, held.loads)
        yield from _pushed(name, held.loads)
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


def _structure(scenario: Scenario, name: str, rigging: Rigging, loads: Loads) -> Iterator[Caution]:
    if rigging.structure_capacity_n is None:
        yield Caution(
            "structure-capacity-missing",
            "caution",
            "what the structure may carry at each point is not stated, so not checked",
            speaker=name,
        )
        return
    for line in loads.lines:
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


def _parts(scenario: Scenario, name: str, loads: Loads) -> Iterator[Caution]:
    """The parts of each line, from clamp to shackle."""
    bare = [line.name for line in loads.lines if not line.parts]
    if bare:
        yield Caution(
            "line-parts-missing",
            "note",
            f"what the line of {', '.join(bare)} is made of is not given: hoist, sling, shackle "
            "and clamp were not checked",
            speaker=name,
        )
    for line in loads.lines:
        unmarked = [part.name for part in line.parts if part.wll_n is None]
        if unmarked:
            yield Caution(
                "load-limits-missing",
                "caution",
                f"no working load limit given for {', '.join(unmarked)} in the line of "
                f"{line.name}: not checked",
                speaker=name,
            )
        yield from _weakest(scenario, name, loads, line)


def _weakest(scenario: Scenario, name: str, loads: Loads, line: HangLine) -> Iterator[Caution]:
    for part in line.parts:
        found = None if part.utilisation is None else _used(scenario, part.utilisation)
        if found is None or part.utilisation is None:
            continue
        severity, limit = found
        yield Caution(
            "part-overloaded" if severity == "stop" else "part-nearly-loaded",
            severity,
            f"{part.name} in the line of {line.name} bears {100 * part.utilisation:.0f} % of what "
            f"may be used ({100 * loads.wll_share:g} % of its marked limit, dynamic factor "
            f"{factor_text(loads.dynamic_factor)})",
            value=part.utilisation,
            unit="of what may be used",
            limit=limit,
            speaker=name,
        )


def _pushed(name: str, loads: Loads) -> Iterator[Caution]:
    """What the stated gust does to what hangs."""
    wind = loads.wind
    if wind is None:
        return
    yield Caution(
        "wind-on-flown",
        "caution",
        f"a steady {wind.gust_speed_m_s:g} m/s pushes with {wind.force_n / 1000.0:.3f} kN "
        f"({wind.pressure_pa:.0f} Pa on {wind.area_m2:g} m², c_f {wind.force_coefficient:g}; "
        f"{wind.source}): the lines lean {wind.lean_deg:.1f}°, and all together pull "
        f"{100.0 * wind.more_share:.0f} % more than the weight; gusts swing it further, and how "
        "the lines share that is not worked out",
        value=wind.lean_deg,
        unit="°",
        speaker=name,
    )


# Cautions about a two-leg bridle.


def bridle_cautions(
    found: Bridle,
    *,
    leg_elevation_least: Limit = LEG_ELEVATION_LEAST,
    leg_elevation_stop: Limit = LEG_ELEVATION_STOP,
    included_angle_most: Limit = INCLUDED_ANGLE_MOST,
) -> tuple[Caution, ...]:
    """The plain one, then flat legs, legs that bear next to nothing, and wide angles."""
    return (
        plain_caution(),
        *_flat(found, leg_elevation_least, leg_elevation_stop),
        *_idle(found),
        *_wide(found, included_angle_most),
    )


def _flat(found: Bridle, least: Limit, stop: Limit) -> Iterator[Caution]:
    for number, leg in enumerate(found.legs, start=1):
        if leg.elevation_deg >= least.value - 1e-9:
            continue
        flattest = leg.elevation_deg < stop.value - 1e-9
        limit = stop if flattest else least
        yield Caution(
            "bridle-leg-flat",
            "stop" if flattest else "caution",
            f"leg {number} stands {leg.elevation_deg:.1f}° above horizontal, under the "
            f"{least.value:g}° of {least.source}; its tension is {leg.leg_factor:.2f} times "
            "what it lifts"
            + ("; so flat a leg is no bridle any more: raise the points" if flattest else ""),
            value=leg.elevation_deg,
            unit="°",
            limit=limit.value,
        )


def _idle(found: Bridle) -> Iterator[Caution]:
    """A leg that bears nothing is slack, and the others are then no bridle."""
    for number, leg in enumerate(found.legs, start=1):
        lifted = leg.vertical_n / found.load_n
        if lifted <= SLACK:
            yield Caution(
                "bridle-leg-slack",
                "stop",
                f"leg {number} bears nothing: the load hangs from the others, and swings where "
                "they let it; move the apex, or leave that leg out",
                value=leg.tension_n,
                unit="N",
                limit=0.0,
            )
        elif lifted < LEAST_SHARE.value:
            yield Caution(
                "bridle-leg-slack",
                "caution",
                f"leg {number} lifts {100.0 * lifted:.1f} % of the load; below "
                f"{100.0 * LEAST_SHARE.value:g} % a small error lets it go slack",
                value=lifted,
                unit="of the load",
                limit=LEAST_SHARE.value,
            )


def _wide(found: Bridle, most: Limit) -> Iterator[Caution]:
    if found.included_deg > most.value + 1e-9:
        yield Caution(
            "bridle-wide",
            "caution",
            f"two legs stand {found.included_deg:.1f}° apart, over the {most.value:g}° of "
            f"{most.source}",
            value=found.included_deg,
            unit="°",
            limit=most.value,
        )

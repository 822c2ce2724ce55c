"""What hangs: what is not known, who bears nothing, which tilts are out of reach, what bears it."""

import re
from collections.abc import Iterator
from dataclasses import replace
from math import ceil, inf

from ..analysis.rigging_reach import left_out, out_of_reach
from ..analysis.support_loads import under_steel_m
from ..base.limit import Limit
from ..base.units import Unit, force_text, length_text, tilt_text
from ..results.answer import Caution, Severity
from ..results.support import Support
from ..rigging.bridle import Bridle
from ..rigging.ground_stack import centre_outside_outline
from ..rigging.limits import (
    DOUBT_IN_CENTRE,
    INCLUDED_ANGLE_MOST,
    LEAST_SHARE,
    LEG_ELEVATION_LEAST,
    LEG_ELEVATION_STOP,
    OFF_AXIS_MOST,
    SECONDARY_FALL_MOST,
    UTILISATION_FULL,
    UTILISATION_NEAR,
    WLL_SHARE_MOST,
)
from ..rigging.loads import SLACK
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.headroom import NO_ROOM_M
from .declare import BALANCE, COMMON, DECLARED, LIKELY_SLIP, NOT_ASSUMED, Told, caution, told_of
from .facts import (
    BRIDLE,
    HANGS,
    LOADED,
    LOUDSPEAKER,
    RIGGED,
    SEARCHED,
    SUPPORTED,
    BridleFacts,
    SpeakerFacts,
)
from .general import factor_text, plain_caution

ONE_PLACE = "ours: two things cannot be in one place"
NOTHING_PUSHES = "ours: nothing that rests can push through a line or stand beyond its edge"


# What the rigging keeps the aim from.


@caution("orientation-left-out", "note", SEARCHED, basis=BALANCE)
def orientation_left_out(of: SpeakerFacts) -> Iterator[Told]:
    """In a search, an orientation whose rigging holds no tilt, for want of points above the
    combined centre of gravity or otherwise.
    """
    yield from left_out(of.scenario, of.at.speaker)


@caution("aim-out-of-rigging-reach", "note", SEARCHED, unit="°")
def aim_out_of_reach(of: SpeakerFacts) -> Iterator[Told]:
    """The best aim without the rigging's limit is better by more than the proof's gap."""
    assert of.searched is not None
    yield from out_of_reach(of.scenario, of.at.speaker, of.searched.best, of.searched.beyond)


# What the body was taken for.

_ELSEWHERE_M = 0.05
"""How far a centre that is only assumed may well lie elsewhere."""


@caution("body-assumed", "caution", LOUDSPEAKER, basis="ours: what was assumed is said")
def body_assumed(of: SpeakerFacts) -> Iterator[Told]:
    """A cabinet is given by height and depth alone: its acoustic centre, and its centre of gravity
    unless that is given, are assumed.
    """
    cabinet = of.held.speaker.cabinet
    if cabinet is None or not cabinet.assumed:
        return
    off = length_text(_ELSEWHERE_M, of.scenario.units)
    text = (
        "assumed, until a drawing is at hand: the acoustic centre amid the front; "
        f"{off} elsewhere, heights and distances are wrong by as much"
    )
    if "centre of gravity" in cabinet.assumed:
        text += "; the centre of gravity amid the box"
        picks = [] if of.held.rigging is None else of.held.rigging.picks
        at_m = [cabinet.pick(name).at_m[0] for name in picks]
        if len(at_m) == 2 and at_m[0] != at_m[1]:
            share = 100.0 * min(1.0, _ELSEWHERE_M / abs(at_m[0] - at_m[1]))
            text += (
                f"; each {off} further back moves {share:.0f} % of the weight from the front "
                "point to the rear one"
            )
    yield Told(text)


# Whether it can hang there at all.

_SIDES = {"front": 1, "rear": -1, "back": -1}


def _side(name: str) -> int:
    """+1 for a pick whose name says front, −1 for rear or back, 0 for any other."""
    return sum(side for word, side in _SIDES.items() if word in re.split(r"\W+", name.casefold()))


@caution(
    "pick-names-crossed",
    "stop",
    RIGGED,
    unit="m",
    basis="ours: it would be hooked the wrong way round",
)
def pick_names_crossed(of: SpeakerFacts) -> Iterator[Told]:
    """A pick called front lies behind one called rear or back in the same rigging."""
    cabinet = of.held.speaker.cabinet
    at = {} if cabinet is None else {pick.name: pick.at_m[0] for pick in cabinet.picks}
    used = [name for name in of.rigging.picks if name in at]
    for front in (name for name in used if _side(name) > 0):
        for rear in (name for name in used if _side(name) < 0):
            if at[front] < at[rear]:
                yield Told(
                    f"point {front} lies {at[rear] - at[front]:.3f} m behind point {rear}: whoever "
                    "hangs it would hook it the wrong way round; correct the places or the names",
                    at[front] - at[rear],
                    limit=0.0,
                )


def _over_steel_m(of: SpeakerFacts) -> tuple[float, float, bool] | None:
    """How much too high it hangs for its lines, the steel, and whether a hook is above that."""
    room, steel = under_steel_m(of.held), of.rigging.steel_height_m
    if room is None or steel is None or room >= -NO_ROOM_M:
        return None
    hooks = of.held.hooks if of.held.loads is None else of.held.loads.lines
    above = max((one.height_m for one in hooks), default=-inf) > steel + NO_ROOM_M
    return -room, steel, above


@caution("steel-below-hook", "stop", RIGGED, unit="m", basis=ONE_PLACE)
def steel_below_hook(of: SpeakerFacts) -> Iterator[Told]:
    """`steel_height` lies below a hook at this place and tilt."""
    over, unit = _over_steel_m(of), of.scenario.units
    if over is not None and over[2]:
        yield Told(
            f"the steel at {length_text(over[1], unit)} lies below a hook of the box: nothing can "
            f"hang there; correct its height, or lower the box by {_fine_text(over[0], unit)}",
            -over[0],
            limit=0.0,
        )


@caution("line-too-long", "stop", RIGGED, unit="m", basis=ONE_PLACE)
def line_too_long(of: SpeakerFacts) -> Iterator[Told]:
    """The parts of a line take up more than there is between hook and steel."""
    over, unit = _over_steel_m(of), of.scenario.units
    if over is not None and not over[2]:
        yield Told(
            f"the parts of a line take up {_fine_text(over[0], unit)} more than there is between "
            "hook and steel at this place: lower the box by that much"
            + _taken_out_text(of.held, over[0], unit),
            -over[0],
            limit=0.0,
        )


def _taken_out_text(held: Support, too_long_m: float, unit: Unit) -> str:
    """The shortest part that would do, taken out or made shorter."""
    assert held.rigging is not None
    parts = [(part.length_m, part.name) for line in held.rigging.lines for part in line.parts]
    enough = [one for one in parts if one[0] >= too_long_m - NO_ROOM_M]
    if not enough:
        return ", or take out more than one part"
    length, name = min(enough)
    return f", or shorten or take out {name} ({_fine_text(length, unit)})"


def _fine_text(length_m: float, unit: Unit) -> str:
    """A length between hook and steel, where a centimetre is much; rounded up."""
    return length_text(length_m, unit) if unit == "ft" else f"{ceil(1000.0 * length_m - 1e-6)} mm"


# Whether the forces are known, and whether they hold the box at its tilt.


@caution("forces-unknown", "stop", SUPPORTED, basis=BALANCE)
def forces_unknown(of: SpeakerFacts) -> Iterator[Told]:
    """A tilt at which equilibrium does not tell the forces apart."""
    if of.held.refused:
        yield Told(of.held.refused)


@caution("loads-not-checked", "caution", HANGS, basis=NOT_ASSUMED)
def loads_not_checked(of: SpeakerFacts) -> Iterator[Told]:
    """A flown loudspeaker whose mass, centre of gravity, points or rigging is not given."""
    if of.held.loads is None and not of.held.refused:
        yield Told(
            "loads, tilts within reach and working load limits were not checked: "
            f"{of.held.not_checked}"
        )


@caution("slack-point", "stop", LOADED, unit="N", basis=NOTHING_PUSHES)
def slack_point(of: SpeakerFacts) -> Iterator[Told]:
    """A point's tension at the tilt is below nothing."""
    for point in of.loads.points:
        if point.share < -SLACK:
            pull = force_text(-point.tension_n, of.scenario.units)
            yield Told(
                f"point {point.name} goes slack at {tilt_text(of.held.tilt_deg)}: it would have to "
                f"push with {pull}, which a line cannot, so the box would not stay at this tilt",
                point.tension_n,
                limit=0.0,
            )


@caution("low-share", "caution", LOADED, limit=LEAST_SHARE)
def low_share(of: SpeakerFacts) -> Iterator[Told]:
    """One of two points bears less than this."""
    least = threshold(of.scenario, LEAST_SHARE)
    for point in of.loads.points:
        if -SLACK <= point.share < least and len(of.loads.points) > 1:
            yield Told(
                f"point {point.name} bears {100 * point.share:.1f} % of the weight; below "
                f"{100 * least:g} % a small error lets it go slack",
                point.share,
            )


@caution("tilt-out-of-reach", "stop", LOADED, unit="°", basis=BALANCE)
def tilt_out_of_reach(of: SpeakerFacts) -> Iterator[Told]:
    """The declared rigging does not hold the tilt: a point would go slack, the box would turn over,
    or no hole or step gives it.
    """
    loads, tilt = of.loads, of.held.tilt_deg
    if loads.reachable is not False:
        return
    limit = None
    if loads.settings:
        tilts = sorted((one.tilt_deg for one in loads.settings), key=lambda one: abs(one - tilt))
        limit = tilts[0]
        near = " or ".join(tilt_text(one) for one in sorted(tilts[:2]))
        why = f"it can be set to {near}, to nothing between or nearer"
    elif loads.tilt_range_deg is not None:
        low, high = loads.tilt_range_deg
        limit = low if tilt < low else high
        why = f"it holds {tilt_text(low)} to {tilt_text(high)}; stay within, or move its points"
    else:
        why = loads.unreachable or "it holds no tilt at all"
    yield Told(f"the rigging as declared does not hold {tilt_text(tilt)}: {why}", tilt, limit)


@caution("point-below-centre", "caution", LOADED, unit="m", basis=COMMON)
def point_below_centre(of: SpeakerFacts) -> Iterator[Told]:
    """A carrying point lies at or below the combined centre of gravity.

    Points that do not lie above the centre of gravity: those of a bar hang by the bar.
    """
    points = of.loads.points[:1] if of.rigging.method == "pull-back" else of.loads.points
    for point in () if of.held.on_bar else points:
        if point.above_centre_m <= 0.0:
            yield Told(
                f"point {point.name} is not above the combined centre of gravity at this tilt: "
                "what hangs from it tends to turn over",
                point.above_centre_m,
                limit=0.0,
            )


@caution("pull-back", "caution", LOADED, unit="°", basis=COMMON)
def pull_back(of: SpeakerFacts) -> Iterator[Told]:
    """The method is pull-back."""
    if of.rigging.method != "pull-back":
        return
    carrying, pulled = of.loads.points
    unit = of.scenario.units
    pulls = "" if pulled.tension_n < 0.0 else f" with {force_text(pulled.tension_n, unit)}"
    way = "forward" if carrying.lean_deg >= 0.0 else "back"
    yield Told(
        f"pull-back: the line at {pulled.name} pulls{pulls} on a point that has to be rated for "
        f"it; the carrying line leans {abs(carrying.lean_deg):.1f}° {way}"
        + _shift_text(of.loads.shift_m, unit)
        + ". If the pulling line lets go, the box swings",
        carrying.lean_deg,
    )


def _shift_text(shift_m: float | None, unit: Unit) -> str:
    if shift_m is None:
        return ""
    way = "ahead of" if shift_m > 0.0 else "behind"
    return f" and its upper end is {length_text(abs(shift_m), unit)} {way} the box's point"


@caution("tilt-doubtful", "caution", LOADED, limit=DOUBT_IN_CENTRE, unit="°")
def tilt_doubtful(of: SpeakerFacts) -> Iterator[Told]:
    """One point: with this much doubt in the centre of gravity the tilt leaves its tolerance.

    A free-hanging box whose tilt follows the centre of gravity more than the aim allows.
    """
    window, doubt = of.mine.window, of.loads.doubt_deg
    if doubt is None or window is None:
        return
    low, high = window.tilt_deg
    room = min(of.held.tilt_deg - low, high - of.held.tilt_deg)
    if doubt > room:
        yield Told(
            f"10 mm of doubt in the centre of gravity moves the tilt by {doubt:.1f}°, more than "
            f"the {max(room, 0.0):.1f}° that the aim allows: measure the tilt as it hangs",
            doubt,
            room,
        )


# What bears the load: marked limits, uneven hoists, fittings, the structure.


@caution("load-limits-missing", "caution", LOADED, basis=NOT_ASSUMED)
def load_limits_missing(of: SpeakerFacts) -> Iterator[Told]:
    """A point, or a part of a line, without a working load limit."""
    unknown = [point.name for point in of.loads.points if point.utilisation is None]
    unknown += [
        f"{part.name} (line {line.name})"
        for line in of.loads.lines
        for part in line.parts
        if part.wll_n is None
    ]
    if unknown:
        yield Told(
            f"no working load limit is given for {', '.join(unknown)}: whether they bear the load "
            "was not checked"
        )


def _used_severity(scenario: Scenario, used: float | None) -> Severity | None:
    """A share of the allowed load: stop, caution, or nothing to say."""
    if used is None or used <= threshold(scenario, UTILISATION_NEAR):
        return None
    return "stop" if used > threshold(scenario, UTILISATION_FULL) else "caution"


def _loaded(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    share, factor = 100.0 * of.loads.wll_share, factor_text(of.loads.dynamic_factor)
    change = ": take a point marked for more, or hang less on it" if severity == "stop" else ""
    for point in of.loads.points:
        used = point.utilisation
        if used is not None and _used_severity(of.scenario, used) == severity:
            yield Told(
                f"point {point.name} bears {100 * used:.0f} % of the allowed load ({share:g} % of "
                f"its working load limit, dynamic factor {factor}){change}",
                used,
            )


@caution("nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR)
def nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """A point bears more than this, but not too much."""
    yield from _loaded(of, "caution")


@caution("overloaded", "stop", LOADED, limit=UTILISATION_FULL)
def overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """A point bears more than this."""
    yield from _loaded(of, "stop")


@caution("uneven-hoists", "caution", LOADED, limit=UTILISATION_FULL)
def uneven_hoists(of: SpeakerFacts) -> Iterator[Told]:
    """One of two points would bear more than this with the whole weight on it."""
    full, points = threshold(of.scenario, UTILISATION_FULL), of.loads.points
    for point in points if len(points) > 1 else ():
        used, whole = point.utilisation, point.whole_weight_utilisation
        if used is not None and whole is not None and whole > full >= used:
            yield Told(
                f"with the whole weight on point {point.name}, as when hoists run unevenly, it "
                f"bears {100 * whole:.0f} % of the allowed load",
                whole,
            )


@caution("off-axis-pull", ("caution", "stop"), LOADED, limit=OFF_AXIS_MOST)
def off_axis_pull(of: SpeakerFacts) -> Iterator[Told]:
    """The pull is further than this off the axis of a declared fitting; stop where nothing of its
    limit is left, or too little (training texts on ASME B30.26, which vary: shackle to 45° keeps
    70 %, to 90° 50 %; shoulder eyebolt to 15/30/45/90° keeps 80/65/30/25 %; plain eyebolt
    straight only).

    A pull off the fitting's axis, by what it leaves of the limit.
    """
    full = threshold(of.scenario, UTILISATION_FULL)
    for point in of.loads.points:
        off, kept, used = point.off_axis_deg, point.kept_share, point.kept_utilisation
        if off is None or kept is None or off <= threshold(of.scenario, OFF_AXIS_MOST):
            continue
        left = (
            f"keeps {100 * kept:.0f} % of its limit (training texts vary; the maker's table counts)"
        )
        if used is not None:
            left += f", of which {100 * used:.0f} % is used"
        yield Told(
            f"the pull on point {point.name} is {off:.0f}° off the axis of its "
            f"{of.rigging.fitting}: "
            + ("that is not to be pulled sideways at all" if kept == 0.0 else f"it {left}"),
            off,
            severity="stop" if kept == 0.0 or (used or 0.0) > full else "caution",
        )


@caution("wll-share-high", "caution", RIGGED, limit=WLL_SHARE_MOST)
def wll_share_high(of: SpeakerFacts) -> Iterator[Told]:
    """`wll_share` over this."""
    used = of.rigging.wll_share
    if used > WLL_SHARE_MOST.value:
        yield Told(
            f"{100.0 * used:g} % of working load limits is used: {WLL_SHARE_MOST.source}; more "
            "only where nobody can come underneath, or as a competent person decides",
            used,
        )


@caution("line-parts-missing", "note", LOADED, basis=NOT_ASSUMED)
def line_parts_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `line` tables for every line."""
    bare = [line.name for line in of.loads.lines if not line.parts]
    if bare:
        yield Told(
            f"the parts of the lines at {', '.join(bare)} are not given: hoist, sling, shackle and "
            "clamp were not checked"
        )


def _parts(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    share, factor = 100.0 * of.loads.wll_share, factor_text(of.loads.dynamic_factor)
    for line in of.loads.lines:
        for part in line.parts:
            used = part.utilisation
            if used is not None and _used_severity(of.scenario, used) == severity:
                yield Told(
                    f"{part.name} in the line of {line.name} bears {100 * used:.0f} % of the "
                    f"allowed load ({share:g} % of its working load limit, dynamic factor "
                    f"{factor})",
                    used,
                )


@caution("part-nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR)
def part_nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """A part of a line bears more than this, but not too much."""
    yield from _parts(of, "caution")


@caution("part-overloaded", "stop", LOADED, limit=UTILISATION_FULL)
def part_overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """A part of a line bears more than this."""
    yield from _parts(of, "stop")


@caution(
    "wind-on-flown",
    "caution",
    LOADED,
    unit="°",
    basis="EN 1991-1-4, read in a secondary text, without its site factors",
)
def wind_on_flown(of: SpeakerFacts) -> Iterator[Told]:
    """A flown loudspeaker with `wind_area_m2`, outdoors with `gust_speed`: q = ½ρv², ρ 1.25 kg/m³,
    c_f 1.8 of sign-boards unless given.
    """
    wind = of.loads.wind
    if wind is not None:
        yield Told(
            f"a steady {wind.gust_speed_m_s:g} m/s pushes with {wind.force_n / 1000.0:.3f} kN "
            f"({wind.pressure_pa:.0f} Pa on {wind.area_m2:g} m², c_f {wind.force_coefficient:g}; "
            f"{wind.source}): the lines lean {wind.lean_deg:.1f}°, and all together pull "
            f"{100.0 * wind.more_share:.0f} % more than the weight; gusts swing it further, and "
            "how the lines share that is not worked out",
            wind.lean_deg,
        )


@caution("structure-capacity-missing", "caution", LOADED, basis=NOT_ASSUMED)
def structure_capacity_missing(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `structure_capacity_kn`."""
    if of.rigging.structure_capacity_n is None:
        yield Told("what the structure may carry at each point is not given, so it was not checked")


STRUCTURE_FULL: Limit = replace(
    UTILISATION_FULL,
    unit="of the capacity",
    kind="ours",
    source="the capacity as stated in the scenario",
)


def _carried(of: SpeakerFacts, severity: Severity) -> Iterator[Told]:
    for line in of.loads.lines:
        used = line.structure_utilisation
        if used is not None and _used_severity(of.scenario, used) == severity:
            yield Told(
                f"the structure over {line.name} carries {100 * used:.0f} % of the capacity stated",
                used,
            )


@caution(
    "structure-nearly-loaded", "caution", LOADED, limit=UTILISATION_NEAR, unit="of the capacity"
)
def structure_nearly_loaded(of: SpeakerFacts) -> Iterator[Told]:
    """The structure at a point carries more than this of the capacity stated, but not too much."""
    yield from _carried(of, "caution")


@caution("structure-overloaded", "stop", LOADED, limit=STRUCTURE_FULL)
def structure_overloaded(of: SpeakerFacts) -> Iterator[Told]:
    """The structure at a point carries more than this of the capacity stated."""
    yield from _carried(of, "stop")


@caution("secondary-not-declared", "caution", RIGGED, limit=SECONDARY_FALL_MOST)
def secondary_not_declared(of: SpeakerFacts) -> Iterator[Told]:
    """Rigging without `secondary_suspension = true`; the figure is the longest fall path."""
    if not of.rigging.secondary_suspension:
        fall = length_text(SECONDARY_FALL_MOST.value, of.scenario.units)
        yield Told(
            "no independent secondary suspension is declared: an overhead load usually needs one "
            f"with no fall path, or with at most {fall} for gear aligned after mounting"
        )


# What the cabinet's outline tells, or cannot tell.


@caution("outline-missing", "note", LOUDSPEAKER, basis=NOT_ASSUMED)
def outline_missing(of: SpeakerFacts) -> Iterator[Told]:
    """A cabinet without outline."""
    if of.corners_m is None:
        yield Told(
            "no outline is given: the trim is taken as the height of the acoustic centre; the room "
            "below it and sight lines were not checked"
        )


@caution("centre-outside-outline", "caution", LOUDSPEAKER, basis=LIKELY_SLIP)
def outside_outline(of: SpeakerFacts) -> Iterator[Told]:
    """The centre of gravity lies outside the outline."""
    cabinet = of.held.speaker.cabinet
    if cabinet is None or cabinet.outline_m is None or not centre_outside_outline(cabinet):
        return
    assert cabinet.centre_of_gravity_m is not None
    u, w = cabinet.centre_of_gravity_m
    yield Told(
        f"the centre of gravity, u = {u:g} m, w = {w:g} m, lies outside the cabinet's outline: "
        "one of the two is likely wrong"
    )


# A bridle by itself.


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

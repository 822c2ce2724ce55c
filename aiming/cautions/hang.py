"""What hangs: what is not known, who bears nothing, which tilts are out of reach."""

import re
from collections.abc import Iterator
from math import ceil, inf

from ..analysis.rigging_reach import left_out, out_of_reach
from ..analysis.support_loads import under_steel_m
from ..base.units import Unit, force_text, length_text, tilt_text
from ..results.support import Support
from ..rigging.limits import DOUBT_IN_CENTRE, LEAST_SHARE
from ..rigging.loads import SLACK
from ..speaker.headroom import NO_ROOM_M
from .declare import BALANCE, COMMON, NOT_ASSUMED, Told, caution
from .facts import HANGS, LOADED, LOUDSPEAKER, RIGGED, SEARCHED, SUPPORTED, SpeakerFacts

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
    off = of.length(_ELSEWHERE_M)
    text = (
        "until a drawing is at hand the acoustic centre is assumed in the middle of the front: if "
        f"it is {off} elsewhere, heights and distances are wrong by as much"
    )
    if "centre of gravity" in cabinet.assumed:
        text += "; and the centre of gravity in the middle of the box"
        picks = [] if of.held.rigging is None else of.held.rigging.picks
        at_m = [cabinet.pick(name).at_m[0] for name in picks]
        if len(at_m) == 2 and at_m[0] != at_m[1]:
            share = 100.0 * min(1.0, _ELSEWHERE_M / abs(at_m[0] - at_m[1]))
            text += (
                f": each {off} further back moves {share:.0f} % of the weight from the front "
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
            f"the steel at {of.length(over[1])} lies below a hook of the box: nothing can "
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
    least = of.limit(LEAST_SHARE)
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
    """A carrying point lies at or below the combined centre of gravity."""
    # The points of a bar hang by the bar.
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
    shift, moved = of.loads.shift_m, ""
    if shift is not None:
        side = "ahead of" if shift > 0.0 else "behind"
        moved = f" and its upper end is {of.length(abs(shift))} {side} the box's point"
    yield Told(
        f"pull-back: the line at {pulled.name} pulls{pulls} on a point that has to be rated for "
        f"it; the carrying line leans {abs(carrying.lean_deg):.1f}° {way}{moved}. If the pulling "
        "line lets go, the box swings",
        carrying.lean_deg,
    )


@caution("tilt-doubtful", "caution", LOADED, limit=DOUBT_IN_CENTRE, unit="°")
def tilt_doubtful(of: SpeakerFacts) -> Iterator[Told]:
    """One point: with this much doubt in the centre of gravity the tilt leaves its tolerance."""
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


# What the cabinet's outline tells, or cannot tell.


@caution("outline-missing", "note", LOUDSPEAKER, basis=NOT_ASSUMED)
def outline_missing(of: SpeakerFacts) -> Iterator[Told]:
    """A cabinet without outline."""
    if of.corners_m is None:
        yield Told(
            "no outline is given: the trim is taken as the height of the acoustic centre; the room "
            "below it and sight lines were not checked"
        )

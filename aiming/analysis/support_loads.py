"""What holds one loudspeaker where it is placed: loads, lines and stack, or why none is known."""

from collections.abc import Callable
from dataclasses import replace

from ..results.support import Support
from ..rigging.body import NotChecked, RiggingError
from ..rigging.ground_stack import Stability, stack_stopped, standing_stack
from ..rigging.limits import LEAST_SHARE, OFF_AXIS_MOST, UTILISATION_FULL
from ..rigging.lines import headroom_of, hooks_at
from ..rigging.loads import holds_without_stop, loads_at
from ..rigging.reach import last_tilt_deg
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.cabinet import drop_m
from ..speaker.headroom import NO_ROOM_M
from ..speaker.rigging import Rigging
from ..speaker.speaker import Placement, Range, Speaker
from ..speaker.stack import Stack
from .clearances import collided, outline_at_m
from .problems import rigging_with_below


def support_at(scenario: Scenario, speaker: Speaker, placement: Placement) -> Support:
    """The loads of a flown loudspeaker, the margins of one that stands."""
    held = Support(
        speaker=speaker,
        flipped=placement.flipped,
        tilt_deg=placement.tilt_deg,
        at_m=(placement.x_m, placement.height_m),
        rigging=_rigging(scenario, speaker, placement),
    )
    if not held.flown:
        return _standing(scenario, held)
    return _hanging(scenario, held, placement.splay_deg)


def _rigging(scenario: Scenario, speaker: Speaker, placement: Placement) -> Rigging | None:
    if speaker.hang.mount != "flown":
        return None
    return scenario.rigging.get(speaker.name, {}).get(placement.orientation)


def _hanging(scenario: Scenario, held: Support, splay_deg: float) -> Support:
    if held.rigging is None:
        return replace(held, not_checked=_missing(held))
    whole = rigging_with_below(scenario, held.speaker, held.rigging, splay_deg)
    if whole is None:
        below = scenario.company.under(held.speaker.name)
        return replace(
            held, not_checked=f"the mass or the centre of gravity of {below}, hung under, not given"
        )
    held = replace(held, rigging=whole)
    try:
        hooks = hooks_at(
            held.speaker.cabinet,
            whole,
            flipped=held.flipped,
            tilt_deg=held.tilt_deg,
            at_m=held.at_m,
        )
        held = replace(held, hooks=hooks)
        loads = loads_at(
            held.speaker.cabinet,
            whole,
            flipped=held.flipped,
            tilt_deg=held.tilt_deg,
            at_m=held.at_m,
            least_share=threshold(scenario, LEAST_SHARE),
            full=threshold(scenario, UTILISATION_FULL),
            gust_speed_m_s=scenario.gust_speed_m_s,
        )
    except RiggingError as error:
        return replace(held, refused=str(error))
    if isinstance(loads, NotChecked):
        return replace(held, not_checked=_missing(held))
    return replace(held, loads=loads)


def _missing(held: Support) -> str:
    """Everything that the loads of a flown loudspeaker lack, named."""
    cabinet = held.speaker.cabinet
    lacking = []
    if cabinet is None or cabinet.mass_kg is None:
        lacking.append("the mass")
    if cabinet is None or cabinet.centre_of_gravity_m is None:
        lacking.append("the centre of gravity")
    if cabinet is None or not cabinet.picks:
        lacking.append("the points")
    if held.rigging is None:
        lacking.append("the rigging")
    named = ", ".join(lacking[:-1]) + (" and " if len(lacking) > 1 else "") + lacking[-1]
    return f"{named} {'are' if len(lacking) > 1 else 'is'} not given"


def _standing(scenario: Scenario, held: Support) -> Support:
    lacking = NotChecked("")
    gust = scenario.gust_speed_m_s or 0.0
    for speed in dict.fromkeys((gust, 0.0)):
        try:
            found = _stack_at(scenario, held, held.tilt_deg, gust_speed_m_s=speed)
        except RiggingError as error:
            return replace(held, refused=str(error))
        if isinstance(found, Stability):
            return replace(held, stack=replace(found, wind_checked=speed == gust))
        lacking = found
    return replace(held, not_checked=lacking.reason.removeprefix("stack not checked: "))


def _stack_at(
    scenario: Scenario, held: Support, tilt_deg: float, *, gust_speed_m_s: float
) -> Stability | NotChecked:
    """The stack with the box at this tilt: on its base where one is given, else at its height."""
    cabinet, name = held.speaker.cabinet, held.speaker.name
    drop = float(drop_m(cabinet, tilt_deg=tilt_deg, flipped=held.flipped))
    x_m, height_m = held.at_m
    base_m = scenario.base_m.get(name)
    if tilt_deg != held.tilt_deg and base_m is not None:
        height_m = base_m + drop
    return standing_stack(
        cabinet,
        scenario.stacks.get(name, Stack()),
        flipped=held.flipped,
        tilt_deg=tilt_deg,
        at_m=(x_m, height_m),
        base_m=height_m - drop if base_m is None else base_m,
        gust_speed_m_s=gust_speed_m_s,
    )


def settable_tilt_deg(scenario: Scenario, held: Support, within_deg: Range) -> Range | None:
    """The part of a window of tilts, about the placement's, in which nothing stops.

    That is: nothing that bears or holds the box, and no collision with a line of the section.
    Where loads or stack are not known they cannot stop.  None where the placement itself stops.
    """
    if held.refused:
        return None
    bears = _bears(scenario, held)

    def free(tilt_deg: float) -> bool:
        place = Placement(*held.at_m, tilt_deg, held.flipped)
        return bears(tilt_deg) and not collided(scenario, outline_at_m(held.speaker, place))

    if not free(held.tilt_deg):
        return None
    low, high = (last_tilt_deg(free, held.tilt_deg, end) for end in within_deg)
    return min(low, held.tilt_deg), max(high, held.tilt_deg)


def under_steel_m(held: Support, tilt_deg: float | None = None) -> float | None:
    """What the steel leaves above the lines at the least they take up; None where not known.

    tilt_deg: instead of the placement's own
    """
    if held.rigging is None:
        return None
    tilt = held.tilt_deg if tilt_deg is None else tilt_deg
    try:
        under = headroom_of(held.speaker.cabinet, held.rigging, flipped=held.flipped)
    except RiggingError:
        return None
    return None if under is None else float(under.highest_m(tilt)) - held.at_m[1]


def _bears(scenario: Scenario, held: Support) -> Callable[[float], bool]:
    if held.flown:
        return _hangs(scenario, held)
    if held.stack is None:
        return lambda tilt_deg: True
    gust = (scenario.gust_speed_m_s or 0.0) if held.stack.wind_checked else 0.0

    def stands(tilt_deg: float) -> bool:
        try:
            found = _stack_at(scenario, held, tilt_deg, gust_speed_m_s=gust)
        except RiggingError:
            return False
        return isinstance(found, Stability) and not stack_stopped(found)

    return stands


def _hangs(scenario: Scenario, held: Support) -> Callable[[float], bool]:
    if held.loads is not None and held.rigging is not None:
        known = holds_without_stop(
            held.speaker.cabinet,
            held.rigging,
            flipped=held.flipped,
            at_m=held.at_m,
            full=threshold(scenario, UTILISATION_FULL),
            off_axis_most_deg=threshold(scenario, OFF_AXIS_MOST),
        )
        if known is not None:
            return known

    def under_steel(tilt_deg: float) -> bool:
        room = under_steel_m(held, tilt_deg)
        return room is None or room >= -NO_ROOM_M

    return under_steel

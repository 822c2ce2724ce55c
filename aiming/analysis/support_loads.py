"""What holds one loudspeaker where it is placed: loads, lines and stack, or why none is known."""

from dataclasses import asdict, dataclass, replace
from typing import Any

from ..rigging.body import NotChecked, RiggingError, has_bar
from ..rigging.limits import LEAST_SHARE
from ..rigging.loads import Loads, loads_at
from ..rigging.plumb import HangLayout, hang_layout
from ..rigging.stack import Stability
from ..rigging.standing import standing_stack
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.cabinet import drop_m
from ..speaker.rigging import Rigging
from ..speaker.speaker import Placement, Speaker
from ..speaker.stack import Stack
from .placed_speaker import Placed
from .problems import rigging_with_below


@dataclass(frozen=True, eq=False)
class Held:
    """One loudspeaker at its placement.

    rigging: of this orientation, None where none is declared or where it stands
    loads, layout: None where they could not be computed: not_checked says what is missing,
        refused why the forces cannot be found
    stack: of one that stands; in_wind is False where a gust is given but could not be worked
    """

    speaker: Speaker
    flipped: bool
    tilt_deg: float
    at_m: tuple[float, float]
    rigging: Rigging | None = None
    loads: Loads | None = None
    layout: HangLayout | None = None
    stack: Stability | None = None
    in_wind: bool = True
    not_checked: str = ""
    refused: str = ""

    @property
    def flown(self) -> bool:
        """Whether it hangs."""
        return self.speaker.hang.mount == "flown"

    @property
    def on_bar(self) -> bool:
        """Whether one line holds it by a bar, so that its picks are not where the line is."""
        return (
            self.rigging is not None
            and self.rigging.method == "one point"
            and has_bar(self.rigging)
        )


def held_at(scenario: Scenario, speaker: Speaker, placement: Placement) -> Held:
    """The loads of a flown loudspeaker, the margins of one that stands."""
    held = Held(
        speaker=speaker,
        flipped=bool(placement.flipped),
        tilt_deg=float(placement.tilt_deg),
        at_m=(float(placement.x_m), float(placement.height_m)),
        rigging=_rigging(scenario, speaker, placement),
    )
    if not held.flown:
        return _standing(scenario, held)
    return _hanging(scenario, held, float(placement.splay_deg))


def _rigging(scenario: Scenario, speaker: Speaker, placement: Placement) -> Rigging | None:
    if speaker.hang.mount != "flown":
        return None
    return scenario.rigging.get(speaker.name, {}).get(placement.orientation)


def _hanging(scenario: Scenario, held: Held, splay_deg: float) -> Held:
    if held.rigging is None:
        return replace(held, not_checked=_missing(held))
    whole = rigging_with_below(scenario, held.speaker, held.rigging, splay_deg)
    if whole is None:
        below = scenario.company.under(held.speaker.name)
        return replace(
            held, not_checked=f"the mass or the centre of gravity of {below}, hung under, not given"
        )
    held = replace(held, rigging=whole)
    assert held.rigging is not None
    try:
        loads = loads_at(
            held.speaker.cabinet,
            held.rigging,
            flipped=held.flipped,
            tilt_deg=held.tilt_deg,
            at_m=held.at_m,
            least_share=threshold(scenario, LEAST_SHARE),
        )
        layout = hang_layout(
            held.speaker.cabinet,
            held.rigging,
            flipped=held.flipped,
            tilt_deg=held.tilt_deg,
            at_m=held.at_m,
        )
    except RiggingError as error:
        return replace(held, refused=str(error))
    if isinstance(loads, NotChecked) or isinstance(layout, NotChecked):
        return replace(held, not_checked=_missing(held))
    return replace(held, loads=loads, layout=layout)


def _missing(held: Held) -> str:
    """Everything that the loads of a flown loudspeaker lack, named."""
    cabinet = held.speaker.cabinet
    lacking = []
    if cabinet is None or cabinet.mass_kg is None:
        lacking.append("the mass")
    if cabinet is None or cabinet.centre_of_gravity_m is None:
        lacking.append("the centre of gravity")
    if cabinet is None or not cabinet.picks:
        lacking.append("the picks")
    if held.rigging is None:
        lacking.append("the rigging")
    named = ", ".join(lacking[:-1]) + (" and " if len(lacking) > 1 else "") + lacking[-1]
    return f"{named} not given"


def _standing(scenario: Scenario, held: Held) -> Held:
    cabinet = held.speaker.cabinet
    drop = float(drop_m(cabinet, tilt_deg=held.tilt_deg, flipped=held.flipped))
    base = scenario.base_m.get(held.speaker.name, held.at_m[1] - drop)
    stack = scenario.stacks.get(held.speaker.name, Stack())
    gust = scenario.gust_speed_m_s or 0.0
    lacking = NotChecked("")
    for speed in dict.fromkeys((gust, 0.0)):
        try:
            found = standing_stack(
                cabinet,
                stack,
                flipped=held.flipped,
                tilt_deg=held.tilt_deg,
                at_m=held.at_m,
                base_m=base,
                gust_speed_m_s=speed,
            )
        except RiggingError as error:
            return replace(held, refused=str(error))
        if isinstance(found, Stability):
            return replace(held, stack=found, in_wind=speed == gust)
        lacking = found
    return replace(held, not_checked=lacking.reason.removeprefix("stack not checked: "))


# The loads of a flown loudspeaker and the margins of a stack, as the answer gives them.
#
# Plain dictionaries: every figure in the unit of its name, None where it is not known.


def loads_of(scenario: Scenario, at: Placed) -> dict[str, Any] | None:
    """The contract's loads object with more figures; None where nothing could be computed."""
    return loads_dict(held_at(scenario, at.speaker, at.placement))


def stack_of(scenario: Scenario, at: Placed) -> dict[str, Any] | None:
    """The margins of a stack; None where it hangs, or where nothing could be computed."""
    return stack_dict(held_at(scenario, at.speaker, at.placement))


def loads_dict(held: Held) -> dict[str, Any] | None:
    """weight_n, points (the picks), lines (what goes up to the steel), ranges and settings.

    A bar's picks are its points and the bar's own line is its line; else the two go together.
    """
    loads, layout, rigging = held.loads, held.layout, held.rigging
    if loads is None or layout is None or rigging is None:
        return None
    return {
        "method": rigging.method,
        "weight_n": loads.weight_n,
        "mass_kg": loads.mass_kg,
        "centre_of_gravity_m": loads.centre_of_gravity_m,
        "points": [asdict(point) for point in loads.points],
        "lines": [asdict(line) for line in layout.points],
        "difference_m": layout.difference_m,
        "spacing_m": layout.spacing_m,
        "shift_m": layout.shift_m,
        "total_n": layout.total_n,
        "not_counted": layout.not_counted,
        "tilt_range_deg": loads.tilt_range_deg,
        "least_share_tilt_range_deg": loads.least_share_range_deg,
        "settings": None
        if loads.settings is None
        else [{"tilt_deg": tilt, "hole_u_m": hole} for tilt, hole in loads.settings],
        "reachable": loads.reachable,
        "unreachable": loads.unreachable,
        "hole_u_m": loads.hole_u_m,
        "doubt_deg": loads.doubt_deg,
        "pull_elevation_deg": loads.pull_elevation_deg,
        "dynamic_factor": loads.dynamic_factor,
        "wll_share": loads.wll_share,
    }


def stack_dict(held: Held) -> dict[str, Any] | None:
    """Tipping over both edges, sliding, wind and least ballast."""
    stack = held.stack
    if stack is None:
        return None
    found = {name: value for name, value in asdict(stack).items() if name != "asked"}
    return {
        **found,
        "wind_checked": held.in_wind,
        "asked": stack.asked.value,
        "asked_source": stack.asked.source,
    }

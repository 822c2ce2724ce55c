"""What the rigging keeps the aim from: orientations left out, and the aim beyond its reach."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..aim.limits import limited_by
from ..aim.problem import Problem
from ..aim.search import SearchResult, search
from ..base.arrays import FloatArray
from ..base.units import Unit, length_text, tilt_text
from ..cautions.declare import Told
from ..rigging.adjustment import Wanted, wanted
from ..rigging.body import NotChecked
from ..rigging.limits import LEAST_SHARE
from ..rigging.reach import reachable_tilt_deg
from ..scenario.scenario import Scenario
from ..scenario.thresholds import threshold
from ..speaker.speaker import Placements, Speaker

SCAN_DEG = 0.5
SCAN_HEIGHTS = 5


def left_out(scenario: Scenario, speaker: Speaker) -> Iterator[Told]:
    """Orientations that the declared rigging cannot hold at any tilt."""
    if speaker.hang.mount != "flown" or speaker.hang.fixed:
        return
    declared = scenario.rigging.get(speaker.name, {})
    for orientation in speaker.hang.orientations:
        if orientation not in declared:
            continue
        reach = reachable_tilt_deg(
            speaker.cabinet, declared[orientation], flipped=orientation == "flipped"
        )
        if not isinstance(reach, NotChecked) and not reach.intervals_deg:
            yield Told(f"{orientation} is left out of the search: {reach.reason}")


def beyond_reach(problem: Problem, best: SearchResult, *, gap_db: float) -> SearchResult | None:
    """The best aim if the rigging held every tilt, where that is better by more than the gap.

    The extra search runs only where the rigging binds the best that it allows.
    """
    if problem.reachable_tilt_deg is None or best.placement is None:
        return None
    free = replace(problem, reachable_tilt_deg=None)
    if not _binds(problem, free, best):
        return None
    found = search(free, gap_db=gap_db)
    better = found.placement is not None and found.objective_db < best.objective_db - gap_db
    return found if better else None


def _binds(problem: Problem, free: Problem, best: SearchResult) -> bool:
    """Whether the best lies at the rigging's end, or a scan finds better beyond it."""
    assert best.placement is not None
    if "rigging" in limited_by(problem, best.placement):
        return True
    hang = problem.hang
    tilts = np.arange(hang.tilt_deg[0], hang.tilt_deg[1] + 1e-9, SCAN_DEG)
    tilt, v = (one.ravel() for one in np.meshgrid(tilts, _across(hang.vertical_m)))
    for orientation in hang.orientations:
        flipped = orientation == "flipped"
        x, height = 0.5 * (hang.x_m[0] + hang.x_m[1]), v + free.drop_m(tilt, flipped)
        tried = Placements.of(x, height, tilt, flipped)
        value = np.where(free.allowed(tried), free.objective_db(tried), np.inf)
        if value.min() < best.objective_db:
            return True
    return False


def _across(span_m: tuple[float, float]) -> FloatArray:
    return np.linspace(*span_m, SCAN_HEIGHTS if span_m[0] < span_m[1] else 1)


def out_of_reach(
    scenario: Scenario, speaker: Speaker, best: SearchResult, beyond: SearchResult | None
) -> Iterator[Told]:
    """What the aim would be beyond the rigging's reach, and what rigging would reach it."""
    if beyond is None or beyond.placement is None:
        return
    place = beyond.placement
    tilt, unit = place.tilt_deg, scenario.units
    limit = None
    rigging = scenario.rigging[speaker.name].get(place.orientation)
    means = "rigging for that orientation is not declared"
    if rigging is not None:
        flipped = place.flipped
        at_m = (place.x_m, place.height_m)
        reach = reachable_tilt_deg(speaker.cabinet, rigging, flipped=flipped, at_m=at_m)
        if not isinstance(reach, NotChecked) and reach.range_deg is not None:
            limit = min(reach.range_deg, key=lambda end: abs(end - tilt))
        least = threshold(scenario, LEAST_SHARE)
        found = wanted(
            speaker.cabinet, rigging,
            flipped=flipped, tilt_deg=tilt, least_share=least,
        )  # fmt: skip
        means = _means_text(found, unit, least)
    name = scenario.aim.objective
    turn = "" if len(speaker.hang.orientations) == 1 else f", {place.orientation}"
    yield Told(
        f"the rigging limits the aim: without it the best would be {tilt_text(tilt)} at "
        f"{length_text(place.height_m, unit)}{turn}, {name} "
        f"{beyond.objective_db:.2f} instead of {best.objective_db:.2f} dB; {means}",
        tilt,
        limit,
    )


def _means_text(found: Wanted | None, unit: Unit, least_share: float) -> str:
    if found is None:
        return "no single point moved along the box reaches that: another method would have to"
    place = f"u = {_fine_text(found.u_m, unit)}"
    move = _fine_text(abs(found.moved_m), unit)
    way = "further forward" if found.moved_m > 0.0 else "further back"
    if found.what == "hole":
        return f"it would hang from {place}, w = {_fine_text(found.w_m, unit)}, {move} {way}"
    return (
        f"point {found.name} would have to sit at {place}, {move} {way}, for the other to bear "
        f"{100 * least_share:g} %"
    )


def _fine_text(length_m: float, unit: Unit) -> str:
    """A place on a cabinet, where a centimetre is much."""
    if unit == "ft":
        return length_text(length_m, unit)
    return f"{1000.0 * length_m + 0.0:.0f} mm".replace("-", "−")

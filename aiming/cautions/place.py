"""Where it is: near listeners, room to walk under, views to the stage, collisions, wind."""

from collections.abc import Iterable, Iterator

import numpy as np

from ..analysis.clearances import collided, hidden_rows, outline_at_m
from ..base.arrays import FloatArray
from ..geometry.section import Rows
from ..scenario.scenario import Scenario
from ..scenario.thresholds import HEADROOM, NEAREST_LISTENER, STAGE_TOP, threshold
from .declare import COMMON, OWN_WISH, Told, caution
from .facts import LOUDSPEAKER, OUTLINED, SECTION, SectionFacts, SpeakerFacts

BESIDE_M = 0.5
"""A head this far beside the cabinet still counts as under it; our own choice."""


def which_rows(rows: Rows, indices: Iterable[int]) -> str:
    """ "row C, rows F to K of stalls": runs of neighbours, each with its seating."""
    runs: list[list[int]] = []
    for row in indices:
        if runs and row == runs[-1][-1] + 1 and rows.seating[row] == rows.seating[row - 1]:
            runs[-1].append(row)
        else:
            runs.append([row])
    shown = [
        rows.label(run[0])
        if len(run) == 1
        else f"rows {rows.names[run[0]]} to {rows.label(run[-1]).removeprefix('row ')}"
        for run in runs
    ]
    return ", ".join(shown)


@caution("near-listener", "caution", LOUDSPEAKER, limit=NEAREST_LISTENER, for_rigger=False)
def near_listener(of: SpeakerFacts) -> Iterator[Told]:
    """A row nearer than this."""
    rows, least = of.scenario.rows, of.limit(NEAREST_LISTENER)
    away = np.hypot(rows.x_m - of.held.at_m[0], rows.z_m - of.held.at_m[1])
    row = int(np.argmin(away))
    nearest = float(away[row])
    if nearest < least:
        yield Told(
            f"{rows.label(row)} is {of.length(nearest)} from the loudspeaker, nearer than "
            f"{of.length(least)}: it is loud there whatever the aim",
            nearest,
        )


@caution("low-headroom", "caution", OUTLINED, limit=HEADROOM)
def low_headroom(of: SpeakerFacts) -> Iterator[Told]:
    """Less room than this under a flown cabinet."""
    corners = of.corners_m
    if corners is None or not of.held.flown:
        return
    low, high = float(corners[:, 0].min()) - BESIDE_M, float(corners[:, 0].max()) + BESIDE_M
    floors = [
        float(top)
        for seating in of.scenario.seatings
        for top in _tops_m(seating.floor_m, low, high)
        if top < float(corners[:, 1].min())
    ]
    ground = max(floors, default=0.0)
    room, least = float(corners[:, 1].min()) - ground, of.limit(HEADROOM)
    if room < least:
        over = "the floor below it" if floors else "the datum (no seating lies below it)"
        yield Told(
            f"the cabinet hangs {of.length(room)} above {over}, lower than "
            f"{of.length(least)}: keep people from under it",
            room,
        )


def _tops_m(floor: FloatArray, low: float, high: float) -> FloatArray:
    """z of a floor line at the ends and corners of what of it lies in [low, high]."""
    x, z = floor[:, 0], floor[:, 1]
    start, end = max(low, float(x[0])), min(high, float(x[-1]))
    if start > end:
        return np.zeros(0)
    ends = np.interp([start, end], x, z)
    return np.concatenate([ends, z[(x >= start) & (x <= end)]])


@caution("in-sightline", "caution", OUTLINED, limit=STAGE_TOP, unit="rows")
def in_sightline(of: SpeakerFacts) -> Iterator[Told]:
    """In the section the cabinet stands between a row's eyes and the stage: from `stage_focus` (the
    datum unless given) up to this height over it; or, where `[focus]` is given, between a row's
    eyes and that point, which no floor or surface hides already.
    """
    scenario, rows = of.scenario, of.scenario.rows
    if scenario.focus is not None:
        hidden = hidden_rows(scenario, outline_at_m(of.at.speaker, of.at.placement))
        x, z = (of.length(one) for one in scenario.focus.at_m)
        seen = f"the focus (x {x}, z {z})"
    else:
        assert of.corners_m is not None
        hidden = np.flatnonzero(_hides(scenario, rows, of.corners_m))
        x_m, z_m = scenario.cautions.stage_focus_m
        top = of.length(z_m + of.limit(STAGE_TOP))
        seen = f"the stage (x {of.length(x_m)}, z {of.length(z_m)} to {top})"
    if hidden is not None and len(hidden):
        yield Told(
            f"in this section the cabinet stands between {which_rows(rows, hidden)} and {seen}",
            float(len(hidden)),
            limit=0.0,
        )


def _hides(scenario: Scenario, rows: Rows, corners: FloatArray) -> FloatArray:
    """(rows,) whether part of the outline lies between an eye and the stage, by slopes seen.

    Eyes are taken at ear height.  Only corners between the eye and the stage count.
    """
    focus_x, focus_z = scenario.cautions.stage_focus_m
    top = focus_z + threshold(scenario, STAGE_TOP)
    out = np.abs(rows.x_m - focus_x)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = (focus_z - rows.z_m) / out, (top - rows.z_m) / out
        side = np.sign(rows.x_m - focus_x)[:, np.newaxis]
        away = (rows.x_m[:, np.newaxis] - corners[:, 0]) * side
        slope = (corners[:, 1] - rows.z_m[:, np.newaxis]) / away
    between = (away > 0.0) & (away < out[:, np.newaxis])
    least = np.where(between, slope, np.inf).min(axis=1)
    most = np.where(between, slope, -np.inf).max(axis=1)
    return np.asarray((out > 0.0) & (least < high) & (most > low))


@caution(
    "collision", "stop", LOUDSPEAKER, unit="lines", basis="ours: two things cannot be in one place"
)
def collision(of: SpeakerFacts) -> Iterator[Told]:
    """The outline as placed runs through a surface or a floor by more than 1 cm."""
    through = collided(of.scenario, outline_at_m(of.at.speaker, of.at.placement))
    if through:
        yield Told(
            f"at this place and tilt the cabinet runs through {', '.join(through)}",
            float(len(through)),
            limit=0.0,
        )


@caution("front-elevation", "caution", LOUDSPEAKER, unit="°", basis=OWN_WISH)
def front_elevation(of: SpeakerFacts) -> Iterator[Told]:
    """A placement that was given is seen higher from its front row than
    `aim.max_front_elevation_deg`.

    The limit of the search, where a placement that was given breaks it.
    """
    problem, placement = of.at.problem, of.at.placement
    most = problem.max_front_elevation_deg
    if most is None or problem.front_ear_m is None:
        return
    x, z = problem.front_ear_m
    run, rise = abs(x - placement.x_m), placement.height_m - z
    seen = float(np.degrees(np.arctan2(rise, run)))
    if seen > most + 0.05:
        yield Told(
            f"its front row sees the loudspeaker {seen:.1f}° above the horizontal, over the "
            f"{most:g}° of `max_front_elevation_deg`: sound seems to come from overhead there",
            seen,
            most,
        )


@caution("wind-limit-missing", "caution", SECTION, basis=COMMON)
def wind_limit_missing(of: SectionFacts) -> Iterator[Told]:
    """`[outdoors]` without `gust_speed`."""
    if of.scenario.outdoors and of.scenario.gust_speed_m_s is None:
        yield Told(
            "outdoors without a wind speed: nothing was checked against wind, and no wind speed is "
            "named at which everything comes down"
        )


@caution("wind-not-in-loads", "caution", LOUDSPEAKER, basis="ours: what was not computed is said")
def wind_not_in_loads(of: SpeakerFacts) -> Iterator[Told]:
    """Outdoors, a flown loudspeaker."""
    if of.scenario.outdoors and of.held.flown:
        yield Told(
            "outdoors: wind on the flown box, its swing and its turning about the points are not "
            "in these loads"
        )

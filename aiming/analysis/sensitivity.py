"""What other choices would buy and cost: rows given away, past the last row, height, a flip."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..aim import measures
from ..aim.energy import seating_share_percent
from ..aim.limits import at_audience_end
from ..aim.problem import Problem, first_hit
from ..aim.search import search
from ..field.levels import loss_db
from ..results.answer import Answer, SpeakerAnswer
from ..results.explanation import (
    Explanation,
    Flip,
    FrontRows,
    HeightTrade,
    PastLastRow,
    SpeakerExplanation,
)
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement, Speaker
from .fill_alignment import as_answered
from .placed_speaker import Placed, last_row_ear_m, placed, shortcut_of
from .problems import hiding_for, problem_of

COARSE_GAP_DB = 0.1
COARSE_BOXES = 20_000
"""A tenth of what an answer may take: nine such searches in a house that a wall cuts through took
half a minute.  The best so far stands for the best where it ends here."""
MOST_FRONT_ROWS = 6
KNEE_DB = 0.5
"""A front row given away is worth a fill while it gains at least this much; our own choice."""
MOST_PAST_DEG = 6
HELPS_DB = 1.0


def _best(problem: Problem) -> tuple[Placement, float] | None:
    """The best placement and its spread, to the coarse gap."""
    found = search(problem, gap_db=COARSE_GAP_DB, most_boxes=COARSE_BOXES)
    if found.placement is None:
        return None
    return found.placement, float(measures.spread_db(problem.levels_db(found.placement)))


def _at_height(problem: Problem, place: Placement, height_m: float) -> Problem:
    """The same question with the acoustic centre at one height; x, tilt and turn as they were."""
    return replace(
        problem, hang=replace(problem.hang, vertical="height", vertical_m=(height_m, height_m))
    )


def front_rows(
    scenario: Scenario, speaker: Speaker, problem: Problem, place: Placement
) -> tuple[FrontRows, ...]:
    if problem.hang.fixed:
        return ()
    near = np.argsort(np.abs(problem.rows.x_m - place.x_m), kind="stable")
    found = []
    for given in range(min(MOST_FRONT_ROWS, len(near) // 3) + 1):
        left = problem.rows.pick(np.sort(near[given:]))
        rest = replace(problem, rows=left, shadow=hiding_for(scenario, left, speaker))
        best = _best(rest)
        if best is None:
            break
        levels = problem.levels_db(best[0])[:, np.sort(near[given:])]
        weight = rest.rows.weight
        found.append(
            FrontRows(
                given_away=given,
                tilt_deg=float(best[0].tilt_deg),
                height_m=float(best[0].height_m),
                spread_db=best[1],
                rows_within_3db_percent=float(measures.rows_within_percent(levels, weight)),
            )
        )
    return tuple(found)


def knee(front: tuple[FrontRows, ...]) -> int | None:
    """The last row in a run from the front each of which gains at least KNEE_DB."""
    knee = 0
    for before, after in pairwise(front):
        if before.spread_db - after.spread_db < KNEE_DB:
            break
        knee = after.given_away
    return knee or None


def past_last_row(scenario: Scenario, at: Placed) -> tuple[PastLastRow, ...]:
    problem, place = at.problem, at.placement
    last_tilt = shortcut_of(scenario, at).tilt_deg
    last_x, last_z = last_row_ear_m(scenario, at)
    away_m = np.hypot(problem.rows.x_m - last_x, problem.rows.z_m - last_z)
    last = int(np.argmin(away_m))
    level_on = float(
        measures.design_level_db(problem.levels_db(replace(place, tilt_deg=last_tilt)))[last]
    )
    already = max(0.0, place.tilt_deg - last_tilt)
    steps = sorted({*map(float, range(MOST_PAST_DEG + 1)), round(already, 1)})
    found = []
    for above in steps:
        tilt = last_tilt + above
        if tilt > 90.0:
            break
        there = replace(place, tilt_deg=tilt)
        levels = problem.levels_db(there)
        found.append(
            PastLastRow(
                above_last_row_deg=above,
                tilt_deg=tilt,
                spread_db=float(measures.spread_db(levels)),
                last_row_change_db=float(measures.design_level_db(levels)[last]) - level_on,
                missed_share_percent=100.0
                - float(seating_share_percent(problem.pattern, problem.planes, there)),
            )
        )
    return tuple(found)


def height_trade(problem: Problem, place: Placement) -> tuple[HeightTrade, ...]:
    found = []
    for change in (-1.0, 0.0, 1.0):
        height = place.height_m + change
        best = _best(_at_height(_free_tilt(problem), place, height))
        if best is not None:
            found.append(HeightTrade(change, height, float(best[0].tilt_deg), best[1]))
    return tuple(found)


def _free_tilt(problem: Problem) -> Problem:
    """Where the tilt is given, let it follow: a height is judged at its own best tilt."""
    low, high = problem.hang.tilt_deg
    if low < high:
        return problem
    return problem.with_hang(replace(problem.hang, tilt_deg=(-90.0, 90.0)))


def flips(problem: Problem, speaker: Speaker) -> tuple[Flip, ...]:
    """Both orientations, where both are open and the pattern tells them apart."""
    if len(problem.hang.orientations) < 2 or problem.pattern.symmetric:
        return ()
    found = []
    for orientation in problem.hang.orientations:
        one = problem.with_hang(replace(problem.hang, orientations=(orientation,)))
        best = _best(one)
        if best is None:
            continue
        spreads = measures.band_spreads_db(problem.levels_db(best[0]))
        found.append(
            Flip(
                orientation=orientation,
                tilt_deg=float(best[0].tilt_deg),
                spread_db=best[1],
                band_spread_db=dict(zip(problem.pattern.band_hz, map(float, spreads), strict=True)),
            )
        )
    return tuple(found)


def helping_height_m(problem: Problem, place: Placement, here_db: float) -> float | None:
    """The least height, to 5 cm, at which the best spread is HELPS_DB smaller."""

    def spread(height_m: float) -> float:
        best = _best(_at_height(_free_tilt(problem), place, height_m))
        return np.inf if best is None else best[1]

    low = place.height_m
    high = low + 0.5
    while spread(high) > here_db - HELPS_DB:
        low, high = high, high + 1.0
        if high > place.height_m + 20.0:
            return None
    while high - low > 0.05:
        middle = 0.5 * (low + high)
        if spread(middle) > here_db - HELPS_DB:
            low = middle
        else:
            high = middle
    return high


# Why the aim is what it is.
#
# Explaining takes extra solves, so it runs only when the summary is asked for.

MOSTLY_DISTANCE = 0.8


def explain(answer: Answer) -> Explanation:
    """The extra solves that the summary needs."""
    scenario = as_answered(answer)
    return Explanation(
        tuple(
            _explain(scenario, speaker, one)
            for speaker, one in zip(scenario.speakers, answer.speakers, strict=True)
        )
    )


def _explain(scenario: Scenario, speaker: Speaker, one: SpeakerAnswer) -> SpeakerExplanation:
    problem = problem_of(scenario, speaker)
    place = one.placement
    at = placed(scenario, speaker, problem, place)
    above = one.tilt_deg - shortcut_of(scenario, at).tilt_deg
    here = float(measures.spread_db(problem.levels_db(place)))
    held = problem.axis_on_audience and _held(problem, place)
    loss = _distance_loss_db(problem, place)
    mostly = np.isfinite(here) and here >= MOSTLY_DISTANCE * loss
    front = front_rows(scenario, speaker, problem, place)
    return SpeakerExplanation(
        speaker=speaker.name,
        held_at_last_row=held,
        above_last_row_deg=above,
        past_last_row=past_last_row(scenario, at) if held or above > 0.05 else (),
        front_rows=front,
        knee=knee(front),
        height_trade=height_trade(problem, place),
        flips=flips(problem, speaker),
        distance_loss_db=loss,
        mostly_distance=bool(mostly),
        helping_height_m=helping_height_m(problem, place, here) if mostly else None,
    )


def _held(problem: Problem, place: Placement) -> bool:
    """Whether turning up past the audience's end would make the spread smaller."""
    if not at_audience_end(problem, place):
        return False
    here = float(measures.spread_db(problem.levels_db(place)))
    up = replace(place, tilt_deg=min(90.0, place.tilt_deg + 0.2))
    if np.isfinite(first_hit(up, problem.planes)[0]):
        return False
    return float(measures.spread_db(problem.levels_db(up))) < here - 1e-6


def _distance_loss_db(problem: Problem, place: Placement) -> float:
    rows = problem.rows
    distance = np.hypot(rows.x_m - place.x_m, rows.z_m - place.height_m)
    return float(np.ptp(loss_db(distance, problem.air_loss).mean(axis=0)))

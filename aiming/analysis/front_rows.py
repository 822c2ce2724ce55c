"""What leaving front rows to a fill buys, row by row, and where more gains little."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..aim.measures import WITHIN_DB
from ..aim.problem import Problem
from ..aim.search import search
from ..base.arrays import FloatArray
from ..scenario.scenario import Scenario
from ..speaker.speaker import Orientation, Placements, Speaker
from .problems import fixed, leaving, only_placement, searched_problem_of, served_rows

MOST_FRONT_ROWS = 6
KNEE_DB = 0.5
"""A front row left to a fill is worth one while it gains at least this much; our own choice."""
_GAP_DB = 0.1
_MOST_BOXES = 20_000
"""A tenth of what an answer may take: the best so far stands for the best where it ends here."""


def most_left(scenario: Scenario, speaker: Speaker) -> int:
    """How many front rows at most are thought of as left to a fill: a third of them, or six."""
    return min(MOST_FRONT_ROWS, len(scenario.front_rows(speaker.name)) // 3)


def knee(scenario: Scenario, speaker: Speaker) -> int:
    """How many front rows are worth leaving to a fill: while each gains at least KNEE_DB."""
    series = []
    for left in range(most_left(scenario, speaker) + 1):
        series.append(_best_db(scenario, speaker, left))
        if left and not series[-2] - series[-1] >= KNEE_DB:
            break
    return sum(1 for before, after in pairwise(series) if before - after >= KNEE_DB)


def _best_db(scenario: Scenario, speaker: Speaker, left: int) -> float:
    """The least objective with this many front rows left; inf where no placement is allowed."""
    problem = searched_problem_of(leaving(scenario, {speaker.name: left}), speaker)
    if fixed(problem):
        return float(problem.objective_db(only_placement(problem)))
    return search(problem, gap_db=_GAP_DB, most_boxes=_MOST_BOXES).objective_db


_PLACES, _TILT_STEP_DEG = 9, 1.0


def scan_front_rows(
    scenario: Scenario, speaker: Speaker, orientation: Orientation
) -> dict[int, tuple[float, float]]:
    """By how many front rows are left: spread, dB, and share within ±3 dB, %, of the best scanned.

    Over a coarse grid of the ranges; of its heights the lowest that is good enough, as the answer
    takes it.  A number of rows without an allowed placement is left out.
    """
    every = leaving(scenario, {speaker.name: 0})
    whole = searched_problem_of(every, speaker)
    if not whole.tilt_ranges(orientation == "flipped"):
        return {}
    place, v_m = _grid(whole, orientation)
    kept = replace(whole, softest_db=None).allowed(place)
    place, v_m = place.pick(np.flatnonzero(kept)), v_m[kept]
    level, last_db = whole.design_level_db(place), whole.last_rows_could_db(place)
    name = scenario.company.under(speaker.name)
    both = [speaker] if name is None else [speaker, scenario.speaker(name)]
    rows = np.array(sorted({int(row) for one in both for row in served_rows(every, one)}))
    front = scenario.front_rows(speaker.name)
    found = {}
    for count in range(most_left(scenario, speaker) + 1):
        judged = ~np.isin(rows, front[:count])
        some, weight = level[:, judged], whole.rows.weight[judged]
        good = np.ones(len(some), dtype=np.bool_)
        if whole.least_level and whole.softest_db is not None:
            good = some.min(axis=1) - last_db >= whole.softest_db
            if not good.any() and not scenario.aim.softest_stated:
                good[:] = True
        good &= np.isfinite(some).all(axis=1)  # a pattern need not be known all round
        if not good.any():
            continue
        spread = np.where(good, np.ptp(some, axis=1), np.inf)
        enough = spread <= spread.min() + scenario.aim.lower_if_within_db
        at_lowest = np.where(enough & (v_m == v_m[enough].min()), spread, np.inf)
        one = int(np.argmin(at_lowest))
        mean = float((some[one] * weight).sum() / weight.sum())
        share = 100.0 * float((np.abs(some[one] - mean) <= WITHIN_DB).mean())
        found[count] = (float(spread[one]), share)
    return found


def _grid(problem: Problem, orientation: Orientation) -> tuple[Placements, FloatArray]:
    """Placements (n,) over the ranges, and their height or trim, m."""
    hang, flipped = problem.hang, orientation == "flipped"
    places = [
        np.linspace(low, high, _PLACES if low < high else 1)
        for low, high in (hang.x_m, hang.vertical_m)
    ]
    spans = problem.tilt_ranges(flipped)
    tilts = [
        np.linspace(low, high, 1 + round((high - low) / _TILT_STEP_DEG)) for low, high in spans
    ]
    x, v, tilt = (one.ravel() for one in np.meshgrid(*places, np.concatenate(tilts)))
    height = v + problem.drop_m(tilt, flipped)
    return Placements.of(x, height, tilt, flipped, problem.splay_deg[0]), v

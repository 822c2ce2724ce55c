"""What leaving front rows to a fill buys, row by row, and where more gains little."""

from itertools import pairwise

from ..aim.search import search
from ..scenario.scenario import Scenario
from ..speaker.speaker import Speaker
from .problems import fixed, leaving, only_placement, searched_problem_of

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

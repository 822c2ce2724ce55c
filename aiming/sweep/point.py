"""One candidate: solved where ranges remain, evaluated where none do."""

import numpy as np

from ..aim.lowest import lowest_within
from ..aim.search import Status, search
from ..answer.model import Answer
from ..answer.solve import NoPlacementError, fixed, only_placement, solve
from ..arrays import FloatArray
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement
from .exact import Exact, of_placement
from .figures import TOGETHER, Figure, from_levels

CHANGES_FROM = "--over"


def needs_answers(scenario: Scenario, figures: tuple[Figure, ...]) -> bool:
    """Whether only the whole answer tells these figures: cautions, and loudspeakers that are
    matched to one another, fixed to one another or summed with their phase."""
    company = scenario.company
    attached = bool(company.fills or company.hung_under or company.coherent)
    return attached or scenario.aim.at_worst or any(one.counts_cautions for one in figures)


def at_point(
    scenario: Scenario, changes: dict[str, object], figures: tuple[Figure, ...]
) -> FloatArray:
    """(figures,) after these changes.  Where no placement meets the limits, feasible is 0 and the
    rest NaN.  Raises ScenarioError."""
    here = Exact(rebuilt(scenario, changes, changes_from=CHANGES_FROM))
    if needs_answers(here.scenario, figures):
        return _by_answer(here, figures)
    return _by_search(here, figures)


def _by_search(exact: Exact, figures: tuple[Figure, ...]) -> FloatArray:
    """From the placement alone, for every loudspeaker that a figure looks at."""
    owners = {figure.of for figure in figures}
    names = list(exact.problems) if TOGETHER in owners else sorted(owners)
    placed: dict[str, Placement] = {}
    gap_db: dict[str, float] = {}
    for name in names:
        problem, aim = exact.problems[name], exact.scenario.aim
        if fixed(problem):
            placed[name] = only_placement(problem)
            continue
        best = search(problem, gap_db=aim.gap_db)
        taken = lowest_within(problem, best, within_db=aim.lower_if_within_db, gap_db=aim.gap_db)
        gap_db[name] = best.gap_db
        if taken.placement is not None:
            placed[name] = taken.placement
    found = np.full(len(figures), np.nan)
    for k, figure in enumerate(figures):
        if not set(names if figure.of == TOGETHER else [figure.of]) <= set(placed):
            found[k] = 0.0 if figure.what == "feasible" else np.nan
        elif figure.what == "gap_db":
            found[k] = gap_db.get(figure.of, np.nan)
        else:
            found[k] = exact.figures(placed, (figure,), shape=(1, 1))[0, 0, 0]
    return found


def _by_answer(exact: Exact, figures: tuple[Figure, ...]) -> FloatArray:
    """From the whole answer, cautions and all."""
    nothing = np.array([0.0 if one.what == "feasible" else np.nan for one in figures])
    if not _alone_placeable(exact):
        return nothing
    try:
        answer = solve(exact.scenario)
    except NoPlacementError:
        return nothing
    values = [_from_answer(exact, answer, figure) for figure in figures]
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _alone_placeable(exact: Exact) -> bool:
    """False where a search is enough to see that some loudspeaker has no placement.

    An answer would go on to look for what each limit would have to become.
    """
    gap_db = exact.scenario.aim.gap_db
    return all(
        fixed(problem) or search(problem, gap_db=gap_db).status is not Status.INFEASIBLE
        for name, problem in exact.problems.items()
        if name not in exact.scenario.company.hung_under
    )


def _from_answer(exact: Exact, answer: Answer, figure: Figure) -> float | None:
    severe = [one.severity for one in answer.cautions if one.severity != "note"]
    if figure.what == "cautions":
        return len(severe)
    if figure.what == "stops":
        return severe.count("stop")
    if figure.of == TOGETHER:
        if figure.what == "feasible":
            return float(all(_allowed(exact, answer, name) for name in exact.problems))
        return float(from_levels(figure, answer.rows.levels_db, exact.scenario.rows.weight))
    speaker = next(one for one in answer.speakers if one.name == figure.of)
    if figure.what == "gap_db":
        return speaker.gap_db
    if figure.what == "tonal_change_db":
        return None if speaker.tone is None else speaker.tone.worst_change_db
    if figure.what == "feasible":
        return float(_allowed(exact, answer, figure.of))
    problem = exact.problems[figure.of]
    if figure.of_levels:
        served = exact.scenario.rows.of(exact.scenario.speaker(figure.of).serves)
        levels = answer.rows.by_speaker[figure.of].levels_db[:, served]
        return float(from_levels(figure, levels, problem.rows.weight))
    return float(of_placement(problem, _placement(answer, figure.of), figure.what)[0, 0])


def _placement(answer: Answer, name: str) -> Placement:
    """(1, 1) where a loudspeaker is in an answer."""
    speaker = next(one for one in answer.speakers if one.name == name)
    return Placement(
        np.full((1, 1), speaker.x_m),
        np.full((1, 1), speaker.height_m),
        np.full((1, 1), speaker.tilt_deg),
        np.full((1, 1), speaker.orientation == "flipped"),
    )


def _allowed(exact: Exact, answer: Answer, name: str) -> bool:
    """Whether a loudspeaker keeps its limits and every level is known."""
    levels = answer.rows.by_speaker[name].levels_db
    served = exact.scenario.rows.of(exact.scenario.speaker(name).serves)
    kept = exact.problems[name].allowed(_placement(answer, name))[0, 0]
    return bool(kept) and not bool(np.isnan(levels[:, served]).any())

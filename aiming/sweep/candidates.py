"""One candidate: solved where ranges remain, evaluated where none do."""

from collections import OrderedDict
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..aim.search import Status, lowest_within, search
from ..analysis.problems import fixed, judged_rows, only_placement, served_rows
from ..analysis.solve import NoPlacementError, solve
from ..base.arrays import FloatArray
from ..results.answer import Answer
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement
from .axes import Axis
from .direct_figures import Exact, of_placement
from .figures import TOGETHER, Figure, from_levels
from .grid_task import FAST, Fast, Stage
from .result_store import Grid, points

CHANGES_FROM = "--over"


def needs_answers(scenario: Scenario, figures: tuple[Figure, ...]) -> bool:
    """Whether only the whole answer tells these figures: cautions, and loudspeakers that are
    matched to one another, fixed to one another or summed with their phase."""
    company = scenario.company
    attached = bool(company.fills or company.hung_under or company.coherent)
    free = any(not one.hang.fixed for one in scenario.speakers)
    attached |= company.all_at_once and len(scenario.speakers) > 1 and free
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
        answer = solve(exact.scenario, prove_s=0.0, choices=False)
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
        judged = judged_rows(exact.scenario)
        levels = answer.rows.levels_db[:, judged]
        return float(from_levels(figure, levels, exact.scenario.rows.weight[judged]))
    speaker = next(one for one in answer.speakers if one.name == figure.of)
    if figure.what == "gap_db":
        return speaker.gap_db
    if figure.what == "tonal_change_db":
        return None if speaker.tone is None else speaker.tone.worst_change_db
    if figure.what == "feasible":
        return float(_allowed(exact, answer, figure.of))
    problem = exact.problems[figure.of]
    if figure.of_levels:
        served = served_rows(exact.scenario, exact.scenario.speaker(figure.of))
        levels = answer.rows.by_speaker[figure.of].levels_db[:, served]
        return float(from_levels(figure, levels, problem.rows.weight))
    return float(of_placement(problem, _placement(answer, figure.of), figure.what))


def _placement(answer: Answer, name: str) -> Placement:
    """Where a loudspeaker is in an answer."""
    return next(one for one in answer.speakers if one.name == name).placement


def _allowed(exact: Exact, answer: Answer, name: str) -> bool:
    """Whether a loudspeaker keeps its limits and every level is known."""
    levels = answer.rows.by_speaker[name].levels_db
    served = served_rows(exact.scenario, exact.scenario.speaker(name))
    kept = exact.problems[name].allowed(_placement(answer, name))
    return bool(kept) and not bool(np.isnan(levels[:, served]).any())


# The work of a sweep, and one chunk of it: what a worker does.

_STAGES: "OrderedDict[tuple[str, tuple[int, ...]], Stage]" = OrderedDict()
_MOST_STAGES = 4


@dataclass(frozen=True, eq=False)
class Work:
    """A whole sweep.

    speaker: the loudspeaker that moves along the fast axes
    fast: index of the axis that sweeps its x, height or tilt
    fingerprint: two sweeps with one fingerprint give one table
    """

    scenario: Scenario
    axes: tuple[Axis, ...]
    figures: tuple[Figure, ...]
    grid: Grid
    speaker: str
    fast: dict[str, int]
    fingerprint: str

    @property
    def slow(self) -> tuple[int, ...]:
        """Indices of the axes that change more than the placement."""
        return tuple(k for k in range(len(self.axes)) if k not in self.fast.values())


def run_chunk(work: Work, chunk: int) -> FloatArray:
    """(figures, rows) of one chunk, rows in the table's order.

    Raises ScenarioError where a combination of values is no scenario.
    """
    box = work.grid.box(chunk)
    shape = tuple(stop - start for start, stop in box)
    found = np.empty((len(work.figures), *shape))
    fast = tuple(work.fast[name] for name in FAST if name in work.fast)
    # A stage's grid runs over x, height, tilt; the table's over the axes as they were given.
    turn = [fast.index(axis) for axis in sorted(fast)]
    for index in points(box, work.slow):
        stage = _stage(work, index)
        where: list[int | slice] = [slice(None)] * (1 + len(shape))
        for k, place in zip(work.slow, index, strict=True):
            where[1 + k] = place - box[k][0]
        if stage.evaluated and not needs_answers(stage.exact.scenario, work.figures):
            spans = {name: box[axis] for name, axis in work.fast.items()}
            grid = stage.grid(spans).reshape(-1, *(shape[axis] for axis in fast))
            found[tuple(where)] = grid.transpose(0, *(1 + k for k in turn))
            continue
        for at in points(box, fast):
            here = dict(zip(work.slow, index, strict=True)) | dict(zip(fast, at, strict=True))
            changes = {axis.key: axis.value(here[k]) for k, axis in enumerate(work.axes)}
            spot = tuple(here[k] - box[k][0] for k in range(len(shape)))
            found.reshape(len(found), -1)[:, np.ravel_multi_index(spot, shape)] = at_point(
                work.scenario, changes, work.figures
            )
    return found.reshape(len(work.figures), -1)


class Pace(Enum):
    """How a sweep's candidates are gone through."""

    BULK = "grids of placements through the kernel"
    EXACT = "arrays of placements through the field"
    POINTS = "one after the other"


def pace_of(work: Work) -> Pace:
    """The pace of the first stage, and so presumably of every one."""
    stage = stage_of(work)
    if not stage.evaluated or needs_answers(stage.exact.scenario, work.figures):
        return Pace.POINTS
    return Pace.BULK if stage.quick else Pace.EXACT


def stage_of(work: Work) -> Stage:
    """The first stage of a sweep."""
    return _stage(work, (0,) * len(work.slow))


def _stage(work: Work, index: tuple[int, ...]) -> Stage:
    """The stage of these values of the slow axes, made once while it is needed."""
    key = (work.fingerprint, index)
    if key in _STAGES:
        _STAGES.move_to_end(key)
        return _STAGES[key]
    changes: dict[str, object] = {
        work.axes[k].key: work.axes[k].value(at) for k, at in zip(work.slow, index, strict=True)
    }
    # The whole range of each fast axis: what may hide rows is looked for over all of it.
    for axis in work.fast.values():
        low, high = work.axes[axis].least_and_largest
        changes[work.axes[axis].key] = low if low == high else [low, high]
    scenario = rebuilt(work.scenario, changes, changes_from=CHANGES_FROM)
    fast = {name: work.axes[axis] for name, axis in work.fast.items()}
    stage = Stage(Exact(scenario), work.speaker, Fast(fast, scenario.units), work.figures)
    while len(_STAGES) >= _MOST_STAGES:
        _STAGES.popitem(last=False)
    _STAGES[key] = stage
    return stage

"""The work of a sweep, and one chunk of it: what a worker does."""

from collections import OrderedDict
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..aim.lowest import lowest_within
from ..aim.search import Found, search
from ..answer.figures import placed
from ..answer.solve import Solved, answer_of, fixed, only_placement
from ..arrays import FloatArray
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from ..speaker.speaker import Placement
from .axes import Axis
from .exact import Exact
from .figures import TOGETHER, Figure
from .grid import Grid, points
from .stage import FAST, Fast, Stage

CHANGES_FROM = "--over"
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
        if stage.evaluated and not any(one.counts_cautions for one in work.figures):
            spans = {name: box[axis] for name, axis in work.fast.items()}
            grid = stage.grid(spans).reshape(-1, *(shape[axis] for axis in fast))
            found[tuple(where)] = grid.transpose(0, *(1 + k for k in turn))
            continue
        for at in points(box, fast):
            here = dict(zip(work.slow, index, strict=True)) | dict(zip(fast, at, strict=True))
            changes = {axis.key: axis.value(here[k]) for k, axis in enumerate(work.axes)}
            spot = tuple(here[k] - box[k][0] for k in range(len(shape)))
            found.reshape(len(found), -1)[:, np.ravel_multi_index(spot, shape)] = at_point(
                work, changes
            )
    return found.reshape(len(work.figures), -1)


class Pace(Enum):
    """How a sweep's candidates are gone through."""

    BULK = "grids of placements through the kernel"
    EXACT = "arrays of placements through the field"
    POINTS = "one after the other"


def pace_of(work: Work) -> Pace:
    """The pace of the first stage, and so presumably of every one."""
    stage = _stage(work, (0,) * len(work.slow))
    if not stage.evaluated or any(one.counts_cautions for one in work.figures):
        return Pace.POINTS
    return Pace.BULK if stage.quick else Pace.EXACT


def at_point(work: Work, changes: dict[str, object]) -> FloatArray:
    """(figures,) after these changes: solved where ranges remain, evaluated where none do."""
    scenario = rebuilt(work.scenario, changes, changes_from=CHANGES_FROM)
    exact = Exact(scenario)
    owners = {figure.of for figure in work.figures}
    all_of_them = TOGETHER in owners or any(one.counts_cautions for one in work.figures)
    names = list(exact.problems) if all_of_them else sorted(owners)
    solved = {name: _solved(exact, name) for name in names}
    known = {name: at for name, (at, _) in solved.items() if at is not None}
    found = np.full(len(work.figures), np.nan)
    for k, figure in enumerate(work.figures):
        missing = set(names if figure.of == TOGETHER else [figure.of]) - set(known)
        if missing:
            found[k] = 0.0 if figure.what == "feasible" else np.nan
        elif figure.what == "gap_db":
            parts = solved[figure.of][1]
            found[k] = np.nan if parts is None else parts.best.gap_db
        elif not figure.counts_cautions:
            found[k] = exact.figures(known, (figure,), shape=(1, 1))[0, 0, 0]
    if len(known) == len(exact.problems) and any(one.counts_cautions for one in work.figures):
        _count_cautions(exact, solved, work.figures, found)
    return found


def _solved(exact: Exact, name: str) -> tuple[Placement | None, Solved | None]:
    """Where a loudspeaker goes, None where nothing meets the limits; how it was found."""
    problem, aim = exact.problems[name], exact.scenario.aim
    if fixed(problem):
        return only_placement(problem), None
    best = search(problem, gap_db=aim.gap_db)
    if best.placement is None:
        return None, None
    taken: Found = lowest_within(problem, best, within_db=aim.lower_if_within_db, gap_db=aim.gap_db)
    return taken.placement, Solved(best=best, taken=taken)


def _count_cautions(
    exact: Exact,
    solved: dict[str, tuple[Placement | None, Solved | None]],
    figures: tuple[Figure, ...],
    found: FloatArray,
) -> None:
    """Put the number of cautions (stops among them), and of stops, where they are asked for."""
    at = []
    for speaker in exact.scenario.speakers:
        placement, how = solved[speaker.name]
        assert placement is not None
        problem = exact.problems[speaker.name]
        at.append((placed(exact.scenario, speaker, problem, placement), how))
    answer = answer_of(exact.scenario, at)
    severe = [one.severity for one in answer.cautions if one.severity != "note"]
    for k, figure in enumerate(figures):
        if figure.what == "cautions":
            found[k] = len(severe)
        elif figure.what == "stops":
            found[k] = severe.count("stop")


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

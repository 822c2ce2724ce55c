"""The work of a sweep, and one chunk of it: what a worker does."""

from collections import OrderedDict
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..arrays import FloatArray
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from .axes import Axis
from .exact import Exact
from .figures import Figure
from .grid import Grid, points
from .point import CHANGES_FROM, at_point, needs_answers
from .stage import FAST, Fast, Stage

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

"""Many answers for one scenario: a sweep over any keys of the file, to a table."""

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from contextlib import ExitStack, closing
from dataclasses import replace
from math import prod
from pathlib import Path

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import Fault, ScenarioError
from ..base.version import VERSION
from ..scenario.address import AddressError, find, plain
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from .axes import Axis, axes_of
from .candidates import CHANGES_FROM, Pace, Work, pace_of, stage_of
from .figures import DEFAULT_FIGURES, TOGETHER, Figure, figures_of
from .grid_task import FAST
from .result_store import Grid, PartialFile, Spool, cut, partial_path, spool_in_memory, unwritable
from .table import Table, check_target, write_table
from .workers import core_count, in_order, own_workers, serially

Progress = Callable[[int, int], None]
"""Called with the rows done and the rows in all, after each chunk."""

_LAYOUT = "chunks 2"
"""How a grid is cut; to be changed with the numbers below, so that no other cut is continued."""
_ROWS_AT_PACE = {Pace.BULK: 1 << 19, Pace.EXACT: 1 << 16}
_MOST_ROWS = 1 << 22
_TILTS = 256
_POINTS = 16
_SETTINGS = 64
_FEW_AT_PACE = {Pace.BULK: 200_000, Pace.EXACT: 20_000, Pace.POINTS: 32}
"""So few rows are done before a worker has started."""
_CHECKED = 64


def what_if(
    scenario: Scenario,
    over: Mapping[str, object],
    *,
    figures: Sequence[str] = DEFAULT_FIGURES,
    executor: Executor | None = None,
    table: str | Path | None = None,
    resume: bool = False,
    replace: bool = False,
    progress: Progress | None = None,
) -> Table:
    """Every combination of the axes' values: the keys varied, then the figures.

    Where ranges remain each point is solved, elsewhere evaluated.  An evaluated spread errs by at
    most kernel.SPREAD_ERROR_DB (2e-3 dB) against `evaluate`.

    Parameters
    ----------
    scenario : Scenario
        From `aiming.load`.
    over : mapping of str to object
        Dotted keys, each with (low, high, step), high included, or a list of values, in the file's
        own unit; the last key varies fastest.
    figures : sequence of str
        Names of columns (docs/what-if.md); a figure is of the one loudspeaker that the keys name,
        of all together where they name none or several.
    executor : concurrent.futures.Executor, optional
        What works; by default every core.
    table : str or path, optional
        Also write a table there, .csv or .parquet; while it is being made, what is done stands in a
        file of that name with .partial added.
    resume : bool
        Go on with that file.
    replace : bool
        Write over an earlier table of this name.
    progress : callable, optional
        Told the rows done and the rows in all.

    Returns
    -------
    Table
        A row for each point; lengths in m, angles in degrees, levels in dB.

    Raises
    ------
    ScenarioError
        For what is no scenario, key or figure.
    TableError
        For a table that cannot be written.
    """
    work = work_of(scenario, over, figures)
    path = None if table is None else Path(table)
    if path is not None:
        # What is gone on with began where its table might be written.
        replace |= resume and os.path.lexists(partial_path(path))
        check_target(path, replace=replace)
    with ExitStack() as stack:
        partial, spool = None, None
        if path is None:
            spool = spool_in_memory(work.grid, len(work.figures))
        else:
            partial = PartialFile(path, work.fingerprint, work.grid, len(work.figures))
            spool = partial.open(resume=resume)
            stack.callback(partial.let_go)
        found = Table(work.axes, work.figures, work.grid, spool)
        try:
            chunks = _chunks(work, spool.chunks, executor, stack)
            _fill(spool, chunks, work.grid.size, progress, path)
            if path is not None and partial is not None:
                write_table(found, path, replace=replace)
                partial.remove()
        except BaseException:
            if partial is not None and spool.chunks == 0:
                partial.remove()
            spool.close()
            raise
    return found


def is_solved(scenario: Scenario, over: Mapping[str, object]) -> bool:
    """Whether the candidates of a sweep are solved rather than evaluated."""
    return not stage_of(work_of(scenario, over)).evaluated


def figures_for(scenario: Scenario, over: Mapping[str, object]) -> tuple[str, ...]:
    """The figures of a sweep that names none: where candidates are solved, also where they hang."""
    together = (
        _about(
            tuple(one.name for one in scenario.speakers),
            _paths(scenario, axes_of(over, unit=scenario.units)),
        )
        == TOGETHER
    )
    if together or not is_solved(scenario, over):
        return DEFAULT_FIGURES
    return (*DEFAULT_FIGURES, "tilt_deg", "height_m")


def work_of(
    scenario: Scenario, over: Mapping[str, object], figures: Sequence[str] = DEFAULT_FIGURES
) -> Work:
    """The whole work of a sweep, checked.  Raises ScenarioError."""
    axes = axes_of(over, unit=scenario.units)
    named = _paths(scenario, axes)
    speakers = tuple(speaker.name for speaker in scenario.speakers)
    about = _about(speakers, named)
    chosen = figures_of(
        tuple(figures), about=about, speakers=speakers, bands_hz=scenario.aim.bands_hz
    )
    moved, fast = _fast(speakers, about, axes, named)
    _check_values(scenario, axes)
    shape = tuple(axis.count for axis in axes)
    name = _fingerprint(scenario, axes, chosen)
    work = Work(scenario, axes, chosen, cut(shape, rows=_POINTS), moved, fast, name)
    return replace(work, grid=_layout(work))


def _paths(scenario: Scenario, axes: tuple[Axis, ...]) -> list[tuple[object, ...]]:
    """Where each axis' key stands in the document.  Raises ScenarioError with all faults."""
    named: list[tuple[object, ...]] = []
    faults: list[Fault] = []
    for axis in axes:
        try:
            named.append(find(scenario.document, axis.key).path)
        except AddressError as error:
            faults.append(Fault(CHANGES_FROM, 1, 1, axis.key, str(error)))
    if faults:
        raise ScenarioError(faults)
    return named


def _about(speakers: tuple[str, ...], named: list[tuple[object, ...]]) -> str:
    """The loudspeaker that the keys name, or all together."""
    if len(speakers) == 1:
        return speakers[0]
    owners = {path[1] for path in named if path[0] == "speaker" and len(path) > 1}
    if len(owners) == 1:
        return speakers[int(str(owners.pop()))]
    return TOGETHER


def _fast(
    speakers: tuple[str, ...], about: str, axes: tuple[Axis, ...], named: list[tuple[object, ...]]
) -> tuple[str, dict[str, int]]:
    """The loudspeaker whose placement is swept in bulk, and its axes by x, height and tilt."""
    moved = speakers[0] if about == TOGETHER else about
    fast: dict[str, int] = {}
    for k, (axis, path) in enumerate(zip(axes, named, strict=True)):
        placed = len(path) == 4 and path[0] == "speaker" and path[2] == "placement"
        mine = placed and speakers[int(str(path[1]))] == moved
        if mine and path[3] in FAST and axis.numeric:
            fast[str(path[3])] = k
    return moved, fast


def _check_values(scenario: Scenario, axes: tuple[Axis, ...]) -> None:
    """Try each axis' ends, or all its values, before a long sweep starts."""
    first = {axis.key: axis.value(0) for axis in axes}
    for axis in axes:
        for value in axis.ends[:_CHECKED]:
            rebuilt(scenario, first | {axis.key: value}, changes_from=CHANGES_FROM)


def _layout(work: Work) -> Grid:
    """The grid in chunks that take a second or so, and little memory."""
    shape = work.grid.shape
    pace = pace_of(work)
    if pace is Pace.POINTS:
        return work.grid
    rows = _ROWS_AT_PACE[pace] // max(1, len(work.figures) // 4)
    within = max(work.slow, default=-1) > min(work.fast.values(), default=len(shape))
    if not within:
        # Every setting of the slow axes has to be made; where they vary fastest, every chunk
        # makes all of them, so then large chunks are best.
        slow = prod(shape[k] for k in work.slow)
        rows = min(rows, _SETTINGS * prod(shape) // slow)
    grid = cut(shape, rows=rows)
    if pace is Pace.BULK and work.fast.get("tilt") == grid.cut and shape[grid.cut] > grid.length:
        # Long runs of tilts are what the kernel is fast at.
        inner = prod(shape[grid.cut + 1 :])
        grid = cut(shape, rows=min(_MOST_ROWS, max(rows, _TILTS * inner)))
    return grid


def _fingerprint(scenario: Scenario, axes: tuple[Axis, ...], figures: tuple[Figure, ...]) -> str:
    """What the table depends on: the document, the files that it names, the sweep, the version."""
    digest = hashlib.sha256()
    parts = [
        VERSION,
        plain(scenario.document),
        [
            [axis.key, axis.count, axis.first, axis.step, axis.decimals, plain(axis.listed)]
            for axis in axes
        ],
        [one.name for one in figures],
        _LAYOUT,
    ]
    digest.update(json.dumps(parts, sort_keys=True, default=str).encode())
    arrays = [scenario.rows.x_m, scenario.rows.z_m, scenario.rows.weight]
    arrays += [surface.line_m for surface in scenario.surfaces]
    for speaker in scenario.speakers:
        arrays += [speaker.pattern.angle_deg, speaker.pattern.level_db, speaker.offset_db]
    for array in arrays:
        digest.update(np.ascontiguousarray(array).tobytes())
    return digest.hexdigest()


def _chunks(
    work: Work, first: int, executor: Executor | None, stack: ExitStack
) -> Iterator[FloatArray]:
    if executor is not None:
        return stack.enter_context(closing(in_order(work, first, executor)))
    few = work.grid.size <= _FEW_AT_PACE[pace_of(work)]
    few &= prod(work.grid.shape[k] for k in work.slow) <= _SETTINGS
    if few or core_count() == 1 or work.grid.chunks - first < 2:
        return serially(work, first)
    pool = stack.enter_context(own_workers(core_count()))
    return stack.enter_context(closing(in_order(work, first, pool)))


def _fill(
    spool: Spool,
    chunks: Iterator[FloatArray],
    rows: int,
    progress: Progress | None,
    path: Path | None,
) -> None:
    if progress is not None:
        progress(spool.rows, rows)
    for block in chunks:
        try:
            spool.add(block)
        except OSError as error:
            raise unwritable(path or Path("temporary file"), error) from error
        if progress is not None:
            progress(spool.rows, rows)

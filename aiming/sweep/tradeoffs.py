"""What a table says at a glance: its best rows, and its trade-off fronts."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..analysis.solve import NoPlacementError, solve
from ..base.arrays import FloatArray
from ..scenario.read import rebuilt
from ..scenario.scenario import Scenario
from .table import Table, best_rows, front, smaller_is_better

OBJECTIVES = ("spread_db", "worst_band_spread_db", "deviation_db", "spread_db_")
"""What a table is ranked by, the first of these that it has."""
_AGAINST = (
    "height",
    "trim",
    "height_m",
    "trim_m",
    "softest_row_level_db",
    "rows_within_3db_percent",
)


@dataclass(frozen=True)
class Front:
    """rows: what nothing beats in both columns, ascending in x."""

    x: str
    y: str
    rows: list[dict[str, Any]]


@dataclass(frozen=True, eq=False)
class Map:
    """The best of one column along one or two axes, over all values of the other axes.

    keys: one or two; values: of each, as numbers; best: (first, second) or (first,), NaN where
    nothing is known or feasible
    """

    by: str
    keys: tuple[str, ...]
    values: tuple[FloatArray, ...]
    best: FloatArray


@dataclass(frozen=True)
class Reason:
    """Why a candidate is left out, and one that is."""

    reason: str
    example: dict[str, Any]


@dataclass(frozen=True)
class LeftOut:
    """Candidates that keep no limit or have an unknown level; the reasons of some of them."""

    count: int = 0
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True)
class Overview:
    """by: the column that best is ranked by, None where the table has nothing to rank by.

    map: that column along the last two axes of numbers; None where there are none
    """

    by: str | None
    best: list[dict[str, Any]]
    fronts: tuple[Front, ...]
    map: Map | None = None
    left_out: LeftOut = LeftOut()


def overview(
    table: Table, *, by: str | None = None, count: int = 5, scenario: Scenario | None = None
) -> Overview:
    """Best rows by a column (KeyError for one that is none), and its fronts against height or
    trim, the softest row's level, and the share of rows within 3 dB, where the table has them.

    scenario: the one that was swept; with it, why candidates are left out
    """
    by = by or ranked_by(table)
    if by is None:
        return Overview(None, [], ())
    if by not in table.columns:
        raise KeyError(by)
    varied = {_bare(axis.key) for axis in table.axes}
    against = [
        name
        for name in table.columns
        if _bare(name) in _AGAINST and name != by and not _same_as_axis(name, varied)
    ]
    numeric = {axis.key for axis in table.axes if axis.numeric} | {f.name for f in table.figures}
    return Overview(
        by,
        best_rows(table, by, count=count),
        tuple(Front(x, by, front(table, x, by)) for x in against if x in numeric),
        best_along(table, by, keys) if (keys := numeric_keys(table)[-2:]) else None,
        left_out(table, scenario),
    )


def _same_as_axis(name: str, varied: set[str]) -> bool:
    """Whether a figure only says again what is varied: height_m beside height."""
    bare = _bare(name)
    return bare.endswith("_m") and bare.removesuffix("_m") in varied


_ASKED = 5
_LIMITS = ("collision", "tilt-out-of-reach", "axis-off-audience", "front-elevation",
           "pattern-unknown", "too-soft")  # fmt: skip
"""Cautions that say why a placement keeps no limits, the weightiest first."""


def left_out(table: Table, scenario: Scenario | None) -> LeftOut:
    """How many candidates are not feasible, where that is a column; some of them asked why."""
    names = tuple(figure.name for figure in table.figures if figure.what == "feasible")
    if not names:
        return LeftOut()
    bad = np.concatenate(
        [
            np.flatnonzero(~np.logical_and.reduce([chunk[name].astype(bool) for name in names]))
            + first
            for first, chunk in _with_starts(table, names)
        ]
    )
    if not len(bad) or scenario is None:
        return LeftOut(len(bad))
    asked = np.unique(np.linspace(0, len(bad) - 1, min(_ASKED, len(bad))).round().astype(np.intp))
    found: dict[str, Reason] = {}
    for row in table.rows(bad[asked]):
        code, reason = why_left_out(scenario, {axis.key: row[axis.key] for axis in table.axes})
        if reason:
            found.setdefault(code, Reason(reason, row))
    return LeftOut(len(bad), tuple(found.values()))


def _with_starts(table: Table, names: tuple[str, ...]) -> Iterator[tuple[int, dict[str, Any]]]:
    first = 0
    for chunk in table.chunks(names):
        yield first, chunk
        first += len(chunk[names[0]])


def why_left_out(scenario: Scenario, changes: dict[str, Any]) -> tuple[str, str]:
    """(code, words) of why the candidate with these changes is left out; ("", "") if unknown."""
    try:
        answer = solve(rebuilt(scenario, changes, changes_from="--over"), choices=False)
    except NoPlacementError as none:
        first = f": {none.reliefs[0].text}" if none.reliefs else ""
        return "no-placement", f"no placement in the ranges keeps the limits{first}"
    told = {one.code: one.text for one in reversed(answer.cautions)}
    for code in _LIMITS:
        if code in told:
            return code, told[code].partition(": ")[0]
    return "", ""


def ranked_by(table: Table) -> str | None:
    """The figure that the table is ranked by unless told otherwise."""
    for wanted in OBJECTIVES:
        for figure in table.figures:
            if figure.what == wanted or (wanted.endswith("_") and figure.band is not None):
                return figure.name
    return table.figures[0].name if table.figures else None


def _bare(name: str) -> str:
    return name.rsplit(".", 1)[-1]


MOST_STEPS = 400
"""Along one side of a map; a longer axis shows the best of several neighbours."""


def best_along(table: Table, by: str, keys: tuple[str, ...]) -> Map:
    """What one column can come to along one or two numeric axes, in constant memory."""
    sign = 1.0 if smaller_is_better(by) else -1.0
    places = [next(k for k, axis in enumerate(table.axes) if axis.key == key) for key in keys]
    counts = [table.shape[k] for k in places]
    steps = [min(count, MOST_STEPS) for count in counts]
    best = np.full(steps, np.inf)
    names = tuple(
        dict.fromkeys((by, *(one.name for one in table.figures if one.what == "feasible")))
    )
    for chunk in range(table.spool.chunks):
        box = table.layout.box(chunk)
        columns = table.chunk(chunk, names)
        value = sign * np.asarray(columns[by], dtype=np.float64)
        for name in names[1:]:
            value = np.where(columns[name].astype(bool), value, np.nan)
        value = np.where(np.isnan(value), np.inf, value)
        whole = value.reshape([stop - start for start, stop in box])
        rest = tuple(k for k in range(len(box)) if k not in places)
        part = whole.min(axis=rest)
        if len(places) == 2 and places[0] > places[1]:
            part = part.T
        spots = [
            np.arange(*box[k]) * step // count
            for k, step, count in zip(places, steps, counts, strict=True)
        ]
        np.minimum.at(best, np.ix_(*spots), part)
    values = []
    for k, step, count in zip(places, steps, counts, strict=True):
        first = [-(-at * count // step) for at in range(step)]
        values.append(np.array([float(table.axes[k].value(at)) for at in first]))
    return Map(by, keys, tuple(values), np.where(np.isfinite(best), sign * best, np.nan))


def numeric_keys(table: Table) -> tuple[str, ...]:
    """The axes that a picture can be drawn along: numbers, more than one of them."""
    return tuple(axis.key for axis in table.axes if axis.numeric and axis.count > 1)

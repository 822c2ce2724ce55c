"""A sweep as a picture: one axis a curve, two a map with contours, and the trade-off fronts."""

from textwrap import shorten
from typing import Any

import numpy as np

from ...sweep.table import Table
from ...sweep.tradeoffs import Front, Map, Overview
from ..text.what_if import NO_RIGGING, column_labels
from . import style as look

_WIDTH_IN = 11.0
_HEIGHT_IN = 6.2
_MOST_FRONTS = 3
_LEVELS = 12
_MOST_LABELS = 24


def what_if_figures(
    table: Table, seen: Overview, *, title: str, formats: tuple[look.Format, ...] = look.FORMATS
) -> dict[str, bytes]:
    """The picture as files: "what-if.png" and so on and their bytes; none without numbers."""
    if seen.map is None:
        return {}
    return look.files("what-if", lambda: what_if_figure(table, seen, title=title), formats)


def what_if_figure(table: Table, seen: Overview, *, title: str) -> Any:
    """The picture as a matplotlib Figure; to be called inside drawing_style.style()."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    assert seen.by is not None and seen.map is not None
    fronts = [one for one in seen.fronts if len(one.rows) > 1][:_MOST_FRONTS]
    figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN), layout="constrained")
    grid = figure.add_gridspec(max(1, len(fronts)), 2 if fronts else 1, width_ratios=None)
    main = figure.add_subplot(grid[:, 0])
    keys = seen.map.keys
    names = column_labels(table)
    more = len([axis for axis in table.axes if axis.count > 1]) > len(keys)
    main.set_title(names[seen.by] + ", best over what else was varied" * more, fontsize=9, pad=6)
    draw_best(figure, main, seen.map, seen, names)
    for place, one in enumerate(fronts):
        draw_front(figure.add_subplot(grid[place, 1]), one, column_labels(table))
    figure.suptitle(shorten(title, 90, placeholder=" …"), x=0.01, ha="left", weight="bold")
    figure.supxlabel(NO_RIGGING, x=0.01, ha="left", fontsize=7, color=look.QUIET)
    # Laid out once: every further drawing would move things a little.
    FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    return figure


def draw_best(figure: Any, ax: Any, best: Map, seen: Overview, names: dict[str, str]) -> None:
    """A curve along one axis, or a map of two with contours, and the best row marked."""
    if len(best.keys) == 1:
        ax.plot(best.values[0], best.best, color=look.SPEAKER_INKS[1], marker=_dots(best.best))
        ax.set_xlabel(names[best.keys[0]])
        ax.set_ylabel(names[best.by])
        ax.grid(color=look.FAINT, linewidth=0.5)
        if seen.best:
            ax.plot(seen.best[0][best.keys[0]], seen.best[0][best.by], "o", color=look.UNIFORM)
        return
    behind = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.8}
    first, second = best.values
    ax.set_xlabel(names[best.keys[0]])
    ax.set_ylabel(names[best.keys[1]])
    shown = np.ma.masked_invalid(best.best.T)
    ax.set_facecolor(look.WITHIN_FILL)
    if shown.count() < shown.size:
        note = "grey: a limit is broken, or a level is not known"
        ax.text(0.01, 0.01, note, transform=ax.transAxes, fontsize=7, bbox=behind)
    if shown.count() == 0:
        return
    mesh = ax.pcolormesh(
        first, second, shown, cmap=f"{look.LEVEL_MAP}_r", shading="nearest", rasterized=True
    )
    bar = figure.colorbar(mesh, ax=ax)
    bar.set_label(names[best.by])
    if min(shown.shape) > 1 and shown.min() < shown.max():
        lines = ax.contour(first, second, shown, _LEVELS, colors=look.INK, linewidths=0.6)
        for label in ax.clabel(lines, fontsize=7, fmt="%.3g"):
            label.set_bbox(behind)
    if seen.best:
        at = seen.best[0]
        ax.plot(
            at[best.keys[0]], at[best.keys[1]], "o", color=look.UNIFORM, markeredgecolor="white"
        )


def draw_front(ax: Any, one: Front, names: dict[str, str]) -> None:
    """What nothing beats in both."""
    x = [row[one.x] for row in one.rows]
    y = [row[one.y] for row in one.rows]
    ax.plot(x, y, color=look.SPEAKER_INKS[0], linewidth=1.0, marker=_dots(np.array(x)))
    ax.set_xlabel(names[one.x])
    ax.set_ylabel(names[one.y])
    ax.grid(color=look.FAINT, linewidth=0.5)
    ax.set_title("trade-off: nothing beats these in both", pad=6)


def _dots(values: Any) -> str | None:
    """Dots while they can be told apart."""
    return "." if len(values) <= _MOST_LABELS * 2 else None

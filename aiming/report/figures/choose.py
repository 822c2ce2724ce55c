"""Which box, as a picture: what each coverage angle would come to, and the user's own patterns."""

from textwrap import shorten
from typing import Any

import numpy as np

from ...sweep.choose import FLAT_DB, Candidate, CoverageChoice
from ..text.choose import NAMES
from ..text.what_if import NO_RIGGING
from . import style as look

_WIDTH_IN, _HEIGHT_IN = 11.0, 6.2
_MOST_NAMED = 4
"""So many patterns stand in the legend, the best first; all are dots."""


def choose_figures(found: CoverageChoice, *, title: str) -> dict[str, bytes]:
    """The picture as files: "choose.png" and so on and their bytes."""
    return look.files("choose", lambda: choose_figure(found, title=title), title=title)


def choose_figure(found: CoverageChoice, *, title: str) -> Any:
    """The picture as a matplotlib Figure; to be called inside drawing_style.style()."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN))
    ax = figure.add_axes((0.07, 0.13, 0.9, 0.73))
    what = NAMES[found.figure]
    if found.flat_deg is not None:
        low, high = found.flat_deg
        label = f"{low:.0f}° to {high:.0f}°: at most {FLAT_DB:g} dB more than the best"
        ax.axvspan(low, high, color=look.WITHIN_FILL, zorder=0, label=label)
    ax.plot(found.coverage_deg, found.objective_db, color=look.SPEAKER_INKS[1], label=what)
    if found.best is not None:
        _dot(ax, found.best, "best", marker="o", color=look.UNIFORM)
    for place, one in enumerate(found.ranked):
        _dot(ax, one, one.name if place < _MOST_NAMED else "", marker="D", color=look.INK)
    ax.set_xlim(float(found.coverage_deg[0]), float(found.coverage_deg[-1]))
    ax.set_ylim(bottom=0.0)
    ax.set_xticks(np.arange(10, found.coverage_deg[-1] + 1, 10))
    ax.set_xlabel("vertical coverage angle, °; no line where no placement meets the limits")
    ax.set_ylabel(f"{what} at its best place, dB")
    ax.grid(color=look.FAINT, linewidth=0.5)
    ax.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4, fontsize=8, borderaxespad=0.5)
    over = ", all loudspeakers together" if found.together else ""
    head = shorten(f"{title}: loudspeaker {found.speaker}{over}", 100, placeholder=" …")
    figure.text(0.02, 0.96, head, fontsize=11, weight="bold", va="center")
    figure.text(0.02, 0.025, NO_RIGGING, fontsize=7, color=look.QUIET)
    return figure


def _dot(ax: Any, one: Candidate, name: str, **options: Any) -> None:
    """A candidate at its coverage angle; nothing where either is not known."""
    if one.coverage_deg is None or one.objective_db is None:
        return
    label = f"{name}: {one.coverage_deg:.0f}°, {one.objective_db:.1f} dB" if name else None
    ax.plot(
        one.coverage_deg, one.objective_db, linestyle="none", markeredgecolor="white",
        label=label and shorten(label, 50, placeholder=" …"), **options,
    )  # fmt: skip

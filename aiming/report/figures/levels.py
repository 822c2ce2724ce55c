"""Level by row, each band about its own mean, with ±3 dB marked."""

from itertools import pairwise
from typing import Any

import numpy as np

from ...aim.measures import WITHIN_DB
from ...base.arrays import FloatArray
from ...base.bands import band_label
from ...results.answer import Answer
from ...results.section import Curves
from . import style as look
from .section import marked

_GAP = 1.0
"""Empty places between two seatings."""
_MOST_LABELS = 26
_LEAST_SPAN_DB = 7.0
_MOST_SPAN_DB = 18.0


def draw_levels(ax: Any, answer: Answer) -> None:
    """Draw level by row into a matplotlib Axes."""
    (place, blocks), curves = places(answer), answer.curves
    ax.axhspan(-WITHIN_DB, WITHIN_DB, facecolor=look.WITHIN_FILL, zorder=0)
    for level in (-WITHIN_DB, WITHIN_DB):
        ax.axhline(level, color=look.QUIET, linewidth=0.8, linestyle=(0, (4, 3)), zorder=1)
    further = ", ".join(band_label(band) for band in curves.further_hz)
    for first, last in blocks:
        rows = slice(first, last + 1)
        for index, band in enumerate(answer.bands_hz):
            ax.plot(
                place[rows],
                curves.by_band_db[index, rows],
                color=look.nth(look.BAND_INKS, index),
                linestyle=look.nth(look.BAND_DASHES, index),
                linewidth=1.1,
                label=band_label(band) if first == 0 else None,
                zorder=3,
            )
        for index in range(len(curves.further_hz)):
            ax.plot(
                place[rows],
                curves.further_db[index, rows],
                color=look.QUIET,
                linestyle=look.FURTHER_DASH,
                linewidth=0.7,
                label=further if first == index == 0 else None,
                zorder=2,
            )
        ax.plot(
            place[rows],
            curves.design_db[rows],
            color=look.INK,
            linewidth=2.0,
            label="mean of the bands" if first == 0 else None,
            zorder=4,
        )
    for marker, chosen in marked(curves.design_db):
        design_db = curves.design_db[chosen]
        ax.scatter(place[chosen], design_db, c=design_db, marker=marker, s=22, linewidths=0.5,
                   edgecolors=look.INK, zorder=5, **look.BY_LEVEL)  # fmt: skip
    _scale(ax, curves)
    _row_names(ax, answer, place, blocks)


def places(answer: Answer) -> tuple[FloatArray, tuple[tuple[int, int], ...]]:
    """(n,) where each row stands along the chart, and first and last row of each seating."""
    seating = answer.rows.seating
    changes = [row for row in range(1, len(seating)) if seating[row] != seating[row - 1]]
    starts, ends = [0, *changes], [*[row - 1 for row in changes], len(seating) - 1]
    block = np.zeros(len(seating))
    for change in changes:
        block[change:] += 1.0
    return np.arange(len(seating)) + _GAP * block, tuple(zip(starts, ends, strict=True))


def _scale(ax: Any, curves: Curves) -> None:
    every = np.concatenate([curves.by_band_db.ravel(), curves.further_db.ravel(), curves.design_db])
    every = every[np.isfinite(every)]
    low = float(np.clip(every.min(initial=0.0) - 1.0, -_MOST_SPAN_DB, -_LEAST_SPAN_DB))
    high = float(np.clip(every.max(initial=0.0) + 1.0, _LEAST_SPAN_DB, _MOST_SPAN_DB))
    ax.set_ylim(low, high)
    ticks = [one for one in range(-18, 19, 3) if low <= one <= high]
    ax.set_yticks(ticks, labels=[f"{one:+d}".replace("-", "−") if one else "0" for one in ticks])
    ax.set_ylabel("against the mean, dB")
    look.grid(ax, axis="y")


def _row_names(
    ax: Any, answer: Answer, place: FloatArray, blocks: tuple[tuple[int, int], ...]
) -> None:
    every = max(1, -(-len(place) // _MOST_LABELS))
    shown = sorted(
        {
            row
            for first, last in blocks
            for row in [*range(first, max(first + 1, last - every // 2), every), last]
        }
    )
    ax.set_xticks(place[shown], labels=[answer.rows.name[row] for row in shown], fontsize=7.0)
    ax.set_xlim(float(place[0]) - 0.7, float(place[-1]) + 0.7)
    for (_, end), (start, _) in pairwise(blocks):
        ax.axvline(0.5 * float(place[end] + place[start]), color=look.FAINT, linewidth=0.8)
    if len(blocks) == 1:
        ax.set_xlabel(f"row of {answer.rows.seating[0]}", labelpad=2.0)
        return
    for first, last in blocks:
        middle = 0.5 * float(place[first] + place[last])
        ax.annotate(
            answer.rows.seating[first],
            xy=(middle, 0.0),
            xycoords=ax.get_xaxis_transform(),
            xytext=(0.0, -18.0),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=8.0,
        )

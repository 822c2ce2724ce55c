"""Traces as they were measured, one over another, and each against what was expected of it."""

from typing import Any

import numpy as np

from ...base.arrays import FloatArray
from ...base.bands import short_band_label
from ...site.model import PositionFound
from ...site.traces import Trace
from . import style as look

COARSE = 24
"""Traces of no more frequencies than this get a mark at each."""
MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (1, 1)),
                           (0, (9, 2, 1.5, 2, 1.5, 2)))  # fmt: skip
_TICKS_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0)
FAINTEST = 0.15
THIRD = 1.0 / 3.0
_LABEL_STEP_POINTS = 9.0


def draw_overlay(ax: Any, traces: tuple[Trace, ...]) -> None:
    """Magnitude against frequency for all positions; what is not coherent is faint."""
    for n, trace in enumerate(traces):
        _draw_trace(ax, trace.frequency_hz, trace.level_db, trace.coherence, n)
    frequency_axis(ax, traces)
    levels = np.concatenate([trace.level_db for trace in traces])
    top = float(np.nanmax(levels))
    low = max(float(np.nanmin(levels)), top - 48.0)
    ax.set_ylim(low - 2.0, top + 2.0)
    ax.set_ylabel("level as measured, dB")
    _label_ends(ax, traces)


def draw_against_first(
    ax: Any,
    traces: tuple[Trace, ...],
    positions: tuple[PositionFound, ...],
    which: int,
    *,
    first: int = 0,
) -> tuple[float, float]:
    """One position less another: measured, and what was expected within its own doubt.

    Gains, EQ and the box's own response are alike at both and drop out.  A finely resolved trace is
    faint behind its own third-octave mean.  Gives the levels between which all of it lies (dB).
    """
    trace, other = traces[which], traces[first]
    level = less(trace, other)
    low = high = 0.0
    one, base = positions[which], positions[first]
    bands = [band for band, level_db in one.predicted_db.items() if level_db is not None]
    bands = [band for band in bands if base.predicted_db[band] is not None]
    if bands:
        expected = _column(one.predicted_db, bands) - _column(base.predicted_db, bands)
        doubt = _column(one.doubt_db, bands)
        ends = np.array([bands[0] * 2**-0.5, *bands, bands[-1] * 2**0.5])
        middle = np.concatenate([expected[:1], expected, expected[-1:]])
        wide = np.concatenate([doubt[:1], doubt, doubt[-1:]])
        ax.fill_between(ends, middle - wide, middle + wide, facecolor="#e2e2e2",
                        edgecolor=look.FAINT, linewidth=0.5, zorder=1)  # fmt: skip
        ax.plot(ends, middle, color=look.QUIET, linestyle=(0, (5, 3)), linewidth=1.0, zorder=2)
        low, high = float(np.nanmin(middle - wide)), float(np.nanmax(middle + wide))
    coherence = np.minimum(
        trace.coherence, np.interp(trace.frequency_hz, other.frequency_hz, other.coherence)
    )
    if len(trace.frequency_hz) > COARSE:
        ax.plot(trace.frequency_hz, level, color=look.nth(look.BAND_INKS, which), linewidth=0.5,
                alpha=0.3, zorder=3)  # fmt: skip
        level = less(trace.smoothed(THIRD), other.smoothed(THIRD))
    _draw_trace(ax, trace.frequency_hz, level, coherence, which)
    if bands:
        seen = (trace.frequency_hz > bands[0] * 0.5) & (trace.frequency_hz < bands[-1] * 2.0)
        low = float(level[seen].min(initial=low))
        high = float(level[seen].max(initial=high))
    for band in one.stands_out:
        measured, at = one.measured_db[band], base.measured_db[band]
        if measured is not None and at is not None:
            ax.plot(band, measured - at, marker="o", markersize=11, markerfacecolor="none",
                    markeredgecolor=look.STOP, markeredgewidth=1.4, zorder=6)  # fmt: skip
    frequency_axis(ax, (trace,))
    return low, high


def less(trace: Trace, other: Trace) -> FloatArray:
    """One trace less another, at the first one's frequencies."""
    f, g = (np.log(np.maximum(one.frequency_hz, 1.0)) for one in (trace, other))
    return np.asarray(trace.level_db - np.interp(f, g, other.level_db))


def _draw_trace(
    ax: Any, frequency_hz: FloatArray, level_db: FloatArray, coherence: FloatArray, n: int
) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.colors import to_rgba

    used = frequency_hz > 0.0
    f, level, sure = frequency_hz[used], level_db[used], coherence[used]
    ink = look.nth(look.BAND_INKS, n)
    # With each round of colours the dashes move on, so that no two traces look alike.
    dash = look.nth(DASHES, n + n // len(look.BAND_INKS))
    coarse = len(f) <= COARSE
    if coarse or sure.min() > 0.95:
        ax.plot(f, level, color=ink, linestyle=dash, linewidth=1.2, zorder=4,
                marker=look.nth(MARKS, n) if coarse else "", markersize=4.0)  # fmt: skip
        return
    points = np.stack([f, level], axis=1)
    pieces = np.stack([points[:-1], points[1:]], axis=1)
    shown = FAINTEST + (1.0 - FAINTEST) * np.clip(0.5 * (sure[1:] + sure[:-1]), 0.0, 1.0) ** 2
    colours = [to_rgba(ink, float(one)) for one in shown]
    lines: Any = LineCollection
    ax.add_collection(lines(list(pieces), colors=colours, linewidths=1.2, zorder=4))
    ax.autoscale_view()


def _label_ends(ax: Any, traces: tuple[Trace, ...]) -> None:
    """Each trace's number at its right end, moved apart where they would meet."""
    ends = [float(trace.level_db[-1]) for trace in traces]
    order = np.argsort(ends)
    low, high = ax.get_ylim()
    tall_points = 72.0 * ax.get_position().height * ax.figure.get_figheight()
    gap = _LABEL_STEP_POINTS / tall_points * (high - low)
    at, before = {}, -np.inf
    for n in order:
        before = max(ends[n], before + gap)
        at[int(n)] = before
    for n, trace in enumerate(traces):
        ax.annotate(str(n + 1), (float(trace.frequency_hz[-1]), at[n]), xytext=(5, 0),
                    textcoords="offset points", va="center", fontsize=7.5, weight="bold",
                    color=look.nth(look.BAND_INKS, n), annotation_clip=False)  # fmt: skip


def frequency_axis(ax: Any, traces: tuple[Trace, ...]) -> None:
    """A logarithmic axis over what the traces have, its ticks the octaves."""
    low = min(float(trace.frequency_hz[trace.frequency_hz > 0.0][0]) for trace in traces)
    high = max(float(trace.frequency_hz[-1]) for trace in traces)
    low, high = max(low, 20.0), min(max(high, 2.0 * low), 24_000.0)
    ax.set_xscale("log")
    ax.set_xlim(low / 1.12, high * 1.12)
    ticks = [one for one in _TICKS_HZ if low / 1.12 <= one <= high * 1.12]
    ax.set_xticks(ticks, [short_band_label(one) for one in ticks])
    ax.set_xticks([], minor=True)
    look.grid(ax)


def _column(levels: dict[float, float | None], bands: list[float]) -> FloatArray:
    return np.array(
        [np.nan if levels[band] is None else levels[band] for band in bands], dtype=float
    )


def limit_alike(panels: list[Any], seen: list[tuple[float, float]]) -> None:
    """One scale for all panels, that shows what is to be seen in each."""
    low, high = min(one[0] for one in seen), max(one[1] for one in seen)
    for ax in panels:
        ax.set_ylim(max(low, -24.0) - 1.0, min(high, 24.0) + 1.0)

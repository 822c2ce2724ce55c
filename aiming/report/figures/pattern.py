"""The picture of a pattern: level against angle and frequency."""

from io import BytesIO
from itertools import pairwise
from textwrap import fill, shorten
from typing import Any, Literal

import numpy as np

from ...base.arrays import FloatArray
from ...base.bands import edges_hz, exact_midband_hz, short_band_label, width_of
from ...scenario.pattern_report import PatternReport
from ...speaker.pattern import EDGE_DB, Pattern

Kind = Literal["png", "svg", "pdf"]
CONTOURS_DB = (-24.0, -18.0, -12.0, -EDGE_DB, -3.0)
LOWEST_DB, HIGHEST_DB = -30.0, 3.0
ANGLE_STEP_DEG = 0.5
INK = "#111111"


def pattern_picture(report: PatternReport, *, kind: Kind = "png") -> bytes:
    """The picture as a file's bytes; the same report gives the same bytes."""
    import matplotlib

    metadata: dict[Kind, dict[str, None]] = {
        "png": {"Software": None},
        "svg": {"Date": None},
        "pdf": {"CreationDate": None, "Producer": None, "Creator": None},
    }
    settings = {"svg.hashsalt": "aiming", "svg.fonttype": "none", "pdf.fonttype": 3}
    with matplotlib.rc_context(settings):
        buffer = BytesIO()
        pattern_figure(report).savefig(buffer, format=kind, dpi=150, metadata=metadata[kind])
    return buffer.getvalue()


def pattern_figure(report: PatternReport) -> Any:
    """A matplotlib Figure: bands across, off-axis angle upwards, level as shade and contour.

    The map (cividis) is even in lightness, so it keeps its order for colour-blind readers and in
    black and white; the labelled contours carry the figures by themselves.  Each band is shaded
    across its own width; hatching is where nothing is known.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    pattern = report.pattern.only(tuple(sorted(report.pattern.band_hz)))
    figure = Figure(figsize=(8.0, 5.2), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    axes.patch.set(hatch="///", edgecolor="#999999", facecolor="white")
    low, high = float(pattern.angle_deg[0]), float(pattern.angle_deg[-1])
    angle = np.linspace(low, high, max(2, round((high - low) / ANGLE_STEP_DEG)) + 1)
    level = pattern.read_db(angle)
    shade: Any = None
    for run in _runs(pattern):
        edges = _band_edges_hz(pattern, run)
        shade = axes.pcolormesh(
            edges,
            angle,
            np.ma.masked_invalid(0.5 * (level[run, 1:] + level[run, :-1]).T),
            cmap="cividis",
            vmin=LOWEST_DB,
            vmax=HIGHEST_DB,
            rasterized=True,
        )
        middle = [exact_midband_hz(band) for band in pattern.band_hz[run]]
        _contours(axes, [edges[0], *middle, edges[-1]], angle, level[run])
    axes.axhline(0.0, color="white", linewidth=2.2)
    axes.axhline(0.0, color=INK, linewidth=0.9, linestyle=(0, (6, 4)))
    _frame(axes, pattern)
    _control(axes, report.control.control_from_hz)
    axes.set_title(
        fill(shorten(pattern.reference, 180, placeholder=" …"), 95), fontsize=9, loc="left"
    )
    bar = figure.colorbar(shade, ax=axes, extend="both", pad=0.02)
    bar.set_label("level against the axis, dB")
    bar.set_ticks([-30, -24, -18, -12, -6, -3, 0, 3])
    return figure


def _runs(pattern: Pattern) -> list[slice]:
    """The bands in stretches without a gap between them."""
    per_octave = 1 if width_of(pattern.band_hz) == "octave" else 3
    step = np.diff(np.round(10.0 * np.log10(pattern.band_hz)))
    breaks = np.flatnonzero(step > 3.5 / per_octave) + 1
    bounds = [0, *(int(k) for k in breaks), len(pattern.band_hz)]
    return [slice(start, stop) for start, stop in pairwise(bounds)]


def _band_edges_hz(pattern: Pattern, run: slice) -> FloatArray:
    per_octave = 1 if width_of(pattern.band_hz) == "octave" else 3
    pairs = [edges_hz(exact_midband_hz(f), per_octave=per_octave) for f in pattern.band_hz[run]]
    return np.array([pairs[0][0], *(high for _, high in pairs)])


def _contours(axes: Any, across_hz: list[float], angle_deg: FloatArray, level: FloatArray) -> None:
    from matplotlib.patheffects import withStroke

    # The outer bands hold to their edges, so that a lone band has contours too.
    drawn = np.ma.masked_invalid(np.concatenate([level[:1], level, level[-1:]]).T)
    heavy = [1.8 if value == -EDGE_DB else 0.9 for value in CONTOURS_DB]
    lines = axes.contour(
        across_hz, angle_deg, drawn, levels=CONTOURS_DB, colors=INK, linewidths=heavy,
        linestyles="solid",
    )  # fmt: skip
    halo = withStroke(linewidth=2.6, foreground="white", alpha=0.75)
    lines.set(path_effects=[halo])
    for label in axes.clabel(lines, fmt=lambda value: f"−{abs(value):.0f}", fontsize=8):
        # Level, since a 6 that lies on its side is read as a 9.
        label.set_rotation(0.0)
        label.set(color=INK, path_effects=[withStroke(linewidth=2.6, foreground="white")])


def _frame(axes: Any, pattern: Pattern) -> None:
    edges = _band_edges_hz(pattern, slice(None))
    axes.set_xscale("log")
    axes.set_xlim(edges[0], edges[-1])
    shown = pattern.band_hz[:: max(1, -(-len(pattern.band_hz) // 12))]
    axes.set_xticks(
        [exact_midband_hz(band) for band in shown],
        labels=[short_band_label(band) for band in shown],
    )
    axes.set_xticks([], minor=True)
    axes.set_xlabel("band, Hz")
    low, high = float(pattern.angle_deg[0]), float(pattern.angle_deg[-1])
    axes.set_ylim(low, high)
    step = 30 if high - low > 120 else 10
    axes.set_yticks([a for a in range(-180, 181, step) if low <= a <= high])
    axes.yaxis.set_major_formatter(_angle_text)
    axes.set_ylabel("off-axis angle, upright (positive above the axis)")


def _angle_text(value: float, _position: int) -> str:
    return f"{value:+.0f}°".replace("-", "−") if value else "axis"


def _control(axes: Any, control_from_hz: float | None) -> None:
    if control_from_hz is None:
        return
    axes.axvline(control_from_hz, color="white", linewidth=2.2)
    axes.axvline(control_from_hz, color=INK, linewidth=0.9, linestyle=(0, (1, 2)))
    axes.set_xlabel("band, Hz   (dotted: control of the coverage is lost below it)")

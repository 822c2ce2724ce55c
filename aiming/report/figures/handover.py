"""A fill and what it fills at their handover row: both traces, and one less the other."""

from textwrap import wrap
from typing import Any

import numpy as np

from ...site.handover import Fitted
from . import style as look
from .traces import THIRD, draw_overlay, frequency_axis, less

WIDTH_IN, HEIGHT_IN = 11.69, 5.2
_LEFT, _RIGHT = 0.62, 0.35


def handover_figures(
    found: Fitted, formats: tuple[look.Format, ...] = look.FORMATS
) -> dict[str, bytes]:
    """The page as files: "handover.png", "handover.svg", "handover.pdf" and their bytes."""
    return look.files("handover", lambda: handover_figure(found), formats)


def handover_figure(found: Fitted) -> Any:
    """The page as a matplotlib Figure; to be called inside style.style()."""
    sheet = look.Sheet(WIDTH_IN, HEIGHT_IN)
    headline = wrap(found.headline, 104)
    y = sheet.lines(_LEFT, HEIGHT_IN - 0.34, headline, step=0.22, fontsize=12.0, weight="bold")
    after = "not told" if found.after_ms is None else f"{found.after_ms:.1f} ms"
    told = (
        f"{found.fill} at {found.row}: {after} after {found.main} (planned "
        f"{found.planned_after_ms:.1f} ms), {found.re_main_db:+.1f} dB over it (planned "
        f"{found.planned_re_main_db:+.1f} dB)".replace("-", "−")
    )
    sheet.write(_LEFT, y, told, fontsize=9.0)
    across = WIDTH_IN - _LEFT - _RIGHT
    main, fill = found.traces
    both = sheet.axes(_LEFT, 0.55, 0.46 * across, y - 1.0)
    draw_overlay(both, (main, fill))
    both.set_title(f"1 {found.main}, 2 {found.fill} (Hz)")
    over = sheet.axes(_LEFT + 0.54 * across, 0.55, 0.46 * across, y - 1.0)
    level = less(fill.smoothed(THIRD), main.smoothed(THIRD))
    over.plot(fill.frequency_hz, level, color=look.INK, linewidth=1.3)
    planned = [(b, level) for b, level in found.planned_by_band_db.items() if level is not None]
    over.plot(*zip(*planned, strict=True), color=look.QUIET, linestyle=(0, (5, 3)), marker="o",
              markersize=4.0)  # fmt: skip
    near = [level for _, level in planned]
    seen = level[(fill.frequency_hz > planned[0][0] * 0.6) & (fill.frequency_hz < 2e4)]
    low, high = min(*near, np.min(seen, initial=0.0)), max(*near, np.max(seen, initial=0.0))
    over.set_ylim(low - 3.0, high + 3.0)
    frequency_axis(over, (fill,))
    over.set_ylabel("2 over 1, dB", labelpad=1.0)
    over.set_title("The fill over what it fills, third octaves: line measured, dashed planned (Hz)")
    return sheet.figure

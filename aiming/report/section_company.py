"""Handover and delays in the drawn section."""

from typing import Any

from ..answer.model import SpeakerAnswer
from . import drawing_style as look
from .company_text import setting_text
from .section_parts import Section, note


def draw_handovers(ax: Any, section: Section) -> None:
    """A ring round each handover row, in the fill's own colour, with the fill's time and level."""
    rows, per_m = section.answer.rows, section.shown_per_m
    shown: dict[int, int] = {}
    for index, one in enumerate(section.answer.speakers):
        match = one.match
        if match is None or match.handover_row is None:
            continue
        row = match.handover_row
        at = (float(rows.x_m[row]) * per_m, float(rows.z_m[row]) * per_m)
        ink = look.nth(look.SPEAKER_INKS, index)
        ring = 13.0 + 4.0 * shown.get(row, 0)
        ax.plot(*at, "o", markersize=ring, markerfacecolor="none", color=ink, mew=1.4, zorder=7.5)
        below = -9.0 - 9.0 * shown.get(row, 0)
        shown[row] = shown.get(row, 0) + 1
        time = match.handover_after_main_ms
        text = "handover" if time is None else f"handover, {_signed_ms(time)}"
        note(ax, at, text, offset=(0, below), ha="center", va="top", color=ink, size=6.5)


def name_label(one: SpeakerAnswer, tilt: str) -> str:
    """Name, tilt, and under them gain and delay where they are set."""
    setting = setting_text(one)
    return f"{one.name}, {tilt}" + ("" if setting is None else f"\n{setting}")


def _signed_ms(time_ms: float) -> str:
    return f"{time_ms:+.1f} ms".replace("-", "−")

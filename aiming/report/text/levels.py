"""Level by row in characters: one line for each seating."""

import math

import numpy as np

from ...base.arrays import FloatArray
from ...results.answer import Answer
from ..figures.levels import places
from .terminal import Terminal, printable

_STEPS = "▁▂▃▄▅▆▇█"
_DIGITS = "12345678"
_STEP_DB = 1.5
_MOST_ROWS = 36
_MOST_SEATINGS = 4


def level_lines(answer: Answer, *, terminal: Terminal) -> list[str]:
    """A line that explains, then a strip of marks with its figures for each seating."""
    steps = _STEPS if terminal.blocks else _DIGITS
    _, blocks = places(answer)
    lines = [
        f"Level by row against the mean: {steps[0]} −6 dB or less, {steps[-1]} +6 dB or more, "
        f"a step {_STEP_DB:g} dB"
    ]
    for first, last in blocks[:_MOST_SEATINGS]:
        level = answer.curves.design_db[first : last + 1]
        shown = _thinned(level)
        name = printable(answer.rows.seating[first])[:14]
        start, end = answer.rows.name[first][:4], answer.rows.name[last][:4]
        strip = "".join(_step(float(one), steps) for one in shown)
        lines.append(f"{name:<14} {start:>4} {strip} {end:<4} {_figures(level)}".rstrip())
    if len(blocks) > _MOST_SEATINGS:
        lines.append(f"… and {len(blocks) - _MOST_SEATINGS} more seatings")
    return lines


def _thinned(level_db: FloatArray) -> FloatArray:
    if len(level_db) <= _MOST_ROWS:
        return level_db
    chosen = np.round(np.linspace(0, len(level_db) - 1, _MOST_ROWS)).astype(np.intp)
    return level_db[chosen]


def _step(level_db: float, steps: str) -> str:
    if not math.isfinite(level_db):
        return "?"
    return steps[min(7, max(0, math.floor(level_db / _STEP_DB) + 4))]


def _figures(level_db: FloatArray) -> str:
    if not np.isfinite(level_db).all():
        return "partly unknown"
    low, high = float(level_db.min()), float(level_db.max())
    return f"{low:+.1f} to {high:+.1f} dB".replace("-", "−")

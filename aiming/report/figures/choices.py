"""The decision on paper: what was taken, and what each other choice would give, a line each."""

from ...base.units import length_text, tilt_text
from ...results.answer import Answer
from ...results.choices import Choice, printed
from ..text.words import db_text
from . import style as look
from .section import LEAST_POINTS

STEP_IN = 0.132
"""From line to line."""
_GAP_IN = 0.12
_SET = "--set "


def choices_shown(answer: Answer) -> tuple[Choice, ...]:
    """The one taken and the first others, of all loudspeakers where there are several.

    None where nothing else could be decided.
    """
    whose = answer.speakers[0].name if len(answer.speakers) == 1 else None
    mine = printed(answer.choices, speaker=whose)
    return mine if len(mine) > 1 else ()


def choices_height_in(answer: Answer) -> float:
    """What the table takes of a sheet, its heading included; 0 where there is none."""
    shown = choices_shown(answer)
    return STEP_IN * (len(shown) + 1) if shown else 0.0


def draw_choices(
    sheet: look.Sheet, answer: Answer, *, left_in: float, top_in: float, wide_in: float
) -> None:
    """Lines from a height downwards, in as much width.

    A change that finds no room is not cut, since half a command is none.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    shown = choices_shown(answer)
    if not shown:
        return
    lines = _lines(answer, shown)
    renderer, dots = FigureCanvasAgg(sheet.figure).get_renderer(), sheet.figure.dpi
    x = left_in
    for column, texts in enumerate(zip(*lines, strict=True)):
        made = [
            sheet.write(
                x, top_in - STEP_IN * line, text, fontsize=LEAST_POINTS, va="top", gid="choice",
                weight="bold" if line == 1 else "normal", color=look.INK if line else look.QUIET,
            )
            for line, text in enumerate(texts)
        ]  # fmt: skip
        boxes = [one.get_window_extent(renderer) for one in made]
        if column == len(lines[0]) - 1:
            for one, box in zip(made, boxes, strict=True):
                if box.x1 / dots > left_in + wide_in:
                    one.set_text("see the summary")
        x = max(box.x1 for box in boxes) / dots + _GAP_IN


def _lines(answer: Answer, shown: tuple[Choice, ...]) -> list[list[str]]:
    """The heading and a line for each choice, cell by cell; places only where they are known."""
    placed = shown[0].placement is not None
    choices = (
        "choices; * outside your ranges" if any(one.leaves_ranges for one in shown) else "choices"
    )
    heading = [choices, "spread", "within ±3 dB", *(["tilt", "centre"] if placed else [])]
    return [
        [*heading, f"taken with {_SET}…"],
        *(_line(answer, one, placed=placed) for one in shown),
    ]


def _line(answer: Answer, one: Choice, *, placed: bool) -> list[str]:
    within = one.rows_within_3db_percent
    cells = [
        one.name + ("*" if one.leaves_ranges else ""),
        db_text(one.spread_db),
        "unknown" if within is None else f"{within:.0f} %",
    ]
    if placed:
        there = one.placement
        cells.append("" if there is None else tilt_text(there.tilt_deg))
        cells.append("" if there is None else length_text(there.height_m, answer.scenario.units))
    return [*cells, one.set_text.removeprefix(_SET)]

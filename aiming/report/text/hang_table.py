"""Several loudspeakers as a table, a line each: as much of it as the width holds."""

from dataclasses import dataclass

from ...base.units import length_text, tilt_text
from ...results.answer import Answer, SpeakerAnswer
from .groups import setting_text
from .terminal import printable
from .words import db_text, from_datum_text, row_text, throw_m

_GAP = "  "
_LEAST_NAME = 9
Column = tuple[str, list[str]]
"""What stands above it, and a cell for each loudspeaker."""


@dataclass(frozen=True)
class HangTable:
    """lines: heading and a line for each loudspeaker; axes, settings: what found no column, in
    words, "" where it has one or there is nothing to say."""

    lines: tuple[str, ...]
    axes: str
    settings: str


def hang_table(answer: Answer, *, width: int) -> HangTable:
    """Tilt, height, place, and, where the width allows, axis, gain and delay."""
    several = answer.speakers
    hung = [_tilt(several), *_heights(answer), _places(answer)]
    far, near = _axes(answer, throws=True), _axes(answer, throws=False)
    settings = [setting_text(one) for one in several]
    told = "; ".join(
        f"{one.name} {text.removeprefix('gain ')}"
        for one, text in zip(several, settings, strict=True)
        if text is not None
    )
    gains: list[Column] = []
    if told:
        gain = [db_text(one.gain_db, signed=True) for one in several]
        gains = [("gain", gain), ("delay", [f"{one.delay_ms:.1f} ms" for one in several])]
    said = "; ".join(
        f"{one.name} on row {text}"
        for one, text in zip(several, far[1], strict=True)
        if text != "–"
    )
    ways = [
        ([*hung, far, *gains], "", ""),
        ([*hung, near, *gains], "", ""),
        ([*hung, *gains], said, ""),
        ([*hung, far], "", told),
        ([*hung, near], "", told),
        (hung, said, told),
    ]
    made = [HangTable(_lines(answer, columns), *rest) for columns, *rest in ways]
    return next((one for one in made if max(map(len, one.lines)) < width), made[-1])


def _lines(answer: Answer, columns: list[Column]) -> tuple[str, ...]:
    every = [
        ("HANG".ljust(_LEAST_NAME), [printable(one.name) for one in answer.speakers]),
        *columns,
    ]
    widths = [max(len(cell) for cell in (head, *cells)) for head, cells in every]
    rows = zip(*([head, *cells] for head, cells in every), strict=True)
    return tuple(
        _GAP.join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )


def _tilt(several: tuple[SpeakerAnswer, ...]) -> Column:
    return "nose", [
        tilt_text(one.tilt_deg).removeprefix("nose ")
        + (", flipped" if one.orientation == "flipped" else "")
        for one in several
    ]


def _heights(answer: Answer) -> list[Column]:
    """Trim, where an outline gives one, and the acoustic centre."""
    unit = answer.scenario.units
    trims = [
        "–" if one.trim_m == one.height_m else length_text(one.trim_m, unit)
        for one in answer.speakers
    ]
    centre = "centre", [length_text(one.height_m, unit) for one in answer.speakers]
    return [centre] if set(trims) == {"–"} else [("trim", trims), centre]


def _places(answer: Answer) -> Column:
    unit = answer.scenario.units
    return "from datum", [from_datum_text(one.x_m, unit) for one in answer.speakers]


def _axes(answer: Answer, *, throws: bool) -> Column:
    cells = []
    for one in answer.speakers:
        throw = throw_m(one)
        if throw is None or one.aim_row is None:
            cells.append("–")
            continue
        row = row_text(answer, one.aim_row).removeprefix("row ").replace(" of ", ", ", 1)
        away = f" at {length_text(throw, answer.scenario.units)}" if throws else ""
        cells.append(f"{row}{away}")
    return "axis on row", cells

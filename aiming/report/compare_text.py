"""The comparison in a terminal: one column for each case, 80 columns wide."""

from textwrap import wrap

from .comparison import Case, Line, table_lines
from .terminal import WIDTH, Terminal

_LABEL = 15
_LEAST_COLUMN = 16


def compare_text(cases: tuple[Case, ...], *, terminal: Terminal | None = None) -> str:
    """The table, in blocks of as many cases as fit beside each other, and what has no answer."""
    shown = terminal or Terminal()
    table = table_lines(cases)
    fit = max(1, (WIDTH - _LABEL) // _LEAST_COLUMN)
    lines: list[str] = []
    for first in range(0, len(cases), fit):
        columns = range(first, min(first + fit, len(cases)))
        lines += (
            ["", *_block(cases, table, columns, shown)]
            if lines
            else _block(cases, table, columns, shown)
        )
    for case in cases:
        if case.refusal:
            told = "; ".join(line.strip() for line in case.refusal.splitlines())
            lines += ["", *wrap(f"{case.name}: {told}", WIDTH - 1)]
    lines += ["", *_cautions(cases)]
    return shown.shown("\n".join(lines) + "\n")


def _block(
    cases: tuple[Case, ...], table: list[Line], columns: range, terminal: Terminal
) -> list[str]:
    width = min(26, (WIDTH - _LABEL) // len(columns))
    head = "".join(f" {_cell(cases[column].name, width)}" for column in columns)
    lines = [terminal.bold(f"{'':<{_LABEL}}{head}".rstrip())]
    about = ""
    for line in table:
        if line.about != about:
            lines.append(terminal.bold(line.about))
            about = line.about
        cells = "".join(f" {_cell(line.texts[column], width)}" for column in columns)
        lines.append(f"{_cut(terminal.plain(line.label), _LABEL):<{_LABEL}}{cells}".rstrip())
    return lines


def _cell(text: str, width: int) -> str:
    return f"{_cut(text, width - 1):<{width - 1}}"


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _cautions(cases: tuple[Case, ...]) -> list[str]:
    """What stops any of them, and what not all of them have, in full; the plain caution once."""
    lines = []
    plain = ""
    answers = [case.answer for case in cases if case.answer is not None]
    codes = [{one.code for one in answer.cautions} for answer in answers]
    shared = set.intersection(*codes) if codes else set()
    for case in cases:
        for one in case.answer.cautions if case.answer else ():
            if one.severity == "stop":
                lines += _wrapped(f"STOP, {case.name}: {one.text}")
            elif one.severity == "caution" and one.code not in shared:
                lines += _wrapped(f"Caution, {case.name}: {one.text}")
            if one.code == "no-rigging-design":
                plain = one.text
    return [*lines, *_wrapped(f"Caution: {plain}")] if plain else lines


def _wrapped(text: str) -> list[str]:
    return wrap(text, WIDTH - 1, subsequent_indent="  ")

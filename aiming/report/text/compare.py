"""What is compared: some answers, and the lines of a table that tell them apart."""

from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from ...base.bands import band_label
from ...base.units import length_text, tilt_text
from ...results.answer import Answer, SpeakerAnswer
from ...results.case import Case
from .cautions import about_text, counted, said_once
from .groups import setting_text
from .terminal import ON_PAPER, Terminal, cut
from .words import db_text, from_datum_text, height_word, loudest_softest, mass_of_text, row_text


@dataclass(frozen=True)
class ComparedLine:
    """One line of the table: what it is, and each case's text; about: the loudspeaker, or ""."""

    about: str
    label: str
    texts: tuple[str, ...]


def table_lines(cases: tuple[Case, ...]) -> list[ComparedLine]:
    """All together first where there are several, then loudspeaker by loudspeaker; cautions."""
    answers = [case.answer for case in cases if case.answer is not None]
    # Where each case has one loudspeaker these are compared, whatever their names.
    alone = all(len(answer.speakers) == 1 for answer in answers)
    names = dict.fromkeys(one.name for answer in answers for one in answer.speakers)
    bands = sorted({band for answer in answers for band in answer.bands_hz})
    together = [_together_texts(case, several=not alone) for case in cases]
    whole = _in_columns("" if alone else "all together", together)
    lines = []
    for name in [None] if alone else names:
        lines += _in_columns(name or "", [_speaker_texts(case, name, bands) for case in cases])
    return [*lines, *whole] if alone else [*whole, *lines]


def _in_columns(about: str, columns: list[dict[str, str]]) -> list[ComparedLine]:
    """A line for each label that any case has."""
    return [
        ComparedLine(about, label, tuple(column.get(label, "–") for column in columns))
        for label in dict.fromkeys(label for column in columns for label in column)
    ]


def compared_dict(cases: tuple[Case, ...]) -> dict[str, Any]:
    """Plain data for JSON: each case's whole answer, or why it has none."""
    return {
        "schema": 1,
        "compared": [
            {
                "name": case.name,
                "answer": None if case.answer is None else case.answer.to_dict(),
                "no_placement": case.refusal or None,
            }
            for case in cases
        ],
    }


def _speaker_texts(case: Case, name: str | None, bands: list[float]) -> dict[str, str]:
    """Of the loudspeaker of this name, or of the only one."""
    if case.answer is None:
        return {"tilt": "no placement"}
    for one in case.answer.speakers:
        if name is None or one.name == name:
            return _texts_of(case, case.answer, one, bands)
    return {}


def _texts_of(case: Case, answer: Answer, one: SpeakerAnswer, bands: list[float]) -> dict[str, str]:
    unit = case.scenario.units
    alone = answer.curves.alone[one.name]
    rows, level = alone.rows, alone.level_db
    within = one.rows_within_3db_percent
    texts = {
        "tilt": tilt_text(one.tilt_deg),
        "hung as": f"{one.mount}, {one.orientation}",
        "acoustic centre": length_text(one.height_m, unit),
        "trim": "not known" if height_word(one) == "centre" else length_text(one.trim_m, unit),
        "from datum": from_datum_text(one.x_m, unit),
    }
    if setting_text(one) is not None:
        texts["gain"] = db_text(one.gain_db, signed=True)
        texts["delay"] = f"{one.delay_ms:.1f} ms"
    texts["spread"] = db_text(one.spread_db)
    for band in bands:
        of = one.by_band.get(band)
        texts[f"  {band_label(band)}"] = "–" if of is None else db_text(of.spread_db)
    texts["within ±3 dB"] = "unknown" if within is None else f"{within:.0f} % of rows"
    if one.spread_db is not None:
        _, softest = loudest_softest(level)
        texts["softest row"] = (
            f"{row_text(answer, int(rows[softest])).removeprefix('row ')}, "
            f"{db_text(float(level[softest]), signed=True)}"
        )
    greatest = one.output.greatest if one.output else None
    if greatest is not None and greatest.headroom_db is not None:
        texts["headroom"] = db_text(greatest.headroom_db, signed=True)
    for point in () if one.loads is None else one.loads.points:
        texts[f"load {point.name}"] = mass_of_text(point.tension_n, unit)
    return texts


def _together_texts(case: Case, *, several: bool) -> dict[str, str]:
    if case.answer is None:
        return {"cautions": "no placement"}
    texts = {}
    if several and case.answer.together is not None:
        every = case.answer.together
        texts["spread"] = db_text(every.spread_db)
        within = every.rows_within_3db_percent
        texts["within ±3 dB"] = "unknown" if within is None else f"{within:.0f} % of rows"
    texts["cautions"] = counted(case.answer)
    return texts


# The comparison in a terminal: one column for each case.

_LABEL = 15
_LEAST_COLUMN = 16


def compare_text(cases: tuple[Case, ...], *, terminal: Terminal = ON_PAPER) -> str:
    """The table, in blocks of as many cases as fit beside each other, and what has no answer."""
    table = table_lines(cases)
    fit = max(1, (terminal.width - _LABEL) // _LEAST_COLUMN)
    lines: list[str] = []
    for first in range(0, len(cases), fit):
        columns = range(first, min(first + fit, len(cases)))
        lines += [*([""] if lines else []), *_block(cases, table, columns, terminal)]
    for case in cases:
        if case.refusal:
            told = "; ".join(line.strip() for line in case.refusal.splitlines())
            lines += ["", *wrap(f"{case.name}: {told}", terminal.width - 1)]
    lines += ["", *_verdicts(cases, terminal), *_cautions(cases, terminal)]
    return terminal.shown("\n".join(lines) + "\n")


def _block(
    cases: tuple[Case, ...], table: list[ComparedLine], columns: range, terminal: Terminal
) -> list[str]:
    width = min(26, (terminal.width - _LABEL) // len(columns))
    head = "".join(f" {_cell(cases[column].name, width)}" for column in columns)
    lines = [terminal.bold(f"{'':<{_LABEL}}{head}".rstrip())]
    about = ""
    for line in table:
        if line.about != about:
            lines.append(terminal.bold(line.about))
            about = line.about
        cells = "".join(f" {_cell(line.texts[column], width)}" for column in columns)
        lines.append(f"{cut(terminal.plain(line.label), _LABEL):<{_LABEL}}{cells}".rstrip())
    return lines


def _cell(text: str, width: int) -> str:
    return f"{cut(text, width - 1):<{width - 1}}"


_SAME_DB, _SAME_M = 0.05, 0.005


def _verdicts(cases: tuple[Case, ...], terminal: Terminal) -> list[str]:
    """Each case against the first in a sentence: how even it is, how high it hangs."""
    first, *others = cases
    lines = []
    for case in others:
        text = verdict_text(first, case)
        if text:
            lines += _wrapped(terminal.plain(text), terminal)
    return [*lines, ""] if lines else []


def verdict_text(first: Case, case: Case) -> str:
    """“B” is 1.9 dB more even than “A” and hangs 0.8 m lower; "" where one has no answer."""
    if first.answer is None or case.answer is None:
        return ""
    before, after = _evenness_db(first.answer), _evenness_db(case.answer)
    if before is None or after is None:
        return ""
    gain = before - after
    if abs(gain) < _SAME_DB:
        text = f'"{case.name}" is as even as "{first.name}"'
    else:
        word = "more" if gain > 0.0 else "less"
        text = f'"{case.name}" is {abs(gain):.1f} dB {word} even than "{first.name}"'
    one, other = first.answer.speakers, case.answer.speakers
    if len(one) == len(other) == 1:
        higher = other[0].trim_m - one[0].trim_m
        if "centre" in (height_word(one[0]), height_word(other[0])):
            higher = other[0].height_m - one[0].height_m
        word = "hangs" if other[0].mount == "flown" else "stands"
        if abs(higher) >= _SAME_M:
            way = "higher" if higher > 0.0 else "lower"
            text += f" and {word} {length_text(abs(higher), case.scenario.units)} {way}"
        turn = other[0].tilt_deg - one[0].tilt_deg
        if abs(turn) >= _SAME_DB:
            text += f", pointing {abs(turn):.1f}° {'higher' if turn > 0.0 else 'lower'}"
    stops = "; it has a STOP" if case.answer.stopped else ""
    return f"{text}{stops}."


def _evenness_db(answer: Answer) -> float | None:
    """The spread of the only loudspeaker, or of all together."""
    if len(answer.speakers) == 1:
        return answer.speakers[0].spread_db
    return None if answer.together is None else answer.together.spread_db


def _cautions(cases: tuple[Case, ...], terminal: Terminal) -> list[str]:
    """What stops any of them, and what not all of them have, in full; the plain caution once."""
    lines = []
    plain = ""
    answers = [case.answer for case in cases if case.answer is not None]
    codes = [{one.code for one in answer.cautions} for answer in answers]
    shared = set.intersection(*codes) if codes else set()
    for case in cases:
        several = case.answer is not None and len(case.answer.speakers) > 1
        for one in said_once(case.answer) if case.answer else ():
            about = about_text(one, several)
            if one.severity == "stop":
                lines += _wrapped(f"STOP, {case.name}: {about}", terminal)
            elif one.severity == "caution" and one.code not in shared:
                lines += _wrapped(f"Caution, {case.name}: {about}", terminal)
            if one.code == "no-rigging-design":
                plain = one.text
    return [*lines, *_wrapped(f"Caution: {plain}", terminal)] if plain else lines


def _wrapped(text: str, terminal: Terminal) -> list[str]:
    return wrap(text, terminal.width - 1, subsequent_indent="  ")

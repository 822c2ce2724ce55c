"""Cautions where they cannot be missed: what stops first, then the plain one, nothing unsaid."""

from dataclasses import replace

from ...results.answer import Answer, Caution
from .terminal import Terminal, hanging, printable

_LABELS = {"stop": "STOP", "caution": "Caution", "note": "Note"}
_PLAIN = "no-rigging-design"
_ALWAYS = "section-only"
MOST_STOP_LINES = 10
MOST_CAUTION_LINES = 7
MOST_NOTE_LINES = 4


def caution_lines(answer: Answer, *, terminal: Terminal) -> list[str]:
    """Each in full while there is room, the rest by their codes; the plain one always in full."""
    told = _said_once(answer)
    stops = [one for one in told if one.severity == "stop"]
    plain = [one for one in told if one.code == _PLAIN and one not in stops]
    others = [one for one in told if one.severity == "caution" and one not in plain]
    several = len(answer.speakers) > 1
    return [
        *_in_room(stops, several, terminal, MOST_STOP_LINES),
        *_in_room(plain, several, terminal, MOST_CAUTION_LINES),
        *_in_room(others, several, terminal, MOST_CAUTION_LINES),
        *_note_lines(answer, terminal),
    ]


def caution_line(one: Caution) -> str:
    """One caution in one line, for standard error."""
    about = f"{printable(one.speaker)}: " if one.speaker else ""
    return f"{_LABELS[one.severity]}: {about}{printable(one.text)}"


def _said_once(answer: Answer) -> list[Caution]:
    """What is said alike of several loudspeakers, said once of all of them."""
    found: dict[tuple[str, str, str], list[Caution]] = {}
    for one in answer.cautions:
        found.setdefault((one.severity, one.code, one.text), []).append(one)
    return [
        replace(alike[0], speaker=", ".join(one.speaker for one in alike if one.speaker) or None)
        for alike in found.values()
    ]


def _in_room(told: list[Caution], several: bool, terminal: Terminal, most_lines: int) -> list[str]:
    lines: list[str] = []
    for index, one in enumerate(told):
        text = _wrapped(one, several=several, terminal=terminal)
        left = told[index:]
        if len(lines) + len(text) + (len(left) > 1) > most_lines:
            codes = ", ".join(dict.fromkeys(one.code for one in left))
            label = f"{_LABELS[one.severity]}, {len(left)} more in full with --json or --out:"
            return lines + [terminal.bold(line) for line in hanging(f"{label} {codes}")]
        lines += text
    return lines


def _wrapped(one: Caution, *, several: bool, terminal: Terminal) -> list[str]:
    about = f"{one.speaker}: " if several and one.speaker else ""
    label = f"{_LABELS[one.severity]}:"
    first, *rest = hanging(terminal.plain(f"{label} {about}{one.text}"))
    heavy = terminal.alarm if one.severity == "stop" else terminal.bold
    return [heavy(label) + first[len(label) :], *rest]


def _note_lines(answer: Answer, terminal: Terminal) -> list[str]:
    """Notes in one paragraph, those of several loudspeakers said once, the last by their codes."""
    notes = [one for one in answer.cautions if one.severity == "note"]
    notes.sort(key=lambda one: one.code != _ALWAYS)
    by_text = {terminal.plain(one.text).rstrip("."): one.code for one in notes}
    texts = [f"{text[:1].upper()}{text[1:]}." for text in by_text]
    lines: list[str] = []
    for full in range(len(texts), -1, -1):
        codes = ", ".join(dict.fromkeys(list(by_text.values())[full:]))
        more = [f"In full with --json or --out: {codes}."] if codes else []
        lines = hanging(" ".join(["Note:", *texts[:full], *more]))
        if len(lines) <= MOST_NOTE_LINES:
            break
    return lines[:MOST_NOTE_LINES] if texts else []

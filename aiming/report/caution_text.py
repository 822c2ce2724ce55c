"""Cautions where they cannot be missed: what stops first, nothing left out unsaid."""

from ..answer.model import Answer, Caution
from .terminal import Terminal, labelled, printable

_LABELS = {"stop": "STOP", "caution": "caution", "note": "note"}
_PLAIN = "no-rigging-design"
_ALWAYS = ("section-only", "structure-not-checked")
MOST_CAUTION_LINES = 13
MOST_NOTE_LINES = 6


def caution_lines(answer: Answer, *, terminal: Terminal) -> list[str]:
    """What stops, then cautions, in full while they fit and else by their codes; then notes."""
    told = [one for one in answer.cautions if one.severity != "note"]
    told.sort(key=lambda one: (one.severity != "stop", one.code == _PLAIN))
    lines: list[str] = []
    for index, one in enumerate(told):
        text = _wrapped(one, several=len(answer.speakers) > 1, terminal=terminal)
        left = told[index:]
        if len(lines) + len(text) + 2 * (len(left) > 1) > MOST_CAUTION_LINES:
            lines += _left_over(left, terminal)
            break
        lines += text
    return lines + _note_lines(answer)


def caution_line(one: Caution) -> str:
    """One caution in one line, for standard error."""
    about = f"{printable(one.speaker)}: " if one.speaker else ""
    return f"{_LABELS[one.severity]}: {about}{printable(one.text)}"


def _wrapped(one: Caution, *, several: bool, terminal: Terminal) -> list[str]:
    about = f"{printable(one.speaker)}: " if several and one.speaker else ""
    label = _LABELS[one.severity]
    lines = labelled(label, about + printable(one.text))
    heavy = terminal.alarm if one.severity == "stop" else terminal.bold
    return [heavy(label) + lines[0][len(label) :], *lines[1:]]


def _left_over(left: list[Caution], terminal: Terminal) -> list[str]:
    codes = ", ".join(dict.fromkeys(one.code for one in left))
    stops = sum(one.severity == "stop" for one in left)
    count = f"{len(left)} more" + (f", {stops} of them STOP" if stops else "")
    lines = labelled("and", f"{count}, in full with --json or --out: {codes}")
    return [terminal.bold(line) for line in lines[:2]]


def _note_lines(answer: Answer) -> list[str]:
    """Notes in one paragraph, those of several loudspeakers said once, the last by their codes."""
    notes = [one for one in answer.cautions if one.severity == "note"]
    notes.sort(key=lambda one: one.code not in _ALWAYS)
    by_text = {printable(one.text).rstrip("."): one.code for one in notes}
    texts = [f"{text[:1].upper()}{text[1:]}." for text in by_text]
    for full in range(len(texts), -1, -1):
        codes = ", ".join(dict.fromkeys(list(by_text.values())[full:]))
        more = [f"And, in full with --json or --out: {codes}."] if codes else []
        lines = labelled("notes", " ".join(texts[:full] + more))
        if len(lines) <= MOST_NOTE_LINES:
            return lines if texts else []
    return lines[:MOST_NOTE_LINES]

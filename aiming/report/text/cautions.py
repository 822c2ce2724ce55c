"""Cautions where they cannot be missed: counted, briefly, and in full; each said once."""

from dataclasses import replace

from ...cautions.declare import DECLARED
from ...cautions.sense import __name__ as SENSE
from ...results.answer import Answer, Caution
from .terminal import Terminal, hanging, printable

_LABELS = {"stop": "STOP", "caution": "Caution", "note": "Note"}
_PLAIN = "no-rigging-design"
_PLAIN_BRIEFLY = "not a rigging design; codes, maker's data, competent persons prevail"
_LEAST_CLAUSE = 16
"""A shorter beginning before a colon says too little by itself."""
_MOST_BRIEFLY = 2


def counted(answer: Answer) -> str:
    """ "no stops, 2 cautions"."""
    number = {
        severity: sum(one.severity == severity for one in said_once(answer))
        for severity in ("stop", "caution")
    }
    stops = f"{number['stop']} STOP{'S' if number['stop'] > 1 else ''}"
    cautions = f"{number['caution']} caution{'' if number['caution'] == 1 else 's'}"
    return f"{stops if number['stop'] else 'no stops'}, {cautions}"


def said_once(answer: Answer) -> list[Caution]:
    """What is said alike of several loudspeakers, said once of all of them."""
    found: dict[tuple[str, str, str], list[Caution]] = {}
    for one in answer.cautions:
        found.setdefault((one.severity, one.code, one.text), []).append(one)
    return [
        replace(alike[0], speaker=", ".join(one.speaker for one in alike if one.speaker) or None)
        for alike in found.values()
    ]


def stop_texts(answer: Answer) -> list[str]:
    """What stops, in full."""
    several = len(answer.speakers) > 1
    return [about_text(one, several) for one in said_once(answer) if one.severity == "stop"]


def doubtful(answer: Answer) -> list[Caution]:
    """What is likely a slip, and asks so: read before the figures are believed."""
    return [
        one
        for one in said_once(answer)
        if one.severity == "caution" and one.text.endswith("?")
        if one.code in DECLARED and DECLARED[one.code].topic == SENSE
    ]


def briefly(answer: Answer) -> list[str]:
    """The plain caution in few words, then the others, each by its first clause.

    What is likely a slip comes first, and in full: its last words name the slip.
    """
    slips = doubtful(answer)
    told = [
        one
        for one in said_once(answer)
        if one.severity == "caution" and one.code != _PLAIN and one not in slips
    ]
    plain = [_PLAIN_BRIEFLY] if any(one.code == _PLAIN for one in answer.cautions) else []
    several = len(answer.speakers) > 1
    if slips:
        more = len(slips) + len(told) - 1
        return [*plain, about_text(slips[0], several) + (f" And {more} more" if more else "")]
    parts = [
        about_text(replace(one, text=_clause(one.text)), several) for one in told[:_MOST_BRIEFLY]
    ]
    if len(told) > _MOST_BRIEFLY:
        parts.append(f"and {len(told) - _MOST_BRIEFLY} more")
    return [*plain, *(["; ".join(parts)] if parts else [])]


def full_lines(answer: Answer, *, terminal: Terminal) -> list[str]:
    """Each in full: what stops, the plain one, the others, the notes."""
    order = {"stop": 0, "caution": 1, "note": 2}
    told = sorted(said_once(answer), key=lambda one: (order[one.severity], one.code != _PLAIN))
    several, lines = len(answer.speakers) > 1, []
    for one in told:
        label = f"{_LABELS[one.severity]}:"
        text = about_text(one, several)
        first, *rest = hanging(terminal.plain(f"{label} {text}"), width=terminal.width)
        heavy = terminal.alarm if one.severity == "stop" else terminal.bold
        lines += [heavy(label) + first[len(label) :], *rest]
    return lines


def caution_line(one: Caution) -> str:
    """One caution in one line, for standard error."""
    about = f"{printable(one.speaker)}: " if one.speaker else ""
    return f"{_LABELS[one.severity]}: {about}{printable(one.text)}"


def about_text(one: Caution, several: bool) -> str:
    """The caution, after whom it is about where there are several."""
    return f"{one.speaker}: {one.text}" if several and one.speaker else one.text


def _clause(text: str) -> str:
    """The first clause that says something by itself."""
    ends = [text.find(mark, _LEAST_CLAUSE) for mark in (": ", "; ", ", so ", ". ", " (")]
    found = [end for end in ends if end > 0]
    return text[: min(found)] if found else text.rstrip(".")

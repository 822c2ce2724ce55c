"""What `aiming solve` prints: a first screen of at most twelve lines, and everything.

The first screen has the answer in its first lines; what stops stands before it.  Nothing goes
missing in silence: its last line says what was left out, and how to see it.
"""

from dataclasses import dataclass
from textwrap import shorten

from ...base.units import length_text, tilt_text
from ...results.answer import Answer
from . import sentences as say
from .cautions import briefly, counted, doubtful, full_lines, said_once, stop_texts
from .hang_table import hang_table
from .levels import level_lines
from .section import section_lines
from .terminal import INDENT, ON_PAPER, Terminal, labelled, printable
from .words import db_text

MOST_LINES = 12
_WANTED = 3
"""Where not all down to this rank find room, the last line is kept to one."""
_STOPS_IN_FULL, _MOST_STOP = 2, 200
"""As many always stand before the answer; their number stands above them all."""


@dataclass(frozen=True)
class Item:
    """One thing to read; rank: the greatest go first where there is no room; 0 always stays.

    called: how the last line names it where it is left out
    table: lines that stand as they are, after no label
    """

    sentence: say.Sentence
    rank: int
    called: str = ""
    stops: bool = False
    table: tuple[str, ...] = ()


def first_screen_text(answer: Answer, *, terminal: Terminal = ON_PAPER) -> str:
    """At most twelve lines, ending in a line break."""
    every = _items(answer, width=terminal.width, brief=True)
    wanted = {place for place, item in enumerate(every) if item.rank <= _WANTED}
    kept = {place for place in wanted if every[place].rank == 0}

    def lines(kept: set[int], *, terse: bool = False) -> list[str]:
        chosen = [every[place] for place in sorted(kept)]
        missing = sorted((of for of in every if of not in chosen), key=lambda of: of.rank)
        left = [item.called for item in missing]
        room = terminal.width - INDENT - 1 if terse else None
        more = labelled("MORE", _more(answer, left, room=room), width=terminal.width)
        return [*_lines(answer, chosen, terminal), *more]

    terse = len(lines(wanted)) > MOST_LINES
    cautions_first = [(item.rank, item.called != _CAUTIONS) for item in every]
    for place in sorted(range(len(every)), key=cautions_first.__getitem__):
        if len(lines(kept | {place}, terse=terse)) <= MOST_LINES:
            kept |= {place}
    return terminal.shown("\n".join(lines(kept, terse=terse)) + "\n")


def summary_text(answer: Answer, *, terminal: Terminal = ON_PAPER) -> str:
    """Everything, ending in a line break."""
    brief = [
        item
        for item in _items(answer, width=terminal.width, brief=False)
        if item.called not in (_CAUTIONS, _CHOICES)
    ]
    lines = _lines(answer, brief, terminal)
    for name, details in say.details_of(answer):
        lines += ["", *([terminal.bold(printable(name))] if name else [])]
        for sentence in details:
            lines += _wrapped(sentence, terminal)
    lines += ["", *full_lines(answer, terminal=terminal)]
    lines += ["", *level_lines(answer, terminal=terminal)]
    lines += ["", *section_lines(answer, terminal=terminal)]
    return terminal.shown("\n".join(lines) + "\n")


def short_text(answer: Answer) -> str:
    """One line for each loudspeaker: the aim and nothing else."""
    lines = [
        f"{printable(one.name)}: {tilt_text(one.tilt_deg)}, {one.orientation}, height "
        f"{length_text(one.height_m, answer.scenario.units)}, spread {db_text(one.spread_db)}"
        for one in answer.speakers
    ]
    return "\n".join(lines) + "\n"


_CAUTIONS, _CHOICES = "cautions", "choices"
"""Said at length further down in the full text."""


def _items(answer: Answer, *, width: int, brief: bool) -> list[Item]:
    """What the first screen (brief), or the head of the full text says, in the order of reading."""
    items = [
        Item(("STOP", _cut(text)), 0 if place < _STOPS_IN_FULL else 2, "more stops", stops=True)
        for place, text in enumerate(stop_texts(answer))
    ]
    alone = len(answer.speakers) == 1
    items += _one(answer, brief=brief) if alone else _several(answer, width=width, brief=brief)
    later = 1 if doubtful(answer) else 5
    for place, text in enumerate(briefly(answer)):
        items.append(Item(("CAUTIONS", text), 1 if place == 0 else later, _CAUTIONS))
    return items


def _cut(text: str) -> str:
    """A stop in three lines at most; the rest is in the full text."""
    return shorten(text, _MOST_STOP, placeholder=" …")


def _one(answer: Answer, *, brief: bool) -> list[Item]:
    [one] = answer.speakers
    items = [
        Item(say.set_sentence(answer, one), 0),
        Item(say.evenness_sentence(answer, one), 0),
        Item(say.datum_sentence(answer), 1, "datum"),
    ]
    items += [Item(said, 3, said[0].lower()) for said in say.uneven_sentences(answer, one)]
    later = [
        (say.band_sentence(one.by_band), 7, "bands"),
        (say.within_sentence(answer, one), 3, "set within"),
        (say.loads_sentence(answer, one), 2, "loads"),
    ]
    items += [Item(said, rank, called) for said, rank, called in later if said is not None]
    for said in say.better_choices(answer, one):
        items.append(Item(said, 1, _CHOICES))
    proof = say.proof_sentence(answer, one, brief=brief)
    return items if proof is None else [*items, Item(proof, 2, "proof")]


def _several(answer: Answer, *, width: int, brief: bool) -> list[Item]:
    items = [Item(say.together_sentence(answer), 0)]
    table = hang_table(answer, width=width)
    items.append(Item(("", ""), 0, table=table.lines))
    if table.settings:
        items.append(Item(("GAIN", table.settings), 1, "gains and delays"))
    if (proof := say.together_proof_sentence(answer, brief=brief)) is not None:
        items.append(Item(proof, 1, "proof"))
    if (held := say.held_by_sentence(answer)) is not None:
        items.append(Item(held, 1, "what holds it"))
    items.append(Item(say.datum_sentence(answer), 2, "datum"))
    if table.axes:
        items.append(Item(("AXES", table.axes), 3, "axes"))
    items += [Item(said, 3, said[0].lower()) for said in say.uneven_sentences(answer, None)]
    for one in answer.speakers:
        if (loads := say.loads_sentence(answer, one)) is not None:
            items.append(Item((loads[0], f"{one.name}: {loads[1]}"), 3, "loads"))
    for said in say.better_choices(answer, None):
        items.append(Item(said, 1, _CHOICES))
    if answer.together is not None:
        bands = say.band_sentence(answer.together.by_band)
        items.append(Item(bands, 7, "bands"))
    return items


def _lines(answer: Answer, items: list[Item], terminal: Terminal) -> list[str]:
    lines = [terminal.bold(_title(answer, terminal))]
    before = ""
    for item in items:
        if item.table:
            head, *rows = (terminal.plain(line) for line in item.table)
            lines += [head, *map(terminal.bold, rows)]
            continue
        label, text = item.sentence
        repeated, before = label == before and not item.stops, label
        shown = "" if repeated else label
        wrapped = _wrapped((shown, text), terminal)
        if item.stops:
            wrapped = [terminal.alarm(line) for line in wrapped]
        elif item.rank == 0 or item.called == label:
            wrapped = [terminal.bold(line) for line in wrapped]
        lines += wrapped
    return lines


def _wrapped(sentence: say.Sentence, terminal: Terminal) -> list[str]:
    label, text = sentence
    return labelled(terminal.plain(label), terminal.plain(text), width=terminal.width)


def _title(answer: Answer, terminal: Terminal) -> str:
    """The title, and how many cautions of which kind, at the right edge."""
    room, count = terminal.width - 1, counted(answer)
    title = shorten(printable(answer.scenario.title), room - len(count) - 2, placeholder=" …")
    return f"{title}{count:>{room - len(title)}}"


def _more(answer: Answer, left: list[str], *, room: int | None = None) -> str:
    """What the first screen leaves out, and how to see it; with room, what fills a line."""
    found = [of for of in left if of not in (_CAUTIONS, _CHOICES)]
    every = [f"{_CHOICES} in full"] * (len(answer.choices) > len(answer.speakers))
    named = dict.fromkeys([*found, *every, "cautions in full", *say.DETAILS])
    notes = sum(one.severity == "note" for one in said_once(answer))
    if notes:
        named[f"{notes} note{'s' if notes > 1 else ''}"] = None
    told = list(named)
    text = f"--full shows {', '.join(told)}"
    while room is not None and len(text) > room and told:
        told.pop()
        text = f"--full shows {', '.join([*told, 'and more'])}"
    return text

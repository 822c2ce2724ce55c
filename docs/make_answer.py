"""docs/answer.md, every field of the answer: `python docs/make_answer.py`.

The fields of the answer and of what `onsite` gives are described where they are declared, in
aiming/results/ and aiming/site/; those of `what-if`, whose columns its caller chooses, in
answer_fields_sweep.py.  test_answer_page.py walks answers of every shipped scenario and fails
where a field is not described, or is not what is said of it.
"""

import sys
from dataclasses import is_dataclass
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from aiming.base.arrays import FloatArray
from aiming.base.described import Columns, Kind, described
from aiming.results.answer import Answer, Caution, RowsAnswer, SpeakerAnswer, Together
from aiming.results.choices import Choice
from aiming.site.check_plan import CheckPlan
from aiming.site.ground_found import GroundFound
from aiming.site.ground_trial import GroundTrial
from aiming.site.handover import Fitted
from aiming.site.model import Found

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import answer_fields_sweep as sweep  # noqa: E402
from answer_python import PYTHON, PYTHON_HEAD  # noqa: E402

HEAD = """\
# The answer

What `aiming solve FILE --json` and `aiming evaluate FILE --json` print, what stands in
`answer.json`, and what `answer.to_dict()` gives: one form, the same names everywhere. After it what
`aiming onsite --json` and `aiming what-if` give. Made by `python docs/make_answer.py`; a test holds
it against the answers of every scenario shipped. What goes in is in the [reference](reference.md),
the words are in the [conventions](conventions.md).

- `[]` stands for each member of a list, BAND for a nominal band in Hz (`"1000"`, `"31.5"`), SPEAKER
  and NAME for names of the file. **Indices count from 0.**
- The unit is at the end of every name. Lengths are metres and angles degrees whatever the file's
  `units`. There is no NaN and no infinity: what is not known is null, and no figure over several
  rows is taken over the known ones alone.
- Levels are those of 1 W into gain and equaliser where `sensitivity_db` is given; without one they
  are relative to 1 m on axis. Only `output` holds levels that a programme reaches.
- Full precision, no times and no dates: the same file gives the same bytes.
- `check_positions[].levels_db` is relative to the first position, not a level; `severity` is
  `stop`, `caution` or `note`, and a stop ends the program with exit code 3.
- A figure under every limit is not thereby fit to be hung over people. This is no rigging design.
"""


Entries = dict[str, tuple[str, str]]
"""By path: the kind of value, and what it means."""


class Section(NamedTuple):
    """A heading, what is said under it, and its entries."""

    heading: str
    said: str
    entries: Entries


# The answer itself: each field is described where it is declared.

_OF_TOP = {"speakers", "together", "choices", "rows", "cautions"}
"""Tables of the answer that have sections of their own."""
_LARGE = 5
"""A table of a loudspeaker with more entries than this has a section of its own."""
_SIMPLE = {float: "number", int: "whole number", str: "text", bool: "true or false"}
_MANY = {float: "list of numbers", int: "list of whole numbers", str: "list of text"}


def told(cls: type, prefix: str, *, leave: set[str] | None = None) -> Entries:
    """Every field of a dataclass, and of the tables in it but for those left out."""
    found: Entries = {}
    for one in described(cls):
        path, column = prefix + one.name, issubclass(cls, Columns)
        declared, null = _without_none(one.type)
        if get_origin(declared) is dict and get_args(declared)[1] is not Any:
            key, value = get_args(declared)
            path += ".BAND" if key is float else f".{one.keyed_by}"
            declared, null = _without_none(value)
        elif column and get_origin(declared) is tuple:
            declared, null = _without_none(get_args(declared)[0])
        elif column and declared is FloatArray:
            path += ".BAND" if one.by_band else ""
            declared, null = float, "null" in one.meaning
        kind = one.kind or _kind(declared, null=null)
        found[path] = kind, one.meaning
        inner = _inner(declared)
        if inner is not None and one.name not in (leave or ()):
            several = "[]" if kind.startswith("list of tables") else ""
            found |= told(inner, f"{path}{several}.")
    return found


def _without_none(declared: Any) -> tuple[Any, bool]:
    """The type, and whether it may be None."""
    if get_origin(declared) in (Union, UnionType):
        of = [one for one in get_args(declared) if one is not NoneType]
        return of[0], len(of) < len(get_args(declared))
    return declared, False


def _inner(declared: Any) -> type | None:
    """The dataclass that a table, or each of a list of tables, is made of."""
    if get_origin(declared) is tuple:
        declared = get_args(declared)[0]
    return declared if isinstance(declared, type) and is_dataclass(declared) else None


def _kind(declared: Any, *, null: bool) -> str:
    if declared is bool and null:
        return "true, false or null"
    return _never_null(declared) + (" or null" if null else "")


def _never_null(declared: Any) -> str:
    if declared in _SIMPLE:
        return _SIMPLE[declared]
    if get_origin(declared) is Literal:
        return "text"
    if get_origin(declared) is Annotated:
        return next(of.words for of in get_args(declared) if isinstance(of, Kind))
    if declared == tuple[float, float]:
        return "[low, high]"
    if get_origin(declared) is tuple and get_args(declared)[0] in _MANY:
        return _MANY[get_args(declared)[0]]
    several = get_origin(declared) is tuple or issubclass(declared, Columns)
    return "list of tables" if several else "table"


def _speaker_sections() -> tuple[Section, ...]:
    """One for the loudspeaker, and one for each large table of it."""
    first, large = told(SpeakerAnswer, "speakers[]."), {}
    for one in described(SpeakerAnswer):
        below = tuple(f"speakers[].{one.name}{end}" for end in (".", "[]."))
        part = {path: of for path, of in first.items() if path.startswith(below)}
        if len(part) > _LARGE:
            large[one.name] = part
            first = {path: of for path, of in first.items() if path not in part}
    return (
        Section("Loudspeaker", "Alone, over the rows that it serves.", first),
        *(Section(f"Loudspeaker: `{name}`", "", part) for name, part in large.items()),
    )


def entries(block: str) -> Entries:
    """By path: the kind of value, and what it means."""
    found: Entries = {}
    for one in block.strip().replace("\n  ", " ").splitlines():
        path, kind, meaning = one.split(": ", 2)
        assert path not in found, path
        found[path] = kind, meaning
    return found


SECTIONS = {
    "answer": (
        Section("Top", "", told(Answer, "", leave=_OF_TOP)),
        *_speaker_sections(),
        Section("Together", "All loudspeakers over all rows.", told(Together, "together.")),
        Section("Choices", "", told(Choice, "choices[].")),
        Section("Rows", "", told(RowsAnswer, "rows[].")),
        Section(
            "Cautions",
            "The plain one first, then stops, cautions and notes.",
            told(Caution, "cautions[]."),
        ),
    ),
    "onsite": (
        Section(
            "On site: measured or read",
            "`aiming onsite FILE MEASURED --json`, and `Found.to_dict()` of `aiming.onsite`.",
            told(Found, ""),
        ),
    ),
    "checks": (
        Section(
            "On site: where to measure",
            "`aiming onsite FILE --json`.",
            told(CheckPlan, ""),
        ),
    ),
    "ground": (
        Section(
            "On site: a trial on the ground",
            "`aiming onsite FILE --ground --json`.",
            told(GroundTrial, ""),
        ),
    ),
    "tried": (
        Section(
            "On site: the trial measured",
            "`aiming onsite FILE MEASURED --ground --json`.",
            told(GroundFound, ""),
        ),
    ),
    "fitted": (
        Section(
            "On site: a fill at its handover row",
            "`aiming onsite FILE --handover --at MAIN=FILE --at FILL=FILE --json`.",
            told(Fitted, ""),
        ),
    ),
    "sweep": (
        Section(
            "What if",
            "`aiming what-if FILE --over … --json`, and `what-if.json`.",
            entries(sweep.SWEEP),
        ),
    ),
    "columns": (
        Section(
            "What if: the columns",
            "After the keys varied, each in the file's own unit, the figures asked for. In Python "
            "`table[name]` is an array with NaN for what is not known; a CSV leaves that empty and "
            "writes true and false as 1 and 0. Null where a level is unknown or no placement meets "
            "the limits; `main.` or `together.` before a name says whose figure it is.",
            entries(sweep.COLUMNS),
        ),
    ),
}
"""By form: its sections."""


FIELDS = {
    form: {path: said for one in sections for path, said in one.entries.items()}
    for form, sections in SECTIONS.items()
}
"""By form, then by path: the kind of value, and what it means."""


def _table(section: Section) -> list[str]:
    lines = [f"## {section.heading}", ""]
    lines += [section.said, ""] if section.said else []
    lines += ["| field | value | meaning |", "|---|---|---|"]
    for path, (kind, meaning) in section.entries.items():
        lines.append(f"| `{path}` | {kind} | {meaning} |")
    return [*lines, ""]


def _python() -> list[str]:
    rows = [f"| `{path}` | `{there}` | {said} |" for path, (there, said) in PYTHON.items()]
    return [PYTHON_HEAD + "\n".join(rows), ""]


def markdown() -> str:
    """docs/answer.md."""
    lines = [HEAD]
    for form, sections in SECTIONS.items():
        for section in sections:
            lines += _table(section)
        lines += _python() if form == "answer" else []
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    (HERE / "answer.md").write_text(markdown(), encoding="utf-8")

"""docs/answer.md, every field of the answer: `python docs/make_answer.py`.

The fields stand in answer_fields*.py and nowhere else; test_answer_page.py walks answers of
every shipped scenario and fails where a field is missing here, or is not what is said of it.
"""

import sys
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import answer_fields as fields  # noqa: E402
import answer_fields_more as more  # noqa: E402
import answer_fields_site as site  # noqa: E402
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


class Section(NamedTuple):
    """A heading, what is said under it, the prefix of its paths, and its block of fields."""

    heading: str
    said: str
    prefix: str
    block: str


def under(prefix: str, block: str) -> str:
    """A block's entries with a prefix before their paths."""
    lines = block.strip().splitlines()
    return "\n".join(line if line.startswith(" ") else prefix + line for line in lines) + "\n"


def _intervals(block: str, *paths: str) -> str:
    return block + "".join(under(f"{path}.", site.INTERVAL) for path in paths)


_PLAYED = "".join(
    under(f"{way}.", fields.PLAYED)
    + under(f"{way}.softest.", fields.PLAYED_ROW)
    + under(f"{way}.loudest.", fields.PLAYED_ROW)
    for way in ("one_watt", "greatest")
)
_OF_SPEAKER = (
    ("Check positions", "check_positions[].", fields.CHECK),
    ("Loads", "loads.", more.LOADS),
    ("Stack", "stack.", more.STACK + under("front.", more.EDGE) + under("rear.", more.EDGE)),
    ("Tone", "tone.", fields.TONE),
    ("Output", "output.", fields.OUTPUT + _PLAYED),
    ("Lobe family", "lobe_family.", fields.LOBE_FAMILY),
    ("Tolerance", "tolerance.", fields.TOLERANCE),
    ("A fill and its main", "match.", more.MATCH),
    ("What it adds", "adds.", more.ADDS),
    ("A pair", "pair.", more.PAIR),
    ("Room", "room.", more.ROOM),
    ("Reflections", "reflections[].", more.REFLECTIONS),
    ("Where its sound lands", "lands_percent.", more.LANDS),
)
_FOUND = (
    _intervals(
        site.FOUND,
        "tilt_error_deg",
        "height_error_m",
        "pattern_scale",
        "levels_tilt_error_deg",
        "readings[].tilt_deg",
        "readings[].height_m",
    )
    + under("positions[].", site.POSITION)
    + "".join(under(f"{which}.", site.PLACE) for which in ("planned", "hung", "corrected"))
)
SECTIONS = {
    "answer": (
        Section("Top", "", "", fields.TOP),
        Section(
            "Loudspeaker", "Alone, over the rows that it serves.", "speakers[].", fields.SPEAKER
        ),
        *(
            Section(f"Loudspeaker: {heading[0].lower()}{heading[1:]}", "", f"speakers[].{at}", one)
            for heading, at, one in _OF_SPEAKER
        ),
        Section("Together", "All loudspeakers over all rows.", "together.", more.TOGETHER),
        Section("Rows", "", "rows[].", fields.ROWS),
        Section(
            "Cautions",
            "The plain one first, then stops, cautions and notes.",
            "cautions[].",
            fields.CAUTIONS,
        ),
    ),
    "onsite": (
        Section(
            "On site: measured or read",
            "`aiming onsite FILE MEASURED --json`, and `Found.to_dict()` of `aiming.onsite`.",
            "",
            _FOUND,
        ),
    ),
    "checks": (
        Section(
            "On site: where to measure",
            "`aiming onsite FILE --json`.",
            "",
            site.PLAN + under("check_positions[].", fields.CHECK),
        ),
    ),
    "ground": (
        Section(
            "On site: a trial on the ground",
            "`aiming onsite FILE --ground --json`.",
            "",
            site.TRIAL,
        ),
    ),
    "tried": (
        Section(
            "On site: the trial measured",
            "`aiming onsite FILE MEASURED --ground --json`.",
            "",
            _intervals(site.TRIED, "pattern_scale") + under("positions[].", site.POSITION),
        ),
    ),
    "sweep": (
        Section(
            "What if", "`aiming what-if FILE --over … --json`, and `what-if.json`.", "", site.SWEEP
        ),
    ),
    "columns": (
        Section(
            "What if: the columns",
            "After the keys varied, each in the file's own unit, the figures asked for. In Python "
            "`table[name]` is an array with NaN for what is not known; a CSV leaves that empty and "
            "writes true and false as 1 and 0. Null where a level is unknown or no placement meets "
            "the limits; `main.` or `together.` before a name says whose figure it is.",
            "",
            site.COLUMNS,
        ),
    ),
}
"""By form: its sections."""


def entries(section: Section) -> dict[str, tuple[str, str]]:
    """By path: the kind of value, and what it means."""
    found: dict[str, tuple[str, str]] = {}
    for one in section.block.strip().replace("\n  ", " ").splitlines():
        path, kind, meaning = one.split(": ", 2)
        path = section.prefix + path
        assert path not in found, path
        found[path] = kind, meaning
    return found


FIELDS = {
    form: {path: said for one in sections for path, said in entries(one).items()}
    for form, sections in SECTIONS.items()
}
"""By form, then by path: the kind of value, and what it means."""


def _table(section: Section) -> list[str]:
    lines = [f"## {section.heading}", ""]
    lines += [section.said, ""] if section.said else []
    lines += ["| field | value | meaning |", "|---|---|---|"]
    for path, (kind, meaning) in entries(section).items():
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

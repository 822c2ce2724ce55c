"""docs/maintainer/mutation.md: how many single faults the tests find, and why the others live."""

import tomllib
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path

from mutants import ROOMS, Mutant

REASONS = Path(__file__).resolve().parent / "reasons"
KINDS = {
    "same": "changes no answer: another way to the same value, or a matter of time and memory",
    "margin": "moves an answer by less than its stated accuracy, or chooses between equals",
    "apart": "seen only outside the process of the tests, or not worth a test, as the reason says",
    "open": "no reason known: a test is missing",
}
HEAD = """\
# Mutation testing

Made by `python tests/mutation/run.py --page`. Single faults are put into the rooms that compute,
one at a time, and the tests run against each: a comparison turned or its boundary moved, `+` for
`-`, `*` for `/`, `and` for `or`, `not` or a minus sign left out, `min` for `max`, `sin` for `cos`,
a number one larger or a tenth larger, a statement or a `raise` left out. Text, types and decorators
are left as they are.

| room | faults | found | same | margin | apart | open | found of all | less the same |
|---|---|---|---|---|---|---|---|---|
{rows}

*Found*: a test fails, or does not end within ten times its time. {kinds}

The last share leaves out *same* alone. Tests that run the command in a
process of its own do not count (the fault is not in it), nor do tests beyond {budget_s:g} s
of test time for one fault: the shares are lower bounds. A fault keeps what earlier runs of the same
folder of `--work` found of it; its key is its file, its function and the change.
"""


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why faults are not found: its kind, a sentence, and the keys of the faults."""

    kind: str
    why: str
    faults: tuple[str, ...]


def reasons() -> list[Reason]:
    """All that stand in the folder of reasons."""
    found = []
    for path in sorted(REASONS.glob("*.toml")):
        for row in tomllib.loads(path.read_text("utf-8")).get("reason", []):
            if row["kind"] not in KINDS:
                raise ValueError(f"{path}: kind: {row['kind']}; allowed: {', '.join(KINDS)}")
            found.append(Reason(kind=row["kind"], why=row["why"], faults=tuple(row["faults"])))
    return found


def page(mutants: list[Mutant], ends: dict[str, str], *, budget_s: float) -> str:
    """The whole page, from what became of each fault by its key; what was not tried is left out."""
    tried = {mutant.key: mutant for mutant in mutants if mutant.key in ends}
    given = {key: reason for reason in reasons() for key in reason.faults}
    of_room: dict[str, Counter[str]] = defaultdict(Counter)
    living: dict[str, dict[str, list[Mutant]]] = defaultdict(lambda: defaultdict(list))
    for key, mutant in tried.items():
        if ends[key] == "found":
            of_room[mutant.room]["found"] += 1
            continue
        kind, why = (given[key].kind, given[key].why) if key in given else ("open", "")
        of_room[mutant.room][kind] += 1
        living[kind][why].append(mutant)
    rooms = [room for room in ROOMS if room in of_room]
    rows = [_row(room, of_room[room]) for room in rooms]
    rows.append(_row("**all**", sum(of_room.values(), Counter())))
    kinds = " ".join(f"*{kind.capitalize()}*: {what}." for kind, what in KINDS.items())
    parts = [HEAD.format(rows="\n".join(rows), kinds=kinds, budget_s=budget_s)]
    parts += [_section(kind, living[kind]) for kind in reversed(KINDS) if living[kind]]
    return "\n".join(parts)


def _row(name: str, count: Counter[str]) -> str:
    every = count.total()
    cells = [name, every, *(count[kind] for kind in ("found", *KINDS))]
    shares = (count["found"] / every, count["found"] / max(1, every - count["same"]))
    return "| " + " | ".join([*map(str, cells), *(f"{100 * of:.1f} %" for of in shares)]) + " |"


def _section(kind: str, by_why: dict[str, list[Mutant]]) -> str:
    lines = [f"## {kind.capitalize()}", "", f"{KINDS[kind].capitalize()}.", ""]
    for why, mutants in sorted(by_why.items(), key=lambda item: (item[1][0].path, item[0])):
        lines += [f"{why}", ""] if why else []
        lines += [
            f"- `{mutant.path}` {mutant.function}: `{mutant.right}` → `{mutant.wrong}`"
            for mutant in sorted(mutants, key=lambda one: (one.path, one.line))
        ]
        lines.append("")
    return "\n".join(lines)

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

| room | faults | tried | at first | 95 % | found | same | margin | apart | open | now | less same |
|---|---|---|---|---|---|---|---|---|---|---|---|
{rows}
{note}
*Found*: a test fails, or does not end within ten times its time. {kinds}

The last share leaves out *same* alone. The faults tried of a room are the first by the hash of
seed {seed} and their key. *At first* is what was found of them before any test was written for one
of them: of all the room's faults that share is found, within the interval; *now* is after that.
Tests that run the command in a process of its own do not count (the fault is not in it), nor do
tests beyond {budget_s:g} s of test time for one fault, nor, with `--tests`, those of far rooms:
the shares are lower bounds. A reason stands in `tests/mutation/reasons/` for a function and a
number of its faults, so that it outlives renamed files and moved lines.
"""


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why some faults of a room are not found.

    within: by function (or "(constants)" of a file), how many of its faults the reason covers.
    Lines, expressions and files may move under it; a fault beyond the number is open.
    """

    room: str
    kind: str
    why: str
    within: dict[str, int]


def reasons() -> list[Reason]:
    """All that stand in the folder of reasons, a file a room."""
    found = []
    for path in sorted(REASONS.glob("*.toml")):
        for row in tomllib.loads(path.read_text("utf-8")).get("reason", []):
            if row["kind"] not in KINDS:
                raise ValueError(f"{path}: kind: {row['kind']}; allowed: {', '.join(KINDS)}")
            found.append(Reason(room=path.stem, kind=row["kind"], why=row["why"], within=row["in"]))
    return found


def explained(living: list[Mutant]) -> dict[str, Reason]:
    """By the key of a fault that lives, the first reason that has room for it."""
    left = [(reason, dict(reason.within)) for reason in reasons()]
    found = {}
    for mutant in sorted(living, key=lambda one: (one.path, one.line, one.key)):
        name = "(constants)" if mutant.function == "(file)" else mutant.function
        for reason, count in left:
            if reason.room == mutant.room and count.get(name, 0) > 0:
                count[name] -= 1
                found[mutant.key] = reason
                break
    return found


def interval(found: int, tried: int) -> tuple[float, float]:
    """95 % interval of a share, by Wilson (1927), JASA 22, 209-212; from memory."""
    z = 1.96
    share, slack = found / tried, z * z / tried
    half = z * (share * (1.0 - share) / tried + slack / (4.0 * tried)) ** 0.5
    middle = share + slack / 2.0
    return (middle - half) / (1.0 + slack), (middle + half) / (1.0 + slack)


def page(
    sample: list[Mutant],
    ends: dict[str, str],
    *,
    first: dict[str, str],
    of: Counter[str],
    seed: int,
    budget_s: float,
    note: str = "",
) -> str:
    """The whole page, from what became of each fault by its key; what was not tried is left out.

    first: what became of each the first time that it was tried
    of: how many faults each room has, those outside the sample too
    note: what else is to be known of this run
    """
    tried = {mutant.key: mutant for mutant in sample if mutant.key in ends}
    given = explained([mutant for key, mutant in tried.items() if ends[key] != "found"])
    of_room: dict[str, Counter[str]] = defaultdict(Counter)
    living: dict[str, dict[str, list[Mutant]]] = defaultdict(lambda: defaultdict(list))
    for key, mutant in tried.items():
        of_room[mutant.room]["at first"] += first[key] == "found"
        if ends[key] == "found":
            of_room[mutant.room]["found"] += 1
            continue
        kind, why = (given[key].kind, given[key].why) if key in given else ("open", "")
        of_room[mutant.room][kind] += 1
        living[kind][why].append(mutant)
    rooms = [room for room in ROOMS if room in of_room]
    rows = [_row(room, of[room], of_room[room]) for room in rooms]
    kinds = " ".join(f"*{kind.capitalize()}*: {what}." for kind, what in KINDS.items())
    note = f"\n{note}\n" if note else ""
    parts = [
        HEAD.format(rows="\n".join(rows), kinds=kinds, seed=seed, budget_s=budget_s, note=note)
    ]
    parts += [_section(kind, living[kind]) for kind in reversed(KINDS) if living[kind]]
    return "\n".join(parts)


def _row(name: str, of: int, count: Counter[str]) -> str:
    every = sum(count[end] for end in ("found", *KINDS))
    low, high = interval(count["at first"], every)
    cells = [
        name,
        of,
        every,
        f"{100 * count['at first'] / every:.1f} %",
        f"{100 * low:.1f} to {100 * high:.1f} %",
        *(count[end] for end in ("found", *KINDS)),
        f"{100 * count['found'] / every:.1f} %",
        f"{100 * count['found'] / max(1, every - count['same']):.1f} %",
    ]
    return "| " + " | ".join(map(str, cells)) + " |"


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

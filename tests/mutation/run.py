"""How many single faults in the rooms that compute the tests find: `python tests/mutation/run.py`.

Keeps what it found in the folder of `--work`, so that a run can be broken off and taken up again;
`--page` writes its page from it. Takes hours for all faults: `--room aim --sample 150` for less,
`--key TEXT` for the faults whose key holds a text.
"""

import argparse
import functools
import hashlib
import json
import os
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import asdict, dataclass, field
from pathlib import Path

# One thread for each child; set before numpy loads.
os.environ.update(OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1", MPLBACKEND="agg")
HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
sys.path[:0] = [str(ROOT), str(HERE), str(ROOT / "tests"), str(ROOT / "tests" / "support")]

from mutants import ROOMS, Mutant  # noqa: E402
from page import page  # noqa: E402
from running import (  # noqa: E402
    FOUND_AT,
    LOST,
    Faulty,
    Forks,
    Reach,
    Session,
    collected,
    loaded_with_fault,
    read_reach,
    switch,
)

SHOWN = 400  # so few faults are told one by one


@dataclass(kw_only=True)
class Hunt:
    """The faults to try, which tests reach each, and what became of those tried."""

    mutants: list[Mutant]
    reach: dict[str, Reach]
    work: Path
    budget_s: float
    finders: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    by_number: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    by_path: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    quickest: list[Reach] = field(default_factory=list)

    def __post_init__(self) -> None:
        where = {mutant.number: mutant.path for mutant in self.mutants}
        sound = [one for one in self.reach.values() if not one.fails]
        self.quickest = sorted(sound, key=lambda one: one.seconds)
        for reach in self.quickest:
            for number in reach.asked:
                self.by_number[number].append(reach.test)
            for path in {where[number] for number in reach.asked if number in where}:
                self.by_path[path].append(reach.test)

    def tests_for(self, mutant: Mutant) -> tuple[list[str], bool]:
        """The tests to run, and whether the budget left some out."""
        reached = self.by_number[mutant.number]
        if mutant.loading:
            # A constant may be read by a test that calls nothing; a file that runs only as it
            # loads is reached by none, and any test may tell.
            path = set(self.by_path[mutant.path])
            reached = [
                one.test for one in self.quickest if one.test in path or not path or not one.asked
            ]
        there = set(reached)
        first = [test for test in self.finders[mutant.path] if test in there]
        ordered = [*first, *(test for test in self._varied(reached) if test not in set(first))]
        chosen: list[str] = []
        spent = 0.0
        for test in ordered:
            spent += self.reach[test].seconds
            if spent > self.budget_s and chosen:
                return chosen, True
            chosen.append(test)
        return chosen, False

    def _varied(self, tests: list[str]) -> list[str]:
        """Quick ones first; a case of a test waits for as long as the cases before it take."""
        spent: dict[str, float] = defaultdict(float)
        place = {}
        for test in tests:
            name = test.partition("[")[0]
            spent[name] += self.reach[test].seconds
            place[test] = spent[name]
        return sorted(tests, key=place.__getitem__)

    def finder(self, mutant: Mutant, test: str) -> None:
        """Tried first the next time: a test that finds one fault of a file finds others."""
        names = self.finders[mutant.path]
        if test in names:
            names.remove(test)
        names.insert(0, test)
        del names[8:]

    def limits(self, tests: list[str]) -> list[float]:
        return [8.0 + 10.0 * self.reach[test].seconds for test in tests]


def _sampled(mutants: list[Mutant], options: argparse.Namespace) -> list[Mutant]:
    """The faults of the rooms in the order of their hash, the first ones of each room alone.

    Which they are does not depend on what is known of them.
    """

    def place(mutant: Mutant) -> str:
        return hashlib.sha256(f"{options.seed} {mutant.key}".encode()).hexdigest()

    found = []
    for room in options.room:
        ordered = sorted((one for one in mutants if one.room == room), key=place)
        found += ordered[: options.sample]
    return found


def _due(sample: list[Mutant], options: argparse.Namespace, known: dict[str, str]) -> list[Mutant]:
    keys = set(options.keys.read_text().splitlines()) if options.keys else None

    def chosen(mutant: Mutant) -> bool:
        return (
            (mutant.key not in known or (options.again and known[mutant.key] != "found"))
            and options.key in mutant.key
            and (keys is None or mutant.key in keys)
        )

    return [mutant for mutant in sample if chosen(mutant)]


def _try_all(
    hunt: Hunt, due: list[Mutant], session: Session | None, *, results: Path, jobs: int
) -> None:
    """Each fault in a child; without a session, each child loads the code and the tests itself."""
    forks = Forks(at_once=jobs)
    began = time.monotonic()
    tried = {"found": 0, "lost": 0, "cut": 0, "unreached": 0}

    def note(mutant: Mutant, end: str) -> None:
        tried[end] += 1
        if len(due) <= SHOWN and end != "found":
            print(f"{end}: line {mutant.line}: {mutant.key}", flush=True)
        with results.open("a") as file:
            file.write(json.dumps({**asdict(mutant), "key": mutant.key, "end": end}) + "\n")
        if sum(tried.values()) % 100 == 0:
            print(f"{time.monotonic() - began:6.0f} s of {len(due)}: {tried}", flush=True)

    for mutant in due:
        tests, cut = hunt.tests_for(mutant)
        if not tests:
            note(mutant, "unreached")
            continue
        run = session.with_fault if session else functools.partial(loaded_with_fault, ROOT)

        def ended(
            code: int, mutant: Mutant = mutant, tests: list[str] = tests, cut: bool = cut
        ) -> None:
            if code >= FOUND_AT:
                hunt.finder(mutant, tests[code - FOUND_AT])
            note(mutant, ("cut" if cut else "lost") if code == LOST else "found")

        work = functools.partial(run, mutant.number, tests, seconds=hunt.limits(tests))
        forks.start(work, ended)
    forks.finish()
    print(f"{time.monotonic() - began:6.0f} s: {tried}", flush=True)


def _known(results: Path) -> tuple[dict[str, str], dict[str, str]]:
    """What became of each fault already tried, by its key: the first time, and the last."""
    if not results.exists():
        return {}, {}
    rows = [json.loads(line) for line in results.read_text().splitlines()]
    first, last = ({row["key"]: row["end"] for row in of} for of in (reversed(rows), rows))
    return first, last


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--work", type=Path, default=Path(tempfile.gettempdir()) / "aiming-faults")
    parser.add_argument("--room", nargs="*", default=list(ROOMS), choices=ROOMS)
    parser.add_argument("--sample", type=int, help="so many faults of each room, by their hash")
    parser.add_argument("--seed", type=int, default=1, help="another number, another sample")
    parser.add_argument("--jobs", type=int, default=2, help="faults tried at the same time")
    parser.add_argument("--key", default="", help="only faults whose key holds this text")
    parser.add_argument("--keys", type=Path, help="only faults whose key is a line of this file")
    parser.add_argument("--tests", nargs="*", default=[], help="only the tests of these files")
    parser.add_argument("--again", action="store_true", help="try those that were not found again")
    parser.add_argument("--budget", type=float, default=10.0, help="seconds of tests a fault")
    parser.add_argument("--longest", type=float, default=10.0, help="seconds of a test that counts")
    parser.add_argument("--page", action="store_true", help="write its page in docs at the end")
    parser.add_argument("--note", default="", help="what else the page says of this run")
    parser.add_argument(
        "--loading",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="those that act as the code loads as well, some seconds each",
    )
    return parser.parse_args()


def main() -> None:
    options = _options()
    options.work.mkdir(parents=True, exist_ok=True)
    results = options.work / "results.jsonl"
    faulty = Faulty(ROOT)
    switch(0)
    sys.meta_path.insert(0, faulty)
    _, known = _known(results)
    files = tuple(options.tests)
    sample = _sampled(faulty.mutants, options)
    due = _due(sample, options, known)
    print(f"{len(faulty.mutants)} faults, {len(due)} to try", flush=True)
    notes = options.work / f"reach-{faulty.digest}"
    # In a child: this process is still to fork children that have loaded nothing.
    forks = Forks(at_once=1)

    def note() -> int:
        note_reach = functools.partial(
            Session.note_reach, notes=notes, jobs=options.jobs, longest_s=options.longest
        )
        collected(ROOT, then=note_reach, files=files)
        return LOST

    forks.start(note, lambda _: None)
    forks.finish()
    hunt = Hunt(
        mutants=faulty.mutants, reach=read_reach(notes), work=options.work, budget_s=options.budget
    )
    print(f"{len(hunt.reach)} tests", flush=True)
    try_all = functools.partial(_try_all, hunt, results=results, jobs=options.jobs)
    # Forked before this process loads the tests for the others.
    if options.loading:
        try_all([mutant for mutant in due if mutant.loading], None)
    running = [mutant for mutant in due if not mutant.loading]
    collected(ROOT, then=lambda session: try_all(running, session), files=files)
    if options.page:
        first, last = _known(results)
        text = page(
            sample,
            last,
            first=first,
            of=Counter(mutant.room for mutant in faulty.mutants),
            seed=options.seed,
            budget_s=options.budget,
            note=options.note,
        )
        (ROOT / "docs" / "maintainer" / "mutation.md").write_text(text, "utf-8")


if __name__ == "__main__":
    main()

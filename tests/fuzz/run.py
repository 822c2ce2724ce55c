"""Broken files by the thousand: `python tests/fuzz/run.py --kind all --cases 20000 --seed 1`.

`--number N` with one kind shows that case: the file is kept, and what reading it gave.
"""

import argparse
import sys
import traceback
import warnings
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS), str(TESTS / "support")]

from fuzz.case import chance_of  # noqa: E402
from fuzz.kinds import KINDS  # noqa: E402
from fuzz.runner import Report, run  # noqa: E402

CHUNK = 1000
MOST_TOLD = 50
HEAD = "| kind | cases | refused | read | s | slowest, s | peak, MB | faults |"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--kind", choices=("all", *KINDS), default="all")
    asked.add_argument("--cases", type=int, default=1000)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--number", type=int, help="show this one case")
    asked.add_argument("--keep", type=Path, default=Path("fuzz_case"), help="where to put its file")
    given = asked.parse_args()
    if given.number is not None:
        show(given.kind, given.seed, given.number, given.keep)
        return
    print(HEAD, "|---|---|---|---|---|---|---|---|", sep="\n", flush=True)
    kinds = list(KINDS) if given.kind == "all" else [given.kind]
    last = given.first + given.cases
    faulty = False
    for kind in kinds:
        whole = Report(kind)
        with ThreadPoolExecutor(given.jobs) as pool:
            for part in pool.map(
                lambda first, kind=kind: run(kind, given.seed, first, min(first + CHUNK, last)),
                range(given.first, last, CHUNK),
            ):
                whole.join(part)
                print(f"{row(whole)} so far", file=sys.stderr, flush=True)
        print(row(whole), flush=True)
        for number, fault in whole.faults[:MOST_TOLD]:
            print(f"  {kind} --seed {given.seed} --number {number}: {fault[:300]}", flush=True)
        if len(whole.faults) > MOST_TOLD:
            print(f"  and {len(whole.faults) - MOST_TOLD:,} more", flush=True)
        faulty |= bool(whole.faults)
    sys.exit(1 if faulty else 0)


def row(one: Report) -> str:
    """One line of the table."""
    return (
        f"| {one.kind} | {one.cases:,} | {one.refused:,} | {one.accepted:,} | {one.seconds:.0f} | "
        f"{one.slowest[0]:.2f} (number {one.slowest[1]}) | {one.peak_mb:.0f} | {len(one.faults)} |"
    )


def show(kind: str, seed: int, number: int, keep: Path) -> None:
    """One case again, in this process, its file kept."""
    case = KINDS[kind].make(chance_of(kind, seed, number))
    kept = keep.with_suffix(KINDS[kind].ending).absolute()
    kept.write_bytes(case.data)
    print(f"{kept}: {len(case.data):,} bytes; {dict(case.options)}")
    warnings.simplefilter("error")
    with TemporaryDirectory() as folder:
        for name, data in KINDS[kind].beside().items():
            (Path(folder) / name).parent.mkdir(parents=True, exist_ok=True)
            (Path(folder) / name).write_bytes(data)
        path = Path(folder) / kept.name
        path.write_bytes(case.data)
        try:
            KINDS[kind].read(path, case.options)
            print("read")
        except Exception:
            traceback.print_exc()


if __name__ == "__main__":
    main()

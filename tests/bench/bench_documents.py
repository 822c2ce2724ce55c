"""What all documents of a scenario cost, against one empty figure, in processor time.

    python tests/bench/bench_documents.py [scenario] [runs]

Goal: `aiming solve FILE --out FOLDER` at most 4 times a process that imports matplotlib and saves
an empty figure.  Runs take turns; the least of each counts.
"""

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

SCENARIOS = Path(__file__).parents[2] / "scenarios"
EMPTY = "from matplotlib.figure import Figure; Figure().savefig('empty.png')"


def cost_s(arguments: list[str], folder: str) -> float:
    """Processor seconds of a process from nothing."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], cwd=folder, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(scenario: str, runs: int) -> None:
    file = str(SCENARIOS / f"{scenario}.toml")
    empty, documents = [], []
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as folder:
            empty.append(cost_s(["-c", EMPTY], folder))
            documents.append(cost_s(["-m", "aiming", "solve", file, "--out", "out"], folder))
    ratio = min(documents) / min(empty)
    print(f"an empty figure     {min(empty):6.2f} s")
    print(f"{scenario} --out        {min(documents):6.2f} s  {ratio:5.1f} x   goal 4")


if __name__ == "__main__":
    given = dict(enumerate(sys.argv[1:]))
    main(given.get(0, "quarry"), int(given.get(1, "5")))

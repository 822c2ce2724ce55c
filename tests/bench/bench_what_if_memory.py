"""Memory and time of a sweep of 10⁸ candidates (or as many as are asked for).

    python tests/bench/bench_what_if_memory.py [CANDIDATES]

Prints the peak of all processes together, as proportional set size (shared pages counted once),
sampled ten times a second (Linux), for a tenth of the candidates and for all of them: goal below
500 MB, and time in proportion.
"""

import math
import os
import sys
import threading
import time
from pathlib import Path

from bench_what_if import PLACEMENT, scenario

from aiming.sweep import best_rows, what_if


def tree_mb(root: int) -> float:
    """Proportional set size of a process and its children."""
    total = 0.0
    waiting = [root]
    while waiting:
        one = waiting.pop()
        try:
            text = Path(f"/proc/{one}/smaps_rollup").read_text()
            total += next(float(line.split()[1]) for line in text.splitlines() if "Pss:" in line)
            for task in Path(f"/proc/{one}/task").iterdir():
                waiting += [int(child) for child in (task / "children").read_text().split()]
        except OSError:
            continue
    return total / 1024.0


def run(candidates: int) -> tuple[int, float, float]:
    """(candidates, seconds, peak MB)."""
    side = max(2, math.isqrt(candidates))
    over = {
        PLACEMENT + "height": (4.5, 4.5 + 1e-4 * (candidates // side - 1), 1e-4),
        PLACEMENT + "tilt": (-60.0, -60.0 + 0.005 * (side - 1), 0.005),
    }
    peak, done = 0.0, threading.Event()

    def watch() -> None:
        nonlocal peak
        while not done.wait(0.1):
            peak = max(peak, tree_mb(os.getpid()))

    watcher = threading.Thread(target=watch)
    watcher.start()
    start = time.perf_counter()
    table = what_if(scenario(), over, figures=("worst_band_spread_db",))
    seconds = time.perf_counter() - start
    best_rows(table, "worst_band_spread_db")
    done.set()
    watcher.join()
    return len(table), seconds, peak


def main() -> None:
    most = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10**8
    for candidates in (most // 10, most):
        count, seconds, peak = run(candidates)
        print(
            f"{count:,} candidates: {seconds:.1f} s, {count / seconds:,.0f}/s, peak {peak:.0f} MB"
        )


if __name__ == "__main__":
    main()

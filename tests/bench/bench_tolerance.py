"""What it costs to prove the best worst case, against the plain solve of the same scenario.

    python tests/bench/bench_tolerance.py

Tolerance: a degree, 0.1 m in height and in x.  Prints the ratio for every shipped scenario and
objective (goal: at most 10).
"""

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from aiming.aim.problem import Problem
from aiming.aim.search import SearchResult, lowest_within, search
from aiming.aim.tolerance import Tolerance, WorstFound, best_worst
from aiming.analysis.problems import problem_of
from aiming.scenario import load

SCENARIOS = Path(__file__).parents[2] / "scenarios"
SIZE = Tolerance(1.0, 0.1, 0.1)


def plain(problem: Problem) -> SearchResult:
    best = search(problem, gap_db=0.05)
    return lowest_within(problem, best, within_db=0.5, gap_db=0.05)


def worst(problem: Problem) -> WorstFound:
    return best_worst(problem, SIZE, gap_db=0.05, lower_if_within_db=0.5)


def seconds(work: Callable[[], object], times: int = 5) -> float:
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    most = 0.0
    for path in sorted(SCENARIOS.glob("*.toml")):
        scenario = load(path)
        for speaker in scenario.speakers:
            for objective in ("spread", "worst band", "deviation"):
                problem = replace(problem_of(scenario, speaker), objective=objective)
                if problem.hang.fixed:
                    continue

                found = worst(problem)
                if found.best.placement is None:
                    continue
                one, other = seconds(partial(plain, problem)), seconds(partial(worst, problem))
                most = max(most, other / one)
                print(
                    f"{path.stem:24} {objective:11} {1e3 * one:7.1f} ms {1e3 * other:7.1f} ms"
                    f"  ratio {other / one:4.1f}  worst {found.best.objective_db:.2f} dB"
                    f"  gap {found.best.gap_db:.3f} dB {found.best.status.name}"
                )
    print(f"largest ratio {most:.1f} (goal 10)")


if __name__ == "__main__":
    main()

"""How long a command takes from nothing, against `python -c "import numpy"`.

    python tests/bench/bench_start.py [runs]

Goals: `aiming --help` at most 2 times, `aiming solve FILE --json` at most 3 times.  Processor time
of the whole process; runs take turns, and the least of each counts, since a busy machine only ever
adds.
"""

import resource
import subprocess
import sys
from pathlib import Path

SCENE = Path(__file__).parents[2] / "scenarios" / "quarry.toml"
COMMANDS = {
    "import numpy": ["-c", "import numpy"],
    "aiming --help": ["-m", "aiming", "--help"],
    "aiming solve --json": ["-m", "aiming", "solve", str(SCENE), "--json"],
    "aiming solve (summary)": ["-m", "aiming", "solve", str(SCENE)],
}
GOALS = {"aiming --help": 2.0, "aiming solve --json": 3.0}


def spent_s() -> float:
    """Processor time of all children so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main(runs: int) -> None:
    fastest = dict.fromkeys(COMMANDS, float("inf"))
    for _ in range(runs):
        for name, arguments in COMMANDS.items():
            before = spent_s()
            subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
            fastest[name] = min(fastest[name], spent_s() - before)
    for name, seconds in fastest.items():
        ratio = seconds / fastest["import numpy"]
        goal = f"   goal {GOALS[name]:g}" if name in GOALS else ""
        print(f"{name:24} {1000.0 * seconds:6.0f} ms  {ratio:5.2f} x{goal}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)

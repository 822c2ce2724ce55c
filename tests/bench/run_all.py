"""Every benchmark, and the maintainer page that shows them: `python tests/bench/run_all.py`.

Takes some minutes, and means most on a machine that does nothing else.  With names, such as
`bench_tolerance.py`, only these run again, and what the page says of the others stays.
"""

import os
import platform
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

from goals import GOALS

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
RUNS = (
    ("bench_solver.py",),
    ("bench_growth.py",),
    ("bench_start.py", "15"),
    ("bench_documents.py", "quarry", "5"),
    ("bench_patterns_solve.py",),
    ("bench_pattern_files.py",),
    ("bench_loudspeakers.py",),
    ("bench_choices.py", "--houses", "200"),
    ("bench_together.py", "10", "51001", "8"),
    ("bench_shadow.py",),
    ("bench_drawing.py",),
    ("bench_onsite.py", "40", "40993"),
    ("bench_what_if.py",),
    ("bench_tolerance.py",),
    ("bench_what_if_memory.py", "1e8"),
    ("bench_live.py",),
)
HEAD = """\
# Benchmarks

Made by `python tests/bench/run_all.py` on {cores} cores, {machine}, Python {python}, numpy {numpy},
scipy {scipy}; load of the machine before the last of it began {load:.1f}. No test is timed. Ratios
are taken side by side in one run; times of solving are processor time, the least of several runs,
so that a busy machine only ever adds.

| what | goal | measured | |
|---|---|---|---|
{goals}

{missed}

How cost grows, as a multiple for a multiple of the size: the `times for` lines of
[bench_solver.py](#bench_solverpy) (rows) and [bench_growth.py](#bench_growthpy) (bands,
loudspeakers, candidates). What each benchmark printed follows, its description first.

"""


def printed(script: str, *arguments: str) -> str:
    """What one benchmark prints; its failure is told, not hidden."""
    # Without cached bytecode every run of a command would compile the whole package again.
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    run = subprocess.run(
        [sys.executable, str(HERE / script), *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    failed = f"\n(ended with {run.returncode})\n{run.stderr}" if run.returncode else ""
    return run.stdout.rstrip() + failed


def section(script: str, arguments: tuple[str, ...], told: str) -> str:
    """One benchmark: its own description, the command, what it printed."""
    text = (HERE / script).read_text(encoding="utf-8").split('"""')[1].strip()
    command = " ".join(["python", f"tests/bench/{script}", *arguments])
    return f"## {script}\n\n```text\n{text}\n```\n\n`{command}`\n\n```text\n{told}\n```\n"


def kept(page: str, script: str) -> str:
    """What the page quotes of one benchmark's run."""
    if f"## {script}\n" not in page:
        return "(not run yet)"
    quoted = page.split(f"## {script}\n", 1)[1].split("\n## ", 1)[0].split("```text\n")[2]
    return quoted.rsplit("\n```", 1)[0]


def main() -> None:
    load = os.getloadavg()[0]
    again = sys.argv[1:] or [script for script, *_ in RUNS]
    page = (ROOT / "docs" / "maintainer" / "benchmarks.md").read_text(encoding="utf-8")
    told = {}
    for script, *arguments in RUNS:
        if script in again:
            print(script, flush=True)
        told[script] = printed(script, *arguments) if script in again else kept(page, script)
    missed = [goal.what for goal in GOALS if not goal.met(told)]
    head = HEAD.format(
        cores=os.cpu_count(),
        machine=f"{platform.system()} {platform.machine()}",
        python=platform.python_version(),
        numpy=version("numpy"),
        scipy=version("scipy"),
        load=load,
        goals="\n".join(goal.row(told) for goal in GOALS),
        missed=f"**Missed**: {'; '.join(missed)}." if missed else "Nothing was missed.",
    )
    page = head + "\n".join(
        section(script, tuple(arguments), told[script]) for script, *arguments in RUNS
    )
    (ROOT / "docs" / "maintainer" / "benchmarks.md").write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()

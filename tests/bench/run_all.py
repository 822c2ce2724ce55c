"""Every benchmark, and docs/benchmarks.md from what they print: `python tests/bench/run_all.py`.

Takes some minutes, and means most on a machine that does nothing else.
"""

import os
import platform
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
RUNS = (
    ("bench_solver.py",),
    ("bench_start.py", "15"),
    ("bench_patterns_solve.py",),
    ("bench_pattern_files.py",),
    ("bench_loudspeakers.py",),
    ("bench_shadow.py",),
    ("bench_drawing.py",),
    ("bench_onsite.py", "200"),
    ("bench_what_if.py",),
    ("bench_tolerance.py",),
    ("bench_what_if_memory.py", "1e7"),
)
HEAD = """\
# Benchmarks

Made by `python tests/bench/run_all.py`: what each benchmark printed, with its goals at its top. No
test is timed; these are ratios measured side by side in one run, and they mean most on a quiet
machine.

Missed when this page was last made: `aiming solve --json` takes 4.0 times numpy's import instead
of 3.5, of which reading TOML through checked models (pydantic) is 1.3 and the command line (typer)
0.4; and the best worst case of one drawn section under "deviation" costs 13.5 plain solves instead
of 10.

Machine: {cores} cores, {machine}, Python {python}, numpy {numpy}, scipy {scipy}.

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


def section(script: str, *arguments: str) -> str:
    """One benchmark: its own description, the command, what it printed."""
    print(script, flush=True)
    text = (HERE / script).read_text(encoding="utf-8").split('"""')[1].strip()
    command = " ".join(["python", f"tests/bench/{script}", *arguments])
    told = printed(script, *arguments)
    return f"## {script}\n\n```text\n{text}\n```\n\n`{command}`\n\n```text\n{told}\n```\n"


def main() -> None:
    head = HEAD.format(
        cores=os.cpu_count(),
        machine=f"{platform.system()} {platform.machine()}",
        python=platform.python_version(),
        numpy=version("numpy"),
        scipy=version("scipy"),
    )
    page = head + "\n".join(section(*run) for run in RUNS)
    (ROOT / "docs" / "benchmarks.md").write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()

"""Runs cases in a process of their own, and counts; a hang or a crash costs one case alone."""

import json
import os
import select
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO

from .worker import LIMIT_S, NO_CASE

TESTS = Path(__file__).resolve().parents[1]
SILENT_S = 2.0 * LIMIT_S
"""A worker that works for so long and says nothing hangs where no signal reaches it."""
ASLEEP_S = 1200.0
"""So does one that says nothing for so long, by the clock; a busy machine may take its time."""
_TICK_S = 1.0 / os.sysconf("SC_CLK_TCK")


@dataclass
class Report:
    """What a run of one kind found.

    seconds, slowest: of processor time, and the case that took most
    faults: (number, what)
    """

    kind: str
    cases: int = 0
    accepted: int = 0
    refused: int = 0
    seconds: float = 0.0
    slowest: tuple[float, int] = (0.0, -1)
    peak_mb: float = 0.0
    faults: list[tuple[int, str]] = field(default_factory=list)

    def add(self, number: int, accepted: bool, seconds: float, mb: float, fault: str) -> None:
        """One case."""
        self.cases += 1
        self.seconds += seconds
        self.slowest = max(self.slowest, (seconds, number))
        self.peak_mb = max(self.peak_mb, mb)
        if fault:
            self.faults.append((number, fault))
        elif accepted:
            self.accepted += 1
        else:
            self.refused += 1

    def join(self, other: "Report") -> None:
        """Another part of the same run."""
        self.cases += other.cases
        self.accepted += other.accepted
        self.refused += other.refused
        self.seconds += other.seconds
        self.slowest = max(self.slowest, other.slowest)
        self.peak_mb = max(self.peak_mb, other.peak_mb)
        self.faults += other.faults


def run(kind: str, seed: int, first: int, last: int) -> Report:
    """Cases first ≤ number < last of one kind and seed."""
    report = Report(kind)
    number = first
    while number < last:
        number = _run_until_it_ends(report, kind, seed, number, last)
    return report


def _run_until_it_ends(report: Report, kind: str, seed: int, first: int, last: int) -> int:
    """The number after the last case that the worker came to."""
    command = [sys.executable, "-m", "fuzz.worker", kind, str(seed), str(first), str(last)]
    paths = os.pathsep.join(
        [str(TESTS.parent), str(TESTS), str(TESTS / "support"), os.environ.get("PYTHONPATH", "")]
    )
    environ = {**os.environ, "PYTHONPATH": paths.rstrip(os.pathsep), "OPENBLAS_NUM_THREADS": "1"}
    number = first
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environ, cwd=TESTS
    ) as worker:
        assert worker.stdout is not None and worker.stderr is not None
        while True:
            said_something = _waited_for(worker.stdout, worker.pid)
            line = worker.stdout.readline() if said_something else ""
            if not line:
                break
            number, *rest = json.loads(line)
            report.add(number, *rest)
            number += 1
        if not said_something:
            worker.kill()
            report.add(number, False, SILENT_S, 0.0, "hangs: works and says nothing, or sleeps")
            return number + 1
        said = worker.stderr.read()
    if number < last and worker.returncode == NO_CASE:
        raise RuntimeError(f"{kind}, seed {seed}, number {number} cannot be made:\n{said}")
    if number < last:
        last_words = " / ".join(said.strip().splitlines()[-3:])
        report.add(
            number, False, 0.0, 0.0, f"the process ended with {worker.returncode}: {last_words}"
        )
        return number + 1
    return last


def _waited_for(stream: TextIO, pid: int) -> bool:
    """Whether a worker says something before it must be taken to hang."""
    began, worked_s = time.monotonic(), _worked_s(pid)
    while True:
        ready, _, _ = select.select([stream], [], [], 1.0)
        if ready:
            return True
        if _worked_s(pid) - worked_s > SILENT_S or time.monotonic() - began > ASLEEP_S:
            return False


def _worked_s(pid: int) -> float:
    """Processor time that a process has used."""
    after_name = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) * _TICK_S

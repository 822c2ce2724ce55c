"""Reads cases one after the other and tells of each on one line: `python -m fuzz.worker`.

A case that never ends, or takes the process with it, is found by whoever started the worker.
"""

import contextlib
import io
import json
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Self, TextIO

from .case import Case, Kind, chance_of
from .judge import complaint
from .kinds import KINDS

LIMIT_S = 20.0
"""Of processor time per case; a good file of these sizes takes well under a second."""
LIMIT_MB = 1024
NO_CASE = 17
"""How the worker ends where a case cannot be made: a fault of this folder, not of the tool."""


class TooLongError(BaseException):
    """No Exception, so that nothing under test can catch it."""


def main() -> None:
    name, seed, first, last = sys.argv[1], *map(int, sys.argv[2:5])
    # Where a library writes to the standard output itself, the report must not suffer.
    report = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder, Bench(KINDS[name], Path(folder)) as bench:
        limit_memory()
        for number in range(first, last):
            try:
                case = bench.kind.make(chance_of(name, seed, number))
            except Exception:
                traceback.print_exc()
                sys.exit(NO_CASE)
            _tell(report, number, bench, case)
    report.close()


def _tell(report: TextIO, number: int, bench: "Bench", case: Case) -> None:
    started = time.process_time()
    accepted, fault = bench.tried(case, f"case_{number}{bench.kind.ending}")
    seconds = time.process_time() - started
    mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    report.write(json.dumps([number, accepted, seconds, mb, fault]) + "\n")
    report.flush()


class Bench:
    """A working folder with the files that cases name, and limits on what a case may take."""

    def __init__(self, kind: Kind, folder: Path) -> None:
        self.kind = kind
        self.folder = folder / "work"
        self.scrap = folder / "scrap"
        self.scrap.mkdir()
        for name, data in kind.beside().items():
            path = self.folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        self.folder.mkdir(exist_ok=True)
        self._before = self._held()
        self._unraised: list[str] = []

    def __enter__(self) -> Self:
        self._was = os.getcwd(), tempfile.tempdir, sys.unraisablehook
        os.chdir(self.folder)
        tempfile.tempdir = str(self.scrap)
        sys.unraisablehook = lambda found: self._unraised.append(repr(found.exc_value))
        signal.signal(signal.SIGPROF, _too_long)
        return self

    def __exit__(self, *_: object) -> None:
        folder, tempfile.tempdir, sys.unraisablehook = self._was
        os.chdir(folder)

    def tried(self, case: Case, name: str) -> tuple[bool, str]:
        """Whether the case was accepted, and what is wrong with that: "" if nothing."""
        path = Path(name)
        path.write_bytes(case.data)
        accepted, fault = False, ""
        signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
        try:
            with silent():
                self.kind.read(path, case.options)
            accepted = True
        except BaseException as error:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            fault = complaint(error, path)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
        if self._unraised:
            fault = fault or f"unraised: {self._unraised.pop()}"
            self._unraised.clear()
        if path.read_bytes() != case.data:
            fault = fault or "the file was changed"
        path.unlink()
        return accepted, fault or self._left_behind()

    def _held(self) -> set[str]:
        return {
            os.path.join(at, name)
            for root in (self.folder, self.scrap)
            for at, folders, files in os.walk(root)
            for name in (*folders, *files)
        }

    def _left_behind(self) -> str:
        more = self._held() - self._before
        self._before |= more
        return f"left behind: {', '.join(sorted(more))}" if more else ""


@contextlib.contextmanager
def silent() -> Iterator[None]:
    """What is printed goes nowhere."""
    nowhere = io.StringIO()
    with contextlib.redirect_stdout(nowhere), contextlib.redirect_stderr(nowhere):
        yield


def _too_long(_signal: int, _frame: FrameType | None) -> None:
    raise TooLongError(f"more than {LIMIT_S:g} s of processor time")


def limit_memory() -> None:
    """No more than LIMIT_MB beyond what the process holds now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    most = pages * resource.getpagesize() + LIMIT_MB * 1024**2
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


if __name__ == "__main__":
    main()

"""The tests run against one fault at a time, each in a fork of a process that has loaded them once.

First every test runs alone with a switch that notes what it is compared with: which faults each
test reaches, and how long it takes. Then, for each fault, the tests that reach it run, quickest
first (those that found the last faults of the same function before them), until one fails.
"""

import builtins
import contextlib
import functools
import gc
import hashlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import os
import resource
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from mutants import SWITCH, Mutant, mutated, sources

# How a child ends: no test failed; the test at this place failed; it broke before any test.
LOST, FOUND_AT, BROKEN = 0, 10, 1
MEMORY_BYTES = 6 * 2**30


class Faulty(importlib.abc.MetaPathFinder):
    """Loads the rooms that compute with all faults compiled in."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.codes: dict[str, CodeType] = {}
        self.mutants: list[Mutant] = []
        digest = hashlib.sha256()
        for file in sources(root):
            path = str(file.relative_to(root))
            first = len(self.mutants) + 1
            text = file.read_text("utf-8")
            digest.update(text.encode())
            tree, found = mutated(text, path=path, first=first)
            self.mutants += found
            self.codes[str(file)] = compile(tree, str(file), "exec")
        self.digest = digest.hexdigest()[:12]

    def find_spec(
        self, fullname: str, path: Any = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname.partition(".")[0] != "aiming":
            return None
        spec = importlib.machinery.PathFinder.find_spec(fullname, path, target)
        code = self.codes.get(spec.origin or "") if spec else None
        if spec is not None and code is not None:
            spec.loader = _Loader(fullname, spec.origin or "", code)
        return spec


class _Loader(importlib.machinery.SourceFileLoader):
    def __init__(self, fullname: str, path: str, code: CodeType) -> None:
        super().__init__(fullname, path)
        self.code = code

    def get_code(self, fullname: str) -> CodeType:
        return self.code


class Noting:
    """A switch that is never on, and notes which faults asked."""

    def __init__(self) -> None:
        self.asked: set[int] = set()

    def __hash__(self) -> int:
        return id(self)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, int):
            self.asked.add(other)
        return False


def switch(value: object) -> None:
    setattr(builtins, SWITCH, value)


@dataclass(kw_only=True)
class Reach:
    """What one test reaches, in how many seconds; `fails` where it fails on the code as it is."""

    test: str
    seconds: float
    fails: bool
    asked: list[int]


@dataclass(kw_only=True)
class Forks:
    """Children at most `at_once` at a time; each tells its end by its exit code."""

    at_once: int
    running: dict[int, Callable[[int], None]] = field(default_factory=dict)

    def start(self, work: Callable[[], int], ended: Callable[[int], None]) -> None:
        while len(self.running) >= self.at_once:
            self.wait()
        child = os.fork()
        if child == 0:
            os._exit(_alone(work))
        self.running[child] = ended

    def wait(self) -> None:
        child, status = os.wait()
        self.running.pop(child)(os.waitstatus_to_exitcode(status))

    def finish(self) -> None:
        while self.running:
            self.wait()


def _alone(work: Callable[[], int]) -> int:
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nothing, stream)
    # A fault may ask for any memory and leave any file: neither is to reach the other children.
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    folder = tempfile.mkdtemp(prefix="fault-")
    os.environ["TMPDIR"] = tempfile.tempdir = folder
    os.setpgrp()
    try:
        return work()
    except BaseException:
        return BROKEN
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _clear_caches() -> None:
    for one in gc.get_objects():
        if isinstance(one, functools._lru_cache_wrapper):
            one.cache_clear()


@contextlib.contextmanager
def _at_most(seconds: float) -> Iterator[None]:
    def hung(*_: object) -> None:
        # A loop of the fault may catch what is raised here: leave at once.
        os.killpg(0, signal.SIGKILL)

    # By the processor's time: on a busy machine a sound test must not count as one that hangs.
    # What waits without working is ended by the clock.
    for kind, number, after in (
        (signal.ITIMER_PROF, signal.SIGPROF, seconds),
        (signal.ITIMER_REAL, signal.SIGALRM, 60.0 * seconds),
    ):
        signal.signal(number, hung)
        signal.setitimer(kind, after)
    yield
    for kind in (signal.ITIMER_PROF, signal.ITIMER_REAL):
        signal.setitimer(kind, 0.0)


@dataclass(kw_only=True)
class Session:
    """The tests as pytest collected them, and the ways to run some of them in a child."""

    items: dict[str, pytest.Item]

    def run(self, tests: list[str], *, seconds: list[float]) -> int:
        """`LOST`, or `FOUND_AT` and the place of the test that failed; a slow one ends it all."""
        chosen = [self.items[test] for test in tests]
        for place, (item, after) in enumerate(zip(chosen, [*chosen[1:], None], strict=True)):
            with _at_most(seconds[place]):
                reports = runtestprotocol(item, log=False, nextitem=after)
            if any(report.failed for report in reports):
                return FOUND_AT + min(place, 200)
        return LOST

    def note_reach(self, notes: Path, *, jobs: int, longest_s: float) -> None:
        """Each test run alone with a noting switch, unless it was and its file has not changed.

        One that takes longer than `longest_s` would use up what there is for a fault: it is noted
        as reaching nothing.
        Leaves a file for each test in the folder `notes`, and in `index.json` which are of now.
        """
        notes.mkdir(parents=True, exist_ok=True)
        texts = {item.path: item.path.read_bytes() for item in self.items.values()}
        index = []
        forks = Forks(at_once=jobs)
        for test, item in self.items.items():
            name = hashlib.sha256(test.encode() + texts[item.path]).hexdigest()[:24] + ".json"
            index.append(name)
            if not (notes / name).exists():
                note = functools.partial(self._note, test, notes / name, longest_s)
                forks.start(note, lambda _: None)
        forks.finish()
        (notes / "index.json").write_text(json.dumps(index))

    def _note(self, test: str, path: Path, longest_s: float) -> int:
        began = time.monotonic()
        failed = self.run([test], seconds=[600.0])
        seconds = time.monotonic() - began
        noting = Noting()
        switch(noting)
        _clear_caches()
        if seconds <= longest_s:
            self.run([test], seconds=[1800.0])
        switch(0)
        reach = Reach(test=test, seconds=seconds, fails=failed != LOST, asked=sorted(noting.asked))
        path.write_text(json.dumps(vars(reach)))
        return LOST

    def with_fault(self, number: int, tests: list[str], *, seconds: list[float]) -> int:
        _clear_caches()
        switch(number)
        return self.run(tests, seconds=seconds)


def read_reach(notes: Path) -> dict[str, Reach]:
    """What `Session.note_reach` wrote, by test; a test that broke its process is not there."""
    names = json.loads((notes / "index.json").read_text())
    found = [json.loads((notes / name).read_text()) for name in names if (notes / name).exists()]
    return {one["test"]: Reach(**one) for one in found}


def loaded_with_fault(root: Path, number: int, tests: list[str], *, seconds: list[float]) -> int:
    """As `Session.with_fault`, for a fault that acts as the code loads: in a child without it."""
    switch(number)
    end = [BROKEN]

    def run(session: Session) -> None:
        end[0] = session.run(tests, seconds=seconds)

    collected(root, then=run, files=tuple(dict.fromkeys(test.partition("::")[0] for test in tests)))
    return end[0]


def collected(root: Path, *, then: Callable[[Session], None], files: tuple[str, ...] = ()) -> None:
    """Collect the tests once, in this process, and hand them to `then`."""

    class Loop:
        def pytest_runtestloop(self, session: pytest.Session) -> bool:
            then(Session(items={item.nodeid: item for item in session.items}))
            return True

    from hypothesis import Phase, settings

    # A fault is found by the first example that fails: the smallest one is of no interest here.
    phases = (Phase.explicit, Phase.generate)
    settings.register_profile("faults", database=None, phases=phases, deadline=None)
    settings.load_profile("faults")
    os.chdir(root)
    chosen = list(files) or ["tests"]
    plain = ["-q", "-s", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:xdist"]
    if pytest.main([*plain, *chosen], plugins=[Loop()]) not in (0, 5):
        raise RuntimeError("the tests could not be collected")

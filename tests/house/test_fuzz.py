"""Broken files by the thousand, and those that once broke something: read or refused, no more."""

import os
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest
from fuzz import runner, worker
from fuzz.case import Case, Kind, Options
from fuzz.kinds import KINDS, fingerprint
from fuzz.runner import run
from fuzz.worker import Bench, silent
from paths import ROOT, TESTS

from aiming.base.errors import AimingError, Fault, ScenarioError

SEED = 7
CASES = 1000
PARTS = {"scenario": 5, "drawing": 4}
"""The slow kinds in several tests, which may run side by side."""
CORPUS = TESTS / "fuzz" / "corpus"
BROKEN = sorted(path for path in CORPUS.glob("*/*") if path.suffix != ".txt")


def _parts() -> list[tuple[str, int, int]]:
    parts = []
    for kind in KINDS:
        size = CASES // PARTS.get(kind, 1)
        parts += [(kind, first, first + size) for first in range(0, CASES, size)]
    return parts


@pytest.mark.parametrize(("kind", "first", "last"), _parts())
def test_a_thousand_broken_files_are_read_or_refused(kind: str, first: int, last: int) -> None:
    found = run(kind, SEED, first, last)
    assert found.cases == last - first
    assert found.faults == [], f"python tests/fuzz/run.py --kind {kind} --seed {SEED} --number …"
    # A generator that breaks everything, or nothing, tries little.
    assert 0.02 * found.cases < found.accepted < 0.6 * found.cases


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_once_broke_something_is_told(path: Path, tmp_path: Path) -> None:
    kind = KINDS[path.parent.name]
    told = path.with_suffix(".txt")
    with Bench(kind, tmp_path) as bench:
        accepted, fault = bench.tried(Case(path.read_bytes()), path.name)
        assert fault == ""
        assert accepted == (not told.exists())
        if told.exists():
            Path(path.name).write_bytes(path.read_bytes())
            with pytest.raises(AimingError) as caught, silent():
                kind.read(Path(path.name), {})
            assert told.read_text(encoding="utf-8").strip() in str(caught.value)


def _endless(_path: Path, _options: Options) -> None:
    while True:
        pass


def _told(line: int, message: str) -> Callable[[Path, Options], None]:
    def read(path: Path, _options: Options) -> None:
        raise ScenarioError([Fault(path.name, line, 1, "key", message)])

    return read


@pytest.mark.parametrize(
    ("read", "caught"),
    [
        (lambda path, options: None, ""),
        (_told(1, "found; allowed"), ""),
        (_told(0, "found; allowed"), "no place"),
        (_told(3, "found; allowed"), "no such place"),
        (_told(1, "found"), "not of the form"),
        (lambda path, options: options["none"], "KeyError at"),
        (lambda path, options: warnings.warn("odd", stacklevel=1), "UserWarning at"),
        (lambda path, options: Path("new").touch(), "left behind: "),
        (lambda path, options: tempfile.mkdtemp(), "left behind: "),
        (lambda path, options: path.write_text("other"), "the file was changed"),
        (_endless, "TooLongError at"),
    ],
)
def test_the_net_holds(
    read: Callable[[Path, Options], object],
    caught: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(worker, "LIMIT_S", 0.2)
    kind = Kind("any", ".txt", lambda chance: Case(b""), read)
    with Bench(kind, tmp_path) as bench:
        _, fault = bench.tried(Case(b"one\ntwo"), "case.txt")
    assert fault.startswith(caught) if caught else not fault


def test_a_worker_that_dies_costs_one_case() -> None:
    # No such kind: the worker ends before its first case, each time.
    found = run("no such kind", SEED, 0, 2)
    assert found.cases == 2
    assert [number for number, _ in found.faults] == [0, 1]
    assert "the process ended with 1" in found.faults[0][1]


def test_a_worker_that_hangs_is_found_by_its_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runner, "SILENT_S", 0.2)
    busy = subprocess.Popen([sys.executable, "-c", "while True: pass"], stdout=subprocess.PIPE)
    with busy:
        assert busy.stdout is not None
        assert not runner._waited_for(busy.stdout, busy.pid)
        busy.kill()


def test_a_case_is_the_same_in_any_process() -> None:
    there = "from fuzz.kinds import fingerprint; print(fingerprint(range(99, -1, -1)))"
    ended = subprocess.run(
        [sys.executable, "-c", there],
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join(map(str, (ROOT, TESTS, TESTS / "support"))),
            "PYTHONHASHSEED": "5",
        },
        capture_output=True,
        check=True,
        text=True,
    )
    assert ended.stdout.strip() == fingerprint(range(100))


def test_every_kind_has_its_corpus() -> None:
    assert {path.parent.name for path in BROKEN} == set(KINDS)

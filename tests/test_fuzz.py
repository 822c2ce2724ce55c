"""Broken files by the thousand, and those that once broke something: read or refused, no more."""

from pathlib import Path

import pytest
from fuzz.case import Case
from fuzz.kinds import KINDS
from fuzz.runner import run
from fuzz.worker import Bench, silent

from aiming.errors import AimingError

SEED = 7
CASES = 1000
PARTS = {"scenario": 5, "drawing": 4}
"""The slow kinds in several tests, which may run side by side."""
CORPUS = Path(__file__).parent / "fuzz" / "corpus"
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


def test_every_kind_has_its_corpus() -> None:
    assert {path.parent.name for path in BROKEN} == set(KINDS)

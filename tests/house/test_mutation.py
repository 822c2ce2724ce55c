"""The faults of tests/mutation: none of them on, the code is as it stands; on, it is wrong."""

import builtins
import sys
from collections.abc import Callable, Iterator

import pytest
from paths import TESTS

HERE = TESTS
sys.path.append(str(TESTS / "mutation"))

from mutants import SWITCH, Mutant, mutated, sources  # noqa: E402
from page import page, reasons  # noqa: E402

TEXT = '''
"""A room."""
LIMIT = 2.0


def clipped(x, *, low=0):
    """x, held within low and the limit; never below."""
    if x < low:
        raise ValueError(f"{x + 1}; at least {low}")
    total = 0.0
    for part in (x, -x):
        if part > LIMIT or not part:
            continue
        total += part
    return min(total * 2, LIMIT)
'''


@pytest.fixture(autouse=True)
def off() -> Iterator[None]:
    setattr(builtins, SWITCH, 0)
    yield
    delattr(builtins, SWITCH)


def compiled() -> tuple[Callable[..., float], list[Mutant]]:
    tree, found = mutated(TEXT, path="aiming/base/air.py", first=1)
    space: dict[str, Callable[..., float]] = {}
    exec(compile(tree, "room", "exec"), space)
    return space["clipped"], found


def outcome(clipped: Callable[..., float]) -> list[object]:
    """What it makes of some numbers, errors among them."""
    found: list[object] = []
    for x in (0.0, 0.5, 2.0, 3.0, -1.0):
        try:
            found.append(clipped(x))
        except ValueError as error:
            found.append(str(error))
    return found


def test_each_fault_is_off_until_it_is_asked_for() -> None:
    clipped, found = compiled()
    space: dict[str, Callable[..., float]] = {}
    exec(TEXT, space)
    right = outcome(space["clipped"])
    assert outcome(clipped) == right
    seen = 0
    for mutant in found:
        if not mutant.loading:
            setattr(builtins, SWITCH, mutant.number)
            seen += outcome(clipped) != right
    assert seen >= 12
    setattr(builtins, SWITCH, 0)
    assert outcome(clipped) == right


def test_what_is_altered_and_what_is_not() -> None:
    _, found = compiled()
    changes = {(mutant.right, mutant.wrong) for mutant in found}
    assert {
        ("2.0", "2.2"), ("0", "1"), ("x < low", "x <= low"), ("x < low", "x >= low"),
        ("not part", "part"),
        ("-x", "x"), ("continue", "(left out)"), ("total += part", "total -= part"),
        ("total += part", "(left out)"), ("total * 2", "total / 2"), ("2", "3"),
        ("min(total * 2, LIMIT)", "max(total * 2, LIMIT)"),
    } <= changes  # fmt: skip
    assert not any("x + 1" in right for right, _ in changes if not right.startswith("raise"))
    loading = {mutant.right for mutant in found if mutant.loading}
    assert loading == {"2.0", "0"}
    assert len({mutant.key for mutant in found}) == len(found)
    assert [mutant.number for mutant in found] == list(range(1, len(found) + 1))


def test_every_reason_is_for_a_fault_that_there_is() -> None:
    root = HERE.parent
    keys = set()
    for file in sources(root):
        path = str(file.relative_to(root))
        keys |= {mutant.key for mutant in mutated(file.read_text("utf-8"), path=path, first=1)[1]}
    given = [key for reason in reasons() for key in reason.faults]
    assert len(given) == len(set(given))
    assert sorted(set(given) - keys) == [], (
        "the code has changed: what of these reasons still holds"
    )


def test_the_page_counts_and_lists() -> None:
    _, found = compiled()
    ends = {mutant.key: "found" for mutant in found} | {found[0].key: "lost"}
    text = page(found, ends, budget_s=10.0)
    assert f"| base | {len(found)} | {len(found) - 1} | 0 | 0 | 0 | 1 |" in text
    assert "## Open" in text
    assert f"`{found[0].right}` → `{found[0].wrong}`" in text

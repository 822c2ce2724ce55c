"""The faults of tests/mutation: none of them on, the code is as it stands; on, it is wrong."""

import ast
import builtins
import sys
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from paths import ROOT, TESTS

HERE = TESTS
sys.path.append(str(TESTS / "mutation"))

from mutants import ROOMS, SWITCH, Mutant, mutated  # noqa: E402
from page import explained, interval, page, reasons  # noqa: E402

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


def test_a_reason_covers_its_number_of_faults_and_no_more() -> None:
    reason = next(one for one in reasons() if "(constants)" not in one.within)
    name, most = next(iter(reason.within.items()))
    given = sum(one.within.get(name, 0) for one in reasons() if one.room == reason.room)
    living = [
        Mutant(
            number=n,
            path=f"aiming/{reason.room}/any.py",
            line=n,
            function=name,
            right="a",
            wrong=f"b{n}",
            count=1,
            loading=False,
        )
        for n in range(given + 3)
    ]
    assert most >= 1
    assert len(explained(living)) == given


def functions(body: list[ast.stmt], within: str = "") -> Iterator[str]:
    """Every function with its classes and functions around it, as `Outer.inner`."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield within + node.name
            yield from functions(node.body, f"{within}{node.name}.")


def test_each_reason_is_of_a_function_that_stands() -> None:
    """What was deleted or renamed takes its reasons along."""
    for room in ROOMS:
        texts = [file.read_text("utf-8") for file in (ROOT / "aiming" / room).glob("*.py")]
        there = {name for text in texts for name in functions(ast.parse(text).body)}
        given = {name for one in reasons() if one.room == room for name in one.within}
        assert given - there <= {"(constants)"}


def test_an_interval_holds_its_share_and_narrows() -> None:
    wide, narrow = interval(9, 10), interval(900, 1000)
    assert wide[0] < narrow[0] < 0.9 < narrow[1] < wide[1]
    assert interval(10, 10)[1] == pytest.approx(1.0)
    # Wilson's with z = 1.96: solve (p − 0.9)² = z²·p·(1 − p)/150 for p.
    for end in interval(135, 150):
        assert (end - 0.9) ** 2 == pytest.approx(1.96**2 * end * (1.0 - end) / 150)


def test_the_page_counts_and_lists() -> None:
    _, found = compiled()
    ends = {mutant.key: "found" for mutant in found} | {found[0].key: "lost"}
    first = dict.fromkeys(ends, "lost")
    text = page(found, ends, first=first, of=Counter(base=99), seed=3, budget_s=10.0)
    assert f"| base | 99 | {len(found)} | 0.0 % |" in text
    assert f"| {len(found) - 1} |" in text
    assert f"`{found[0].right}` → `{found[0].wrong}`" in text

"""Expected errors: what crosses to another process is the same error."""

import datetime
import pickle

import pytest

from aiming.base.errors import (
    MOST_SHOWN,
    Fault,
    MissingExtraError,
    ScenarioError,
    found_text,
    printable,
)


def test_errors_survive_a_process() -> None:
    faults = (Fault("a.toml", 3, 1, "aim.gap_db", "x; a number"), Fault("b.csv", 1, 7, "", "y; z"))
    again = pickle.loads(pickle.dumps(ScenarioError(faults)))
    assert again.faults == faults
    assert str(again) == str(ScenarioError(faults))
    missing = MissingExtraError(package="h5py", extra="sofa", purpose="AES69")
    assert str(pickle.loads(pickle.dumps(missing))) == str(missing)
    assert all(word in str(missing) for word in ("h5py", "aiming[sofa]", "AES69"))


def test_what_a_file_holds_cannot_steer_a_terminal_nor_fill_it() -> None:
    assert printable("6° von links") == "6° von links"
    assert printable("a\x1b[2Jb\n") == "a�[2Jb�"
    longest = "a" * MOST_SHOWN + "b" * MOST_SHOWN
    assert printable(longest) == longest
    shorter = printable(longest[:MOST_SHOWN] + "c" + longest[MOST_SHOWN:])
    assert shorter == longest.replace("ab", "a…b")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("x" * 60, f'"{"x" * 60}"'),
        ("x" * 61, f'"{"x" * 60}…"'),
        (True, "true"),
        (2**200 - 1, str(2**200 - 1)),
        (-7, "-7"),
        (2.5, "2.5"),
        ([1, 2], "a list of 2"),
        ({}, "a table"),
        (None, "nothing"),
        (datetime.date(2000, 1, 1), "a date"),
    ],
)
def test_a_value_is_shown_as_the_file_has_it(value: object, text: str) -> None:
    assert found_text(value) == text


def test_a_huge_number_is_not_written_out() -> None:
    """2^200 is the first of 201 bits; it has 61 digits."""
    assert len(str(2**200)) == 61
    assert str(2**200) not in found_text(2**200)
    assert str(2**200) not in found_text(-(2**200))

"""Every published value holds, and docs/validation.md says so."""

import pytest
from published.check import MEANING, Check
from published.checks import all_checks
from test_docs import ROOT, maker

named = pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.quantity)


@named
def test_value(check: Check) -> None:
    assert check.compute() == pytest.approx(check.published, abs=check.tolerance, rel=0.0)


@named
def test_tolerance_rejects_zero_and_a_flipped_sign(check: Check) -> None:
    assert check.status in MEANING
    assert check.source
    assert check.tolerance > 0.0
    if check.published:
        assert check.tolerance < 0.55 * abs(check.published)


def test_every_status_and_topic_has_values() -> None:
    assert {check.status for check in all_checks()} == set(MEANING)
    assert len({check.topic for check in all_checks()}) == 11
    assert len(all_checks()) > 300


def test_page_is_what_the_command_writes() -> None:
    """To the last printed digit."""
    page = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
    assert page == maker("make_validation").markdown(), "run: python docs/make_validation.py"


def test_page_shows_a_value_that_is_out_of_tolerance() -> None:
    made = maker("make_validation")
    wrong = Check("Air", "a", "b", "V", 1.0, 0.1, "dB", lambda: 1.3)
    assert not wrong.holds
    assert made.counts("Air", (wrong,)).endswith("| 1 |")
    assert made.row(wrong) == "| a | b | V | 1 dB | 1.30 | +0.30 | 0.1 dB |"

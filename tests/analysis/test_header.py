"""A header that hides nothing from where the box hangs, and a lot from half a metre higher.

No answer about another height may be given with fewer walls than the place has.  Whatever is said
of other heights is held against the box evaluated there, and the sight line against plain geometry.
"""

from functools import partial

import pytest

import aiming

evaluated = partial(aiming.evaluate, choices=False)
HUNG, HIDDEN = 4.85, 5.40
TILT = -14.0
"""The axis meets the floor from every height asked for: it ends no window."""
HEADER_X, HEADER_Z, FIRST_X, LAST_X = 0.5, 5.1, 5.0, 20.0
HOUSE = f"""
[[seating]]
name = "floor"
line = [[{FIRST_X}, 0.0], [{LAST_X}, 0.0]]
[[surface]]
name = "header"
line = [[{HEADER_X}, {HEADER_Z}], [{HEADER_X}, 8.0]]
[[speaker]]
name = "main"
pattern = {{ coverage = 60 }}
placement = {{ x = 0.0, height = %s, tilt = %s }}
"""


def house(height: float, tilt: object, more: str = "") -> aiming.Scenario:
    return aiming.load("-", stdin_text=HOUSE % (height, tilt) + more)


def crossing_m(height: float, x: float, ear: float) -> float:
    """Height at which the sight line to an ear passes under, or through, the header."""
    return height + (ear - height) * HEADER_X / x


@pytest.fixture(scope="module")
def solved() -> aiming.Answer:
    return aiming.solve(house(HUNG, TILT))


def at(solved: aiming.Answer, height: float) -> float:
    """Spread with the box at another height, the tilt as it is."""
    there = evaluated(house(height, solved.speakers[0].tilt_deg)).speakers[0].spread_db
    assert there is not None
    return there


def test_the_header_hides_nothing_here_and_the_far_rows_from_higher_up(
    solved: aiming.Answer,
) -> None:
    rows = solved.scenario.rows
    seen = [crossing_m(HUNG, x, z) for x, z in zip(rows.x_m, rows.z_m, strict=True)]
    assert max(seen) < HEADER_Z
    assert solved.rows.by_speaker["main"].shadow_db.max() == 0.0
    seen = [crossing_m(HIDDEN, x, z) for x, z in zip(rows.x_m, rows.z_m, strict=True)]
    assert max(seen) > HEADER_Z > min(seen)
    assert at(solved, HIDDEN) > at(solved, HUNG) + 2.0


def test_the_setting_window_ends_where_the_header_begins_to_hide(solved: aiming.Answer) -> None:
    one = solved.speakers[0]
    assert one.window is not None
    low, high = one.window.height_m
    assert low <= HUNG <= high < HIDDEN
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        height = low + share * (high - low)
        assert at(solved, height) <= at(solved, HUNG) + one.window.within_db + 0.01


def test_the_tolerance_counts_the_header() -> None:
    solved = aiming.solve(house(HUNG, TILT, "[aim.tolerance]\nheight = 0.6\n"))
    tolerance = solved.speakers[0].tolerance
    assert tolerance is not None and tolerance.worst_db is not None
    heights = [HUNG - 0.6 + 0.05 * step for step in range(25)]
    assert tolerance.worst_db >= max(at(solved, height) for height in heights) - 1e-6


def test_a_choice_of_another_height_is_told_with_the_header() -> None:
    turned = "[-60, 10]"
    told = [one for one in aiming.solve(house(HUNG, turned)).choices if one.kind == "height"]
    assert any(one.height_m > HUNG for one in told)
    for one in told:
        there = aiming.solve(house(one.height_m, turned), choices=False)
        assert one.spread_db == pytest.approx(there.speakers[0].spread_db, abs=0.05)

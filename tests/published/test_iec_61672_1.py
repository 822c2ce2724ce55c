"""IEC 61672-1:2013, A-weighting: what holds exactly.  Its table: bands.py."""

from aiming.base.bands import a_weighting_db


def test_nothing_at_1_khz() -> None:
    assert float(a_weighting_db(1000.0)) == 0.0

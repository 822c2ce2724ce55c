"""What an entry of the record is compared with: figures that both have, and no other."""

from types import SimpleNamespace

import pytest

from aiming.site.estimate import Interval
from aiming.site.record import Entry, compared_text

TILT = Interval(-0.3, -0.9, 0.3)


@pytest.mark.parametrize("was_tilt", [None, -4.0])
@pytest.mark.parametrize("now_tilt", [None, TILT])
@pytest.mark.parametrize("was_spread", [None, 6.3])
@pytest.mark.parametrize("now_spread", [None, 4.8])
def test_figures_are_compared_where_both_days_have_them(
    was_tilt: float | None,
    now_tilt: Interval | None,
    was_spread: float | None,
    now_spread: float | None,
) -> None:
    last = Entry("main", "a.csv", "LOWER THE NOSE 3.0°", was_tilt, was_spread)
    now = SimpleNamespace(tilt_error_deg=now_tilt, spread_now_db=now_spread)
    told = compared_text(last, now)
    assert "LOWER THE NOSE 3.0°" in told
    tilts = was_tilt is not None and now_tilt is not None
    spreads = was_spread is not None and now_spread is not None
    assert ("−4.0°" in told) is ("−0.3°" in told) is tilts
    assert ("6.3 dB" in told) is ("4.8 dB" in told) is spreads

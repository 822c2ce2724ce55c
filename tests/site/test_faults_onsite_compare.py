"""Which microphones a departure turns out of the known pattern, and which bands can be compared."""

from dataclasses import replace

import numpy as np
import pytest
from onsite_scenes import problem

from aiming.base.arrays import FloatArray, frozen
from aiming.base.errors import ScenarioError
from aiming.geometry.section import Rows
from aiming.site.compare import _unknown, shared_only
from aiming.site.prediction import Departure
from aiming.site.traces import Trace
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Placement

UNKNOWN = np.nan
# Known in both bands from −20° to 40°; in the second alone to −30° and 50°.
LOBE = Pattern(
    angle_deg=frozen([-30.0, -20.0, 0.0, 40.0, 50.0]),
    band_hz=(1000.0, 4000.0),
    level_db=frozen([[UNKNOWN, -4.0, 0.0, -6.0, UNKNOWN], [-9.0, -5.0, 0.0, -8.0, -9.0]]),
    reference="test",
)


def points(elevation_deg: FloatArray, plan: Placement) -> Rows:
    """Microphones 10 m from the plan's acoustic centre."""
    away = np.radians(elevation_deg)
    rows = problem().rows.pick(np.arange(len(elevation_deg)))
    return replace(
        rows,
        x_m=frozen(float(plan.x_m) + 10.0 * np.cos(away)),
        z_m=frozen(float(plan.height_m) + 10.0 * np.sin(away)),
    )


@pytest.mark.parametrize("flipped", [False, True])
def test_turned_out_of_the_known_part_of_a_wider_pattern(flipped: bool) -> None:
    """Hung 4° higher than planned, the pattern 1.25 times as wide: −25° to 50° off axis known."""
    plan = Placement(1.0, 6.0, -10.0, flipped)
    off_axis = np.array([0.0, 48.0, 52.0, -24.0, -26.0, -29.0])
    there = Departure(tilt_deg=4.0, pattern_scale=1.25)
    seen = points((-off_axis if flipped else off_axis) - 6.0, plan)
    found = _unknown(LOBE, plan, there, seen)
    assert found.tolist() == [False, False, True, False, True, True]


def trace(frequency_hz: list[float]) -> Trace:
    flat = frozen(np.full(len(frequency_hz), 90.0))
    sure = frozen(np.ones(len(frequency_hz)))
    return Trace("row 1", frozen(frequency_hz), flat, sure, "measured.csv", 7)


def test_bands_of_fewer_than_two_positions_are_left_out() -> None:
    level = np.array([[90.0, UNKNOWN, 88.0], [UNKNOWN, 80.0, UNKNOWN]])
    kept = shared_only(level, (1000.0, 4000.0), trace([100.0, 500.0, 9000.0]))
    assert kept[0].tolist() == pytest.approx([90.0, UNKNOWN, 88.0], nan_ok=True)
    assert np.isnan(kept[1]).all()


def test_no_band_in_common_says_what_there_is() -> None:
    level = np.array([[90.0, UNKNOWN], [UNKNOWN, 80.0]])
    with pytest.raises(ScenarioError) as refused:
        shared_only(level, (1000.0, 4000.0), trace([100.0, 500.0, 9000.0]))
    fault = refused.value.faults[0]
    assert (fault.file, fault.line, fault.key) == ("measured.csv", 7, "frequency")
    assert "the bands are 1000, 4000 Hz, and this position has 100 to 9000 Hz" in fault.message

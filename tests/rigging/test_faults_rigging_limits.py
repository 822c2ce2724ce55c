"""Limits and what a fitting keeps of its own, each to its value and at its last angle."""

import pytest

from aiming.rigging import limits
from aiming.rigging.limits import kept_share, off_axis_deg


def test_the_last_angle_of_a_step_still_keeps_its_share():
    """The pull plumb, the fitting's axis turned with the box by just that angle."""
    for tilt_deg in (5.0, 15.0, 30.0, 45.0):
        for sign in (1.0, -1.0):
            off = off_axis_deg(90.0, 90.0 + sign * tilt_deg)
            assert off == pytest.approx(tilt_deg, abs=1e-9)
            expected = {5.0: 1.0, 15.0: 0.80, 30.0: 0.65, 45.0: 0.30}[tilt_deg]
            assert kept_share("shoulder eyebolt", off) == expected
            assert kept_share("shoulder eyebolt", sign * tilt_deg) == expected
            assert kept_share("shoulder eyebolt", sign * (tilt_deg + 0.01)) < expected


def test_every_limit_as_it_is_told():
    """DGUV Information 215-313, ASME B30.9 and B30.26; the others are our own."""
    assert {limit.code: limit.value for limit in limits.ALL} == {
        "least_share": 0.10,
        "doubt_in_centre": 0.010,
        "utilisation_near": 0.80,
        "utilisation_full": 1.00,
        "wll_share_most": 0.5,
        "leg_elevation_least": 30.0,
        "leg_elevation_stop": 15.0,
        "included_angle_most": 120.0,
        "off_axis_deg": 5.0,
        "secondary_fall_most": 0.20,
        "stack_margin": 1.5,
        "stack_tip_deg": 10.0,
        "cell_doubt_share": 0.01,
        "cell_doubt_n": 2.0,
        "inclinometer_doubt": 0.2,
        "weight_mismatch": 0.05,
    }
    assert kept_share("plain eyebolt", limits.OFF_AXIS_MOST.value) == 1.0


@pytest.mark.parametrize(
    ("fitting", "steps"),
    [
        ("shackle", ((5.0, 1.0), (45.0, 0.70), (90.0, 0.50))),
        (
            "shoulder eyebolt",
            ((5.0, 1.0), (15.0, 0.80), (30.0, 0.65), (45.0, 0.30), (90.0, 0.25)),
        ),
        ("plain eyebolt", ((5.0, 1.0),)),
    ],
)
def test_what_each_fitting_keeps(fitting, steps):
    """Training texts on ASME B30.26; in line means within 5°, our own."""
    for place, (angle, share) in enumerate(steps):
        assert kept_share(fitting, angle) == share
        beyond = steps[place + 1][1] if place + 1 < len(steps) else 0.0
        assert kept_share(fitting, angle + 0.1) == beyond


def test_angles_off_the_axis():
    assert off_axis_deg(10.0, 350.0) == pytest.approx(20.0)
    assert off_axis_deg(-170.0, 90.0) == pytest.approx(100.0)
    assert off_axis_deg(90.0, -90.0) == pytest.approx(180.0)
    assert off_axis_deg(33.0, 33.0) == 0.0

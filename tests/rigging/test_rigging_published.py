"""Worked examples of the statics that are no single number; the numbers: tests/published."""

import pytest
from published.statics import PULL_PICKS, TWO, pull_back, tension_n

from aiming.rigging import loads_at
from aiming.rigging.limits import kept_share
from aiming.speaker.cabinet import Cabinet, Pick


@pytest.mark.parametrize(
    ("elevation_deg", "pulls"), [(-45.3, False), (-45.1, True), (134.7, True), (134.9, False)]
)
def test_where_a_line_could_pull_at_all(elevation_deg, pulls):
    """T > 0 only for −45.2° < β < 134.8°; computed."""
    assert (tension_n(PULL_PICKS, pull_back(elevation_deg), 20.0, 1) > 0.0) is pulls


def test_beyond_the_last_angle_nothing_is_kept():
    """Training texts on ASME B30.26: plain eyebolts straight only."""
    assert kept_share("shoulder eyebolt", 91) == 0.0
    assert kept_share("plain eyebolt", 15) == 0.0


def test_the_points_move_over_the_floor_as_the_box_tilts():
    """A box with picks 0.44 m above its axis: nose down 20° carries them 0.15 m forward."""
    cabinet = Cabinet(
        mass_kg=26.0,
        centre_of_gravity_m=(-0.17, 0.08),
        picks=(Pick("front", (-0.06, 0.44)), Pick("rear", (-0.34, 0.44))),
    )
    level, tilted = (
        loads_at(cabinet, TWO, flipped=False, tilt_deg=tilt, at_m=(0.0, 5.0))
        for tilt in (0.0, -20.0)
    )
    moved = tilted.lines[0].x_m - level.lines[0].x_m
    assert moved == pytest.approx(0.154, abs=0.001)

"""Reachable tilts: what each method leaves, and what is refused, with the reason."""

from dataclasses import replace

import numpy as np
import pytest

from aiming.rigging import NotChecked, RiggingError, loads_at, reachable_tilt_deg
from aiming.rigging.loads import Setting
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

BOX = Cabinet(
    mass_kg=26.0,
    centre_of_gravity_m=(-0.17, 0.08),
    picks=(
        Pick("front", (-0.06, 0.44), 1275.0),
        Pick("rear", (-0.34, 0.44), 1275.0),
        Pick("middle", (-0.20, 0.44), 1275.0),
        Pick("front, base", (-0.06, -0.20)),
        Pick("rear, base", (-0.34, -0.20)),
        Pick("front again", (-0.06, 0.44)),
        Pick("rear, low", (-0.34, 0.00)),
    ),
)
TWO = Rigging("two points", ("front", "rear"))


def reach_of(rigging, *, cabinet=BOX, flipped=False, **more):
    return reachable_tilt_deg(cabinet, rigging, flipped=flipped, **more)


def test_an_orientation_without_picks_above_the_centre_of_gravity():
    reach = reach_of(TWO, flipped=True)
    assert reach.intervals_deg == ()
    assert reach.range_deg is None
    assert reach.reason == "the picks do not lie above the combined centre of gravity"
    assert not reach.allows(0.0)


def test_a_heavy_frame_can_lift_the_centre_above_the_picks():
    heavy = replace(TWO, extra_mass_kg=100.0, extra_at_m=(-0.17, 1.2))
    assert reach_of(heavy).reason == "the picks do not lie above the combined centre of gravity"
    assert reach_of(replace(heavy, extra_at_m=(-0.17, 0.08))).intervals_deg


def test_the_extra_mass_stays_where_it_hangs_when_the_box_is_flipped():
    """Its place is given as hung: above the box both ways."""
    base = Rigging("two points", ("front, base", "rear, base"), extra_mass_kg=5.0)
    above = loads_at(BOX, replace(base, extra_at_m=(-0.17, 0.3)), flipped=True, tilt_deg=0.0)
    expected_w = (26.0 * -0.08 + 5.0 * 0.3) / 31.0
    assert above.centre_of_gravity_m == pytest.approx((-0.17, expected_w))
    unsaid = loads_at(BOX, base, flipped=True, tilt_deg=0.0)
    assert unsaid.centre_of_gravity_m == pytest.approx((-0.17, -0.08))


def test_the_order_of_two_picks_does_not_matter():
    turned = replace(TWO, picks=("rear", "front"))
    assert loads_at(BOX, turned, flipped=False, tilt_deg=-10.0) == loads_at(
        BOX, TWO, flipped=False, tilt_deg=-10.0
    )


def test_picks_on_the_rear_face_hang_it_nose_down():
    """One above the other when level: reached only once the face has come on top."""
    rigging = Rigging("two points", ("rear", "rear, base"))
    [(low, high)] = reach_of(rigging).intervals_deg
    assert low == pytest.approx(-90.0)
    # The upper line bears all when the centre hangs plumb below it: tan τ = −0.17/0.36.
    assert high == pytest.approx(-np.degrees(np.arctan2(0.17, 0.36)), abs=1e-9)


def test_steps_of_tilt():
    free = reach_of(TWO)
    stepped = reach_of(replace(TWO, tilt_step_deg=2.5))
    low, high = free.range_deg
    assert stepped.range_deg == free.range_deg
    assert stepped.tilts_deg[0] - 2.5 < low <= stepped.tilts_deg[0]
    assert stepped.tilts_deg[-1] <= high < stepped.tilts_deg[-1] + 2.5
    assert np.diff(stepped.tilts_deg) == pytest.approx(2.5)
    assert 0.0 in stepped.tilts_deg
    assert stepped.allows([-2.5, -2.4, 0.0]).tolist() == [True, False, True]
    loads = loads_at(BOX, replace(TWO, tilt_step_deg=2.5), flipped=False, tilt_deg=-2.4)
    assert loads.reachable is False
    assert loads.settings[0] == Setting(stepped.tilts_deg[0], None, None)


def test_a_step_that_the_range_has_no_multiple_of():
    narrow = replace(BOX, centre_of_gravity_m=(-0.35, 0.08))
    reach = reach_of(replace(TWO, tilt_step_deg=45.0), cabinet=narrow)
    assert reach.range_deg is not None
    assert reach.tilts_deg == ()
    assert "no multiple of the tilt step of 45°" in reach.reason


def test_within_limits_ranges_and_holes_alike():
    bar = Rigging("one point", ("front", "rear"), holes_u_m=(-0.25, -0.2, -0.15), bar_w_m=0.5)
    reach = reach_of(bar)
    assert reach.holes_u_m == (-0.25, -0.2, -0.15)
    assert list(reach.tilts_deg) == sorted(reach.tilts_deg)
    part = reach.within(-5.0, 0.0)
    assert part.holes_u_m == (-0.2,)
    assert part.tilts_deg == (reach.tilts_deg[1],)
    assert len(part.intervals_deg) == 1
    assert reach_of(TWO).within(-5.0, 5.0).intervals_deg == ((-5.0, 5.0),)
    assert reach_of(TWO).within(60.0, 70.0).intervals_deg == ()


def test_a_hole_that_leaves_a_pick_of_its_bar_slack_is_left_out():
    bar = Rigging("one point", ("front", "rear"), holes_u_m=(-0.9, -0.2), bar_w_m=0.5)
    assert reach_of(bar).holes_u_m == (-0.2,)
    only = replace(bar, holes_u_m=(-0.9,))
    assert reach_of(only).reason == "at every hole one of the bar's picks goes slack"


def test_a_continuous_bar_is_the_range_between_its_ends():
    ends = (-0.25, -0.15)
    bar = Rigging("one point", ("front", "rear"), bar_u_m=ends, bar_w_m=0.5)
    holes = replace(bar, bar_u_m=None, holes_u_m=ends)
    assert reach_of(bar).range_deg == pytest.approx(reach_of(holes).range_deg, abs=1e-12)
    assert reach_of(bar).tilts_deg is None
    one = Rigging("one point", ("middle",))
    assert reach_of(one).tilts_deg == pytest.approx([-np.degrees(np.arctan2(0.03, 0.36))])
    assert reach_of(one).holes_u_m is None


def test_a_bar_below_the_centre_of_gravity():
    bar = Rigging("one point", ("front", "rear"), holes_u_m=(-0.2,), bar_w_m=0.05)
    assert "not above the combined centre of gravity" in reach_of(bar).reason


def test_pulling_to_a_far_point_is_pulling_at_its_elevation():
    """The farther the point, the less the line turns with the tilt: in the limit a fixed slope."""
    fixed = Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=30.0)
    far_m = 1e6
    point = (
        -far_m * float(np.cos(np.radians(30.0))),
        5.0 + far_m * float(np.sin(np.radians(30.0))),
    )
    to_point = replace(fixed, pull_elevation_deg=None, pulling_point_m=point)
    found = reach_of(to_point, at_m=(0.0, 5.0))
    expected = reach_of(fixed)
    assert found.range_deg == pytest.approx(expected.range_deg, abs=1e-3)
    one = loads_at(BOX, fixed, flipped=False, tilt_deg=-20.0)
    two = loads_at(BOX, to_point, flipped=False, tilt_deg=-20.0, at_m=(0.0, 5.0))
    assert [point.tension_n for point in two.points] == pytest.approx(
        [point.tension_n for point in one.points], abs=1e-3
    )
    assert two.reachable is True


def test_a_near_pulling_point_ends_where_a_share_ends():
    rigging = Rigging("pull-back", ("front", "rear, base"), pulling_point_m=(-2.0, 5.5))
    [(low, high)] = reach_of(rigging, at_m=(0.0, 5.0), least_share=0.1).intervals_deg
    loads = loads_at(BOX, rigging, flipped=False, tilt_deg=high, at_m=(0.0, 5.0))
    assert loads.points[1].share == pytest.approx(0.1, abs=1e-9)
    assert low < -20.0 < high


def test_a_pulling_point_needs_the_place():
    rigging = Rigging("pull-back", ("front", "rear, base"), pulling_point_m=(-2.0, 5.5))
    for found in (
        reach_of(rigging),
        loads_at(BOX, rigging, flipped=False, tilt_deg=-10.0),
    ):
        assert isinstance(found, NotChecked)
        assert "depends on where the box is" in found.reason


@pytest.mark.parametrize(
    ("rigging", "reason"),
    [
        (Rigging("two points"), "names no pick"),
        (Rigging("two points", ("front",)), "needs two picks; found picks = ['front']"),
        (Rigging("two points", ("front", "top")), "no pick is called 'top'; the cabinet has front"),
        (
            Rigging("two points", ("front", "middle", "rear")),
            "3 unknown forces, but statics give two equations",
        ),
        (Rigging("two points", ("front", "front again")), "lie on one point"),
        (Rigging("one point", ("front", "rear")), "no pick bar"),
        (Rigging("one point", ("front",), holes_u_m=(0.0,)), "needs its height w"),
        (
            Rigging("one point", ("front",), holes_u_m=(0.0,), bar_u_m=(0.0, 0.1), bar_w_m=0.5),
            "found both",
        ),
        (Rigging("pull-back", ("front", "rear, base")), "elevation or its far end"),
    ],
)
def test_what_cannot_be_computed_is_refused_with_the_reason(rigging, reason):
    with pytest.raises(RiggingError) as refused:
        reach_of(rigging)
    assert reason in str(refused.value)


def test_a_tilt_that_brings_one_pick_above_the_other():
    rigging = Rigging("two points", ("rear", "rear, base"))
    with pytest.raises(RiggingError, match="one pick lies straight above the other"):
        loads_at(BOX, rigging, flipped=False, tilt_deg=0.0)


def test_a_pull_that_runs_through_the_carrying_pick():
    """Level, the line from pick to pick slopes atan(0.64/0.28) up."""
    along = float(np.degrees(np.arctan2(0.64, -0.28)))
    rigging = Rigging("pull-back", ("front", "rear, base"), pull_elevation_deg=along)
    with pytest.raises(RiggingError, match="cannot turn the box"):
        loads_at(BOX, rigging, flipped=False, tilt_deg=0.0)


def test_a_centre_on_the_line_of_the_picks():
    flat = replace(BOX, centre_of_gravity_m=(-0.17, 0.44))
    assert "nothing keeps it upright" in reach_of(TWO, cabinet=flat).reason


@pytest.mark.parametrize("least_share", [0.0, 0.1, 0.3])
def test_pulling_straight_up_is_a_second_plumb_line(least_share):
    up = Rigging("pull-back", ("front", "rear"), pull_elevation_deg=90.0)
    one = reach_of(TWO, least_share=least_share)
    two = reach_of(up, least_share=least_share)
    assert two.range_deg == pytest.approx(one.range_deg, abs=1e-9)
    for tilt in (-20.0, 0.0, 10.0):
        shares = [
            [point.share for point in loads_at(BOX, held, flipped=False, tilt_deg=tilt).points]
            for held in (TWO, up)
        ]
        assert shares[1] == pytest.approx(shares[0], abs=1e-9)

"""What would have to be moved for a tilt to be held: by closed form, and by moving it there."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from aiming.rigging import loads_at, reachable_tilt_deg
from aiming.rigging.adjustment import wanted
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

BOX = Cabinet(
    mass_kg=26.0,
    centre_of_gravity_m=(-0.17, 0.08),
    picks=(Pick("front", (-0.06, 0.44)), Pick("rear", (-0.34, 0.44))),
)
TWO = Rigging("two points", ("front", "rear"))
BAR = Rigging("one point", ("front", "rear"), holes_u_m=(-0.25, -0.20, -0.15), bar_w_m=0.5)
quietly = settings(deadline=None, derandomize=True, max_examples=60)


def found(rigging, tilt_deg, *, cabinet=BOX, flipped=False, least_share=0.1):
    return wanted(cabinet, rigging, flipped=flipped, tilt_deg=tilt_deg, least_share=least_share)


def moved_cabinet(change, cabinet=BOX):
    picks = tuple(
        replace(pick, at_m=(change.u_m, change.w_m)) if pick.name == change.name else pick
        for pick in cabinet.picks
    )
    return replace(cabinet, picks=picks)


def test_the_rear_pick_further_back_holds_it_nose_down():
    """At −30° the front goes slack; with X = u − w·tan τ the rear belongs at
    X = (X_G − 0.1·X_F)/0.9, by hand."""
    slope = np.tan(np.radians(-30.0))
    x_g, x_f = -0.17 - 0.08 * slope, -0.06 - 0.44 * slope
    u = (x_g - 0.1 * x_f) / 0.9 + 0.44 * slope
    change = found(TWO, -30.0)
    assert (change.what, change.name, change.w_m) == ("pick", "rear", 0.44)
    assert change.u_m == pytest.approx(u, abs=1e-12)
    assert change.moved_m == pytest.approx(u + 0.34, abs=1e-12)
    assert change.moved_m == pytest.approx(-0.0731, abs=1e-4)
    loads = loads_at(moved_cabinet(change), TWO, flipped=False, tilt_deg=-30.0)
    assert [point.share for point in loads.points] == pytest.approx([0.1, 0.9], abs=1e-9)
    assert loads.reachable is True
    assert found(replace(TWO, tilt_step_deg=7.0), -30.0) == change


def test_the_front_pick_further_forward_holds_it_nose_up():
    change = found(TWO, 30.0)
    slope = np.tan(np.radians(30.0))
    x_g, x_r = -0.17 - 0.08 * slope, -0.34 - 0.44 * slope
    u = (x_g - 0.1 * x_r) / 0.9 + 0.44 * slope
    assert (change.what, change.name) == ("pick", "front")
    assert (change.u_m, change.moved_m) == pytest.approx((u, u + 0.06), abs=1e-12)
    assert change.moved_m > 0.0


@pytest.mark.parametrize(("centre_u", "name"), [(-0.325, "rear"), (-0.075, "front")])
def test_of_two_that_hold_it_the_shorter_move(centre_u, name):
    """Held already, but with too little on one line: either pick could move, both the same way."""
    box = replace(BOX, centre_of_gravity_m=(centre_u, 0.08))
    change = found(TWO, 0.0, cabinet=box)
    assert change.name == name
    assert abs(change.moved_m) < 0.02
    loads = loads_at(moved_cabinet(change, box), TWO, flipped=False, tilt_deg=0.0)
    assert min(point.share for point in loads.points) == pytest.approx(0.1, abs=1e-9)


def test_a_pick_that_is_where_it_must_be_is_not_moved():
    """The rear bears nine tenths: what is left is to let the front bear them."""
    box = Cabinet(
        mass_kg=20.0,
        centre_of_gravity_m=(0.1, 0.0),
        picks=(Pick("front", (1.0, 0.3)), Pick("rear", (0.0, 0.3))),
    )
    change = found(TWO, 0.0, cabinet=box)
    assert (change.name, change.u_m) == ("front", pytest.approx(1.0 / 9.0))


@pytest.mark.parametrize(("off_m", "name"), [(1.05e-4, "rear"), (0.95e-4, "front")])
def test_a_tenth_of_a_millimetre_is_a_move(off_m, name):
    picks = (Pick("front", (1.0, 0.3)), Pick("rear", (off_m, 0.3)))
    box = Cabinet(mass_kg=20.0, centre_of_gravity_m=(0.1, 0.0), picks=picks)
    assert found(TWO, 0.0, cabinet=box).name == name


@quietly
@given(
    front=st.tuples(st.floats(0.05, 0.5), st.floats(0.1, 0.5)),
    rear=st.tuples(st.floats(-0.5, 0.0), st.floats(0.1, 0.5)),
    tilt_deg=st.floats(-60.0, 60.0),
    least_share=st.sampled_from([0.05, 0.1, 0.3]),
)
def test_moved_there_it_holds(front, rear, tilt_deg, least_share):
    box = replace(
        BOX, centre_of_gravity_m=(0.0, 0.0), picks=(Pick("front", front), Pick("rear", rear))
    )
    change = found(TWO, tilt_deg, cabinet=box, least_share=least_share)
    assume(change is not None)
    after = moved_cabinet(change, box)
    assert after.pick("front").at_m[0] > after.pick("rear").at_m[0]
    loads = loads_at(after, TWO, flipped=False, tilt_deg=tilt_deg)
    assert loads.reachable is True
    assert min(point.share for point in loads.points) == pytest.approx(least_share, abs=1e-6)
    assert change.u_m - box.pick(change.name).at_m[0] == pytest.approx(change.moved_m, abs=1e-12)


def shifted(at, by):
    return at[0] + by[0], at[1] + by[1]


@pytest.mark.parametrize("by", [(1.0, -0.9), (-1.0, 0.7), (0.9, 0.9)])
@pytest.mark.parametrize("tilt_deg", [-30.0, 30.0])
def test_the_move_does_not_depend_on_where_the_acoustic_centre_is(tilt_deg, by):
    moved = replace(
        BOX,
        centre_of_gravity_m=shifted(BOX.centre_of_gravity_m, by),
        picks=tuple(replace(pick, at_m=shifted(pick.at_m, by)) for pick in BOX.picks),
    )
    one, other = found(TWO, tilt_deg), found(TWO, tilt_deg, cabinet=moved)
    assert (other.name, other.moved_m) == (one.name, pytest.approx(one.moved_m))
    assert (other.u_m, other.w_m) == pytest.approx(shifted((one.u_m, one.w_m), by))


def test_no_move_along_the_box_lifts_picks_above_the_centre():
    assert found(TWO, 0.0, flipped=True) is None
    assert found(replace(BAR, bar_w_m=-0.2), 0.0) is None


@pytest.mark.parametrize("rigging", [TWO, BAR, Rigging("one point", ("front",))])
@pytest.mark.parametrize("tilt_deg", [-90.0, 90.0])
def test_nothing_along_the_box_holds_it_on_end(rigging, tilt_deg):
    assert found(rigging, tilt_deg) is None


def test_where_nothing_is_wanted():
    pull = Rigging("pull-back", ("front", "rear"), pull_elevation_deg=30.0)
    assert found(pull, -20.0) is None
    assert found(TWO, -30.0, cabinet=Cabinet(mass_kg=26.0)) is None


def test_the_hole_of_a_bar():
    """h = 0.42 over the centre of gravity: u_H = −0.17 + 0.42·tan τ."""
    change = found(BAR, -8.0)
    u = -0.17 + 0.42 * np.tan(np.radians(-8.0))
    assert (change.what, change.name, change.w_m) == ("hole", "", 0.5)
    assert change.u_m == pytest.approx(u, abs=1e-12)
    assert change.moved_m == pytest.approx(u + 0.25, abs=1e-12)
    bored = replace(BAR, holes_u_m=(change.u_m,))
    assert reachable_tilt_deg(BOX, bored, flipped=False).tilts_deg == pytest.approx([-8.0])
    # From whichever hole is nearest, not the last or the lowest.
    assert found(BAR, -3.0).moved_m == pytest.approx(-0.17 + 0.42 * np.tan(np.radians(-3.0)) + 0.2)
    assert found(replace(BAR, tilt_step_deg=7.0), -8.0) == change


def test_the_end_of_a_continuous_bar():
    bar = replace(BAR, holes_u_m=(), bar_u_m=(-0.18, -0.15))
    u = -0.17 + 0.42 * np.tan(np.radians(-8.0))
    change = found(bar, -8.0)
    assert (change.u_m, change.moved_m) == pytest.approx((u, u + 0.18), abs=1e-12)


def test_no_hole_hangs_a_bar_whose_pick_goes_slack():
    """At −40° the front pick is slack whatever the hole."""
    assert loads_at(BOX, TWO, flipped=False, tilt_deg=-40.0).points[0].share < 0.0
    assert found(BAR, -40.0) is None


def test_a_single_pick_moves_itself():
    """Its own height counts, also where the height of a bar that it has not is given."""
    u = -0.17 + 0.36 * np.tan(np.radians(-40.0))
    for bar_w_m in (None, 0.9):
        change = found(Rigging("one point", ("front",), bar_w_m=bar_w_m), -40.0)
        assert (change.what, change.w_m) == ("hole", 0.44)
        assert (change.u_m, change.moved_m) == pytest.approx((u, u + 0.06), abs=1e-12)


def test_a_hole_at_the_height_of_the_centre_holds_no_tilt():
    box = replace(BOX, centre_of_gravity_m=(-0.17, 0.0))
    level = replace(BAR, bar_w_m=0.0)
    assert found(level, -3.0, cabinet=box) is None
    assert found(level, 0.0, cabinet=box) is None
    assert "not above" in reachable_tilt_deg(box, level, flipped=False).reason

"""What holds whatever the box: sums, mirrors, scaling, continuity, ranges that end at nought."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from aiming.base.units import G_M_S2
from aiming.rigging import NotChecked, RiggingError, loads_at, reachable_tilt_deg
from aiming.rigging.body import hung_body, x_and_z
from aiming.rigging.statics import shares_and_leans, two_point_shares
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging, Underhung

place = st.floats(-0.6, 0.6)
point = st.tuples(place, place)
mass = st.floats(1.0, 200.0)
quietly = settings(deadline=None, derandomize=True, max_examples=60)
TWO = Rigging("two points", ("front", "rear"))


@st.composite
def boxes(draw):
    """A box with two picks above its centre of gravity, and its extra mass anywhere."""
    rear_u = draw(st.floats(-0.6, 0.2))
    front_u = rear_u + draw(st.floats(0.1, 0.6))
    cabinet = Cabinet(
        mass_kg=draw(mass),
        centre_of_gravity_m=(draw(st.floats(-0.5, 0.5)), draw(st.floats(-0.3, 0.1))),
        picks=(
            Pick("front", (front_u, draw(st.floats(0.2, 0.5))), 5000.0),
            Pick("rear", (rear_u, draw(st.floats(0.2, 0.5))), 5000.0),
        ),
    )
    return cabinet, draw(st.floats(0.0, 20.0)), draw(point)


def rigged(extra_kg, extra_at):
    return replace(TWO, extra_mass_kg=extra_kg, extra_at_m=extra_at)


@quietly
@given(box=boxes(), tilt_deg=st.floats(-40.0, 40.0))
def test_loads_sum_to_the_weight(box, tilt_deg):
    cabinet, extra_kg, extra_at = box
    try:
        loads = loads_at(cabinet, rigged(extra_kg, extra_at), flipped=False, tilt_deg=tilt_deg)
    except RiggingError:
        assume(False)
    weight_n = (cabinet.mass_kg + extra_kg) * G_M_S2
    assert loads.weight_n == pytest.approx(weight_n, rel=1e-12)
    tensions = [point.tension_n for point in loads.points]
    assert sum(tensions) == pytest.approx(weight_n, rel=1e-9, abs=1e-9 * max(map(abs, tensions)))
    assert sum(point.share for point in loads.points) == pytest.approx(1.0, abs=1e-6)


@quietly
@given(box=boxes(), tilt_deg=st.floats(-30.0, 30.0))
def test_a_mirrored_box_has_mirrored_loads(box, tilt_deg):
    """u → −u and nose-up for nose-down: front and rear change places."""
    cabinet, extra_kg, (extra_u, extra_w) = box
    front, rear = cabinet.picks

    def mirrored(pick, name):
        return Pick(name, (-pick.at_m[0], pick.at_m[1]), pick.wll_n)

    u, w = cabinet.centre_of_gravity_m
    other = replace(
        cabinet,
        centre_of_gravity_m=(-u, w),
        picks=(mirrored(rear, "front"), mirrored(front, "rear")),
    )
    try:
        one = loads_at(
            cabinet, rigged(extra_kg, (extra_u, extra_w)), flipped=False, tilt_deg=tilt_deg
        )
    except RiggingError:
        assume(False)
    two = loads_at(other, rigged(extra_kg, (-extra_u, extra_w)), flipped=False, tilt_deg=-tilt_deg)
    scale = 1e-9 * one.weight_n * (1.0 + max(abs(point.share) for point in one.points))
    ones = [point.tension_n for point in one.points]
    twos = [point.tension_n for point in two.points]
    assert ones == pytest.approx(twos[::-1], rel=1e-7, abs=scale)
    if one.tilt_range_deg is not None:
        low, high = one.tilt_range_deg
        assert two.tilt_range_deg == pytest.approx((-high, -low), abs=1e-7)


@quietly
@given(box=boxes(), tilt_deg=st.floats(-30.0, 30.0))
def test_flipping_twice_is_no_flip(box, tilt_deg):
    """A box built upside down and hung flipped is the box hung upright."""
    cabinet, extra_kg, extra_at = box
    u, w = cabinet.centre_of_gravity_m
    built_over = replace(
        cabinet,
        centre_of_gravity_m=(u, -w),
        picks=tuple(
            Pick(pick.name, (pick.at_m[0], -pick.at_m[1]), pick.wll_n) for pick in cabinet.picks
        ),
    )
    rigging = rigged(extra_kg, extra_at)
    try:
        upright = loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg)
    except RiggingError:
        assume(False)
    assert loads_at(built_over, rigging, flipped=True, tilt_deg=tilt_deg) == upright


@quietly
@given(box=boxes(), tilt_deg=st.floats(-30.0, 30.0), times=st.floats(0.1, 10.0))
def test_scaling_the_mass_scales_every_load(box, tilt_deg, times):
    cabinet, extra_kg, extra_at = box
    try:
        one = loads_at(cabinet, rigged(extra_kg, extra_at), flipped=False, tilt_deg=tilt_deg)
    except RiggingError:
        assume(False)
    scaled = replace(cabinet, mass_kg=cabinet.mass_kg * times)
    two = loads_at(scaled, rigged(extra_kg * times, extra_at), flipped=False, tilt_deg=tilt_deg)
    for before, after in zip(one.points, two.points, strict=True):
        assert after.tension_n == pytest.approx(times * before.tension_n, rel=1e-7, abs=1e-9)
        assert after.utilisation == pytest.approx(times * before.utilisation, rel=1e-7, abs=1e-12)
        assert after.doubt_n == pytest.approx(times * before.doubt_n, rel=1e-7)


@quietly
@given(box=boxes(), least=st.sampled_from([0.0, 0.1, 0.25]))
def test_the_range_ends_where_a_share_reaches_its_least(box, least):
    cabinet, extra_kg, extra_at = box
    rigging = rigged(extra_kg, extra_at)
    reach = reachable_tilt_deg(cabinet, rigging, flipped=False, least_share=least)
    body = hung_body(cabinet, rigging, flipped=False)
    front, rear = (pick.at_m for pick in body.picks)

    def least_found(tilt_deg):
        shares = two_point_shares(front, rear, body.centre_of_gravity_m, tilt_deg=tilt_deg)
        heights = np.stack([x_and_z(at, tilt_deg)[1] for at in (front, rear)], axis=-1)
        above = (shares * heights).sum(axis=-1) - x_and_z(body.centre_of_gravity_m, tilt_deg)[1]
        return np.where(above > 0.0, shares.min(axis=-1), -np.inf)

    if not reach.intervals_deg:
        everywhere = least_found(np.linspace(-89.9, 89.9, 1799))
        assert everywhere.max() < least + 0.05
        return
    [(low, high)] = reach.intervals_deg
    inside = np.linspace(low, high, 41)[1:-1]
    assert (least_found(inside) >= least - 1e-9).all()
    for end in (low, high):
        if abs(end) < 89.0:
            assert float(least_found(end)) == pytest.approx(least, abs=1e-6)
    for outside in (low - 0.1, high + 0.1):
        if abs(outside) < 89.0:
            assert float(least_found(outside)) < least
    # Continuous all through: no step of the tilt makes a jump of the share.
    steps = np.diff(
        two_point_shares(front, rear, body.centre_of_gravity_m, tilt_deg=inside), axis=0
    )
    assert np.isfinite(steps).all()
    assert (np.sign(steps[:, 0]) == np.sign(steps[0, 0])).all()


@quietly
@given(
    carrying=point,
    pulled=point,
    elevation=st.floats(-60.0, 90.0),
    least=st.sampled_from([0.0, 0.1]),
)
def test_the_pull_back_range_against_a_scan(carrying, pulled, elevation, least):
    """The closed form against every tenth of a degree tried."""
    cabinet = Cabinet(
        mass_kg=30.0,
        centre_of_gravity_m=(0.0, 0.0),
        picks=(Pick("carry", carrying), Pick("pull", pulled)),
    )
    rigging = Rigging("pull-back", ("carry", "pull"), pull_elevation_deg=elevation)
    try:
        reach = reachable_tilt_deg(cabinet, rigging, flipped=False, least_share=least)
    except RiggingError:
        assume(False)
    area = carrying[0] * pulled[1] - carrying[1] * pulled[0]
    assume(abs(area) > 1e-3)
    tilts = np.arange(-89.95, 89.95, 0.1)
    allowed = reach.allows(tilts)
    body = hung_body(cabinet, rigging, flipped=False)
    sine = np.sin(np.radians(elevation))
    for tilt, found in zip(tilts[::7], allowed[::7], strict=True):
        turned = np.radians(tilt)
        z_h = carrying[0] * np.sin(turned) + carrying[1] * np.cos(turned)
        x_h = carrying[0] * np.cos(turned) - carrying[1] * np.sin(turned)
        x_p = pulled[0] * np.cos(turned) - pulled[1] * np.sin(turned)
        z_p = pulled[0] * np.sin(turned) + pulled[1] * np.cos(turned)
        # Where the line of the picks passes over the centre of gravity, which is the origin.
        over = (z_h * x_p - z_p * x_h) / (x_p - x_h)
        (_, _, _), (pull, _, _) = shares_and_leans(body, rigging, tilt_deg=tilt, beta_deg=elevation)
        margins = (pull - least, 1.0 - pull, 1.0 - pull * sine - least, z_h, over)
        if min(abs(margin) for margin in margins) > 1e-6:
            assert bool(found) == bool(min(margins) > 0.0)


@quietly
@given(box=boxes(), tilt_deg=st.floats(-20.0, 20.0), splay=st.floats(-15.0, 15.0))
def test_a_second_box_is_an_extra_mass_where_it_hangs(box, tilt_deg, splay):
    cabinet, _, _ = box
    below = Underhung(
        20.0, joint_m=(-0.1, -0.3), centre_of_gravity_m=(0.02, -0.25), splay_deg=splay
    )
    turn = np.radians(-splay)
    at = (
        -0.1 + 0.02 * np.cos(turn) + 0.25 * np.sin(turn),
        -0.3 + 0.02 * np.sin(turn) - 0.25 * np.cos(turn),
    )
    try:
        hung = loads_at(cabinet, replace(TWO, below=below), flipped=False, tilt_deg=tilt_deg)
    except RiggingError:
        assume(False)
    extra = loads_at(cabinet, rigged(20.0, at), flipped=False, tilt_deg=tilt_deg)
    assert hung.weight_n == pytest.approx(extra.weight_n)
    assert hung.centre_of_gravity_m == pytest.approx(extra.centre_of_gravity_m, abs=1e-12)


def test_more_splay_brings_the_lower_box_back():
    """Nose further down, its rear goes up and its centre, below the joint, swings rearwards."""
    below = Underhung(20.0, joint_m=(0.0, -0.3), centre_of_gravity_m=(0.0, -0.25), splay_deg=10.0)
    cabinet = Cabinet(
        mass_kg=20.0,
        centre_of_gravity_m=(0.0, 0.0),
        picks=(Pick("front", (0.1, 0.3)), Pick("rear", (-0.1, 0.3))),
    )
    loads = loads_at(cabinet, replace(TWO, below=below), flipped=False, tilt_deg=0.0)
    assert loads.centre_of_gravity_m[0] == pytest.approx(-0.5 * 0.25 * np.sin(np.radians(10.0)))


def test_what_is_missing_is_said_and_not_assumed():
    picks = (Pick("front", (0.1, 0.3)), Pick("rear", (-0.1, 0.3)))
    for cabinet, missing in (
        (None, "mass and centre of gravity and picks"),
        (Cabinet(centre_of_gravity_m=(0.0, 0.0), picks=picks), "mass not given"),
        (Cabinet(mass_kg=20.0, picks=picks), "centre of gravity not given"),
        (Cabinet(mass_kg=20.0, centre_of_gravity_m=(0.0, 0.0)), "picks not given"),
    ):
        found = loads_at(cabinet, TWO, flipped=False, tilt_deg=0.0)
        assert isinstance(found, NotChecked)
        assert missing in found.reason
        assert reachable_tilt_deg(cabinet, TWO, flipped=False) == found

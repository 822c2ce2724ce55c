"""Loads and the body that hangs, at their edges: closed forms worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hung_boxes import BAR, BOX, ONE, PULL

from aiming.base.units import G_M_S2 as G
from aiming.rigging import NotChecked, RiggingError, loads_at
from aiming.rigging.body import distance_m, front_to_rear, hung_body, masses
from aiming.rigging.statics import pull_elevation_deg, shares_and_leans
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

TWO = Rigging("two points", ("front", "rear"))
AT = (0.5, 6.0)


def loads(rigging, tilt_deg=0.0, *, cabinet=BOX, **more):
    return loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg, **more)


def lines(rigging, tilt_deg=0.0, *, cabinet=BOX, at_m=AT):
    return loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg, at_m=at_m)


def body_of(rigging, cabinet=BOX):
    return hung_body(cabinet, rigging, flipped=False)


# --- loads


def test_a_single_line_bears_all():
    [point] = loads(ONE, -15.0).points
    assert (point.share, point.lean_deg, point.doubt_n) == (1.0, 0.0, 0.0)
    assert point.tension_n == pytest.approx(26.0 * G)


@pytest.mark.parametrize("tilt_deg", [-50.0, 20.0])
def test_the_doubt_is_a_size_on_whichever_side_the_second_pick_is(tilt_deg):
    """10 mm of 26 kg over the distance of the lines; rear ahead of front at −50°."""
    rear = Rigging("two points", ("rear", "rear, base"))
    apart = 0.64 * abs(np.sin(np.radians(tilt_deg)))
    for point in loads(rear, tilt_deg).points:
        assert point.doubt_n == pytest.approx(0.01 * 26.0 * G / apart)


def test_doubt_where_the_pulling_line_bears_all():
    """Plumb pulling line, the centre straight below its pick: 10 mm off either way, and the
    carrying line takes 10 mm of the arm of 0.25 m."""
    box = Cabinet(
        mass_kg=10.0,
        centre_of_gravity_m=(-0.25, 0.0),
        picks=(Pick("carry", (0.0, 0.5)), Pick("pull", (-0.25, 0.5))),
    )
    up = Rigging("pull-back", ("carry", "pull"), pull_elevation_deg=90.0)
    carrying, pulled = loads(up, cabinet=box).points
    assert carrying.share == pytest.approx(0.0, abs=1e-12)
    assert carrying.doubt_n == pytest.approx(10.0 * G * 0.01 / 0.25)
    assert pulled.doubt_n == pytest.approx(carrying.doubt_n)


def test_how_far_a_pick_lies_above_the_centre():
    sine, cosine = np.sin(np.radians(-15.0)), np.cos(np.radians(-15.0))
    points = loads(TWO, -15.0).points
    for point, u in zip(points, (-0.06, -0.34), strict=True):
        assert point.above_centre_m == pytest.approx((u + 0.17) * sine + 0.36 * cosine)


@pytest.mark.parametrize(
    ("rigging", "rise_m"), [(ONE, 0.36), (replace(ONE, bar_w_m=0.9), 0.36), (BAR, 0.42)]
)
def test_where_the_hole_would_have_to_be(rigging, rise_m):
    turn = np.radians(-12.0)
    found = loads(rigging, -12.0)
    assert found.hole_u_m == pytest.approx(-0.17 + rise_m * np.tan(turn))
    assert found.doubt_deg == pytest.approx(np.degrees(0.01 * np.cos(turn) ** 2 / rise_m))
    assert loads(TWO, -12.0).hole_u_m is None


def test_hung_at_the_height_of_its_centre_no_hole_sets_a_tilt():
    box = Cabinet(mass_kg=5.0, centre_of_gravity_m=(0.1, 0.0), picks=(Pick("front", (0.0, 0.0)),))
    found = loads(ONE, cabinet=box)
    assert (found.hole_u_m, found.doubt_deg) == (None, None)
    assert (found.reachable, found.tilt_range_deg) == (False, None)
    assert "not above the combined centre of gravity" in found.unreachable


def test_a_tilt_as_it_is_printed_is_the_holes():
    first, _ = loads(BAR).settings
    tilt, u = first.tilt_deg, first.hole_u_m
    assert u == -0.20
    assert tilt == pytest.approx(np.degrees(np.arctan(-0.03 / 0.42)))
    assert loads(BAR, tilt + 0.0499).reachable is True
    assert loads(BAR, tilt + 0.0501).reachable is False
    high = loads(TWO).tilt_range_deg[1]
    assert loads(TWO, high - 1e-7).reachable is True
    assert loads(TWO, high + 0.04).reachable is False
    assert loads(TWO).unreachable == ""


def test_the_narrower_range():
    """Each end by hand: X_G = X_R + s·(X_F − X_R) with X = u − w·tan τ."""
    found = loads(TWO)
    for share, (low, high) in (
        (0.0, found.tilt_range_deg),
        (0.1, found.least_share_tilt_range_deg),
        (0.2, loads(TWO, least_share=0.2).least_share_tilt_range_deg),
    ):
        assert np.tan(np.radians(high)) * 0.36 == pytest.approx(0.11 - share * 0.28)
        assert np.tan(np.radians(low)) * 0.36 == pytest.approx(-0.17 + share * 0.28)


def test_a_pulling_line_to_a_point_is_as_good_as_its_elevation():
    point = replace(PULL, pull_elevation_deg=None, pulling_point_m=(-3.0, 7.0))
    found = loads(point, -20.0, at_m=AT)
    turn = np.radians(-20.0)
    x = 0.5 - 0.34 * np.cos(turn) + 0.20 * np.sin(turn)
    z = 6.0 - 0.34 * np.sin(turn) - 0.20 * np.cos(turn)
    elevation = float(np.degrees(np.arctan2(7.0 - z, x + 3.0)))
    assert found.pull_elevation_deg == pytest.approx(elevation)
    same = loads(replace(PULL, pull_elevation_deg=elevation), -20.0)
    assert [one.share for one in found.points] == pytest.approx([one.share for one in same.points])
    assert isinstance(loads(point, -20.0), NotChecked)


def test_elevations_of_a_line_by_hand():
    """Pick at (0.2, −0.1); nose up 90° it is at (0.1, 0.2)."""
    for tilt_deg, x, z in ((0.0, 0.2, -0.1), (90.0, 0.1, 0.2)):
        for rearwards, upwards in ((2.0, 2.0), (1.0, -np.sqrt(3.0)), (-1.0, 1.0)):
            point = (3.0 + x - rearwards, 5.0 + z + upwards)
            found = pull_elevation_deg(
                (0.2, -0.1), tilt_deg=tilt_deg, at_m=(3.0, 5.0), pulling_point_m=point
            )
            assert float(found) == pytest.approx(np.degrees(np.arctan2(upwards, rearwards)))


# --- the body that hangs


def test_parts_that_hang():
    assert [name for name, _, _ in masses(BOX, TWO, flipped=False)] == ["cabinet"]
    extra = replace(TWO, extra_mass_kg=0.5)
    assert masses(BOX, extra, flipped=True)[1] == ("extra", 0.5, (-0.17, -0.08))
    for unknown in (None, Cabinet(mass_kg=2.0), Cabinet(centre_of_gravity_m=(0.0, 0.0))):
        assert masses(unknown, extra, flipped=False) == ()


def test_front_to_rear_and_the_upper_first():
    low, high, ahead = Pick("low", (0.0, 0.1)), Pick("high", (0.0, 0.3)), Pick("ahead", (0.2, 0.0))
    assert front_to_rear((low, high, ahead)) == (ahead, high, low)


def test_distances():
    assert distance_m((1.0, 7.0), (4.0, 3.0)) == 5.0
    near = replace(BOX, picks=(Pick("front", (0.0, 0.4)), Pick("rear", (0.0, 0.4 + 5e-7))))
    with pytest.raises(RiggingError, match="on one point"):
        body_of(TWO, near)
    just = replace(BOX, picks=(Pick("front", (1e-6, 0.4)), Pick("rear", (0.0, 0.4))))
    assert len(body_of(TWO, just).picks) == 2
    apart = replace(BOX, picks=(Pick("front", (0.3, 0.3)), Pick("rear", (-0.3, -0.3))))
    assert len(body_of(TWO, apart).picks) == 2


def test_a_line_through_the_carrying_pick_has_no_arm():
    along = float(np.degrees(np.arctan2(0.64, -0.28)))
    with pytest.raises(RiggingError, match="cannot turn the box"):
        shares_and_leans(body_of(PULL), PULL, tilt_deg=0.0, beta_deg=along)

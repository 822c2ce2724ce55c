"""Worked examples of the statics: closed forms, each recomputed by at least two independent codes.

Their frame is nose-down: φ = −tilt.  g = 9.80665 m/s².  Where an example has a published source
it stands in the test's docstring; the others are worked examples of ours ("computed").
"""

import numpy as np
import pytest

from aiming.rigging import bridle, hang_layout, loads_at, reachable_tilt_deg
from aiming.rigging.bridle import leg_factor
from aiming.rigging.limits import kept_share
from aiming.rigging.stack import Block, stack_stability, wind_pressure_pa
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

POUND_FORCE_N = 4.4482216152605
HALF_DIGIT_N = 0.005


def cabinet_of(*picks: tuple[str, float, float], mass_kg: float = 45.0) -> Cabinet:
    """Picks relative to the centre of gravity, which is the acoustic centre here."""
    return Cabinet(
        mass_kg=mass_kg,
        centre_of_gravity_m=(0.0, 0.0),
        picks=tuple(Pick(name=name, at_m=(u, w)) for name, u, w in picks),
    )


TWO = Rigging(method="two points", picks=("front", "rear"))
LEVEL_PICKS = cabinet_of(("front", 0.28, 0.35), ("rear", -0.22, 0.35))
STEP_PICKS = cabinet_of(("front", 0.28, 0.30), ("rear", -0.22, 0.35))


def tensions_n(cabinet, rigging, tilt_deg, **more):
    loads = loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg, **more)
    return [point.tension_n for point in loads.points]


@pytest.mark.parametrize(
    ("nose_down_deg", "front_n", "rear_n"),
    [(0, 194.17, 247.13), (10, 139.70, 301.60), (20, 81.74, 359.56), (30, 15.82, 425.48)],
)
def test_two_points_of_equal_height(nose_down_deg, front_n, rear_n):
    """T_F/W = (a − h·tan φ)/s; computed, 45 kg, s 0.50, a 0.22, b 0.28, h 0.35 m."""
    assert tensions_n(LEVEL_PICKS, TWO, -nose_down_deg) == pytest.approx(
        [front_n, rear_n], abs=HALF_DIGIT_N
    )


def test_range_of_equal_heights():
    """Both taut for φ from −38.66° to +32.15°, with 10 % each from −33.31° to +25.91°; computed."""
    loads = loads_at(LEVEL_PICKS, TWO, flipped=False, tilt_deg=0.0)
    assert loads.tilt_range_deg == pytest.approx((-32.15, 38.66), abs=0.005)
    assert loads.least_share_range_deg == pytest.approx((-25.91, 33.31), abs=0.005)


def test_two_points_of_unequal_height():
    """The front pick lower by 0.05 m: 142.21/299.09 N at 10°, taut −43.03° to 32.15°; computed."""
    assert tensions_n(STEP_PICKS, TWO, -10.0) == pytest.approx([142.21, 299.09], abs=HALF_DIGIT_N)
    reach = reachable_tilt_deg(STEP_PICKS, TWO, flipped=False)
    assert reach.range_deg == pytest.approx((-32.15, 43.03), abs=0.005)


BAR = Rigging(
    method="one point",
    picks=("front",),
    holes_u_m=(-0.050, -0.025, 0.0, 0.025),
    bar_w_m=0.40,
)


def test_holes_of_a_pick_bar():
    """tan φ = (u_G − u_H)/h with h 0.40, u_G 0.03: 11.31, 7.83, 4.29, 0.72°; computed."""
    cabinet = Cabinet(
        mass_kg=45.0, centre_of_gravity_m=(0.03, 0.0), picks=(Pick("front", (0.0, 0.3)),)
    )
    reach = reachable_tilt_deg(cabinet, BAR, flipped=False)
    assert reach.holes_u_m == (-0.050, -0.025, 0.0, 0.025)
    assert reach.tilts_deg == pytest.approx((-11.31, -7.83, -4.29, -0.72), abs=0.005)
    doubts = [
        loads_at(cabinet, BAR, flipped=False, tilt_deg=tilt).doubt_deg for tilt in reach.tilts_deg
    ]
    assert doubts == pytest.approx([1.377, 1.406, 1.424, 1.432], abs=0.0006)


PULL_PICKS = cabinet_of(("carry", 0.05, 0.35), ("pull", -0.25, -0.30))


def pull_back(elevation_deg):
    return Rigging("pull-back", ("carry", "pull"), pull_elevation_deg=elevation_deg)


@pytest.mark.parametrize(
    ("elevation_deg", "pull_n", "carried_n", "lean_deg"),
    [
        (-30, 391.3, 721.5, 28.0),
        (0, 144.7, 464.4, 18.2),
        (30, 106.3, 398.9, 13.3),
        (60, 106.5, 353.1, 8.7),
        (90, 145.9, 295.4, 0.0),
    ],
)
def test_pull_back(elevation_deg, pull_n, carried_n, lean_deg):
    """45 kg nose down 20°: the pull, the carrying line and its lean forward; computed."""
    rigging = pull_back(elevation_deg)
    loads = loads_at(PULL_PICKS, rigging, flipped=False, tilt_deg=-20.0)
    carrying, pulled = loads.points
    assert pulled.tension_n == pytest.approx(pull_n, abs=0.06)
    assert carrying.tension_n == pytest.approx(carried_n, abs=0.06)
    assert carrying.lean_deg == pytest.approx(lean_deg, abs=0.06)


def test_least_pull():
    """The pull is least, 102.75 N, at an elevation of 44.78°; computed."""
    pulls = {
        elevation: tensions_n(PULL_PICKS, pull_back(elevation), -20.0)[1]
        for elevation in np.arange(44.0, 45.5, 0.01)
    }
    least = min(pulls, key=pulls.__getitem__)
    assert least == pytest.approx(44.78, abs=0.011)
    assert pulls[least] == pytest.approx(102.75, abs=HALF_DIGIT_N)


@pytest.mark.parametrize(
    ("elevation_deg", "pulls"), [(-45.3, False), (-45.1, True), (134.7, True), (134.9, False)]
)
def test_where_a_line_could_pull_at_all(elevation_deg, pulls):
    """T > 0 only for −45.2° < β < 134.8°; computed."""
    assert (tensions_n(PULL_PICKS, pull_back(elevation_deg), -20.0)[1] > 0.0) is pulls


def test_two_leg_bridle():
    """1000 N, V 2/1.5, H 1.5/2: 800/600 N, 480 N level, 90° between; computed."""
    found = bridle(load_n=1000.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0))
    assert [leg.tension_n for leg in found.legs] == pytest.approx([800.0, 600.0], abs=1e-9)
    assert found.horizontal_n == pytest.approx(480.0, abs=1e-9)
    assert found.included_deg == pytest.approx(90.0, abs=1e-9)


def test_bridle_of_the_lesson():
    """Hall, Rigging Math, lesson 4: 500 lb, V 4/3, H 3/6 ft give 454.5 and 304.9 lb."""
    load_n, foot_m = 500.0 * POUND_FORCE_N, 0.3048
    found = bridle(
        load_n=load_n,
        drops_m=(4.0 * foot_m, 3.0 * foot_m),
        reaches_m=(3.0 * foot_m, 6.0 * foot_m),
    )
    pounds = [leg.tension_n / POUND_FORCE_N for leg in found.legs]
    assert pounds == pytest.approx([454.5, 304.9], abs=0.05)


@pytest.mark.parametrize(
    ("elevation_deg", "factor"), [(75, 1.035), (60, 1.155), (45, 1.414), (30, 2.000)]
)
def test_leg_angle_factor(elevation_deg, factor):
    """1/sin of the angle above horizontal: trade tables, read in secondary texts."""
    assert leg_factor(elevation_deg) == pytest.approx(factor, abs=0.0005)
    reach = 1.0 / np.tan(np.radians(elevation_deg))
    legs = bridle(load_n=2.0, drops_m=(1.0, 1.0), reaches_m=(reach, reach)).legs
    assert [leg.tension_n for leg in legs] == pytest.approx([factor, factor], abs=0.0005)


def test_ground_stack_in_wind():
    """90 kg, z_G 0.75, margins 0.26/0.34, A 0.90 m² at 0.75 m, 15 m/s, ρ 1.25, c_f 1.5; computed:
    q 140.6 Pa, F 189.8 N, tips at 19.12°/24.39°, safeties 1.61/2.11, sliding at μ 0.3 1.39."""
    found = stack_stability(
        (Block("box", 90.0, (0.0, 0.75), wind_area_m2=0.90, wind_z_m=0.75),),
        front_x_m=0.26,
        rear_x_m=-0.34,
        gust_speed_m_s=15.0,
        friction=0.3,
        force_coefficient=1.5,
    )
    assert found.pressure_pa == pytest.approx(140.6, abs=0.05)
    assert found.wind_n == pytest.approx(189.8, abs=0.05)
    assert (found.front.tip_deg, found.rear.tip_deg) == pytest.approx((19.12, 24.39), abs=0.005)
    assert (found.front.safety, found.rear.safety) == pytest.approx((1.61, 2.11), abs=0.005)
    assert found.sliding_safety == pytest.approx(1.39, abs=0.0051)


def test_tip_before_slide():
    """Statics worked example, Mississippi State: 250 lb, 32 in wide, pushed at 66 in, μ 0.4: it
    tips at 60.6 lb before it slides at 100 lb."""
    inch_m, mass_kg = 0.0254, 250.0 * 0.45359237
    push_n = 1.0
    block = Block(
        "case",
        mass_kg,
        (0.0, 1.0),
        wind_area_m2=push_n / (1.8 * wind_pressure_pa(1.0)),
        wind_z_m=66.0 * inch_m,
    )
    found = stack_stability(
        (block,),
        front_x_m=16.0 * inch_m,
        rear_x_m=-16.0 * inch_m,
        gust_speed_m_s=1.0,
        friction=0.4,
    )
    assert found.wind_n == pytest.approx(push_n, rel=1e-12)
    # A push of 1 N: the safety is the push in newtons that would upset it.
    assert found.front.safety / POUND_FORCE_N == pytest.approx(60.6, abs=0.05)
    assert found.sliding_safety / POUND_FORCE_N == pytest.approx(100.0, abs=0.05)


def test_what_an_off_axis_pull_leaves():
    """Training texts on ASME B30.26 (secondary, they vary): shackle 45° 70 %, 90° 50 %; shoulder
    eyebolt 15/30/45/90° 80/65/30/25 %; plain eyebolts straight only."""
    assert [kept_share("shackle", at) for at in (0, 45, 90)] == [1.0, 0.70, 0.50]
    shoulder = [kept_share("shoulder eyebolt", at) for at in (0, 15, 30, 45, 90, 91)]
    assert shoulder == [1.0, 0.80, 0.65, 0.30, 0.25, 0.0]
    assert [kept_share("plain eyebolt", at) for at in (0, 15)] == [1.0, 0.0]


def test_the_points_move_over_the_floor_as_the_box_tilts():
    """A box with picks 0.44 m above its axis: nose down 20° carries them 0.15 m forward."""
    cabinet = Cabinet(
        mass_kg=26.0,
        centre_of_gravity_m=(-0.17, 0.08),
        picks=(Pick("front", (-0.06, 0.44)), Pick("rear", (-0.34, 0.44))),
    )
    level, tilted = (
        hang_layout(cabinet, TWO, flipped=False, tilt_deg=tilt, at_m=(0.0, 5.0))
        for tilt in (0.0, -20.0)
    )
    moved = tilted.points[0].x_m - level.points[0].x_m
    assert moved == pytest.approx(0.154, abs=0.001)

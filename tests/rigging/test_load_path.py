"""What was signable where physics says no: lines, steel, wedges, bridles in plan, weighing, wind.

Statics apart from the code: forces are summed as vectors here, in the plane and in space.
"""

from dataclasses import replace

import numpy as np
import pytest
from hung_boxes import BOX

from aiming.base.units import G_M_S2 as G
from aiming.rigging import RiggingError, bridle, bridle_to_points, loads_at
from aiming.rigging.centre_of_gravity import Weighing, centre_found, own_centre_m
from aiming.rigging.ground_stack import standing_stack
from aiming.rigging.loads import holds_without_stop
from aiming.rigging.reach import last_tilt_deg
from aiming.rigging.wind import wind_on_hung, wind_pressure_pa
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.rigging import Line, LinePart, Rigging
from aiming.speaker.stack import Stack, Standing

TWO = Rigging("two points", ("front", "rear"), steel_height_m=9.0)
CHAIN = Line((
    LinePart("clamp", 4000.0, 2.0, 0.12),
    LinePart("hoist", 2000.0, 20.0, 0.45),
    LinePart("shackle", 900.0, 0.2, 0.05),
))  # fmt: skip
AT = (0.5, 6.0)
CRATE = Cabinet(
    mass_kg=40.0,
    centre_of_gravity_m=(-0.2, 0.0),
    outline_m=np.array([[-0.4, -0.3], [0.0, -0.3], [0.0, 0.3], [-0.4, 0.3]]),
)


def hung(rigging, tilt_deg=-10.0, cabinet=BOX, **options):
    return loads_at(cabinet, rigging, flipped=False, tilt_deg=tilt_deg, at_m=AT, **options)


def test_five_hundred_kilograms_of_cable_are_on_the_structure():
    """Shared by two points of 2 kN each they are more than either carries."""
    found = hung(replace(TWO, cable_mass_kg=500.0, structure_capacity_n=2000.0))
    whole = sum(line.on_structure_n for line in found.lines)
    assert whole == pytest.approx((26.0 + 500.0) * G)
    assert all(line.structure_utilisation > 1.0 for line in found.lines)
    [front, rear] = hung(replace(TWO, cable_mass_kg=500.0, cable_pick="rear")).lines
    assert front.beside_n == 0.0
    assert rear.beside_n == pytest.approx(500.0 * G)


def test_each_part_bears_what_is_below_it_and_the_weakest_is_named():
    found = hung(replace(TWO, lines=(CHAIN,), dynamic_factor=1.4, wll_share=0.5))
    for line in found.lines:
        clamp, hoist, shackle = line.parts
        assert shackle.load_n == pytest.approx(line.reading_n)
        assert hoist.load_n == pytest.approx(line.reading_n + 0.2 * G)
        assert clamp.load_n == pytest.approx(line.reading_n + 20.2 * G)
        assert line.structure_vertical_n == pytest.approx(1.4 * (line.reading_n + 22.2 * G))
        assert line.weakest == "shackle"
        assert line.utilisation == pytest.approx(1.4 * line.reading_n / (900.0 * 0.5))
        assert line.spare_m == pytest.approx(9.0 - line.height_m - 0.62)
        # At the reading at which it stops, the weakest part is just at its limit.
        assert 1.4 * line.stop_over_n / 450.0 <= 1.0 + 1e-12
        low, high = line.accept_n
        assert low < line.reading_n < high <= line.stop_over_n


def test_a_cell_may_read_until_the_structure_bears_what_it_may():
    """Read that much, and hoist, cable and dynamic factor bring the structure to its limit."""
    rigging = replace(TWO, hoist_mass_kg=3.0, structure_capacity_n=400.0)
    for factor in (1.0, 1.4):
        for line in hung(replace(rigging, dynamic_factor=factor)).lines:
            assert factor * (line.stop_over_n + line.beside_n) == pytest.approx(400.0)
            assert line.beside_n == pytest.approx(3.0 * G)


def test_pull_back_says_what_each_line_pulls_down_and_level():
    rigging = Rigging("pull-back", ("front", "rear, base"), pulling_point_m=(-3.0, 5.0),
                      steel_height_m=9.0)  # fmt: skip
    found = hung(rigging, -20.0)
    carrying, pulled = found.lines
    assert pulled.steel_z_m == 5.0
    # Level pulls balance, vertical ones carry the weight.
    assert carrying.horizontal_n == pytest.approx(pulled.horizontal_n)
    assert carrying.vertical_n + pulled.vertical_n == pytest.approx(26.0 * G)


def test_no_stop_within_what_holds_without_one():
    rigging = replace(TWO, lines=(Line((LinePart("shackle", 360.0),)),))
    holds = holds_without_stop(BOX, rigging, flipped=False, at_m=AT, full=1.0,
                               off_axis_most_deg=5.0)  # fmt: skip
    assert holds(-5.0)
    ends = [last_tilt_deg(holds, -5.0, end) for end in (-60.0, 40.0)]
    for tilt in np.linspace(*ends, 400):
        found = hung(rigging, float(tilt))
        assert found.reachable
        assert all(point.share >= 0.0 for point in found.points)
        assert all(line.utilisation <= 1.0 + 1e-9 for line in found.lines)
    assert not holds(ends[0] - 0.01)


def test_one_hole_holds_at_the_tilt_at_which_it_hangs_and_at_no_other():
    rests_deg = hung(Rigging("one point", ("front",))).settings[0].tilt_deg
    holds = holds_without_stop(BOX, Rigging("one point", ("front",)), flipped=False, at_m=AT,
                               full=1.0, off_axis_most_deg=5.0)  # fmt: skip
    assert holds(rests_deg)
    assert not holds(rests_deg - 10.0) and not holds(rests_deg + 10.0)


def test_three_points_on_one_line_in_plan_are_refused():
    """A third leg of that line adds a pull that no equation tells from the others'."""
    points = ((-2.0, 0.0, 5.0), (1.0, 0.0, 5.0), (3.0, 0.0, 5.0))
    with pytest.raises(RiggingError, match="use two of them"):
        bridle_to_points(load_n=700.0, apex_m=(0.0, 0.0, 0.0), points_m=points)


def test_bridles_in_plan_balance_in_space():
    rng = np.random.default_rng(4)
    for _ in range(300):
        apex = rng.uniform(-2.0, 2.0, 3)
        turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, 3))
        if max(np.diff([*turns, turns[0] + 2.0 * np.pi])) > 3.0:
            continue
        out = rng.uniform(0.5, 4.0, 3)
        ways = np.stack([out * np.cos(turns), out * np.sin(turns), rng.uniform(0.5, 5.0, 3)], 1)
        found = bridle_to_points(
            load_n=700.0, apex_m=tuple(apex), points_m=tuple(map(tuple, apex + ways))
        )
        units = ways / np.linalg.norm(ways, axis=1)[:, np.newaxis]
        force = sum(leg.tension_n * unit for leg, unit in zip(found.legs, units, strict=True))
        assert force == pytest.approx([0.0, 0.0, 700.0], abs=1e-8)
        pulls = [
            leg.tension_n * np.hypot(*unit[:2]) for leg, unit in zip(found.legs, units, strict=True)
        ]
        assert found.horizontal_n == pytest.approx(max(pulls), abs=1e-8)


def test_two_points_in_plan_are_the_plain_bridle_turned():
    plain = bridle(load_n=1000.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0))
    turn = np.radians(37.0)
    way = np.array([np.cos(turn), np.sin(turn)])
    points = ((*(-1.5 * way), 2.0), (*(2.0 * way), 1.5))
    found = bridle_to_points(load_n=1000.0, apex_m=(0.0, 0.0, 0.0), points_m=points,
                             take_up_m=(0.3, 0.1))  # fmt: skip
    assert [leg.tension_n for leg in found.legs] == pytest.approx([800.0, 600.0])
    assert found.included_deg == pytest.approx(plain.included_deg) == pytest.approx(90.0)
    assert [leg.cut_m for leg in found.legs] == pytest.approx([2.2, 2.4])


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (((1.0, 0.0, 1.0), (2.0, 0.0, 1.0)), "same side"),
        (((-1.0, 0.2, 1.0), (1.0, 0.2, 1.0)), "beside the line"),
        (((1.0, 0.0, 1.0), (2.0, 1.0, 1.0), (2.0, -1.0, 1.0)), "outside the triangle"),
        (((-1.0, 0.0, 1.0), (1.0, 0.0, -0.5)), "below the apex"),
        (((1.0, 0.0, 1.0),), "two or three"),
    ],
)
def test_an_apex_that_does_not_hang_there(points, said):
    with pytest.raises(RiggingError, match=said):
        bridle_to_points(load_n=100.0, apex_m=(0.0, 0.0, 0.0), points_m=points)


def test_a_box_slides_off_its_wedge():
    """Nose down 30° on a friction of 0.2: tan 30° = 0.577 is more than it holds."""
    found = standing_stack(CRATE, Stack(friction=0.2), flipped=False, tilt_deg=-30.0,
                           at_m=(0.0, 1.0), base_m=0.5)  # fmt: skip
    box = found.box
    assert (box.raised, box.wedge_deg) == ("rear", pytest.approx(30.0))
    assert box.wedge_height_m == pytest.approx(0.4 * np.sin(np.radians(30.0)))
    assert box.sliding_safety == pytest.approx(0.2 / np.tan(np.radians(30.0)))
    tied = standing_stack(CRATE, Stack(friction=0.2, tied=True), flipped=False, tilt_deg=-30.0,
                          at_m=(0.0, 1.0), base_m=0.5)  # fmt: skip
    assert tied.box is None


def test_a_wide_footprint_does_not_hold_the_box_on_it():
    wide = Stack(footprint_m=(-2.0, 2.0), ground_m=0.0)
    leaning = replace(CRATE, centre_of_gravity_m=(0.05, 0.0))
    found = standing_stack(leaning, wide, flipped=False, tilt_deg=0.0, at_m=(0.0, 1.3), base_m=1.0)
    assert found.front.margin_m > 1.0
    assert found.box.front.margin_m == pytest.approx(-0.05)


def test_nothing_lies_below_the_ground_that_it_stands_on():
    low = Stack(footprint_m=(-0.35, 0.25), also=(Standing("ballast", 60.0, (0.0, 0.2)),))
    with pytest.raises(RiggingError, match="below the ground"):
        standing_stack(CRATE, low, flipped=False, tilt_deg=0.0, at_m=(0.0, 1.4), base_m=1.1)


def test_the_centre_of_gravity_by_weighing_level_and_tilted():
    rng = np.random.default_rng(5)
    front, rear = (-0.06, 0.44), (-0.34, 0.44)
    for _ in range(200):
        u, w = rng.uniform(-0.3, -0.1), rng.uniform(-0.2, 0.3)
        mass = rng.uniform(10.0, 60.0)
        weighings = []
        for tilt in (0.0, -15.0):
            turn = np.radians(tilt)
            x = [a * np.cos(turn) - b * np.sin(turn) for a, b in (front, rear, (u, w))]
            on_front = mass * G * (x[2] - x[1]) / (x[0] - x[1])
            weighings.append(Weighing(tilt, on_front, mass * G - on_front))
        if min(min(one.front_n, one.rear_n) for one in weighings) <= 0.0:
            continue
        found = centre_found(tuple(weighings), front=front, rear=rear)
        assert (found.u_m.value, found.w_m.value) == pytest.approx((u, w), abs=1e-9)
        assert found.u_m.low < u < found.u_m.high
        one = tuple(replace(weighing, rear_n=None) for weighing in weighings)
        by_weight = centre_found(one, front=front, rear=rear, stated_weight_n=mass * G)
        assert by_weight.u_m.value == pytest.approx(u, abs=1e-9)
    level = centre_found(tuple(weighings[:1]), front=front, rear=rear)
    assert level.w_m is None and not level.usable
    assert own_centre_m((-0.1, 0.2), 30.0, ((5.0, (0.2, 0.5)),)) == pytest.approx((-0.16, 0.14))


@pytest.mark.parametrize(("v", "q"), [(10, 62.5), (15, 140.625), (20, 250.0), (28.4, 504.1)])
def test_wind_pressure_of_en_1991_1_4(v, q):
    """EN 1991-1-4, eq. 4.10, density 1.25 kg/m³ (read in a secondary text)."""
    assert wind_pressure_pa(v) == pytest.approx(q, abs=0.01)


def test_wind_leans_the_lines_and_pulls_more():
    found = wind_on_hung(weight_n=400.0, area_m2=0.5, gust_speed_m_s=20.0, force_coefficient=2.4)
    assert found.force_n == pytest.approx(300.0)
    assert found.lean_deg == pytest.approx(np.degrees(np.arctan(0.75)))
    assert (found.pull_n, found.more_share) == (pytest.approx(500.0), pytest.approx(0.25))
    outdoors = replace(TWO, wind_area_m2=0.5)
    assert hung(outdoors, gust_speed_m_s=20.0).wind.force_n == pytest.approx(1.8 * 250.0 * 0.5)
    assert hung(outdoors).wind is None

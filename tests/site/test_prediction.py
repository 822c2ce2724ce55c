"""What is predicted of a box that hangs otherwise, held against closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from onsite_scenes import levels_at, points, prediction, problem

from aiming.geometry.section import Seating
from aiming.site.compare import as_planned
from aiming.site.draws import Draws
from aiming.site.prediction import Points, Prediction, image_m
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)
ROWS = [0, 3, 8, 12, 16]


def one(**changed: float) -> Draws:
    """A single draw: as planned, but for what is given."""
    values = {name: np.array([value]) for name, value in changed.items()}
    return replace(as_planned(4), **values)


def test_as_planned_is_the_formula_of_levels() -> None:
    of = problem()
    found = prediction(of, PLAN).levels_db(points(of, ROWS), as_planned(4))[0]
    plain = levels_at(of.rows.x_m[ROWS], of.rows.z_m[ROWS])
    away = found - plain
    assert np.ptp(away, axis=1) == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize(
    ("changed", "tilt", "height", "half"),
    [({"tilt_deg": 3.0}, -12.0, 6.0, 30.0), ({"height_m": 0.4}, -15.0, 6.4, 30.0),
     ({"width": 1.2}, -15.0, 6.0, 36.0)],
)  # fmt: skip
def test_a_departure_is_the_formula_elsewhere(
    changed: dict[str, float], tilt: float, height: float, half: float
) -> None:
    of = problem()
    found = prediction(of, PLAN).levels_db(points(of, ROWS), one(**changed))[0]
    x, z = of.rows.x_m[ROWS], of.rows.z_m[ROWS]
    away = found - levels_at(x, z, tilt_deg=tilt, height_m=height, half_deg=half)
    assert np.ptp(away, axis=1) == pytest.approx(0.0, abs=0.03)


def test_at_the_coverage_edge_the_edge_is_wrong_by_what_was_drawn() -> None:
    of = problem()
    model = prediction(of, PLAN)
    at = np.array([[30.0, -30.0, 0.0, 15.0]])
    plain = model.pattern_db(at, one())[0]
    edge = model.pattern_db(at, one(edge_db=2.0))[0] - plain
    assert edge[:, 0] == pytest.approx([2.0, 2.0, 0.0, 0.5], abs=1e-6)
    skew = model.pattern_db(at, one(skew_db=1.0))[0] - plain
    assert skew[:, 0] == pytest.approx([1.0, -1.0, 0.0, 0.5], abs=1e-6)
    # A more pointed lobe keeps its edge: 6.02 dB down at 30°, and 6.02·2^(−2·1.2) at half of it.
    pointed = model.pattern_db(at, one(shape=1.2))[0][:, 0]
    assert pointed == pytest.approx([-6.0206, -6.0206, 0.0, -6.0206 * 2.0**-2.4], abs=0.02)


def test_a_microphone_on_a_hard_floor_hears_twice_the_pressure() -> None:
    of = problem(floor=((4.0, 0.0), (24.0, 0.0)))
    x = np.array([6.0, 14.0, 22.0])
    lying = Points(x, np.zeros(3), image_m(of.rows.seatings, x, np.zeros(3)))
    model = prediction(of, PLAN)
    doubled = model.levels_db(lying, one(floor=1.0)) - model.levels_db(lying, one())
    assert doubled == pytest.approx(6.0206, abs=1e-3)


def test_the_image_path_has_the_published_detour() -> None:
    # Source 6 m, microphone 1.2 m, 20 m away, hard floor: detour 0.68859 m (images, closed form).
    seating = (Seating("flat", np.array([[1.0, 0.0], [30.0, 0.0]])),)
    x, z = np.array([20.0]), np.array([1.2])
    image = image_m(seating, x, z)[0]
    assert image == pytest.approx([20.0, -1.2])
    detour = np.hypot(image[0], image[1] - 6.0) - np.hypot(20.0, 1.2 - 6.0)
    assert detour == pytest.approx(0.68859, abs=1e-5)


def test_a_raked_floor_is_mirrored_in_its_slope() -> None:
    seating = (Seating("rake", np.array([[2.0, 0.0], [12.0, 5.0]])),)
    x, z = np.array([6.0, 40.0]), np.array([3.2, 1.0])
    image = image_m(seating, x, z)
    # The floor z = (x − 2)/2: both points lie as far from it, on a line square to it.
    away = [(px - 2.0) / 2.0 - pz for px, pz in ((6.0, 3.2), tuple(image[0]))]
    assert away[0] == pytest.approx(-away[1])
    assert (image[0] - [6.0, 3.2]) @ [2.0, 1.0] == pytest.approx(0.0, abs=1e-12)
    assert np.isnan(image[1]).all()


@pytest.mark.parametrize(
    ("over_m", "mirrored"), [(0.0, True), (3.99, True), (4.01, False), (-0.0095, True),
                             (-0.0105, False)],
)  # fmt: skip
def test_a_floor_sends_back_to_what_stands_on_it_to_a_centimetre(
    over_m: float, mirrored: bool
) -> None:
    """Not to what hangs more than 4 m over it, nor to what lies under it."""
    flat = (Seating("flat", np.array([[1.0, 2.0], [30.0, 2.0]])),)
    image = image_m(flat, np.array([1.0, 20.0, 30.0]), np.full(3, 2.0 + over_m))
    if mirrored:
        assert image[:, 1] == pytest.approx(2.0 - over_m)
        assert image[:, 0] == pytest.approx([1.0, 20.0, 30.0])
    else:
        assert np.isnan(image).all()


def test_a_point_over_two_floors_is_mirrored_in_the_one_it_stands_on() -> None:
    """Under a balcony in the stalls' floor, on it in the balcony's; beside both in none."""
    stalls = Seating("stalls", np.array([[2.0, 0.0], [10.0, 0.0], [20.0, 2.0]]))
    balcony = Seating("balcony", np.array([[12.0, 5.0], [20.0, 5.0]]))
    x, z = np.array([14.0, 14.0, 6.0, 1.9]), np.array([2.0, 6.2, 1.2, 1.2])
    for both in ((stalls, balcony), (balcony, stalls)):
        image = image_m(both, x, z)
        # The stalls' rise of 1 in 5 at x = 14 is 0.8 m up: mirrored in its slope.
        away = 1.2 / np.hypot(1.0, 0.2)
        assert np.hypot(*(image[0] - (14.0, 2.0))) == pytest.approx(2.0 * away)
        assert image[0, 0] > 14.0
        assert image[1] == pytest.approx([14.0, 3.8])
        assert image[2] == pytest.approx([6.0, -1.2])
        assert np.isnan(image[3]).all()


def test_a_narrow_band_falls_into_the_notch_of_the_image_path() -> None:
    # First null at c/(2Δ), Δ the detour (closed form): a narrow band is cut, one at c/Δ not.
    of = problem(floor=((4.0, 0.0), (30.0, 0.0)))
    model = prediction(of, Placement(0.0, 6.0, -10.0))
    x, z = np.array([20.0]), np.array([1.2])
    mic = Points(x, z, image_m(of.rows.seatings, x, z))
    null = 343.2 / (2.0 * 0.68859)
    model.middle_hz, model.wide_hz = np.array([null, 2.0 * null, null, null]), np.full(4, 0.01)
    change = (model.levels_db(mic, one(floor=1.0)) - model.levels_db(mic, one()))[0, :, 0]
    assert change[0] < -15.0
    assert change[1] == pytest.approx(5.3, abs=0.7)


def test_a_room_as_loud_as_the_direct_sound_adds_three_decibels_at_the_back() -> None:
    of = problem()
    model = prediction(of, PLAN)
    last = points(of, [16])
    more = model.levels_db(last, one(room_db=0.0)) - model.levels_db(last, one())
    assert more == pytest.approx(10.0 * np.log10(2.0), abs=0.02)


def test_a_room_far_louder_than_the_box_falls_as_published() -> None:
    # 10·lg e^(−0.04·r/T) of Barron and Lee (1988, from memory), T = 1.5 s.
    of = problem()
    near_and_far = points(of, [0, 16])
    alone = prediction(of, PLAN).levels_db(near_and_far, one(room_db=60.0))[0]
    way = np.hypot(near_and_far.x_m - PLAN.x_m, near_and_far.z_m - PLAN.height_m)
    fall = 10.0 * np.log10(np.e) * 0.04 / 1.5 * (way[1] - way[0])
    assert alone[:, 0] - alone[:, 1] == pytest.approx(fall, abs=0.05)


def test_turning_further_is_hanging_so() -> None:
    of = problem()
    model = prediction(of, PLAN)
    turned = model.rows_db(one(), turned_deg=np.array([0.0, -4.0]))[0]
    assert turned[0] == pytest.approx(model.rows_db(one())[0])
    assert turned[1] == pytest.approx(model.rows_db(one(tilt_deg=-4.0))[0], abs=1e-9)
    assert np.ptp(turned[0] - of.levels_db(PLAN).mean(axis=0)) < 2e-3


def test_beyond_what_an_edge_reaches_a_pointed_lobe_goes_on_without_a_step() -> None:
    # Half-angles to a power up to 1.6 of them; from there on in proportion: 1.8 half-angles of
    # shape 0.8 are 1.8·1.6^(−0.2) = 1.638 of them, 49.15° of a lobe of 30°.
    of = problem()
    model = prediction(of, PLAN)
    at = np.array([[47.999, 48.001, 54.0]])
    near, past, far = model.pattern_db(at, one(shape=0.8))[0][:, 0]
    assert near == pytest.approx(past, abs=0.01)
    assert far == pytest.approx(-6.0206 * (1.8 * 1.6**-0.2) ** 2, abs=0.02)


@pytest.mark.parametrize("octaves", [1.0, 1.0 / 3.0])
def test_a_band_reaches_half_its_width_to_either_side(octaves: float) -> None:
    of = problem()
    found = Prediction(of, PLAN, speed_m_s=343.2, width_octaves=octaves)
    low, high = (found.middle_hz + sign * 0.5 * found.wide_hz for sign in (-1.0, 1.0))
    assert np.log2(high / low) == pytest.approx(octaves)
    assert np.sqrt(low * high) == pytest.approx([1000.0, 1995.26, 3981.07, 7943.28], rel=1e-5)


def test_without_an_edge_a_lobe_counts_as_a_quarter_turn_to_either_side() -> None:
    of = problem()
    level = np.zeros_like(of.pattern.level_db)
    round_about = replace(of, pattern=replace(of.pattern, level_db=level))
    model = prediction(round_about, PLAN)
    found = model.pattern_db(np.array([[45.0, -90.0]]), one(edge_db=2.0))[0]
    assert found[:, 0] == pytest.approx([0.5, 2.0])

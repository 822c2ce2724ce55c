"""Levels, sums, losses, rays and ways where a single slip would not show elsewhere."""

import math

import numpy as np
import pytest
from plain_air import tones
from scipy.spatial import ConvexHull

from aiming.base.arrays import BoolArray, FloatArray
from aiming.field.diffraction import capped_from_m, lit_margin_m, screening_loss_db
from aiming.field.levels import NEAREST_M, levels_db, loss_db, power_sum_db, sight
from aiming.field.sight_paths import (
    Ways,
    distance_m,
    halved,
    rays_to,
    shortest_m,
    straight_m,
    ways_round,
)
from aiming.field.summing import arrival_ms, coherent_sum_db, in_step_share
from aiming.field.walls import Walls, walls_from
from aiming.geometry.sight_lines import crossed
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Placement

C_M_S = 343.2


def line(*points: tuple[float, float]) -> FloatArray:
    return np.array(points, dtype=np.float64)


# Levels and sums.


def test_sum_of_levels_over_an_axis() -> None:
    """Two alike give 3.01 dB more, 100 dB apart the louder alone; silence adds nothing."""
    level = np.array([[90.0, 90.0, -np.inf], [90.0, -10.0, -np.inf]])
    with np.errstate(over="raise"):
        found = power_sum_db(level)
        far = power_sum_db(np.array([[4000.0], [0.0]]))
    np.testing.assert_allclose(found, [93.0103, 90.0, -np.inf], atol=1e-4)
    assert float(far[0]) == 4000.0
    np.testing.assert_allclose(power_sum_db(level[:, :2], axis=1), [93.0103, 90.0], atol=1e-4)
    quiet = power_sum_db(np.array([[60.0, -np.inf], [50.0, 40.0]]))
    np.testing.assert_allclose(quiet, [60.4139, 40.0], atol=1e-4)


def test_loss_on_the_way() -> None:
    found = loss_db(np.array([[1.0, 10.0], [100.0, 2.0]]), tones([0.0, 0.05]))
    assert found.shape == (2, 2, 2)
    np.testing.assert_allclose(found[0], [[0.0, 20.0], [0.05, 20.5]], atol=1e-12)
    np.testing.assert_allclose(found[1], [[40.0, 6.0206], [45.0, 6.1206]], atol=1e-4)


def test_one_offset_for_all_bands() -> None:
    pattern = nominal_pattern(above_deg=20.0, below_deg=20.0, bands_hz=(1000.0, 2000.0))
    at = Placement(0.0, 0.0, 0.0)
    x, z = np.array([10.0]), np.zeros(1)
    found = levels_db(
        pattern, at, x, z, air_loss=tones(np.zeros(2)), offset_db=100.0, shadow_db=3.0
    )
    np.testing.assert_allclose(found, [[77.0], [77.0]], atol=1e-9)
    plain = levels_db(pattern, at, x, z, air_loss=tones(np.zeros(2)))
    np.testing.assert_allclose(plain, [[-20.0], [-20.0]], atol=1e-9)
    assert sight(at, np.zeros(1), np.zeros(1)).distance_m[0] == NEAREST_M == 1e-3


def test_arrivals_in_milliseconds() -> None:
    found = arrival_ms(np.array([34.32, 0.0]), c_m_s=C_M_S, delay_ms=5.0)
    np.testing.assert_allclose(found, [105.0, 5.0])
    assert float(arrival_ms(np.array(34.32), c_m_s=C_M_S)) == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("bands", "low_hz", "high_hz"),
    [((1000.0,), 707.946, 1412.538), ((800.0, 1000.0), 891.251, 1122.018)],
)
def test_in_step_share_is_a_mean_over_the_band(
    bands: tuple[float, ...], low_hz: float, high_hz: float
) -> None:
    """IEC 61260-1: an octave round 1 kHz is 708 Hz to 1413 Hz, a third 891 Hz to 1122 Hz."""
    frequency = low_hz + (np.arange(200_000) + 0.5) / 200_000 * (high_hz - low_hz)
    for apart_ms in (0.0, 0.2, 0.5, 1.3):
        mean = float(np.cos(2e-3 * np.pi * frequency * apart_ms).mean())
        found = in_step_share(np.array([apart_ms]), bands)
        assert found.shape == (len(bands), 1)
        assert float(found[-1, 0]) == pytest.approx(mean, abs=1e-5)


def test_sum_with_phase_of_three() -> None:
    """Pairs count twice, by their own difference: against the sum of complex means."""
    bands = (1000.0, 2000.0)
    levels = np.array([[[90.0], [80.0]], [[86.0], [84.0]], [[80.0], [90.0]]])
    times = np.array([[0.0], [0.3], [1.0]])
    found = coherent_sum_db(levels, times, bands)
    for band, (low, high) in enumerate(((707.946, 1412.538), (1412.538, 2818.383))):
        frequency = low + (np.arange(20_000) + 0.5) / 20_000 * (high - low)
        size = 10.0 ** (levels[:, band, 0] / 20.0)
        phasor = np.exp(-2e-3j * np.pi * frequency * times)
        mean = float((np.abs(size @ phasor) ** 2).mean())
        assert float(found[band, 0]) == pytest.approx(10.0 * math.log10(mean), abs=1e-3)
    # Alike and in step: 6.02 dB for two, 9.54 dB for three, at any level.
    alike = np.full((3, 1, 1), 900.0)
    whole = coherent_sum_db(alike, np.zeros((3, 1)), (1000.0,))
    assert float(whole[0, 0]) == pytest.approx(909.5424, abs=1e-4)
    silent = np.array([[[60.0]], [[-np.inf]]])
    assert float(coherent_sum_db(silent, np.zeros((2, 1)), (1000.0,))[0, 0]) == pytest.approx(60.0)


# The loss behind an edge.


def test_the_lit_margin_and_the_cap_in_metres() -> None:
    """N = 2δ/λ: −0.2 and 5.04; the margin of 1 kHz for all bands lower down."""
    low, high = np.array([250.0, 4000.0]), np.array([2000.0, 8000.0])
    assert lit_margin_m(low, c_m_s=C_M_S) == pytest.approx(0.2 * 0.3432 / 2.0)
    assert lit_margin_m(high, c_m_s=C_M_S) == pytest.approx(0.2 * 0.1716 / 2.0)
    assert capped_from_m(low, c_m_s=C_M_S) == pytest.approx(5.04 * 1.3728 / 2.0)
    assert capped_from_m(high, c_m_s=C_M_S) == pytest.approx(5.04 * 0.1716 / 2.0)


def test_loss_of_many_placements_and_bands() -> None:
    """250 Hz in the light is taken as 1 kHz; each band has its own Fresnel number."""
    difference = np.array([[0.05, -0.01], [0.0, 0.3]])
    bands = np.array([250.0, 2000.0])
    found = screening_loss_db(difference, bands, c_m_s=C_M_S)
    assert found.shape == (2, 2, 2)
    for place in np.ndindex(2, 2):
        for band, hz in enumerate((250.0, 2000.0)):
            delta = float(difference[place])
            n = 2.0 * delta * (hz if delta >= 0.0 else max(hz, 1000.0)) / C_M_S
            root = math.sqrt(2.0 * math.pi * abs(n))
            if n == 0.0:
                expected = 5.0
            elif n > 0.0:
                expected = min(20.0, 5.0 + 20.0 * math.log10(root / math.tanh(root)))
            elif n > -0.19154:
                expected = 5.0 + 20.0 * math.log10(root / math.tan(root))
            else:
                expected = 0.0
            assert found[place[0], band, place[1]] == pytest.approx(expected, abs=1e-9)


# Rays: which edges can stand between a range of sources and a target.


def hull_meets(corners: FloatArray, target: FloatArray, start: FloatArray, end: FloatArray) -> bool:
    """Whether an edge meets the hull of a range and a target: the edge cut by each half-plane."""
    hull = ConvexHull(np.vstack([corners, target]))
    low, high = 0.0, 1.0
    for a, b, offset in hull.equations:
        first = a * start[0] + b * start[1] + offset
        change = a * (end - start)[0] + b * (end - start)[1]
        if change > 0.0:
            high = min(high, -first / change)
        elif change < 0.0:
            low = max(low, -first / change)
        elif first > 0.0:
            return False
    return low <= high


def random_walls(rng: np.random.Generator, count: int) -> Walls:
    return walls_from(
        [rng.uniform(0.0, 10.0, 2) + np.vstack([(0.0, 0.0), rng.uniform(-3.0, 3.0, 2)])
         for _ in range(count)]
    )  # fmt: skip


def test_just_the_edges_that_meet_the_hull_are_asked() -> None:
    rng = np.random.default_rng(5)
    asked = left_out = 0
    for _ in range(12):
        walls = random_walls(rng, 8)
        targets = rng.uniform(0.0, 10.0, (5, 2))
        (x_low, z_low), (x_high, z_high) = np.sort(rng.uniform(0.0, 10.0, (2, 2)), axis=0)
        but_not: BoolArray = np.zeros((5, len(walls.start_m)), dtype=np.bool_)
        but_not[0, 0] = True
        rays = rays_to(
            walls, targets, but_not=but_not, x_m=(x_low, x_high), height_m=(z_low, z_high)
        )
        pairs = set(zip(rays.pair_target.tolist(), rays.pair_edge.tolist(), strict=True))
        corners = np.array([[x, z] for x in (x_low, x_high) for z in (z_low, z_high)])
        for t in range(5):
            for e in range(len(walls.start_m)):
                meets = hull_meets(corners, targets[t], walls.start_m[e], walls.end_m[e])
                assert ((t, e) in pairs) == (meets and (t, e) != (0, 0))
                asked, left_out = asked + meets, left_out + (not meets)
        # And with them alone, the ways are clear or not as they are with all.
        source = rng.uniform((x_low, z_low), (x_high, z_high), (40, 2))
        hit = crossed(source[:, np.newaxis], targets, walls.start_m, walls.end_m)
        hit[:, 0, 0] = False
        np.testing.assert_array_equal(rays.clear(source), ~hit.any(axis=2))
        assert len(rays) == len(rays.pair_edge)
    assert asked > 80
    assert left_out > 100


def test_without_edges_everything_is_clear() -> None:
    rays = rays_to(
        random_walls(np.random.default_rng(1), 1),
        line((50.0, 50.0), (60.0, 50.0)),
        but_not=np.zeros((2, 1), dtype=np.bool_),
        x_m=(40.0, 41.0),
        height_m=(50.0, 51.0),
    )
    assert len(rays) == 0
    assert rays.clear(line((40.0, 50.0), (41.0, 51.0), (40.5, 50.5))).tolist() == [[True] * 2] * 3


def test_a_source_on_a_wall_sees_past_it_and_not_past_the_next() -> None:
    walls = walls_from([line((5.0, 0.0), (5.0, 4.0)), line((8.0, 0.0), (8.0, 4.0))])
    rays = rays_to(
        walls,
        line((7.0, 2.0), (10.0, 2.0)),
        but_not=np.zeros((2, 2), dtype=np.bool_),
        x_m=(4.0, 5.0),
        height_m=(1.0, 3.0),
    )
    found = rays.clear(line((5.0, 2.0), (4.9995, 2.0), (4.0, 2.0)))
    assert found.tolist() == [[True, False], [True, False], [False, False]]


# Ways round corners while the source moves.


def test_ways_round_a_corner_against_a_scalar_form() -> None:
    """|S − E| − |S − R| has the gradient û(E) − û(R); it turns by no more than 1/away each."""
    rng = np.random.default_rng(11)
    corner, row = rng.uniform(0.0, 10.0, (12, 2)), rng.uniform(0.0, 10.0, (8, 2))
    onward = distance_m(corner, row)
    onward[1, 2] = np.inf
    centre = rng.uniform(-10.0, 20.0, (20, 2))
    radius = np.tile([0.01, 0.1, 0.5, 1.0, 3.0], 4)
    disc, of_row = (of.ravel() for of in np.indices((20, 8)))
    middle = rng.uniform(-0.5, 2.0, 160)
    for lit, capped in ((0.05, 1.0), (3.0, 0.4), (0.05, 9.0)):
        found = ways_round(
            corner, onward, row, centre_m=centre, radius_m=radius, disc=disc, row=of_row,
            middle_m=middle, lit_m=lit, capped_m=capped,
        )  # fmt: skip
        ended = set()
        for k in range(len(disc)):
            s, r = centre[disc[k]], float(radius[disc[k]])
            to_row = row[of_row[k]] - s
            direct = math.hypot(*to_row)
            for v in range(12):
                to_corner = corner[v] - s
                reach = math.hypot(*to_corner)
                rate = math.hypot(*(to_corner / reach - to_row / direct))
                turn = 1.0 / max(reach - r, 1e-9) + 1.0 / max(direct - r, 1e-9)
                assert found.rate[k, v] == pytest.approx(rate, abs=1e-7)
                assert found.turn[k, v] == pytest.approx(turn, rel=1e-9)
                change = min(r * rate + 0.5 * r * r * turn, 2.0 * r)
                nearest = reach + float(onward[v, of_row[k]]) - direct - change
                active = nearest <= min(max(float(middle[k]) + 2.0 * r, lit), capped)
                assert found.active[k, v] == active
                ended.add(active)
        assert ended == {True, False}


def test_the_most_that_ways_move() -> None:
    """0.3·0.5 + ½·0.3²·2 = 0.24; a corner that is not active does not count; never over 2·r."""
    ways = Ways(
        rate=np.array([[0.5, 0.2, 2.0], [0.5, 1.9, 0.1], [1.0, 1.0, 1.0]]),
        turn=np.array([[1.0, 2.0, 90.0], [1.0, 8.0, 1.0], [1.0, 1.0, 1.0]]),
        active=np.array([[True, True, False], [True, True, True], [False, False, False]]),
    )
    found = ways.most_moved_m(np.array([0.3, 0.3, 0.3]))
    np.testing.assert_allclose(found, [0.24, 0.6, 0.0], atol=1e-12)


def test_boxes_cut_in_two() -> None:
    low, high = halved(line((0.0, 1.0), (4.0, 1.0)), line((2.0, 5.0), (6.0, 5.0)))
    boxes = {(*a, *b) for a, b in zip(low.tolist(), high.tolist(), strict=True)}
    assert boxes == {(x, z, x + 1.0, z + 2.0) for x in (0.0, 1.0, 4.0, 5.0) for z in (1.0, 3.0)}
    # An axis without an extent is not cut.
    low, high = halved(line((0.0, 3.0)), line((2.0, 3.0)))
    assert (low.tolist(), high.tolist()) == ([[0.0, 3.0], [1.0, 3.0]], [[1.0, 3.0], [2.0, 3.0]])
    # What has one along an axis makes all be cut there.
    low, high = halved(line((0.0, 0.0), (1.0, 0.0)), line((2.0, 4.0), (1.0, 4.0)))
    assert sorted(zip(low[:, 0].tolist(), high[:, 0].tolist(), strict=True)) == [
        (0.0, 1.0), (0.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 1.0), (1.0, 2.0),
        (1.0, 2.0),
    ]  # fmt: skip
    same, again = halved(line((1.0, 3.0)), line((1.0, 3.0)))
    assert (same.tolist(), again.tolist()) == ([[1.0, 3.0]], [[1.0, 3.0]])


def test_shortest_over_corners() -> None:
    first, then = np.array([[1.0, 5.0], [np.inf, 2.0]]), np.array([[9.0, 1.0], [3.0, 1.0]])
    assert shortest_m(first, then).tolist() == [[8.0, 2.0], [5.0, 3.0]]
    assert shortest_m(np.zeros((1, 0)), np.zeros((0, 2))).tolist() == [[np.inf, np.inf]]
    assert distance_m(line((0.0, 0.0)), line((3.0, 4.0), (1.0, 0.0))).tolist() == [[5.0, 1.0]]


def test_straight_from_corner_to_row() -> None:
    """Two walls: the row behind sees the tops, the row between them the near one's both ends."""
    walls = walls_from([line((4.0, 0.0), (4.0, 5.0)), line((8.0, 0.0), (8.0, 5.0))])
    found = straight_m(walls, line((12.0, 5.0), (12.0, 2.0), (6.0, 2.0)))
    place = {tuple(corner): index for index, corner in enumerate(walls.corner_m.tolist())}
    assert len(place) == 4
    assert found[place[8.0, 5.0], 1] == pytest.approx(5.0)
    assert found[place[4.0, 5.0], 1] == np.inf
    assert found[place[4.0, 0.0], 1] == np.inf
    assert found[place[4.0, 5.0], 2] == pytest.approx(math.hypot(2.0, 3.0))
    assert found[place[8.0, 0.0], 2] == pytest.approx(math.hypot(2.0, 2.0))
    assert np.isfinite(found[:, 2]).all()

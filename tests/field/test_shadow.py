"""Shadow: exact visibility and ways round walls, the published loss, and bounds that hold.

Kurze and Anderson, Applied Acoustics 4 (1971), from memory; ISO 9613-2:1996 eq. 14 as the second
formula.  Values of Maekawa's chart: tests/published/screening.py.
"""

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.arrays import BoolArray, FloatArray
from aiming.field.diffraction import Screening, lit_margin_m, screening_loss_db
from aiming.field.walls import Walls, walls_from, walls_of
from aiming.geometry.section import Seating, Surface, rows_of

C_M_S = 343.2
BANDS_HZ = np.array([1000.0, 1995.262, 3981.072, 7943.282])


def line(*points: tuple[float, float]) -> FloatArray:
    return np.array(points, dtype=np.float64)


def screening(walls: Walls, *ears: tuple[float, float]) -> Screening:
    x, z = line(*ears).T
    return Screening(walls=walls, row_x_m=x, row_z_m=z, midband_hz=BANDS_HZ, c_m_s=C_M_S)


def seen(of: Screening, x_m: npt.ArrayLike, height_m: npt.ArrayLike) -> BoolArray:
    """(…, rows) whether nothing stands in the straight way: it is the shortest."""
    return np.asarray(of.path_difference_m(x_m, height_m) <= 0.0)


STALLS = Seating("stalls", line((4.0, 0.0), (22.0, 0.9)))
BALCONY = Seating("balcony", line((15.0, 4.6), (23.0, 7.4)))
FRONT = Surface("front", line((15.0, 4.6), (15.0, 5.5)))
BACK = Surface("back wall", line((23.0, 0.0), (23.0, 11.0)))
HOUSE = walls_of((STALLS, BALCONY), (FRONT, BACK))
ROWS = rows_of((STALLS, BALCONY))


def house(walls: Walls = HOUSE) -> Screening:
    return Screening(
        walls=walls, row_x_m=ROWS.x_m, row_z_m=ROWS.z_m, midband_hz=BANDS_HZ, c_m_s=C_M_S
    )


# The published loss


@pytest.mark.parametrize(
    ("fresnel", "db", "within"),
    [
        (0.5, 5.0 + 20.0 * math.log10(math.sqrt(math.pi) / math.tanh(math.sqrt(math.pi))), 1e-9),
        (-0.1, 5.0 + 20.0 * math.log10(0.7926655 / math.tan(0.7926655)), 1e-5),
        (-0.19154, 0.0, 0.01),
        (-0.5, 0.0, 1e-12),
        (-math.inf, 0.0, 1e-12),
        (50.0, 20.0, 1e-12),
        (math.inf, 20.0, 1e-12),
    ],
)
def test_kurze_anderson(fresnel: float, db: float, within: float) -> None:
    difference = np.array([0.5 * fresnel * C_M_S / 2000.0])
    loss = screening_loss_db(difference, np.array([2000.0]), c_m_s=C_M_S)
    assert loss.shape == (1, 1)
    assert loss[0, 0] == pytest.approx(db, abs=within)


def test_against_iso_9613_2_with_c2_40() -> None:
    """Dz = 10·lg(3 + (C2/λ)·C3·z), C2 = 40 where ground reflections are not in it, C3 = 1."""
    difference = np.linspace(0.0, 0.3, 400)
    loss = screening_loss_db(difference, np.array([1000.0]), c_m_s=C_M_S)[0]
    iso = 10.0 * np.log10(3.0 + 40.0 / (C_M_S / 1000.0) * difference)
    assert np.abs(loss - np.minimum(iso, 20.0)).max() < 0.7
    assert np.abs(loss - np.minimum(iso, 20.0)).max() > 0.1  # another formula, not the same


def test_never_less_for_more_and_without_a_jump() -> None:
    difference = np.linspace(-0.2, 1.2, 200_001)
    loss = screening_loss_db(difference, np.array([63.0, 250.0, *BANDS_HZ]), c_m_s=C_M_S)
    step = np.diff(loss, axis=-1)
    assert step.min() >= 0.0
    assert step.max() < 0.02
    assert (loss[:, 0] == 0.0).all()
    assert (loss[2:, -1] == 20.0).all()
    for band, hz in enumerate((63.0, 250.0, 1000.0, 4000.0)):
        margin = lit_margin_m(np.array([hz]), c_m_s=C_M_S)
        assert (loss[(0, 1, 2, 4)[band]][difference < -margin] == 0.0).all()


# Ways round walls, by hand


def test_wall_between_by_hand() -> None:
    walls = walls_of(
        (Seating("floor", line((4.0, 0.0), (20.0, 0.0))),),
        (Surface("wall", line((10.0, 0.0), (10.0, 4.0))),),
    )
    found = screening(walls, (15.0, 1.2), (6.0, 1.2), (20.0, 1.2))
    assert seen(found, 0.0, 5.0).tolist() == [False, True, False]
    over = math.hypot(10, 1) + math.hypot(5, 2.8) - math.hypot(15, 3.8)
    difference = found.path_difference_m(0.0, 5.0)
    assert difference[0] == pytest.approx(over, abs=1e-12)
    # The loudspeaker low down: the foot of a standing wall is closed, so the way is still over it.
    low = math.hypot(10, 3.5) + math.hypot(5, 2.8) - math.hypot(15, 0.7)
    assert found.path_difference_m(0.0, 0.5)[0] == pytest.approx(low, abs=1e-12)
    fresnel = 2.0 * over * 1000.0 / C_M_S
    root = math.sqrt(2.0 * math.pi * fresnel)
    expected = 5.0 + 20.0 * math.log10(root / math.tanh(root))
    assert found.loss_db(0.0, 5.0)[0, 0] == pytest.approx(expected, abs=1e-9)


def test_row_in_the_light_by_hand() -> None:
    walls = walls_from([line((10.0, 0.0), (10.0, 4.0))], standing_m=[np.array([10.0, 0.0])])
    found = screening(walls, (20.0, 1.2))
    # From 8 m the ray passes at 4.6 m, 0.6 m above the edge.
    detour = math.hypot(10, 4) + math.hypot(10, 2.8) - math.hypot(20, 6.8)
    assert found.path_difference_m(0.0, 8.0)[0] == pytest.approx(-detour, abs=1e-12)
    assert seen(found, 0.0, 8.0)[0]


def test_hanging_edge_is_passed_beneath_and_slab_round_its_front() -> None:
    beam = screening(walls_from([line((5.0, 4.0), (5.0, 20.0))]), (10.0, 1.2))
    under = math.hypot(5, 4) + math.hypot(5, 2.8) - math.hypot(10, 6.8)
    assert beam.path_difference_m(0.0, 8.0)[0] == pytest.approx(under, abs=1e-12)
    # Under the balcony: round the lower end of its front, not over its top or through its joint.
    at = house()
    row = int(np.argmax(ROWS.x_m == 22.0))
    high = 10.5
    way = math.hypot(15.0, high - 4.6) + math.hypot(7.0, ROWS.z_m[row] - 4.6)
    straight = math.hypot(22.0, high - ROWS.z_m[row])
    assert at.path_difference_m(0.0, high)[row] == pytest.approx(way - straight, abs=1e-12)


def test_two_edges_like_a_rubber_band() -> None:
    walls = walls_from(
        [line((4.0, 0.0), (4.0, 5.0)), line((8.0, 0.0), (8.0, 5.0))],
        standing_m=[np.array([4.0, 0.0]), np.array([8.0, 0.0])],
    )
    found = screening(walls, (12.0, 2.0))
    way = 2.0 * math.hypot(4, 3) + 4.0 - 12.0
    assert found.path_difference_m(0.0, 2.0)[0] == pytest.approx(way, abs=1e-12)
    # With the first wall lower than the band, only the second bends it.
    walls = walls_from(
        [line((4.0, 0.0), (4.0, 3.4)), line((8.0, 0.0), (8.0, 5.0))],
        standing_m=[np.array([4.0, 0.0]), np.array([8.0, 0.0])],
    )
    way = math.hypot(8, 3) + math.hypot(4, 3) - 12.0
    assert screening(walls, (12.0, 2.0)).path_difference_m(0.0, 2.0)[0] == pytest.approx(way)


def test_closed_joints_feet_and_rooms() -> None:
    corner = walls_from([line((5.0, 0.0), (5.0, 4.0), (9.0, 4.0))])
    # Straight at the joint: nothing slips through, the way is round an end.
    found = screening(corner, (10.0, 3.0))
    assert not seen(found, 0.0, 4.9)[0]
    slipped = math.hypot(5, 0.9) + math.hypot(5, 1.0) - math.hypot(10, 1.9)
    assert found.path_difference_m(0.0, 4.9)[0] > slipped + 0.01
    # A foot 30 mm off the floor is closed, one 80 mm off is open.
    floor = line((0.0, 0.0), (20.0, 0.0))
    for gap, way in ((0.03, "over"), (0.08, "under")):
        walls = walls_from([floor, line((10.0, gap), (10.0, 6.0))], ground_m=[floor])
        difference = screening(walls, (12.0, 0.5)).path_difference_m(8.0, 0.5)[0]
        assert (difference > 5.0) == (way == "over")
    # Within closed walls there is no way, and the loss is the largest.
    room = walls_from([line((5.0, 0.0), (5.0, 3.0), (9.0, 3.0), (9.0, 0.0), (5.0, 0.0))])
    inside = screening(room, (7.0, 1.0))
    assert inside.path_difference_m(0.0, 1.0)[0] == math.inf
    assert (inside.loss_db(0.0, 1.0) == 20.0).all()


def test_nothing_passes_beneath_the_ground() -> None:
    wall = Surface("partition", line((12.0, 0.4), (12.0, 9.0)))
    walls = walls_of((STALLS,), (wall,))
    over = math.hypot(12.0, 7.0) + math.hypot(4.0, 9.0 - 1.8) - math.hypot(16.0, 0.2)
    found = screening(walls, (16.0, 1.8))
    assert found.path_difference_m(0.0, 2.0)[0] == pytest.approx(over, abs=1e-9)
    # Nor beneath a surface that stands on the ground before the first row.
    pit = walls_of((STALLS,), (Surface("pit wall", line((2.0, 0.0), (2.0, 3.0))),))
    over = math.hypot(2.0, 2.5) + math.hypot(3.0, 1.8) - math.hypot(5.0, 0.7)
    assert screening(pit, (5.0, 1.2)).path_difference_m(0.0, 0.5)[0] == pytest.approx(over)
    # A first row that sits higher than the loudspeaker is not hidden by ground that is not there.
    raised = walls_of((Seating("tier", line((6.0, 2.0), (20.0, 8.0))),))
    assert seen(screening(raised, (6.0, 3.2)), 0.0, 1.5)[0]


def test_ear_or_loudspeaker_on_a_wall_sees_past_it() -> None:
    back = walls_from([line((18.0, 0.0), (18.0, 7.0))])
    for by_rounding in (-4e-4, 0.0, 4e-4):
        assert screening(back, (18.0 + by_rounding, 2.6)).loss_db(0.0, 6.0).max() == 0.0
    arch = walls_from([line((0.0, 4.0), (0.0, 12.0))])
    assert seen(screening(arch, (18.0, 2.6)), 0.0, 6.0)[0]
    assert not seen(screening(arch, (18.0, 5.6)), -0.5, 6.0)[0]


@pytest.mark.parametrize(
    "floor",
    [
        line((4.0, 0.0), (22.0, 0.9)),
        line((4.0, 0.0), (9.0, 0.0), (9.0, 0.3), (14.0, 0.3), (14.0, 0.6), (22.0, 2.5)),
        line((4.0, 2.0), (10.0, 1.0), (22.0, 4.0)),
    ],
)
def test_a_floor_hides_nothing_from_its_own_rows(floor: FloatArray) -> None:
    seating = Seating("tier", floor)
    rows = rows_of((seating,))
    low = np.array([63.0, 125.0, 1000.0, 8000.0])
    found = Screening(walls_of((seating,)), rows.x_m, rows.z_m, low, C_M_S)
    assert found.loss_db(np.zeros(40), np.linspace(3.5, 12.0, 40)).max() == 0.0
    assert found.never_hides((0.0, 0.0), (3.5, 12.0))
    assert not found.never_hides((0.0, 0.0), (-3.0, 12.0))


# Properties


def test_surfaces_that_touch_no_ray_change_nothing() -> None:
    idle = (
        Surface("ceiling", line((-2.0, 12.5), (24.0, 13.0))),
        Surface("behind", line((-4.0, 0.0), (-4.0, 12.0))),
        Surface("stage front", line((0.0, -1.0), (0.0, 0.0))),
        Surface("under the balcony's rear", line((22.9, 3.0), (22.9, 4.0))),
    )
    more = house(walls_of((STALLS, BALCONY), (FRONT, BACK, *idle)))
    heights = np.linspace(3.0, 11.0, 81)
    np.testing.assert_array_equal(
        more.loss_db(np.zeros(81), heights), house().loss_db(np.zeros(81), heights)
    )


def test_floor_split_in_two_changes_nothing() -> None:
    half = (
        Seating("front half", line((4.0, 0.0), (13.0, 0.45))),
        Seating("rear half", line((13.0, 0.45), (22.0, 0.9))),
    )
    split = house(walls_of((BALCONY, *half), (BACK, FRONT)))
    heights = np.linspace(0.5, 11.0, 106)
    np.testing.assert_allclose(
        split.loss_db(np.zeros(106), heights), house().loss_db(np.zeros(106), heights), atol=1e-9
    )


def test_no_jump_as_rows_slide_into_the_shadow() -> None:
    heights = np.linspace(0.5, 11.0, 20_001)
    loss = house().loss_db(np.full(heights.shape, 1.0), heights)
    assert loss.max() > 10.0
    assert np.abs(np.diff(loss, axis=0)).max() < 0.05
    x = np.linspace(-3.0, 14.0, 20_001)
    assert np.abs(np.diff(house().loss_db(x, np.full(x.shape, 9.0)), axis=0)).max() < 0.2


@settings(deadline=None, derandomize=True, max_examples=120)
@given(
    top=st.floats(4.7, 9.0),
    more=st.floats(0.01, 4.0),
    x=st.floats(-5.0, 12.0),
    height=st.floats(2.0, 12.0),
)
def test_raising_a_front_never_brightens_a_row_behind_it(
    top: float, more: float, x: float, height: float
) -> None:
    behind = ROWS.x_m > 15.0
    loss = [
        house(
            walls_of((STALLS, BALCONY), (Surface("f", line((15.0, 4.6), (15.0, up))), BACK))
        ).loss_db(x, height)[:, behind]
        for up in (top, top + more)
    ]
    assert (loss[1] >= loss[0] - 1e-9).all()


def test_array_of_placements_equals_each_alone() -> None:
    x, z = np.meshgrid([0.0, 2.0], [3.0, 6.0, 9.0])
    found = house()
    whole = found.loss_db(x, z)
    assert whole.shape == (3, 2, len(BANDS_HZ), len(ROWS))
    for i in range(3):
        for j in range(2):
            np.testing.assert_array_equal(found.loss_db(x[i, j], z[i, j]), whole[i, j])


def test_seen_against_sampling_along_the_ray() -> None:
    """A second way: walk along each ray and see whether an edge lies between two steps."""
    rng = np.random.default_rng(3)
    for _ in range(30):
        edges = rng.uniform(0.0, 10.0, (4, 2, 2))
        found = screening(walls_from(list(edges)), *rng.uniform(0.0, 10.0, (6, 2)))
        source = rng.uniform(0.0, 10.0, 2)
        for row, ear in enumerate(found._row_m):
            way = source + np.linspace(0.0, 1.0, 4001)[:, np.newaxis] * (ear - source)
            blocked = False
            for start, end in edges:
                normal = np.array([-(end - start)[1], (end - start)[0]])
                side = np.sign((way - start) @ normal)
                step = np.flatnonzero(np.diff(side))
                share = (way[step] - start) @ (end - start) / np.dot(end - start, end - start)
                blocked |= bool(((share > 0.0) & (share < 1.0)).any())
            assert bool(seen(found, *source)[row]) != blocked


def random_house(rng: np.random.Generator) -> Screening:
    lines = [line((4.0, 0.0), (20.0, rng.uniform(0.0, 4.0)))]
    for _ in range(rng.integers(1, 5)):
        start = rng.uniform((3.0, 0.0), (18.0, 8.0))
        lines.append(start + np.vstack([(0.0, 0.0), rng.uniform(-4.0, 4.0, (2, 2))]))
    ears = np.column_stack([rng.uniform(4.0, 20.0, 12), rng.uniform(1.0, 7.0, 12)])
    walls = walls_from(lines, ground_m=lines[:1])
    return screening(walls, *[tuple(ear) for ear in ears])


def test_bounds_hold_everywhere_in_hundreds_of_boxes() -> None:
    rng = np.random.default_rng(20)
    touched = 0
    for _ in range(60):
        found = random_house(rng)
        low = rng.uniform((-2.0, 0.0), (16.0, 9.0), (8, 2))
        size = rng.choice([0.0, 0.01, 0.1, 0.5, 2.0], (8, 2))
        high = low + size
        least, largest = found.bounds_db((low[:, 0], high[:, 0]), (low[:, 1], high[:, 1]))
        at = low[:, np.newaxis] + rng.uniform(0.0, 1.0, (8, 250, 2)) * size[:, np.newaxis]
        at[:, :2] = np.stack([low, high], axis=1)
        loss = found.loss_db(at[..., 0], at[..., 1])
        assert (loss.min(axis=1) >= least - 1e-6).all()
        assert (loss.max(axis=1) <= largest + 1e-6).all()
        touched += int(((loss > 0.0) & (loss < 20.0)).any(axis=1).any(axis=(1, 2)).sum())
    assert touched > 100  # the boxes are not all in clear light or deep shadow


def test_bounds_close_in_as_fast_as_the_box_shrinks() -> None:
    found = house()
    centre = np.linspace(3.0, 10.0, 57)
    width = []
    for half in (0.04, 0.02, 0.01, 0.0):
        least, largest = found.bounds_db(
            (np.full(57, -half), np.full(57, half)), (centre - half, centre + half)
        )
        width.append(float((largest - least).mean()))
    assert width[0] > 0.0
    assert width[1] < 0.55 * width[0]
    assert width[2] < 0.55 * width[1]
    assert width[3] < 1e-9


def test_fewer_corners_for_a_range_of_placements_change_no_loss() -> None:
    rng = np.random.default_rng(8)
    fewer = 0
    for _ in range(40):
        found = random_house(rng)
        x, z = np.sort(rng.uniform((-3.0, 2.0), (3.0, 9.0), (2, 2)), axis=0).T
        within = found.within((x[0], x[1]), (z[0], z[1]))
        at = rng.uniform((x[0], z[0]), (x[1], z[1]), (300, 2))
        np.testing.assert_allclose(
            within.loss_db(at[:, 0], at[:, 1]), found.loss_db(at[:, 0], at[:, 1]), atol=1e-9
        )
        assert within.first is not None
        fewer += len(found.walls.corner_m) - len(within.first)
    assert fewer > 100


def test_a_box_with_a_wall_through_it_promises_nothing() -> None:
    least, largest = house().bounds_db(
        (np.array([14.9]), np.array([15.1])), (np.array([5.0]), np.array([5.2]))
    )
    assert (least == 0.0).all()
    assert (largest == 20.0).all()


def test_placements_outside_the_ranges_are_asked_of_the_whole() -> None:
    """within() is a shorter way for some placements, never another answer for others."""
    whole = house()
    near = whole.within((0.0, 0.0), (9.0, 10.0))
    assert len(near.first if near.first is not None else ()) < len(HOUSE.corner_m)
    x, height = np.array([0.0, 0.0, 2.0, 17.0]), np.array([9.5, 1.0, 2.0, 3.0])
    assert whole.loss_db(x, height).max() > 10.0
    np.testing.assert_array_equal(near.loss_db(x, height), whole.loss_db(x, height))
    np.testing.assert_array_equal(seen(near, x, height), seen(whole, x, height))
    box = ((np.array([0.0]), np.array([0.5])), (np.array([0.5]), np.array([2.0])))
    for found, known in zip(near.bounds_db(*box), whole.bounds_db(*box), strict=True):
        np.testing.assert_array_equal(found, known)

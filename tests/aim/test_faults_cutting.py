"""The first boxes and how they are cut, against hand-counted boxes and loops over numbers."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from bound_scenes import PIECES_M, boxes_of, hung_by_trim, rows_at, scene, straight

from aiming.aim.boxes import Boxes, joined
from aiming.aim.cutting import FILL, aimed, by_kind, cut, roots
from aiming.aim.hung_pair import Under
from aiming.aim.pose import settle
from aiming.aim.problem import Problem
from aiming.geometry.section import Segments
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang, Orientation

BOTH: tuple[Orientation, ...] = ("upright", "flipped")
EVEN = straight((0.2, -0.2), (0.1, -0.1))
RADIUS_M = math.hypot(0.6, 0.45)


HANG = Hang(x_m=(-2.0, 3.0), vertical_m=(4.0, 9.0), orientations=BOTH)


def hang(**changes: Any) -> Hang:
    return replace(HANG, **changes)


def rooted(problem: Problem) -> Boxes:
    boxes = roots(problem)
    assert boxes is not None
    return boxes


def test_roots_of_aims() -> None:
    """One for each piece of audience and each way to hang."""
    found = rooted(scene(hang=hang()))
    np.testing.assert_array_equal(found.centre, [[0.5, 6.5, 0.5]] * 6)
    np.testing.assert_array_equal(found.half, [[0.5, 2.5, 2.5]] * 6)
    np.testing.assert_array_equal(found.piece, [0, 1, 2, 0, 1, 2])
    np.testing.assert_array_equal(found.flipped, [False] * 3 + [True] * 3)


def test_roots_of_tilts() -> None:
    """One for each range of tilt that is left."""
    reachable = {"upright": ((-60.0, -20.0), (-10.0, 30.0)), "flipped": ((-5.0, 3.0),)}
    problem = scene(
        hang=hang(tilt_deg=(-40.0, 10.0)), axis_on_audience=False, reachable_tilt_deg=reachable
    )
    found = rooted(problem)
    np.testing.assert_array_equal(found.centre[:, 0], [-30.0, 0.0, -1.0])
    np.testing.assert_array_equal(found.half[:, 0], [10.0, 10.0, 4.0])
    np.testing.assert_array_equal(found.centre[:, 1:], [[6.5, 0.5]] * 3)
    np.testing.assert_array_equal(found.half[:, 1:], [[2.5, 2.5]] * 3)
    np.testing.assert_array_equal(found.piece, [-1, -1, -1])
    np.testing.assert_array_equal(found.flipped, [False, False, True])


def test_a_way_to_hang_without_a_tilt() -> None:
    """It has no boxes; where none is left there are none at all."""
    reachable = {"upright": ((40.0, 50.0),)}
    problem = scene(hang=hang(tilt_deg=(-40.0, 10.0)), reachable_tilt_deg=reachable)
    found = rooted(problem)
    np.testing.assert_array_equal(found.flipped, [True] * 3)
    upright = replace(problem, hang=hang(tilt_deg=(-40.0, 10.0), orientations=("upright",)))
    assert roots(upright) is None


def test_where_turning_changes_nothing() -> None:
    """A symmetric pattern needs one orientation, unless cabinet or rigging tell them apart."""
    even = scene(pattern=EVEN, hang=hang())
    assert not rooted(even).flipped.any() and len(rooted(even)) == 3
    flipped_first = scene(pattern=EVEN, hang=hang(orientations=("flipped", "upright")))
    assert rooted(flipped_first).flipped.all()
    only = scene(pattern=EVEN, hang=hang(orientations=("flipped",)))
    assert rooted(only).flipped.all()
    trimmed = hung_by_trim(pattern=EVEN, hang=hang(vertical="trim"))
    assert len(rooted(trimmed)) == 6
    rigged = replace(even, reachable_tilt_deg={"flipped": ((-10.0, 10.0),)})
    assert len(rooted(rigged)) == 6
    assert len(rooted(replace(even, reachable_tilt_deg={}))) == 3


def pair() -> Problem:
    held = HungUnder("above", (-0.4, -0.3), (-0.2, 0.5), (4.0, 10.0))
    return scene(under=Under(held, EVEN, False, np.zeros(2)))


def test_roots_with_a_splay() -> None:
    found = rooted(pair())
    np.testing.assert_array_equal(found.centre, [[0.5, 6.5, 0.5, 7.0]] * 3)
    np.testing.assert_array_equal(found.half, [[0.5, 2.5, 2.5, 3.0]] * 3)


def test_what_boxes_run_over() -> None:
    """Over aim points, unless the tilt is given or need not meet the audience."""
    assert aimed(scene())
    assert not aimed(scene(axis_on_audience=False))
    assert not aimed(scene(hang=hang(tilt_deg=(-20.0, -20.0))))
    given = {"upright": ((-20.0, -20.0),), "flipped": ((-10.0, 0.0),)}
    assert aimed(scene(hang=hang(), reachable_tilt_deg=given))
    assert not aimed(scene(hang=hang(orientations=("upright",)), reachable_tilt_deg=given))
    all_given = {"upright": ((-20.0, -20.0),), "flipped": ((-10.0, -10.0), (5.0, 5.0))}
    assert not aimed(scene(hang=hang(), reachable_tilt_deg=all_given))


def test_kinds() -> None:
    tilted, on_piece = boxes_of([[0.0, 5.0, 1.0]], [[1.0] * 3]), rooted(scene())
    (one,) = by_kind(tilted)
    assert one.piece.tolist() == [-1]
    (one,) = by_kind(on_piece)
    assert one.piece.tolist() == [0, 1, 2]
    first, second = by_kind(joined([on_piece, tilted]))
    assert first.piece.tolist() == [-1] and second.piece.tolist() == [0, 1, 2]


def volume(boxes: Boxes) -> float:
    return float((2.0 * boxes.half).prod(axis=1).sum())


@pytest.mark.parametrize(("count", "wanted"), [(1, 64), (3, 96), (32, 64), (33, 66), (64, 128)])
def test_cut_until_there_are_enough(count: int, wanted: int) -> None:
    rng = np.random.default_rng(1)
    boxes = Boxes(
        rng.uniform(-20.0, 20.0, (count, 3)) + np.array([0.0, 30.0, -40.0]),
        rng.uniform(0.1, 2.0, (count, 3)),
        np.full(count, -1),
        np.zeros(count, dtype=bool),
    )
    found = cut(scene(axis_on_audience=False), boxes)
    assert len(found) == wanted >= FILL
    assert volume(found) == pytest.approx(volume(boxes))


def weights(problem: Problem, boxes: Boxes, which: int) -> list[float]:
    """How much each half-width turns an off-axis angle: radians, by the nearest row."""
    height = float(settle(problem, boxes)[1][which])
    q, _, x, *_ = boxes.centre[which].tolist()
    half_q, half_v, half_x, *splay = boxes.half[which].tolist()
    rows = zip(problem.rows.x_m.tolist(), problem.rows.z_m.tolist(), strict=True)
    near = min(math.hypot(row_x - x, row_z - height) for row_x, row_z in rows)
    piece = int(boxes.piece[which])
    if piece < 0:
        turn = math.radians(half_q)
    else:
        (x0, z0), (x1, z1) = PIECES_M[piece]
        run_x, run_z = x1 - x0, z1 - z0
        ax, az = x0 + q * run_x - x, z0 + q * run_z - height
        r2 = ax**2 + az**2 + half_v**2 + half_x**2
        turn = half_q * abs(ax * run_z - az * run_x) / r2
        turn = max(turn, 0.5 * half_q**2 * (run_x**2 + run_z**2) / r2)
    return [turn, half_v / near, half_x / near, *(math.radians(of) for of in splay)]


def random_boxes(rng: np.random.Generator, count: int, *, piece: bool, splay: bool) -> Boxes:
    columns = 4 if splay else 3
    q = rng.uniform(0.0, 1.0, count) if piece else rng.uniform(-60.0, 20.0, count)
    centre = [q, rng.uniform(6.0, 12.0, count), rng.uniform(-9.0, 24.0, count), np.full(count, 7.0)]
    half = 10.0 ** rng.uniform(-2.0, 0.0, (count, columns))
    if piece:
        half[:, 0] *= 0.5
    else:
        half[:, 0] *= 5.0
    half[:, 3:] *= 10.0
    return Boxes(
        np.stack(centre[:columns], axis=1),
        half,
        rng.integers(0, 3, count) if piece else np.full(count, -1),
        rng.random(count) < 0.5,
    )


@pytest.mark.parametrize("piece", [False, True])
@pytest.mark.parametrize("splay", [False, True])
@pytest.mark.parametrize("trim", [False, True])
def test_cut_where_levels_move_most(piece: bool, splay: bool, trim: bool) -> None:
    """Into two halves along one direction, the one that turns off-axis angles most."""
    problem = hung_by_trim() if trim else scene()
    if splay:
        problem = replace(problem, under=pair().under)
    boxes = random_boxes(np.random.default_rng(2), 400, piece=piece, splay=splay)
    if piece:  # those near their own aim point are another matter
        start, end = problem.planes.start_m[boxes.piece], problem.planes.end_m[boxes.piece]
        aim = start + boxes.centre[:, :1] * (end - start)
        away = np.hypot(aim[:, 0] - boxes.centre[:, 2], aim[:, 1] - boxes.centre[:, 1])
        boxes = boxes.pick(away > 6.0)
    used = check_cuts(problem, boxes.pick(np.arange(150)))
    assert used == set(range(4 if splay else 3))


@pytest.mark.parametrize("in_line", [False, True])
def test_cut_near_an_aim_point(in_line: bool) -> None:
    """No farther from it than the box is large, but too large to be exchanged for tilts."""
    rng = np.random.default_rng(3)
    count = 150
    piece = rng.integers(0, 3, count)
    problem = scene()
    start, end = problem.planes.start_m[piece], problem.planes.end_m[piece]
    q = rng.uniform(0.0, 1.0, count)
    off = rng.uniform(-0.3, 0.3, (count, 2))
    if in_line:
        off = rng.uniform(-0.1, 0.1, (count, 1)) * (end - start)
    place = start + q[:, np.newaxis] * (end - start) + off
    centre = np.column_stack([q, place[:, 1], place[:, 0]])
    half = rng.uniform(0.0, 1.0, (count, 3)) * [0.25, 1.5, 1.5]
    boxes = Boxes(centre, half, piece, np.zeros(count, dtype=bool))
    reach = half[:, :1] * np.abs(end - start) + half[:, [2, 1]]
    boxes = boxes.pick(np.hypot(reach[:, 0], reach[:, 1]) > 0.501)
    assert check_cuts(problem, boxes) == {0, 1, 2}


def check_cuts(problem: Problem, boxes: Boxes) -> set[int]:
    """Every box halved as its weights tell; which directions were."""
    found = cut(problem, boxes)
    count = len(boxes)
    assert len(found) == 2 * count
    used = set()
    for which in range(count):
        weight = weights(problem, boxes, which)
        along = int(np.argmax(weight))
        used.add(along)
        half = boxes.half[which].copy()
        half[along] *= 0.5
        step = np.zeros(len(half))
        step[along] = half[along]
        for place, sign in ((which, -1.0), (which + count, 1.0)):
            np.testing.assert_allclose(found.half[place], half, err_msg=str(weight))
            np.testing.assert_allclose(found.centre[place], boxes.centre[which] + sign * step)
            assert found.piece[place] == boxes.piece[which]
            assert found.flipped[place] == boxes.flipped[which]
    return used


def test_a_row_at_the_box_itself() -> None:
    """Its place is cut then, not the tilt, however large that is; no division by nothing."""
    problem = scene(rows=rows_at([(1.0, 5.0), (9.0, 2.0)]), axis_on_audience=False)
    boxes = boxes_of([[0.0, 5.0, 1.0]] * 33, [[60.0, 0.004, 0.003]])
    found = cut(problem, boxes)
    assert (found.half[:, 1] == 0.002).all()


def test_a_piece_in_line_with_the_loudspeaker() -> None:
    """Its aim points lie in one direction; it is cut all the same, as it is long."""
    planes = Segments(start_m=np.array([[4.0, 5.0]]), end_m=np.array([[12.0, 5.0]]))
    boxes = boxes_of([[0.5, 5.0, 1.0]] * 33, [[0.5, 0.1, 0.1]], piece=0)
    found = cut(scene(planes=planes, rows=rows_at([(4.0, 5.0), (12.0, 5.0)])), boxes)
    assert (found.half[:, 0] == 0.25).all()


def near_boxes(distance_m: float, half: list[float], *, count: int = 40) -> Boxes:
    """Over the middle of a level piece from (8, 2) to (10, 2), so far above it."""
    return boxes_of([[0.5, 2.0 + distance_m, 9.0]] * count, [half], piece=0)


LEVEL = Segments(start_m=np.array([[8.0, 2.0]]), end_m=np.array([[10.0, 2.0]]))


def freed(problem: Problem, boxes: Boxes) -> bool:
    """Whether boxes of aim points become boxes of tilt."""
    found = cut(problem, boxes)
    return bool((found.piece < 0).all())


def test_too_near_an_aim_point() -> None:
    """Where a box that is no more than half a metre large holds its own aim point."""
    problem = scene(planes=LEVEL)
    # Reach: 2·half q + half x across, half v up: 0.3 and 0.4 make 0.5.
    assert freed(problem, near_boxes(0.5, [0.125, 0.4, 0.05]))
    assert not freed(problem, near_boxes(0.501, [0.125, 0.4, 0.05]))
    assert not freed(problem, near_boxes(0.3, [0.125, 0.41, 0.05]))  # too large: cut as it is
    assert freed(problem, near_boxes(0.0, [0.125, 0.4, 0.05]))
    assert not freed(problem, near_boxes(0.3, [0.125, 0.0, 0.04]))
    assert freed(problem, near_boxes(0.28, [0.125, 0.0, 0.04]))
    tied = hung_by_trim(planes=LEVEL)
    own = 3.0 * RADIUS_M
    for reach, distance, wanted in (
        (0.5, own + 0.4, True),
        (0.5, own + 0.6, False),
        (own + 0.4, 2.0 * own, True),
        (own + 0.6, 2.0 * own, False),
    ):
        boxes = near_boxes(0.0, [0.0, reach, 0.0])
        fall = float(settle(tied, near_boxes(distance, [0.0] * 3))[1][0]) - 2.0 - distance
        boxes.centre[:, 1] = 2.0 + distance - fall
        assert freed(tied, boxes) == wanted


def test_backward_pieces_reach_as_far() -> None:
    for turn in (1.0, -1.0):
        middle = np.array([9.0, 2.0])
        run = turn * np.array([0.6, 0.8])
        planes = Segments(start_m=np.array([middle - run]), end_m=np.array([middle + run]))
        # Reach: 2·0.6·q + 0.06 across, 2·0.8·q + 0.02 up; q = 0.2: 0.3, 0.34
        problem = scene(planes=planes)
        boxes = near_boxes(math.hypot(0.3, 0.34) - 1e-6, [0.2, 0.02, 0.06])
        assert freed(problem, boxes)
        assert not freed(problem, near_boxes(math.hypot(0.3, 0.34) + 1e-6, [0.2, 0.02, 0.06]))


def test_tilts_instead() -> None:
    """Once for each place, every range of tilt that is left there, with the splay."""
    reachable = {"upright": ((-60.0, -20.0), (-10.0, 30.0))}
    problem = scene(planes=LEVEL, hang=hang(tilt_deg=(-40.0, 10.0)), reachable_tilt_deg=reachable)
    centre = [[q, 2.02, 9.0, 7.0] for q in (0.47, 0.5, 0.53)] + [[0.5, 2.05, 9.0, 6.0]] * 30
    near = boxes_of(
        centre, [[0.05, 0.03, 0.02, 2.0]], piece=0, flipped=[*[False] * 3, *[True] * 30]
    )
    far = boxes_of([[0.5, 8.0, 1.0, 6.0]] * 40, [[0.5, 0.03, 0.02, 2.0]], piece=0)
    found = cut(problem, joined([near, far]))
    tilted, on_piece = by_kind(found)
    assert len(on_piece) == 80
    np.testing.assert_array_equal(
        tilted.centre, [[-30.0, 2.02, 9.0, 7.0], [0.0, 2.02, 9.0, 7.0], [-15.0, 2.05, 9.0, 6.0]]
    )
    np.testing.assert_array_equal(tilted.half, [[of, 0.03, 0.02, 2.0] for of in (10.0, 10.0, 25.0)])
    np.testing.assert_array_equal(tilted.flipped, [False, False, True])
    assert (tilted.piece == -1).all()

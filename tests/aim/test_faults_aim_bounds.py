"""Upper bounds over a box, and one round of a search, against the plain sum over every corner."""

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from plain_questions import question, tent

from aiming.aim.bounding import _least_level, bound_and_try
from aiming.aim.boxes import Boxes
from aiming.aim.cuts import upper_bounds
from aiming.aim.enclosure import Enclosure
from aiming.aim.hung_pair import Under
from aiming.aim.pose import pose
from aiming.aim.problem import Objective, Problem
from aiming.base.arrays import FloatArray
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang, Placement

OBJECTIVES: tuple[Objective, ...] = ("spread", "worst band", "deviation")


# --- upper bounds


def plain_upper(
    enclosure: Enclosure, box: int, objective: Objective, share: list[float]
) -> tuple[float, list[float]]:
    """The largest over the corners, by loops, and the unknowns 0 to 2 at that corner."""
    best, where = -math.inf, [0.0, 0.0, 0.0]
    for signs in product((-1.0, 1.0), repeat=len(enclosure.active)):
        affine = enclosure.const[box].copy()
        for gen, sign in zip(enclosure.gen, signs, strict=True):
            affine = affine + sign * gen[box]
        low, high = enclosure.low[box], enclosure.high[box]
        if objective == "deviation":
            middle, off = affine + (low + high) / 2.0, (high - low) / 2.0
            middles, offs = [], []
            for one, play in zip(middle.tolist(), off.tolist(), strict=True):
                mean = sum(w * v for w, v in zip(share, one, strict=True))
                middles.append(sum(w * (v - mean) ** 2 for w, v in zip(share, one, strict=True)))
                offs.append(sum(w * v**2 for w, v in zip(share, play, strict=True)))
            count = len(middles)
            value = math.sqrt(sum(middles) / count) + math.sqrt(sum(offs) / count)
        else:
            value = max(
                max(one) - min(other)
                for one, other in zip(
                    (affine + high).tolist(), (affine + low).tolist(), strict=True
                )
            )
        if value > best:
            best, where = value, [0.0, 0.0, 0.0]
            for k, sign in zip(enclosure.active, signs, strict=True):
                if k < 3:
                    where[k] = sign
    return best, where


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("active", [[], [0], [0, 2], [1, 3], [0, 1, 2, 3], [2, 5]])
def test_no_corner_is_worse_than_the_upper_bound_and_one_is_it(
    objective: Objective, active: list[int]
) -> None:
    rng = np.random.default_rng(3)
    channels = 1 if objective == "spread" else 2
    shape = (4, channels, 5)
    low = rng.uniform(-0.5, 0.0, shape)
    enclosure = Enclosure(
        const=rng.normal(0.0, 3.0, shape),
        gen=rng.normal(0.0, 1.0, (len(active), *shape)),
        low=low,
        high=low + rng.uniform(0.1, 0.6, shape),
        active=active,
    )
    share = rng.uniform(0.5, 2.0, 5)
    share /= share.sum()
    bound, corner = upper_bounds(enclosure, objective, share)
    for box in range(4):
        expected, where = plain_upper(enclosure, box, objective, share.tolist())
        assert bound[box] == pytest.approx(expected, rel=1e-12)
        np.testing.assert_array_equal(corner[box], where)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_where_a_level_is_unknown_the_upper_bound_is_infinite(objective: Objective) -> None:
    const = np.zeros((2, 1, 3))
    low = np.zeros((2, 1, 3))
    low[1, 0, 1] = np.nan
    enclosure = Enclosure(const, np.ones((1, 2, 1, 3)), low, low, [0])
    bound, _ = upper_bounds(enclosure, objective, np.full(3, 1.0 / 3.0))
    np.testing.assert_array_equal(bound, [0.0, np.inf])


def test_of_equal_corners_the_first_is_taken() -> None:
    """All rows move alike: no corner is worse than another."""
    flat = np.zeros((1, 1, 3))
    enclosure = Enclosure(flat, np.ones((2, 1, 1, 3)), flat, flat, [0, 2])
    bound, corner = upper_bounds(enclosure, "spread", np.full(3, 1.0 / 3.0))
    assert bound[0] == 0.0
    np.testing.assert_array_equal(corner, [[-1.0, 0.0, -1.0]])


# --- one round: which placements are tried


class Noted:
    """A goal that notes what is tried."""

    def __init__(self, enough_db: float = np.inf) -> None:
        self.enough_db = enough_db
        self.tried: list[Placement] = []
        self.v_m: list[FloatArray] = []

    def offer(self, problem: Problem, tried: Placement, v_m: FloatArray) -> None:
        assert tried.splay_deg is not None
        self.tried.append(tried)
        self.v_m.append(v_m)


def tilts(
    *centre_tilt_deg: float, v: float = 6.0, half: tuple[float, ...] = (1.0, 0.5, 0.25)
) -> Boxes:
    count = len(centre_tilt_deg)
    centre = np.array([[tilt, v, 0.0] for tilt in centre_tilt_deg])
    return Boxes(
        centre, np.tile(np.array(half), (count, 1)), np.full(count, -1), np.zeros(count, dtype=bool)
    )


def free(hang: Hang | None = None) -> Problem:
    wide = hang or Hang(vertical_m=(4.0, 8.0), x_m=(-1.0, 1.0))
    return replace(question(hang=wide), axis_on_audience=False)


def test_centre_lowest_corner_and_the_bottom_under_it_are_tried() -> None:
    problem, goal = free(), Noted()
    lower, left = bound_and_try(problem, tilts(-14.0), goal)
    assert len(lower) == len(left) == 1 and lower[0] >= 0.0
    [tried], [v] = goal.tried, goal.v_m
    tilt, height, x = (np.asarray(of) for of in (tried.tilt_deg, tried.height_m, tried.x_m))
    assert len(tilt) == len(v) == 3
    assert (tilt[0], height[0], x[0]) == pytest.approx((-14.0, 6.0, 0.0))
    # Where the bound is smallest: in a corner, or in the middle of a width that moves nothing.
    moves = [(tilt[1] + 14.0) / 1.0, (height[1] - 6.0) / 0.5, x[1] / 0.25]
    assert all(min(abs(move - at) for at in (-1.0, 0.0, 1.0)) < 1e-9 for move in moves)
    assert any(abs(move) > 0.5 for move in moves)
    corners = [
        (-14.0 + a * 1.0, 6.0 + b * 0.5, c * 0.25)
        for a in (-1, 1)
        for b in (-1, 1)
        for c in (-1, 1)
    ]
    values = [float(problem.objective_db(Placement(c[2], c[1], c[0]))) for c in corners]
    assert float(problem.objective_db(tried)[1]) <= min(values) + 0.3
    assert (tilt[2], height[2], x[2]) == pytest.approx((tilt[1], 5.5, x[1]))
    np.testing.assert_allclose(v, height)
    assert not np.any(tried.flipped)


def test_a_bound_is_nowhere_below_nothing_and_close_where_the_box_is_small() -> None:
    problem = free()
    whole, _ = bound_and_try(problem, tilts(0.0, half=(90.0, 2.0, 1.0)), Noted())
    np.testing.assert_array_equal(whole, [0.0])
    small, _ = bound_and_try(problem, tilts(-40.0, -2.0, half=(0.01, 0.01, 0.01)), Noted())
    exact = [float(problem.objective_db(Placement(0.0, 6.0, tilt))) for tilt in (-40.0, -2.0)]
    np.testing.assert_allclose(small, exact, atol=0.1)
    assert (small <= exact).all() and min(exact) > 2.0


def test_until_one_is_known_every_box_is_tried_and_then_the_twelve_best() -> None:
    problem = free()
    boxes = tilts(*np.linspace(-30.0, 0.0, 20))
    goal = Noted()
    lower, left = bound_and_try(problem, boxes, goal)
    assert len(left) == 20 and len(np.asarray(goal.tried[0].tilt_deg)) == 3 * 20
    goal = Noted(enough_db=1e6)
    bound_and_try(problem, boxes, goal)
    tried = np.asarray(goal.tried[0].tilt_deg)
    assert len(tried) == 3 * 12
    best = left.centre[np.argsort(lower, kind="stable")[:12], 0]
    np.testing.assert_allclose(tried[:12], best)


def test_boxes_without_an_allowed_placement_are_dropped() -> None:
    problem = free(Hang(vertical_m=(4.0, 8.0), x_m=(-1.0, 1.0), tilt_deg=(-20.0, -10.0)))
    goal = Noted()
    lower, left = bound_and_try(problem, tilts(-40.0, -14.0, 0.0, -21.5), goal)
    np.testing.assert_array_equal(left.centre[:, 0], [-14.0])
    assert len(lower) == 1
    lower, left = bound_and_try(problem, tilts(-40.0, 10.0), goal)
    assert len(lower) == len(left) == 0


def test_boxes_in_which_a_row_is_surely_unknown_are_dropped() -> None:
    """Rows from 16.5° to 50.2° below level; the table ends 40° off axis."""
    problem = replace(free(), pattern=tent(0.2, known_deg=40.0))
    small = (1.0, 0.1, 0.1)
    goal = Noted()
    lower, left = bound_and_try(problem, tilts(0.0, -20.0, -70.0, half=small), goal)
    np.testing.assert_array_equal(left.centre[:, 0], [-20.0])
    assert len(lower) == 1 and np.isfinite(lower).all()
    np.testing.assert_allclose(np.asarray(goal.tried[0].tilt_deg)[0], -20.0)
    lower, left = bound_and_try(problem, tilts(0.0, -70.0, half=small), goal)
    assert len(lower) == len(left) == 0


def test_tilts_are_moved_to_the_nearest_that_is_allowed() -> None:
    """Upright may hang at −20…−14 or −10…0, flipped at −16…−15.5 only."""
    problem = replace(
        free(),
        reachable_tilt_deg={
            "upright": ((-20.0, -14.0), (-10.0, 0.0)),
            "flipped": ((-16.0, -15.5),),
        },
    )
    half = (4.0, 0.0, 0.0)
    for centre, expected in ((-13.0, -14.0), (-11.0, -10.0), (-15.0, -15.0), (-5.0, -5.0)):
        goal = Noted()
        bound_and_try(problem, tilts(centre, half=half), goal)
        assert np.asarray(goal.tried[0].tilt_deg)[0] == pytest.approx(expected)
    goal = Noted()
    both = tilts(-13.0, -13.0, half=half)
    bound_and_try(problem, replace(both, flipped=np.array([False, True])), goal)
    tilt, flipped = np.asarray(goal.tried[0].tilt_deg), np.asarray(goal.tried[0].flipped)
    np.testing.assert_allclose(np.sort(tilt[:2]), [-15.5, -14.0])
    np.testing.assert_allclose(tilt[flipped], -15.5)
    assert ((tilt[~flipped] <= -14.0) | (tilt[~flipped] >= -10.0)).all()


@pytest.mark.parametrize("flipped", [False, True])
def test_a_moved_tilt_moves_the_height_that_hangs_from_a_trim(flipped: bool) -> None:
    """A box 0.7 m high: its lowest point, worked out by loops at the tilt that it is moved to."""
    corners = [(-0.4, -0.2), (0.0, -0.2), (0.0, 0.5), (-0.4, 0.5)]
    hang = Hang(vertical="trim", vertical_m=(4.0, 8.0), x_m=(-1.0, 1.0), tilt_deg=(-20.0, -14.0))
    problem = replace(free(hang), cabinet=Cabinet(outline_m=np.array(corners)))
    boxes = replace(tilts(-12.0, half=(4.0, 0.0, 0.0)), flipped=np.array([flipped]))
    goal = Noted()
    bound_and_try(problem, boxes, goal)
    tilt, height = np.asarray(goal.tried[0].tilt_deg), np.asarray(goal.tried[0].height_m)
    assert tilt[0] == -14.0
    for one, at in zip(np.radians(tilt).tolist(), height.tolist(), strict=True):
        turn = -1.0 if flipped else 1.0
        lowest = min(u * math.sin(one) + turn * w * math.cos(one) for u, w in corners)
        assert at + lowest == pytest.approx(6.0, abs=1e-12)
    np.testing.assert_allclose(goal.v_m[0], 6.0)


def test_the_splay_of_a_box_is_tried_with_it() -> None:
    held = HungUnder("above", (0.0, -0.3), (0.0, 0.3), (10.0, 30.0))
    pair = replace(free(), under=Under(held, tent(0.2), False, np.zeros(1)))
    one = tilts(-14.0)
    boxes = Boxes(
        np.column_stack([one.centre, [20.0]]),
        np.column_stack([one.half, [5.0]]),
        one.piece,
        one.flipped,
    )
    goal = Noted()
    bound_and_try(pair, boxes, goal)
    splay = np.asarray(goal.tried[0].splay_deg)
    assert splay[0] == 20.0
    assert splay[1] in (15.0, 20.0, 25.0) and splay[2] == splay[1]
    goal = Noted()
    bound_and_try(free(), tilts(-14.0), goal)
    assert np.all(goal.tried[0].splay_deg == 0.0)


def test_boxes_of_both_kinds_are_bounded_each_by_its_own() -> None:
    """One box of tilts and one of aim points: two kinds, looked at apart and handed back as one."""
    problem = question(hang=Hang(vertical_m=(4.0, 8.0), x_m=(-1.0, 1.0)))
    tilted = tilts(-14.0)
    aimed = Boxes(
        np.array([[0.5, 6.0, 0.0]]),
        np.array([[0.1, 0.5, 0.25]]),
        np.array([0]),
        np.array([False]),
    )
    both = Boxes(
        np.concatenate([aimed.centre, tilted.centre]),
        np.concatenate([aimed.half, tilted.half]),
        np.array([0, -1]),
        np.array([False, False]),
    )
    lower, left = bound_and_try(problem, both, Noted())
    np.testing.assert_array_equal(left.piece, [-1, 0])
    alone = [bound_and_try(problem, boxes, Noted())[0] for boxes in (tilted, aimed)]
    np.testing.assert_allclose(lower, np.concatenate(alone))


def test_the_least_level_is_asked_of_the_row_that_may_be_softest() -> None:
    """A point 6 m up: 4.8 m over ears at 4 to 20 m; the last could get −20·lg of its distance."""
    asked = replace(question(rows=3), softest_db=-3.0, last_ears_m=np.array([[20.0, 1.2]]))
    boxes = Boxes(
        np.array([[-20.0, 6.0, 0.0]]), np.zeros((1, 3)), np.array([-1]), np.array([False])
    )
    whole = Enclosure(
        const=np.array([[[-10.0, -30.0, -29.0]]]),
        gen=np.array([[[[0.0, 0.5, -4.0]]]]),
        low=np.full((1, 1, 3), -1.0),
        high=np.array([[[0.0, 0.25, 0.75]]]),
        active=[0],
    )
    least = -3.0 - 20.0 * math.log10(math.hypot(20.0, 4.8))
    found = _least_level(asked, boxes, pose(asked, boxes), whole)
    # At most −29.75 ± 0.5 and −28.25 ± 4: the second may break it most wherever one looks.
    assert found.const[0, 0] == pytest.approx(least + 29.75, abs=1e-9)
    assert found.gen[0, 0, 0] == -0.5


# --- a least level


def with_least(problem: Problem, least_db: float) -> Problem:
    """No row softer than this, re what the last, at (20, 1.2), gets with the axis on it."""
    return replace(problem, softest_db=least_db, last_ears_m=np.array([[20.0, 1.2]]))


def softest_db(problem: Problem, x: float, height: float, tilt: float) -> float:
    """The softest row re the last with the axis on it, by loops; a tent of 0.2 dB a degree."""
    levels = []
    for ear_x, ear_z in zip(problem.rows.x_m.tolist(), problem.rows.z_m.tolist(), strict=True):
        off = tilt - math.degrees(math.atan2(ear_z - height, ear_x - x))
        levels.append(-0.2 * abs(off) - 20.0 * math.log10(math.hypot(ear_x - x, ear_z - height)))
    return min(levels) + 20.0 * math.log10(math.hypot(20.0 - x, 1.2 - height))


@pytest.mark.parametrize("least_db", [-60.0, -5.0, -1.0, -0.5, 30.0])
def test_boxes_that_are_surely_too_soft_are_dropped(least_db: float) -> None:
    """Boxes of next to no width: kept are those whose placement keeps the least level."""
    centre = np.arange(-60.25, 1.0, 2.5)
    kept = [float(tilt) for tilt in centre if softest_db(free(), 0.0, 6.0, tilt) >= least_db]
    goal = Noted()
    boxes = tilts(*centre, half=(1e-6, 1e-6, 1e-6))
    lower, left = bound_and_try(with_least(free(), least_db), boxes, goal)
    assert left.centre[:, 0].tolist() == kept and len(lower) == len(kept)
    exact = [float(free().objective_db(Placement(0.0, 6.0, tilt))) for tilt in kept]
    assert lower == pytest.approx(np.array(exact), abs=0.05)
    assert len(goal.tried) == (1 if kept else 0)


@pytest.mark.parametrize("tilt_deg", [(-90.0, 90.0), (-29.0, 0.0)])
@pytest.mark.parametrize("least_db", [-2.0, -1.0, -0.2])
def test_a_least_level_cuts_boxes_and_no_placement_that_keeps_it(
    tilt_deg: tuple[float, float], least_db: float
) -> None:
    """With a range of tilt to keep as well, and without one."""
    hang = Hang(vertical_m=(4.0, 8.0), x_m=(-1.0, 1.0), tilt_deg=tilt_deg)
    problem = free(hang)
    half = (1.5, 1.9, 0.25)
    boxes = tilts(*np.arange(-44.0, 10.0, 3.0), half=half)
    lower, left = bound_and_try(with_least(problem, least_db), boxes, Noted())
    bound = dict(zip(left.centre[:, 0].tolist(), lower.tolist(), strict=True))
    without, all_left = bound_and_try(problem, boxes, Noted())
    loose = dict(zip(all_left.centre[:, 0].tolist(), without.tolist(), strict=True))
    assert set(bound) <= set(loose)
    # Nothing is lost by a limit more, and somewhere it tells.
    assert all(bound[tilt] >= loose[tilt] - 1e-9 for tilt in bound)
    assert max(bound[tilt] - loose[tilt] for tilt in bound) > 0.02
    rng = np.random.default_rng(6)
    seen = 0
    for tilt in boxes.centre[:, 0].tolist():
        for by in rng.uniform(-1.0, 1.0, (60, 3)).tolist():
            at = (tilt + half[0] * by[0], 6.0 + half[1] * by[1], half[2] * by[2])
            in_range = tilt_deg[0] <= at[0] <= tilt_deg[1]
            if in_range and softest_db(problem, at[2], at[1], at[0]) >= least_db:
                seen += 1
                here = float(problem.objective_db(Placement(at[2], at[1], at[0])))
                assert bound[tilt] <= here + 1e-9
    assert seen > 5

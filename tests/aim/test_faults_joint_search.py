"""Boxes of the joint search: halved, numbered, bounded; nothing in a box is below its bound.

Levels inside boxes come from loops over numbers; the bounds of boxes without extent are the
objective itself.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from plain_companies import (
    DELAY,
    LOBE,
    MAIN,
    Edge,
    asking,
    company,
    member,
    scalar_alone_db,
    scalar_over_db,
    scalar_sum_db,
    scalar_value_db,
    spread_out,
)
from plain_questions import tent

from aiming.aim.boxes import Boxes
from aiming.aim.cuts import Limits
from aiming.aim.enclosure import Enclosure
from aiming.aim.hung_pair import Under
from aiming.aim.joint_bound import Bounded, Frame, JointBoxes, _Heard, all_of, least_spread
from aiming.aim.joint_polish import Polished, polished
from aiming.aim.joint_pool import Pool, _halved, _unknowns
from aiming.aim.joint_problem import GAIN, TILT, JointProblem, V, X
from aiming.aim.joint_search import (
    JointFound,
    _extreme_rows,
    _of,
    _rows,
    _Search,
    pinned,
    search_together,
)
from aiming.aim.problem import Objective
from aiming.base.arrays import FloatArray
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang

OBJECTIVES: tuple[Objective, ...] = ("spread", "worst band", "deviation")
BOX = Cabinet(outline_m=np.array([(-0.4, -0.2), (0.1, -0.2), (0.1, 0.5), (-0.4, 0.5)]))


def still(x_m: float, height_m: float, tilt_deg: float) -> Hang:
    return Hang(x_m=(x_m, x_m), vertical_m=(height_m, height_m), tilt_deg=(tilt_deg, tilt_deg))


# --- boxes of one loudspeaker


def test_a_box_in_two() -> None:
    boxes = Boxes(
        np.array([[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]),
        np.array([[0.5, 0.25, 1.0], [2.0, 1.0, 0.0]]),
        np.array([-1, 3]),
        np.array([False, True]),
    )
    parts = _halved(boxes, 1)
    assert parts.centre.tolist() == [[1, 1.875, 3], [4, 4.5, 6], [1, 2.125, 3], [4, 5.5, 6]]
    assert parts.half.tolist() == [[0.5, 0.125, 1.0], [2.0, 0.5, 0.0]] * 2
    assert parts.piece.tolist() == [-1, 3, -1, 3]
    assert parts.flipped.tolist() == [False, True, False, True]


def test_unknowns_that_a_loudspeaker_has() -> None:
    """Where it looks and what is left of the tilt; height and x where they are open."""
    assert _unknowns(member(hang=Hang(vertical_m=(6.0, 6.0))).problem) == [0, 3]
    assert _unknowns(member(hang=MAIN).problem) == [0, 1, 3]
    open_x = Hang(vertical_m=(6.0, 6.0), x_m=(0.0, 1.0))
    assert _unknowns(member(hang=open_x).problem) == [0, 2, 3]


def test_unknowns_of_a_trim_and_of_what_hangs_under() -> None:
    """By trim the height follows from the tilt and where the trim is; a splay comes last."""
    by_trim = member(hang=Hang(vertical="trim", vertical_m=(6.0, 6.0))).problem
    assert _unknowns(by_trim) == [0, 3]
    assert _unknowns(replace(by_trim, cabinet=BOX)) == [0, 1, 3, 4]
    for splay, more in (((5.0, 25.0), [5]), ((5.0, 5.0), [])):
        held = HungUnder("main", (0.0, -0.3), (0.0, 0.3), splay)
        pair = replace(member().problem, under=Under(held, tent(0.1, 0.2), False, np.zeros(2)))
        assert _unknowns(pair) == [0, 1, 3, *more]


# Rows further back are hidden from further forward and higher up.
EDGE = Edge(np.array([[-25.0, -24.0, -22.0, -20.0, -18.0]]) * np.ones((2, 1)), (2.0, 1.5))


@pytest.mark.parametrize("under", [None, "in free sight", "behind the edge too"])
def test_a_row_that_is_open_over_a_box_is_open_all_over_it(under: str | None) -> None:
    """And in boxes next to nothing wide it is open where it is."""
    one = member(hang=DELAY)
    problem = replace(one.problem, shadow=EDGE)
    if under is not None:
        held = HungUnder("main", (0.0, -0.5), (0.0, 0.5), (15.0, 15.0))
        edge = None if under == "in free sight" else Edge(EDGE.of_db - 1.0, EDGE.per_m)
        problem = replace(problem, under=Under(held, LOBE, False, np.zeros(2), edge))
    one = replace(one, problem=problem)
    pool = Pool(one)
    numbers = pool.roots()
    rng = np.random.default_rng(3)
    told = []
    for turn in range(36):
        is_open = pool.array("is_open")[numbers] > 0.0
        at = rng.uniform(-1.0, 1.0, (len(numbers), len(pool.unknowns)))
        _, there = one.heard(pool.placements(numbers, at))
        assert (there | ~is_open).all()
        told.append(float((there == is_open).mean()))
        numbers = np.concatenate(pool.children(numbers, turn % 3))
        numbers = rng.choice(numbers, min(len(numbers), 24), replace=False)
    if under == "in free sight":
        assert is_open.all()
        return
    assert told[-1] == 1.0 and told[0] < 1.0
    assert is_open.any() and not is_open.all()


def test_boxes_are_possible_where_the_level_of_every_row_is_known() -> None:
    """Known to 35° off axis only: ruled out nowhere that all rows hear it."""
    one = member(lobe=tent(0.2, 0.3, known_deg=35.0), hang=replace(MAIN, vertical_m=(6.0, 6.0)))
    one = replace(one, problem=replace(one.problem, axis_on_audience=False))
    pool = Pool(one)
    numbers = pool.roots()
    for _ in range(8):
        numbers = np.concatenate(pool.children(numbers, 0))
    at = np.random.default_rng(4).uniform(-1.0, 1.0, (len(numbers), len(pool.unknowns)))
    heard = np.isfinite(one.heard(pool.placements(numbers, at))[0]).all(axis=(1, 2))
    possible = pool.array("possible")[numbers] > 0.0
    assert heard.any() and (possible | ~heard).all()
    # A third of a degree each: two at either end are partly in it.
    assert (possible & ~heard).sum() <= 4 < (~heard).sum()


def test_each_box_has_one_number() -> None:
    pool = Pool(member())
    roots = pool.roots()
    again = pool.roots()
    assert roots.tolist() == again.tolist() == list(range(len(pool)))
    (parts,) = pool.children(roots[:1], 1)
    assert len(parts) == 2 and len(set(parts.tolist()) & set(roots.tolist())) == 0
    (same,) = pool.children(roots[:1], 1)
    assert same.tolist() == parts.tolist() and len(pool) == len(roots) + 2
    assert pool.boxes is not None
    middle = pool.boxes.centre[parts, 1]
    # 6 to 7 m in two.
    assert sorted(middle.tolist()) == [6.25, 6.75]
    other = Pool(member(rows=9))
    other.take_over(pool)
    assert len(other) == len(pool) and other.array("const").shape[-1] == 9
    (there,) = other.children(roots[:1], 1)
    assert there.tolist() == parts.tolist()


@pytest.mark.parametrize("aimed", [True, False])
def test_levels_of_a_box_lie_in_its_enclosure(aimed: bool) -> None:
    one = member(output_db=(1.5, -2.5))
    one = replace(one, problem=replace(one.problem, axis_on_audience=aimed))
    pool = Pool(one)
    numbers = pool.roots()
    for column in (0, 1, 0, 0):
        numbers = np.concatenate(pool.children(numbers, column))
    assert (pool.array("possible")[numbers] > 0.0).any()
    rng = np.random.default_rng(5)
    assert pool.boxes is not None
    assert ((pool.boxes.piece[numbers] >= 0) == aimed).all()
    telling = 0.0
    for at in rng.uniform(-1.0, 1.0, (6, len(pool.unknowns))):
        t = np.tile(at, (len(numbers), 1))
        levels, _ = one.heard(pool.placements(numbers, t))
        const, play = pool.array("const")[numbers], pool.array("play")[numbers]
        gen = pool.array("gen")[numbers]
        left = np.zeros_like(const)
        middle = const.copy()
        for k, unknown in enumerate(pool.unknowns):
            if unknown == 3:
                left += np.abs(gen[:, k])
            else:
                middle += gen[:, k] * t[:, k, np.newaxis, np.newaxis]
        assert (np.abs(levels - middle) <= play + left + 1e-7).all()
        telling = max(telling, float((np.abs(levels - middle) / (play + left + 1e-9)).max()))
    assert telling > 0.3


# --- bounds over boxes


def framed(question: JointProblem) -> _Search:
    middle = question.ranges.mean(axis=2)[np.newaxis]
    middle[:, :, TILT] = [-30.0, -45.0][: middle.shape[1]]
    start = polished(question, middle, np.zeros(middle.shape[:2], dtype=bool), rounds=0)
    return _Search(question, start)


def small_boxes(search: _Search, cuts: int, count: int, seed: int = 2) -> JointBoxes:
    """Some of the boxes that so many rounds of cutting every direction leave."""
    boxes = search.roots()
    assert boxes is not None
    rng = np.random.default_rng(seed)
    directions = search.frame.directions
    for turn in range(cuts * len(directions)):
        across = np.zeros((len(boxes), len(directions)))
        across[:, turn % len(directions)] = 1.0
        at = search.frame.bound(boxes, np.zeros(len(boxes)), -np.inf)
        at = replace(at, across=across[: len(at.boxes)])
        boxes, _ = search.cut(at)
        if len(boxes) > count:
            boxes = boxes.pick(rng.choice(len(boxes), count, replace=False))
    return boxes


def points_in(search: _Search, boxes: JointBoxes, rng: np.random.Generator) -> FloatArray:
    """(n, members, 5) a random setting in each box."""
    at = search.frame.bound(boxes, np.zeros(len(boxes)), -np.inf)
    where = rng.uniform(-1.0, 1.0, at.lowest_at.shape)
    settings, _ = search._settings(replace(at, lowest_at=where))
    return settings


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("cuts", [1, 3])
def test_no_setting_in_a_box_is_below_its_bound(objective: Objective, cuts: int) -> None:
    question = company(objective=objective, softest_db=-34.0)
    search = framed(question)
    boxes = small_boxes(search, cuts, 24)
    at = search.frame.bound(boxes, np.zeros(len(boxes)), np.inf)
    rng = np.random.default_rng(7)
    upright = np.zeros(2, dtype=bool)
    seen = 0
    for _ in range(4):
        for one, lower in zip(points_in(search, at.boxes, rng), at.lower_db, strict=True):
            if scalar_over_db(question, one, upright) <= 0.0:
                seen += 1
                assert scalar_value_db(question, one, upright) >= lower - 1e-6
    assert seen > 10


def test_a_box_is_bounded_alike_alone_and_among_others() -> None:
    """With every limit that it may break, whatever the boxes beside it may."""
    for softest_db in (-30.0, None):
        search = framed(company(softest_db=softest_db, ceiling_db=1.0))
        boxes = small_boxes(search, 2, 24)
        together = search.frame.bound(boxes, np.zeros(len(boxes)), np.inf)
        alone = [
            search.frame.bound(boxes.pick(np.array([n])), np.zeros(1), np.inf)
            for n in range(len(boxes))
        ]
        alone = [one for one in alone if len(one.boxes)]
        assert together.boxes.number.tolist() == [one.boxes.number[0].tolist() for one in alone]
        lower = np.array([float(one.lower_db[0]) for one in alone])
        assert len(lower) > 5 and together.lower_db == pytest.approx(lower, abs=0.05)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_bounds_of_tiny_boxes_are_the_objective(objective: Objective) -> None:
    question = company(objective=objective, ceiling_db=60.0)
    search = framed(question)
    boxes = small_boxes(search, 9, 8)
    at = search.frame.bound(boxes, np.zeros(len(boxes)), np.inf)
    assert len(at.boxes) > 2
    points = points_in(search, at.boxes, np.random.default_rng(8))
    for one, lower in zip(points, at.lower_db, strict=True):
        assert scalar_value_db(question, one, np.zeros(2, dtype=bool)) - lower < 0.3
    # None is below that of the box that it was cut from, nor worked on past what is enough.
    high = search.frame.bound(boxes, np.full(len(boxes), 99.0), np.inf)
    assert (high.lower_db == 99.0).all()


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_sums_lie_in_the_enclosure_of_the_sum(objective: Objective) -> None:
    """Wide boxes: what the sum rises over its tangent plane is many decibels."""
    question = company(objective=objective)
    search = framed(question)
    boxes = small_boxes(search, 1, 12)
    found = search.frame.bound(boxes, np.zeros(len(boxes)), -np.inf)
    heard = _Heard(search.frame, found.boxes)
    around = heard.enclosure()
    rng = np.random.default_rng(9)
    highest = -np.inf
    exact = [0, 1, 3, 4, 5, 7]  # in the order of the unknowns: main q v τ, delay q v x τ, gain
    assert search.frame.unknowns == 8
    for _ in range(4):
        t = rng.choice([-1.0, 1.0, 0.3], (8, len(found.boxes)))
        settings, _ = search._settings(replace(found, lowest_at=t))
        for n, one in enumerate(settings):
            levels = np.array(
                scalar_sum_db(scalar_alone_db(question, one, np.zeros(2, dtype=bool)))
            )
            levels = question.channels(levels)[:, search.rows]
            middle = around.const[n] + sum(around.gen[k, n] * t[k, n] for k in exact)
            left = sum(np.abs(around.gen[k, n]) for k in (2, 6))
            assert (levels <= middle + around.high[n] + left + 1e-7).all()
            assert (levels >= middle + around.low[n] - left - 1e-7).all()
            highest = max(highest, float((levels - middle - left).max()))
    assert highest > 0.5
    assert (heard.bend >= 0.0).all()


def gains_frame(question: JointProblem) -> tuple[_Search, JointBoxes]:
    search = framed(question)
    boxes = search.roots()
    assert boxes is not None and search.frame.unknowns == 1
    return search, boxes


def gain_of_two(**limits: float) -> JointProblem:
    """Nothing but one gain, −20 to 4 dB, is open."""
    main = member(hang=still(0.0, 6.0, -30.0))
    fill = member(
        "fill",
        hang=still(10.0, 5.0, -45.0),
        gain_db=(-20.0, 4.0),
        fills=0,
        ceiling_db=limits.get("ceiling_db", np.inf),
    )
    return asking(main, fill, softest_db=limits.get("softest_db"))


def sum_at(question: JointProblem, gain: float) -> FloatArray:
    """(bands, rows), by loops."""
    at = question.ranges[..., 0].copy()
    at[1, GAIN] = gain
    return np.array(scalar_sum_db(scalar_alone_db(question, at, np.zeros(2, dtype=bool))))


def test_the_tangent_plane_of_one_gain_by_hand() -> None:
    """Slope: the fill's share of the power.  Over the plane it rises most at an end of the gain."""
    question = gain_of_two()
    search, boxes = gains_frame(question)
    heard = _Heard(search.frame, boxes)
    rows = search.rows
    middle = sum_at(question, -8.0)[:, rows]
    assert heard.level[0] == pytest.approx(middle, abs=1e-9)
    at = question.ranges[..., 0].copy()
    at[1, GAIN] = -8.0
    alone = np.array(scalar_alone_db(question, at, np.zeros(2, dtype=bool)))[1][:, rows]
    share = 10.0 ** ((alone - middle) / 10.0)
    assert heard.share[1][0] == pytest.approx(share, abs=1e-9)
    ends = [sum_at(question, g)[:, rows] - middle - share * (g + 8.0) for g in (-20.0, 4.0)]
    assert heard.bend[0] == pytest.approx(np.maximum(*ends), abs=1e-9)
    around = heard.enclosure()
    assert around.gen[0, 0, 0] == pytest.approx(12.0 * share.mean(axis=0), abs=1e-9)
    assert around.low[0] == pytest.approx(0.0, abs=1e-12)
    assert around.high[0, 0] == pytest.approx(np.maximum(*ends).mean(axis=0), abs=1e-9)
    # Cut across the gain: what rows are led apart, and all that the plane leaves over.
    led = float(np.ptp(12.0 * share.mean(axis=0)))
    assert heard.across(around)[0] == pytest.approx([led + float(heard.bend.mean())], abs=1e-9)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_ways_to_cut_share_all_that_a_box_leaves_open(objective: Objective) -> None:
    """Together: what rows are led apart by each unknown, what the levels may be off by twice, and
    what the sum rises over its plane."""
    search = framed(company(objective=objective))
    for rounds in (1, 5):
        found = search.frame.bound(small_boxes(search, rounds, 12), np.zeros(12), -np.inf)
        heard = _Heard(search.frame, found.boxes)
        gen = heard.enclosure().gen.mean(axis=2)
        led = (gen.max(axis=2) - gen.min(axis=2)).sum(axis=0)
        off = sum(2.0 * (heard.share[k] * heard.play[k]).mean(axis=1).max(axis=1) for k in (0, 1))
        whole = led + off + heard.bend.mean(axis=(1, 2))
        assert len(whole) > 2 and found.across.sum(axis=1) == pytest.approx(whole, abs=1e-9)
        # The gain has nothing left over: what it leads apart, and its width's share of the rise.
        width = sum(heard.play[k] + np.abs(heard.gen[k]).sum(axis=1) for k in (0, 1)).mean(
            axis=(1, 2)
        )
        half = found.boxes.half_gain[:, 0]
        rise = heard.bend.mean(axis=(1, 2)) * half / (width + half)
        assert found.across[:, -1] == pytest.approx(np.ptp(gen[7], axis=1) + rise, abs=1e-9)


def test_limits_of_one_gain_by_hand() -> None:
    """Least level: by the sum's plane and what rises over it; ceiling: straight in the gain."""
    question = gain_of_two(softest_db=-25.0, ceiling_db=2.0)
    search, boxes = gains_frame(question)
    heard = _Heard(search.frame, boxes)
    limits, broken = heard.limits()
    assert limits is not None and not broken.any()
    at = question.ranges[..., 0].copy()
    at[1, GAIN] = -8.0
    alone = np.array(scalar_alone_db(question, at, np.zeros(2, dtype=bool))).mean(axis=1)
    over = (alone[1] - alone[0])[search.rows].max() - 2.0 - 1e-6
    assert limits.const[:2, 0] == pytest.approx([over, over], abs=1e-9)
    assert limits.gen[:2, 0, 0] == pytest.approx([12.0, 12.0], abs=1e-9)
    rise = (heard.level + heard.bend).mean(axis=1)[0]
    soft = -25.0 - 1e-6 - rise
    row = int(np.argmax(soft))
    assert limits.const[2, 0] == pytest.approx(soft[row], abs=1e-9)
    slope = -12.0 * heard.share[1].mean(axis=1)[0]
    assert limits.gen[2, 0, 0] == pytest.approx(slope[row], abs=1e-9)
    surely = soft - np.abs(slope)
    assert limits.const[3, 0] == pytest.approx(soft[int(np.argmax(surely))], abs=1e-9)


def test_boxes_that_surely_break_a_limit_are_left_out() -> None:
    for limit, value in (("softest_db", 40.0), ("ceiling_db", -60.0)):
        search, boxes = gains_frame(gain_of_two(**{limit: value}))
        found = search.frame.bound(boxes, np.zeros(1), np.inf)
        assert len(found.boxes) == 0 == len(found.lower_db)
        assert found.lowest_at.shape == (1, 0) and found.across.shape == (0, 1)


def test_one_row_that_is_surely_over_leaves_a_box_out() -> None:
    """At the least gain, −20 dB, the fill is over this ceiling in one row; then over none."""
    at = gain_of_two().ranges[..., 0]
    alone = np.array(scalar_alone_db(gain_of_two(), at, np.zeros(2, dtype=bool))).mean(axis=1)
    apart = np.sort(alone[1] - alone[0])
    for ceiling_db, left in ((0.5 * float(apart[-1] + apart[-2]), 0), (float(apart[-1]) + 0.01, 1)):
        search, boxes = gains_frame(gain_of_two(ceiling_db=ceiling_db))
        assert len(search.frame.bound(boxes, np.zeros(1), np.inf).boxes) == left


def test_a_gain_is_cut_into_halves_that_meet() -> None:
    search, boxes = gains_frame(gain_of_two())
    at = search.frame.bound(boxes, np.zeros(1), np.inf)
    for count in (2, 4, 8):
        pieces, parents = search.cut(at)
        ends = np.linspace(-20.0, 4.0, count + 1).tolist()
        assert sorted((pieces.gain - pieces.half_gain)[:, 0].tolist()) == ends[:-1]
        assert sorted((pieces.gain + pieces.half_gain)[:, 0].tolist()) == ends[1:]
        at = search.frame.bound(pieces, parents, np.inf)


def enclosed(const: FloatArray, gen: FloatArray, play: float = 0.0) -> Enclosure:
    """(n, channels, rows), (k, n, channels, rows)."""
    off = np.full_like(const, play)
    return Enclosure(const, gen, -off, off, list(range(len(gen))))


def test_the_least_spread_of_lines_is_where_they_cross() -> None:
    """Levels 3 + t, −1 − t, 0.5: 4 + 2t between the outer, least 2 at t = −1.

    And 1 + 2t, −1 − 2t, 0: they meet at t = −½, where nothing is left.
    """
    const = np.array([[[3.0, -1.0, 0.5]], [[1.0, -1.0, 0.0]]])
    gen = np.array([[[[1.0, -1.0, 0.0]], [[2.0, -2.0, 0.0]]]])
    lower, at = least_spread(enclosed(const, gen), None)
    assert lower == pytest.approx([2.0, 0.0], abs=0.2) and (lower <= [2.0, 1e-9]).all()
    assert at[0] == pytest.approx([-1.0, -0.5], abs=0.05)
    # What the levels may be off takes twice as much from it.
    lower, _ = least_spread(enclosed(const, gen, play=0.5), None)
    assert lower[0] == pytest.approx(1.0, abs=0.2)


def test_the_least_spread_of_random_lines_is_that_of_a_grid() -> None:
    rng = np.random.default_rng(11)
    const = rng.normal(0.0, 3.0, (12, 2, 6))
    gen = rng.normal(0.0, 2.0, (2, 12, 2, 6))
    limits = Limits(const=rng.normal(-1.0, 1.0, (1, 12)), gen=rng.normal(0.0, 1.0, (1, 2, 12)))
    grid = np.linspace(-1.0, 1.0, 81)
    for limit in (None, limits):
        lower, _ = least_spread(enclosed(const, gen), limit)
        over = []
        for n in range(12):
            least = math.inf
            for t in grid.tolist():
                levels = const[n] + gen[0, n] * t + gen[1, n] * grid[:, np.newaxis, np.newaxis]
                spread = np.ptp(levels, axis=2).max(axis=1)
                if limit is not None:
                    good = limit.const[0, n] + limit.gen[0, 0, n] * t + limit.gen[0, 1, n] * grid
                    spread = np.where(good <= 0.0, spread, np.inf)
                least = min(least, float(spread.min()))
            over.append(least - float(lower[n]))
        assert min(over) >= -1e-9
        assert sorted(over)[9] < 0.1  # its few steps lead close to it


# --- rows that are looked at


def at_once(question: JointProblem, settings: FloatArray) -> Polished:
    return polished(question, settings, np.zeros(settings.shape[:2], dtype=bool), rounds=0)


def test_rows_that_are_looked_at() -> None:
    """Extremes within 0.3 dB, three at most either way, and where a ceiling is within 1 dB."""
    question = gain_of_two(ceiling_db=6.0)
    at = question.ranges[..., 0][np.newaxis].copy()
    levels = sum_at(question, -20.0).mean(axis=0)
    loud, soft = levels.max(), levels.min()
    extreme = {n for n, v in enumerate(levels) if v >= loud - 0.3 or v <= soft + 0.3}
    alone = np.array(scalar_alone_db(question, at[0], np.zeros(2, dtype=bool))).mean(axis=1)
    apart = alone[1] - alone[0]
    most = int(np.argmax(apart))
    assert most not in extreme
    for ceiling, with_it in ((0.95, True), (1.05, False), (2.0, False), (-1.0, True)):
        members = (
            question.members[0],
            replace(question.members[1], ceiling_db=apart[most] + ceiling),
        )
        asked = replace(question, members=members)
        found = set(_extreme_rows(asked, Polished(
            at, np.zeros((1, 2), dtype=bool), np.zeros(1), np.zeros(1)
        )).tolist())  # fmt: skip
        assert found == (extreme | {most} if with_it else extreme)


def test_ends_of_blocks_are_looked_at() -> None:
    question = asking(member(rows=48, hang=still(0.0, 6.0, -30.0)))
    rows = question.rows
    blocks = np.where(np.arange(48) < 19, 0, 1)
    one = question.members[0]
    two = asking(replace(one, problem=replace(one.problem, rows=replace(rows, seating=blocks))))
    found = _rows(two, at_once(two, two.ranges[..., 0][np.newaxis]))
    assert {0, 18, 19, 47} <= set(found.tolist())
    # Every fourth of 48, so that twelve tell.
    assert set(range(0, 48, 4)) <= set(found.tolist()) and len(found) <= 12 + 4 + 6


# --- searches


def test_what_is_not_moving_is_given() -> None:
    question = company()
    settings = question.ranges.mean(axis=2)
    settings[:, TILT] = [-30.0, -45.0]
    turned = np.array([False, True])
    given = pinned(question, settings, turned, moving=(0,), gains=())
    assert given.ranges[0].tolist() == question.ranges[0].tolist()
    assert given.ranges[1].tolist() == [[v, v] for v in settings[1].tolist()]
    assert given.members[1].problem.hang.orientations == ("flipped",)
    gains = pinned(question, settings, ~turned, moving=(), gains=(1,))
    assert gains.ranges[1, GAIN].tolist() == [-20.0, 4.0]
    assert gains.members[1].problem.hang.orientations == ("upright",)
    assert gains.members[0].problem.hang.orientations == ("flipped",)


def test_a_setting_comes_back_from_its_boxes() -> None:
    question = company()
    search = framed(question)
    pool = search.frame.pools[1]
    numbers = pool.roots()
    placements = pool.placements(numbers, np.zeros((len(numbers), len(pool.unknowns))))
    settings = _of(pool, placements)
    assert settings[:, V] == pytest.approx(4.5) and settings[:, X] == pytest.approx(10.0)
    assert settings[:, TILT] == pytest.approx(placements.tilt_deg)
    assert (settings[:, GAIN] == 0.0).all()


def searched(question: JointProblem, gain: float, gap_db: float = 0.02, **more: int) -> JointFound:
    at = question.ranges[..., 0][np.newaxis].copy()
    at[0, 1, GAIN] = gain
    return search_together(question, at_once(question, at), gap_db=gap_db, **more)


@pytest.mark.parametrize("ceiling_db", [-8.0, np.inf])
def test_one_gain_is_proven_as_a_grid_has_it(ceiling_db: float) -> None:
    question = gain_of_two(ceiling_db=ceiling_db)
    values = []
    for gain in np.linspace(-20.0, 4.0, 193).tolist():
        at = question.ranges[..., 0].copy()
        at[1, GAIN] = gain
        if scalar_over_db(question, at, np.zeros(2, dtype=bool)) <= 1e-6:
            values.append(scalar_value_db(question, at, np.zeros(2, dtype=bool)))
    found = searched(question, -20.0)
    assert found.proven and found.gap_db <= 0.02 + 1e-12
    assert min(values) - 0.13 <= found.objective_db <= min(values) + 0.02
    assert found.objective_db - found.gap_db <= min(values)
    again = scalar_value_db(question, found.settings, found.flipped)
    assert found.objective_db == pytest.approx(again, abs=1e-9)


def test_a_search_that_is_capped_says_so() -> None:
    question = gain_of_two()
    capped = searched(question, -20.0, gap_db=1e-6, most_boxes=2)
    assert not capped.proven and 0.0 < capped.gap_db < np.inf and 0 < capped.boxes <= 3
    untried = searched(question, -20.0, most_boxes=0)
    assert not untried.proven and untried.gap_db == np.inf and untried.boxes == 0
    nothing_open = pinned(
        question, question.ranges[..., 0], np.zeros(2, dtype=bool), moving=(), gains=()
    )
    closed = searched(nothing_open, -20.0)
    assert closed.proven and closed.gap_db == 0.0 and closed.boxes == 1


def test_the_best_that_keeps_its_limits_is_taken() -> None:
    question = gain_of_two(ceiling_db=60.0)
    search, _ = gains_frame(question)
    settings = question.ranges[..., 0][np.newaxis].repeat(4, axis=0)
    settings[:, 1, GAIN] = [-3.0, -4.0, 5.0, -6.0]
    before = search.best_db
    tried = Polished(
        settings,
        np.zeros((4, 2), dtype=bool),
        before - np.array([1.0, 2.0, 4.0, 3.0]),
        np.array([0.0, 0.0, 0.0, 1.1e-6]),
    )
    search.offer(tried)
    # The third is out of its range, the fourth over a limit.
    assert search.best_db == before - 2.0 and search.settings[1, GAIN] == -4.0
    search.offer(replace(tried, objective_db=np.full(4, before - 2.0)))
    assert search.settings[1, GAIN] == -4.0


def test_boxes_of_several_sets() -> None:
    one = JointBoxes(np.array([[1, 2]]), np.array([[3.0]]), np.array([[4.0]]))
    other = JointBoxes(np.array([[5, 6]]), np.array([[7.0]]), np.array([[8.0]]))
    both = all_of([one, other])
    assert both.number.tolist() == [[1, 2], [5, 6]] and len(both) == 2
    assert both.gain.tolist() == [[3.0], [7.0]] and both.half_gain.tolist() == [[4.0], [8.0]]
    assert both.pick(np.array([1])).number.tolist() == [[5, 6]]


def test_a_frame_counts_its_unknowns_and_ways_to_cut() -> None:
    frame: Frame = framed(company()).frame
    assert frame.first == [0, 3, 7] and frame.given == []
    assert frame.directions == [(0, 0), (0, 1), (1, 0), (1, 1), (1, 2), (-1, 0)]
    settings, flipped = spread_out(company(), 2)
    assert settings.shape == (2, 2, 5) and not flipped.any()


def test_what_boxes_lead_to_is_followed_at_ever_longer_intervals(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """After six rounds, and then at twice as many each time."""
    turns: list[str] = []
    cut, polish = _Search.cut, _Search.polish

    def noted_cut(self: _Search, at: Bounded) -> tuple[JointBoxes, FloatArray]:
        turns.append("cut")
        return cut(self, at)

    def noted_polish(self: _Search, at: Bounded) -> None:
        turns.append("polish")
        polish(self, at)

    monkeypatch.setattr(_Search, "cut", noted_cut)
    monkeypatch.setattr(_Search, "polish", noted_polish)
    searched(gain_of_two(), -20.0, gap_db=1e-9, most_boxes=400)
    places = [place for place, turn in enumerate(turns) if turn == "polish"]
    assert places[0] == 6 and len(places) > 2
    assert all(later == 2 * one for one, later in pairwise(places))

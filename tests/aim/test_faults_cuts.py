"""Bounds of objectives from enclosures: single cuts by hand, the best mix by linear programming."""

import math
from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog

from aiming.aim.cuts import Limits, _best_share, _cut, lower_bounds
from aiming.aim.enclosure import Enclosure
from aiming.aim.problem import Objective
from aiming.base.arrays import FloatArray

OBJECTIVES: tuple[Objective, ...] = ("spread", "worst band", "deviation")


def enclosures(
    rng: np.random.Generator, *, boxes: int, channels: int, rows: int, active: int
) -> Enclosure:
    """Random ones; low below high."""
    shape = (boxes, channels, rows)
    return Enclosure(
        const=rng.uniform(-6.0, 6.0, shape),
        gen=rng.uniform(-2.0, 2.0, (active, *shape)),
        low=rng.uniform(-0.5, 0.1, shape),
        high=rng.uniform(0.1, 0.5, shape),
        active=list(range(active)),
    )


def shares(rng: np.random.Generator, rows: int) -> FloatArray:
    weight = rng.uniform(0.5, 2.0, rows)
    return np.asarray(weight / weight.sum())


def at_point(of: Enclosure, box: int, t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(low, high), each (channels, rows), of the levels at a point of the box."""
    middle = of.const[box] + np.tensordot(t, of.gen[:, box], axes=1)
    return middle + of.low[box], middle + of.high[box]


def least_spread_at(of: Enclosure, box: int, t: FloatArray, channels: range) -> float:
    """The least that the largest spread of these channels can be at t."""
    low, high = at_point(of, box, t)
    return max(float(max(low[c]) - min(high[c])) for c in channels)


def deviation(levels_db: list[list[float]], share: list[float]) -> float:
    """Root mean square about the weighted mean, the mean over channels of the squares."""
    total = 0.0
    for channel in levels_db:
        mean = math.fsum(s * level for s, level in zip(share, channel, strict=True))
        total += math.fsum(s * (level - mean) ** 2 for s, level in zip(share, channel, strict=True))
    return math.sqrt(total / len(levels_db))


@pytest.mark.parametrize("channels", [1, 3])
def test_the_largest_cut_of_a_spread(channels: int) -> None:
    """At the point that it is asked for, it is the spread of the loudest low and softest high."""
    rng = np.random.default_rng(channels)
    of = enclosures(rng, boxes=20, channels=channels, rows=4, active=3)
    for at in (np.zeros((3, 20)), rng.choice([-1.0, 0.0, 1.0], (3, 20))):
        c, g = _cut(
            "worst band", shares(rng, 4), of.const + of.low, of.const + of.high, of.gen, at, 1
        )
        for box in range(20):
            here = c[box] + g[:, box] @ at[:, box]
            wanted = least_spread_at(of, box, at[:, box], range(channels))
            assert here == pytest.approx(wanted, abs=1e-12)
            for t in rng.uniform(-1.0, 1.0, (10, 3)):
                there = c[box] + g[:, box] @ t
                assert there <= least_spread_at(of, box, t, range(channels)) + 1e-12


@pytest.mark.parametrize("displacements", [1, 2])
def test_the_cut_of_a_deviation(displacements: int) -> None:
    """At its point, without play, the deviation itself of the worst displacement, and its slope."""
    rng = np.random.default_rng(7)
    of = enclosures(rng, boxes=20, channels=4, rows=3, active=2)
    exact = Enclosure(of.const, of.gen, np.zeros_like(of.low), np.zeros_like(of.high), of.active)
    share = shares(rng, 3)
    at = rng.choice([-1.0, 0.0, 1.0], (2, 20))
    c, g = _cut("deviation", share, exact.const, exact.const, exact.gen, at, displacements)
    per = 4 // displacements

    def largest(box: int, t: FloatArray) -> float:
        levels = at_point(exact, box, t)[0].tolist()
        return max(
            deviation(levels[per * d : per * (d + 1)], share.tolist()) for d in range(displacements)
        )

    for box in range(20):
        here = at[:, box]
        assert c[box] + g[:, box] @ here == pytest.approx(largest(box, here), abs=1e-9)
        for t in (*rng.uniform(-1.0, 1.0, (10, 2)), here + 1e-4):
            assert c[box] + g[:, box] @ t <= largest(box, t) + 1e-9
        slope = [(largest(box, here + step) - largest(box, here - step)) / 2e-6
                 for step in (np.array([1e-6, 0.0]), np.array([0.0, 1e-6]))]  # fmt: skip
        np.testing.assert_allclose(g[:, box], slope, atol=1e-6)


def test_the_play_of_a_deviation() -> None:
    """Two rows of equal share, one channel: half their difference, less what either may stray."""
    under, over = np.array([[[2.0, -1.5]]]), np.array([[[2.5, -0.5]]])
    c, g = _cut(
        "deviation", np.array([0.5, 0.5]), under, over, np.zeros((1, 1, 1, 2)), np.zeros((1, 1)), 1
    )
    # y = ±1/2: the lowest of the upper row less the highest of the lower one.
    assert c[0] == pytest.approx(0.5 * (2.0 + 0.5))
    assert g[0, 0] == 0.0


def test_even_levels_have_no_deviation() -> None:
    even = np.full((1, 1, 2), 3.0)
    share = np.array([0.5, 0.5])
    c, g = _cut("deviation", share, even, even, np.ones((1, 1, 1, 2)), np.zeros((1, 1)), 1)
    assert c[0] == 0.0 and g[0, 0] == 0.0


@pytest.mark.parametrize("most", [1.0, 0.3, np.inf])
def test_the_best_share(most: float) -> None:
    """Against a dense search; the value is concave in the share."""
    rng = np.random.default_rng(8)
    c, step_c = rng.uniform(-2.0, 2.0, (2, 60))
    g, step_g = rng.uniform(-2.0, 2.0, (2, 3, 60))
    step_g[0, :10] = 0.0
    g[1, 5:15] = 0.0
    if most == np.inf:
        step_c -= np.maximum(step_c - 0.5 * np.abs(step_g).sum(axis=0), 0.0)  # none without end
    best = _best_share(c, g, step_c, step_g, most=most)
    assert best.shape == (60,)
    assert (best >= 0.0).all() and (best <= most).all()
    dense = np.linspace(0.0, min(most, 60.0), 20001)

    def value(share: FloatArray, box: int) -> FloatArray:
        moved = g[:, box, np.newaxis] + share * step_g[:, box, np.newaxis]
        return np.asarray(c[box] + share * step_c[box] - np.abs(moved).sum(axis=0))

    for box in range(60):
        assert value(best[box : box + 1], box)[0] >= value(dense, box).max() - 1e-9


def by_linear_programme(of: Enclosure, box: int, limits: Limits | None, channels: range) -> float:
    """The best mix of all cuts of a spread: the least over the box of the largest of them."""
    active = len(of.active)
    matrix, right = [], []
    for c in channels:
        for loud, soft in product(range(of.const.shape[2]), repeat=2):
            # z ≥ cut(t)
            slope = of.gen[:, box, c, loud] - of.gen[:, box, c, soft]
            at_zero = of.const[box, c, loud] + of.low[box, c, loud]
            at_zero -= of.const[box, c, soft] + of.high[box, c, soft]
            matrix.append([*slope, -1.0])
            right.append(-at_zero)
    if limits is not None:
        for const, gen in zip(limits.const, limits.gen, strict=True):
            matrix.append([*gen[:, box], 0.0])
            right.append(-const[box])
    ends = [(-1.0, 1.0)] * active + [(None, None)]
    done = linprog([0.0] * active + [1.0], A_ub=matrix, b_ub=right, bounds=ends)
    return math.inf if done.fun is None else float(done.fun)


@pytest.mark.parametrize(
    ("channels", "limited", "short_db"),
    [(1, False, 0.0947), (2, False, 0.1500), (1, True, 0.2983), (2, True, 0.3185)],
)
def test_the_mix_against_linear_programming(channels: int, limited: bool, short_db: float) -> None:
    """Never above the true least, and on the mean no farther below than six rounds brought it."""
    rng = np.random.default_rng(9)
    of = enclosures(rng, boxes=40, channels=channels, rows=4, active=3)
    limits = Limits(rng.uniform(-1.0, 0.5, (2, 40)), rng.uniform(-1.0, 1.0, (2, 3, 40)))
    found = lower_bounds(
        of,
        objective="spread" if channels == 1 else "worst band",
        row_share=shares(rng, 4),
        limits=limits if limited else None,
        enough_db=np.inf,
    )
    short = []
    for box in range(40):
        best = by_linear_programme(of, box, limits if limited else None, range(channels))
        assert found.lower_db[box] <= best + 1e-9
        if best < math.inf:
            short.append(best - found.lower_db[box])
    assert np.mean(short) < 1.02 * short_db


def test_one_round_by_hand() -> None:
    """Two rows that move against one another, three cuts: the plain one is loosest."""
    # Levels ±2t about 1 and 0: row 0 = 1 + 2t, row 1 = −2t; spread |1 + 4t|, least 0 at −1/4.
    of = Enclosure(
        const=np.array([[[1.0, 0.0]]]),
        gen=np.array([[[[2.0, -2.0]]]]),
        low=np.zeros((1, 1, 2)),
        high=np.zeros((1, 1, 2)),
        active=[0],
    )
    share = np.array([0.5, 0.5])
    for objective in OBJECTIVES:
        found = lower_bounds(of, objective=objective, row_share=share, limits=None, enough_db=9.0)
        assert found.lower_db[0] == pytest.approx(0.0, abs=1e-12)
    # t ≥ 1/2 is all that is allowed: 1/2 − t ≤ 0.  There the spread is 3 at least.
    limits = Limits(np.array([[0.5]]), np.array([[[-1.0]]]))
    for objective, least in zip(OBJECTIVES, (3.0, 3.0, 1.5), strict=True):
        found = lower_bounds(of, objective=objective, row_share=share, limits=limits, enough_db=9.0)
        assert found.lower_db[0] == pytest.approx(least, abs=1e-12)


def test_where_the_cut_is_smallest() -> None:
    """At the corner against the slope; the middle where a cut has none."""
    of = Enclosure(
        const=np.array([[[5.0, 0.0]]]),
        gen=np.array([[[[1.0, 0.0]]], [[[-0.5, 0.5]]], [[[1.0, 1.0]]]]),
        low=np.full((1, 1, 2), -0.2),
        high=np.full((1, 1, 2), 0.3),
        active=[0, 1, 2],
    )
    found = lower_bounds(
        of, objective="spread", row_share=np.array([0.5, 0.5]), limits=None, enough_db=np.inf
    )
    assert found.lower_db[0] == pytest.approx(5.0 - 0.5 - 2.0)
    np.testing.assert_array_equal(found.lowest_at[:, 0], [-1.0, 1.0, 0.0])


def test_enough_is_enough() -> None:
    """A box that reaches what is asked for is left as it is, the others are worked on."""
    rng = np.random.default_rng(10)
    of = enclosures(rng, boxes=60, channels=1, rows=5, active=3)
    share = shares(rng, 5)

    def bounds(enough_db: float) -> FloatArray:
        return lower_bounds(
            of, objective="spread", row_share=share, limits=None, enough_db=enough_db
        ).lower_db

    first, last = bounds(-np.inf), bounds(np.inf)
    assert (first <= last + 1e-12).all()
    assert (last > first + 1e-6).sum() > 20
    for enough in (1.0, 3.0, 5.0):
        found = bounds(enough)
        np.testing.assert_array_equal((found >= enough), (last >= enough))
        reached = first >= enough
        np.testing.assert_array_equal(found[reached], first[reached])
        np.testing.assert_array_equal(found[last < enough], last[last < enough])
    exactly = float(first[0])
    assert bounds(exactly)[0] == exactly


def test_without_unknowns() -> None:
    """A point: the bound is its spread."""
    of = Enclosure(
        const=np.array([[[5.0, 1.0, 2.0]]]),
        gen=np.zeros((0, 1, 1, 3)),
        low=np.zeros((1, 1, 3)),
        high=np.zeros((1, 1, 3)),
        active=[],
    )
    found = lower_bounds(
        of, objective="spread", row_share=np.ones(3) / 3.0, limits=None, enough_db=np.inf
    )
    assert found.lower_db[0] == 4.0
    assert found.lowest_at.shape == (0, 1)


def test_displacements_count_one_by_one() -> None:
    """Two displacements of two bands: the worse one's deviation."""
    of = Enclosure(
        const=np.array([[[0.0, 0.0], [0.0, 0.0], [0.0, 6.0], [0.0, 2.0]]]),
        gen=np.zeros((1, 1, 4, 2)),
        low=np.zeros((1, 4, 2)),
        high=np.zeros((1, 4, 2)),
        active=[0],
    )
    half = np.array([0.5, 0.5])
    found = lower_bounds(
        of, objective="deviation", row_share=half, limits=None, enough_db=9.0, displacements=2
    )
    assert found.lower_db[0] == pytest.approx(math.sqrt((9.0 + 1.0) / 2.0))
    found = lower_bounds(of, objective="deviation", row_share=half, limits=None, enough_db=9.0)
    assert found.lower_db[0] == pytest.approx(math.sqrt((9.0 + 1.0) / 4.0))

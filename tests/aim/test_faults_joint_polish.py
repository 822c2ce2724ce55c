"""One step of the polish along straight levels, where what it promises comes true."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_companies import (
    DELAY,
    asking,
    company,
    member,
    scalar_over_db,
    scalar_value_db,
    spread_out,
)
from plain_questions import tent

from aiming.aim.joint_polish import (
    _chain,
    _chain_ends_deg,
    _chain_points,
    _first,
    _front_deg,
    _limits_deg,
    _moved,
    _Polish,
    _Programme,
    _taken,
    polished,
    tilt_span_deg,
)
from aiming.aim.joint_problem import GAIN, TILT, JointProblem, Member, V, X, hear
from aiming.aim.problem import Objective
from aiming.base.arrays import FloatArray
from aiming.geometry.section import Segments
from aiming.speaker.speaker import Hang

STRAIGHT: tuple[Objective, ...] = ("spread", "worst band")
OBJECTIVES: tuple[Objective, ...] = (*STRAIGHT, "deviation")


def between_two_rows(objective: Objective) -> JointProblem:
    """A box 4.8 m over two rows, 6 and 30 m away, its axis between them (39° and 9° down).

    Its tent falls below and above the axis, so that each row's level is linear in the tilt; the
    near row stays the louder one.
    """
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-35.0, -12.0))
    lobe = tent(0.2, 0.5, above_db=0.35)
    return asking(
        member(hang=hang, lobe=lobe, rows=2, ears=((6.0, 1.2), (30.0, 1.2))), objective=objective
    )


def stepped(
    question: JointProblem, at: FloatArray, size: float, within_db: float | None = None
) -> tuple[FloatArray, float]:
    """Where one step of this size leads from one setting, and the merit that it promises."""
    polish = _Polish(question, within_db)
    flipped = np.zeros((1, len(question.members)), dtype=bool)
    heard, _ = polish.judged(at[np.newaxis].copy(), flipped)
    there, promised = polish.step(at[np.newaxis], flipped, heard, np.array([size]))
    return there[0], float(promised[0])


def value_db(question: JointProblem, at: FloatArray) -> float:
    return scalar_value_db(question, at, np.zeros(len(at), dtype=bool))


@pytest.mark.parametrize(
    ("objective", "size"), [("spread", 1.0), ("spread", 0.5), ("spread", 0.3), ("worst band", 0.3)]
)
def test_a_step_along_straight_levels_keeps_its_promise(objective: Objective, size: float) -> None:
    """Each degree upwards brings the two rows closer: the step goes as far as it may, 6° whole."""
    question = between_two_rows(objective)
    at = np.array([[-24.0, 6.0, 0.0, 0.0, 0.0]])
    there, promised = stepped(question, at, size)
    assert there[0, TILT] == pytest.approx(-24.0 + 6.0 * size, abs=0.001)
    assert promised == pytest.approx(value_db(question, there), abs=0.001)
    assert value_db(question, at) - promised > 2.0 * size


@pytest.mark.parametrize("size", [1.0, 0.3])
def test_a_step_of_the_deviation_promises_its_tangent_square(size: float) -> None:
    """(d² + d₀²) / 2d₀ of a deviation d that was d₀: its square is exact."""
    question = between_two_rows("deviation")
    at = np.array([[-24.0, 6.0, 0.0, 0.0, 0.0]])
    there, promised = stepped(question, at, size)
    before, after = value_db(question, at), value_db(question, there)
    assert there[0, TILT] == pytest.approx(-24.0 + 6.0 * size, abs=0.01)
    assert promised == pytest.approx((after**2 + before**2) / (2.0 * before), abs=0.001)


def test_the_least_deviation_is_reached_in_one_step() -> None:
    """Each band's two rows are a − s·tilt apart: the squares are least where Σ s·(a − s·t) is 0."""
    (near, near_m), (far, far_m) = (
        (math.degrees(math.atan2(-4.8, x)), math.hypot(x, 4.8)) for x in (6.0, 30.0)
    )
    further = 20.0 * math.log10(far_m / near_m) + 0.01 * (far_m - near_m)
    above, below = 0.3, np.array([0.4, 1.6])
    apart, per_degree = further + below * near + above * far, above + below
    best = float((per_degree * apart).sum() / (per_degree**2).sum())
    hang = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-35.0, -12.0))
    lobe = tent(0.4, 1.6, above_db=above)
    one = member(hang=hang, lobe=lobe, rows=2, ears=((6.0, 1.2), (30.0, 1.2)))
    at = np.array([[best - 2.0, 6.0, 0.0, 0.0, 0.0]])
    there, _ = stepped(asking(one, objective="deviation"), at, 1.0)
    assert there[0, TILT] == pytest.approx(best, abs=0.02) and -35.0 < best < -12.0


@pytest.mark.parametrize("size", [0.5, 0.3])
@pytest.mark.parametrize("objective", OBJECTIVES)
def test_where_the_objective_is_given_heights_and_gains_are_made_small(
    objective: Objective, size: float
) -> None:
    """Each height falls by a metre, the gain by 4 dB, a whole step; 1 dB weighs as 0.02 m."""
    question = company(objective=objective, ceiling_db=30.0)
    at = question.ranges[..., 1].copy()
    at[:, TILT] = [-30.0, -45.0]
    there, promised = stepped(question, at, size, within_db=60.0)
    assert at[:, V] - there[:, V] == pytest.approx([size, size], abs=0.001)
    assert at[1, GAIN] - there[1, GAIN] == pytest.approx(4.0 * size, abs=0.01)
    cost = there[0, V] + there[1, V] + 0.02 * there[1, GAIN]
    assert promised == pytest.approx(cost, abs=0.002)


# --- a whole polish against grids of loops


def still(x_m: float, height_m: float, tilt_deg: float) -> Hang:
    return Hang(x_m=(x_m, x_m), vertical_m=(height_m, height_m), tilt_deg=(tilt_deg, tilt_deg))


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("ceiling_db", [-3.0, 30.0])
def test_the_best_gain_is_that_of_a_grid(objective: Objective, ceiling_db: float) -> None:
    question = asking(
        member(hang=still(0.0, 6.0, -30.0)),
        member(
            "delay",
            hang=still(10.0, 5.0, -20.0),
            gain_db=(-20.0, 4.0),
            fills=0,
            ceiling_db=ceiling_db,
        ),
        objective=objective,
    )
    base = question.ranges[..., 0]
    grid = []
    for gain in np.linspace(-20.0, 4.0, 97).tolist():
        at = base.copy()
        at[1, GAIN] = gain
        if scalar_over_db(question, at, np.zeros(2, dtype=bool)) <= 1e-6:
            grid.append(value_db(question, at))
    starts = base[np.newaxis].repeat(3, axis=0)
    starts[:, 1, GAIN] = [-19.0, 3.0, -8.0]
    found = polished(question, starts, np.zeros((3, 2), dtype=bool))
    assert (np.diff(found.objective_db) >= -1e-9).all()
    assert found.over_db.max() <= 1e-6
    assert min(grid) - 0.15 <= found.objective_db[0] <= min(grid) + 1e-3
    assert found.objective_db[0] == pytest.approx(value_db(question, found.settings[0]), abs=1e-9)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_polish_makes_every_start_better_and_stays_in_the_ranges(objective: Objective) -> None:
    question = company(objective=objective, softest_db=-22.0)
    settings, flipped = spread_out(question, 12, seed=3)
    before = _Polish(question, None)
    as_set = before.settled(settings, flipped)
    _, merit = before.judged(as_set, flipped)
    found = polished(question, settings, flipped)
    low, high = question.ranges[..., 0], question.ranges[..., 1]
    assert (found.settings >= low - 1e-12).all() and (found.settings <= high + 1e-12).all()
    for at, value, over in zip(found.settings, found.objective_db, found.over_db, strict=True):
        assert value == pytest.approx(value_db(question, at), abs=1e-9)
        broken = scalar_over_db(question, at, np.zeros(2, dtype=bool))
        assert max(over, 0.0) == pytest.approx(broken, abs=1e-9)
    after = found.objective_db + 300.0 * np.maximum(found.over_db, 0.0)
    assert after.min() < merit.min() - 0.1 and after.max() < merit.max()
    # No small step of one unknown makes the best one better.
    best = found.settings[0]
    for one, column in _Polish(question, None).free:
        for sign in (-1.0, 1.0):
            near = best.copy()
            near[one, column] += sign * 0.05
            near = before.settled(np.clip(near, low, high)[np.newaxis], flipped[:1])[0]
            if scalar_over_db(question, near, np.zeros(2, dtype=bool)) <= 1e-6:
                assert value_db(question, near) >= found.objective_db[0] - 0.02


def test_no_rounds_leave_settings_as_they_are() -> None:
    question = company(ceiling_db=60.0)
    settings, flipped = spread_out(question, 6)
    settings[:, :, TILT] = [-30.0, -45.0]
    found = polished(question, settings, flipped, rounds=0)
    heard = hear(question, settings, flipped)
    order = np.argsort(heard.objective_db)
    assert found.settings == pytest.approx(settings[order], abs=1e-12)
    assert found.objective_db == pytest.approx(heard.objective_db[order], abs=1e-12)


def test_a_fill_over_its_ceiling_is_turned_down_to_it() -> None:
    question = company(ceiling_db=-2.0)
    at = question.ranges.mean(axis=2)[np.newaxis].repeat(2, axis=0)
    at[:, :, TILT] = [-30.0, -45.0]
    at[:, 1, GAIN] = [4.0, -19.5]
    over = [scalar_over_db(question, one, np.zeros(2, dtype=bool)) for one in at]
    assert over[0] > 1.0 and over[1] == 0.0
    heard, merit = _Polish(question, None).judged(at, np.zeros((2, 2), dtype=bool))
    assert at[:, 1, GAIN] == pytest.approx([4.0 - over[0], -19.5], abs=1e-9)
    for n in range(2):
        assert merit[n] == pytest.approx(value_db(question, at[n]), abs=1e-6)
    assert heard.over_db == pytest.approx([0.0, 0.0], abs=1e-9)
    # As far as its gain goes down: the rest is priced.
    stuck = replace(
        question, members=(question.members[0], replace(question.members[1], gain_db=(3.5, 4.0)))
    )
    at[:, 1, GAIN] = [4.0, 3.5]
    heard, merit = _Polish(stuck, None).judged(at, np.zeros((2, 2), dtype=bool))
    assert at[:, 1, GAIN] == pytest.approx([3.5, 3.5])
    left = scalar_over_db(stuck, at[0], np.zeros(2, dtype=bool))
    assert left == pytest.approx(over[0] - 0.5, abs=1e-9)
    assert merit[0] == pytest.approx(value_db(stuck, at[0]) + 300.0 * left, abs=1e-6)


# --- the parts of a programme


def test_what_is_free() -> None:
    polish = _Polish(company(), None)
    assert polish.free == [(0, TILT), (0, V), (1, TILT), (1, V), (1, X), (1, GAIN)]


def programme(count: int = 1) -> _Programme:
    """Two unknowns, one channel, three rows."""
    levels = np.array([[[1.0, 5.0, 3.0]]]).repeat(count, axis=0)
    slopes = np.arange(6.0).reshape(1, 2, 1, 3).repeat(count, axis=0)
    return _Programme(count, 2, levels, slopes)


def test_rows_of_a_programme_one_by_one() -> None:
    """Unknowns: two steps, u, l, w, e.  Every row of normal·z ≤ bound, written out."""
    of = programme()
    of.between()
    of.limited(np.array([[7.0, -np.inf]]), np.array([[[1.0, 2.0], [3.0, 4.0]]]))
    of._linear_target(np.array([0.25]), np.array([[0.5, -0.75]]))
    normal, bound = of.stacked()
    assert normal[0].tolist() == [
        [0, 0, 0, 0, 0, -1],  # e ≥ 0
        [0, 3, -1, 0, 0, 0],  # level + slopes·step ≤ u
        [1, 4, -1, 0, 0, 0],
        [2, 5, -1, 0, 0, 0],
        [0, -3, 0, 1, 0, 0],  # ≥ l
        [-1, -4, 0, 1, 0, 0],
        [-2, -5, 0, 1, 0, 0],
        [0, 0, 1, -1, -1, 0],  # u − l ≤ w
        [1, 3, 0, 0, 0, -1],  # the limit
        [0, 0, 0, 0, 0, -1],  # one that does not hold
        [0.5, -0.75, 0, 0, 0, -1],  # what the objective is over, and its slope
        [0, 0, 1, 0, 0, 0],  # u, l and w kept within 1
        [0, 0, -1, 0, 0, 0],
        [0, 0, 0, 1, 0, 0],
        [0, 0, 0, -1, 0, 0],
        [0, 0, 0, 0, 1, 0],
        [0, 0, 0, 0, -1, 0],
    ]
    # Levels are counted from the middle between loudest and softest: 3.
    assert bound[0].tolist() == [0, 2, -2, 0, -2, 2, 0, 0, -7, 1, -0.25, 1, 1, 1, 1, 1, 1]


def test_a_batch_of_programmes() -> None:
    of = programme(3)
    of.between()
    of._linear_target(np.array([0.25, 0.5, 1.0]), np.ones((3, 2)))
    normal, bound = of.stacked()
    assert normal.shape == (3, 15, 6) and bound.shape == (3, 15)
    assert bound[:, 8].tolist() == [-0.25, -0.5, -1.0]


@pytest.mark.parametrize("objective", STRAIGHT)
def test_within_a_spread_heights_and_gains_are_what_costs(objective: Objective) -> None:
    """One row more: w − e ≤ what is allowed.  A metre counts 1, a decibel of gain 0.02."""
    question = company(objective=objective)
    settings, flipped = spread_out(question, 1)
    of = programme()
    of.cost = np.array([[0.5, 0.25]])
    before = len(of.stacked()[0][0])
    hessian, slope, cost = of.objective(question, 1.75, hear(question, settings, flipped), settings)
    normal, bound = of.stacked()
    assert hessian is None and len(normal[0]) == before + 1
    assert normal[0, -1].tolist() == [0, 0, 0, 0, 1, -1] and bound[0, -1] == 1.75
    assert slope[0, :5].tolist() == [0.5, 0.25, 0, 0, 0] and slope[0, 5] > 100.0
    metres, gains = settings[0, :, V].sum(), settings[0, :, GAIN].sum()
    assert cost == pytest.approx([metres + 0.02 * gains], abs=1e-12)


def test_steps_keep_room_for_an_inside() -> None:
    of = programme()
    of.bounded(np.array([[-0.5, 0.0]]), np.array([[0.0, 0.75]]))
    assert of.low.tolist() == [[-0.5, -1e-6]] and of.high.tolist() == [[1e-6, 0.75]]


def test_the_largest_of_many_rows_are_looked_at() -> None:
    rng = np.random.default_rng(3)
    value = rng.permutation(60).astype(float)[np.newaxis]
    which = _first(value)
    assert sorted(value[0, which[0]].tolist()) == list(range(32, 60))
    few = _first(value[:, :28])
    assert few.tolist() == [list(range(28))]
    slopes = rng.random((1, 3, 60))
    assert (_taken(slopes, which)[0] == slopes[0][:, which[0]].T).all()


def test_small_moves_go_inwards() -> None:
    settings = np.array([[-10.0, 6.0, 1.0, 20.0, 0.0], [-9.99, 5.0, 0.0, 0.0, 0.0]])
    high = np.array([-9.98, 6.0, 1.0, 20.0, 0.0])
    moved, by = _moved(settings, [TILT, V, X], high)
    assert [step.tolist() for step in by] == [[0.02, -0.02], [-0.002, 0.002], [-0.002, 0.002]]
    for place, column in enumerate((TILT, V, X)):
        there = settings.copy()
        there[:, column] += by[place]
        assert (moved[place] == there).all()


# --- tilts that rigging and audience leave


def reaching(flipped_too: bool = True) -> Member:
    one = member(hang=Hang(vertical_m=(6.0, 6.0), orientations=("upright", "flipped")))
    return replace(
        one,
        problem=replace(
            one.problem,
            axis_on_audience=False,
            reachable_tilt_deg={
                "upright": ((-80.0, -50.0), (-40.0, -10.0)),
                "flipped": ((-30.0, 5.0),),
            },
        ),
    )


def test_the_nearest_of_what_the_rigging_reaches() -> None:
    tilts = [-85.0, -60.0, -47.0, -43.0, -20.0, -5.0, 60.0]
    settings = np.array([[tilt, 6.0, 0.0, 0.0, 0.0] for tilt in tilts])
    low, high = tilt_span_deg(reaching(), settings, np.zeros(7, dtype=bool))
    assert low.tolist() == [-80.0] * 3 + [-40.0] * 4
    assert high.tolist() == [-50.0] * 3 + [-10.0] * 4
    turned = np.array([True, False] * 3 + [True])
    low, high = tilt_span_deg(reaching(), settings, turned)
    assert low.tolist() == [-30.0, -80.0, -30.0, -40.0, -30.0, -40.0, -30.0]
    assert high.tolist() == [5.0, -50.0, 5.0, -10.0, 5.0, -10.0, 5.0]


def pieces(*of: tuple[float, float, float, float]) -> Segments:
    table = np.array(of)
    return Segments(table[:, :2], table[:, 2:], np.zeros(len(of), dtype=np.intp))


CHAINS = pieces(
    (1.0, 0.0, 2.0, 0.0),
    (2.0, 0.0, 3.0, 1.0),
    (3.0, 3.0, 4.0, 3.0),  # above the end of the last: x alone is alike
    (6.0, 0.0, 7.0, 0.0),
    (7.0, 0.0, 8.0, 1.0),
    (8.0, 1.0, 9.0, 1.0),
)


def over_chains() -> Member:
    one = member(hang=Hang(vertical_m=(6.0, 6.0)))
    return replace(one, problem=replace(one.problem, planes=CHAINS))


def test_pieces_that_follow_one_another_are_a_chain() -> None:
    points, first = _chain_points(over_chains().problem)
    assert points.tolist() == [
        [1.0, 0.0], [2.0, 0.0], [3.0, 1.0],
        [3.0, 3.0], [4.0, 3.0],
        [6.0, 0.0], [7.0, 0.0], [8.0, 1.0], [9.0, 1.0],
    ]  # fmt: skip
    assert first.tolist() == [0, 3, 5]


def down(x: float, z: float) -> float:
    return math.degrees(math.atan2(z - 6.0, x))


def test_an_axis_keeps_to_the_chain_that_it_meets_or_is_nearest_to() -> None:
    one = over_chains()
    tilts = [-75.0, -55.0, -42.0, -35.0, -10.0, -59.2]
    settings = np.array([[tilt, 6.0, 0.0, 0.0, 0.0] for tilt in tilts])
    flipped = np.zeros(len(tilts), dtype=bool)
    placements = one.placements(settings, flipped)
    low, high = _chain_ends_deg(one.problem, placements)
    expected = [
        (down(1.0, 0.0), down(3.0, 1.0)),
        (down(3.0, 3.0), down(4.0, 3.0)),
        (down(6.0, 0.0), down(9.0, 1.0)),
    ]
    for n in range(len(tilts)):
        ends = list(zip(low[n].tolist(), high[n].tolist(), strict=True))
        assert np.allclose(ends, expected)
    # −80.5…−59.0, −45…−36.9, −45…−29.1: the first of those that are met, else the nearest.
    assert _chain(one.problem, placements).tolist() == [0, 0, 1, 2, 2, 0]
    span = tilt_span_deg(one, settings, flipped)
    chosen = [expected[k] for k in (0, 0, 1, 2, 2, 0)]
    assert np.allclose(np.stack(span, axis=1), chosen)


def test_limits_and_their_slopes_by_hand() -> None:
    """Degrees over either end of the audience, and over what the front row may see."""
    one = over_chains()
    one = replace(
        one,
        problem=replace(one.problem, max_front_elevation_deg=50.0, front_ear_m=(2.0, 1.2)),
    )
    settings = np.array([[-70.0, 6.0, 0.5, 0.0, 0.0]])
    flipped = np.zeros(1, dtype=bool)
    high = np.array([90.0, 7.0, 1.0, 0.0, 0.0])
    value, slope = _limits_deg(one, settings, flipped, [TILT, V, X], high)
    low, far = (math.degrees(math.atan2(z - 6.0, x - 0.5)) for x, z in ((1.0, 0.0), (3.0, 1.0)))
    front = math.degrees(math.atan2(4.8, 1.5)) - 50.0
    assert value[0] == pytest.approx([low + 70.0, -70.0 - far, front + 1e-4], abs=1e-9)

    def turn(dx: float, dz: float) -> tuple[float, float]:
        """Degrees by which a direction turns for each metre up, and along, of the looker."""
        square = dx * dx + dz * dz
        return math.degrees(-dx / square), math.degrees(dz / square)

    (near_v, near_x), (far_v, far_x) = turn(0.5, -6.0), turn(2.5, -5.0)
    by_v, by_x = math.degrees(1.5 / (1.5**2 + 4.8**2)), math.degrees(4.8 / (1.5**2 + 4.8**2))
    expected = [[-1.0, 1.0, 0.0], [near_v, -far_v, by_v], [near_x, -far_x, by_x]]
    assert slope[0] == pytest.approx(np.array(expected), abs=0.02)
    seen = _front_deg(one, settings, flipped)
    assert seen is not None and seen[0] == pytest.approx(front, abs=1e-9)
    assert _front_deg(over_chains(), settings, flipped) is None


def test_what_the_front_row_sees_is_priced() -> None:
    one = member(hang=still(0.0, 6.0, -30.0))
    seen = math.degrees(math.atan2(4.8, 4.0))
    steep = replace(
        one,
        problem=replace(one.problem, max_front_elevation_deg=seen - 2.0, front_ear_m=(4.0, 1.2)),
    )
    at = asking(one).ranges[..., 0][np.newaxis]
    flipped = np.zeros((1, 1), dtype=bool)
    _, free = _Polish(asking(one), None).judged(at, flipped)
    heard, merit = _Polish(asking(steep), None).judged(at, flipped)
    assert heard.over_db[0] == pytest.approx(2.0, abs=1e-9)
    assert merit[0] - free[0] == pytest.approx(600.0, abs=1e-6)


def test_slopes_are_those_of_loops() -> None:
    """Differences over 0.02° and 2 mm, against those over the other side, within their bend."""
    question = company()
    at = question.ranges.mean(axis=2)[np.newaxis]
    at[:, :, TILT] = [-31.0, -47.0]
    flipped = np.zeros((1, 2), dtype=bool)
    polish = _Polish(question, None)
    slopes = polish._slopes(at, flipped, hear(question, at, flipped))[0]
    for k, (one, column) in enumerate(polish.free):
        step = {TILT: 0.02, V: 0.002, X: 0.002, GAIN: 0.5}[column]
        there = at.copy()
        there[0, one, column] -= step
        before, now = hear(question, there, flipped), hear(question, at, flipped)
        by_hand = (now.alone[one, 0] - before.alone[one, 0]) / step
        assert slopes[k] == pytest.approx(by_hand, abs=0.01)
    assert DELAY.x_m[0] < at[0, 1, X] < DELAY.x_m[1]

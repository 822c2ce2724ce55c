"""Where the joint search sets out from: even spreads, by a recurrence written out again."""

import math
from dataclasses import replace

import numpy as np
import pytest
from plain_companies import DELAY, MAIN, asking, company, member

from aiming.aim.joint_problem import GAIN, TILT, JointLevels, JointProblem, V, X, allowed, hear
from aiming.aim.joint_starts import Starts, _distinct, _few_rows, _places, _spread, starts
from aiming.base.arrays import FloatArray
from aiming.geometry.section import Segments
from aiming.speaker.speaker import Hang


def recurrence(count: int, columns: int) -> FloatArray:
    """Fractions of ½ + n·g⁻ᵏ, g the root above 1 of g^(columns+1) = g + 1, by bisection."""
    low, high = 1.0, 2.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if middle ** (columns + 1) < middle + 1.0 else (low, middle)
    return np.array(
        [[math.fmod(0.5 + n / low**k, 1.0) for k in range(1, columns + 1)]
         for n in range(1, count + 1)]
    )  # fmt: skip


@pytest.mark.parametrize("columns", [1, 2, 4, 6])
def test_the_spread_is_the_recurrence(columns: int) -> None:
    assert _spread(40, columns) == pytest.approx(recurrence(40, columns), abs=1e-9)


def test_some_rows_first_and_last_among_them() -> None:
    assert _few_rows(5).tolist() == [0, 1, 2, 3, 4]
    few = _few_rows(240)
    assert len(few) == 24 and few[0] == 0 and few[-1] == 239
    assert np.abs(few - np.arange(24) * 239.0 / 23.0).max() <= 0.5 + 1e-9


def test_places_lie_where_the_recurrence_says() -> None:
    """Every draw whose axis meets the audience at its share of the way along all pieces."""
    ears = ((4.0, 1.2), (10.0, 1.2), (13.0, 5.2))
    hang = Hang(x_m=(-2.0, 1.0), vertical_m=(7.0, 9.0))
    at, flipped = _places(asking(member(hang=hang, ears=ears)), 0)
    assert len(at) == 48 and not flipped.any() and (at[:, [3, GAIN]] == 0.0).all()
    for (tilt, v, x), (by_v, by_x, _, way) in zip(
        at[:, [TILT, V, X]].tolist(), recurrence(48, 4).tolist(), strict=True
    ):
        assert v == pytest.approx(7.0 + 2.0 * by_v, abs=1e-6)
        assert x == pytest.approx(-2.0 + 3.0 * by_x, abs=1e-6)
        # 6 m on the level, then 5 m that rise by 4 in 3.
        along = 11.0 * way
        there = (4.0 + along, 1.2) if along < 6.0 else (
            10.0 + 0.6 * (along - 6.0), 1.2 + 0.8 * (along - 6.0)
        )  # fmt: skip
        seen = math.degrees(math.atan2(there[1] - v, there[0] - x))
        assert tilt == pytest.approx(seen, abs=1e-6)


def test_places_of_an_axis_that_is_free_look_from_below_the_near_to_above_the_far() -> None:
    """From 5° under the lowest corner to 15° over the highest, as each place sees them."""
    hang = Hang(x_m=(0.0, 2.0), vertical_m=(6.0, 7.0))
    one = member(hang=hang, ears=((4.0, 1.2), (20.0, 2.2)))
    one = replace(one, problem=replace(one.problem, axis_on_audience=False))
    at, _ = _places(asking(one), 0)
    assert len(at) == 48
    for (tilt, v, x), (_, _, _, share) in zip(
        at[:, [TILT, V, X]].tolist(), recurrence(48, 4).tolist(), strict=True
    ):
        near, far = (
            math.degrees(math.atan2(z - v, ear - x)) for ear, z in ((4.0, 1.2), (20.0, 2.2))
        )
        low, high = near - 5.0, far + 15.0
        assert tilt == pytest.approx(low + (high - low) * share, abs=1e-6)


def test_an_audience_of_one_point_is_what_every_place_looks_at() -> None:
    one = member(hang=Hang(x_m=(0.0, 2.0), vertical_m=(6.0, 7.0)))
    point = Segments(np.array([[9.0, 1.0]]), np.array([[9.0, 1.0]]), np.array([0]))
    at, _ = _places(asking(replace(one, problem=replace(one.problem, planes=point))), 0)
    assert len(at) == 48
    for tilt, v, x in at[:, [TILT, V, X]].tolist():
        assert tilt == pytest.approx(math.degrees(math.atan2(1.0 - v, 9.0 - x)), abs=1e-6)


def test_places_hang_either_way_by_turns() -> None:
    hang = replace(MAIN, orientations=("upright", "flipped"), tilt_deg=(-90.0, 90.0))
    _, flipped = _places(asking(member(hang=hang)), 0)
    assert flipped.tolist() == [False, True] * 24
    fixed = replace(MAIN, vertical_m=(6.0, 6.0), tilt_deg=(-30.0, -30.0))
    at, _ = _places(asking(member(hang=fixed)), 0)
    assert at.tolist() == [[-30.0, 6.0, 0.0, 0.0, 0.0]]


def still(x_m: float, height_m: float, tilt_deg: float) -> Hang:
    return Hang(x_m=(x_m, x_m), vertical_m=(height_m, height_m), tilt_deg=(tilt_deg, tilt_deg))


def two_still(ceiling_db: float | None) -> JointProblem:
    """Nothing but the gains is open; the second fills the first where it has a ceiling."""
    main = member(hang=still(0.0, 6.0, -30.0), gain_db=(-12.0, 3.0))
    delay = member("delay", hang=still(10.0, 5.0, -20.0), gain_db=(-30.0, 12.0))
    if ceiling_db is not None:
        delay = replace(delay, fills=0, ceiling_db=ceiling_db)
    return asking(main, delay)


def test_gains_without_a_ceiling_lie_up_to_10_db_under_their_highest() -> None:
    """By the square of the recurrence's number: near the highest more often than far from it."""
    found = starts(two_still(None), most=3000)
    squares = recurrence(3000, 4)[:, [1, 3]] ** 2
    drawn = np.array([3.0, 12.0]) - 10.0 * squares
    assert len(found.settings) > 5
    for gains in found.settings[..., GAIN]:
        assert np.abs(drawn - gains).max(axis=1).min() < 1e-6


@pytest.mark.parametrize("ceiling_db", [-4.0, 6.0])
def test_gains_of_a_fill_lie_up_to_10_db_under_its_ceiling(ceiling_db: float) -> None:
    question = two_still(ceiling_db)
    found = starts(question, most=3000)
    squares = recurrence(3000, 4)[:, [1, 3]] ** 2
    zero = question.ranges[..., 0].copy()
    zero[:, GAIN] = 0.0
    alone = hear(question, zero[np.newaxis], np.zeros((1, 2), dtype=bool)).alone[:, 0]
    over = float((alone[1] - alone[0]).mean(axis=0).max())
    main = 3.0 - 10.0 * squares[:, 0]
    drawn = np.column_stack([main, main - over + ceiling_db - 10.0 * squares[:, 1]])
    assert len(found.settings) > 5
    for gains in found.settings[..., GAIN]:
        assert np.abs(drawn - gains).max(axis=1).min() < 1e-6


def test_starts_are_allowed_apart_and_the_best_first() -> None:
    question = company()
    found = starts(question, most=14)
    assert len(found.settings) == 14 == len(found.flipped)
    assert allowed(question, found.settings, found.flipped).all()
    heard = hear(question, found.settings, found.flipped)
    merit = heard.objective_db + 2.0 * np.maximum(heard.over_db, 0.0)
    assert (np.diff(merit) >= -1e-9).all()
    size = question.ranges[..., 1] - question.ranges[..., 0]
    size[:, TILT], size[1, GAIN] = 60.0, 20.0
    size = np.maximum(size, 1e-9)
    for n in range(14):
        for k in range(n):
            assert (np.abs(found.settings[n] - found.settings[k]) / size).max() > 0.15
    assert DELAY.x_m == (9.0, 11.0)


def judged(*value_over: tuple[float, float]) -> JointLevels:
    value, over = np.array(value_over).T
    empty = np.zeros((1, len(value), 1, 1))
    return JointLevels(empty, np.ones((1, len(value), 1), dtype=bool), empty[0], value, over)


def kept(settings: FloatArray, flipped: list[bool], of: JointLevels, most: int = 9) -> Starts:
    """Of one loudspeaker with 2 m of height open."""
    question = asking(member(hang=Hang(vertical_m=(6.0, 8.0))))
    return _distinct(question, settings, np.array(flipped)[:, np.newaxis], of, most=most)


def test_of_starts_that_lie_close_the_best_stays() -> None:
    """By at most 0.15 of each range, a tilt's counted as 60°; a limit broken costs double."""
    settings = np.zeros((6, 1, 5))
    settings[:, 0, V] = [6.0, 6.29, 6.31, 6.0, 6.0, 7.9]
    settings[:, 0, TILT] = [0.0, 0.0, 0.0, 8.9, -9.1, 0.0]
    of = judged((3.0, 0.0), (2.9, 0.1), (2.5, 0.5), (4.0, -1.0), (3.9, 0.0), (np.inf, 0.0))
    found = kept(settings, [False] * 6, of)
    # Merits 3, 3.1, 3.5, 4, 3.9: the second and the fourth lie close to the first.
    assert found.settings[:, 0, V].tolist() == [6.0, 6.31, 6.0]
    assert found.settings[:, 0, TILT].tolist() == [0.0, 0.0, -9.1]
    assert len(kept(settings, [False] * 6, of, most=2).settings) == 2
    # One that hangs the other way is never close.
    turned = kept(settings, [False, True, False, False, False, False], of)
    assert turned.flipped[:, 0].tolist() == [False, True, False, False]


def test_where_nothing_is_allowed_nothing_starts() -> None:
    looks_up = member(hang=Hang(vertical_m=(6.0, 7.0), tilt_deg=(30.0, 60.0)))
    found = starts(asking(looks_up, member()), most=5)
    assert found.settings.shape == (0, 2, 5) and found.flipped.shape == (0, 2)

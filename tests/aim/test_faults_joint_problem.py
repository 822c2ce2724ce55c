"""The joint question: what settings stand for, what is heard, which limits are broken."""

from dataclasses import replace

import numpy as np
import pytest
from pair_scenes import scalar_pair_levels_db
from plain_companies import (
    DELAY,
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
from second_formula import scalar_drop_m, scalar_levels_db

from aiming.aim.hung_pair import Under
from aiming.aim.joint_problem import (
    GAIN,
    TILT,
    JointLevels,
    Member,
    V,
    X,
    allowed,
    excesses_db,
    hear,
)
from aiming.aim.problem import Objective
from aiming.base.arrays import BoolArray, frozen
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.groups import HungUnder
from aiming.speaker.speaker import Hang, Placement, Placements

OBJECTIVES: tuple[Objective, ...] = ("spread", "worst band", "deviation")


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_heard_as_loops_over_numbers_say(objective: Objective) -> None:
    question = company(objective=objective, softest_db=-24.0, ceiling_db=1.5)
    settings, flipped = spread_out(question, 30)
    heard = hear(question, settings, flipped)
    assert (heard.over_db > 0.0).any() and heard.is_open.all()
    for n, at in enumerate(settings):
        alone = scalar_alone_db(question, at, flipped[n])
        assert heard.alone[:, n] == pytest.approx(np.array(alone), abs=1e-9)
        assert heard.levels[n] == pytest.approx(np.array(scalar_sum_db(alone)), abs=1e-9)
        value = scalar_value_db(question, at, flipped[n])
        assert heard.objective_db[n] == pytest.approx(value, abs=1e-9)
        over = scalar_over_db(question, at, flipped[n])
        assert heard.over_db[n] == pytest.approx(over, abs=1e-9)


def test_two_alike_at_one_place_are_louder_by_the_gain_of_two() -> None:
    """Two equal powers are 3.01 dB more than one; the spread stays."""
    one = member()
    both = asking(one, replace(one, name="twin"))
    settings, flipped = spread_out(asking(one), 4)
    alone = hear(asking(one), settings, flipped)
    twice = hear(both, settings.repeat(2, axis=1), flipped.repeat(2, axis=1))
    assert twice.levels - alone.levels == pytest.approx(10.0 * np.log10(2.0), abs=1e-9)
    assert twice.objective_db == pytest.approx(alone.objective_db, abs=1e-9)
    assert (twice.over_db == 0.0).all()


def test_what_counts_as_within_a_range() -> None:
    """A billionth beyond an end of any range, and no more."""
    question = asking(member(), member("delay", hang=DELAY, gain_db=(-6.0, 2.0)))
    middle = question.ranges.mean(axis=2)
    middle[:, TILT] = -45.0
    still = np.zeros((1, 2), dtype=bool)
    for column in (V, X, GAIN):
        for end, sign in ((0, -1.0), (1, 1.0)):
            for by, good in ((0.0, True), (0.95e-9, True), (1.05e-9, False), (0.1, False)):
                at = middle.copy()
                at[1, column] = question.ranges[1, column, end] + sign * by
                assert allowed(question, at[np.newaxis], still)[0] == good, (column, sign, by)
    several = np.stack([middle, middle, middle])
    several[1, 0, V] = 7.5
    several[2, 1, TILT] = -89.0
    assert allowed(question, several, still.repeat(3, axis=0)).tolist() == [True, False, False]


def test_the_axis_of_each_meets_the_audience() -> None:
    question = company()
    middle = question.ranges.mean(axis=2)
    middle[:, TILT] = -45.0
    looks_over = middle.copy()
    looks_over[0, TILT] = -0.5
    found = allowed(question, np.stack([middle, looks_over]), np.zeros((2, 2), dtype=bool))
    assert found.tolist() == [True, False]


def hung(flipped_too: bool = True) -> Member:
    """By the trim of a box that is not as high above its centre as below."""
    outline = np.array([(-0.4, -0.2), (0.1, -0.2), (0.1, 0.5), (-0.4, 0.5)])
    both = ("upright", "flipped") if flipped_too else ("upright",)
    hang = Hang(x_m=(0.0, 1.0), vertical="trim", vertical_m=(5.0, 6.0), orientations=both)
    one = member(hang=hang)
    return replace(one, problem=replace(one.problem, cabinet=Cabinet(outline_m=frozen(outline))))


def test_settings_and_placements_are_one_another_s() -> None:
    one = hung()
    for turn in (False, True):
        at = np.array([-33.0, 5.5, 0.25, 0.0, -7.0])
        placement = one.placements(at[np.newaxis], np.array([turn])).at(0)
        drop = scalar_drop_m(one.problem, -33.0, turn)
        assert placement == Placement(0.25, pytest.approx(5.5 + drop, abs=1e-12), -33.0, turn)
        assert one.setting(placement, -7.0) == pytest.approx(at, abs=1e-12)
    upright, turned = (scalar_drop_m(one.problem, -33.0, turn) for turn in (False, True))
    assert abs(upright - turned) > 0.1


def test_what_is_left_to_choose() -> None:
    one = member("delay", hang=DELAY, gain_db=(-6.0, 2.0))
    assert one.ranges == ((-85.0, 0.0), (4.0, 5.0), (9.0, 11.0), (0.0, 0.0), (-6.0, 2.0))
    still = Hang(vertical_m=(6.0, 6.0), tilt_deg=(-30.0, -30.0))
    nothing = member(hang=still)
    assert not asking(nothing).open
    assert asking(nothing, replace(nothing, gain_db=(0.0, 1.0))).open
    assert asking(member(hang=replace(still, orientations=("upright", "flipped")))).open
    assert asking(nothing, member(hang=replace(still, x_m=(0.0, 0.1)))).open


def test_ceilings_that_bind() -> None:
    """Those of fills that have one, in the order of the loudspeakers."""
    one = member()
    question = asking(
        one,
        replace(one, fills=0, ceiling_db=6.0),
        replace(one, fills=0),
        replace(one, fills=1, ceiling_db=-2.0),
        replace(one, ceiling_db=3.0),
    )
    assert question.fills == ((1, 0, 6.0), (3, 1, -2.0))
    assert question.with_ceilings(4.0).fills == ((1, 0, 10.0), (3, 1, 2.0))
    alone = np.zeros((5, 1, 2, 3))
    alone[1, 0] = [[1.0, 8.0, 9.0], [3.0, 8.0, 9.0]]
    is_open = np.ones((5, 1, 3), dtype=bool)
    is_open[0, 0, 2] = False
    first, second = excesses_db(question, alone, is_open)
    # 2, 8 and 9 over the main; the last where it is hidden.  Then 0 over those, less −2.
    assert first.tolist() == [[-4.0, 2.0, -np.inf]]
    assert second.tolist() == [[0.0, -6.0, -7.0]]


LOSS_DB = np.array([[0.0, 4.9, 0.0, 7.0, 0.0], [0.0, 0.0, 5.1, 7.0, 0.0]])
"""Of two bands and five rows; one over 5 dB, what an edge takes that grazes, hides the row."""


def behind_an_edge() -> Member:
    one = member()
    return replace(one, problem=replace(one.problem, shadow=Edge(LOSS_DB)))


def _heard(one: Member) -> tuple[JointLevels, BoolArray]:
    settings = np.tile(asking(one).ranges.mean(axis=2), (2, 1, 1))
    heard = hear(asking(one), settings, np.zeros((2, 1), dtype=bool))
    return heard, heard.is_open[0]


def test_a_row_behind_an_edge_is_not_open_and_hears_less() -> None:
    free, is_open = _heard(member())
    assert is_open.all()
    hidden, is_open = _heard(behind_an_edge())
    assert is_open.tolist() == [[True, True, False, False, True]] * 2
    taken = free.levels[0] - hidden.levels[0]
    assert taken == pytest.approx(LOSS_DB, abs=1e-9)


@pytest.mark.parametrize("edge_under", [True, False])
def test_two_hung_together_are_heard_as_one(edge_under: bool) -> None:
    """The sum of both, by loops; a row is open that either of them is not hidden from."""
    edge = Edge(LOSS_DB[:, ::-1]) if edge_under else None
    held = HungUnder("main", (-0.1, -0.3), (-0.1, 0.3), (5.0, 25.0))
    under = Under(held, tent(0.1, 0.25), True, np.array([-3.0, 1.5]), edge)
    one = member(output_db=(2.0, -1.0))
    one = replace(one, problem=replace(one.problem, shadow=Edge(LOSS_DB), under=under))
    places = Placements.of(0.5, np.array([6.0, 7.0]), np.array([-30.0, -10.0]), False, 12.0)
    levels, is_open = one.heard(places)
    either = (LOSS_DB < 5.0).all(axis=0) | (LOSS_DB[:, ::-1] < 5.0).all(axis=0)
    assert is_open.tolist() == [(either if edge_under else either | True).tolist()] * 2
    assert either.tolist() == [True, True, False, True, True]
    free = replace(one.problem, shadow=None, under=replace(under, shadow=None))
    for at, found in enumerate(levels):
        there = places.at(at)
        above = np.array(
            scalar_levels_db(free, there.x_m, there.height_m, there.tilt_deg, there.flipped)
        )
        both = np.array(
            scalar_pair_levels_db(free, there.x_m, there.height_m, there.tilt_deg, False, 12.0)
        )
        below = 10.0 ** (both / 10.0) - 10.0 ** (above / 10.0)
        lost = LOSS_DB[:, ::-1] if edge_under else 0.0
        power = 10.0 ** ((above - LOSS_DB) / 10.0) + below * 10.0 ** (-lost / 10.0)
        output = np.array([[2.0], [-1.0]])
        assert found == pytest.approx(10.0 * np.log10(power) + output, abs=1e-9)


def test_some_rows_only() -> None:
    question = asking(behind_an_edge(), member("delay", hang=DELAY))
    which = np.array([0, 3])
    few = question.at_rows(which)
    settings, flipped = spread_out(question, 3)
    whole, part = hear(question, settings, flipped), hear(few, settings, flipped)
    assert part.levels == pytest.approx(whole.levels[..., which], abs=1e-12)
    assert (part.is_open == whole.is_open[..., which]).all()
    # A row at an end stands for half of what one between others stands for.
    assert few.row_share == pytest.approx([1.0 / 3.0, 2.0 / 3.0])


def test_an_unknown_level_is_no_answer() -> None:
    """Known to 20° off axis only."""
    one = member(lobe=tent(0.2, 0.3, known_deg=20.0))
    settings, flipped = spread_out(asking(one), 1)
    settings[0, 0] = [-70.0, 6.0, 0.0, 0.0, 0.0]
    heard = hear(asking(one, softest_db=-90.0), settings, flipped)
    assert np.isinf(heard.objective_db[0]) and np.isinf(heard.over_db[0])

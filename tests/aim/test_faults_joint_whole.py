"""The joint choice: what is tried, kept, called better, and proven by its searches."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from plain_companies import asking, member, scalar_over_db, scalar_value_db

from aiming.aim import joint
from aiming.aim.joint import (
    DEFAULT_BOXES,
    EQUAL_DB,
    PAIR_BOXES,
    JointStart,
    JointStatus,
    _best_of,
    _better,
    _boxes,
    _from_starts,
    _gap_db,
    _in_parts,
    _joined,
    _keeping,
    _neighbours,
    _set_to,
    _setting,
    _with_higher_ceilings,
    aimed_anew,
    best_gains,
    best_of_starts,
    solve_together,
)
from aiming.aim.joint_polish import Polished
from aiming.aim.joint_problem import GAIN, TILT, JointProblem, X, allowed, hear
from aiming.aim.joint_search import JointFound
from aiming.base.arrays import BoolArray, FloatArray
from aiming.speaker.speaker import Hang, Placement


def still(x_m: float, height_m: float, tilt_deg: float) -> Hang:
    return Hang(x_m=(x_m, x_m), vertical_m=(height_m, height_m), tilt_deg=(tilt_deg, tilt_deg))


def gain_alone(count: int = 2) -> JointProblem:
    """A main, and others that fill it whose gains alone are open."""
    main = member(hang=still(0.0, 6.0, -30.0))
    others = [
        member(
            f"fill {n}",
            hang=still(8.0 + n, 5.0, -20.0),
            gain_db=(-20.0, 4.0),
            fills=0,
            ceiling_db=6.0,
        )
        for n in range(1, count)
    ]
    return asking(main, *others)


def standing(question: JointProblem, *gains: float) -> Polished:
    """These gains of the last, with their values."""
    settings = question.ranges[..., 0][np.newaxis].repeat(len(gains), axis=0)
    settings[:, -1, GAIN] = gains
    still_up = np.zeros(len(question.members), dtype=bool)
    return Polished(
        settings,
        np.tile(still_up, (len(gains), 1)),
        np.array([scalar_value_db(question, one, still_up) for one in settings]),
        np.array([scalar_over_db(question, one, still_up) for one in settings]),
    )


def found_at(question: JointProblem, gain: float, *, better_db: float = 0.0) -> JointFound:
    at = standing(question, gain)
    value = float(at.objective_db[0]) - better_db
    return JointFound(at.settings[0], at.flipped[0], value, 0.02, True, 7)


def test_boxes_that_seconds_buy() -> None:
    """From the fourth loudspeaker on a box counts for more; without a wish three at most."""
    for count, asked, expected in (
        (1, 600, 600), (2, 600, 600), (3, 600, 600), (4, 600, 300), (5, 600, 200),
        (2, None, DEFAULT_BOXES), (3, None, DEFAULT_BOXES), (4, None, 0),
    ):  # fmt: skip
        assert _boxes(gain_alone(count), asked) == expected


def test_neighbours_follow_along_the_section_and_fills_their_mains() -> None:
    one = member()
    question = asking(
        one, one, replace(one, fills=0, ceiling_db=6.0), replace(one, fills=0, ceiling_db=6.0)
    )
    settings = question.ranges[..., 0][np.newaxis].copy()
    settings[0, :, X] = [0.0, 5.0, 20.0, 2.0]
    now = Polished(settings, np.zeros((1, 4), dtype=bool), np.zeros(1), np.zeros(1))
    # Along x: 0, 3, 1, 2; fills 2 and 3 of 0.
    assert _neighbours(question, now) == [(0, 2), (0, 3), (1, 2), (1, 3)]


def test_only_what_keeps_every_limit_is_kept_the_best_first() -> None:
    question = gain_alone()
    at = standing(question, 4.0, -3.0, -12.0, -19.0)
    at = replace(at, over_db=np.array([1.1e-6, 0.9e-6, 0.0, 0.0]))
    outside = at.settings.copy()
    outside[3, 1, GAIN] = -20.5
    kept = _keeping(question, replace(at, settings=outside))
    assert kept is not None
    expected = sorted(at.objective_db[1:3].tolist())
    assert kept.objective_db.tolist() == expected
    assert set(kept.settings[:, 1, GAIN].tolist()) == {-3.0, -12.0}
    unknown = replace(at, objective_db=np.full(4, np.inf))
    assert _keeping(question, unknown) is None
    assert _keeping(question, replace(at, over_db=np.ones(4))) is None


def test_better_is_what_is_better_by_more_than_an_equal() -> None:
    question = gain_alone()
    now = standing(question, -19.0, -18.0)
    gain = min(
        np.linspace(-18.0, 2.0, 41).tolist(),
        key=lambda g: float(standing(question, g).objective_db[0]),
    )
    found = found_at(question, gain)
    worse = replace(now, objective_db=np.array([found.objective_db + 1.9 * EQUAL_DB, 99.0]))
    assert _better(question, worse, found) is None
    assert _better(question, worse, replace(found, objective_db=99.0)) is None
    by_more = replace(now, objective_db=np.array([found.objective_db + 2.1 * EQUAL_DB, 0.0]))
    better = _better(question, by_more, found)
    assert better is not None and better.objective_db[0] <= found.objective_db + 1e-12
    assert better.settings[0, 1, GAIN] == pytest.approx(gain, abs=0.5)
    # What the polish cannot keep up with stands as the proof found it.
    claimed = found_at(question, gain, better_db=5.0)
    taken = _better(question, now, claimed)
    assert taken is not None and taken.objective_db.tolist() == [claimed.objective_db]
    assert (taken.settings[0] == claimed.settings).all() and taken.over_db.tolist() == [0.0]


def test_gaps_of_what_is_taken() -> None:
    """The search found 3 and proved that nothing is under 2.98."""
    found = JointFound(np.zeros((1, 5)), np.zeros(1, dtype=bool), 3.0, 0.02, True, 1)
    for value, gap in ((3.0, 0.02), (3.5, 0.52), (2.99, 0.01), (2.9, 0.0)):
        assert _gap_db(value, found) == pytest.approx(gap, abs=1e-12)
    least = replace(found, objective_db=2.5)
    assert _best_of([found, least, found]) is least


def test_settings_of_a_start_and_back() -> None:
    question = gain_alone()
    at = JointStart(
        (Placement(0.0, 6.0, -30.0, False), Placement(9.0, 5.0, -20.0, True)), (0.0, -3.5)
    )
    now = _set_to(question, at)
    expected = [[[-30.0, 6.0, 0.0, 0.0, 0.0], [-20.0, 5.0, 9.0, 0.0, -3.5]]]
    assert now.settings.tolist() == expected and now.flipped.tolist() == [[False, True]]
    back = _setting(question, now)
    assert back.placements == at.placements and back.gains_db == at.gains_db
    twice = _joined(now, replace(now, objective_db=np.ones(1)))
    assert twice.settings.tolist() == expected * 2 and twice.objective_db.tolist() == [0.0, 1.0]


def test_an_answer_given_is_led_on_and_kept_as_it_is() -> None:
    question = gain_alone()
    given = _setting(question, standing(question, -15.0))
    alone = _from_starts(question, (), most=2)
    with_it = _from_starts(question, (given,), most=2)
    assert len(with_it.objective_db) == len(alone.objective_db) + 2
    assert with_it.settings[-1, 1, GAIN] == pytest.approx(-15.0, abs=1e-9)
    assert with_it.objective_db[-1] == pytest.approx(
        float(standing(question, -15.0).objective_db[0]), abs=1e-9
    )


def test_where_nothing_is_allowed_nothing_is_found() -> None:
    up = asking(member(hang=Hang(vertical_m=(6.0, 7.0), tilt_deg=(30.0, 60.0))), member())
    none = _from_starts(up, (), most=3)
    assert none.settings.shape == (0, 2, 5) and none.objective_db.shape == none.over_db.shape == (
        0,
    )
    assert solve_together(up, gap_db=0.05) is None


def test_one_gain_is_solved_and_proven_as_a_grid_has_it() -> None:
    question = gain_alone()
    gains = np.linspace(-20.0, 4.0, 97)
    tried = standing(question, *gains.tolist())
    good = tried.over_db <= 1e-6
    least = float(tried.objective_db[good].min())
    found = solve_together(question, gap_db=0.05)
    assert found is not None
    assert least - 0.3 <= found.objective_db <= least + 0.05
    assert found.proof.status is JointStatus.PROVEN and found.proof.pairs_gap_db is None
    gap = found.proof.gap_db
    assert gap is not None and 0.0 <= gap <= 0.05
    assert found.proof.each_alone_gap_db == gap
    assert 0 < found.proof.agreeing <= found.proof.starts
    given = solve_together(question, _setting(question, tried.pick(slice(0, 1))), gap_db=0.05)
    assert given is not None and given.proof.starts == found.proof.starts + 1
    assert given.objective_db == pytest.approx(found.objective_db, abs=0.05)
    best = best_gains(question, _setting(question, tried.pick(slice(0, 1))))
    assert best is not None
    at = float(standing(question, best[1]).objective_db[0])
    assert at <= least + 0.011
    # What a ceiling 4 dB higher would give is no worse.
    assert found.more_ceiling_db is not None
    assert found.more_ceiling_db <= found.objective_db + 1e-9


def test_not_tried_over_everything_where_no_box_may_be_bounded() -> None:
    found = solve_together(gain_alone(), gap_db=0.05, most_boxes=0)
    assert found is not None and found.proof.status is JointStatus.NOT_TRIED
    assert found.proof.gap_db is None and found.proof.gains_gap_db is not None
    assert found.proof.gains_gap_db <= 0.01 + 1e-9


@pytest.mark.parametrize(("asked", "each"), [(None, PAIR_BOXES), (9_000, 3_000), (30, PAIR_BOXES)])
def test_neighbours_share_the_boxes_that_were_asked_for(
    monkeypatch: pytest.MonkeyPatch, asked: int | None, each: int
) -> None:
    """Four in a row: three pairs, and one of them fills the first as well."""
    question = gain_alone(4)
    question = replace(
        question,
        members=tuple(replace(one, ceiling_db=np.inf, fills=None) for one in question.members),
    )
    now = standing(question, -5.0)
    tried: list[tuple[Sequence[tuple[int, ...]], int]] = []

    def anew(
        question: JointProblem,
        now: Polished,
        parties: Sequence[tuple[int, ...]],
        gap_db: float,
        most_boxes: int,
    ) -> list[JointFound]:
        tried.append((parties, most_boxes))
        return [found_at(question, -5.0)]

    monkeypatch.setattr(joint, "_anew", anew)
    monkeypatch.setattr(joint, "_gains", lambda question, now: (now, None))
    taken, gains, each_one, pairs = _in_parts(question, now, 0.05, asked)
    assert taken is now and gains is None and len(each_one) == len(pairs) == 1
    (singles, _), (parties, boxes) = tried
    assert list(singles) == [(0,), (1,), (2,), (3,)]
    assert parties == [(0, 1), (1, 2), (2, 3)] and boxes == each
    assert now.settings[0, 0, TILT] == -30.0


def test_higher_ceilings_give_what_a_grid_of_gains_has_under_them() -> None:
    """A ceiling far too low for the fill: 4 dB more of it are worth much."""
    question = gain_alone()
    main, fill = question.members
    low = replace(question, members=(main, replace(fill, ceiling_db=0.0)))

    def least(of: JointProblem) -> Polished:
        tried = standing(of, *np.linspace(-20.0, 4.0, 97).tolist())
        good = tried.pick(tried.over_db <= 1e-6)
        return good.pick(np.argsort(good.objective_db)[:1])

    higher, now = least(low.with_ceilings(4.0)), least(low)
    assert float(higher.objective_db[0]) < float(now.objective_db[0]) - 1.0
    found = _with_higher_ceilings(low, now, now)
    assert found == pytest.approx(float(higher.objective_db[0]), abs=0.05)
    free = replace(question, members=(main, replace(fill, fills=None)))
    assert _with_higher_ceilings(free, now, now) is None


# --- some aimed anew, the rest kept


def tilts_open(*, ceiling_db: float = 2.0) -> JointProblem:
    """Two that may turn where they hang; the gain of the second, which fills the first, is open."""
    main = member(hang=replace(still(0.0, 6.0, 0.0), tilt_deg=(-70.0, 0.0)))
    fill = member(
        "fill",
        hang=replace(still(10.0, 5.0, 0.0), tilt_deg=(-70.0, 0.0)),
        gain_db=(-20.0, 4.0),
        fills=0,
        ceiling_db=ceiling_db,
    )
    return asking(main, fill)


def set_at(question: JointProblem, main: float, fill: float, gain: float) -> JointStart:
    settings = question.ranges[..., 0][np.newaxis].copy()
    settings[0, :, TILT] = main, fill
    settings[0, 1, GAIN] = gain
    upright = np.zeros((1, 2), dtype=bool)
    return _setting(question, Polished(settings, upright, np.zeros(1), np.zeros(1)))


def value_at(question: JointProblem, at: JointStart) -> tuple[float, float]:
    """Objective, and by how much a limit is broken."""
    now = _set_to(question, at)
    heard = hear(question, now.settings, now.flipped)
    return float(heard.objective_db[0]), float(heard.over_db[0])


def least_over(question: JointProblem, at: JointStart, one: int, gains: list[float]) -> float:
    """The least over all tilts of one, on its audience, and these gains of the fill."""
    tilt, gain = (
        of.ravel() for of in np.meshgrid(np.linspace(-50.0, -11.0, 157), gains, indexing="ij")
    )
    settings = _set_to(question, at).settings.repeat(len(tilt), axis=0)
    settings[:, one, TILT], settings[:, 1, GAIN] = tilt, gain
    flipped = np.zeros((len(tilt), 2), dtype=bool)
    heard = hear(question, settings, flipped)
    good = (heard.over_db <= 1e-6) & allowed(question, settings, flipped)
    return float(heard.objective_db[good].min())


def test_one_aimed_anew_with_its_gain_leaves_the_rest() -> None:
    question = tilts_open()
    before = set_at(question, -20.0, -60.0, -19.0)
    found = aimed_anew(question, before, {1: []}, 0.05)
    assert found is not None
    after, gap = found
    assert after.placements[0] == before.placements[0] and after.gains_db[0] == 0.0
    value, over = value_at(question, after)
    least = least_over(question, before, 1, np.linspace(-20.0, 4.0, 97).tolist())
    assert over <= 1e-6 and gap is not None and gap <= 0.05
    assert least - 0.15 <= value <= least + 0.05
    assert value < value_at(question, before)[0] - 1.0


def test_what_fills_the_one_aimed_anew_is_turned_down_to_its_ceiling() -> None:
    """The fill begins 4 dB and more over what it may be; where it hangs it stays."""
    question = tilts_open(ceiling_db=-4.0)
    before = set_at(question, -30.0, -40.0, 4.0)
    assert value_at(question, before)[1] > 4.0
    found = aimed_anew(question, before, {0: []}, 0.05)
    assert found is not None
    after, gap = found
    value, over = value_at(question, after)
    assert over <= 1e-6 and gap is not None
    assert after.placements[1] == before.placements[1] and after.gains_db[1] < 0.0
    least = least_over(question, after, 0, [after.gains_db[1]])
    assert least - 0.15 <= value <= least + 0.05
    never = tilts_open(ceiling_db=-60.0)
    assert aimed_anew(never, set_at(never, -30.0, -40.0, 4.0), {0: []}, 0.05) is None


def test_several_aimed_anew_are_each_aimed_and_nothing_is_proven_of_all() -> None:
    question = tilts_open()
    before = set_at(question, -20.0, -60.0, -19.0)
    both = aimed_anew(question, before, {0: [], 1: []}, 0.05)
    assert both is not None and both[1] is None
    first = aimed_anew(question, before, {0: []}, 0.05)
    assert first is not None
    then = aimed_anew(question, first[0], {1: []}, 0.05)
    assert then is not None and then[0].placements == both[0].placements


def test_other_placements_may_be_where_it_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within the ranges; what fills the fill turns with it too."""
    question = tilts_open()
    chain = replace(
        question,
        members=(*question.members, replace(question.members[1], name="third", fills=1)),
    )
    settings = chain.ranges[..., 0][np.newaxis].copy()
    settings[0, :, TILT] = -30.0, -40.0, -20.0
    settings[0, 1:, GAIN] = -10.0
    upright = np.zeros((1, 3), dtype=bool)
    before = _setting(chain, Polished(settings, upright, np.zeros(1), np.zeros(1)))
    asked: list[tuple[JointProblem, Polished]] = []

    def led(question: JointProblem, settings: FloatArray, flipped: BoolArray) -> Polished:
        nothing = np.zeros(len(settings))
        asked.append((question, Polished(settings, flipped, nothing, nothing + 1.0)))
        return asked[-1][1]

    monkeypatch.setattr(joint, "polished", led)
    others = [Placement(0.0, 6.0, -50.0, False), Placement(3.0, 6.5, -80.0, True)]
    assert aimed_anew(chain, before, {0: others}, 0.05) is None
    [(near, tried)] = asked
    assert tried.settings[:, 0, TILT].tolist() == [-30.0, -50.0, -70.0]
    assert tried.settings[:, 0, X].tolist() == [0.0, 0.0, 0.0]
    assert tried.flipped[:, 0].tolist() == [False, False, True]
    assert (tried.settings[:, 1:] == settings[0, 1:]).all() and not tried.flipped[:, 1:].any()
    assert near.ranges[:, TILT].tolist() == [[-70.0, 0.0], [-40.0, -40.0], [-20.0, -20.0]]
    assert near.ranges[:, GAIN].tolist() == [[0.0, 0.0], [-20.0, 4.0], [-20.0, 4.0]]


def test_a_few_starts_lead_to_something_no_worse_than_was_given() -> None:
    question = tilts_open()
    given = set_at(question, -25.0, -35.0, -10.0)
    found = best_of_starts(question, [given])
    assert found is not None
    value, over = value_at(question, found)
    assert over <= 1e-6 and value <= value_at(question, given)[0] + 1e-9
    up = asking(member(hang=Hang(vertical_m=(6.0, 7.0), tilt_deg=(30.0, 60.0))), member())
    assert best_of_starts(up, []) is None

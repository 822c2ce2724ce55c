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
    best_gains,
    solve_together,
)
from aiming.aim.joint_polish import Polished
from aiming.aim.joint_problem import GAIN, TILT, JointProblem, X
from aiming.aim.joint_search import JointFound
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

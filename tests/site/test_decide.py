"""Whether and where to move a box, where what may be is a handful of known cases."""

from dataclasses import replace

import numpy as np
import pytest
from onsite_scenes import prediction, problem

from aiming.aim.problem import Problem
from aiming.site.compare import as_planned
from aiming.site.decide import Decision, decide
from aiming.site.draws import Draws
from aiming.site.estimate import Estimate, estimate
from aiming.site.evidence import Blunder, Evidence
from aiming.speaker.speaker import Hang, Placement


def spread_db(of: Problem, tilt_deg: float) -> float:
    """By the other way: the problem's own figure, without any draws."""
    return float(of.spread_db(Placement(0.0, 8.0, tilt_deg)))


def among(of: Problem, plan_deg: float, off_deg: list[float]) -> Estimate:
    """The box hangs off its plan by one of these, each as likely, all else as planned."""
    off = np.array(off_deg)
    draws: Draws = as_planned(4).pick(np.zeros(len(off), dtype=np.intp))
    # A height that is known to a micrometre: a width of nothing is no interval.
    tiny = 1e-6 * np.linspace(-1.0, 1.0, len(off))
    draws = replace(draws, tilt_deg=off, height_m=tiny)
    even = np.full(len(off), 1.0 / len(off))
    whole = estimate(prediction(of, Placement(0.0, 8.0, plan_deg)), None, None)
    return replace(
        whole, draws=draws, weight=even, levels_weight=even, likeliest_weight=even,
        slip_weights=np.zeros((0, len(off))), states=np.zeros((0, 3)),
        log_levels=np.zeros(len(off)),
    )  # fmt: skip


@pytest.fixture(scope="module")
def of() -> Problem:
    return problem().with_hang(Hang(tilt_deg=(-40.0, 10.0), vertical_m=(8.0, 8.0)))


@pytest.fixture(scope="module")
def best_deg(of: Problem) -> float:
    """The tilt of the least spread that keeps the axis on the audience, by trying a hundredth."""
    tilts = np.arange(-40.0, 10.0, 0.01)
    kept = tilts[of.allowed(Placement(0.0, 8.0, 0.0).varied(tilt_deg=tilts))]
    return float(kept[np.argmin([spread_db(of, float(one)) for one in kept])])


def test_a_narrow_range_of_tilts_is_asked_of_the_audience_as_a_wide_one() -> None:
    # The last ears, at (18, 2.6), are seen from (0, 6) at −10.70°: the axis meets an audience at
    # −10.72°, none at −10.68°.
    assert np.degrees(np.arctan2(2.6 - 6.0, 18.0)) == pytest.approx(-10.70, abs=0.01)
    narrow = problem().with_hang(Hang(tilt_deg=(-10.72, -10.68)))
    found = decide(estimate(prediction(narrow, Placement(0.0, 6.0, -10.68)), None, None))
    assert found.move is not None
    assert found.move.target.tilt_deg == -10.72


@pytest.mark.parametrize("off", [9.0, -9.0, 15.0])
def test_a_box_that_hangs_off_goes_back_to_its_plan(
    of: Problem, best_deg: float, off: float
) -> None:
    found = decide(among(of, best_deg, [off] * 256))
    assert found.advised
    assert found.move is not None
    assert found.move.hung.tilt_deg == pytest.approx(best_deg + off)
    assert found.move.target.tilt_deg == pytest.approx(best_deg, abs=0.06)
    assert found.move.turn_deg == pytest.approx(-off, abs=0.06)
    before, after = spread_db(of, best_deg + off), spread_db(of, found.move.target.tilt_deg)
    assert found.now_db == pytest.approx(before, abs=0.02)
    assert found.after_db == pytest.approx(after, abs=0.02)
    assert found.move.gain_db == pytest.approx(before - after, abs=0.02)
    assert found.move.worse == 0.0
    # A move no farther than 20° to either side.
    far = decide(among(of, best_deg, [-24.0] * 256))
    assert far.move is not None
    assert far.move.turn_deg == pytest.approx(20.0, abs=1e-9)


def test_a_plan_that_was_no_good_is_bettered_and_one_within_a_decibel_is_kept(
    of: Problem, best_deg: float
) -> None:
    tilts = best_deg - np.arange(0.0, 20.0, 0.01)
    worse = np.array([spread_db(of, float(one)) for one in tilts]) - spread_db(of, best_deg)
    for share_db, kept in ((0.9, True), (1.1, False)):
        plan = float(tilts[np.argmax(worse > share_db)])
        found = decide(among(of, plan, [best_deg - 15.0 - plan] * 256))
        assert found.move is not None
        target = plan if kept else best_deg
        assert found.move.target.tilt_deg == pytest.approx(target, abs=0.06)


def test_a_move_is_advised_from_what_it_must_be_worth_on(of: Problem, best_deg: float) -> None:
    hangs = among(of, best_deg, [6.0] * 256)
    gain = decide(hangs).move
    assert gain is not None
    assert decide(hangs, worth_db=gain.gain_db).advised
    left = decide(hangs, worth_db=gain.gain_db + 1e-9)
    assert (left.advised, left.why) == (False, "gain")
    assert left.after_db == left.now_db == pytest.approx(spread_db(of, best_deg + 6.0), abs=0.02)
    # As planned there is nothing to win, by half a decibel or by any other figure.
    assert decide(among(of, best_deg, [0.0] * 256)).why == "gain"


def test_where_no_tilt_is_left_within_reach_nothing_is_said(of: Problem) -> None:
    """The rigging leaves −40° to −35° alone, the box hangs level: more than 20° away."""
    found = decide(among(of.with_hang(Hang(tilt_deg=(-40.0, -35.0))), 0.0, [0.0] * 256))
    assert (found.move, found.why) == (None, "unknown")
    assert found.after_db == found.now_db


def chances(of: Problem, best_deg: float, worse: int, count: int) -> Estimate:
    """Mostly 9° too high; in some of the cases lower, so that going down makes those worse."""
    return among(of, best_deg, [9.0] * (count - worse) + [0.0] * worse)


@pytest.mark.parametrize(("worse", "why"), [(5, ""), (6, "chance"), (60, "chance")])
def test_a_move_may_make_it_worse_in_one_of_fifty_cases(
    of: Problem, best_deg: float, worse: int, why: str
) -> None:
    found = decide(chances(of, best_deg, worse, 256))
    assert found.why == why
    assert found.move is not None
    assert found.move.worse == pytest.approx(worse / 256)


@pytest.mark.parametrize(("worse", "why"), [(25, ""), (27, "one")])
def test_a_move_stands_with_any_one_microphone_off(
    of: Problem, best_deg: float, worse: int, why: str
) -> None:
    # Were the second microphone off, the box would hang as planned in so many of 128 cases.
    known = among(of, best_deg, [9.0] * 128 + [0.0] * worse)
    even = np.where(np.arange(128 + worse) < 128, 1.0 / 128, 0.0)
    slip = np.where(np.arange(128 + worse) < 128, (128 - worse) / 128**2, 1.0 / 128)
    found = decide(replace(known, likeliest_weight=even, slip_weights=np.array([even, slip])))
    assert found.why == why


@pytest.mark.parametrize(("none", "why"), [(0.52, ""), (0.48, "blunder")])
def test_nothing_is_moved_on_levels_that_are_likelier_wrong(
    of: Problem, best_deg: float, none: float, why: str
) -> None:
    held = ((Blunder("none"), none), (Blunder("microphone", (0,)), 1.0 - none))
    hangs = replace(
        among(of, best_deg, [9.0] * 256), blunders=held, evidence=Evidence(np.zeros((4, 3)))
    )
    found: Decision = decide(hangs)
    assert found.why == why
    assert found.advised is (not why)

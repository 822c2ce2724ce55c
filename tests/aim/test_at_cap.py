"""Where the cap stops the proof: what is found then, and what is still true of it.

The unpolished answer of a cap is had from the same search with no step allowed; what is true is
asked of a proof that is not capped, and of a sample with a formula of its own.
"""

import numpy as np
import pytest
from random_scenes import random_problem
from test_search import as_sample, best_sampled, check_answer

from aiming.aim import search as searching
from aiming.aim.nearby import nearby
from aiming.aim.search import SearchResult, Status, search

CAP = 1
SEEDS = range(40)


def unpolished(seed: int, monkeypatch: pytest.MonkeyPatch) -> SearchResult:
    with monkeypatch.context() as still:
        still.setattr(searching, "_MOST_STEPS", 0)
        return search(random_problem(seed, rows=3), gap_db=0.01, most_boxes=CAP)


@pytest.mark.parametrize("seed", SEEDS)
def test_never_worse_inside_the_limits_and_the_gap_is_true(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three rows, one of the smallest caps: what was proven to the gap stays as it is."""
    problem = random_problem(seed, rows=3)
    before = unpolished(seed, monkeypatch)
    found = search(problem, gap_db=0.01, most_boxes=CAP)
    if before.status is not Status.CAPPED:
        assert found == before
        return
    assert found.objective_db <= before.objective_db
    assert found.boxes == before.boxes
    assert found.status is (Status.PROVEN if found.gap_db <= 0.01 else Status.CAPPED)
    check_answer(problem, found)
    least = before.objective_db - before.gap_db
    assert found.objective_db - found.gap_db <= least + 1e-12 or found.gap_db == 0.0
    sampled = best_sampled(problem, np.random.default_rng(seed), 500, found)
    assert sampled >= found.objective_db - found.gap_db - 1e-7


def test_a_notch_that_the_cap_misses_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three rows through which a narrow minimum runs: far from the best before, at it after."""
    before = unpolished(14, monkeypatch)
    found = search(random_problem(14, rows=3), gap_db=0.01, most_boxes=CAP)
    proven = search(random_problem(14, rows=3), gap_db=0.1, most_boxes=20_000)
    assert before.objective_db > proven.objective_db + 2.0
    assert found.objective_db <= proven.objective_db + 0.1
    assert found.gap_db == pytest.approx(
        found.objective_db - (before.objective_db - before.gap_db), abs=1e-9
    )


@pytest.mark.parametrize("seed", range(0, 20, 2))
def test_steps_stay_inside_the_ranges(seed: int) -> None:
    problem = random_problem(seed, rows=3)
    found = search(problem, gap_db=1.0, most_boxes=CAP)
    if found.placement is None:
        return
    near, v_m = nearby(problem, found.placement, 0.1)
    low, high = problem.hang.vertical_m
    assert low <= v_m.min() and v_m.max() <= high
    low, high = problem.hang.x_m
    assert low <= near.x_m.min() and near.x_m.max() <= high
    assert (np.asarray(near.flipped) == found.placement.flipped).all()
    assert as_sample(problem, near.at(0)).v_m[0] == pytest.approx(v_m[0], abs=1e-12)

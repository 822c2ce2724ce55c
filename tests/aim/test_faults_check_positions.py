"""Which positions are taken to check: one in each third, and only where another tells more."""

from dataclasses import replace

import numpy as np
import pytest
from plain_questions import question

from aiming.aim.check_positions import APART_M, _among, _chosen


def test_among_what_is_wanted() -> None:
    assert _among(np.array([0, 1, 2, 1]), [1, 2]).tolist() == [False, True, True, True]
    assert _among(np.array([0, 1]), [5]).tolist() == [False, False]


@pytest.mark.parametrize(("apart", "count"), [(0.4, 3), (1.05, 5)])
def test_after_three_only_what_is_far_from_all_is_added(apart: float, count: int) -> None:
    """Five rows: three are always asked for, more only where 1.5 m lie between any two."""
    near = question(rows=5).rows
    rows = replace(near, x_m=10.0 + APART_M * apart * np.arange(5.0), z_m=np.full(5, 1.2))
    per_doubt = np.random.default_rng(4).normal(0.0, 1.0, (2, 5, 6))
    places = _chosen(per_doubt, rows, 5)
    assert len(places) == len(set(places)) == count
    assert {3 * place // 5 for place in places} == {0, 1, 2}

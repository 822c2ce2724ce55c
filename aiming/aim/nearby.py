"""Placements about one: the steps of a short local search, for where a proof stops at its cap."""

from itertools import product

import numpy as np

from ..base.arrays import FloatArray
from ..speaker.speaker import Placement, Placements
from .problem import Problem, first_hit

FIRST_STEP, LAST_STEP = 0.1, 1e-4
"""Shares of the ranges that are left to choose."""
_SETTLINGS = 3
"""Turning moves the acoustic centre above a trim by little: so many turns settle it."""


def nearby(problem: Problem, at: Placement, share: float) -> tuple[Placements, FloatArray]:
    """(placements (n,), their height or trim in m) a step about one, inside the ranges.

    share: length of a step as a share of each range that is left to choose
    Steps go along every unknown and along all their diagonals, for the best of rows that are traded
    has an edge to run along.  Each comes twice: with the tilt as stepped, and with the axis on its
    old aim point, for where the axis is held on the audience the best often lies at an end of it.
    """
    flipped = at.flipped
    tilts = problem.tilt_ranges(flipped)
    hang, tilt = problem.hang, at.tilt_deg
    v = at.height_m - float(problem.drop_m(tilt, flipped))
    ends = (hang.x_m, hang.vertical_m, (tilts[0][0], tilts[-1][1]), problem.splay_deg)
    low, high = np.array(ends, dtype=np.float64).T
    here = np.array([at.x_m, v, tilt, at.splay_deg])
    ways = here + share * (high - low) * np.array([[-1.0], [0.0], [1.0]])
    along = np.clip(ways, low, high).T.tolist()
    # At the end of a range a step outwards stays where it is.
    xs, vs, turned, splays = (list(dict.fromkeys(values)) for values in along)
    stepped = np.array(list(product(xs, vs, turned, splays)))
    moved = np.array(list(product(xs, vs, [tilt], splays)))
    held = np.clip(_on_aim_point(problem, at, moved), low, high)
    x, v_m, tilt_deg, splay = np.concatenate([stepped, held]).T
    height = v_m + problem.drop_m(tilt_deg, flipped)
    return Placements.of(x, height, tilt_deg, flipped, splay), v_m


def _on_aim_point(problem: Problem, at: Placement, stepped: FloatArray) -> FloatArray:
    """(n, 4) stepped x, height or trim and splay, turned back to the aim point of `at`."""
    away = float(first_hit(at, problem.planes)[0])
    if not np.isfinite(away):
        return stepped[:0]
    turn = np.radians(at.tilt_deg)
    x, z = at.x_m + away * np.cos(turn), at.height_m + away * np.sin(turn)
    held = stepped.copy()
    for _ in range(_SETTLINGS):
        height = held[:, 1] + problem.drop_m(held[:, 2], at.flipped)
        held[:, 2] = np.degrees(np.arctan2(z - height, x - held[:, 0]))
    return held

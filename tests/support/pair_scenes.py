"""Seeded random questions about two loudspeakers, one fixed under the other, and a second formula.

The second formula is plain loops with the math module; it shares nothing with the search.
"""

import math
from dataclasses import replace

import numpy as np
from random_scenes import random_pattern, random_problem
from second_formula import scalar_levels_db, scalar_objective_db

from aiming.aim.hung_pair import Under
from aiming.aim.problem import Problem
from aiming.speaker.groups import HungUnder


def random_pair(seed: int, *, rows: int = 7) -> Problem:
    """A random scene with a second loudspeaker under the first."""
    rng = np.random.default_rng(10_000 + seed)
    problem = random_problem(seed, rows=rows)
    low = float(rng.uniform(-10.0, 40.0))
    high = low if rng.random() < 0.3 else low + float(rng.uniform(0.0, 40.0))
    reach = 0.0 if rng.random() < 0.2 else 1.0
    joint, own = reach * rng.uniform(-0.6, 0.4, 2), reach * rng.uniform(-0.4, 0.6, 2)
    return replace(
        problem,
        under=Under(
            held=HungUnder("above", tuple(joint.tolist()), tuple(own.tolist()), (low, high)),
            pattern=random_pattern(rng, problem.pattern.band_hz),
            flipped=bool(rng.random() < 0.5),
            louder_db=rng.uniform(-9.0, 4.0, len(problem.pattern.band_hz)),
        ),
    )


def scalar_pair_levels_db(
    problem: Problem, x_m: float, height_m: float, tilt_deg: float, flipped: bool, splay_deg: float
) -> list[list[float]]:
    """[band][row] of both together, by loops."""
    under = problem.under
    assert under is not None
    first = scalar_levels_db(problem, x_m, height_m, tilt_deg, flipped)
    (u, w), (p, q) = under.held.joint_m, under.held.own_joint_m
    tau, own = math.radians(tilt_deg), math.radians(tilt_deg - splay_deg)
    joint_x = x_m + u * math.cos(tau) - w * math.sin(tau)
    joint_z = height_m + u * math.sin(tau) + w * math.cos(tau)
    second = scalar_levels_db(
        replace(problem, pattern=under.pattern),
        joint_x - (p * math.cos(own) - q * math.sin(own)),
        joint_z - (p * math.sin(own) + q * math.cos(own)),
        tilt_deg - splay_deg,
        under.flipped,
    )
    return [
        [
            10.0 * math.log10(10.0 ** (a / 10.0) + 10.0 ** ((b + more) / 10.0))
            for a, b in zip(one, other, strict=True)
        ]
        for one, other, more in zip(first, second, under.louder_db.tolist(), strict=True)
    ]


def scalar_pair_objective_db(problem: Problem, *placement: float) -> float:
    """x, height, tilt, flipped, splay."""
    x, height, tilt, flipped, splay = placement
    levels = scalar_pair_levels_db(problem, x, height, tilt, bool(flipped), splay)
    return scalar_objective_db(problem, levels)

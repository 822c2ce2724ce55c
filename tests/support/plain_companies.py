"""Several loudspeakers over the same plain rows, and their levels once more by loops."""

import math
from dataclasses import replace

import numpy as np
from plain_questions import question, tent
from second_formula import scalar_levels_db, scalar_objective_db

from aiming.aim.joint_problem import JointProblem, Member
from aiming.aim.problem import Objective
from aiming.base.arrays import BoolArray, FloatArray, IntArray
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang, Range

MAIN = Hang(vertical_m=(6.0, 7.0), tilt_deg=(-80.0, 0.0))
DELAY = Hang(x_m=(9.0, 11.0), vertical_m=(4.0, 5.0), tilt_deg=(-85.0, 0.0))
LOBE = tent(0.2, 0.3)


def member(
    name: str = "main",
    *,
    hang: Hang = MAIN,
    lobe: Pattern = LOBE,
    rows: int = 5,
    ears: tuple[tuple[float, float], ...] = ((4.0, 1.2), (20.0, 2.2)),
    output_db: tuple[float, ...] = (0.0, 0.0),
    gain_db: Range = (0.0, 0.0),
    fills: int | None = None,
    ceiling_db: float = np.inf,
) -> Member:
    """One loudspeaker whose lobe falls by so much with each degree."""
    problem = question(lobe, ears=ears, rows=rows, hang=hang, air_db_per_m=0.01)
    return Member(name, problem, np.array(output_db), gain_db, fills, ceiling_db)


def company(
    *, objective: Objective = "spread", softest_db: float | None = None, ceiling_db: float = 6.0
) -> JointProblem:
    """A main and a delay that fills it, 3 dB louder in one band, its gain open."""
    delay = member(
        "delay",
        hang=DELAY,
        output_db=(0.0, 3.0),
        gain_db=(-20.0, 4.0),
        fills=0,
        ceiling_db=ceiling_db,
    )
    return asking(member(), delay, objective=objective, softest_db=softest_db)


def asking(
    *members: Member, objective: Objective = "spread", softest_db: float | None = None
) -> JointProblem:
    """The question about these."""
    return JointProblem(tuple(members), objective=objective, softest_db=softest_db)


def scalar_alone_db(
    question: JointProblem, settings: FloatArray, flipped: BoolArray
) -> list[list[list[float]]]:
    """[member][band][row] of one setting (members, 5), flipped (members,), of heights, by loops."""
    found = []
    for one, at, turn in zip(question.members, settings.tolist(), flipped, strict=True):
        tilt, height, x, _, gain = at
        levels = scalar_levels_db(one.problem, x, height, tilt, bool(turn))
        more = [gain + output for output in one.output_db.tolist()]
        found.append([[v + up for v in band] for band, up in zip(levels, more, strict=True)])
    return found


def scalar_sum_db(alone: list[list[list[float]]]) -> list[list[float]]:
    """[band][row] power sum."""
    return [
        [
            10.0 * math.log10(math.fsum(10.0 ** (v / 10.0) for v in at))
            for at in zip(*of, strict=True)
        ]
        for of in zip(*alone, strict=True)
    ]


def scalar_value_db(question: JointProblem, settings: FloatArray, flipped: BoolArray) -> float:
    """Objective of one setting."""
    levels = scalar_sum_db(scalar_alone_db(question, settings, flipped))
    first = replace(question.members[0].problem, objective=question.objective)
    return scalar_objective_db(first, levels)


def scalar_over_db(question: JointProblem, settings: FloatArray, flipped: BoolArray) -> float:
    """By how much ceilings and the least level are broken, where no edge hides anything."""
    alone = scalar_alone_db(question, settings, flipped)
    design = [[math.fsum(of) / len(of) for of in zip(*one, strict=True)] for one in alone]
    over = 0.0
    for fill, one in enumerate(question.members):
        if one.fills is not None:
            apart = [a - b for a, b in zip(design[fill], design[one.fills], strict=True)]
            over = max(over, max(apart) - one.ceiling_db)
    if question.softest_db is not None:
        mean = [math.fsum(of) / len(of) for of in zip(*scalar_sum_db(alone), strict=True)]
        over = max(over, question.softest_db - min(mean))
    return over


def spread_out(question: JointProblem, count: int, seed: int = 1) -> tuple[FloatArray, BoolArray]:
    """Settings at random within the ranges."""
    rng = np.random.default_rng(seed)
    low, high = question.ranges[..., 0], question.ranges[..., 1]
    at = low + (high - low) * rng.random((count, *low.shape))
    return at, np.zeros(at.shape[:2], dtype=bool)


class Edge:
    """Takes so many dB from each row.

    of_db: (bands, rows) at x = 0 and a height of 0; per_m: how much more it takes for each metre
    further along and further up, not negative
    """

    def __init__(self, of_db: FloatArray, per_m: tuple[float, float] = (0.0, 0.0)) -> None:
        self.of_db, self.per_m = of_db, per_m

    def loss_db(self, x_m: FloatArray, height_m: FloatArray) -> FloatArray:
        more = self.per_m[0] * np.asarray(x_m) + self.per_m[1] * np.asarray(height_m)
        return np.maximum(self.of_db + more[..., np.newaxis, np.newaxis], 0.0)

    def bounds_db(
        self, x_m: tuple[FloatArray, FloatArray], height_m: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        return self.loss_db(x_m[0], height_m[0]), self.loss_db(x_m[1], height_m[1])

    def at_rows(self, which: IntArray) -> "Edge":
        return Edge(self.of_db[:, which], self.per_m)

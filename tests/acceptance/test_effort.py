"""How many boxes a proof takes: bounds that hold but are looser than they need be cost boxes.

No time is measured.  The numbers were counted once, on the seeded scenes of random_scenes.py and
pair_scenes.py at a gap of 0.05 dB; a better search takes fewer, and they may then be lowered.
"""

from collections.abc import Callable

import pytest
from pair_scenes import random_pair
from random_scenes import close_problem, random_problem

from aiming.aim.problem import Problem
from aiming.aim.search import Status, lowest_within, search

GAP_DB = 0.05
SPARE = 1.05
# fmt: off
RANDOM = {
    1: 608, 3: 382, 4: 432, 5: 324, 7: 96, 8: 96, 9: 216, 10: 214, 12: 2160, 13: 360, 14: 1244,
    15: 988, 19: 128, 20: 176, 21: 530, 22: 144, 23: 144, 25: 192, 26: 256, 27: 264, 28: 160, 30:
    288, 32: 96, 33: 216, 34: 208, 35: 128, 36: 128, 39: 1221, 40: 288, 41: 762, 43: 558, 44: 352,
    45: 112, 46: 638, 48: 192, 49: 128, 51: 464, 52: 208, 54: 428, 58: 2580, 59: 876,
}
# fmt: on
# fmt: off
CLOSE = {
    0: 466, 3: 448, 5: 192, 6: 324, 7: 856, 12: 360, 13: 192, 20: 1356, 23: 160, 24: 384, 26: 427,
    29: 726, 30: 460, 35: 355, 36: 564, 37: 2092, 38: 96, 39: 2114,
}
# fmt: on
# fmt: off
PAIR = {
    1: 664, 3: 2636, 5: 494, 7: 96, 8: 96, 10: 150, 12: 1244, 13: 128, 20: 256, 21: 641, 22: 466,
    25: 968, 26: 96, 27: 412,
}
# fmt: on
# fmt: off
LOWEST = {
    1: 608, 3: 638, 4: 432, 5: 580, 9: 472, 12: 1832, 14: 954, 15: 1110, 19: 128, 21: 530, 23:
    376, 25: 304, 26: 384, 27: 560, 28: 224, 30: 416, 32: 256, 33: 280, 34: 936, 36: 272, 39: 886,
    40: 416, 41: 1022, 43: 904, 46: 560, 48: 320, 51: 464, 52: 336, 58: 2652,
}
# fmt: on
SCENES: dict[str, tuple[Callable[[int], Problem], dict[int, int]]] = {
    "random": (random_problem, RANDOM),
    "close": (close_problem, CLOSE),
    "pair": (random_pair, PAIR),
}
CASES = [(kind, seed) for kind, (_, counts) in SCENES.items() for seed in counts]


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_a_proof_takes_no_more_boxes_than_it_did(kind: str, seed: int) -> None:
    make, counts = SCENES[kind]
    found = search(make(seed), gap_db=GAP_DB, most_boxes=20_000)
    assert found.status in (Status.PROVEN, Status.INFEASIBLE)
    assert found.boxes <= SPARE * counts[seed]


@pytest.mark.parametrize("seed", LOWEST)
def test_the_lowest_placement_takes_no_more_boxes_than_it_did(seed: int) -> None:
    problem = random_problem(seed)
    best = search(problem, gap_db=GAP_DB)
    found = lowest_within(problem, best, within_db=0.3, gap_db=GAP_DB)
    assert found.status is Status.PROVEN
    assert found.boxes <= SPARE * LOWEST[seed]

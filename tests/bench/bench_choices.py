"""Whether the first screen shows every decision that is much better: random houses, dense scans.

    python tests/bench/bench_choices.py [--houses 200] [--seed 1]

Each other decision (front rows to a fill, axis off the audience, evenest, flipped) is looked for
here by a dense scan of heights and tilts with a level formula of its own (own_search): nothing of
the program is called.  Where one is better by 1.5 dB of spread, or has 15 % more of the rows within
3 dB, a line of its kind must stand on the first screen.
"""

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from outside import trapezoid
from own_search import House

import aiming
from aiming.analysis.choices import choices_of
from aiming.report.text.summary import first_screen_text
from aiming.results.answer import Answer

WORTH_DB, WORTH_PERCENT, ROW_DB = 1.5, 15.0, 0.5
"""A row that is left out asks for its own half decibel, as the answer counts."""
LOWER_DB, SOFTEST_DB = 0.5, -6.0
TILTS = np.arange(-90.0, 90.0, 0.5)


def random_house(rng: np.random.Generator) -> House:
    first, run, rake = rng.uniform(2.0, 7.0), rng.uniform(8.0, 24.0), rng.uniform(0.0, 0.25)
    floors = [[(first, 0.0), (first + run, rake * run)]]
    if rng.random() < 0.3:
        start = first + run + 0.5
        up = rake * run + rng.uniform(0.5, 2.0)
        floors.append([(start, up), (start + rng.uniform(4.0, 9.0), up + rng.uniform(1.0, 3.0))])
    low = rake * run + rng.uniform(3.0, 5.0)
    above, below = rng.uniform(12.0, 45.0, size=2)
    return House(floors, above, below, low, low + float(rng.choice([0.0, 1.0, 3.0])))


def best(
    house: House,
    *,
    left: int = 0,
    off: bool = False,
    flipped: bool = False,
    deviation: bool = False,
) -> tuple[float, float]:
    """Spread and share of rows of the best that a scan finds; inf and 0 for none."""
    heights = np.linspace(house.low_m, house.high_m, 13 if house.high_m > house.low_m else 1)
    order = np.argsort(np.concatenate(house.ears())[:, 0], kind="stable")
    keep = np.sort(order[left:])
    level = house.level_db(heights, TILTS, flipped=flipped)[:, :, keep]
    good = level.min(axis=2) - house.could_db(heights)[:, np.newaxis] >= SOFTEST_DB
    if not off:
        good &= house.on_audience(heights, TILTS)
    if not good.any():
        return np.inf, 0.0
    weight = np.concatenate([trapezoid(ears[:, 0]) for ears in house.ears()])[keep]
    mean = (level * weight).sum(axis=2, keepdims=True) / weight.sum()
    spread = np.where(good, np.ptp(level, axis=2), np.inf)
    size = spread
    if deviation:
        size = np.where(good, np.sqrt(((level - mean) ** 2 * weight).sum(axis=2)), np.inf)
    else:  # as the answer takes it: the lowest height within half a decibel of the best
        by_height = size.min(axis=1)
        lowest = int(np.argmax(by_height <= by_height.min() + LOWER_DB))
        size = np.where(np.arange(len(size))[:, np.newaxis] == lowest, size, np.inf)
    at = np.unravel_index(int(np.argmin(size)), size.shape)
    share = 100.0 * float((np.abs(level - mean) <= 3.0).mean(axis=2)[at])
    return float(spread[at]), share


def missed(house: House, answer: Answer) -> list[str]:
    """Decisions that are much better and not on the first screen."""
    taken, words = answer.choices[0], " ".join(first_screen_text(answer).split())
    shown = {one.kind for one in answer.choices[1:] if one.set_text in words}
    other = answer.speakers[0].orientation != "flipped"
    found = {
        "front rows": [best(house, left=n) for n in range(1, min(6, len(answer.rows) // 3) + 1)],
        "axis": [best(house, off=True)],
        "evenest": [best(house, deviation=True)],
        "turned": [best(house, flipped=other)],
    }
    lacking = []
    for kind, options in found.items():
        better = any(
            taken.spread_db - spread >= WORTH_DB + ROW_DB * (n if kind == "front rows" else 0)
            or (kind != "axis" and share - taken.rows_within_3db_percent >= WORTH_PERCENT)
            for n, (spread, share) in enumerate(options, start=1)
        )
        if better and kind not in shown:
            lacking.append(kind)
    return lacking


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--houses", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    rng = np.random.default_rng(given.seed)
    lacking, took = 0, []
    for number in range(given.houses):
        house = random_house(rng)
        try:
            answer = aiming.solve(aiming.load("-", stdin_text=house.text), choices=False)
        except aiming.AimingError as error:
            print(f"house {number}: {error}")
            continue
        start = time.process_time()
        choices = choices_of(answer)
        took.append(time.process_time() - start)
        if kinds := missed(house, replace(answer, choices=choices)):
            lacking += 1
            print(f"house {number}: not shown: {', '.join(kinds)}\n{house.text}")
    print(f"{len(took)} houses; {lacking} with a much better decision that is not shown")
    print(f"choices: median {np.median(took):.3f} s, largest {max(took):.3f} s of processor time")
    return int(lacking > 0)


if __name__ == "__main__":
    sys.exit(main())

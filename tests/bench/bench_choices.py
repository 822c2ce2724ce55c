"""Whether the first lines show every decision that is much better: random houses, dense scans.

    python tests/bench/bench_choices.py [--houses 200] [--seed 1]

Each other decision (front rows to a fill, axis off the audience, evenest, flipped) is looked for
here by a dense scan of heights and tilts with a level formula of its own: lobe, air and rows are
written out, nothing of the program is called.  Where one is better by 1.5 dB of spread, or has 15 %
more of the rows within 3 dB, a line of its kind must stand on the first screen.
"""

import argparse
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from outside import absorption

import aiming
from aiming.report.text.summary import first_screen_text
from aiming.results.answer import Answer, RowsAnswer

WORTH_DB, WORTH_PERCENT = 1.5, 15.0
MIDDLES_HZ = np.array([1000.0, 1995.262, 3981.072, 7943.282])
PARTS = 10.0 ** (0.3 * ((np.arange(60) + 0.5) / 60 - 0.5))
ALPHA = np.array([[absorption(hz * part) for part in PARTS] for hz in MIDDLES_HZ])
TILTS = np.arange(-90.0, 90.0, 0.5)
SOFTEST_DB = -6.0


@dataclass(frozen=True)
class House:
    """A floor, at times with a balcony over its rear, and one box with a range of heights."""

    floors: list[list[list[float]]]
    above_deg: float
    below_deg: float
    low_m: float
    high_m: float

    @property
    def text(self) -> str:
        seats = "".join(
            f'[[seating]]\nname = "block {k}"\nline = {floor}\nrow_spacing = 1.1\n'
            for k, floor in enumerate(self.floors)
        )
        return (
            f'{seats}[[speaker]]\nname = "main"\n'
            f"pattern = {{ coverage = {{ above = {self.above_deg}, below = {self.below_deg} }} }}\n"
            f"placement = {{ height = [{self.low_m}, {self.high_m}] }}\n"
        )


def random_house(rng: np.random.Generator) -> House:
    first, run, rake = rng.uniform(2.0, 7.0), rng.uniform(8.0, 24.0), rng.uniform(0.0, 0.25)
    floors = [[[first, 0.0], [first + run, rake * run]]]
    if rng.random() < 0.3:
        start = first + run + 0.5
        up = rake * run + rng.uniform(0.5, 2.0)
        floors.append([[start, up], [start + rng.uniform(4.0, 9.0), up + rng.uniform(1.0, 3.0)]])
    low = rake * run + rng.uniform(3.0, 5.0)
    above, below = rng.uniform(12.0, 45.0, size=2)
    return House(floors, above, below, low, low + float(rng.choice([0.0, 1.0, 3.0])))


def path_db(away: np.ndarray) -> np.ndarray:
    """Minus spreading and air, mean of the four octaves of pink noise."""
    lost = 10.0 ** (-0.1 * ALPHA[:, :, np.newaxis] * away.reshape(1, 1, -1))
    air = -10.0 * np.log10(lost.mean(axis=1)).mean(axis=0)
    return -20.0 * np.log10(away) - air.reshape(away.shape)


def scanned(house: House, x: np.ndarray, z: np.ndarray, *, flipped: bool) -> tuple:
    """(heights, tilts, rows) design level, and the level of the last rows on the axis."""
    heights = np.linspace(house.low_m, house.high_m, 13 if house.high_m > house.low_m else 1)
    dz = z - heights[:, np.newaxis]
    away = np.hypot(x, dz)
    path = path_db(away)
    off = np.degrees(np.arctan2(dz, x))[:, np.newaxis] - TILTS[:, np.newaxis]
    off = -off if flipped else off
    half = np.where(off >= 0.0, house.above_deg, house.below_deg)
    lobe = np.maximum(-24.0, -20.0 * np.log10(2.0) * (off / half) ** 2)
    return path[:, np.newaxis] + lobe, away, heights


def best(
    house: House,
    answer: Answer,
    *,
    left: int = 0,
    off: bool = False,
    flipped: bool = False,
    deviation: bool = False,
) -> tuple[float, float]:
    """Spread and share of rows of the best that a scan finds; inf and 0 for none."""
    rows = answer.rows
    order = np.argsort(rows.x_m, kind="stable")
    keep = np.sort(order[left:])
    x, z = rows.x_m, rows.z_m
    level, away, heights = scanned(house, x, z, flipped=flipped)
    last = np.array(
        [np.flatnonzero(np.array(rows.seating) == name)[-1] for name in dict.fromkeys(rows.seating)]
    )
    far = away[:, last].max(axis=1)
    could = path_db(far)
    level = level[:, :, keep]
    good = level.min(axis=2) - could[:, np.newaxis] >= SOFTEST_DB
    if not off:
        good &= _on_audience(house, heights)
    if not good.any():
        return np.inf, 0.0
    weight = weights(rows)[keep]
    mean = (level * weight).sum(axis=2, keepdims=True) / weight.sum()
    spread = np.where(good, np.ptp(level, axis=2), np.inf)
    size = spread
    if deviation:
        size = np.where(good, np.sqrt(((level - mean) ** 2 * weight).sum(axis=2)), np.inf)
    else:  # as the answer takes it: the lowest height within half a decibel of the best
        by_height = size.min(axis=1)
        lowest = int(np.argmax(by_height <= by_height.min() + 0.5))
        size = np.where(np.arange(len(size))[:, np.newaxis] == lowest, size, np.inf)
    at = np.unravel_index(int(np.argmin(size)), size.shape)
    share = 100.0 * float((np.abs(level - mean) <= 3.0).mean(axis=2)[at])
    return float(spread[at]), share


def weights(rows: RowsAnswer) -> np.ndarray:
    """Trapezoid in x, block by block."""
    found = np.zeros(len(rows))
    for name in dict.fromkeys(rows.seating):
        at = np.flatnonzero(np.array(rows.seating) == name)
        found[at] = 0.5 * (
            np.append(rows.x_m[at][1:], rows.x_m[at][-1])
            - np.append(rows.x_m[at][0], rows.x_m[at][:-1])
        )
    return found


def _on_audience(house: House, heights: np.ndarray) -> np.ndarray:
    """(heights, tilts) whether the axis meets an audience plane."""
    hit = np.zeros((len(heights), len(TILTS)), dtype=bool)
    for (x0, z0), (x1, z1) in house.floors:
        for k, height in enumerate(heights):
            ends = np.degrees(np.arctan2([z0 + 1.2 - height, z1 + 1.2 - height], [x0, x1]))
            hit[k] |= (ends.min() <= TILTS) & (ends.max() >= TILTS)
    return hit


def missed(house: House) -> tuple[list[str], float]:
    """Decisions that are much better and not shown; seconds that the choices took."""
    answer = aiming.solve(aiming.load("-", stdin_text=house.text), choices=False)
    from aiming.analysis.choices import choices_of

    start = time.process_time()
    choices = choices_of(answer)
    took = time.process_time() - start
    taken, screen = choices[0], first_screen_text(replace(answer, choices=choices))
    words = " ".join(screen.split())
    shown = {one.kind for one in choices[1:] if f"{one.name} {one.spread_db:.1f} dB" in words}
    other = answer.speakers[0].orientation != "flipped"
    fronts = min(6, len(answer.rows) // 3)
    found = {
        "front rows": [best(house, answer, left=n) for n in range(1, fronts + 1)],
        "axis": [best(house, answer, off=True)],
        "evenest": [best(house, answer, deviation=True)],
        "turned": [best(house, answer, flipped=other)],
    }
    lacking = []
    for kind, options in found.items():
        # Of the rows left out each asks for its own half decibel, as the answer counts.
        better = any(
            (taken.spread_db or 0.0) - spread >= WORTH_DB + 0.5 * (n if kind == "front rows" else 0)
            or (kind != "axis" and share - (taken.rows_within_3db_percent or 0.0) >= WORTH_PERCENT)
            for n, (spread, share) in enumerate(options)
        )
        if better and kind not in shown:
            lacking.append(kind)
    return lacking, took


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
            kinds, seconds = missed(house)
        except aiming.AimingError as error:
            print(f"house {number}: {error}")
            continue
        took.append(seconds)
        if kinds:
            lacking += 1
            print(f"house {number}: not shown: {', '.join(kinds)}\n{house.text}")
    print(f"{len(took)} houses; {lacking} with a much better decision that is not shown")
    print(f"choices: median {np.median(took):.3f} s, largest {max(took):.3f} s of processor time")
    return int(lacking > 0)


if __name__ == "__main__":
    sys.exit(main())

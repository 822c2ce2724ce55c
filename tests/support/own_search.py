"""A search of its own beside the program's: levels written out, places scanned and scanned finer.

One box with a quadratic lobe before raked floors; nothing of the program is called.
"""

from dataclasses import dataclass

import numpy as np
from outside import BANDS, DOWN_DB, Point, absorption, midband_hz, rows

_PARTS = 10.0 ** (0.3 * ((np.arange(60) + 0.5) / 60 - 0.5))
_ALPHA = np.array([[absorption(midband_hz(hz) * part) for part in _PARTS] for hz in BANDS])


def path_db(away_m: np.ndarray) -> np.ndarray:
    """Minus spreading and air, mean of the four octaves of pink noise, 20 °C, 50 %."""
    lost = 10.0 ** (-0.1 * _ALPHA[:, :, np.newaxis] * away_m.reshape(1, 1, -1))
    air = -10.0 * np.log10(lost.mean(axis=1)).mean(axis=0)
    return np.asarray(-20.0 * np.log10(away_m) - air.reshape(away_m.shape))


@dataclass(frozen=True)
class House:
    """Floors of (x, z), one box before them with a range of heights, above its own axis."""

    floors: list[list[Point]]
    above_deg: float
    below_deg: float
    low_m: float
    high_m: float
    spacing_m: float = 1.1

    @property
    def text(self) -> str:
        """The scenario file that says the same."""
        seats = "".join(
            f'[[seating]]\nname = "block {k}"\nline = {[list(point) for point in floor]}\n'
            f"row_spacing = {self.spacing_m}\n"
            for k, floor in enumerate(self.floors)
        )
        return (
            f'{seats}[[speaker]]\nname = "main"\n'
            f"pattern = {{ coverage = {{ above = {self.above_deg}, below = {self.below_deg} }} }}\n"
            f"placement = {{ height = [{self.low_m}, {self.high_m}] }}\n"
        )

    def ears(self) -> list[np.ndarray]:
        """(rows, 2) of each floor."""
        return [np.array(rows(floor, spacing=self.spacing_m)) for floor in self.floors]

    def level_db(
        self, height_m: np.ndarray, tilt_deg: np.ndarray, *, flipped: bool = False
    ) -> np.ndarray:
        """(heights, tilts, rows) design level."""
        x, z = np.concatenate(self.ears()).T
        dz = z - height_m[:, np.newaxis]
        off = np.degrees(np.arctan2(dz, x))[:, np.newaxis] - tilt_deg[:, np.newaxis]
        off = -off if flipped else off
        half = np.where(off >= 0.0, self.above_deg, self.below_deg)
        lobe = np.maximum(-24.0, -DOWN_DB * (off / half) ** 2)
        return np.asarray(path_db(np.hypot(x, dz))[:, np.newaxis] + lobe)

    def could_db(self, height_m: np.ndarray) -> np.ndarray:
        """(heights,) the farthest last row, were the axis on it."""
        last = np.array([ears[-1] for ears in self.ears()])
        away = np.hypot(last[:, 0], last[:, 1] - height_m[:, np.newaxis])
        return path_db(away.max(axis=1))

    def on_audience(self, height_m: np.ndarray, tilt_deg: np.ndarray) -> np.ndarray:
        """(heights, tilts) whether the axis meets an audience plane."""
        hit = np.zeros((len(height_m), len(tilt_deg)), dtype=bool)
        for ears in self.ears():
            seen = np.degrees(np.arctan2(ears[:, 1] - height_m[:, np.newaxis], ears[:, 0]))
            low, high = seen.min(axis=1)[:, np.newaxis], seen.max(axis=1)[:, np.newaxis]
            hit |= (tilt_deg >= low - 1e-9) & (tilt_deg <= high + 1e-9)
        return hit


def least_spread_db(house: House, *, softest_db: float = -6.0) -> float:
    """The least spread of heights and tilts in the ranges, to about 0.01 dB."""
    heights = np.linspace(house.low_m, house.high_m, 25 if house.high_m > house.low_m else 1)
    tilts = np.arange(-90.0, 90.0, 0.5)
    best, half = np.inf, 0.5
    for _ in range(8):
        # Ends of the audience are tried as they are: the best often holds to one.
        ends = [
            np.degrees(np.arctan2(ear[1] - heights, ear[0]))
            for ears in house.ears()
            for ear in (ears[0], ears[-1])
        ]
        tried = np.unique(np.concatenate([tilts, *ends]))
        level = house.level_db(heights, tried)
        good = level.min(axis=2) - house.could_db(heights)[:, np.newaxis] >= softest_db
        good &= house.on_audience(heights, tried)
        spread = np.where(good, np.ptp(level, axis=2), np.inf)
        height, tilt = np.unravel_index(int(np.argmin(spread)), spread.shape)
        best = min(best, float(spread[height, tilt]))
        step = (house.high_m - house.low_m) / 12.0 * half
        heights = np.unique(
            np.clip(heights[height] + np.linspace(-step, step, 25), house.low_m, house.high_m)
        )
        tilts = tried[tilt] + np.linspace(-2.0 * half, 2.0 * half, 81)
        half *= 0.5
    return best

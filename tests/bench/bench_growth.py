"""How cost grows with bands, loudspeakers and candidates: `python tests/bench/bench_growth.py`.

Bands: the typical scene of bench_solver.py, tilt, height, x and orientation free, 60 rows, proven
to 0.05 dB.  Loudspeakers: as many tiers of 40 rows, each served by its own, tilt and height free,
each heard at every row.  Candidates: the sweep of bench_what_if.py, all cores.  Solving is
processor time, sweeping is time on the clock; growth with rows: bench_solver.py.
"""

import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
from bench_solver import fresh, least_ms, typical
from bench_what_if import PLACEMENT, scenario

import aiming
from aiming.aim.problem import Problem
from aiming.aim.search import search
from aiming.base.air import Air, air_loss
from aiming.base.bands import THIRDS_HZ
from aiming.speaker.lobes import nominal_pattern
from aiming.sweep import what_if

TIER = """
[[seating]]
name = "tier {n}"
line = [[{near}, {foot}], [{far}, {top}]]
rows = 40
[[speaker]]
name = "box {n}"
serves = ["tier {n}"]
pattern = {{ coverage = 40, control_from_hz = 800 }}
placement = {{ x = {x}, height = [{low}, {high}] }}
"""


def grown(name: str, unit: str, sizes: Iterable[int], cost_ms: Callable[[int], float]) -> None:
    """A line a size: cost, and its growth beside that of the size."""
    first: tuple[int, float] | None = None
    for size in sizes:
        ms = cost_ms(size)
        first = first or (size, ms)
        times, as_large = ms / first[1], size / first[0]
        print(
            f"{name}: {size:9,} {unit}: {ms:8.1f} ms, {times:6.1f} times for {as_large:.0f} times"
        )


def with_bands(count: int, objective: str) -> Problem:
    """The typical scene in the highest thirds up to 20 kHz, evenly picked."""
    places = np.linspace(10, 33, count).round().astype(int) if count > 1 else np.array([20])
    bands = tuple(THIRDS_HZ[k] for k in places)
    pattern = nominal_pattern(above_deg=20.0, below_deg=40.0, bands_hz=bands, control_from_hz=900.0)
    air = air_loss(bands, Air(), width="third")
    whole = replace(typical(), pattern=pattern, air_loss=air)
    return replace(whole, objective=objective)


def solved_ms(count: int, objective: str) -> float:
    problem = with_bands(count, objective)
    return least_ms(lambda: search(fresh(problem), gap_db=0.05), 5)


def house_ms(count: int) -> float:
    """Tiers behind and above each other, a box over the front of each."""
    tiers = "".join(
        TIER.format(
            n=n, near=4 + 12 * n, far=14 + 12 * n, foot=1.5 * n, top=1.5 * n + 1.2,
            x=12.0 * n, low=1.5 * n + 4.5, high=1.5 * n + 7.0,
        )
        for n in range(count)
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "tiers.toml"
        path.write_text(tiers, encoding="utf-8")
        house = aiming.load(path)
    return least_ms(partial(aiming.solve, house), 3)


def swept_ms(candidates: int) -> float:
    """Tilt in steps of 0.05°, as many heights as it takes."""
    heights = candidates // 1601
    over = {
        PLACEMENT + "height": [float(h) for h in np.linspace(4.5, 8.0, heights)],
        PLACEMENT + "tilt": (-60.0, 20.0, 0.05),
    }
    site, times = scenario(), []
    for _ in range(3):
        start = time.perf_counter()
        what_if(site, over, figures=("worst_band_spread_db",))
        times.append(time.perf_counter() - start)
    return 1e3 * min(times)


if __name__ == "__main__":
    for objective in ("spread", "worst band"):
        cost = partial(solved_ms, objective=objective)
        grown(objective, "bands", (1, 4, 8, 24), cost)
    grown("solve", "loudspeakers", (1, 2, 4, 8), house_ms)
    grown("sweep", "candidates", (16_010, 160_100, 1_601_000, 16_010_000), swept_ms)

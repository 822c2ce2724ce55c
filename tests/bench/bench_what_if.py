"""How fast a sweep goes through tilt × height: 60 rows, 24 bands, worst-band spread.

    python tests/bench/bench_what_if.py

Prints candidates per second and three ratios, all from one run: against a vectorised numpy script
as a user would write it (one core), against a bare single-precision add-max-min pass over as many
numbers (one core), and one core against all.
"""

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

import aiming.scenario
from aiming.aim.problem import Problem
from aiming.analysis.problems import problem_of
from aiming.base.arrays import FloatArray
from aiming.sweep import what_if
from aiming.sweep.candidates import run_chunk
from aiming.sweep.run import work_of
from aiming.sweep.workers import core_count

PLACEMENT = "speaker.main.placement."
SCENARIO = """
schema = 1
title = "Sixty rows"
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [40.0, 4.0]]
rows = 60
[[speaker]]
name = "main"
[speaker.pattern]
coverage = 60
control_from_hz = 900
[speaker.placement]
height = [4.5, 8.0]
tilt = [-60, 20]
[aim]
bands = [100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150,
         4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000]
"""


def scenario() -> aiming.scenario.Scenario:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_text(SCENARIO)
        return aiming.scenario.load(path)


def plain_numpy(problem: Problem, tilt_deg: FloatArray, height_m: FloatArray) -> FloatArray:
    """(heights, tilts): one height at a time, the table look-up shared by all bands."""
    angle, table = problem.pattern.angle_deg, problem.pattern.level_db
    out = np.empty((len(height_m), len(tilt_deg)))
    for k, height in enumerate(height_m):
        dx, dz = problem.rows.x_m, problem.rows.z_m - height
        r = np.hypot(dx, dz)
        off_axis = np.degrees(np.arctan2(dz, dx)) - tilt_deg[:, None]
        after = np.clip(np.searchsorted(angle, off_axis), 1, len(angle) - 1)
        share = (off_axis - angle[after - 1]) / (angle[after] - angle[after - 1])
        level = table[:, after - 1] * (1 - share) + table[:, after] * share
        level -= (20 * np.log10(r) + problem.air_loss.at_db(r))[:, None, :]
        out[k] = (level.max(axis=2) - level.min(axis=2)).max(axis=0)
    return out


def bare_pass(numbers: int, *, width: int = 24 * 1024) -> None:
    """Add, largest, smallest over contiguous single-precision numbers that stay in the cache."""
    source, one, low, high = (np.zeros(width, dtype=np.float32) for _ in range(4))
    for _ in range(numbers // width):
        np.add(source, np.float32(1.0), out=one)
        np.maximum(high, one, out=high)
        np.minimum(low, one, out=low)


def seconds(work: Callable[[], object], times: int = 3) -> float:
    best = np.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    site = scenario()
    problem = problem_of(site, site.speakers[0])
    numbers = len(problem.rows) * len(problem.pattern.band_hz)

    tilt = np.linspace(-60.0, 20.0, 1601)
    plain = len(tilt) * 4 / seconds(lambda: plain_numpy(problem, tilt, np.linspace(4.5, 8.0, 4)))

    one = work_of(
        site,
        {PLACEMENT + "height": (4.5, 8.0, 0.0125), PLACEMENT + "tilt": (-60.0, 20.0, 0.05)},
        ("worst_band_spread_db",),
    )
    run_chunk(one, 0)
    kernel = one.grid.rows(0) / seconds(lambda: run_chunk(one, 0))
    bare = 200_000 / seconds(lambda: bare_pass(200_000 * numbers))

    over = {PLACEMENT + "height": (4.5, 8.0, 0.0005), PLACEMENT + "tilt": (-60.0, 20.0, 0.05)}
    count = 7001 * 1601
    every = count / seconds(lambda: what_if(site, over, figures=("worst_band_spread_db",)), times=1)

    # The same numbers, before their speed is compared.
    heights = np.linspace(4.5, 8.0, 4)
    ours = what_if(
        site,
        {PLACEMENT + "height": list(heights), PLACEMENT + "tilt": (-60.0, 20.0, 0.05)},
        figures=("worst_band_spread_db",),
    ).grid("worst_band_spread_db")
    off = float(np.abs(ours - plain_numpy(problem, tilt, heights)).max())

    print(f"{len(problem.rows)} rows x {len(problem.pattern.band_hz)} bands, worst-band spread")
    print(f"plain numpy, one core        {plain:12,.0f} candidates/s")
    print(f"kernel, one core             {kernel:12,.0f} candidates/s")
    print(
        f"bare add-max-min, one core   {bare:12,.0f} candidates/s ({bare * numbers / 1e9:.2f} G/s)"
    )
    print(f"sweep, {core_count()} cores of {os.cpu_count()}        {every:12,.0f} candidates/s")
    print(f"sweep / plain numpy          {every / plain:12.1f}  (goal 12)")
    print(f"bare pass / kernel           {bare / kernel:12.2f}  (goal below 2)")
    print(f"sweep / kernel               {every / kernel:12.2f}")
    print(f"largest difference           {off:12.2e} dB (bound 2e-3)")


if __name__ == "__main__":
    main()

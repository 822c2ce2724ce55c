"""Coverage of the 90 % intervals over 1,000 simulated sites, and how long a comparison takes.

    python tests/bench/bench_onsite.py [sites]

Sites: four plans, each measured at its own check positions with site and band errors of the stated
model, unknown gains, and true departures of tilt (±5°) drawn evenly.  A second set is quiet and
has many positions, so that the pattern scale is carried too.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from onsite_scenes import levels, measured, problem, site

from aiming.site.fit import Noise
from aiming.site.judge import estimate
from aiming.site.prediction import Departure
from aiming.speaker.speaker import Placement


def ordinary(sites: int) -> None:
    """The stated noise, three to six positions."""
    scenes = [
        site(problem(), Placement(0.0, 6.0, -15.0), count=5),
        site(problem(), Placement(0.0, 6.0, -15.0), count=3),
        site(problem(half_deg=20.0), Placement(0.0, 8.0, -22.0), count=4),
        site(problem(half_deg=45.0), Placement(0.0, 5.0, -20.0), count=6),
    ]
    rng = np.random.default_rng(1000)
    inside = told = alarms = 0
    half = []
    start = time.perf_counter()
    for number in range(sites):
        scene = scenes[number % len(scenes)]
        true = rng.uniform(-5.0, 5.0)
        level = measured(scene, Departure(tilt_deg=true), rng)
        found = estimate(scene, levels(level), start=Departure(), noise=Noise())
        alarms += found.explained is False
        if "tilt_deg" in found.fit.free:
            _, low, high = found.fit.interval("tilt_deg")
            told += 1
            inside += low <= true <= high
            half.append(0.5 * (high - low))
    spent = 1000.0 * (time.perf_counter() - start) / sites
    low, middle, high = np.percentile(half, [5, 50, 95])
    print(f"{sites} sites, 0.7 dB site and 1 dB band: tilt told at {told}")
    print(f"  coverage of the 90 % interval {100.0 * inside / told:.1f} %")
    print(f"  half of the interval {middle:.1f}° (5 % to 95 %: {low:.1f}° to {high:.1f}°)")
    print(f"  called unexplained though nothing was wrong {100.0 * alarms / sites:.1f} %")
    print(f"  {spent:.1f} ms for each estimate")


def quiet(sites: int) -> None:
    """A tenth of a dB at 17 positions, the height as planned: the width of the pattern is told."""
    scene = site(problem(half_deg=20.0), Placement(0.0, 6.0, -15.0), rows=list(range(17)))
    rng = np.random.default_rng(1001)
    inside = dict.fromkeys(("tilt_deg", "pattern_scale"), 0)
    told = dict.fromkeys(inside, 0)
    for _ in range(sites):
        true = Departure(
            tilt_deg=rng.uniform(-3.0, 3.0),
            pattern_scale=rng.uniform(0.9, 1.1),
        )
        level = measured(scene, true, rng, site_db=0.1, band_db=0.1)
        found = estimate(scene, levels(level), start=Departure(), noise=Noise(0.1, 0.1))
        for name in found.fit.free:
            _, low, high = found.fit.interval(name)
            told[name] += 1
            inside[name] += low <= getattr(true, name) <= high
    print(f"{sites} quiet sites, 0.1 dB, 17 positions")
    for name, count in told.items():
        share = f"{100.0 * inside[name] / count:.1f} %" if count else "-"
        print(f"  {name}: told at {count}, coverage {share}")


if __name__ == "__main__":
    asked = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    ordinary(asked)
    quiet(max(asked // 4, 1))

"""What the proof costs, in processor time: `python tests/bench/bench_solver.py`.

Tilt, height, x and orientation free, 60 rows, 4 bands, in process.  Goals: a typical scene at most
20 ms at 0.05 dB and 30 ms at 0.01 dB, at least 20 times faster than scipy's differential evolution
on the same objective and no worse; the whole of `aiming.solve` for "worst band", with every figure
of the answer, at most 25 ms and 20 times faster too; of the 150 scenes none above 250 ms; cost at
most linear in rows; memory of a whole solve at most numpy's own plus 100 MB.  Whole-process times:
bench_start.py.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.optimize import differential_evolution

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from random_scenes import BANDS_HZ, random_floor, rough_pattern

import aiming
from aiming.aim.problem import Problem
from aiming.aim.search import search
from aiming.base.air import Air, air_loss
from aiming.base.arrays import frozen
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.lobes import Lobe, nominal_pattern
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang, Placement

SCENE = Path(__file__).parents[2] / "scenarios" / "quarry.toml"
HOUSE = """
[[seating]]
name = "stalls"
line = [[4.0, 0.0], [18.0, 1.4]]
rows = 60
[aim]
objective = "worst band"
[[speaker]]
name = "main"
pattern = { coverage = { above = 20, below = 40 } }
placement = { x = [-2.0, 0.0], height = [3.0, 9.0], orientation = "either" }
"""
"""The typical scene as a file."""
SCENES = 150
NASTY = 50
MOST_BOXES = 50_000
ROWS = 60


def problem_of(seatings: tuple[Seating, ...], pattern: Pattern, hang: Hang) -> Problem:
    air = air_loss(BANDS_HZ, Air(), width="octave")
    planes = plane_segments(seatings, tuple(range(len(seatings))))
    return Problem(pattern, rows_of(seatings), planes, air, hang)


def typical(rows: int = ROWS, *, above_deg: float = 20.0, below_deg: float = 40.0) -> Problem:
    """A raked floor of 14 m, an asymmetric box 3 to 9 m up and to 2 m behind the datum."""
    floor = Seating("stalls", np.array([[4.0, 0.0], [18.0, 1.4]]), row_count=rows)
    pattern = nominal_pattern(above_deg=above_deg, below_deg=below_deg, bands_hz=BANDS_HZ)
    hang = Hang(x_m=(-2.0, 0.0), vertical_m=(3.0, 9.0), orientations=("upright", "flipped"))
    return problem_of((floor,), pattern, hang)


def measured(rng: np.random.Generator, above_deg: float, below_deg: float) -> Pattern:
    """A table as from a turntable: 5° steps, 1 dB of ripple, a notch or two, rounded to 0.1 dB."""
    angle = np.arange(-180.0, 181.0, 5.0)
    half = np.where(angle >= 0.0, above_deg, below_deg)
    level = np.maximum(-6.02 * np.abs(angle / half) ** 1.8, -26.0) + np.zeros((len(BANDS_HZ), 1))
    level += rng.normal(0.0, 1.0, level.shape) * np.minimum(1.0, np.abs(angle) / 20.0)
    notch = rng.integers(5, len(angle) - 5, 2)
    level[int(rng.integers(len(BANDS_HZ))) :, notch] -= rng.uniform(3.0, 10.0)
    return Pattern(frozen(angle), BANDS_HZ, frozen(np.round(level, 1)), "measured")


def published(seed: int, *, nasty: bool = False) -> Problem:
    """One of the 150: any floor, one or two blocks; lobes, and three in ten measured tables.

    Every tenth loudspeaker may hang anywhere above its audience.  Nasty ones all have tables whose
    steps fall 3 dB within 0.001°, with notches and holes.
    """
    rng = np.random.default_rng(seed)
    floors = [random_floor(rng, rng.uniform(2.0, 8.0), rng.uniform(-1.0, 1.0))]
    if rng.random() < 0.3:
        x, z = floors[0][-1]
        floors.append(random_floor(rng, x + rng.uniform(-3.0, 2.0), z + rng.uniform(0.5, 4.0)))
    seatings = tuple(
        Seating(f"block {k}", floor, row_count=ROWS // len(floors))
        for k, floor in enumerate(floors)
    )
    above, below = rng.uniform(10.0, 50.0, 2)
    if nasty:
        pattern = rough_pattern(rng, BANDS_HZ, above_deg=above, below_deg=below)
    elif rng.random() < 0.7:
        lobe: Lobe = ("quadratic", "piston", "flat")[rng.integers(3)]
        control = None if rng.random() < 0.5 else 2500.0
        pattern = nominal_pattern(
            above_deg=above, below_deg=below, bands_hz=BANDS_HZ, lobe=lobe, control_from_hz=control
        )
    else:
        pattern = measured(rng, above, below)
    rows = rows_of(seatings)
    x_high = float(rows.x_m.max()) - 4.0 if rng.random() < 0.1 else 0.0
    clear = float(rows.z_m.max() if x_high else rows.z_m[0]) + rng.uniform(1.0, 3.0)
    hang = Hang(
        x_m=(-2.0, x_high),
        vertical_m=(clear, clear + rng.uniform(2.0, 6.0)),
        orientations=("upright", "flipped"),
    )
    return problem_of(seatings, pattern, hang)


def fresh(problem: Problem) -> Problem:
    """The same question with nothing kept from before: a pattern's windows are built once."""
    pattern = problem.pattern
    return replace(
        problem,
        pattern=Pattern(pattern.angle_deg, pattern.band_hz, pattern.level_db, pattern.reference),
    )


def least_ms(job: Callable[[], object], runs: int = 7) -> float:
    """Least time of several runs: a busy machine only ever adds."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        job()
        times.append(time.process_time() - start)
    return 1e3 * min(times)


def evolved(problem: Problem, *, together: bool) -> tuple[float, float]:
    """(ms, objective) of differential evolution over aim point, height, x and orientation.

    together: a whole generation in one call of the core, else scipy's defaults, one by one.
    """
    start_m, end_m = problem.planes.start_m[0], problem.planes.end_m[0]

    def objective(v: np.ndarray) -> np.ndarray:
        share, height, x, turn = v
        aim_x, aim_z = (a + share * (b - a) for a, b in zip(start_m, end_m, strict=True))
        tilt = np.degrees(np.arctan2(aim_z - height, aim_x - x))
        return problem.objective_db(Placement(x, height, tilt, turn > 0.5))

    hang = problem.hang
    bounds = [(0.0, 1.0), hang.vertical_m, hang.x_m, (0.0, 1.0)]
    options = {"vectorized": True, "updating": "deferred"} if together else {}
    start = time.process_time()
    found = differential_evolution(objective, bounds, rng=1, polish=False, **options)
    return 1e3 * (time.process_time() - start), float(found.fun)


def one_scene() -> None:
    problem = typical()
    others = {
        "differential evolution, scipy's defaults": evolved(problem, together=False),
        "differential evolution, a generation at once": evolved(problem, together=True),
    }
    for name, (other_ms, other_db) in others.items():
        print(f"{name}: {other_ms:.0f} ms, {other_db:.4f} dB")
    for gap_db in (0.05, 0.01):
        found = search(problem, gap_db=gap_db)
        ms = least_ms(lambda gap_db=gap_db: search(fresh(problem), gap_db=gap_db))
        faster = " and ".join(f"{other_ms / ms:.0f}" for other_ms, _ in others.values())
        print(
            f"  proven to {gap_db:g} dB: {ms:.1f} ms, {found.objective_db:.4f} dB, "
            f"{found.boxes} boxes, {faster} times faster"
        )


def whole_answer() -> None:
    problem = replace(typical(), objective="worst band")
    others = [evolved(problem, together=together)[0] for together in (False, True)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "house.toml"
        path.write_text(HOUSE, encoding="utf-8")
        # Loaded anew for each run: a scenario keeps what it was asked before.
        scenarios = iter([aiming.load(path) for _ in range(7)])
    ms = least_ms(lambda: aiming.solve(next(scenarios), choices=False))
    faster = " and ".join(f"{other_ms / ms:.1f}" for other_ms in others)
    print(f"whole answer, worst band: {ms:.1f} ms, {faster} times as fast as evolution")


def many_scenes(*, nasty: bool = False) -> None:
    for gap_db in (0.05, 0.01):
        times, boxes, status = [], [], []
        for seed in range(SCENES if not nasty else NASTY):
            problem = published(seed, nasty=nasty)
            start = time.process_time()
            found = search(problem, gap_db=gap_db, most_boxes=MOST_BOXES)
            times.append(1e3 * (time.process_time() - start))
            boxes.append(found.boxes)
            status.append(found.status.name)
        worst = np.argsort(times)[::-1][:5]
        print(
            f"{len(times)} {'nasty ' if nasty else ''}scenes at {gap_db:g} dB: "
            f"median {np.median(times):.1f} ms, "
            f"nine in ten {np.quantile(times, 0.9):.0f} ms, "
            f"worst {', '.join(f'{times[k]:.0f} ms (seed {k}, {boxes[k]} boxes)' for k in worst)}; "
            + ", ".join(f"{name} {status.count(name)}" for name in sorted(set(status)))
        )


def by_rows() -> None:
    base = 0.0
    for rows in (60, 200, 600, 2000, 6000):
        problem = typical(rows)
        ms = least_ms(lambda problem=problem: search(fresh(problem), gap_db=0.05), 3)
        base = base or ms
        print(f"{rows:5} rows: {ms:7.1f} ms, {ms / base:6.1f} times for {rows / ROWS:.0f} times")


def by_objective() -> None:
    for objective in ("spread", "worst band", "deviation"):
        problem = replace(typical(), objective=objective)
        ms = least_ms(lambda problem=problem: search(fresh(problem), gap_db=0.05), 5)
        print(f"{objective:10} {ms:6.1f} ms")


def memory() -> None:
    """Peak of whole processes; each is asked for by a child of its own."""
    peaks = []
    for arguments in (["-c", "import numpy"], ["-m", "aiming", "solve", str(SCENE), "--json"]):
        code = (
            "import resource, subprocess, sys;"
            f"subprocess.run([sys.executable, *{arguments!r}], capture_output=True, check=True);"
            "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        )
        out = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        peaks.append(int(out.stdout) / 1024.0)
    print(
        f"peak memory: import numpy {peaks[0]:.0f} MB, aiming solve --json {peaks[1]:.0f} MB, "
        f"{peaks[1] - peaks[0]:.0f} MB more"
    )
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"this process, scipy and all scenes included: {own:.0f} MB")


if __name__ == "__main__":
    one_scene()
    whole_answer()
    by_objective()
    by_rows()
    many_scenes()
    many_scenes(nasty=True)
    memory()

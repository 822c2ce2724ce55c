"""Joint aiming against a long search over everything, in fresh random fields and halls.

The long search knows nothing of ours: differential evolution and then Powell's method, both from
scipy, over all placements and gains, on levels written out here from the parabola, spreading and
air, ceilings and the least level as penalties.  It gets about ten times the time of the answer.

    python tests/bench/bench_together.py [SCENES [FIRST SEED [SECONDS TO PROVE]]]
"""

import math
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.optimize import differential_evolution, minimize

import aiming
from aiming.base.air import air_loss
from aiming.base.bands import width_of

SCENES = 10
FIRST_SEED = 20_000
CEILING_DB = 6.0
GAIN_DB = (-30.0, 12.0)
PRICE = 20.0


def main() -> None:
    scenes = int(sys.argv[1]) if len(sys.argv) > 1 else SCENES
    first = int(sys.argv[2]) if len(sys.argv) > 2 else FIRST_SEED
    prove_s = float(sys.argv[3]) if len(sys.argv) > 3 else None
    print("seed  boxes of sound    ours   long search  ours − long    gap    pairs   our time")
    worst, gaps, times = -math.inf, [], []
    for seed in range(first, first + scenes):
        in_hall = seed % 4 == 3
        where = "hall" if in_hall else "field"
        count = 3 if in_hall else 2 + seed % 3
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "scene.toml"
            rng = np.random.default_rng(seed)
            path.write_text(hall(rng) if in_hall else field(rng, count), encoding="utf-8")
            scenario = aiming.load(path)
        started = time.process_time()
        answer = aiming.solve(scenario, choices=False, prove_s=prove_s)
        took_s = time.process_time() - started
        together = answer.together
        assert together is not None and together.proof is not None
        ours, proof = float(together.spread_db or math.inf), together.proof
        other = long_search(scenario, answer, seed)
        worst = max(worst, ours - other)
        gaps.append((count, proof.gap_db))
        times.append((count, took_s))
        print(
            f"{seed}  {count:6d} {where:<8}{ours:7.2f} {other:10.2f} {ours - other:12.2f}"
            f" {figure(proof.gap_db)} {figure(proof.pairs_gap_db)} {took_s:8.1f} s",
            flush=True,
        )
    print(f"worst, ours − long search, all: {worst:.2f} dB")
    for count in sorted({of for of, _ in gaps}):
        own = [gap for of, gap in gaps if of == count]
        seconds = float(np.median([s for of, s in times if of == count]))
        within = sum(gap is not None and gap <= 0.1 for gap in own)
        print(
            f"{count} loudspeakers: whole gap within 0.1 dB in {within} of {len(own)} scenes; "
            f"median time {seconds:.1f} s"
        )
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"memory at its highest, the long search with it: {peak_mb:.0f} MB")


def figure(value_db: float | None) -> str:
    return "      –" if value_db is None else f"{value_db:7.2f}"


def field(rng: np.random.Generator, count: int) -> str:
    """A flat or raked field, a main at its front and delays over it."""
    depth = rng.uniform(18.0, 26.0)
    slope = rng.choice([0.0, rng.uniform(0.0, 0.08)])
    lines = ["schema = 1\n[aim]\nleft_to_fill = 0\n"]
    for n in range(count):
        x0, x1 = 4.0 + n * depth, 3.0 + (n + 1) * depth
        lines.append(
            f'[[seating]]\nname = "block {n}"\nears = "standing"\nrows = 14\n'
            f"line = [[{x0:.2f}, {slope * x0:.2f}], [{x1:.2f}, {slope * x1:.2f}]]\n"
        )
    for n in range(count):
        x = -1.0 if n == 0 else 4.0 + n * depth - rng.uniform(2.0, 8.0)
        low = slope * max(x, 0.0) + rng.uniform(3.5, 5.0)
        fills = "" if n == 0 else f'fills = "box {n - 1}"\n'
        lines.append(
            f'[[speaker]]\nname = "box {n}"\nserves = ["block {n}"]\n{fills}'
            f"pattern = {{ coverage = {rng.choice([30, 40, 50, 60])} }}\n"
            f"placement = {{ x = {x:.2f}, height = [{low:.2f}, {low + 3.5:.2f}] }}\n"
        )
    return "".join(lines)


def hall(rng: np.random.Generator) -> str:
    """Raked stalls under a main, a front fill for the rows before them, a delay for a balcony.

    The balcony lies behind the stalls: over them its floor would hide them from the delay, and the
    long search knows no edges.
    """
    first, rake = rng.uniform(5.5, 7.0), rng.uniform(0.04, 0.1)
    last = first + rng.uniform(10.0, 16.0)
    back, up = last + rng.uniform(6.0, 10.0), rng.uniform(3.5, 5.0)
    seating = (
        ("stalls", 14, (first, 0.1), (last, 0.1 + rake * (last - first))),
        ("front", 4, (2.0, 0.0), (first - 0.9, 0.1)),
        ("balcony", 10, (last + 1.0, up), (back, up + 0.4 * (back - last - 1.0))),
    )
    delay_x = last - rng.uniform(3.0, 6.0)
    placed = (
        ("main", "stalls", 60, -0.5, (6.0, 9.0)),
        ("front fill", "front", 90, 0.1, (1.0, 1.6)),
        ("delay", "balcony", rng.choice([50, 70]), delay_x, (up + 3.5, up + 6.0)),
    )
    lines = ["schema = 1\n[aim]\nleft_to_fill = 0\n"]
    for name, rows, (x0, z0), (x1, z1) in seating:
        lines.append(
            f'[[seating]]\nname = "{name}"\nrows = {rows}\n'
            f"line = [[{x0:.2f}, {z0:.2f}], [{x1:.2f}, {z1:.2f}]]\n"
        )
    for name, serves, coverage, x, (low, high) in placed:
        fills = "" if name == "main" else 'fills = "main"\n'
        lines.append(
            f'[[speaker]]\nname = "{name}"\nserves = ["{serves}"]\n{fills}'
            f"pattern = {{ coverage = {coverage} }}\n"
            f"placement = {{ x = {x:.2f}, height = [{low:.2f}, {high:.2f}] }}\n"
        )
    return "".join(lines)


def long_search(scenario: aiming.Scenario, answer: aiming.Answer, seed: int) -> float:
    """The least spread that keeps ceilings, the least level and every axis on its block, dB."""
    rows, speakers = scenario.rows, scenario.speakers
    x, z = np.asarray(rows.x_m), np.asarray(rows.z_m)
    own = [np.asarray(rows.seating) == n for n in range(len(speakers))]
    bands = scenario.aim.bands_hz
    air = air_loss(bands, scenario.air, width=width_of(bands)).mean()
    place = {one.name: n for n, one in enumerate(speakers)}
    fills = [(place[name], place[of.main]) for name, of in scenario.company.fills.items()]
    half_deg = [one.nominal.above_deg for one in speakers]
    ends = [(x[of].min(), x[of].max()) for of in own]

    def levels(unknown: np.ndarray) -> np.ndarray:
        found = []
        for n, one in enumerate(speakers):
            height, aim = unknown[3 * n], unknown[3 * n + 1]
            gain = 0.0 if n == 0 else unknown[3 * n + 2]
            x0 = one.hang.x_m[0]
            at_z = float(np.interp(aim, x[own[n]], z[own[n]]))
            tilt = math.degrees(math.atan2(at_z - height, aim - x0))
            away = np.hypot(x - x0, z - height)
            off = np.degrees(np.arctan2(z - height, x - x0)) - tilt
            off = (off + 180.0) % 360.0 - 180.0
            lobe = np.maximum(-24.0, -20.0 * math.log10(2.0) * (off / half_deg[n]) ** 2)
            found.append(lobe + gain - 20.0 * np.log10(away) - air.at_db(away)[0])
        return np.array(found)

    def penalised(unknown: np.ndarray) -> float:
        alone = levels(unknown)
        whole = 10.0 * np.log10((10.0 ** (alone / 10.0)).sum(axis=0))
        over = max(float((alone[fill] - alone[main]).max()) for fill, main in fills)
        soft = softest - float(whole.min())
        return float(np.ptp(whole)) + PRICE * (max(over - CEILING_DB, 0.0) + max(soft, 0.0))

    taken = []
    ranges = []
    for n, (one, of) in enumerate(zip(answer.speakers, speakers, strict=True)):
        ranges += [of.hang.vertical_m, ends[n], GAIN_DB if n else (0.0, 1e-9)]
        taken += [one.height_m, float(one.aim_point[0]), one.gain_db if n else 0.0]
    softest = least_level_db(scenario)
    low, high = np.array(ranges).T
    found = differential_evolution(
        penalised, ranges, seed=seed, maxiter=400, popsize=12, tol=1e-8, polish=False
    )
    best = float(found.fun)
    for start in (found.x, np.clip(taken, low, high)):
        led = minimize(penalised, start, method="Powell", bounds=ranges)
        best = min(best, float(led.fun))
    return best


def least_level_db(scenario: aiming.Scenario) -> float:
    """The softest row where each is aimed alone: what the sum may not fall below."""
    from aiming.analysis.fill_alignment import matched
    from aiming.analysis.placed_speaker import rows_of_speaker
    from aiming.analysis.solve import everyone_placed, solve_alone

    found = everyone_placed(scenario, solve_alone(scenario))
    alone = matched(scenario, {at.speaker.name: rows_of_speaker(scenario, at) for at, _ in found})
    power = sum(10.0 ** (one.levels_db / 10.0) for one in alone.by_speaker.values())
    return float((10.0 * np.log10(power)).mean(axis=0).min())


if __name__ == "__main__":
    main()

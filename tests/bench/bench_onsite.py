"""What is said of simulated sites: intervals, moves, blunders, and how long it takes.

    python tests/bench/bench_onsite.py [sites a condition] [seed] [first] [last] [kept]

The truth is drawn from another model than the fit has: see site_truth.py.  first, last: of the
thirty conditions and, 31 to 33, of lost signs, boxes hung as planned and trials on the ground (of
these five times as many); kept: a file that gathers what was found, so that a run can go in pieces,
each printing the table of all so far.
"""

import json
import sys
import time
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from plain_air import tones
from site_truth import (
    ALPHA,
    BANDS,
    PLANS,
    Condition,
    Lobe,
    Plan,
    Site,
    conditions,
    simulate,
)

import aiming
from aiming.aim.check_positions import choose_checks
from aiming.aim.problem import Problem
from aiming.base.air import Air, absorption_db_per_m
from aiming.base.bands import exact_midband_hz
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.site.decide import Decision, decide
from aiming.site.draws import Prior
from aiming.site.estimate import BY_LEVELS, Estimate, estimate, quantile_interval
from aiming.site.evidence import Evidence
from aiming.site.ground_found import TURNED_DEG, WIDTH
from aiming.site.ground_found import coverage as coverage_of
from aiming.site.ground_trial import GroundTrial, ground_trial
from aiming.site.prediction import Points, Prediction, image_m
from aiming.site.reading_equations import Equation
from aiming.site.readings import Reading
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Hang, Placement

READ_DEG = 0.25


class Known:
    """One plan as the program has it."""

    def __init__(self, plan: Plan, count: int) -> None:
        seatings = (Seating("rows", np.array(plan.floor), row_count=plan.rows),)
        bands = tuple(BANDS)
        problem = Problem(
            pattern=nominal_pattern(above_deg=plan.half, below_deg=plan.half, bands_hz=bands),
            rows=rows_of(seatings),
            planes=plane_segments(seatings, (0,)),
            air_loss=tones(absorption_db_per_m([exact_midband_hz(b) for b in bands], Air())),
            hang=Hang(tilt_deg=(-60.0, 20.0)),
        )
        self.plan = Placement(0.0, plan.z, plan.tilt)
        self.prediction = Prediction(problem, self.plan, speed_m_s=343.2, width_octaves=1.0)
        at = np.array([one.row for one in choose_checks(problem, self.plan, count=count)])
        x, z = problem.rows.x_m[at], problem.rows.z_m[at]
        self.at = at
        self.points = Points(x, z, image_m(seatings, x, z))


def inclinometer(known: Known, value: float) -> Equation:
    """Read on the axis."""
    reading = Reading("inclinometer", "axis", value, 0.3, "", (1, 1))
    return Equation(
        reading,
        "tilt",
        lambda tilt, height, x: tilt - value,
        READ_DEG,
        lambda tilt, height, x: tilt + value,
    )


def measured(known: Known, site: Site, read: float | None = None) -> tuple[Estimate, Decision]:
    found = estimate(
        known.prediction,
        known.points,
        Evidence(site.level),
        () if read is None else (inclinometer(known, read),),
    )
    return found, decide(found)


def run(condition: Condition, sites: int, rng: np.random.Generator) -> dict[str, float]:
    known = {name: Known(PLANS[name], condition.positions) for name in condition.plans}
    at = {name: one.at for name, one in known.items()}
    told: dict[str, list[float]] = {}

    def add(**values: float) -> None:
        for name, value in values.items():
            told.setdefault(name, []).append(float(value))

    for _ in range(sites):
        site = simulate(condition, rng, at)
        one = next(known[n] for n in condition.plans if PLANS[n] is site.plan)
        start = time.process_time()
        found, decision = measured(one, site)
        add(ms=1e3 * (time.process_time() - start))
        weight = found.levels_weight
        tilt = quantile_interval(found.draws.tilt_deg, weight, BY_LEVELS)
        rows = site.rows - site.rows.mean()
        _, below, above = found.row_intervals
        add(
            tilt=tilt.holds(site.tilt),
            half=tilt.half,
            rows=((below <= rows) & (rows <= above)).mean(),
            row_half=(0.5 * (above - below)).mean(),
            widest=(0.5 * (above - below)).max(),
            narrow=(0.5 * (above - below) <= 0.9).mean(),
            ess=1.0 / (weight**2).sum(),
        )
        size = abs(site.tilt)
        step = 0 if size < 2 else 2 if size < 5 else 5 if size < 8 else 8
        add(**{f"size{step}": tilt.holds(site.tilt)})
        told_of(add, "", site, one, decision)
        if site.blunder:
            best, _ = found.likeliest_blunder
            named = best.kind == condition.blunder and set(best.places) == set(site.blunder)
            add(named=named)
            if (
                condition.blunder == "swapped"
                and np.ptp(site.rows[site.at[list(site.blunder)]]) > 3
            ):
                add(far_named=named)
        else:
            add(alarm=not found.sound)
        read = one.plan.tilt_deg + site.tilt + float(rng.normal(0.0, READ_DEG))
        found, decision = measured(one, site, read)
        add(called=found.state(0) != "right")
        told_of(add, "i_", site, one, decision)
    return {name: float(np.mean(values)) for name, values in told.items()} | {
        "worse_n": sum(told.get("worse", [])),
        "i_worse_n": sum(told.get("i_worse", [])),
    }


def told_of(add, prefix: str, site: Site, known: Known, decision: Decision) -> None:
    add(**{f"{prefix}moved": decision.advised})
    if decision.advised:
        before = site.spread_at(site.tilt)
        after = site.spread_at(site.tilt + decision.move.turn_deg)
        add(**{f"{prefix}worse": after > before + 0.05, f"{prefix}gain": before - after})


def ground(sites: int, seed: int) -> str:
    """Coverage by the trial on the ground: another lobe, bands of their own, turned by eye."""
    rng = np.random.default_rng([seed, 99])
    inside, half, told = [], [], 0
    prior = None
    for number in range(sites):
        wide = float(np.exp(rng.normal(0.0, 0.2)))
        lobe = Lobe(30.0 * wide * np.ones(4), rng.normal(0.0, 0.3, 4), float(rng.normal(0.0, 0.7)),
                    float(rng.uniform(1.8, 2.3)), number % 4 == 0)  # fmt: skip
        turned = float(rng.normal(0.0, 2.5))
        d = 8.0
        angle = np.radians([0.0, 0.0, -30.0, 30.0])
        x = np.append([d, 2 * d], d * np.cos(angle[2:]))
        z = np.append([0.0, 0.0], d * np.sin(angle[2:]))
        x, z = np.append(x, 0.5 * (x[2] + 2 * d)), np.append(z, 0.5 * z[2])
        r, off = np.hypot(x, z), np.degrees(np.arctan2(z, x)) - turned
        level = lobe(off) - 20 * np.log10(r) - ALPHA[:, None] * r + rng.normal(0, 15, (4, 1))
        tails = np.sqrt(4.0 / 6.0)
        level = level + 0.4 * tails * rng.standard_t(6, 5) + 0.7 * tails * rng.standard_t(6, (4, 5))
        trial = TRIAL()
        prior = prior or Prior(4, aimed_deg=TURNED_DEG, laid_out=True, width=WIDTH)
        found = estimate(trial.prediction, Points(x, z, np.full((5, 2), np.nan)),
                         Evidence(level, site_db=0.4, band_db=0.7), prior=prior)  # fmt: skip
        coverage, _ = coverage_of(trial, found)
        fine = np.arange(-90.0, 90.0, 0.02)
        design = lobe(fine).mean(axis=0)
        under = design <= design[len(fine) // 2] - 6.0206
        middle = len(fine) // 2
        low = fine[:middle][under[:middle]].max()
        high = fine[middle:][under[middle:]].min()
        if coverage is not None:
            told += 1
            inside.append(coverage.low <= high - low <= coverage.high)
            half.append(50.0 * (coverage.high - coverage.low) / coverage.value)
    return (
        f"ground: {sites} trials, coverage told {100 * told / sites:.0f} %, "
        f"truth held {100 * np.mean(inside):.0f} %, half of the interval {np.mean(half):.1f} %, "
        f"at most {np.max(half):.1f} %"
    )


def planned(sites: int, seed: int) -> str:
    """Moves advised on boxes that hang as planned, with and without an inclinometer."""
    one = replace(conditions()[1], floor=(0.0, 0.9), width_sd=0.05)
    got = run(one, sites, np.random.default_rng([seed, 98]))
    return (
        f"planned: {sites} sites, moves advised {100 * got['moved']:.2f} % by levels, "
        f"{100 * got['i_moved']:.2f} % with an inclinometer too"
    )


def signs(sites: int, seed: int) -> str:
    """An inclinometer that has lost its sign, where the two differ by 20° or more."""
    rng = np.random.default_rng([seed, 97])
    known = {name: Known(PLANS[name], 6) for name in PLANS}
    at = {name: one.at for name, one in known.items()}
    named = moved = count = 0
    while count < sites:
        site = simulate(conditions()[0], rng, at)
        one = next(known[n] for n in PLANS if PLANS[n] is site.plan)
        read = -(one.plan.tilt_deg + site.tilt + float(rng.normal(0.0, READ_DEG)))
        if abs(2.0 * read) < 20.0:
            continue
        count += 1
        found, decision = measured(one, site, read)
        named += found.state(0) == "sign lost"
        moved += decision.advised
    return (
        f"signs: {sites} lost, named {100 * named / sites:.1f} %, moved {100 * moved / sites:.1f} %"
    )


@cache
def TRIAL() -> GroundTrial:
    """A 60° box at 8 m."""
    scenario = aiming.load(Path(__file__).resolve().parents[2] / "scenarios" / "quarry.toml")
    return ground_trial(scenario, scenario.speakers[0], distance_m=8.0)


def main() -> None:
    sites, seed, first, last = (
        int(given)
        for given in [*sys.argv[1:5], *("300", "20261128", "1", "33")[len(sys.argv) - 1 :]]
    )
    kept = Path(sys.argv[5]) if len(sys.argv) > 5 else None
    whole: dict[str, dict[str, float]] = {}
    lines: dict[str, str] = {}
    if kept is not None and kept.exists():
        whole, lines = json.loads(kept.read_text())
    for number, one in list(enumerate(conditions()))[first - 1 : last]:
        whole[one.name] = run(one, sites, np.random.default_rng([seed, number]))
    for number, part in enumerate((signs, planned, ground), start=31):
        if first <= number <= last:
            lines[part.__name__] = part(sites * (1 if part is signs else 5), seed)
    if kept is not None:
        kept.write_text(json.dumps([whole, lines]))
    if whole:
        table(whole, sites, seed)
    print("\n".join(lines.values()))


COLUMNS = (
    ("tilt in", "tilt", 100.0, ".0f"), ("half °", "half", 1.0, ".1f"),
    ("rows in", "rows", 100.0, ".0f"), ("half dB", "row_half", 1.0, ".2f"),
    ("worst", "widest", 1.0, ".2f"), ("moved", "moved", 100.0, ".1f"),
    ("worse", "worse", 100.0, ".0f"), ("called", "called", 100.0, ".1f"),
    ("moved", "i_moved", 100.0, ".0f"), ("worse", "i_worse", 100.0, ".1f"),
    ("gain", "i_gain", 1.0, ".2f"), ("named", "named", 100.0, ".0f"),
    ("alarm", "alarm", 100.0, ".0f"), ("ESS", "ess", 1.0, ".0f"),
)  # fmt: skip


def table(whole: dict[str, dict[str, float]], sites: int, seed: int) -> None:
    """A line a condition, and what all come to."""
    print(f"{sites} sites a condition, seed {seed}")
    print(f"{'':<30}{'levels alone':<42}with an inclinometer")
    print(f"{'condition, in %':<30}" + "".join(f"{head:>7}" for head, *_ in COLUMNS))
    for name, got in whole.items():
        cells = [
            format(times * got[key], form) if key in got else "-" for _, key, times, form in COLUMNS
        ]
        print(f"{name[:29]:<30}" + "".join(f"{cell:>7}" for cell in cells))
    every = list(whole.values())
    tilt = [w["tilt"] for w in every]
    good = sum(0.845 <= t <= 0.955 for t in tilt)
    print(f"tilt: all together {100 * np.mean(tilt):.0f} %, 85 to 95 % in {good} of {len(tilt)} "
          f"conditions, least {100 * min(tilt):.0f} %")  # fmt: skip
    for size in (0, 2, 5, 8):
        found = [w[f"size{size}"] for w in every if f"size{size}" in w]
        if found:
            print(f"  error of tilt from {size}°: {100 * np.mean(found):.0f} % hold the truth")
    rows = [w["rows"] for w in every]
    print(f"rows: all together {100 * np.mean(rows):.0f} %, 90 % or more in "
          f"{sum(r >= 0.895 for r in rows)} of {len(rows)}, least {100 * min(rows):.0f} %; "
          f"half of the interval {np.mean([w['row_half'] for w in every]):.2f} dB on average, "
          f"{100 * np.mean([w['narrow'] for w in every]):.0f} % of rows within 0.9 dB")  # fmt: skip
    groups = {
        "wrong patterns": [w for n, w in whole.items() if n in PATTERNS],
        "one blunder": [w for w in every if "named" in w],
        "all": every,
    }
    for name, of in groups.items():
        moves = sum(w["i_moved"] for w in of) * sites
        worse = sum(w["i_worse_n"] for w in of)
        print(f"moves with an inclinometer, {name}: {moves:.0f}, {_share(worse, moves)} worse")
    moves = sum(w["moved"] for w in every) * sites
    worse = sum(w["worse_n"] for w in every)
    print(f"moves by levels alone, all: {moves:.0f}, {_share(worse, moves)} worse")
    print(f"a good reading called a slip: {100 * np.mean([w['called'] for w in every]):.1f} %")
    far = [w["far_named"] for w in every if "far_named" in w]
    if far:
        print(f"swapped, levels 3 dB apart or more: {100 * np.mean(far):.0f} % named")
    print(f"{np.mean([w['ms'] for w in every]):.0f} ms an estimate with its decision, of processor")


def _share(part: float, whole: float) -> str:
    return f"{100.0 * part / max(whole, 1.0):.1f} %"


PATTERNS = [one.name for one in conditions()[2:12]]


if __name__ == "__main__":
    main()

"""The proof of whole scenarios held against dense sampling: nothing sampled beats best minus gap.

Scenarios are seeded text files (generated_scenes.py) that go through the reader: flat, raked
and stepped floors, a balcony with its front, several blocks, rows at one distance from the box;
lobes and tables with notches and steps; loudspeakers before, above, amid, behind and under the
audience; ranges of zero width of x, height or trim and tilt, each and all; rigging; shadows.
Placements are held to the limits, and where nothing hides a row evaluated, by a second formula.

DENSE_SCENES=2000 pytest tests/aim/test_proof_dense.py    runs more of them than the suite does
"""

import os
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from generated_scenes import FREE, SECTIONS, Scene, seeded
from random_scenes import near, sample_placements
from second_formula import Fast, Sample

from aiming.aim.problem import Problem
from aiming.aim.search import STEP_M, SearchResult, Status, lowest_within, search
from aiming.analysis.problems import searched_problem_of
from aiming.base.arrays import FloatArray
from aiming.speaker.speaker import Placement, Placements

SCENES = int(os.environ.get("DENSE_SCENES", "300"))
CHUNK = 100
CAP = 1500
GAP_DB = 0.05
SAMPLES = 1400
ROUNDING_DB = 1e-7
"""A step of 3 dB in 0.001° turns the last digit of an angle into this."""


class Heard(Fast):
    """The second formula; behind walls the tool's own levels, which the proof has to enclose."""

    def objective_db(self, sample: Sample) -> FloatArray:
        if self.problem.shadow is None:
            return super().objective_db(sample)
        return self.problem.objective_db(
            Placements.of(sample.x_m, self.height_m(sample), sample.tilt_deg, sample.flipped)
        )

    def design_level_db(self, sample: Sample) -> FloatArray:
        if self.problem.shadow is None:
            return super().design_level_db(sample)
        at = Placements.of(sample.x_m, self.height_m(sample), sample.tilt_deg, sample.flipped)
        return np.asarray(self.problem.levels_db(at).mean(axis=-2).T)

    def best(self, sample: Sample) -> tuple[float, Sample | None]:
        """Of those that keep every limit."""
        sample = sample.pick(self.allowed(sample))
        if not len(sample):
            return np.inf, None
        values = self.objective_db(sample)
        at = int(np.argmin(values))
        return float(values[at]), sample.pick(np.array([at]))


def best_sampled(
    problem: Problem, rng: np.random.Generator, found: SearchResult, count: int
) -> float:
    """The best of `count` placements in the ranges, and of what lies about it and the answer."""
    heard = Heard(problem)
    best, at = heard.best(sample_placements(problem, rng, count))
    starts = [] if at is None else [at]
    if found.placement is not None:
        starts.append(as_sample(problem, found.placement))
    for start in starts:
        here, size = start, 0.3
        for _ in range(4):
            value, about = heard.best(near(problem, here, rng, size, 60))
            if about is not None and value < best:
                best, here = value, about
            size *= 0.2
    return best


def as_sample(problem: Problem, placement: Placement) -> Sample:
    """A single placement in the scenario's own vertical measure."""
    tilt, flipped = placement.tilt_deg, placement.flipped
    v = placement.height_m - float(problem.drop_m(tilt, flipped))
    return Sample(*(np.array([of]) for of in (placement.x_m, v, tilt, flipped)))


def within_limits(problem: Problem, placement: Placement) -> bool:
    """To rounding: a hair to one side of the end of a range, or of a plane, all limits are kept."""
    at, hang = as_sample(problem, placement), problem.hang
    x, v = np.clip(at.x_m, *hang.x_m), np.clip(at.v_m, *hang.vertical_m)
    if abs(x[0] - at.x_m[0]) > 1e-9 or abs(v[0] - at.v_m[0]) > 1e-9:
        return False
    hair = np.array([-1e-5, -1e-9, 0.0, 1e-9, 1e-5])
    spans = problem.tilt_ranges(bool(at.flipped[0]))
    tilts = [np.clip(at.tilt_deg + hair, low, high) for low, high in spans]
    tilt = np.concatenate([of for of in tilts if np.abs(of - at.tilt_deg).max() < 2e-5] or [hair])
    many = len(tilt)
    return bool(
        Fast(problem)
        .allowed(Sample(x.repeat(many), v.repeat(many), tilt, at.flipped.repeat(many)))
        .any()
    )


def check(scene: Scene, seed: int, folder: Path) -> Status:
    """One scenario: its best, its lowest that is good enough, and that there is none."""
    scenario = scene.load(folder)
    problem = searched_problem_of(scenario, scenario.speakers[0])
    found = search(problem, gap_db=GAP_DB, most_boxes=CAP)
    rng = np.random.default_rng(seed)
    sampled = best_sampled(problem, rng, found, SAMPLES)
    if found.placement is None:
        assert found.status is Status.UNDECIDED or np.isinf(sampled)
        return found.status
    assert sampled >= found.objective_db - found.gap_db - ROUNDING_DB
    assert found.status is not Status.PROVEN or found.gap_db <= GAP_DB
    assert within_limits(problem, found.placement)
    value = Heard(problem).objective_db(as_sample(problem, found.placement))[0]
    assert value == pytest.approx(found.objective_db, abs=ROUNDING_DB)
    if seed % 3 == 0:
        check_lowest(problem, found, rng)
    return found.status


def check_lowest(problem: Problem, best: SearchResult, rng: np.random.Generator) -> None:
    """It is good enough, and nothing lower by more than a step is."""
    lowest = lowest_within(problem, best, within_db=0.5, gap_db=GAP_DB, most_boxes=CAP)
    assert lowest.placement is not None and best.placement is not None
    assert lowest.objective_db <= best.objective_db + 0.5 + 1e-9
    v = float(as_sample(problem, lowest.placement).v_m[0])
    assert v <= float(as_sample(problem, best.placement).v_m[0]) + 1e-9
    low = problem.hang.vertical_m[0]
    if lowest.status is Status.PROVEN and low < v - STEP_M:
        below = problem.with_hang(problem.hang.with_range("vertical_m", (low, v - STEP_M)))
        sampled, _ = Heard(below).best(sample_placements(below, rng, SAMPLES // 2))
        assert sampled >= best.objective_db + 0.5 - GAP_DB - ROUNDING_DB


@pytest.mark.parametrize("first", range(0, SCENES, CHUNK))
def test_nothing_sampled_beats_the_proof(first: int, tmp_path: Path) -> None:
    ended: Counter[Status] = Counter()
    for seed in range(first, min(first + CHUNK, SCENES)):
        try:
            ended[check(seeded(seed), seed, tmp_path)] += 1
        except AssertionError as wrong:
            raise AssertionError(f"scene {seed}:\n{seeded(seed).text}") from wrong
    print(dict(ended))
    # Of any hundred most have an answer, and most answers are proven to the gap that was asked for.
    none = ended[Status.INFEASIBLE] + ended[Status.UNDECIDED]
    assert none <= 0.6 * ended.total()
    assert ended[Status.PROVEN] >= ended[Status.CAPPED]


def test_the_scenes_are_of_every_kind() -> None:
    """What the page's first words promise is among the scenes that the suite runs."""
    met: Counter[str] = Counter()
    for seed in range(200):
        scene = seeded(seed)
        at, shape = scene.speaker["placement"], scene.speaker["pattern"]
        names = [block["name"] for block in scene.document["seating"]]
        met.update(names + [name for name in ("file", "lobe") if name in shape])
        met.update(of["name"] for of in scene.document.get("surface", []))
        met.update(name for name in ("trim", "height") if name in at)
        met["rigging"] += "rigging" in scene.speaker
        met["lopsided"] += isinstance(shape.get("coverage"), dict)
        held = [name for name, key in zip(FREE, ("x", "trim", "tilt"), strict=True)
                if not isinstance(at.get(key, at.get("height")), list)]  # fmt: skip
        met.update(f"{name} given" for name in held)
        met["all given"] += len(held) == len(FREE)
        points = np.array([p for block in scene.document["seating"] for p in block["line"]])
        met["behind"] += float(np.min(at["x"])) > points[:, 0].max()
        met["under"] += float(np.max(at.get("height", at.get("trim")))) < points[0, 1] + 1.2
    wanted = ("arc", "balcony", "tier", "terrace", "rail", "balcony front", "file", "lobe", "trim",
              "height", "rigging", "lopsided", "behind", "under", "all given",
              *(f"{name} given" for name in FREE))  # fmt: skip
    assert {name: met[name] for name in wanted if met[name] < 5} == {}
    assert len(SECTIONS) == 6

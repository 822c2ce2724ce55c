"""Seeded random questions for the search: any seating, any pattern, any place, any limit."""

from dataclasses import replace

import numpy as np
from second_formula import Fast, Sample

from aiming.aim.problem import Objective, Problem
from aiming.base.air import Air, air_loss
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Seating, plane_segments, rows_of
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.lobes import Lobe, nominal_pattern
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang, Orientation

BANDS_HZ = (1000.0, 2000.0, 4000.0, 8000.0)
OUTLINE_M = ((-0.38, -0.20), (0.02, -0.20), (0.02, 0.44), (-0.38, 0.44))


def random_floor(rng: np.random.Generator, start_x: float, start_z: float) -> FloatArray:
    """Flat, raked, broken, or with a riser (two points with one x)."""
    kind = rng.integers(5)
    depth = rng.uniform(4.0, 25.0)
    end = [start_x + depth, start_z + (0.0 if kind == 0 else rng.uniform(0.0, 0.45) * depth)]
    if kind <= 1:
        return np.array([[start_x, start_z], end])
    middle = [start_x + rng.uniform(0.3, 0.7) * depth, start_z + rng.uniform(0.0, 0.2) * depth]
    if kind in (2, 3):
        return np.array([[start_x, start_z], middle, end])
    rise = [middle[0], middle[1] + rng.uniform(0.1, 1.2)]
    end[1] = rise[1] + rng.uniform(0.0, 0.3) * (end[0] - rise[0])
    return np.array([[start_x, start_z], middle, rise, end])


def random_seatings(rng: np.random.Generator, rows: int) -> tuple[Seating, ...]:
    """One to three blocks, one behind the other, at times one above the other."""
    blocks = int(rng.choice([1, 1, 1, 2, 3]))
    seatings = []
    x, z = rng.uniform(2.0, 8.0), rng.uniform(-1.0, 1.0)
    for number in range(blocks):
        floor = random_floor(rng, x, z)
        seatings.append(
            Seating(
                name=f"block {number}",
                floor_m=floor,
                ear_height_m=float(rng.choice([1.2, 1.6])),
                row_count=max(2, rows // blocks + int(rng.integers(-1, 2))),
                weight=float(rng.uniform(0.5, 2.0)),
            )
        )
        x = floor[-1, 0] + rng.uniform(-4.0, 3.0)
        z = floor[-1, 1] + rng.uniform(0.0, 4.0)
    return tuple(seatings)


def random_pattern(rng: np.random.Generator, bands_hz: tuple[float, ...]) -> Pattern:
    """A nominal lobe, or a table with notches, steps and, at times, unknown directions."""
    above, below = rng.uniform(8.0, 60.0, size=2)
    if rng.random() < 0.5:
        below = above
    if rng.random() < 0.5:
        lobe: Lobe = ("quadratic", "piston", "flat")[rng.integers(3)]
        control = None if rng.random() < 0.5 else float(rng.uniform(500.0, 6000.0))
        return nominal_pattern(
            above_deg=above, below_deg=below, bands_hz=bands_hz, lobe=lobe, control_from_hz=control
        )
    return rough_pattern(rng, bands_hz, above_deg=above, below_deg=below)


def rough_pattern(
    rng: np.random.Generator, bands_hz: tuple[float, ...], *, above_deg: float, below_deg: float
) -> Pattern:
    """A lobe with ripple, notches a degree wide, steps, a jump at ±180° and perhaps holes."""
    angle = np.sort(rng.uniform(-180.0, 180.0, int(rng.integers(30, 160))))
    angle = np.concatenate([[-180.0], angle, [0.0, 180.0]])
    steps = rng.uniform(-90.0, 90.0, int(rng.integers(0, 6)))
    notches = rng.uniform(-60.0, 60.0, int(rng.integers(0, 6)))
    angle = np.unique(
        np.concatenate([angle, steps, steps + 1e-3, notches - 0.5, notches, notches + 0.5])
    )
    levels = []
    for _ in bands_hz:
        half = np.where(angle >= 0.0, above_deg, below_deg) * rng.uniform(0.8, 1.25)
        level = np.maximum(-6.02 * (angle / half) ** 2, rng.uniform(-35.0, -12.0))
        level += rng.normal(0.0, rng.choice([0.0, 0.3, 1.5]), len(angle))
        for step in steps:
            level = level + np.where(angle > step, rng.uniform(-3.0, 3.0), 0.0)
        level[np.isin(angle, notches)] -= rng.uniform(3.0, 15.0)
        levels.append(level)
    table = np.stack(levels)
    if rng.random() < 0.35:  # partial: nothing known behind the box
        known = np.abs(angle) <= rng.uniform(60.0, 175.0)
        angle, table = angle[known], table[:, known]
    if rng.random() < 0.35:  # holes, at times in one band only
        hole = rng.integers(0, len(angle), int(rng.integers(1, 4)))
        table[int(rng.integers(len(bands_hz))) :, hole] = np.nan
    return Pattern(frozen(angle), bands_hz, frozen(table), "random")


def a_range(
    rng: np.random.Generator, low: float, high: float, *, fixed: float
) -> tuple[float, float]:
    """A range within [low, high]; with probability `fixed` of zero width."""
    a, b = np.sort(rng.uniform(low, high, size=2))
    return (float(a), float(a)) if rng.random() < fixed else (float(a), float(b))


def random_problem(seed: int, *, rows: int = 9) -> Problem:
    """One question; the same seed gives the same question."""
    rng = np.random.default_rng(seed)
    seatings = random_seatings(rng, rows)
    bands_hz = BANDS_HZ[: int(rng.integers(1, 5))]
    objective: Objective = ("spread", "spread", "worst band", "deviation")[rng.integers(4)]
    all_rows = rows_of(seatings)
    left, right = float(all_rows.x_m.min()), float(all_rows.x_m.max())
    ear_low, ear_high = float(all_rows.z_m.min()), float(all_rows.z_m.max())
    where = rng.integers(4)  # before, above and amid, amid, behind
    x = a_range(rng, *((-6.0, left), (left - 2.0, left + 6.0), (left, right),
                       (right - 2.0, right + 5.0))[where], fixed=0.4)  # fmt: skip
    v = a_range(rng, ear_low - 0.5, ear_high + 8.0, fixed=0.2)
    tilt = (-90.0, 90.0)
    if rng.random() < 0.35:
        tilt = a_range(rng, -60.0, 20.0, fixed=0.2)
    turns: tuple[Orientation, ...] = (
        (("upright",), ("flipped",), ("upright", "flipped"))[rng.integers(3)]
    )  # fmt: skip
    trim = rng.random() < 0.3
    cabinet = None
    if trim or rng.random() < 0.3:
        cabinet = Cabinet(outline_m=frozen(np.array(OUTLINE_M) * rng.uniform(0.5, 2.0)))
    reachable: dict[Orientation, tuple[tuple[float, float], ...]] | None = None
    if rng.random() < 0.2:
        edge = float(rng.uniform(-40.0, 0.0))
        reachable = {turns[0]: ((-80.0, edge), (edge + float(rng.uniform(0.0, 20.0)), 60.0))}
    steepest = float(rng.uniform(20.0, 60.0)) if rng.random() < 0.2 else None
    return Problem(
        pattern=random_pattern(rng, bands_hz),
        rows=all_rows,
        planes=plane_segments(seatings, tuple(range(len(seatings)))),
        air_loss=air_loss(
            bands_hz,
            Air(
                temperature_c=float(rng.uniform(-5.0, 35.0)),
                humidity_percent=float(rng.uniform(15.0, 90.0)),
            ),
            width="octave",
        ),
        hang=Hang(
            x_m=x,
            vertical="trim" if trim else "height",
            vertical_m=v,
            tilt_deg=tilt,
            orientations=turns,
        ),
        cabinet=cabinet,
        objective=objective,
        axis_on_audience=bool(rng.random() < 0.7),
        reachable_tilt_deg=reachable,
        max_front_elevation_deg=steepest,
        front_ear_m=None if steepest is None else (left, float(all_rows.z_m[0])),
    )


def close_problem(seed: int) -> Problem:
    """A large cabinet given by its trim, at the height of the ears amid the audience."""
    rng = np.random.default_rng(seed)
    problem = random_problem(seed)
    ears = problem.rows.z_m[len(problem.rows) // 2]
    left, right = float(problem.rows.x_m.min()), float(problem.rows.x_m.max())
    hang = replace(
        problem.hang,
        x_m=tuple(np.sort(rng.uniform(left, right, 2)).tolist()),
        vertical="trim",
        vertical_m=tuple(np.sort(rng.uniform(ears - 1.5, ears + 2.0, 2)).tolist()),
        tilt_deg=(-90.0, 90.0),
    )
    outline = frozen(np.array(OUTLINE_M) * rng.uniform(1.0, 4.0))
    return replace(
        problem,
        hang=hang,
        cabinet=Cabinet(outline_m=outline),
        axis_on_audience=True,
        objective="spread",
        pattern=nominal_pattern(above_deg=50.0, below_deg=70.0, bands_hz=problem.pattern.band_hz),
    )


def sample_placements(problem: Problem, rng: np.random.Generator, count: int) -> Sample:
    """Random placements within the ranges: half with a random tilt, half aimed at the audience.

    They may break the limits; the caller sorts those out.
    """
    hang = problem.hang
    x = rng.uniform(*hang.x_m, size=count)
    v = rng.uniform(*hang.vertical_m, size=count)
    # Ends of ranges are where answers sit.
    x = np.where(rng.random(count) < 0.1, rng.choice(hang.x_m, count), x)
    v = np.where(rng.random(count) < 0.1, rng.choice(hang.vertical_m, count), v)
    turns = np.array([name == "flipped" for name in hang.orientations])
    flipped = rng.choice(turns, count)
    tilt = rng.uniform(*hang.tilt_deg, size=count)
    aimed = rng.random(count) < 0.6
    piece = rng.integers(0, len(problem.planes), count)
    share = rng.random(count)[:, np.newaxis]
    start, end = problem.planes.start_m[piece], problem.planes.end_m[piece]
    at = start + share * (end - start)
    towards = np.degrees(np.arctan2(at[:, 1] - v, at[:, 0] - x))
    for _ in range(4):  # from trim to height; need not settle: limits are looked at afterwards
        height = Fast(problem).height_m(Sample(x, v, towards, flipped))
        towards = np.degrees(np.arctan2(at[:, 1] - height, at[:, 0] - x))
    return Sample(x, v, np.where(aimed, towards, tilt), flipped)


def near(problem: Problem, at: Sample, rng: np.random.Generator, size: float, count: int) -> Sample:
    """Placements about a single one, within the ranges: size is a share of 2 m and of 10°."""
    (x_low, x_high), (v_low, v_high) = problem.hang.x_m, problem.hang.vertical_m
    move = rng.normal(size=(3, count)) * size * rng.integers(0, 2, size=(3, count))
    return Sample(
        np.clip(at.x_m[0] + 2.0 * move[0], x_low, x_high),
        np.clip(at.v_m[0] + 2.0 * move[1], v_low, v_high),
        np.clip(at.tilt_deg[0] + 10.0 * move[2], *problem.hang.tilt_deg),
        np.full(count, at.flipped[0]),
    )

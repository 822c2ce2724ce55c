"""What must not change an answer, and what an answer must never be worse than.

A proven answer is known to within its gap: two proofs of one question agree to the larger gap.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_air import tones
from random_scenes import random_problem
from second_formula import Fast, Sample

from aiming.aim.problem import Problem
from aiming.aim.search import SearchResult, Status, search
from aiming.base.arrays import FloatArray, frozen
from aiming.geometry.section import Rows, Seating, Segments, plane_segments, rows_of
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import Pattern
from aiming.speaker.speaker import Hang, Placement, Range

GAP_DB = 0.05
CAP = 3000
ROUNDING_DB = 1e-7

seeds = st.integers(0, 100_000)
quick = settings(derandomize=True, deadline=None, max_examples=40)


def agree(one: SearchResult, other: SearchResult) -> None:
    """Both proofs hold for the same optimum."""
    assert (one.placement is None) == (other.placement is None)
    if one.placement is not None:
        assert one.objective_db - one.gap_db <= other.objective_db + ROUNDING_DB
        assert other.objective_db - other.gap_db <= one.objective_db + ROUNDING_DB


def moved(problem: Problem, x_m: float, z_m: float) -> Problem:
    """Everything as seen from an origin that lies elsewhere."""
    rows, planes, hang, by = problem.rows, problem.planes, problem.hang, np.array([x_m, z_m])
    front = problem.front_ear_m
    return replace(
        problem,
        rows=Rows(
            frozen(rows.x_m + x_m),
            frozen(rows.z_m + z_m),
            rows.weight,
            rows.seating,
            rows.names,
            rows.seatings,
        ),
        planes=Segments(planes.start_m + by, planes.end_m + by, planes.seating),
        hang=replace(
            hang,
            x_m=(hang.x_m[0] + x_m, hang.x_m[1] + x_m),
            vertical_m=(hang.vertical_m[0] + z_m, hang.vertical_m[1] + z_m),
        ),
        front_ear_m=None if front is None else (front[0] + x_m, front[1] + z_m),
    )


@quick
@given(seed=seeds, x_m=st.floats(-200.0, 200.0), z_m=st.floats(-50.0, 50.0))
def test_moving_the_origin_changes_nothing(seed: int, x_m: float, z_m: float) -> None:
    problem = random_problem(seed, rows=6)
    there = moved(problem, x_m, z_m)
    one = search(problem, gap_db=GAP_DB, most_boxes=CAP)
    other = search(there, gap_db=GAP_DB, most_boxes=CAP)
    if Status.UNDECIDED not in (one.status, other.status):
        agree(one, other)
    if one.placement is not None:
        shifted = replace(
            one.placement,
            x_m=one.placement.x_m + x_m,
            height_m=one.placement.height_m + z_m,
        )
        # 1e-5 dB: at 200 m the last digit of a distance is 1e-14 of it, angles turn by 1e-12°,
        # and a table's steepest step falls 3 dB in 0.001°.
        assert float(there.objective_db(shifted)) == pytest.approx(one.objective_db, abs=1e-5)


@quick
@given(seed=seeds, gains=st.lists(st.floats(-20.0, 20.0), min_size=4, max_size=4))
def test_constant_output_changes_no_spread(seed: int, gains: list[float]) -> None:
    """A gain per band is a constant per band of the table: no objective knows of it."""
    problem = random_problem(seed, rows=6)
    pattern = problem.pattern
    gain = np.array(gains[: len(pattern.band_hz)])[:, np.newaxis]
    louder = replace(
        problem,
        pattern=Pattern(
            pattern.angle_deg, pattern.band_hz, frozen(pattern.level_db + gain), "louder"
        ),
    )
    one = search(problem, gap_db=GAP_DB, most_boxes=CAP)
    other = search(louder, gap_db=GAP_DB, most_boxes=CAP)
    if Status.UNDECIDED not in (one.status, other.status):
        agree(one, other)
    if one.placement is not None:
        assert float(louder.objective_db(one.placement)) == pytest.approx(
            one.objective_db, abs=1e-9
        )


@quick
@given(
    seed=seeds,
    x_m=st.floats(-5.0, 20.0),
    height_m=st.floats(0.0, 12.0),
    tilt_deg=st.floats(-80.0, 80.0),
    flipped=st.booleans(),
)
def test_mirror_in_a_level_plane(
    seed: int, x_m: float, height_m: float, tilt_deg: float, flipped: bool
) -> None:
    """Rows, place and tilt mirrored up-down, the box turned round: every level stays."""
    problem = random_problem(seed, rows=6)
    mirrored = upside_down(problem)
    levels = problem.levels_db(Placement(x_m, height_m, tilt_deg, flipped))
    other = mirrored.levels_db(Placement(x_m, -height_m, -tilt_deg, not flipped))
    np.testing.assert_allclose(other, levels, rtol=0.0, atol=1e-6)
    # And turning the box round is the same as mirroring its table.
    table = replace(mirrored, pattern=problem.pattern.flipped())
    again = table.levels_db(Placement(x_m, -height_m, -tilt_deg, flipped))
    np.testing.assert_allclose(again, levels, rtol=0.0, atol=1e-6)


def upside_down(problem: Problem) -> Problem:
    """Rows and planes with z → −z; the weights stay."""
    rows, planes = problem.rows, problem.planes
    turn = np.array([1.0, -1.0])
    return replace(
        problem,
        rows=Rows(
            rows.x_m, frozen(-rows.z_m), rows.weight, rows.seating, rows.names, rows.seatings
        ),
        planes=Segments(planes.start_m * turn, planes.end_m * turn, planes.seating),
    )


@settings(derandomize=True, deadline=None, max_examples=25)
@given(seed=seeds)
def test_mirrored_question_has_the_mirrored_answer(seed: int) -> None:
    """The whole search, upside down: heights and tilts negated, orientations exchanged."""
    problem = replace(
        random_problem(seed, rows=6), reachable_tilt_deg=None, max_front_elevation_deg=None
    )
    hang = replace(problem.hang, vertical="height")
    problem = replace(problem, hang=hang)
    mirrored = replace(
        upside_down(problem),
        hang=replace(
            hang,
            vertical_m=negated(hang.vertical_m),
            tilt_deg=negated(hang.tilt_deg),
            orientations=tuple(
                "upright" if name == "flipped" else "flipped" for name in hang.orientations
            ),
        ),
    )
    one = search(problem, gap_db=GAP_DB, most_boxes=CAP)
    other = search(mirrored, gap_db=GAP_DB, most_boxes=CAP)
    if Status.UNDECIDED not in (one.status, other.status):
        agree(one, other)


def negated(of: Range) -> Range:
    return (-of[1], -of[0])


def simple(line: FloatArray, half_deg: tuple[float, float], hang: Hang) -> Problem:
    """One seating, one band, no air."""
    seating = Seating("tier", line, row_count=7)
    return Problem(
        pattern=nominal_pattern(above_deg=half_deg[0], below_deg=half_deg[1], bands_hz=(1000.0,)),
        rows=rows_of((seating,)),
        planes=plane_segments((seating,), (0,)),
        air_loss=tones(np.zeros(1)),
        hang=hang,
    )


@quick
@given(
    rise=st.floats(0.0, 6.0),
    above=st.floats(10.0, 60.0),
    below=st.floats(10.0, 60.0),
    v=st.tuples(st.floats(2.0, 5.0), st.floats(0.0, 5.0)),
    either=st.booleans(),
)
def test_never_worse_than_the_shortcut(
    rise: float, above: float, below: float, v: tuple[float, float], either: bool
) -> None:
    """The common practice, axis at the last row, from any height in the range."""
    low, high = v[0], v[0] + v[1]
    problem = simple(
        np.array([[4.0, 0.0], [18.0, rise]]),
        (above, below),
        Hang(
            vertical_m=(low, high),
            x_m=(-1.0, 0.5),
            orientations=("upright", "flipped") if either else ("upright",),
        ),
    )
    found = search(problem, gap_db=GAP_DB)
    assert found.status is Status.PROVEN
    assert found.gap_db <= GAP_DB
    heights = np.linspace(low, high, 21)
    x = np.linspace(-1.0, 0.5, 21)[::-1]
    ear = np.array([18.0, rise + 1.2])
    tilt = np.degrees(np.arctan2(ear[1] - heights, ear[0] - x))
    for flipped in (False, True) if either else (False,):
        shortcut = Sample(x, heights, tilt, np.full(21, flipped))
        assert (
            found.objective_db - found.gap_db <= Fast(problem).objective_db(shortcut).min() + 1e-9
        )


def test_exact_uniform_line_has_no_spread() -> None:
    """Rows on r(θ) = 2d·10^(D(θ)/20): the proven best is zero but for the table's reading error."""
    half = 30.0
    off_axis = np.linspace(-half, 0.0, 7)  # as many as simple() has rows
    r = 20.0 * 10.0 ** (-6.0206 * (off_axis / half) ** 2 / 20.0)
    angle = np.radians(off_axis - 17.0)
    rows_at = np.stack([r * np.cos(angle), 8.0 + r * np.sin(angle)], axis=1)
    rows_at = rows_at[np.argsort(rows_at[:, 0])]
    problem = simple(
        rows_at - np.array([0.0, 1.2]), (half, half), Hang(vertical_m=(7.0, 9.0), x_m=(-1.0, 1.0))
    )
    rows = replace(problem.rows, x_m=frozen(rows_at[:, 0]), z_m=frozen(rows_at[:, 1]))
    problem = replace(problem, rows=rows)
    assert float(problem.objective_db(Placement(0.0, 8.0, -17.0))) < 0.003
    found = search(problem, gap_db=0.01)
    assert found.status is Status.PROVEN
    assert found.objective_db < 0.013


def test_where_turning_changes_nothing_the_box_hangs_upright() -> None:
    """The picks differ, so both ways are searched, but the pattern is symmetric."""
    seating = Seating("floor", np.array([[4.0, 0.0], [18.0, 1.4]]), row_count=17)
    problem = Problem(
        pattern=nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=(1000.0, 4000.0)),
        rows=rows_of((seating,)),
        planes=plane_segments((seating,), (0,)),
        air_loss=tones(np.array([0.005, 0.03])),
        hang=Hang(vertical_m=(3.0, 9.0), orientations=("flipped", "upright")),
        reachable_tilt_deg={"upright": ((-90.0, 90.0),), "flipped": ((-90.0, 90.0),)},
    )
    found = search(problem, gap_db=GAP_DB)
    assert found.placement is not None and not found.placement.flipped

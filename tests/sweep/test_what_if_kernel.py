"""The bulk kernel against the exact reading: its error bound, and when it stands back."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plain_air import tones

from aiming.aim import measures
from aiming.base.arrays import FloatArray
from aiming.field.levels import levels_db
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import Pattern, read_table_db
from aiming.speaker.speaker import Placements
from aiming.sweep.axes import axes_of, axis_of, parse_over
from aiming.sweep.kernel import (
    READING_DB,
    SPREAD_ERROR_DB,
    Channels,
    TiltKernel,
    Tilts,
    phase_table,
    steepest_db_per_deg,
    tilt_kernel,
)
from aiming.sweep.result_store import cut, points

BANDS = (1000.0, 4000.0, 8000.0)
ALPHA = np.array([0.005, 0.03, 0.1])


def pattern_of(kind: str) -> Pattern:
    if kind == "measured":
        angle = np.linspace(-180.0, 180.0, 73)
        ripple = np.random.default_rng(5).uniform(-3.0, 3.0, (3, 73))
        level = -25.0 * (angle / 180.0) ** 2 + ripple
        level[:, -1] = level[:, 0]
        return Pattern(angle, BANDS, level - level[:, 36:37], "test")
    return nominal_pattern(
        above_deg=22.0, below_deg=38.0, bands_hz=BANDS, lobe="piston", control_from_hz=2000.0
    )


def kernel_of(
    pattern: Pattern, x: FloatArray, z: FloatArray, tilts: Tilts, *, flipped: bool
) -> TiltKernel | None:
    return tilt_kernel(
        Channels(pattern.angle_deg, pattern.level_db, tones(ALPHA)),
        x,
        z,
        tilts,
        x_m=(-1.0, 2.0),
        height_m=(3.0, 12.0),
        flipped=flipped,
    )


@settings(deadline=None, derandomize=True, max_examples=20)
@given(
    kind=st.sampled_from(["measured", "nominal"]),
    flipped=st.booleans(),
    step=st.sampled_from([0.05, 0.3, 1.0]),
    first=st.floats(-90.0, 0.0),
    x0=st.floats(-10.0, 10.0),
    seed=st.integers(0, 1000),
)
def test_spreads_and_softest_levels_are_within_the_bound(
    kind: str, flipped: bool, step: float, first: float, x0: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    pattern = pattern_of(kind)
    x, z = x0 + np.sort(rng.uniform(0.0, 30.0, 12)), rng.uniform(-1.0, 2.5, 12)
    tilts = Tilts(first, step, 40)
    kernel = kernel_of(pattern, x, z, tilts, flipped=flipped)
    # A lobe may be too steep for a table at this step: then the levels are read one by one.
    assume(kernel is not None)
    at_x, at_z = rng.uniform(-1.0, 2.0, 5), rng.uniform(5.0, 12.0, 5)
    tilt: FloatArray = first + step * np.arange(8.0, 28.0)
    exact = levels_db(
        pattern,
        Placements.of(at_x[:, np.newaxis], at_z[:, np.newaxis], tilt[np.newaxis], flipped),
        x,
        z,
        air_loss=tones(ALPHA),
    )
    seen = 0
    for place, some, soft, loud, base in kernel.extremes_db(at_x, at_z, first=8, count=20):
        here = exact[place, some]
        off = np.abs((loud - soft).T - measures.band_spreads_db(here))
        assert off.max() < SPREAD_ERROR_DB
        assert np.abs((soft + base[:, np.newaxis]).T - here.min(axis=-1)).max() < READING_DB + 1e-4
        seen += 1
    assert seen == 5


def test_long_runs_of_tilts_are_tiled() -> None:
    pattern = pattern_of("nominal")
    x, z = np.linspace(4.0, 30.0, 9), np.linspace(1.2, 4.0, 9)
    kernel = kernel_of(pattern, x, z, Tilts(-60.0, 0.01, 5001), flipped=False)
    assert kernel is not None
    at = np.array([0.0]), np.array([6.0])
    tiles = {
        some.start: (loud - soft).copy()
        for _, some, soft, loud, _ in kernel.extremes_db(*at, first=1, count=5000)
    }
    assert list(tiles) == [0, 2048, 4096]
    whole = np.concatenate(list(tiles.values()), axis=1)
    tilt: FloatArray = -60.0 + 0.01 * np.arange(1.0, 5001.0)
    exact = levels_db(pattern, Placements.of(0.0, 6.0, tilt), x, z, air_loss=tones(ALPHA))
    assert np.abs(whole.T - measures.band_spreads_db(exact)).max() < SPREAD_ERROR_DB


def test_what_walls_hide_is_taken_off() -> None:
    pattern = pattern_of("nominal")
    x, z = np.linspace(4.0, 30.0, 9), np.linspace(1.2, 4.0, 9)
    kernel = kernel_of(pattern, x, z, Tilts(-40.0, 1.0, 30), flipped=False)
    assert kernel is not None
    hidden = np.random.default_rng(2).uniform(0.0, 20.0, (1, 3, 9))
    _, _, soft, loud, _ = next(
        kernel.extremes_db(
            np.zeros(1), np.full(1, 6.0), first=0, count=30, shadow=lambda _x, _z: hidden
        )
    )
    exact = levels_db(
        pattern,
        Placements.of(0.0, 6.0, -40.0 + np.arange(30.0)),
        x,
        z,
        air_loss=tones(ALPHA),
        shadow_db=hidden[0],
    )
    assert np.abs((loud - soft).T - measures.band_spreads_db(exact)).max() < SPREAD_ERROR_DB


def test_the_table_reads_the_nearest_phase() -> None:
    pattern = pattern_of("measured")
    table = phase_table(
        pattern.angle_deg, pattern.level_db, step_deg=0.5, low_deg=-170.0, high_deg=200.0
    )
    assert table is not None and table.phases > 100
    angle = np.random.default_rng(1).uniform(-170.0, 200.0, 500)
    phase, place = table.start(angle)
    exact = read_table_db(pattern.angle_deg, pattern.level_db, angle)
    assert np.abs(table.levels_db[phase, :, place].T - exact).max() < READING_DB + 1e-5


def test_steepness_counts_jumps_and_holes_only_where_they_are_seen() -> None:
    angle = np.array([-90.0, 0.0, 90.0])
    level = np.array([[-9.0, 0.0, -18.0]])
    seen = {"low_deg": -60.0, "high_deg": 60.0}
    assert steepest_db_per_deg(angle, level, **seen) == pytest.approx(0.2)
    assert steepest_db_per_deg(angle, level, low_deg=-60.0, high_deg=-30.0) == pytest.approx(0.1)
    assert steepest_db_per_deg(angle, level, low_deg=-60.0, high_deg=100.0) == np.inf
    hole = np.array([[-9.0, 0.0, np.nan]])
    assert steepest_db_per_deg(angle, hole, **seen) == np.inf
    circle = np.array([-180.0, 0.0, 180.0])
    jump = np.array([[-20.0, 0.0, -24.0]])
    assert steepest_db_per_deg(circle, jump, **seen) == pytest.approx(24.0 / 180.0)
    assert steepest_db_per_deg(circle, jump, low_deg=100.0, high_deg=190.0) == np.inf


def test_the_kernel_stands_back_where_the_pattern_is_not_known() -> None:
    whole = pattern_of("nominal")
    half = Pattern(np.linspace(-60.0, 60.0, 121), BANDS, np.zeros((3, 121)), "test")
    x, z = np.linspace(4.0, 30.0, 9), np.full(9, 1.2)
    assert kernel_of(whole, x, z, Tilts(-60.0, 1.0, 60), flipped=False) is not None
    assert kernel_of(half, x, z, Tilts(-60.0, 1.0, 60), flipped=False) is None
    assert kernel_of(half, x, z, Tilts(-55.0, 1.0, 20), flipped=False) is not None
    far = 1e5 * x
    assert kernel_of(whole, far, z, Tilts(-60.0, 1.0, 60), flipped=False) is None


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.lists(st.integers(1, 7), min_size=1, max_size=4), st.integers(1, 50))
def test_chunks_cover_the_grid_once_and_in_order(shape: list[int], rows: int) -> None:
    grid = cut(tuple(shape), rows=rows)
    number = np.arange(grid.size).reshape(shape)
    axes = tuple(range(len(shape)))
    met = []
    for chunk in range(grid.chunks):
        inside = [int(number[at]) for at in points(grid.box(chunk), axes)]
        assert len(inside) == grid.rows(chunk) <= max(rows, 1)
        met += inside
    assert met == list(range(grid.size))


def test_axes_hold_clean_numbers_and_their_high_end() -> None:
    axis = axis_of("k", (-30, 0, 0.1))
    assert axis.count == 301
    assert axis.numbers(0, 301).tolist() == [round(-30 + 0.1 * k, 1) + 0.0 for k in range(301)]
    assert axis_of("k", (0.0, 1.0, 0.3)).count == 4
    assert axis_of("k", (2, 2, 1)).numbers(0, 1).tolist() == [2.0]
    assert axis_of("k", np.array([1.5, 2.5])).listed == (1.5, 2.5)
    assert axis_of("k", ("1 ft", "2 ft", "6 in"), unit="ft").numbers(0, 3).tolist() == [1, 1.5, 2]
    assert axis_of("k", ("1 ft", "2 ft", "6 in")).value(1) == pytest.approx(0.4572)
    many = axis_of("k", (0.0, 1e8, 1.0))
    assert many.count == 10**8 + 1 and many.value(10**8) == 1e8


def test_axes_on_a_command_line() -> None:
    over = parse_over(
        [
            "a.tilt=-30:0:0.5",
            "b=1, 2.5,three",
            'seating."lower, tier".ears=seated,"1.3 m"',
            "c=[1, 2],[3, 4]",
            "d=4 m:5 m:10 cm",
        ]
    )
    assert over == {
        "a.tilt": (-30, 0, 0.5),
        "b": [1, 2.5, "three"],
        'seating."lower, tier".ears': ["seated", "1.3 m"],
        "c": [[1, 2], [3, 4]],
        "d": ("4 m", "5 m", "10 cm"),
    }
    axes = axes_of(over)
    assert [axis.count for axis in axes] == [61, 3, 2, 2, 11]
    for wrong in (["a"], ["a="], ["a=1", "a=2"]):
        with pytest.raises(ValueError, match=r"KEY=|each key once"):
            parse_over(wrong)

"""Straight-line enclosures of tables, window by window, against loops over single numbers.

An enclosure is exact on its window, so every number is known: the slope is the chord's, and the
extremes over it sit at the table's nodes and at the window's ends.
"""

import math

import numpy as np
import pytest

from aiming.aim.windows import FINEST_LEVEL, Windows, windows_of
from aiming.base.arrays import FloatArray
from aiming.speaker.pattern import Pattern

Table = tuple[list[float], list[float]]

ROUGH: Table = (
    [-180.0, -170.0, -91.3, -45.0, -44.999, -20.0, 0.0, 3.0, 3.5, 4.0, 77.7, 135.0, 161.0, 180.0],
    [-15.0, -18.0, -30.0, -12.0, -7.0, -3.1, 0.0, -0.4, -9.0, -0.8, -14.0, -22.5, -19.0, -3.0],
)
PARTLY: Table = ([-45.0, -10.0, 0.0, 30.0, 67.5], [-20.0, -2.0, 0.0, -7.0, -26.0])
HOLED: Table = (
    [-180.0, -90.0, -10.0, 0.0, 10.0, 90.0, 180.0],
    [-40.0, math.nan, -2.0, 0.0, -2.5, math.nan, -33.0],
)
MIRRORED: Table = ([-angle for angle in ROUGH[0][::-1]], ROUGH[1][::-1])
BELOW: Table = ([-180.0, -100.0, 0.0, 50.0], [-30.0, -21.0, 0.0, -9.0])
ABOVE: Table = ([-50.0, 0.0, 100.0, 180.0], [-9.0, 0.0, -21.0, -30.0])
TABLES = [ROUGH, MIRRORED, PARTLY, HOLED, BELOW, ABOVE]


def reading(table: Table, angle_deg: float, *, before: bool) -> float:
    """One-sided level at an angle within [−180, 540]; at ±180 the table may jump."""
    angles, levels = table
    angle = (
        angle_deg - 360.0 if angle_deg > 180.0 or (angle_deg == 180.0 and not before) else angle_deg
    )
    if angle == -180.0 and before:
        angle = 180.0
    for place, node in enumerate(angles):
        if angle == node:
            return levels[place]
        if place and angles[place - 1] < angle < node:
            share = (angle - angles[place - 1]) / (node - angles[place - 1])
            return levels[place - 1] + share * (levels[place] - levels[place - 1])
    return math.nan


def over(
    table: Table, start_deg: float, end_deg: float, middle_deg: float
) -> tuple[float, float, float]:
    """(slope, low, high) of D − slope·(φ − middle) over [start, end], by the nodes one by one."""
    first = reading(table, start_deg, before=False)
    last = reading(table, end_deg, before=True)
    slope = (last - first) / (end_deg - start_deg)
    if math.isnan(slope):
        slope = 0.0
    points = [(start_deg, first), (end_deg, last)]
    for node, level in zip(*table, strict=True):
        points += [(at, level) for at in (node, node + 360.0) if start_deg < at < end_deg]
    if (
        start_deg == -180.0 and table[0][-1] == 180.0
    ):  # straight behind, the end of the table counts
        points.append((-180.0, table[1][-1]))
    rest = [level - slope * (at - middle_deg) for at, level in points if not math.isnan(level)]
    return slope, min(rest, default=math.nan), max(rest, default=math.nan)


def window(table: Table, centre_deg: float, half_deg: float) -> tuple[float, float, float]:
    """(slope, low, high) of the window that an interval falls into: four cells of 2^level."""
    cells = 1
    while cells < 2**FINEST_LEVEL and 2.0 * half_deg <= 3.0 * 360.0 / (2 * cells):
        cells *= 2
    if cells < 4:
        known = [level for level in table[1] if not math.isnan(level)]
        return 0.0, min(known), max(known)
    start = centre_deg - half_deg
    start -= 360.0 * math.floor((start + 180.0) / 360.0)
    width = 360.0 / cells
    left = -180.0 + width * math.floor((start + 180.0) / width)
    return over(table, left, left + 4.0 * width, start + half_deg)


def check(table: Table, centre_deg: FloatArray, half_deg: FloatArray) -> None:
    """Every interval wider than the finest windows against its window."""
    windows = Windows(np.array(table[0]), np.array([table[1], [2.0 * db for db in table[1]]]))
    slope, low, high = windows.enclose(centre_deg, half_deg)
    expected = np.array(
        [window(table, c, h) for c, h in zip(centre_deg.flat, half_deg.flat, strict=True)]
    ).T.reshape(3, *centre_deg.shape)
    for channel, times in ((0, 1.0), (1, 2.0)):
        for of, wanted in zip((slope, low, high), expected, strict=True):
            np.testing.assert_allclose(of[channel], times * wanted, rtol=1e-10, atol=1e-8)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("half_deg", [0.004, 0.03, 0.4, 1.0, 5.0, 11.0, 25.0, 60.0, 100.0, 180.0])
def test_a_window_is_exact(table: Table, half_deg: float) -> None:
    centre = np.linspace(-400.0, 400.0, 97)
    check(table, centre, np.full(97, half_deg))


@pytest.mark.parametrize("table", TABLES)
def test_windows_of_many_widths_at_once(table: Table) -> None:
    """As rows of many boxes ask for them."""
    rng = np.random.default_rng(1)
    check(table, rng.uniform(-180.0, 180.0, (9, 11)), 10.0 ** rng.uniform(-2.3, 2.25, (9, 11)))


@pytest.mark.parametrize("table", TABLES)
def test_intervals_that_fill_three_cells(table: Table) -> None:
    """Exactly as wide as a window holds wherever the interval starts in its first cell."""
    for level in range(2, 12):
        width = 360.0 / 2**level
        left = -180.0 + width * np.arange(2**level)[:40]
        half = np.full(len(left), 1.5 * width)
        check(table, left + half, half)
        check(table, left + half + 0.999 * width, half)


def test_the_seam() -> None:
    """Intervals that start straight behind, end there, and run over it."""
    half = np.array([0.01, 0.7, 9.0, 44.0, 90.0])
    for end in (-180.0, 180.0, 540.0):
        check(ROUGH, end + half, half)
        check(ROUGH, end - half, half)
        check(ROUGH, np.full(5, end), half)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("half_deg", [0.0, 1e-9, 1e-5, 1e-3, 2.6e-3])
def test_a_narrow_interval_is_exact_itself(table: Table, half_deg: float) -> None:
    """The finest windows are wider than it: it is read from the nodes, exactly."""
    rng = np.random.default_rng(2)
    nodes = np.array(table[0])
    centre = np.concatenate(
        [rng.uniform(-179.0, 179.0, 40), nodes, nodes + 0.6 * half_deg, nodes - 0.6 * half_deg]
    )
    windows = Windows(nodes, np.array([table[1]]))
    slope, low, high = windows.enclose(centre, np.full(len(centre), half_deg))
    grown = half_deg + 1e-10  # of rounding

    for at, m, least, most in zip(centre.tolist(), slope[0], low[0], high[0], strict=True):
        start = at - grown
        start += 360.0 if start <= -180.0 else 0.0
        chord, lowest, highest = over(table, start, start + 2.0 * grown, start + grown)
        slack = 3e-6 + 1e-13 * abs(chord)
        if half_deg > 1e-7 and abs(at) < 179.9:
            assert m == pytest.approx(chord, rel=1e-4, abs=1e-6)
        assert least == pytest.approx(lowest, abs=slack, nan_ok=True)
        assert most == pytest.approx(highest, abs=slack, nan_ok=True)


@pytest.mark.parametrize("inside", [3, 4, 5, 7])
def test_many_nodes_in_a_narrow_interval(inside: int) -> None:
    """Up to four nodes are looked at one by one; more, and the finest window has to do."""
    step, half = 5e-4, 2.5e-3
    nodes = 20.0 + step * np.arange(inside) - 0.5 * step * (inside - 1)
    levels = np.where(np.arange(inside) % 2 == 0, -7.0, -1.0)
    levels[-1] = -9.0
    table = ([-180.0, *nodes.tolist(), 180.0], [-3.0, *levels.tolist(), -3.0])
    windows = Windows(np.array(table[0]), np.array([table[1]]))
    slope, low, high = windows.enclose(np.array([20.0]), np.array([half]))
    expected = over(table, 20.0 - half, 20.0 + half, 20.0)
    if inside > 4:
        expected = window(table, 20.0, half)
    assert (slope[0, 0], low[0, 0], high[0, 0]) == pytest.approx(expected, rel=1e-6)


def test_the_last_nodes() -> None:
    """A narrow interval that runs over the seam, where the nodes go round once more."""
    table = ([-180.0, -179.999, 0.0, 179.999, 180.0], [-5.0, -6.0, 0.0, -4.0, -2.0])
    windows = Windows(np.array(table[0]), np.array([table[1]]))
    _, low, high = windows.enclose(np.array([180.0, -180.0]), np.array([2e-3, 2e-3]))
    slope, least, most = over(table, 179.998, 180.002, 180.0)
    assert slope == pytest.approx((-6.0 + 4.0) / 0.004, rel=1e-3)
    np.testing.assert_allclose(low[0], least, atol=1e-5)
    np.testing.assert_allclose(high[0], most, atol=1e-5)


def test_two_nodes_for_a_whole_circle() -> None:
    """As few as a table of every direction can have; the seam is its only step."""
    table = ([-180.0, 180.0], [-5.0, -2.0])
    windows = Windows(np.array(table[0]), np.array([table[1]]))
    for centre in (180.0, -180.0, 179.9995, -179.9995, 0.0):
        slope, low, high = windows.enclose(np.array([centre]), np.array([1e-3]))
        start = centre - 1e-3 if centre > -179.9995 else centre + 360.0 - 1e-3
        expected = over(table, start, start + 2e-3, start + 1e-3)
        assert (slope[0, 0], low[0, 0], high[0, 0]) == pytest.approx(expected, rel=1e-6)


def test_narrow_and_wide_together() -> None:
    """Each in its own way, as alone."""
    windows = Windows(np.array(ROUGH[0]), np.array([ROUGH[1]]))
    centre, half = np.array([3.5, 3.5]), np.array([1e-4, 1.0])
    together = windows.enclose(centre, half)
    for place in (0, 1):
        alone = windows.enclose(centre[place : place + 1], half[place : place + 1])
        for one, other in zip(together, alone, strict=True):
            assert one[0, place] == other[0, 0]
    assert together[2][0, 0] - together[1][0, 0] < 0.01


def test_bands_or_their_mean() -> None:
    """Built once for a pattern: per band, or one channel of the mean in decibels."""
    pattern = Pattern(
        np.array([-180.0, 0.0, 180.0]),
        (1.0, 2.0),
        np.array([[-18.0, 0.0, -36.0], [-54.0, -2.0, -20.0]]),
        "invented",
    )
    centre, half = np.array([30.0]), np.array([1.0])
    slope, low, _ = windows_of(pattern, per_band=True).enclose(centre, half)
    np.testing.assert_allclose(slope[:, 0], [-0.2, -0.1])
    np.testing.assert_allclose(low[:, 0], [-6.0, -5.0])
    slope, low, _ = windows_of(pattern, per_band=False).enclose(centre, half)
    np.testing.assert_allclose(slope[:, 0], [-0.15])
    np.testing.assert_allclose(low[:, 0], [-5.5])
    assert windows_of(pattern, per_band=True) is windows_of(pattern, per_band=True)

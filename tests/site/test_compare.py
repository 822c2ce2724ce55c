"""Measured levels made ready: bands' widths, what two positions share, what stands out."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from onsite_scenes import SCENARIO, points, prediction, problem

import aiming
from aiming.base.errors import ScenarioError
from aiming.site.compare import (
    Measured,
    as_planned,
    positions_found,
    prediction_of,
    shared_only,
    shifted,
    stands_out,
    swapped_names,
)
from aiming.site.estimate import Estimate, estimate
from aiming.site.evidence import Blunder, Evidence
from aiming.site.traces import Trace
from aiming.speaker.speaker import Placement

PLAN = Placement(0.0, 6.0, -15.0)


@pytest.mark.parametrize(
    ("bands", "octaves"),
    [("[1000, 2000, 4000]", 1.0), ("[1000, 1250, 1600]", 1.0 / 3.0), ("[2000]", 1.0)],
)
def test_bands_are_octaves_or_thirds_by_their_distance(
    tmp_path: Path, bands: str, octaves: float
) -> None:
    text = SCENARIO.replace("[[seating]]", f"[aim]\nbands = {bands}\n[[seating]]")
    (tmp_path / "s.toml").write_text(text, encoding="utf-8")
    scenario = aiming.load(tmp_path / "s.toml")
    found = prediction_of(scenario, scenario.speakers[0], PLAN)
    low, high = (found.middle_hz + sign * 0.5 * found.wide_hz for sign in (-1.0, 1.0))
    assert np.log2(high / low) == pytest.approx(octaves)


def test_a_band_counts_where_two_positions_have_it() -> None:
    level = np.array([[1.0, np.nan, np.nan], [2.0, np.nan, 3.0], [np.nan, np.nan, np.nan]])
    trace = Trace("a", np.array([40.0, 90.0]), np.zeros(2), np.ones(2), "m.csv", 7)
    left = shared_only(level, (500.0, 1000.0, 2000.0), trace)
    assert left[1].tolist()[::2] == [2.0, 3.0]
    assert np.isfinite(left).sum() == 2
    with pytest.raises(ScenarioError, match=r"m\.csv:7:1: frequency: .* 40 to 90 Hz"):
        shared_only(level[:1], (500.0,), trace)


@pytest.fixture(scope="module")
def measured() -> tuple[Estimate, np.ndarray]:
    """Levels as planned at five rows, 9 dB more in the second band of the third."""
    of = problem()
    model, at = prediction(of, PLAN), points(of, [0, 4, 8, 12, 16])
    even = estimate(model, None, None)
    level = np.median(model.levels_db(at, even.kept), axis=0)
    level[1, 2] += 9.0
    return replace(even, evidence=Evidence(level)), level


@pytest.mark.parametrize(("none", "likely", "told"), [
    (0.60, 0.29, False), (0.60, 0.31, True), (0.40, 0.24, False), (0.40, 0.26, True),
])  # fmt: skip
def test_what_stands_out_is_likelier_than_a_quarter_and_half_of_none(
    measured: tuple[Estimate, np.ndarray], none: float, likely: float, told: bool
) -> None:
    held = (
        (Blunder("none"), none),
        (Blunder("band", (2,), 1), likely),
        (Blunder("swapped", (0, 1)), 0.9),
    )
    found = replace(measured[0], blunders=held)
    out = stands_out(found, points(problem(), [0, 4, 8, 12, 16]), tuple("abcde"))
    assert [(one.position, one.band_hz) for one in out] == ([("c", 2000.0)] if told else [])
    assert all(one.left_db == pytest.approx(9.0, abs=1.5) for one in out)


def test_levels_are_shifted_by_the_median_of_each_band_and_set() -> None:
    """Three of five off by the gain alone decide it; a band that was not measured stays unknown."""
    predicted = np.tile(np.array([3.0, 1.0, 0.0, -2.0, -5.0]), (3, 1))
    level = predicted + np.array([[10.0], [-4.0], [np.nan]])
    level[0, 0] += 6.0
    level[0, 4] -= 9.0
    level[1, 1] = np.nan
    found = shifted(predicted, level, np.zeros(5, dtype=np.intp))
    assert found[0] == pytest.approx(predicted[0] + 10.0)
    assert found[1] == pytest.approx(predicted[1] - 4.0)
    assert np.isnan(found[2]).all()
    # With a gain of its own each set lies where it was measured.
    level[:, 3:] += 7.0
    found = shifted(predicted, level, np.array([0, 0, 0, 1, 1]))
    assert found[1] == pytest.approx(predicted[1] + [-4.0, -4.0, -4.0, 3.0, 3.0])


def held(found: Estimate, level: np.ndarray, sets: list[int] | None = None) -> Measured:
    """Levels (bands, 5) at five rows."""
    of, at = problem(), [0, 4, 8, 12, 16]
    which = None if sets is None else np.array(sets)
    return Measured(
        prediction=found.prediction, points=points(of, at), rows=of.rows.pick(np.array(at)),
        traces=(), evidence=Evidence(level, sets=which), ripples=(), notes=(),
    )  # fmt: skip


def planned_levels(found: Estimate) -> np.ndarray:
    return found.prediction.levels_db(points(problem(), [0, 4, 8, 12, 16]), as_planned(4))[0]


@pytest.mark.parametrize("sets", [None, [0, 0, 0, 1, 1]])
def test_a_position_is_told_by_what_was_measured_planned_and_found(
    measured: tuple[Estimate, np.ndarray], sets: list[int] | None
) -> None:
    found = measured[0]
    gains = np.array([[5.0], [-30.0], [0.0], [12.0]])
    level = planned_levels(found) + gains
    if sets is not None:
        level[:, 3:] += 8.0
    level[:, 4] -= 0.8
    told = positions_found(held(found, level, sets), found)
    rows = problem().rows
    for n, (one, row) in enumerate(zip(told, (0, 4, 8, 12, 16), strict=True)):
        assert (one.x_m, one.z_m) == (rows.x_m[row], rows.z_m[row])
        dx, dz = one.x_m, one.z_m - 6.0
        assert one.distance_m == pytest.approx(np.hypot(dx, dz))
        assert one.off_axis_deg == pytest.approx(np.degrees(np.arctan2(dz, dx)) + 15.0)
        assert list(one.measured_db.values()) == pytest.approx(level[:, n])
        assert one.stands_out == ()
    off = [one.off_db for one in told]
    if sets is None:  # the one that is off moves no median of five
        assert off == pytest.approx([0.0, 0.0, 0.0, 0.0, -0.8], abs=1e-9)
    else:  # of two the median lies between
        assert off == pytest.approx([0.0, 0.0, 0.0, 0.4, -0.4], abs=1e-9)
    for one in told:
        predicted = [measured - one.off_db for measured in one.measured_db.values()]
        assert list(one.predicted_db.values()) == pytest.approx(predicted)


def test_the_doubt_is_the_patterns_beside_that_of_places_and_bands(
    measured: tuple[Estimate, np.ndarray],
) -> None:
    found = measured[0]
    told = positions_found(held(found, planned_levels(found)), found)
    # The pattern's own, about the middle of all places: 90 % of a normal distribution.
    prior = found.prior_levels(points(problem(), [0, 4, 8, 12, 16]))
    prior = prior - np.median(prior, axis=2, keepdims=True)
    noise = 0.7**2 + 1.0**2
    for n, one in enumerate(told):
        wide = 1.6449 * np.sqrt(prior[:, :, n].var(axis=0) + noise)
        assert list(one.doubt_db.values()) == pytest.approx(wide)
        assert min(one.doubt_db.values()) > 1.6449 * noise**0.5


def test_a_band_stands_out_by_its_own_deviations(measured: tuple[Estimate, np.ndarray]) -> None:
    """2.8 of them, which no more than one of two hundred levels is off by chance."""
    found = replace(measured[0], weight=np.eye(len(measured[0].draws))[0])
    # A single case that may be: the errors of places and bands alone are left, 1.22 dB.
    only = found.prediction.levels_db(points(problem(), [0, 4, 8, 12, 16]), found.kept)[0]
    for off, out in ((3.3, ()), (3.55, (2000.0,)), (-3.3, ()), (-3.55, (2000.0,))):
        level = only.copy()
        level[1, 2] += off
        told = positions_found(held(found, level), found)
        assert [one.stands_out for one in told] == [(), (), out, (), ()]


@pytest.mark.parametrize(("likely", "told"), [(0.39, False), (0.41, True)])
def test_names_are_told_as_swapped_where_that_is_the_likeliest(
    measured: tuple[Estimate, np.ndarray], likely: float, told: bool
) -> None:
    rest = ((Blunder("none"), 0.38), (Blunder("microphone", (1,)), 0.3))
    swap = (Blunder("swapped", (0, 4)), likely)
    there = held(measured[0], measured[1])
    names = there.rows.names
    found = swapped_names(there, replace(measured[0], blunders=(*rest, swap)))
    assert found == ((names[0], names[4]) if told else None)
    # A microphone that is likelier off is the better word.
    other = ((Blunder("microphone", (1,)), 0.45), (swap[0], 0.42))
    assert swapped_names(there, replace(measured[0], blunders=other)) is None

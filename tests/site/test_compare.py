"""Measured levels made ready: bands' widths, what two positions share, what stands out."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from onsite_scenes import SCENARIO, points, prediction, problem

import aiming
from aiming.base.errors import ScenarioError
from aiming.site.compare import prediction_of, shared_only, stands_out
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

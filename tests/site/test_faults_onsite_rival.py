"""Another tilt that explains the levels as well, the hollows to start from, unknowns without data.

The fit itself is put aside: what stands here is what is made of its results.
"""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from aiming.site import fit as room
from aiming.site.fit import EFFICIENCY, INTERVAL, fit
from aiming.site.prediction import Departure

NEAR = 0.5 * 1.6449**2  # costs nearer than this are within the 90 % interval


@pytest.mark.parametrize(
    ("others", "rival"),
    [
        ([(-9.0, 10.5)], -9.0),
        ([(-9.0, 10.0 + NEAR - 0.01)], -9.0),
        ([(-9.0, 10.0 + NEAR + 0.01)], None),
        ([(2.9, 10.5)], None),
        ([(3.05, 10.5)], 3.05),
        ([(0.95, 10.5)], 0.95),
        ([(2.5, 10.2), (-9.0, 10.5), (14.0, 10.6)], -9.0),
        ([(14.0, 10.6), (-9.0, 10.5)], -9.0),
        ([], None),
    ],
)
def test_a_rival_is_another_tilt_that_costs_hardly_more(
    others: list[tuple[float, float]], rival: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The best lies at 2° and costs 10; a rival is over a degree away."""
    costs = {2.0: 10.0, **dict(others)}
    starts = [Departure(tilt_deg=tilt) for tilt in costs]

    def refined(*asked: Any) -> tuple[Departure, float, Any]:
        return asked[3], costs[asked[3].tilt_deg], None

    def finished(*found: Any) -> tuple[float, float, float | None]:
        return found[3].tilt_deg, found[4], found[6]

    monkeypatch.setattr(room, "Linear", lambda *_: None)
    monkeypatch.setattr(room, "_hollows", lambda *_: starts)
    monkeypatch.setattr(room, "_refined", refined)
    monkeypatch.setattr(room, "_finished", finished)
    nothing: Any = None
    found: Any = fit(nothing, nothing, ("tilt_deg",), start=Departure(), noise=nothing)
    assert found == (2.0, 10.0, rival)


def hollows(cost: np.ndarray[Any, Any]) -> list[float]:
    """Where the fit starts for a cost over −30° to 30° in half degrees."""
    linear: Any = SimpleNamespace(
        whitened=lambda level: np.zeros(2) if level is None else level,
        levels=SimpleNamespace(level_db=None),
        design=np.array([[0.0], [1.0]]),
    )
    left = np.stack([np.sqrt(cost), np.full(len(cost), 7.0)], axis=1)
    scene: Any = SimpleNamespace(at_tilts_db=lambda tilt, start: left)
    return [one.tilt_deg for one in room._hollows(scene, linear, Departure())]


def test_a_fit_starts_in_the_lowest_hollows_and_in_no_hopeless_one() -> None:
    """Single hollows in a plain, of known depth; both ends may be one."""
    cost = np.full(121, 60.0) + 0.001 * np.arange(121)
    for tilt, depth in ((-30.0, 5.0), (-12.0, 3.0), (4.5, 8.0), (30.0, 12.0), (20.0, 20.0)):
        cost[round(2 * (tilt + 30.0))] = depth
    assert hollows(cost) == [-12.0, -30.0, 4.5, 30.0]
    cost[round(2 * (-12.0 + 30.0))] = np.nan
    cost[round(2 * (30.0 + 30.0))] = 46.0
    assert hollows(cost) == [-30.0, 4.5, 20.0]
    cost[round(2 * (30.0 + 30.0))] = 44.9
    assert hollows(cost) == [-30.0, 4.5, 20.0, 30.0]
    assert hollows(np.full(121, np.nan)) == [0.0]


def test_one_slope_is_one_hollow() -> None:
    assert hollows(np.linspace(90.0, 50.0, 121)) == [30.0]
    assert hollows(np.linspace(50.0, 90.0, 121)) == [-30.0]


def test_deviations_of_what_is_and_is_not_told() -> None:
    """Uncorrelated columns: 1/size each; a column of zeros tells nothing of its own unknown."""
    slopes = np.zeros((4, 3))
    slopes[0, 0], slopes[1, 1] = 1e6, 0.5
    found = room._deviations(slopes, 3)
    assert found[:2] == pytest.approx(np.array([1e-6, 2.0]) / np.sqrt(EFFICIENCY), rel=1e-9)
    assert found[2] > 1e5
    mixed = np.array([[1.0, 1.0], [0.0, 1.0], [0.0, 0.0]])
    expected = np.sqrt(np.diag(np.linalg.inv(mixed.T @ mixed)) / EFFICIENCY)
    assert room._deviations(mixed, 2) == pytest.approx(expected, rel=1e-12)
    assert pytest.approx(1.6449, abs=1e-9) == INTERVAL

"""Sightlines: worksheets on stadium design."""

from collections.abc import Callable, Iterator

import numpy as np

from aiming.geometry.sight_lines import hidden_by_edges

from .check import Check


def sees_over(
    *, distance_m: float, height_m: float, tread_m: float, riser_m: float, c_m: float
) -> bool:
    """Whether the eye behind sees the focus, at the origin, past an edge this far over the one
    in front.

    distance_m, height_m: of the eye in front, from the focus
    """
    eye = np.array([[distance_m + tread_m, height_m + riser_m]])
    foot, top = np.array([[distance_m, -100.0]]), np.array([[distance_m, height_m + c_m]])
    return not hidden_by_edges(eye, (0.0, 0.0), foot, top)[0]


def border(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Where it begins to hold or to fail, between two ends of which one holds."""
    at_low = holds(low)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) == at_low else (low, middle)
    return low


def checks() -> Iterator[Check]:
    topic = "Sightlines"
    yield Check(
        topic, "riser for C 0.15 m; 30 m away, 10 m up, tread 1 m",
        "worksheets on stadium design", "V", 0.4883, 5e-5, "m",
        lambda: border(
            lambda riser_m: sees_over(
                distance_m=30.0, height_m=10.0, tread_m=1.0, riser_m=riser_m, c_m=0.15
            ), 0.0, 2.0,
        ),
    )  # fmt: skip
    yield Check(
        topic, "C; 12 m away, 2 m up, tread 0.8 m, riser 0.15 m", "the same formula", "C", 15.6,
        0.05, "mm",
        lambda: 1e3 * border(
            lambda c_m: sees_over(
                distance_m=12.0, height_m=2.0, tread_m=0.8, riser_m=0.15, c_m=c_m
            ), 0.0, 0.2,
        ),
    )  # fmt: skip

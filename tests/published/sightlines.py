"""Sightlines: worksheets on stadium design."""

from collections.abc import Iterator

from aiming.geometry.sight_lines import c_value_m, riser_for_c_m

from .check import Check


def checks() -> Iterator[Check]:
    topic = "Sightlines"
    yield Check(
        topic, "riser for C 0.15 m; 30 m away, 10 m up, tread 1 m",
        "worksheets on stadium design", "V", 0.4883, 5e-5, "m",
        lambda: float(riser_for_c_m(distance_m=30.0, height_m=10.0, tread_m=1.0, c_m=0.15)),
    )  # fmt: skip
    yield Check(
        topic, "C; 12 m away, 2 m up, tread 0.8 m, riser 0.15 m", "the same formula", "C", 15.6,
        0.05, "mm",
        lambda: 1e3 * float(c_value_m(distance_m=12.0, height_m=2.0, tread_m=0.8, riser_m=0.15)),
    )  # fmt: skip

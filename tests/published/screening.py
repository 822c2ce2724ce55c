"""The loss behind an edge: chart and formula from memory, a standard's formula as the second."""

import math
from collections.abc import Iterator

import numpy as np

from aiming.field.diffraction import screening_loss_db

from .check import Check

C_M_S = 343.2
CHART_DB = {0.0: (5.0, 1e-9), 1.0: (13.0, 0.3)}
"""Fresnel number: dB, read to the width of the chart's line."""


def loss_at(fresnel: float, *, hz: float = 2000.0) -> float:
    difference = np.array([0.5 * fresnel * C_M_S / hz])
    return float(screening_loss_db(difference, np.array([hz]), c_m_s=C_M_S)[0, 0])


def iso_db(fresnel: float) -> float:
    """10·lg(3 + (C2/λ)·C3·z), C2 = 40 where ground reflections are not in it, C3 = 1."""
    return 10.0 * math.log10(3.0 + 20.0 * fresnel)


KNIFE_EDGE_DB = {
    0.0: 6.021, 0.1: 9.810, 0.2: 11.265, 0.5: 13.864, 1.0: 16.325, 2.0: 19.091, 3.0: 20.791,
}  # fmt: skip
"""Exact for a half plane, ν = √(2N): by a library's Fresnel integral and by quadrature."""


def knife_edge_rows() -> Iterator[tuple[str, str, str, str]]:
    """(N, the exact knife edge, the law, how much deeper the knife edge is)."""
    for fresnel, exact in KNIFE_EDGE_DB.items():
        own = loss_at(fresnel)
        yield f"{fresnel:g}", f"{exact:.1f} dB", f"{own:.1f} dB", f"{exact - own:.1f} dB"


def checks() -> Iterator[Check]:
    topic = "Screening"
    for fresnel, (printed, within) in CHART_DB.items():
        yield Check(
            topic, f"loss at Fresnel number {fresnel:g}",
            "Maekawa, Applied Acoustics 1 (1968), chart", "M", printed, within, "dB",
            lambda n=fresnel: loss_at(n),
        )  # fmt: skip
    for fresnel in (0.0, 0.2, 1.0, 3.0):
        yield Check(
            topic, f"loss at Fresnel number {fresnel:g}, another formula",
            "ISO 9613-2:1996, eq. 14, C2 = 40", "M", iso_db(fresnel), 0.7, "dB",
            lambda n=fresnel: loss_at(n),
        )  # fmt: skip
    yield Check(
        topic, "loss at Fresnel number 3",
        "Kurze and Anderson, Applied Acoustics 4 (1971): 5 + 10·lg 2πN", "M",
        5.0 + 10.0 * math.log10(6.0 * math.pi), 4e-3, "dB", lambda: loss_at(3.0),
    )  # fmt: skip
    yield Check(
        topic, "deepest shadow of one edge", "ISO 9613-2:1996, 7.4", "M", 20.0, 1e-9, "dB",
        lambda: loss_at(100.0),
    )  # fmt: skip

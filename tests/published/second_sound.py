"""A second, later sound of one loudspeaker: detour by images, nulls and ripple of the comb."""

import math
from collections.abc import Iterator

import numpy as np

from aiming.base.air import AirLoss
from aiming.field.reflections import first_reflections
from aiming.field.summing import coherent_sum_db
from aiming.field.walls import walls_of
from aiming.geometry.section import Surface
from aiming.site.ripple import ripple_db
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Placement

from .check import Check

C_M_S = 343.2
IMAGES = "image of the source in a hard plane"
COMB = "Everest, Master Handbook of Acoustics, ch. 10"
SECOND = {3.0: (4.649, -10.691), 6.0: (3.529, -6.041), 10.0: (2.387, -3.302), 20.0: (0.828, -0.915)}
"""dB down: peak and dip, dB."""


def detour_m(source_m: tuple[float, float], ear_m: tuple[float, float]) -> float:
    """How much longer the way by a hard floor at z = 0 is, as the reflections are found."""
    floor = Surface("floor", np.array([[-50.0, 0.0], [100.0, 0.0]]))
    found = first_reflections(
        nominal_pattern(above_deg=170.0, below_deg=170.0, bands_hz=(1000.0,)),
        Placement(*source_m, 0.0),
        np.array([ear_m]),
        surfaces=(floor,),
        walls=walls_of((), (floor,)),
        air_loss=AirLoss(np.zeros((1, 1)), np.zeros((1, 1))),
        c_m_s=C_M_S,
    )
    return float(found.delay_ms[0]) * C_M_S / 1000.0


def rise_db(hz: float, detour: float, share: float = 1.0) -> float:
    """What the second sound makes of the direct one at one frequency."""
    return float(ripple_db(np.array([hz]), share, detour, C_M_S)[0])


def first_null_hz(detour: float) -> float:
    """The first frequency from 1 Hz at which the two come out of step, by tenths of a hertz."""
    hz = np.arange(1.0, 30_000.0, 0.1)
    level = ripple_db(hz, 0.999, detour, C_M_S)
    return float(hz[np.argmax((level[1:-1] < level[:-2]) & (level[1:-1] < level[2:])) + 1])


def checks() -> Iterator[Check]:
    topic = "A second sound"
    over_floor = ((0.0, 6.0), (20.0, 1.2))
    yield Check(
        topic, "detour by the floor, source 6 m up, ear 1.2 m, 20 m away", IMAGES, "C",
        0.68859, 1e-5, "m", lambda: detour_m(*over_floor),
    )  # fmt: skip
    yield Check(
        topic, "first null of the same", IMAGES, "C", 249.2, 0.1, "Hz",
        lambda: first_null_hz(detour_m(*over_floor)),
    )  # fmt: skip
    yield Check(
        topic, "first null, 1 ms later", COMB, "V", 500.0, 0.1, "Hz",
        lambda: first_null_hz(0.001 * C_M_S),
    )  # fmt: skip
    yield Check(
        topic, "two alike and in step, octave of 1 kHz", COMB, "V", 6.02, 0.005, "dB",
        lambda: float(coherent_sum_db(np.zeros((2, 1, 1)), np.zeros((2, 1)), (1000.0,))[0, 0]),
    )  # fmt: skip
    for down, (peak, dip) in SECOND.items():
        share = 10.0 ** (-down / 20.0)
        for name, printed, hz in (("peak", peak, 1000.0), ("dip", dip, 500.0)):
            yield Check(
                topic, f"{name} of the ripple, second sound {down:g} dB down", "20·lg(1 ± a)", "C",
                printed, 1e-3, "dB",
                lambda hz=hz, share=share: rise_db(hz, 0.001 * C_M_S, share),
            )  # fmt: skip
    for name, sine, null_hz, down_hz in (
        ("straight on", 1.0, 8580.0, 2571.0),
        ("at 20° grazing", math.sin(math.radians(20.0)), 25_086.0, 7517.0),
    ):
        yield Check(
            topic, f"microphone 10 mm over a hard plane, {name}: first null",
            "cos(π·f·D/c), D = 2h·sin(elevation)", "C", null_hz, 1.0, "Hz",
            lambda sine=sine: first_null_hz(0.02 * sine),
        )  # fmt: skip
        yield Check(
            topic, f"the same at {down_hz:g} Hz, re doubling",
            "cos(π·f·D/c), D = 2h·sin(elevation)", "C", -1.0, 1e-3, "dB",
            lambda sine=sine, hz=down_hz: rise_db(hz, 0.02 * sine) - rise_db(1e-9, 0.02),
        )  # fmt: skip
    yield Check(
        topic, "source 6 m up, 15 m away, microphone 10 mm over hard ground, 7,943 Hz", IMAGES, "C",
        4.685, 3e-3, "dB", lambda: rise_db(7943.0, detour_m((0.0, 6.0), (15.0, 0.01))),
    )  # fmt: skip
    yield Check(
        topic, "source 6 m up, 15 m away, microphone 50 mm over hard ground: first null",
        IMAGES, "C", 4620.0, 1.0, "Hz",
        lambda: first_null_hz(detour_m((0.0, 6.0), (15.0, 0.05))),
    )  # fmt: skip

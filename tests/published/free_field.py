"""Distance, sums and power, as the handbooks print them."""

from collections.abc import Iterator

import numpy as np
from plain_air import tones

from aiming.field.levels import levels_db, loss_db, power_sum_db
from aiming.field.summing import coherent_sum_db
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.speaker import Placement

from .check import Check

LOSS_DB = {2: 6.021, 4: 12.041, 8: 18.062, 16: 24.082, 50: 33.979, 100: 40.0}
POWER_SUMS_DB = {(90, 90): 93.01, (90, 96): 96.97, (62, 73): 73.33, (80, 85): 86.19}
IN_STEP_DB = {(80, 80): 86.02, (80, 85): 88.88}


def power_sum(one: float, other: float) -> float:
    return float(power_sum_db(np.array([one, other], dtype=float)))


def in_step(one: float, other: float) -> float:
    levels = np.array([one, other], dtype=float).reshape(2, 1, 1)
    return float(coherent_sum_db(levels, np.zeros((2, 1)), (1000.0,))[0, 0])


def watts(*, level_db: float, distance_m: float, sensitivity_db: float) -> float:
    """For this level on the axis without loss in air."""
    one_watt = levels_db(
        nominal_pattern(above_deg=30.0, below_deg=30.0, bands_hz=(1000.0,)),
        Placement(x_m=0.0, height_m=0.0, tilt_deg=0.0),
        np.array([distance_m]),
        np.array([0.0]),
        air_loss=tones(np.zeros(1)),
        offset_db=[sensitivity_db],
    )
    return float(10.0 ** ((level_db - one_watt[0, 0]) / 10.0))


def checks() -> Iterator[Check]:
    topic, davis = "Free field and sums", "Davis and Patronis, Sound System Engineering, §2.15"
    for distance, loss in LOSS_DB.items():
        yield Check(
            topic, f"spreading from 1 to {distance} m", "20·lg r", "C", loss, 5e-4, "dB",
            lambda r=distance: float(loss_db(np.array([float(r)]), tones(np.zeros(1)))[0, 0]),
        )  # fmt: skip
    for pair, total in POWER_SUMS_DB.items():
        yield Check(
            topic, f"{pair[0]} and {pair[1]} dB, powers added", f"{davis}, eqs 2-32 and 2-33", "V",
            total, 0.01, "dB", lambda p=pair: power_sum(*p),
        )  # fmt: skip
    for pair, total in IN_STEP_DB.items():
        alike = pair[0] == pair[1]
        yield Check(
            topic, f"{pair[0]} and {pair[1]} dB, in step",
            "20·lg 2" if alike else f"{davis}, eq. 2-34", "C" if alike else "V",
            total, 0.01, "dB", lambda p=pair: in_step(*p),
        )  # fmt: skip
    yield Check(
        topic, "power for 105 dB at 2.5 m from 89 dB at 1 W and 1 m", "worked example", "V2",
        248.8, 0.1, "W",
        lambda: watts(level_db=105.0, distance_m=2.5, sensitivity_db=89.0),
    )  # fmt: skip

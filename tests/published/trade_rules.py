"""The trade's own rules (common practice, no source), and how far each holds by computation."""

import math
from collections.abc import Iterator

import numpy as np

from aiming.base.air import Air, absorption_db_per_m
from aiming.base.bands import exact_midband_hz
from aiming.rigging.bridle import leg_factor
from aiming.speaker.lobes import nominal_pattern
from aiming.speaker.pattern import EDGE_DB

from .rule_of_thumb import FORMULA, TABLE, excess_db, loudest
from .statics import two_legs


def air_db(nominal_hz: float, distance_m: float) -> float:
    """What 20 °C and 50 % take over this distance."""
    return distance_m * float(absorption_db_per_m(exact_midband_hz(nominal_hz), Air()))


def edge_two_octaves_below_control_db() -> float:
    pattern = nominal_pattern(
        above_deg=30.0, below_deg=30.0, bands_hz=(250.0,), control_from_hz=1000.0
    )
    return float(pattern.read_db(np.array(30.0))[0])


def trade_rules() -> Iterator[tuple[str, str]]:
    """(the rule as the trade says it, how far it holds)."""
    excess = [excess_db(name, row[0]) for name in FORMULA for row in TABLE]
    share = [loudest(name, row[0])[0] for name in FORMULA for row in TABLE]
    yield (
        "a point at *d* on the coverage edge is as loud as one at 2*d* on the axis",
        f"exact for an edge {EDGE_DB:.2f} dB down and without air; from 10 to 20 m the far one "
        f"loses {air_db(1000.0, 10.0):.2f} dB more at 1 kHz and {air_db(8000.0, 10.0):.2f} dB "
        "at 8 kHz",
    )
    yield (
        "the straight line between the two is equally loud",
        f"no: its middle is louder than its ends by {min(excess):.1f} to {max(excess):.1f} dB, "
        f"most at {100 * min(share):.0f} to {100 * max(share):.0f} % of the way from the near "
        "end; the line of equal level is a curve",
    )
    yield (
        "and of one tone",
        f"no: high against low follows the pattern, by {EDGE_DB:.2f} dB from end to end where "
        "the low band does not fall off at the edge",
    )
    yield (
        "twice the distance costs 6 dB",
        f"{20 * math.log10(2):.2f} dB by spreading at every frequency; from 20 to 40 m the air "
        f"takes {air_db(1000.0, 20.0):.2f} dB more at 1 kHz and {air_db(8000.0, 20.0):.2f} dB "
        "at 8 kHz",
    )
    yield (
        "low frequencies hardly change at the coverage edge",
        "two octaves below the loss of control a nominal lobe is down there by "
        f"{-edge_two_octaves_below_control_db():.2f} dB, against {EDGE_DB:.2f} dB above it",
    )
    half_load_n = 500.0 * leg_factor(math.degrees(math.atan2(2.0, 1.5)))
    yield (
        "a bridle's leg bears half the load over the sine of its angle",
        "exact for two equal legs alone; 1000 N on legs 2 m and 1.5 m down, 1.5 m and 2 m out: "
        f"{two_legs().legs[0].tension_n:.0f} N by equilibrium, {half_load_n:.0f} N by the rule",
    )

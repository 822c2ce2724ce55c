"""Ground stacks in wind, and the limits of rigging that are read off published rules."""

from collections.abc import Callable, Iterator

import numpy as np

from aiming.rigging import limits
from aiming.rigging.ground_stack import (
    FORCE_COEFFICIENT,
    Block,
    Stability,
    stack_stability,
    standing_stack,
    wind_pressure_pa,
)
from aiming.rigging.limits import kept_share
from aiming.speaker.cabinet import Cabinet
from aiming.speaker.rigging import DEFAULT_WLL_SHARE
from aiming.speaker.stack import Stack

from .check import Check, Status
from .statics import POUND_N

INCH_M, POUND_KG = 0.0254, 0.45359237


def in_wind() -> Stability:
    """90 kg, centre 0.75 m up, edges 0.26 and 0.34 m away, 0.90 m² at 0.75 m, 15 m/s, c_f 1.5."""
    return stack_stability(
        (Block("box", 90.0, (0.0, 0.75), wind_area_m2=0.90, wind_z_m=0.75),),
        front_x_m=0.26,
        rear_x_m=-0.34,
        gust_speed_m_s=15.0,
        friction=0.3,
        force_coefficient=1.5,
    )


def pushed() -> Stability:
    """250 lb, 32 in wide, pushed by one newton at 66 in: a safety is the push that upsets it."""
    block = Block(
        "case",
        250.0 * POUND_KG,
        (0.0, 1.0),
        wind_area_m2=1.0 / (FORCE_COEFFICIENT * wind_pressure_pa(1.0)),
        wind_z_m=66.0 * INCH_M,
    )
    return stack_stability(
        (block,),
        front_x_m=16.0 * INCH_M,
        rear_x_m=-16.0 * INCH_M,
        gust_speed_m_s=1.0,
        friction=0.4,
    )


def known(value: float | None) -> float:
    assert value is not None
    return value


IN_WIND: dict[str, tuple[float, float, str, Callable[[], float]]] = {
    "pressure at 15 m/s": (140.6, 0.05, "Pa", lambda: in_wind().pressure_pa),
    "force of the wind": (189.8, 0.05, "N", lambda: in_wind().wind_n),
    "tips by itself over the front at": (19.12, 0.005, "°", lambda: in_wind().front.tip_deg),
    "tips by itself over the rear at": (24.39, 0.005, "°", lambda: in_wind().rear.tip_deg),
    "holds over the front": (1.61, 0.005, "times", lambda: known(in_wind().front.safety)),
    "holds over the rear": (2.11, 0.005, "times", lambda: known(in_wind().rear.safety)),
    "holds against sliding": (1.39, 0.0051, "times", lambda: known(in_wind().sliding_safety)),
}
DGUV, ASME = "DGUV Information 215-313", "ASME B30.9 and B30.26, through training texts"
EUROCODE = "EN 1991-1-4"
RULES: tuple[tuple[str, str, Status, float, str, Callable[[], float]], ...] = (
    ("share of a marked limit used over people", f"{DGUV}, Table 1", "V", 0.5, "",
     lambda: DEFAULT_WLL_SHARE),
    ("longest fall of a secondary suspension", f"{DGUV}, §1.3", "V", 0.20, "m",
     lambda: limits.SECONDARY_FALL_MOST.value),
    ("flattest leg, above level", ASME, "V2", 30.0, "°", lambda: limits.LEG_ELEVATION_LEAST.value),
    ("widest between two legs", ASME, "V2", 120.0, "°", lambda: limits.INCLUDED_ANGLE_MOST.value),
    ("force coefficient of a sign-board", EUROCODE, "V2", 1.8, "", lambda: FORCE_COEFFICIENT),
    ("wind pressure at 1 m/s, air of 1.25 kg/m³", EUROCODE, "V2", 0.625, "Pa",
     lambda: wind_pressure_pa(1.0)),
)  # fmt: skip
PRESSURES_PA = {10.0: 62.5, 15.0: 140.6, 20.0: 250.0, 28.4: 504.1}
FRICTION = {
    "anti-slip mat": 0.6, "steel crate on laminated plywood": 0.45,
    "plastic on laminated plywood": 0.2, "plastic on grooved aluminium": 0.15,
}  # fmt: skip


def slides_at(friction: float) -> float:
    """Tangent of the slope from which a box on this friction slides by itself."""
    crate = Cabinet(
        mass_kg=40.0,
        centre_of_gravity_m=(-0.2, 0.0),
        outline_m=np.array([[-0.4, -0.3], [0.0, -0.3], [0.0, 0.3], [-0.4, 0.3]]),
    )
    found = standing_stack(
        crate, Stack(friction=friction), flipped=False, tilt_deg=-10.0, at_m=(0.0, 1.0), base_m=0.5
    )
    assert isinstance(found, Stability) and found.box is not None
    # At this slope what holds is just what pushes: the safety on the wedge, times its tangent.
    return known(found.box.sliding_safety) * float(np.tan(np.radians(found.box.wedge_deg)))


KEPT = {
    ("shackle", 45): 0.70, ("shackle", 90): 0.50, ("shoulder eyebolt", 15): 0.80,
    ("shoulder eyebolt", 30): 0.65, ("shoulder eyebolt", 45): 0.30, ("shoulder eyebolt", 90): 0.25,
    ("shackle", 0): 1.0, ("plain eyebolt", 0): 1.0,
}  # fmt: skip


def checks() -> Iterator[Check]:
    topic = "Stacks and limits of rigging"
    for quantity, (published, within, unit, compute) in IN_WIND.items():
        yield Check(
            topic, f"stack of 90 kg in wind: {quantity}", "closed form", "C", published, within,
            unit, compute,
        )  # fmt: skip
    example = "statics worked example, Mississippi State"
    yield Check(
        topic, "case of 250 lb: tips at", example, "V", 60.6, 0.05, "lb",
        lambda: known(pushed().front.safety) / POUND_N,
    )  # fmt: skip
    yield Check(
        topic, "case of 250 lb: slides at", example, "V", 100.0, 0.05, "lb",
        lambda: known(pushed().sliding_safety) / POUND_N,
    )  # fmt: skip
    for quantity, source, status, published, unit, compute in RULES:
        yield Check(topic, quantity, source, status, published, 1e-9, unit, compute)
    for speed, pressure in PRESSURES_PA.items():
        yield Check(
            topic, f"wind pressure at {speed:g} m/s, 0.625·v²", f"{EUROCODE}, eq. 4.10, note 2",
            "C", pressure, 0.05, "Pa", lambda v=speed: wind_pressure_pa(v),
        )  # fmt: skip
    yield Check(
        topic, "wind pressure at 40.9 m/s", f"{EUROCODE} §4.5, in a worked sheet", "V2", 1.046,
        0.001, "kPa", lambda: wind_pressure_pa(40.9) / 1000.0,
    )  # fmt: skip
    for what, friction in FRICTION.items():
        yield Check(
            topic, f"{what}: friction, from the slope that a wedge slides at",
            "EN 12195-1, through a dealer", "V2", friction, 1e-9, "",
            lambda mu=friction: slides_at(mu),
        )  # fmt: skip
    for (fitting, angle), share in KEPT.items():
        yield Check(
            topic, f"{fitting} pulled {angle}° off its axis keeps",
            "training texts on ASME B30.26, which vary", "V2", share, 1e-9, "",
            lambda f=fitting, a=angle: kept_share(f, a),
        )  # fmt: skip

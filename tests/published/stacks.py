"""Ground stacks in wind, and pushed over."""

from collections.abc import Callable, Iterator

from aiming.rigging.ground_stack import (
    FORCE_COEFFICIENT,
    Block,
    Stability,
    stack_stability,
    wind_pressure_pa,
)

from .check import Check
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


def checks() -> Iterator[Check]:
    topic = "Stacks"
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
    yield Check(
        topic, "wind pressure at 1 m/s, air of 1.25 kg/m³", "EN 1991-1-4", "V2", 0.625, 1e-9, "Pa",
        lambda: wind_pressure_pa(1.0),
    )  # fmt: skip

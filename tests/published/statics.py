"""Worked examples of the statics, each computed by at least two independent codes (virtual work,
full equilibrium); where an example has a published source it is named.

Their frame is nose-down: φ = −tilt.  g = 9.80665 m/s².
"""

from collections.abc import Callable, Iterator

import numpy as np

from aiming.rigging import bridle, loads_at, reachable_tilt_deg
from aiming.rigging.bridle import Bridle, leg_factor
from aiming.rigging.centre_of_gravity import Weighing, centre_found
from aiming.rigging.loads import Loads
from aiming.speaker.cabinet import Cabinet, Pick
from aiming.speaker.rigging import Rigging

from .check import Check

POUND_N, FOOT_M = 4.4482216152605, 0.3048
HALF_DIGIT_N = 0.005


def cabinet_of(*picks: tuple[str, float, float]) -> Cabinet:
    """45 kg; picks relative to the centre of gravity, which is the acoustic centre here."""
    return Cabinet(
        mass_kg=45.0,
        centre_of_gravity_m=(0.0, 0.0),
        picks=tuple(Pick(name=name, at_m=(u, w)) for name, u, w in picks),
    )


TWO = Rigging(method="two points", picks=("front", "rear"))
LEVEL_PICKS = cabinet_of(("front", 0.28, 0.35), ("rear", -0.22, 0.35))
STEP_PICKS = cabinet_of(("front", 0.28, 0.30), ("rear", -0.22, 0.35))
PULL_PICKS = cabinet_of(("carry", 0.05, 0.35), ("pull", -0.25, -0.30))
BAR_BOX = Cabinet(mass_kg=45.0, centre_of_gravity_m=(0.03, 0.0), picks=(Pick("front", (0.0, 0.3)),))
BAR = Rigging(
    method="one point", picks=("front",), holes_u_m=(-0.050, -0.025, 0.0, 0.025), bar_w_m=0.40
)

# nose down: front and rear
LEVEL_N = {0: (194.17, 247.13), 10: (139.70, 301.60), 20: (81.74, 359.56), 30: (15.82, 425.48)}
STEP_N = {10: (142.21, 299.09)}
# tilt, positive up
BOTH_TAUT_DEG = (-32.15, 38.66)
TENTH_EACH_DEG = (-25.91, 33.31)
STEP_TAUT_DEG = (-32.15, 43.03)
# hole, nose down there, and what 10 mm of doubt in the centre of gravity is
HOLES_DEG = (
    (-0.050, 11.31, 1.377),
    (-0.025, 7.83, 1.406),
    (0.0, 4.29, 1.424),
    (0.025, 0.72, 1.432),
)
# elevation of the pulling line: pull, carrying line, its lean forward
PULL_BACK = {
    -30: (391.3, 721.5, 28.0), 0: (144.7, 464.4, 18.2), 30: (106.3, 398.9, 13.3),
    60: (106.5, 353.1, 8.7), 90: (145.9, 295.4, 0.0),
}  # fmt: skip
LEG_FACTOR = {75: 1.035, 60: 1.155, 45: 1.414, 30: 2.000}
MAKERS_FACTOR = {
    90: 1.0, 85: 1.004, 80: 1.015, 75: 1.035, 70: 1.064, 65: 1.104, 60: 1.155, 55: 1.221,
    50: 1.305, 45: 1.414, 40: 1.555, 35: 1.742, 30: 2.0,
}  # fmt: skip

Line = tuple[str, float, float, str, Callable[[], float]]
"""(quantity, published, tolerance, unit, compute)."""


def pull_back(elevation_deg: float) -> Rigging:
    return Rigging("pull-back", ("carry", "pull"), pull_elevation_deg=elevation_deg)


def hung(cabinet: Cabinet, rigging: Rigging, nose_down_deg: float) -> Loads:
    loads = loads_at(cabinet, rigging, flipped=False, tilt_deg=-nose_down_deg)
    assert isinstance(loads, Loads)
    return loads


def tension_n(cabinet: Cabinet, rigging: Rigging, nose_down_deg: float, place: int) -> float:
    return hung(cabinet, rigging, nose_down_deg).points[place].tension_n


def least_pull() -> tuple[float, float]:
    """(elevation in degrees, N), read in steps of a hundredth of a degree."""
    elevation = np.arange(44.0, 45.5, 0.01)
    pull = [tension_n(PULL_PICKS, pull_back(float(one)), 20.0, 1) for one in elevation]
    return float(elevation[np.argmin(pull)]), float(min(pull))


def two_legs() -> Bridle:
    return bridle(load_n=1000.0, drops_m=(2.0, 1.5), reaches_m=(1.5, 2.0))


def lesson_legs() -> Bridle:
    return bridle(
        load_n=500.0 * POUND_N,
        drops_m=(4.0 * FOOT_M, 3.0 * FOOT_M),
        reaches_m=(3.0 * FOOT_M, 6.0 * FOOT_M),
    )


def of_two_points() -> Iterator[Line]:
    """T_F/W = (a − h·tan φ)/s with s 0.50, a 0.22, b 0.28, h 0.35 m; then the front 50 mm lower."""
    boxes = (("picks at one height", LEVEL_PICKS, LEVEL_N),
             ("front pick 50 mm lower", STEP_PICKS, STEP_N))  # fmt: skip
    for name, box, table in boxes:
        for down, pair in table.items():
            for place, end in enumerate(("front", "rear")):
                yield (
                    f"two points, {name}, nose down {down}°: {end}", pair[place], HALF_DIGIT_N,
                    "N", lambda b=box, d=down, k=place: tension_n(b, TWO, d, k),
                )  # fmt: skip
    for place, side in enumerate(("lowest", "highest")):
        yield (
            f"two points, {side} tilt with both taut", BOTH_TAUT_DEG[place], 0.005, "°",
            lambda k=place: hung(LEVEL_PICKS, TWO, 0.0).tilt_range_deg[k],
        )  # fmt: skip
        yield (
            f"two points, {side} tilt with a tenth on each", TENTH_EACH_DEG[place], 0.005, "°",
            lambda k=place: hung(LEVEL_PICKS, TWO, 0.0).least_share_tilt_range_deg[k],
        )  # fmt: skip
        yield (
            f"two points, front 50 mm lower, {side} tilt with both taut", STEP_TAUT_DEG[place],
            0.005, "°",
            lambda k=place: reachable_tilt_deg(STEP_PICKS, TWO, flipped=False).range_deg[k],
        )  # fmt: skip


def hole_tilt_deg(place: int) -> float:
    return reachable_tilt_deg(BAR_BOX, BAR, flipped=False).tilts_deg[place]


def of_one_line() -> Iterator[Line]:
    """tan φ = (u_G − u_H)/h with h 0.40, u_G 0.03 m; then a pull back at 45 kg, nose down 20°."""
    for place, (hole, down, doubt) in enumerate(HOLES_DEG):
        name = f"one point, hole at {1000 * hole:g} mm"
        yield f"{name}: nose down", down, 0.005, "°", lambda k=place: -hole_tilt_deg(k)
        yield (
            f"{name}: 10 mm of doubt in the centre of gravity", doubt, 0.0006, "°",
            lambda k=place: hung(BAR_BOX, BAR, -hole_tilt_deg(k)).doubt_deg,
        )  # fmt: skip
    for beta, (pull, carried, lean) in PULL_BACK.items():
        name = f"pull-back at {beta}°, nose down 20°"
        yield (
            f"{name}: pull", pull, 0.06, "N",
            lambda b=beta: tension_n(PULL_PICKS, pull_back(b), 20.0, 1),
        )  # fmt: skip
        yield (
            f"{name}: carrying line", carried, 0.06, "N",
            lambda b=beta: tension_n(PULL_PICKS, pull_back(b), 20.0, 0),
        )  # fmt: skip
        yield (
            f"{name}: its lean forward", lean, 0.06, "°",
            lambda b=beta: hung(PULL_PICKS, pull_back(b), 20.0).points[0].lean_deg,
        )  # fmt: skip
    yield "pull-back, least pull: elevation", 44.78, 0.011, "°", lambda: least_pull()[0]
    yield "pull-back, least pull", 102.75, HALF_DIGIT_N, "N", lambda: least_pull()[1]


def of_a_bridle() -> Iterator[Line]:
    for place, newtons in enumerate((800.0, 600.0)):
        yield (
            f"bridle, 1000 N, 2/1.5 m down, 1.5/2 m out: leg {place + 1}", newtons, 1e-9, "N",
            lambda k=place: two_legs().legs[k].tension_n,
        )  # fmt: skip
    yield "same bridle, level force", 480.0, 1e-9, "N", lambda: two_legs().horizontal_n
    yield "same bridle, between the legs", 90.0, 1e-9, "°", lambda: two_legs().included_deg


def equal_leg(elevation_deg: float) -> float:
    """Tension of one of two equal legs under 2, from equilibrium."""
    reach = float(1.0 / np.tan(np.radians(elevation_deg)))
    return bridle(load_n=2.0, drops_m=(1.0, 1.0), reaches_m=(reach, reach)).legs[1].tension_n


def leg_by_length(load: float, length: float, height: float) -> float:
    """Tension of one of two like legs under twice the load: length over height times the load."""
    reach = float(np.sqrt(length**2 - height**2))
    found = bridle(load_n=2.0 * load, drops_m=(height, height), reaches_m=(reach, reach))
    return found.legs[0].tension_n


def weighed_m(axis: int) -> float:
    """Where the centre of gravity lies re the rear pick, from the forces level and 10° down."""
    weighings = tuple(Weighing(-down, *LEVEL_N[down]) for down in (0, 10))
    found = centre_found(weighings, front=(0.50, 0.0), rear=(0.0, 0.0))
    assert found.w_m is not None
    return (found.u_m, found.w_m)[axis].value


def checks() -> Iterator[Check]:
    topic, codes = "Statics", "equilibrium; virtual work as the other code"
    for of in (of_two_points, of_one_line, of_a_bridle):
        for quantity, published, tolerance, unit, compute in of():
            yield Check(topic, quantity, codes, "C", published, tolerance, unit, compute)
    for place, pounds in enumerate((454.5, 304.9)):
        yield Check(
            topic, f"bridle, 500 lb, 4/3 ft down, 3/6 ft out: leg {place + 1}",
            "Hall, Rigging Math, lesson 4", "V", pounds, 0.05, "lb",
            lambda k=place: lesson_legs().legs[k].tension_n / POUND_N,
        )  # fmt: skip
    for angle, factor in MAKERS_FACTOR.items():
        yield Check(
            topic, f"tension factor of a leg {angle}° from the horizontal",
            "tables of two sling makers", "V2", factor, 0.002, "",
            lambda a=angle: leg_factor(float(a)),
        )  # fmt: skip
    for load, length, height, tension in (
        (500.0, 10.0, 5.0, 1000.0),
        (1200.0, 120.0, 96.0, 1500.0),
    ):
        yield Check(
            topic, f"leg of {length:g} over a height of {height:g}, lifting {load:g} lb",
            "tables of two sling makers", "V2", tension, 1e-6, "lb",
            lambda of=(load, length, height): leg_by_length(*of),
        )  # fmt: skip
    for axis, (name, place) in enumerate((("ahead of the rear pick", 0.22), ("above it", -0.35))):
        yield Check(
            topic, f"weighed level and nose down 10°: centre of gravity {name}", codes, "C", place,
            0.0003, "m", lambda k=axis: weighed_m(k),
        )  # fmt: skip
    for angle, factor in LEG_FACTOR.items():
        yield Check(
            topic, f"factor of a leg {angle}° above level", "trade tables", "V2", factor, 0.0005,
            "", lambda a=angle: leg_factor(float(a)),
        )  # fmt: skip
        yield Check(
            topic, f"the same from a bridle's equilibrium, {angle}°", "trade tables", "V2",
            factor, 0.0005, "", lambda a=angle: equal_leg(float(a)),
        )  # fmt: skip

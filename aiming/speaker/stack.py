"""How a loudspeaker stands: what the person declares of a ground stack, nothing computed."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Standing:
    """Something else on the same base: a box, a riser, ballast.

    at_m: (x, z) of its centre of gravity from the datum
    wind_area_m2, wind_z_m: what the wind sees of it, and the middle's z; z of at_m if not given
    """

    name: str
    mass_kg: float
    at_m: tuple[float, float]
    wind_area_m2: float = 0.0
    wind_z_m: float | None = None


@dataclass(frozen=True)
class Stack:
    """One stack; None means not stated, never assumed.

    footprint_m: x of the rear and the front tipping edge from the acoustic centre; where not given
        the ends of the face that the box stands on
    ground_m: z of what that footprint stands on, where it is not the base the box stands on
    friction: coefficient between base and ground, and between the box and what it stands on
    wind_area_m2: of the box, seen along the section; its middle is the outline's mid-height
    force_coefficient: c_f of the wind force
    ballast_x_m: where ballast goes, x from the acoustic centre; the middle of the footprint
    margin, margin_source: what holds over what upsets must reach, and who asks for that
    also: what else stands on the base
    tied: the box is fixed to what it stands on, so that it neither tips nor slides off it alone
    """

    footprint_m: tuple[float, float] | None = None
    ground_m: float | None = None
    friction: float | None = None
    wind_area_m2: float | None = None
    force_coefficient: float | None = None
    ballast_x_m: float | None = None
    margin: float | None = None
    margin_source: str = ""
    also: tuple[Standing, ...] = ()
    tied: bool = False

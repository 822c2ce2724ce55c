"""A box on its base: where its acoustic centre is, what it tips over, and how firm it stands."""

from dataclasses import replace

import numpy as np

from ..speaker.cabinet import Cabinet, turned_m
from ..speaker.stack import Stack
from .body import NotChecked, Point, RiggingError
from .limits import STACK_MARGIN
from .stack import FORCE_COEFFICIENT, Block, Stability, stack_stability


def footprint_m(cabinet: Cabinet, *, tilt_deg: float, flipped: bool) -> tuple[float, float] | None:
    """x of the rear and the front tipping edge from the acoustic centre; None without an outline.

    The face that looks down most stands on the base, wedged where it is raised: its two ends are
    the edges.  A box fixed to a wider plate has that plate's edges instead.
    """
    if cabinet.outline_m is None:
        return None
    corners = turned_m(cabinet.outline_m, tilt_deg=tilt_deg, flipped=flipped)
    along = np.roll(corners, -1, axis=0) - corners
    x, z = corners[:, 0], corners[:, 1]
    turning = np.sign(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z))
    # The outward normal's z of an edge that runs counter-clockwise is −dx/length.
    length = np.hypot(along[:, 0], along[:, 1])
    downward = turning * along[:, 0] / np.where(length > 0.0, length, np.inf)
    face = int(np.argmax(downward))
    ends = (float(x[face]), float(x[(face + 1) % len(x)]))
    return min(ends), max(ends)


def standing_height_m(cabinet: Cabinet, *, base_m: float, tilt_deg: float, flipped: bool) -> float:
    """z of the acoustic centre of a box whose lowest corner stands on base_m.

    Raises RiggingError without an outline.
    """
    if cabinet.outline_m is None:
        raise RiggingError("a stacked box on a base needs an outline, or give its height")
    corners = turned_m(cabinet.outline_m, tilt_deg=tilt_deg, flipped=flipped)
    return base_m - float(corners[:, 1].min())


def standing_stack(
    cabinet: Cabinet | None,
    stack: Stack,
    *,
    flipped: bool,
    tilt_deg: float,
    at_m: Point,
    base_m: float,
    gust_speed_m_s: float = 0.0,
) -> Stability | NotChecked:
    """Margins of a box and of what stands with it; NotChecked says what is missing.

    at_m: (x, z) of the acoustic centre; base_m: z of what the box stands on
    Wind is in it only where the box's wind area is given too.
    Raises RiggingError for a footprint out of order or a mass that is not positive.
    """
    if cabinet is None or cabinet.mass_kg is None or cabinet.centre_of_gravity_m is None:
        return NotChecked("stack not checked: the cabinet's mass or centre of gravity not given")
    edges = stack.footprint_m or footprint_m(cabinet, tilt_deg=tilt_deg, flipped=flipped)
    if edges is None:
        return NotChecked("stack not checked: neither footprint nor outline given")
    if gust_speed_m_s > 0.0 and stack.wind_area_m2 is None:
        return NotChecked("stack not checked in wind: its wind area is not given")
    centre = turned_m(cabinet.centre_of_gravity_m, tilt_deg=tilt_deg, flipped=flipped)
    middle = 0.0
    if cabinet.outline_m is not None:
        corners_z = turned_m(cabinet.outline_m, tilt_deg=tilt_deg, flipped=flipped)[:, 1]
        middle = 0.5 * float(corners_z.min() + corners_z.max())
    ground_m = base_m if stack.ground_m is None else stack.ground_m
    up = at_m[1] - ground_m
    blocks = [
        Block(
            "cabinet",
            cabinet.mass_kg,
            (float(centre[0]), up + float(centre[1])),
            wind_area_m2=stack.wind_area_m2 or 0.0,
            wind_z_m=up + middle,
        )
    ]
    for other in stack.also:
        z = other.at_m[1] if other.wind_z_m is None else other.wind_z_m
        at = (other.at_m[0] - at_m[0], other.at_m[1] - ground_m)
        blocks.append(Block(other.name, other.mass_kg, at, other.wind_area_m2, z - ground_m))
    asked = STACK_MARGIN
    if stack.margin is not None:
        source = stack.margin_source or "asked for in the scenario"
        asked = replace(STACK_MARGIN, value=stack.margin, source=source)
    return stack_stability(
        tuple(blocks),
        front_x_m=edges[1],
        rear_x_m=edges[0],
        gust_speed_m_s=gust_speed_m_s,
        friction=stack.friction,
        force_coefficient=stack.force_coefficient or FORCE_COEFFICIENT,
        ballast_x_m=stack.ballast_x_m,
        asked=asked,
    )


def centre_outside_outline(cabinet: Cabinet) -> bool | None:
    """Whether the centre of gravity lies outside the outline; None where either is not given.

    Counts the sides that a ray forward from it crosses: an even number is outside.
    """
    if cabinet.outline_m is None or cabinet.centre_of_gravity_m is None:
        return None
    u, w = cabinet.centre_of_gravity_m
    start, end = cabinet.outline_m, np.roll(cabinet.outline_m, -1, axis=0)
    spans = (start[:, 1] > w) != (end[:, 1] > w)
    rise = np.where(spans, end[:, 1] - start[:, 1], 1.0)
    crossing = start[:, 0] + (w - start[:, 1]) * (end[:, 0] - start[:, 0]) / rise
    return int(np.count_nonzero(spans & (crossing > u))) % 2 == 0

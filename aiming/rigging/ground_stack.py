"""Ground stacks: whether a stack on its base tips or slides, at rest and in wind.

           ____
    wind  |    |  ← F at z_F         tipping over an edge at horizontal distance m:
    ────► | G  |                     at rest by itself on a slope of atan(m/z_G);
          |_↓__|                     safety  W·m / (F·z_F)
         /wedge|                     sliding μ·W / F
    ─────o─────o─────
       rear  front                   F = c_f·½ρv²·A, from behind over the front edge and back

The box by itself on what it stands on, unless it is tied to that, is a second case: it tips over
the ends of its own face, and on a wedge at α it slides where

    μ·(W·cos α − F·sin α)  does not hold  W·sin α + F·cos α      (the wind pushing down the wedge)

Uplift, gusts against a swaying stack and the ground's own slope are not in it.
"""

from dataclasses import dataclass, replace
from typing import Annotated, Literal

import numpy as np

from ..base.described import Kind
from ..base.limit import Limit
from ..base.units import G_M_S2
from ..speaker.cabinet import Cabinet, turned_m
from ..speaker.stack import Stack
from .body import NotChecked, Point, RiggingError, combined
from .limits import STACK_MARGIN
from .wind import AIR_DENSITY_KG_M3, FORCE_COEFFICIENT, wind_pressure_pa

GROUND_M = 1e-3
"""What lies this little below the ground is a rounding of the file."""
WEDGE_DEG = 0.05
"""A face that leans less than this stands flat: what an inclinometer can still tell."""


@dataclass(frozen=True)
class Block:
    """One thing of a stack: a box, a riser, ballast.

    at_m: (x, z) of its centre of gravity, z above the ground that the base stands on
    wind_area_m2, wind_z_m: area that the wind sees, and the height of its middle
    """

    name: str
    mass_kg: float
    at_m: Point
    wind_area_m2: float = 0.0
    wind_z_m: float = 0.0


@dataclass(frozen=True)
class Edge:
    """Tipping over one edge."""

    name: Annotated[str, "`front` or `rear`"]
    margin_m: Annotated[float, "centre of gravity inside the edge, m; negative: it tips by itself"]
    tip_deg: Annotated[float, "slope at which it would tip by itself, degrees"]
    safety: Annotated[float | None, "holding over upsetting moment in the wind; null without wind"]
    ballast_arm_m: Annotated[float, "ballast inside the edge, m"]
    ballast_kg: Annotated[
        float | None, "least mass there that reaches what is asked, kg; null where none can"
    ]


@dataclass(frozen=True)
class BoxAlone:
    """The box by itself on the face of its own that it stands on."""

    front: Annotated[Edge, "tipping over the front end of its own face"]
    rear: Annotated[Edge, "tipping over the rear end of its own face"]
    weight_n: Annotated[float, "its weight, N"]
    wind_n: Annotated[float, "the wind on it, N"]
    centre_z_m: Annotated[float, "its centre of gravity over what it stands on, m"]
    wedge_deg: Annotated[float, "how far that face is from level, degrees"]
    raised: Annotated[
        Literal["front", "rear", ""],
        "`front` or `rear`, the end that is raised; empty where it stands flat",
    ]
    wedge_height_m: Annotated[float, "how much higher that end stands, m"]
    face_m: Annotated[float, "length of that face, m"]
    rear_x_m: Annotated[float, "its rear end, m from the acoustic centre"]
    front_x_m: Annotated[float, "its front end, m from the acoustic centre"]
    slides_deg: Annotated[
        float | None, "slope at which it slides by itself, degrees; null without friction"
    ]
    sliding_safety: Annotated[
        float | None,
        "friction over what pushes it down the wedge, wind included; null without friction or "
        "where nothing pushes",
    ]


@dataclass(frozen=True)
class Stability:
    """A stack's margins, at rest and in the wind that it was held against."""

    mass_kg: Annotated[float, "of everything that stands on the base, kg"]
    centre_of_gravity_m: Annotated[
        Point, Kind("[x, z]"), "x from the acoustic centre, z above the ground, m"
    ]
    gust_speed_m_s: Annotated[float, "wind that it was held against, m/s; 0 where none is"]
    density_kg_m3: Annotated[float, "of the air, kg/m³"]
    force_coefficient: Annotated[float, "of the wind force"]
    friction: Annotated[float | None, "coefficient between base and ground; null where not given"]
    wind_area_m2: Annotated[float, "everything that the wind sees, m²"]
    wind_z_m: Annotated[float, "its middle above the ground, m; 0 without an area"]
    pressure_pa: Annotated[float, "½ρv², Pa"]
    wind_n: Annotated[float, "the force on all of it, N"]
    front: Annotated[Edge, "tipping over the front edge, in wind from behind"]
    rear: Annotated[Edge, "tipping over the rear edge, in wind from ahead"]
    sliding_safety: Annotated[
        float | None, "friction over wind; null without wind or without friction"
    ]
    sliding_ballast_kg: Annotated[
        float, "least mass against sliding, kg; 0 where sliding was not checked"
    ]
    ballast_kg: Annotated[
        float | None, "the least that serves both edges and sliding, kg; null where none can"
    ]
    asked: Annotated[float, "what holds over what upsets must reach, times"]
    asked_source: Annotated[str, "who asks for that"]
    rear_x_m: Annotated[float, "rear tipping edge, m from the acoustic centre"]
    front_x_m: Annotated[float, "front tipping edge, m from the acoustic centre"]
    ballast_x_m: Annotated[float, "where ballast is reckoned to go, m from the acoustic centre"]
    box: Annotated[
        BoxAlone | None,
        "the box by itself on what it stands on; null where it is tied, or without an outline",
    ] = None
    tied: Annotated[bool, "whether the file says that the box is fixed to what it stands on"] = (
        False
    )
    wind_checked: Annotated[bool, "false where a wind is given and the wind area is not"] = True


def stack_stability(
    blocks: tuple[Block, ...],
    *,
    front_x_m: float,
    rear_x_m: float,
    gust_speed_m_s: float = 0.0,
    friction: float | None = None,
    force_coefficient: float = FORCE_COEFFICIENT,
    density_kg_m3: float = AIR_DENSITY_KG_M3,
    ballast_x_m: float | None = None,
    asked: Limit = STACK_MARGIN,
) -> Stability:
    """Margins of everything that stands on one base between two edges.

    ballast_x_m: where ballast would go; the middle of the base where not given
    Raises RiggingError for an empty stack, a mass that is not positive, edges out of order, or
    something that lies below the ground that it stands on.
    """
    if not blocks:
        raise RiggingError("a stack needs at least one box")
    for block in blocks:
        _refuse_block(block)
    if not front_x_m > rear_x_m:
        raise RiggingError(
            f"base from {rear_x_m:g} to {front_x_m:g} m; the front edge must lie ahead of the rear"
        )
    mass_kg, (x_m, z_m) = combined(tuple((block.mass_kg, block.at_m) for block in blocks))
    pressure = wind_pressure_pa(gust_speed_m_s, density_kg_m3=density_kg_m3)
    areas = np.array([block.wind_area_m2 for block in blocks])
    heights = np.array([block.wind_z_m for block in blocks])
    area_m2 = float(areas.sum())
    wind_n = force_coefficient * pressure * area_m2
    upsetting_nm = force_coefficient * pressure * float(areas @ heights)
    weight_n = mass_kg * G_M_S2
    ballast_x = 0.5 * (front_x_m + rear_x_m) if ballast_x_m is None else ballast_x_m

    def edge(name: str, margin_m: float, ballast_arm_m: float) -> Edge:
        short_nm = asked.value * upsetting_nm - weight_n * margin_m
        ballast: float | None = 0.0
        if short_nm > 0.0:
            per_kg = G_M_S2 * ballast_arm_m
            ballast = short_nm / per_kg if per_kg > 0.0 else None
        return Edge(
            name=name,
            margin_m=margin_m,
            tip_deg=float(np.degrees(np.arctan2(margin_m, z_m))),
            safety=weight_n * margin_m / upsetting_nm if upsetting_nm > 0.0 else None,
            ballast_arm_m=ballast_arm_m,
            ballast_kg=ballast,
        )

    front = edge("front", front_x_m - x_m, front_x_m - ballast_x)
    rear = edge("rear", x_m - rear_x_m, ballast_x - rear_x_m)
    sliding, against_sliding = None, 0.0
    if friction is not None and wind_n > 0.0:
        sliding = friction * weight_n / wind_n
        short_n = asked.value * wind_n / friction - weight_n
        against_sliding = max(0.0, short_n / G_M_S2)
    ballasts = (front.ballast_kg, rear.ballast_kg, against_sliding)
    known = [ballast for ballast in ballasts if ballast is not None]
    return Stability(
        mass_kg=mass_kg,
        centre_of_gravity_m=(x_m, z_m),
        gust_speed_m_s=gust_speed_m_s,
        density_kg_m3=density_kg_m3,
        force_coefficient=force_coefficient,
        friction=friction,
        wind_area_m2=area_m2,
        wind_z_m=float(areas @ heights) / area_m2 if area_m2 > 0.0 else 0.0,
        pressure_pa=pressure,
        wind_n=wind_n,
        front=front,
        rear=rear,
        sliding_safety=sliding,
        sliding_ballast_kg=against_sliding,
        ballast_kg=max(known) if len(known) == len(ballasts) else None,
        asked=asked.value,
        asked_source=asked.source,
        rear_x_m=rear_x_m,
        front_x_m=front_x_m,
        ballast_x_m=ballast_x,
    )


def _refuse_block(block: Block) -> None:
    if not block.mass_kg > 0.0:
        raise RiggingError(f"{block.name}: mass {block.mass_kg:g} kg; more than 0 is needed")
    for what, z in (("centre of gravity", block.at_m[1]), ("wind area", block.wind_z_m)):
        if z < -GROUND_M:
            raise RiggingError(
                f"{block.name}: its {what} lies {-z:.2f} m below the ground that the stack stands "
                "on; correct its z, or give the ground's (`ground`)"
            )


@dataclass(frozen=True)
class Face:
    """The face that a box stands on: x of its two ends from the acoustic centre, and its lean.

    lean_deg: of the face from level, positive with its rear end raised (the box nose-down)
    """

    rear_x_m: float
    front_x_m: float
    length_m: float
    lean_deg: float


def standing_face(cabinet: Cabinet, *, tilt_deg: float, flipped: bool) -> Face | None:
    """The face that looks down most, wedged where it is raised; None without an outline."""
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
    ends = sorted((tuple(corners[face]), tuple(corners[(face + 1) % len(x)])))
    (rear_x, rear_z), (front_x, front_z) = ends
    lean = float(np.degrees(np.arctan2(rear_z - front_z, front_x - rear_x)))
    return Face(float(rear_x), float(front_x), float(length[face]), lean)


def footprint_m(cabinet: Cabinet, *, tilt_deg: float, flipped: bool) -> tuple[float, float] | None:
    """x of the rear and the front tipping edge from the acoustic centre; None without an outline.

    The ends of the face that the box stands on.  A stack on a wider plate has that plate's edges.
    """
    face = standing_face(cabinet, tilt_deg=tilt_deg, flipped=flipped)
    return None if face is None else (face.rear_x_m, face.front_x_m)


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
    Raises RiggingError for a footprint out of order, a mass that is not positive, a ground above
    the base, or something that lies below that ground.
    """
    if cabinet is None or cabinet.mass_kg is None or cabinet.centre_of_gravity_m is None:
        return NotChecked("stack not checked: the cabinet's mass or centre of gravity not given")
    edges = stack.footprint_m or footprint_m(cabinet, tilt_deg=tilt_deg, flipped=flipped)
    if edges is None:
        return NotChecked("stack not checked: neither footprint nor outline given")
    if gust_speed_m_s > 0.0 and stack.wind_area_m2 is None:
        return NotChecked("stack not checked in wind: its wind area is not given")
    ground_m = base_m if stack.ground_m is None else stack.ground_m
    if ground_m > base_m + GROUND_M:
        raise RiggingError(
            f"the ground at {ground_m:g} m lies above the base of {base_m:g} m that the box "
            "stands on"
        )
    box = _box(cabinet, stack, flipped=flipped, tilt_deg=tilt_deg, up_m=at_m[1] - ground_m)
    blocks = [box]
    for other in stack.also:
        z = other.at_m[1] if other.wind_z_m is None else other.wind_z_m
        at = (other.at_m[0] - at_m[0], other.at_m[1] - ground_m)
        blocks.append(Block(other.name, other.mass_kg, at, other.wind_area_m2, z - ground_m))
    asked = STACK_MARGIN
    if stack.margin is not None:
        source = stack.margin_source or "asked for in the scenario"
        asked = replace(STACK_MARGIN, value=stack.margin, source=source)
    whole = stack_stability(
        tuple(blocks),
        front_x_m=edges[1],
        rear_x_m=edges[0],
        gust_speed_m_s=gust_speed_m_s,
        friction=stack.friction,
        force_coefficient=stack.force_coefficient or FORCE_COEFFICIENT,
        ballast_x_m=stack.ballast_x_m,
        asked=asked,
    )
    face = standing_face(cabinet, tilt_deg=tilt_deg, flipped=flipped)
    alone = None
    if face is not None and not stack.tied:
        # On its own face everything counts as one with the box; a footprint is of what it is on.
        on_face = tuple(blocks)
        if stack.footprint_m is not None:
            up = at_m[1] - base_m
            on_face = (_box(cabinet, stack, flipped=flipped, tilt_deg=tilt_deg, up_m=up),)
        alone = _alone(on_face, face, whole)
    return replace(whole, box=alone, tied=stack.tied)


def _box(cabinet: Cabinet, stack: Stack, *, flipped: bool, tilt_deg: float, up_m: float) -> Block:
    """The box as a block, its acoustic centre this high above what it is taken to stand on."""
    assert cabinet.mass_kg is not None and cabinet.centre_of_gravity_m is not None
    centre = turned_m(cabinet.centre_of_gravity_m, tilt_deg=tilt_deg, flipped=flipped)
    middle = 0.0
    if cabinet.outline_m is not None:
        corners_z = turned_m(cabinet.outline_m, tilt_deg=tilt_deg, flipped=flipped)[:, 1]
        middle = 0.5 * float(corners_z.min() + corners_z.max())
    return Block(
        "cabinet",
        cabinet.mass_kg,
        (float(centre[0]), up_m + float(centre[1])),
        wind_area_m2=stack.wind_area_m2 or 0.0,
        wind_z_m=up_m + middle,
    )


def _alone(blocks: tuple[Block, ...], face: Face, whole: Stability) -> BoxAlone:
    """The box on its own face: its edges, and what keeps it on its wedge."""
    own = stack_stability(
        blocks,
        front_x_m=face.front_x_m,
        rear_x_m=face.rear_x_m,
        gust_speed_m_s=whole.gust_speed_m_s,
        force_coefficient=whole.force_coefficient,
        asked=replace(STACK_MARGIN, value=whole.asked, source=whole.asked_source),
    )
    lean = abs(face.lean_deg)
    weight_n, slope = own.mass_kg * G_M_S2, np.radians(lean)
    pushes_n = weight_n * np.sin(slope) + own.wind_n * np.cos(slope)
    presses_n = weight_n * np.cos(slope) - own.wind_n * np.sin(slope)
    mu = whole.friction
    safety = None
    if mu is not None and pushes_n > 1e-9 * weight_n:
        safety = float(max(0.0, mu * presses_n) / pushes_n)
    raised: Literal["front", "rear", ""] = "rear" if face.lean_deg > 0.0 else "front"
    return BoxAlone(
        front=own.front,
        rear=own.rear,
        weight_n=weight_n,
        wind_n=own.wind_n,
        centre_z_m=own.centre_of_gravity_m[1],
        wedge_deg=lean,
        raised=raised if lean > WEDGE_DEG else "",
        wedge_height_m=float(face.length_m * np.sin(slope)),
        face_m=face.length_m,
        rear_x_m=face.rear_x_m,
        front_x_m=face.front_x_m,
        slides_deg=None if mu is None else float(np.degrees(np.arctan(mu))),
        sliding_safety=safety,
    )


def stack_stopped(found: Stability) -> bool:
    """Whether the stack or the box on it tips or slides by itself, or in the wind stated."""
    edges = [found.front, found.rear]
    slides = [found.sliding_safety]
    if found.box is not None:
        edges += [found.box.front, found.box.rear]
        slides.append(found.box.sliding_safety)
    return any(
        edge.margin_m <= 0.0 or (edge.safety is not None and edge.safety < 1.0) for edge in edges
    ) or any(safety is not None and safety < 1.0 for safety in slides)


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

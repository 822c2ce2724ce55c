"""What a drawn section is made of: its extent, its data, and how its labels look."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..answer.curves import Curves
from ..answer.level_map import Edges, LevelMap
from ..answer.model import Answer
from ..answer.shadow_lines import ShadowLines
from ..arrays import FloatArray
from ..scenario.scenario import Scenario
from ..units import FOOT_M
from . import drawing_style as look

_BESIDE = 0.2
"""How far beside the house, as a share of its size, watched points still count as part of it."""
_LABEL_BOX = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.8}


@dataclass(frozen=True)
class Extent:
    """What part of the section is drawn, in metres."""

    x_from: float
    x_to: float
    z_from: float
    z_to: float

    @property
    def width_m(self) -> float:
        """Along x."""
        return self.x_to - self.x_from

    @property
    def height_m(self) -> float:
        """Along z."""
        return self.z_to - self.z_from

    def widened(self, ratio: float) -> "Extent":
        """The same, grown to a ratio of width to height; upwards, and to both sides."""
        width = max(self.width_m, self.height_m * ratio)
        height = max(self.height_m, self.width_m / ratio)
        middle = 0.5 * (self.x_from + self.x_to)
        return Extent(middle - 0.5 * width, middle + 0.5 * width, self.z_from, self.z_from + height)

    def joined(self, other: "Extent") -> "Extent":
        """The smallest extent that holds both."""
        return Extent(
            min(self.x_from, other.x_from),
            max(self.x_to, other.x_to),
            min(self.z_from, other.z_from),
            max(self.z_to, other.z_to),
        )


def extent_of(scenario: Scenario, answer: Answer) -> Extent:
    """Everything that is drawn, the datum included, with a margin."""
    points = [np.zeros((1, 2))]
    for seating in scenario.seatings:
        points += [seating.floor_m, seating.audience_plane_m]
    points += [surface.line_m for surface in scenario.surfaces]
    if scenario.focus is not None:
        points.append(np.array([scenario.focus.at_m]))
    for one in answer.speakers:
        cabinet = scenario.speaker(one.name).cabinet
        reach = max(0.3, 0.0 if cabinet is None else cabinet.radius_m)
        place = np.array([one.x_m, one.height_m])
        points.append(np.stack([place - reach, place + reach]))
    every = np.concatenate(points)
    low, high = every.min(axis=0), every.max(axis=0)
    # A watched point far outside would leave the house small; such a one is not drawn.
    for point in scenario.points:
        at, most = np.array(point.at_m), _BESIDE * (high - low)
        if (at >= low - most).all() and (at <= high + most).all():
            low, high = np.minimum(low, at), np.maximum(high, at)
    margin = 0.05 * float(max(high - low))
    return Extent(
        x_from=float(low[0]) - 1.6 * margin,
        x_to=float(high[0]) + margin,
        z_from=float(low[1]) - 1.2 * margin,
        z_to=float(high[1]) + margin,
    )


@dataclass(frozen=True, eq=False)
class Section:
    """Everything that a drawn section shows; brief: small, so with few labels."""

    scenario: Scenario
    answer: Answer
    extent: Extent
    levels: LevelMap
    edges: dict[str, Edges]
    curves: Curves
    shadows: dict[str, ShadowLines]
    brief: bool = False

    @property
    def shown_per_m(self) -> float:
        """Drawn units in a metre: the drawing is in the scenario's unit."""
        return 1.0 if self.scenario.units == "m" else 1.0 / FOOT_M

    @property
    def several(self) -> bool:
        """Whether there is more than one loudspeaker."""
        return len(self.answer.speakers) > 1


def note(
    ax: Any,
    at: tuple[float, float],
    text: str,
    *,
    offset: tuple[float, float],
    ha: str,
    va: str,
    color: str = look.INK,
    weight: str = "normal",
    rotation: float = 0.0,
    size: float = 7.5,
) -> None:
    """A label at a point of the drawing, offset in points, readable over lines."""
    ax.annotate(
        text,
        xy=at,
        xytext=offset,
        textcoords="offset points",
        ha=ha,
        va=va,
        color=color,
        fontsize=size,
        weight=weight,
        rotation=rotation,
        rotation_mode="anchor",
        bbox=_LABEL_BOX,
        zorder=10,
    )


def along(elevation_deg: float) -> FloatArray:
    """(2,) unit vector of a direction."""
    angle = np.radians(elevation_deg)
    return np.array([np.cos(angle), np.sin(angle)])

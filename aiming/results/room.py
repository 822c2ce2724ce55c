"""What an answer says of a loudspeaker in its room: what is near, and where its sound goes."""

from dataclasses import dataclass
from typing import Annotated

from ..base.arrays import FloatArray
from ..base.described import BY_BAND, Columns, Kind


@dataclass(frozen=True)
class NearestRow:
    """The nearest listener."""

    row: Annotated[str, "the row, as printed"]
    distance_m: Annotated[float, "m"]


@dataclass(frozen=True)
class NearestSurface:
    """The nearest surface or floor."""

    name: Annotated[str, "its name"]
    distance_m: Annotated[float, "from the outline, m"]


@dataclass(frozen=True)
class Room:
    """What a loudspeaker is near and whose view it takes; without an outline nothing collides."""

    nearest_listener: Annotated[
        NearestRow,
        "from the outline, or from the acoustic centre without one",
    ]
    front_elevation_deg: Annotated[
        float,
        "how high the front row's ears see the acoustic centre, degrees",
    ]
    over_heads_m: Annotated[
        float | None,
        "least height of the cabinet over heads, m; null where no seating lies beneath it, or "
        "without an outline",
    ]
    nearest_surface: Annotated[
        NearestSurface | None,
        "the nearest surface or floor; null without an outline",
    ]
    collides: Annotated[tuple[str, ...], "surfaces and floors that the cabinet runs through"]
    hides_focus_from: Annotated[
        tuple[int, ...] | None,
        "indices into `rows` whose view of the focus it takes; null without `[focus]`",
    ]


@dataclass(frozen=True, eq=False)
class Reflections(Columns):
    """First reflections, by surface, then by who gets them; at (m, 2), level_db (bands, m)."""

    surface: Annotated[tuple[str, ...], "what sends it back"]
    row: Annotated[
        tuple[int | None, ...],
        "index into `rows` of who gets it; null where that is a `[[point]]`",
    ]
    point: Annotated[tuple[str | None, ...], "the `[[point]]`'s name; null where that is a row"]
    at: Annotated[FloatArray, Kind("[x, z]"), "where it is sent back, m from the datum"]
    distance_m: Annotated[FloatArray, "the whole way by the surface, m"]
    delay_ms: Annotated[FloatArray, "after the direct sound, ms"]
    level_db: Annotated[
        FloatArray, BY_BAND, "against the direct sound there, dB; null where unknown"
    ]
    design_level_db: Annotated[FloatArray, "mean of that over the design bands, dB; null likewise"]


@dataclass(frozen=True)
class Landing:
    """Where the pattern's sound of the section goes first, mean over the design bands."""

    seating: Annotated[
        dict[str, float | None],
        "on the rows of this seating, %; null where the pattern is unknown",
    ]
    surface: Annotated[dict[str, float | None], "on this surface, %; null likewise"]
    beneath_floors: Annotated[float | None, "on the undersides of floors, %; null likewise"]
    nowhere: Annotated[float | None, "past everything, %; null likewise"]
    known_deg: Annotated[
        float,
        "how much of the circle the pattern knows; the shares are of that, degrees",
    ]

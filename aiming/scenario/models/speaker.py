"""Tables of the file about a loudspeaker: pattern, output, placement."""

import re
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field, Tag

from ...base.errors import found_text
from .base import (
    BY_KIND,
    ByBand,
    DecibelRange,
    Decibels,
    DecibelsOrByBand,
    Length,
    LengthRange,
    Name,
    Number,
    Point,
    PositiveLength,
    Strict,
    TiltRange,
)
from .cabinet import CabinetModel
from .rigging import RiggingsModel
from .stack import StackModel

LEAST_COVERAGE_DEG = 0.1
"""Narrower than any loudspeaker, and the least that the table of angles can hold."""
HalfAngle = Annotated[Number, Field(ge=LEAST_COVERAGE_DEG / 2.0, lt=180.0)]


class CoverageModel(Strict):
    """Half-angles of an asymmetric pattern, as built (upright)."""

    above: HalfAngle = Field(
        description="Degrees from the axis up to the direction that is 6.02 dB down"
    )
    below: HalfAngle = Field(
        description="Degrees from the axis down to the direction that is 6.02 dB down"
    )


_BOTH_ANGLES = re.compile(r"(\d+(?:\.\d+)?)\s*°?\s*[x×*/]\s*(\d+(?:\.\d+)?)\s*°?", re.ASCII)


def _one_angle(value: object) -> object:
    if isinstance(value, str) and (both := _BOTH_ANGLES.fullmatch(value.strip())):
        raise ValueError(f"{found_text(value)}; one angle, the vertical one: {both[2]}?")
    return value


Coverage = Annotated[
    Annotated[
        Annotated[
            float,
            BeforeValidator(_one_angle),
            Field(ge=LEAST_COVERAGE_DEG, lt=360.0, allow_inf_nan=False),
        ],
        Tag("single"),
    ]
    | Annotated[CoverageModel, Tag("table")],
    BY_KIND,
]


class PatternModel(Strict):
    """Level against off-axis angle: a measured file, or a coverage angle and a lobe's shape."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "file": (
            "coverage",
            "control_from_hz",
            "control_height",
            "lobe",
            "lowest_db",
            "doubt_percent",
        ),
        **dict.fromkeys(("coverage", "lobe", "lowest_db", "doubt_percent"), ("file",)),
        "control_from_hz": ("file", "control_height"),
        "control_height": ("file", "control_from_hz"),
    }

    coverage: Coverage | None = Field(
        None, description="Coverage angle in degrees, or { above, below } half-angles"
    )
    control_from_hz: Annotated[Number, Field(ge=1.0, le=100_000.0)] | None = Field(
        None, description="Below it both half-angles grow as control_from_hz / f"
    )
    control_height: PositiveLength | None = Field(
        None,
        description="Instead of control_from_hz: height of the horn's mouth or of the cabinet, "
        "from which it is estimated (Keele's relation)",
    )
    lobe: Literal["quadratic", "piston", "flat"] | None = Field(
        None, description='Shape of the lobe: "quadratic" (default), "piston" or "flat"'
    )
    lowest_db: Annotated[Decibels, Field(lt=0.0)] | None = Field(
        None, description="No direction falls below this, dB re the axis; default -24"
    )
    doubt_percent: Annotated[Number, Field(ge=0.0, le=50.0)] | None = Field(
        None,
        description="How far the coverage angle may be off, in % of it; figures carry this doubt; "
        "default 10",
    )
    file: Name | None = Field(
        None, description="Instead of coverage: a pattern file, relative to the scenario's folder"
    )


class OutputModel(Strict):
    """What the loudspeaker puts out."""

    sensitivity_db: DecibelsOrByBand | None = Field(
        None, description="Level for 1 W at 1 m on the axis in dB: one number, or by band"
    )
    max_level_db: DecibelsOrByBand | None = Field(
        None, description="Greatest level at 1 m on the axis in dB, for headroom: one or by band"
    )


class PlacementModel(Strict):
    """Where it may hang: a number fixes a value, [low, high] lets the solver choose."""

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {
        "height": ("trim", "base"),
        "trim": ("height", "base"),
        "base": ("height", "trim"),
    }

    mount: Literal["flown", "stacked"] = Field("flown", description='"flown" or "stacked"')
    x: LengthRange = Field(
        0.0, description="x of the acoustic centre, negative behind the datum; default 0"
    )
    height: LengthRange | None = Field(None, description="z of the acoustic centre")
    trim: LengthRange | None = Field(
        None, description="Instead of height: z of the cabinet's lowest point as it hangs"
    )
    base: Length | None = Field(
        None, description="Stacked: z of the top of the stage, riser or stack it stands on"
    )
    tilt: TiltRange = Field(
        default_factory=lambda: [-90.0, 90.0],
        description="Elevation of the axis in degrees, positive up; default [-90, 90]",
    )
    pan_deg: Annotated[Number, Field(ge=-180.0, le=180.0)] | None = Field(
        None,
        description="For the paper: how far this section is turned from the centre line, degrees, "
        "positive to the left as one looks along the centre line at the audience",
    )
    off_centre: Length | None = Field(
        None,
        description="For the paper: how far the acoustic centre is from the centre line, positive "
        "to the left likewise",
    )
    orientation: Literal["upright", "flipped", "either"] = Field(
        "upright", description='"upright" (default), "flipped" or "either"'
    )

    @classmethod
    def displaced_by(cls, key: str, value: object) -> tuple[str, ...]:
        if key == "mount":
            return {"flown": ("base",), "stacked": ("trim",)}.get(str(value), ())
        return super().displaced_by(key, value)


SplayDeg = Annotated[Number, Field(ge=-90.0, le=90.0)]
Splay = Annotated[
    Annotated[SplayDeg, Tag("single")]
    | Annotated[Annotated[list[SplayDeg], Field(min_length=2, max_length=2)], Tag("list")],
    BY_KIND,
]


class SpeakerModel(Strict):
    """One loudspeaker."""

    name: Name = Field(description="The loudspeaker's name, unlike any other's")
    serves: list[Name] | None = Field(
        None, description="Names of the seatings that it must serve; default all of them"
    )
    gain_db: DecibelRange = Field(
        0.0,
        description="Gain of its channel in dB, or [low, high], to be chosen; of a fill without it "
        "chosen from −30 to 12",
    )
    delay_ms: Annotated[Number, Field(ge=0.0, le=1e6)] = Field(
        0.0, description="Delay in milliseconds"
    )
    eq_db: ByBand = Field(default_factory=dict, description="Equalisation in dB by band")
    pattern: PatternModel = Field(description="Its directivity")
    output: OutputModel = Field(
        default_factory=lambda: OutputModel.model_validate({}), description="What it puts out"
    )
    cabinet: CabinetModel | None = Field(None, description="Its body, as far as it is known")
    rigging: RiggingsModel | None = Field(None, description="How it is held, per orientation")
    stack: StackModel | None = Field(None, description="How it stands, where it is stacked")
    placement: PlacementModel = Field(
        default_factory=lambda: PlacementModel.model_validate({}),
        description="Where it may hang; of one with hung_under its orientation alone",
    )
    fills: Name | None = Field(
        None, description="The loudspeaker that it is matched to and aligned with, as a fill"
    )
    handover: Name | None = Field(
        None,
        description='Where they are matched: a row ("F", or "F of stalls"), or a seating for its '
        "first row towards the main; default follows from what both serve",
    )
    behind_ms: Annotated[Number, Field(ge=-1000.0, le=1000.0)] | None = Field(
        None, description="By how much its sound arrives after the main's there, in ms; default 10"
    )
    ceiling_db: Decibels | None = Field(
        None,
        description="How much louder than the main it may be at any row that the main is not "
        "hidden from, in dB; default 6",
    )
    hung_under: Name | None = Field(
        None, description="The loudspeaker that it is fixed under, turning with it"
    )
    splay: Splay | None = Field(
        None,
        description="How much further nose-down it points than the one above, in degrees: a number "
        "or [low, high]",
    )
    joint: Point | None = Field(
        None, description="[u, w] of the joint in the axes of the loudspeaker above, as hung"
    )
    own_joint: Point | None = Field(
        None, description="[u, w] of the same joint in its own axes, as hung"
    )

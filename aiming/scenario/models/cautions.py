"""The table of the file that moves the thresholds of cautions."""

from typing import Annotated

from pydantic import Field

from .base import Name, Number, Point, PositiveLength, Strict

Share = Annotated[Number, Field(gt=0.0, le=1.0)]
SmallAngle = Annotated[Number, Field(ge=0.0, le=90.0)]


class CautionsModel(Strict):
    """Thresholds of the cautions, where they are not to be the usual ones of docs/cautions.md."""

    least_share: Annotated[Number, Field(ge=0.0, le=0.5)] | None = Field(
        None, description="Least share of the weight on any point; default 0.1"
    )
    utilisation_near: Share | None = Field(
        None, description="Share of what may be used from which a point is close to it; default 0.8"
    )
    utilisation_full: Share | None = Field(
        None, description="Share of what may be used that no point may pass; default and most 1"
    )
    off_axis_deg: SmallAngle | None = Field(
        None, description="Pull still counted as in line with its fitting, degrees; default 5"
    )
    stack_tip_deg: SmallAngle | None = Field(
        None, description="Least slope at which a stack may tip by itself, degrees; default 10"
    )
    grazing_deg: SmallAngle | None = Field(
        None, description="Least angle between sound and audience plane, degrees; default 7"
    )
    nearest_listener: PositiveLength | None = Field(
        None, description="Least distance of a listener from a loudspeaker; default 3 m"
    )
    headroom: PositiveLength | None = Field(
        None, description="Least room between a floor and a flown cabinet; default 2.5 m"
    )
    tallest_box: PositiveLength | None = Field(
        None, description="A coverage that asks for a taller box is an array's; default 1.2 m"
    )
    fill_lag_ms: Annotated[Number, Field(gt=0.0, le=1000.0)] | None = Field(
        None, description="How late a fill may be where it counts in time, ms; default 20"
    )
    fill_near_db: Annotated[Number, Field(ge=0.0, le=60.0)] | None = Field(
        None, description="A fill counts in time where no softer than its main by this; default 6"
    )
    shadow_db: Annotated[Number, Field(ge=0.0, le=60.0)] | None = Field(
        None, description="Loss from which a row counts as in shadow, dB; default 3"
    )
    late_ms: Annotated[Number, Field(gt=0.0, le=1000.0)] | None = Field(
        None, description="A reflection this long after the direct sound is late, ms; default 50"
    )
    late_db: Annotated[Number, Field(ge=-60.0, le=60.0)] | None = Field(
        None, description="A late reflection is strong above this re direct, dB; default -10"
    )
    stage_focus: Point | None = Field(
        None, description="[x, z] of the foot of what the audience looks at; default the datum"
    )
    stage_top: PositiveLength | None = Field(
        None, description="How high above stage_focus the audience must see; default 2 m"
    )
    level_limit_db: Annotated[Number, Field(ge=0.0, le=200.0)] | None = Field(
        None, description="A-weighted level that no row is to pass, dB; none unless given"
    )
    level_limit_name: Name | None = Field(
        None, description="Where that limit holds: the rule, the place, the averaging time"
    )

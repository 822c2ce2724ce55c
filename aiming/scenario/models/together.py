"""Tables of the file about all loudspeakers together: how they add up, what time counts from."""

from typing import Literal

from pydantic import Field

from .base import Point, Strict


class TogetherModel(Strict):
    """How several loudspeakers are aimed, and how their levels are summed."""

    aim: Literal["all at once", "one by one"] = Field(
        "all at once",
        description='"all at once" (default where several play): placements, gains and delays are '
        'chosen for the sum over all rows; "one by one": each for the rows it serves, then fills '
        "levelled at their handover rows",
    )

    sum: Literal["power", "coherent"] = Field(
        "power",
        description='"power" (default), or "coherent": with the relative phase that path and delay '
        "bring, averaged over each band",
    )


class TimeModel(Strict):
    """What arrivals are counted from."""

    reference: Point = Field(description="[x, z] on stage where the sound starts from, at time 0")

"""Tables of the file about all loudspeakers together: how they add up, what time counts from."""

from typing import Literal

from pydantic import Field

from .base import Point, Strict


class TogetherModel(Strict):
    """How the loudspeakers' levels are summed."""

    sum: Literal["power", "coherent"] = Field(
        "power",
        description='"power" (default), or "coherent": with the relative phase that path and delay '
        "bring, averaged over each band",
    )


class TimeModel(Strict):
    """What arrivals are counted from."""

    reference: Point = Field(description="[x, z] on stage where the sound starts from, at time 0")

"""How far a hung loudspeaker may be off its placement."""

from typing import Annotated

from pydantic import Field

from .base import Length, Number, Strict


class ToleranceModel(Strict):
    """What hanging leaves uncertain, either way; what is not given counts as exact."""

    tilt: Annotated[Number, Field(ge=0.0, le=45.0)] = Field(
        0.0, description="Degrees that the tilt may be off, either way"
    )
    height: Annotated[Length, Field(ge=0.0, le=100.0)] = Field(
        0.0, description="How far the acoustic centre may hang too high or too low"
    )
    x: Annotated[Length, Field(ge=0.0, le=100.0)] = Field(
        0.0, description="How far the acoustic centre may be off towards or away from the audience"
    )
    coverage_percent: Annotated[Number, Field(ge=0.0, le=50.0)] = Field(
        0.0, description="How far a coverage angle by data sheet may be off, in % of it, either way"
    )

"""Table of the file about what is played, and how loud it is wanted."""

from typing import Annotated, Literal

from pydantic import Field

from .base import Number, Strict


class ProgrammeModel(Strict):
    """What is played: its spectrum, and the level wanted at every row."""

    spectrum: Literal["pink", "speech 2011", "speech 2020"] = Field(
        "pink",
        description='"pink" (default), or male speech by IEC 60268-16 of that year: '
        '"speech 2011", "speech 2020"',
    )
    target_db: Annotated[Number, Field(ge=0.0, le=200.0)] | None = Field(
        None, description="Level wanted at every row, dB; headroom is counted from it"
    )
    weighting: Literal["A", "Z"] = Field(
        "A", description='Weighting of target_db: "A" (default, IEC 61672-1), or "Z" for none'
    )

"""The table of the file that moves the thresholds of cautions."""

from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field, create_model

from ..thresholds import BY_KEY
from .base import Name, Number, Point, PositiveLength, Strict


class _Beside(Strict):
    """Thresholds of the cautions, where they are not to be the usual ones of docs/cautions.md."""

    stage_focus: Point | None = Field(
        None, description="[x, z] of the foot of what the audience looks at; default the datum"
    )
    level_limit_db: Annotated[Number, Field(ge=0.0, le=200.0)] | None = Field(
        None, description="A-weighted level that no row is to pass, dB; none unless given"
    )
    level_limit_name: Name | None = Field(
        None, description="Where that limit holds: the rule, the place, the averaging time"
    )


def _threshold_fields() -> dict[str, Any]:
    """A key for every threshold that a scenario can move, as scenario.thresholds declares it."""
    fields: dict[str, Any] = {}
    for key, limit in BY_KEY.items():
        assert limit.span is not None
        low, high = limit.span
        kind: Any = Annotated[Number, Field(ge=low, le=high)]
        if limit.unit == "m":
            kind = PositiveLength
        said = f"{limit.text[0].upper()}{limit.text[1:]}; default {limit.value:g} {limit.unit}"
        fields[key] = (kind | None, Field(None, description=said))
    return fields


if TYPE_CHECKING:
    CautionsModel = _Beside
else:
    CautionsModel = create_model(
        "CautionsModel", __base__=_Beside, __doc__=_Beside.__doc__, **_threshold_fields()
    )

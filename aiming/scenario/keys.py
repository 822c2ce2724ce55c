"""Kinds of values that keys of the file hold, and which keys a table may have.

A length reaches the model as a number in the scenario's unit or as a text, and leaves it in metres;
the unit travels in the validation context ({"unit": "m"}).
"""

import re
from difflib import get_close_matches
from functools import cache
from types import UnionType
from typing import Annotated, Any, ClassVar, Union, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic.fields import FieldInfo

from ..base.bands import THIRDS_HZ, band_key
from ..base.errors import found_text
from ..base.units import (
    FOOT_M,
    G_M_S2,
    LOAD_ALLOWED,
    MASS_ALLOWED,
    TILT_ALLOWED,
    Unit,
    parse_length_m,
    parse_load_n,
    parse_mass_kg,
    parse_tilt_deg,
    plain_length_text,
)

FARTHEST_M = 100_000.0
"""Coordinates lie within ±100 km of the datum."""
LONGEST_NAME = 200
MOST_POINTS = 5000
"""Points of one line; the search for crossings takes the square of their number."""


class Strict(BaseModel):
    """A table of the file: unknown keys, wrong types, NaN and infinity are faults."""

    # Deferred: the table of tables alone is built, with all others in it, when a file is read.
    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True
    )

    rivals: ClassVar[dict[str, tuple[str, ...]]] = {}
    """Keys that say the same thing another way: a change to the key removes them."""

    @classmethod
    def displaced_by(cls, key: str, _value: object) -> tuple[str, ...]:
        """The keys that a change of this key to this value makes void."""
        return cls.rivals.get(key, ())


def metres(value: object, info: ValidationInfo) -> float:
    context: dict[str, Any] = info.context or {}
    unit: Unit = context.get("unit", "m")
    length_m = parse_length_m(value, unit)
    if abs(length_m) > FARTHEST_M:
        farthest = "100 km" if unit == "m" else f"{FARTHEST_M / FOOT_M:,.0f} ft"
        raise ValueError(f"{plain_length_text(length_m, unit)}; must be within ±{farthest}")
    return length_m


def _printable(text: str) -> str:
    if not text.strip():
        raise ValueError(f"{found_text(text)}; must be a text that is not empty")
    if not text.isprintable():
        raise ValueError(f"{found_text(text)}; must be one line without control characters")
    return text


def _band(key: object) -> object:
    if not isinstance(key, str):
        return key
    allowed = 'must be a nominal mid-band in Hz, as 1000 or "31.5"'
    by_key = {band_key(band): band for band in THIRDS_HZ}
    if key not in by_key:
        raise ValueError(f"{found_text(key)}; {allowed}")
    return by_key[key]


def _nominal(band_hz: float) -> float:
    if band_hz not in THIRDS_HZ:
        nearest = min(THIRDS_HZ, key=lambda nominal: abs(nominal - band_hz))
        raise ValueError(
            f"{band_hz:g}; must be a nominal octave or third-octave mid-band in Hz, "
            f"the nearest is {band_key(nearest)}"
        )
    return float(band_hz)


Length = Annotated[
    float,
    BeforeValidator(metres),
    WithJsonSchema({"$comment": "length", "anyOf": [{"type": "number"}, {"type": "string"}]}),
]
"""Metres."""
PositiveLength = Annotated[Length, Field(gt=0.0)]
Point = Annotated[list[Length], Field(min_length=2, max_length=2)]
Line = Annotated[list[Point], Field(min_length=2, max_length=MOST_POINTS)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[Number, Field(gt=0.0)]
NotNegative = Annotated[Number, Field(ge=0.0)]


def _mass_kg(value: object) -> float:
    if not isinstance(value, str):
        raise ValueError(f"{found_text(value)}; {MASS_ALLOWED}, with its unit")
    return parse_mass_kg(value)


def _load_n(value: object) -> float:
    if not isinstance(value, str):
        raise ValueError(f"{found_text(value)}; {LOAD_ALLOWED}, with its unit")
    return parse_load_n(value)


def _tilt_deg(value: object) -> object:
    if not isinstance(value, str):
        return value
    if not any(letter.isdigit() for letter in value):
        raise ValueError(f"{found_text(value)}; {TILT_ALLOWED}")
    return parse_tilt_deg(value)


Mass = Annotated[Number, Field(gt=0.0, le=1e6)]
"""A number in the unit that the key names."""
MassText = Annotated[
    float, BeforeValidator(_mass_kg), Field(ge=0.0, le=1e6), WithJsonSchema({"type": "string"})
]
"""Kilograms of a text with its unit."""
LoadText = Annotated[
    float,
    BeforeValidator(_load_n),
    Field(gt=0.0, le=1e6 * G_M_S2),
    WithJsonSchema({"type": "string"}),
]
"""Newtons of a text with its unit."""
Decibels = Annotated[Number, Field(ge=-400.0, le=400.0)]
"""Wide enough for anything that is meant, narrow enough that sums stay finite."""
Name = Annotated[str, Field(max_length=LONGEST_NAME), AfterValidator(_printable)]
BandKey = Annotated[
    float, BeforeValidator(_band), WithJsonSchema({"type": "string", "pattern": r"^[0-9.]+$"})
]
"""A nominal mid-band as the key of a table."""
BandHz = Annotated[float, AfterValidator(_nominal)]
"""A nominal mid-band as a number."""
ByBand = dict[BandKey, Decibels]


def _kind(value: object) -> str:
    if isinstance(value, dict):
        return "table"
    return "list" if isinstance(value, list) else "single"


BY_KIND = Discriminator(_kind)
"""Chooses among alternatives by whether the file has a table, a list or a single value, so that a
fault is told for the alternative that was meant alone."""

DecibelsOrByBand = Annotated[
    Annotated[Decibels, Tag("single")] | Annotated[ByBand, Tag("table")], BY_KIND
]
DecibelRange = Annotated[
    Annotated[Decibels, Tag("single")]
    | Annotated[Annotated[list[Decibels], Field(min_length=2, max_length=2)], Tag("list")],
    BY_KIND,
]
"""A number of decibels, or [low, high]."""
LengthRange = Annotated[Annotated[Length, Tag("single")] | Annotated[Point, Tag("list")], BY_KIND]
"""A length, or [low, high]."""
TiltDeg = Annotated[
    float,
    BeforeValidator(_tilt_deg),
    Field(ge=-90.0, le=90.0),
    WithJsonSchema(
        {
            "$comment": "angle",
            "anyOf": [
                {"type": "number"},
                {"type": "string", "pattern": "[Uu][Pp]|[Dd][Oo][Ww][Nn]"},
            ],
        }
    ),
]
TiltRange = Annotated[
    Annotated[TiltDeg, Tag("single")]
    | Annotated[Annotated[list[TiltDeg], Field(min_length=2, max_length=2)], Tag("list")],
    BY_KIND,
]
"""An angle in degrees or as "nose down 12", or [low, high]."""


# Which keys a table may have, and what is under them: for suggestions and for addressing.


@cache
def keys_of(model: type[Strict]) -> dict[str, FieldInfo]:
    """The keys of a table as the file writes them."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


@cache
def under(model: type[Strict], key: str) -> tuple[type[Strict] | None, bool]:
    """The model of the table or of the tables under a key, and whether they are several.

    (None, False) where there is a plain value, a list of values or a table by band.
    """
    return _within(keys_of(model)[key].annotation)


def _within(annotation: Any) -> tuple[type[Strict] | None, bool]:
    origin = get_origin(annotation)
    if origin is Annotated:
        return _within(get_args(annotation)[0])
    if origin in (Union, UnionType):
        found = [_within(one) for one in get_args(annotation)]
        return next((one for one in found if one[0]), (None, False))
    if origin is list:
        model, _ = _within(get_args(annotation)[0])
        return model, model is not None
    if isinstance(annotation, type) and issubclass(annotation, Strict):
        return annotation, False
    return None, False


_BARE = re.compile(r"[A-Za-z0-9_-]+")


def quoted(part: str) -> str:
    """One part of a dotted key, in quotes where it needs them."""
    if _BARE.fullmatch(part):
        return part
    plain_text = part.replace("\\", "\\\\").replace('"', '\\"')
    escaped = (one if one.isprintable() else f"\\U{ord(one):08x}" for one in plain_text)
    return f'"{"".join(escaped)}"'


def suggestion(part: str, known: list[str]) -> str:
    """'did you mean "x"?' where something known is close, otherwise what there is."""
    if close := get_close_matches(part, known, n=1):
        return f"did you mean {found_text(close[0])}?"
    shown = ", ".join(quoted(one) for one in known[:12]) + (" …" if len(known) > 12 else "")
    return f"there is {shown}" if known else "there is none"

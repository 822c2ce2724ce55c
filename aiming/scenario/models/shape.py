"""Which keys a table may have, and what is under them: for suggestions and for addressing."""

from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from .base import Strict


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

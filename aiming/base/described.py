"""What a field holds, said where it is declared, and so how it stands in plain data.

    @dataclass(frozen=True)
    class Ball:
        mass_kg: Annotated[float, "with its skin, kg"]
        rings: Annotated[Rings, Named("circles"), "the outermost first"]
        skin: FloatArray

mass_kg stands in the data under its own name, rings as "circles", skin not at all: what has no
description is for Python alone.  A property counts where what it returns is described.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Annotated, Any, get_args, get_origin


@dataclass(frozen=True)
class Named:
    """The name in the data, where it is not the attribute's."""

    name: str


@dataclass(frozen=True)
class Kind:
    """What kind of value the data has, in words, where the type does not tell."""

    words: str


@dataclass(frozen=True)
class Keyed:
    """What the keys of a table are, such as NAME."""

    by: str


@dataclass(frozen=True)
class ByBand:
    """An array (bands, …) that is a table by band in the data."""


BY_BAND = ByBand()

Point = Annotated[tuple[float, float], Kind("[x, z]")]
"""x, z in metres."""


class Columns:
    """A dataclass of columns: in the data a list of tables, one for each place in the columns.

    A column that is None is left out of every table.
    """


@dataclass(frozen=True)
class Described:
    """One attribute that stands in the data; type: what it is declared as, without description."""

    attribute: str
    name: str
    meaning: str
    type: Any
    kind: str | None
    keyed_by: str
    by_band: bool


_KNOWN: dict[type, tuple[Described, ...]] = {}


def described(cls: type) -> tuple[Described, ...]:
    """What of a dataclass stands in the data: fields first, then properties, as declared."""
    if cls not in _KNOWN:
        every = (_described(name, hint) for name, hint in _hints(cls))
        _KNOWN[cls] = tuple(found for found in every if found is not None)
    return _KNOWN[cls]


def _hints(cls: type) -> Iterator[tuple[str, Any]]:
    for field in fields(cls):
        yield field.name, field.type
    for name, one in vars(cls).items():
        if isinstance(one, property):
            yield name, getattr(one.fget, "__annotations__", {}).get("return")


def _described(attribute: str, hint: Any) -> Described | None:
    if get_origin(hint) is not Annotated:
        return None
    declared, *said = get_args(hint)
    by_type: dict[type, Any] = {type(one): one for one in said}
    if str not in by_type:
        return None
    named, kind, keyed = (by_type.get(of) for of in (Named, Kind, Keyed))
    return Described(
        attribute=attribute,
        name=named.name if named else attribute,
        meaning=by_type[str],
        type=declared,
        kind=kind.words if kind else None,
        keyed_by=keyed.by if keyed else "NAME",
        by_band=ByBand in by_type,
    )

"""Looking into a document that may be wrong anywhere: what is malformed is passed over here, since
the models report it, so that every fault of a file is told at once.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ...base.units import Unit, parse_length_m
from ...files.toml_places import Path
from ..models.base import FARTHEST_M

Table = dict[str, Any]
Problem = tuple[Path, str]


@dataclass(frozen=True)
class Raw:
    """The plain document and the unit of its bare lengths."""

    document: Table
    unit: Unit

    def tables(self, key: str) -> Iterator[tuple[Path, Table]]:
        """The tables of a table array, with their paths."""
        yield from tables_in(self.document.get(key), (key,))

    def length(self, value: object) -> float | None:
        """Metres, or None for what is no length."""
        try:
            length_m = parse_length_m(value, self.unit)
        except ValueError:
            return None
        return length_m if abs(length_m) <= FARTHEST_M else None

    def point(self, value: object) -> tuple[float, float] | None:
        """(x, z) in metres, or None for what is no point."""
        if not isinstance(value, list) or len(value) != 2:
            return None
        x, z = self.length(value[0]), self.length(value[1])
        return None if x is None or z is None else (x, z)

    def line(self, value: object) -> list[tuple[float, float]] | None:
        """Points in metres, or None where any of them is malformed."""
        if not isinstance(value, list):
            return None
        points = [self.point(one) for one in value]
        good = [point for point in points if point is not None]
        return good if len(good) == len(points) else None


def tables_in(value: object, path: Path) -> Iterator[tuple[Path, Table]]:
    """The tables among the members of a list."""
    if isinstance(value, list):
        for position, member in enumerate(value):
            if isinstance(member, dict):
                yield (*path, position), member


def table_in(table: Table, key: str) -> Table:
    """The table under a key; empty where there is none."""
    value = table.get(key)
    return value if isinstance(value, dict) else {}


def texts(value: object) -> list[tuple[int, str]]:
    """Position and text of the texts in a list."""
    if not isinstance(value, list):
        return []
    return [(position, one) for position, one in enumerate(value) if isinstance(one, str)]


def number(value: object) -> float | None:
    """A finite number, or None."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        result = float(value)
    except OverflowError:
        return None
    return result if math.isfinite(result) else None

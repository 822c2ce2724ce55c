"""Looking into a document that may be wrong anywhere, and gathering what is wrong with it."""

import math
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from ..base.errors import Fault, MissingExtraError, ScenarioError, found_text
from ..base.units import Unit, parse_length_m
from ..files.toml_places import Path
from ..files.toml_text import like_named
from .keys import FARTHEST_M

if TYPE_CHECKING:
    from ..files.survey import SurveyNote


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


# What building collects on its way besides the things built: faults and notes.


@dataclass
class Gathered:
    """Faults at keys of the scenario, faults of other files, and notes.

    folder: what file names are relative to
    """

    folder: FilePath
    problems: list[Problem] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    survey_notes: "list[SurveyNote]" = field(default_factory=list)

    @property
    def clean(self) -> bool:
        return not self.problems and not self.faults

    @contextmanager
    def reading(
        self, path: Path, name: str, *, keys: Mapping[str, Path] | None = None
    ) -> Iterator[FilePath]:
        """The path of a file that the scenario names at a key; its faults are collected.

        keys: where the scenario says what the reader calls by this key; such a fault, like a file
            that is not there, stands in the scenario, any other in the file itself.
        """
        file = self.folder / name
        places = keys or {}
        try:
            if not os.path.isfile(file):
                allowed = (
                    like_named(file) or "must be a file, its path relative to the scenario's folder"
                )
                found = "no ordinary file" if os.path.exists(file) else "no file"
                self.problems.append((path, f"{found} {found_text(name)}; {allowed}"))
            yield file
        except ScenarioError as error:
            if not os.path.isfile(file):
                return
            for fault in error.faults:
                if fault.key in places:
                    self.problems.append((places[fault.key], f"{name}: {fault.message}"))
                else:  # told by a path that can be opened from where the person stands
                    here = str(file) if fault.file == name else fault.file
                    self.faults.append(replace(fault, file=here))
        except MissingExtraError as error:
            self.problems.append((path, str(error)))


def one_of(path: Path, table: Table, keys: tuple[str, ...]) -> Iterator[Problem]:
    given = [key for key in keys if table.get(key) is not None]
    if not given:
        yield (*path, keys[0]), f"missing; give one of {', '.join(keys)}"
    elif len(given) > 1:
        yield (*path, given[-1]), f"{' and '.join(given)}; give one of them"


ONE_MASS = ("mass_kg", "mass")
"""The keys of one mass: a table may hold either."""


def at_most_one(path: Path, table: Table, keys: tuple[str, ...]) -> Iterator[Problem]:
    given = [key for key in keys if table.get(key) is not None]
    if len(given) > 1:
        yield (*path, given[-1]), f"both {' and '.join(given)}; give one of them"


def reversed_range(path: Path, value: object, raw: Raw) -> Iterator[Problem]:
    ends = raw.point(value)
    if ends is not None and ends[0] > ends[1] and isinstance(value, list):
        shown = ", ".join(found_text(end) for end in value)
        yield path, f"[{shown}]; must be [low, high], with low not above high"


def pair(point: list[float] | None) -> tuple[float, float] | None:
    """A point of the file as a value; None where there is none."""
    return None if point is None else (point[0], point[1])

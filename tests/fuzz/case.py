"""What one case is, and one kind of file."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

Options = Mapping[str, Any]


@dataclass(frozen=True)
class Case:
    """One file as bytes, and what the command is told beside it."""

    data: bytes
    options: Options = field(default_factory=dict)


@dataclass(frozen=True)
class Kind:
    """One kind of file.

    ending: of its files' names
    make: a case by chance
    read: reads a file of this kind as a command would; raises what the command would raise
    beside: files that the cases name, by their path in the working folder
    """

    name: str
    ending: str
    make: Callable[[Random], Case]
    read: Callable[[Path, Options], object]
    beside: Callable[[], dict[str, bytes]] = dict


def chance_of(kind: str, seed: int, number: int) -> Random:
    """The random numbers of one case: the same on every machine, whatever ran before."""
    return Random(f"{kind} {seed} {number}")

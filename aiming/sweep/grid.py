"""The grid of a sweep, cut into chunks that are boxes of it: the last axis varies fastest."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np

Box = tuple[tuple[int, int], ...]
"""(start, stop) on each axis."""


@dataclass(frozen=True)
class Grid:
    """shape: values on each axis; cut: the axis that chunks cut; length: how far along it."""

    shape: tuple[int, ...]
    cut: int
    length: int

    @property
    def size(self) -> int:
        return prod(self.shape)

    @property
    def chunks(self) -> int:
        return prod(self.shape[: self.cut]) * self._pieces

    @property
    def _pieces(self) -> int:
        return -(-self.shape[self.cut] // self.length)

    def box(self, chunk: int) -> Box:
        """The chunk's place on the grid; its rows stand one after another in the table."""
        outer, piece = divmod(chunk, self._pieces)
        at = np.unravel_index(outer, self.shape[: self.cut]) if self.cut else ()
        start = piece * self.length
        stop = min(start + self.length, self.shape[self.cut])
        fixed = tuple((int(i), int(i) + 1) for i in at)
        return (*fixed, (start, stop), *((0, n) for n in self.shape[self.cut + 1 :]))

    def rows(self, chunk: int) -> int:
        """How many rows a chunk has."""
        return prod(stop - start for start, stop in self.box(chunk))


def cut(shape: tuple[int, ...], *, rows: int) -> Grid:
    """The grid in chunks of about so many rows."""
    inner = 1
    for axis in range(len(shape) - 1, -1, -1):
        if inner * shape[axis] > rows or axis == 0:
            return Grid(shape, axis, max(1, min(shape[axis], rows // inner)))
        inner *= shape[axis]
    raise ValueError("a grid has at least one axis")


def points(box: Box, axes: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Every combination of indices along some of a box's axes."""
    return product(*(range(*box[axis]) for axis in axes))

"""The grid of a sweep, cut into chunks that are boxes of it: the last axis varies fastest."""

import errno
import json
import os
import stat
import tempfile
import weakref
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import product
from math import prod
from pathlib import Path
from typing import IO
from zlib import crc32

import numpy as np

from ..base.arrays import FloatArray
from ..base.errors import AimingError

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


# Where a sweep's figures are kept while it runs: memory, or a file that can be continued.
#
# The file is one line of JSON that names the sweep, then one block after another, one per
# finished chunk: the figures as (figures, rows) 64-bit floats, and the block's checksum.  A block
# counts only when its checksum is right, so a run that is cut short at any moment leaves its
# finished chunks and at most a torso, which the next run cuts off.

FORMAT = "aiming sweep 1"
MOST_IN_MEMORY = 64_000_000
"""Bytes; a larger sweep without a table is kept in a temporary file."""
_CHECKSUM = 4
_BEGINS = b'{"format": "aiming sweep'
_HELD_HERE: set[str] = set()


class TableError(AimingError):
    """A table that cannot be written, continued or read."""


class Spool:
    """Figures of finished chunks, in order; chunk after chunk can be added and read back."""

    def __init__(self, stream: IO[bytes], grid: Grid, figures: int, header: int) -> None:
        self._stream = stream
        self._grid = grid
        self._figures = figures
        self._header = header
        self.chunks = 0
        self.rows = 0
        # Whoever holds the last table of a sweep does not have to close its file.
        self.close = weakref.finalize(self, stream.close)
        """Give up the file; what is in memory is gone."""

    def add(self, block: FloatArray) -> None:
        """The next chunk's (figures, rows)."""
        data = np.ascontiguousarray(block, dtype="<f8").tobytes()
        self._stream.seek(self._place(self.chunks))
        _write_all(self._stream, data + crc32(data).to_bytes(_CHECKSUM, "little"))
        self.chunks += 1
        self.rows += block.shape[1]

    def read(self, chunk: int) -> FloatArray:
        """(figures, rows) of a finished chunk."""
        data = self._read(chunk)
        if data is None:
            raise TableError("the sweep's own file has been changed from outside")
        return data

    def recover(self) -> None:
        """Find the finished chunks of an earlier run and cut off what is not finished."""
        while self.chunks < self._grid.chunks and self._read(self.chunks) is not None:
            self.rows += self._grid.rows(self.chunks)
            self.chunks += 1
        self._stream.truncate(self._place(self.chunks))

    def _read(self, chunk: int) -> FloatArray | None:
        rows = self._grid.rows(chunk)
        self._stream.seek(self._place(chunk))
        size = 8 * self._figures * rows
        data = self._stream.read(size + _CHECKSUM)
        if len(data) < size + _CHECKSUM:
            return None
        if crc32(data[:size]) != int.from_bytes(data[size:], "little"):
            return None
        return np.frombuffer(data, dtype="<f8", count=self._figures * rows).reshape(-1, rows)

    def _place(self, chunk: int) -> int:
        """Chunks before the last piece of a cut axis are all alike but for that last piece."""
        grid = self._grid
        pieces = -(-grid.shape[grid.cut] // grid.length)
        turns, piece = divmod(chunk, pieces)
        inner = grid.rows(0) // min(grid.length, grid.shape[grid.cut])
        rows = (turns * grid.shape[grid.cut] + piece * grid.length) * inner
        return self._header + 8 * self._figures * rows + _CHECKSUM * chunk


def spool_in_memory(grid: Grid, figures: int) -> Spool:
    """A spool that lasts as long as the process, on the disk where it grows large."""
    stream = tempfile.SpooledTemporaryFile(max_size=MOST_IN_MEMORY)  # noqa: SIM115
    return Spool(stream, grid, figures, 0)


def partial_path(table: Path) -> Path:
    """Where a table's figures stand while it is being made."""
    return table.with_name(table.name + ".partial")


class PartialFile:
    """The spool beside a table that is being made, held by one sweep at a time."""

    def __init__(self, table: Path, fingerprint: str, grid: Grid, figures: int) -> None:
        self.path = partial_path(table)
        self._table = table
        self._line = json.dumps({"format": FORMAT, "sweep": fingerprint}).encode() + b"\n"
        self._grid = grid
        self._figures = figures

    def open(self, *, resume: bool) -> Spool:
        """Hold the file, new or as an earlier run of the same sweep left it.

        Raises TableError where another sweep holds it, where it is another sweep's, where it
        exists and resume is False, and where it cannot be written.
        """
        # Record locks do not hold against the same process, so that is kept here.
        name = os.path.realpath(self.path)
        if name in _HELD_HERE:
            raise self._busy()
        try:
            stream = self._held()
        except OSError as error:
            raise unwritable(self._table, error) from error
        try:
            found = stream.readline(4096)
            spool = Spool(stream, self._grid, self._figures, len(self._line))
            if found and self._same_sweep(found, resume=resume):
                spool.recover()
            else:
                stream.seek(0)
                stream.truncate()
                _write_all(stream, self._line)
        except OSError as error:
            stream.close()
            raise unwritable(self._table, error) from error
        except AimingError:
            stream.close()
            raise
        _HELD_HERE.add(name)
        return spool

    def remove(self) -> None:
        """The table is made; the spool stays readable as long as it is open."""
        with suppress(OSError):
            self.path.unlink()

    def let_go(self) -> None:
        """Another sweep may take the file."""
        _HELD_HERE.discard(os.path.realpath(self.path))

    def _same_sweep(self, found: bytes, *, resume: bool) -> bool:
        """Whether to go on with what is there; False where nothing of it is of use."""
        if not found.endswith(b"\n") and _BEGINS.startswith(found[: len(_BEGINS)]):
            return False  # cut short before its first line was whole
        if not found.startswith(_BEGINS):
            raise TableError(f"{self.path}: not the file of a sweep; name another table")
        if not resume:
            raise TableError(
                f"{self.path}: left by a sweep that was not finished; --resume (resume=True) goes "
                "on with it, or remove it to start again"
            )
        if found != self._line:
            raise TableError(
                f"{self.path}: left by another sweep (another scenario, axes, figures or version); "
                "name another table, or remove it to start again"
            )
        return True

    def _held(self) -> IO[bytes]:
        """The open file under this path, locked; never one that has just been removed."""
        while True:
            if os.path.lexists(self.path) and not stat.S_ISREG(os.lstat(self.path).st_mode):
                raise OSError(errno.EINVAL, f"{self.path} is no ordinary file")
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o666)
            stream = os.fdopen(handle, "r+b", buffering=0)
            try:
                if not _lock(handle):
                    raise self._busy()
                with suppress(FileNotFoundError):
                    if os.path.samestat(os.fstat(handle), self.path.stat()):
                        return stream
            except BaseException:
                stream.close()
                raise
            stream.close()

    def _busy(self) -> TableError:
        return TableError(
            f"{self.path}: another sweep is writing this table; wait for it, or name another table"
        )


def _write_all(stream: IO[bytes], data: bytes) -> None:
    """An unbuffered file may take less than it is given, as a disk does that is nearly full."""
    left = memoryview(data)
    while left:
        left = left[stream.write(left) :]


def unwritable(path: Path, error: OSError) -> TableError:
    """The one message for a full disk, a folder without permission and the like."""
    return TableError(f"{path}: cannot be written ({error.strerror or error})")


def _lock(handle: int) -> bool:
    """Hold the file until it is closed or the process ends; True also where there are no locks.

    A record lock: worker processes that are forked meanwhile do not share it, and so cannot keep it
    when this process is killed.
    """
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True

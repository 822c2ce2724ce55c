"""The table of a sweep: one row per candidate, the keys varied and then the figures."""

import os
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from ..base.arrays import FloatArray
from ..base.csv_cells import csv_line
from ..base.errors import MissingExtraError
from .axes import Axis
from .figures import Figure
from .result_store import Grid, Spool, TableError, unwritable

Column = npt.NDArray[Any]
SMALLER_IS_BETTER = ("spread", "deviation", "tonal_change", "cautions", "stops", "gap")


@dataclass(frozen=True, eq=False)
class Table:
    """What a sweep found.  The last axis varies fastest.

    table["spread_db"] is a numpy array over all rows; of a key that was varied, its value in the
    file's own unit.  chunks() goes through a table of any size at constant memory.
    """

    axes: tuple[Axis, ...]
    figures: tuple[Figure, ...]
    layout: Grid
    spool: Spool

    def __len__(self) -> int:
        return self.spool.rows

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns: the keys varied, then the figures."""
        return (*(axis.key for axis in self.axes), *(one.name for one in self.figures))

    @property
    def shape(self) -> tuple[int, ...]:
        """How many values each axis has."""
        return self.layout.shape

    def keys(self) -> tuple[str, ...]:
        """The same, so that dict(table) is a plain dictionary of arrays."""
        return self.columns

    def __iter__(self) -> Iterator[str]:
        return iter(self.columns)

    def __getitem__(self, name: str) -> Column:
        """One whole column; KeyError where there is none of this name."""
        if name not in self.columns:
            raise KeyError(f"{name}; there are {', '.join(self.columns)}")
        parts = [chunk[name] for chunk in self.chunks((name,))]
        return np.concatenate(parts) if parts else np.zeros(0)

    def grid(self, name: str) -> Column:
        """One column in the shape of the axes, of a finished sweep."""
        return self[name].reshape(self.shape)

    def rows(self, places: Iterable[int]) -> list[dict[str, Any]]:
        """Some rows, by their places in the table, in the order asked for."""
        wanted = np.asarray(list(places), dtype=np.intp)
        starts = np.cumsum([0, *(self.layout.rows(k) for k in range(self.spool.chunks))])
        owner = np.searchsorted(starts, wanted, side="right") - 1
        found: dict[int, dict[str, Any]] = {}
        for chunk in np.unique(owner):
            columns = self.chunk(int(chunk))
            for place in wanted[owner == chunk]:
                found[int(place)] = {
                    name: _plain(column[place - starts[chunk]]) for name, column in columns.items()
                }
        return [found[int(place)] for place in wanted]

    def chunks(self, names: tuple[str, ...] | None = None) -> Iterator[dict[str, Column]]:
        """The table piece by piece: these columns, or all."""
        for chunk in range(self.spool.chunks):
            yield self.chunk(chunk, names)

    def chunk(self, chunk: int, names: tuple[str, ...] | None = None) -> dict[str, Column]:
        """One piece of the table: these columns, or all."""
        wanted = self.columns if names is None else names
        box = self.layout.box(chunk)
        shape = tuple(stop - start for start, stop in box)
        found: dict[str, Column] = {}
        for k, axis in enumerate(self.axes):
            if axis.key in wanted:
                turned = [1] * len(shape)
                turned[k] = -1
                values = _values(axis, *box[k]).reshape(turned)
                found[axis.key] = np.broadcast_to(values, shape).ravel()
        if any(one.name in wanted for one in self.figures):
            block = self.spool.read(chunk)
            for one, values in zip(self.figures, block, strict=True):
                if one.name in wanted:
                    found[one.name] = values.astype(bool) if one.kind is bool else values
        return found


def _values(axis: Axis, start: int, stop: int) -> Column:
    """Values of an axis as a column has them: numbers, or objects for texts and tables."""
    if axis.numeric:
        return axis.numbers(start, stop)
    values = np.empty(stop - start, dtype=object)
    for k in range(start, stop):
        values[k - start] = axis.value(k)
    return values


def _plain(value: Any) -> Any:
    """Python's own number for numpy's."""
    return value.item() if isinstance(value, np.generic) else value


def smaller_is_better(name: str) -> bool:
    """Whether a figure is to be made small; height and its kin are."""
    bare = name.rsplit(".", 1)[-1]
    small = bare.startswith(SMALLER_IS_BETTER) or bare in ("height", "trim", "height_m", "trim_m")
    return small or "spread_db" in name


def best_rows(table: Table, by: str, *, count: int = 5) -> list[dict[str, Any]]:
    """The best rows by one column, best first; among equals the first in the table.

    Rows where it is unknown are left out, and rows that are not feasible, where that is a column.
    """
    sign = 1.0 if smaller_is_better(by) else -1.0
    kept: list[tuple[float, int]] = []
    first = 0
    names = tuple(dict.fromkeys((by, *_feasible(table))))
    for chunk in table.chunks(names):
        value = sign * np.asarray(chunk[by], dtype=np.float64)
        value = np.where(_usable(table, chunk), value, np.nan)
        some = np.argsort(value, kind="stable")[:count]
        kept += [(float(value[k]), first + int(k)) for k in some if np.isfinite(value[k])]
        kept = sorted(kept)[:count]
        first += len(value)
    return table.rows(index for _, index in kept)


def front(table: Table, x: str, y: str) -> list[dict[str, Any]]:
    """The trade-off front of two columns: rows that no other row beats in both, ascending in x.

    Which direction is better follows from the names: spread, deviation, tonal change, height, trim
    and counts small, everything else large.
    """
    sign_x, sign_y = (1.0 if smaller_is_better(name) else -1.0 for name in (x, y))
    at_x, at_y, at = np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.intp)
    first = 0
    names = tuple(dict.fromkeys((x, y, *_feasible(table))))
    for chunk in table.chunks(names):
        value_x = sign_x * np.asarray(chunk[x], dtype=np.float64)
        value_y = sign_y * np.asarray(chunk[y], dtype=np.float64)
        rows = np.arange(first, first + len(value_x))
        good = np.isfinite(value_x) & np.isfinite(value_y) & _usable(table, chunk)
        at_x = np.append(at_x, value_x[good])
        at_y = np.append(at_y, value_y[good])
        at = np.append(at, rows[good])
        keep = _not_beaten(at_x, at_y, at)
        at_x, at_y, at = at_x[keep], at_y[keep], at[keep]
        first += len(value_x)
    return table.rows(at[np.argsort(sign_x * at_x, kind="stable")])


def _not_beaten(x: FloatArray, y: FloatArray, at: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """Indices of the points that no other beats, both to be small; of equals the first."""
    order = np.lexsort((at, y, x))
    before = np.minimum.accumulate(np.append(np.inf, y[order]))[:-1]
    return np.asarray(order[y[order] < before])


def _feasible(table: Table) -> tuple[str, ...]:
    return tuple(one.name for one in table.figures if one.what == "feasible")


def _usable(table: Table, chunk: dict[str, Column]) -> npt.NDArray[np.bool_]:
    usable = np.ones(len(next(iter(chunk.values()))), dtype=bool)
    for name in _feasible(table):
        usable &= chunk[name].astype(bool)
    return usable


# A finished table as a file: CSV, or Parquet with the extra.  Whole, or not at all.

Bytes = npt.NDArray[np.uint8]
_LARGEST = 1e9
_ROWS_AT_ONCE = 1 << 17


def check_target(path: Path, *, replace: bool) -> None:
    """Whether a table of this name could be written.  Raises TableError, MissingExtraError.

    replace: also over an earlier file, which must be an ordinary one
    """
    if path.suffix.lower() not in (".csv", ".parquet"):
        raise TableError(f"{path}: a table's name ends in .csv or .parquet")
    if path.suffix.lower() == ".parquet":
        _parquet()
    if os.path.isdir(path):
        raise TableError(f"{path}: a folder; the name of a file")
    if not os.path.isdir(path.parent):
        raise TableError(f"{path}: cannot be written (there is no folder {path.parent})")
    if os.path.lexists(path):
        if not stat.S_ISREG(os.lstat(path).st_mode):
            raise TableError(f"{path}: a link, device or pipe; an ordinary file, or a new name")
        if not replace:
            raise _in_the_way(path)


def write_table(table: Table, path: Path, *, replace: bool) -> None:
    """Write the table, whole or not at all; an earlier one stays until the new one is whole.

    Raises TableError, also where one has appeared meanwhile and replace is False.
    """
    write = _write_parquet if path.suffix.lower() == ".parquet" else _write_csv
    temporary = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        try:
            with temporary.open("wb") as stream:
                write(table, stream)
                stream.flush()
                os.fsync(stream.fileno())
            if not replace and os.path.lexists(path):
                raise _in_the_way(path)
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise unwritable(path, error) from error


def _in_the_way(path: Path) -> TableError:
    return TableError(
        f"{path}: exists already, and was left as it is; --replace (replace=True) writes over it"
    )


def _write_csv(table: Table, stream: IO[bytes]) -> None:
    """One line per row; numbers with a point, unknown ones empty, true and false as 1 and 0."""
    stream.write(csv_line(table.columns).encode())
    for chunk in range(table.spool.chunks):
        box = table.layout.box(chunk)
        shape = tuple(stop - start for start, stop in box)
        axes = [
            _texts([axis.value(at) for at in range(start, stop)])
            for axis, (start, stop) in zip(table.axes, box, strict=True)
        ]
        figures = table.spool.read(chunk)
        for begin in range(0, figures.shape[1], _ROWS_AT_ONCE):
            some = slice(begin, min(begin + _ROWS_AT_ONCE, figures.shape[1]))
            at = np.unravel_index(np.arange(some.start, some.stop), shape)
            cells = [text[k] for text, k in zip(axes, at, strict=True)]
            cells += [
                _digits(values[some], one.decimals)
                for one, values in zip(table.figures, figures, strict=True)
            ]
            stream.write(_lines(cells))


def _lines(cells: list[Bytes]) -> bytes:
    """Cells (rows, width) side by side as lines, without their zero bytes."""
    rows = len(cells[0])
    comma, end = (np.full((rows, 1), ord(sign), dtype=np.uint8) for sign in ",\n")
    parts = [part for cell in cells for part in (cell, comma)]
    flat = np.concatenate([*parts[:-1], end], axis=1).ravel()
    return bytes(flat[flat != 0].tobytes())


def _cell(value: object) -> bytes:
    """A value of an axis as a CSV cell, the shortest text that reads back as the same number."""
    if isinstance(value, float) and value.is_integer() and abs(value) < _LARGEST:
        value = int(value)
    text = str(value).lower() if isinstance(value, bool) else value
    return csv_line([text if isinstance(text, int | float) else str(text), ""])[:-2].encode()


def _texts(values: list[object]) -> Bytes:
    """(n, width) cells, filled up with zero bytes, which are left out in the end."""
    cells = [_cell(value) for value in values]
    width = max(map(len, cells))
    joined = b"".join(cell.ljust(width, b"\0") for cell in cells)
    return np.frombuffer(joined, dtype=np.uint8).reshape(-1, width)


def _digits(values: FloatArray, decimals: int) -> Bytes:
    """(n, width) numbers with so many decimals, filled up with zero bytes; NaN as nothing."""
    known = np.isfinite(values) & (np.abs(values) < _LARGEST)
    scaled = np.rint(np.where(known, values, 0.0) * 10.0**decimals).astype(np.int64)
    left = np.abs(scaled).astype(np.uint64)
    width = max(len(str(int(left.max(initial=0)))), decimals + 1)
    if width < 10:
        left = left.astype(np.uint32)  # short division is several times faster
    ten = left.dtype.type(10)
    out = np.zeros((len(values), width + 2), dtype=np.uint8)
    at = width + 1
    for place in range(width):
        if place == decimals and decimals:
            out[:, at] = ord(".")
            at -= 1
        digit = left % ten
        shown = (left > 0) | (place <= decimals)
        out[:, at] = np.where(shown, digit + ord("0"), 0)
        left //= ten
        at -= 1
    out[:, 0] = np.where(scaled < 0, ord("-"), 0)
    out[~known] = 0
    return out


def _write_parquet(table: Table, stream: IO[bytes]) -> None:
    """One row group per chunk."""
    arrow, parquet = _parquet()
    fields = []
    for axis in table.axes:
        kind = arrow.float64() if axis.numeric else arrow.string()
        fields.append(arrow.field(axis.key, kind))
    fields += [arrow.field(one.name, _kind(one, arrow)) for one in table.figures]
    schema = arrow.schema(fields)
    with parquet.ParquetWriter(stream, schema) as writer:
        for chunk in table.chunks():
            columns = []
            for field in schema:
                values: Any = chunk[field.name]
                if values.dtype == object:
                    values = [str(value) for value in values]
                columns.append(arrow.array(values, type=field.type, from_pandas=True))
            writer.write_table(arrow.table(columns, schema=schema))


def _kind(figure: Figure, arrow: Any) -> object:
    return arrow.bool_() if figure.kind is bool else arrow.float64()


def _parquet() -> tuple[Any, Any]:
    """The modules of pyarrow.  Raises MissingExtraError."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise MissingExtraError(
            package="pyarrow", extra="parquet", purpose="a table in Parquet"
        ) from None
    return pyarrow, pyarrow.parquet

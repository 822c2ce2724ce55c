"""A finished table as a file: CSV, or Parquet with the extra.  Whole, or not at all."""

import csv
import io
import os
import stat
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from ..arrays import FloatArray
from ..errors import MissingExtraError
from .figures import Figure
from .spool import TableError, unwritable
from .table import Table

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
    stream.write(_line(list(table.columns)))
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


def _line(cells: list[str]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue().encode()


def _cell(value: object) -> bytes:
    """A value of an axis as a CSV cell, the shortest text that reads back as the same number."""
    text = str(value)
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, float):
        text = repr(int(value)) if value.is_integer() and abs(value) < _LARGEST else repr(value)
    return _line([text, ""])[:-2]


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

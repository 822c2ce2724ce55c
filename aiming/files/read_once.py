"""A file that stays as it is is read once, however often a house that names it is built."""

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

MOST_KEPT = 32

Read = TypeVar("Read")


def read_once(read: Callable[..., Read], path: Path, **options: Any) -> Read:
    """What a reader gives for a file, kept until the file's time or size changes.

    options: of the reader, hashable.  Raises what the reader raises, which is not kept.
    """
    try:
        now = path.stat()
    except OSError:
        return read(path, **options)
    stamp = (now.st_mtime_ns, now.st_size, now.st_ino)
    found: Read = _kept(read, path.absolute(), path, stamp, tuple(sorted(options.items())))
    return found


@lru_cache(maxsize=MOST_KEPT)
def _kept(
    read: Callable[..., Any],
    _where: Path,
    path: Path,
    _stamp: tuple[int, ...],
    options: tuple[tuple[str, Any], ...],
) -> Any:
    return read(path, **dict(options))

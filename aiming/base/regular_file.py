"""Ordinary files: whatever else a path may lead to can keep a reader for ever, or never end."""

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO


def open_ordinary(path: str | Path) -> BinaryIO:
    """An ordinary file, open for reading; links are followed.

    Raises OSError, whose strerror says what is there instead: a folder, a device or pipe, a file
    without permission, nothing.
    """
    try:
        _check(os.stat(path).st_mode)
        # What has taken its place since must not keep anybody waiting either.
        handle = os.open(path, os.O_RDONLY | _flag("O_NONBLOCK") | _flag("O_BINARY"))
    except ValueError:
        raise OSError(errno.EINVAL, "no name that a file can have") from None
    try:
        _check(os.fstat(handle).st_mode)
        return os.fdopen(handle, "rb")
    except OSError:
        os.close(handle)
        raise


def _check(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "a device or pipe, no ordinary file")


def _flag(name: str) -> int:
    """A flag of os.open, 0 on systems without it."""
    return int(getattr(os, name, 0))

"""Only ordinary files are read; what takes one's place in between keeps nobody waiting."""

import errno
import os
from pathlib import Path

import numpy as np
import pytest

from aiming.base.arrays import frozen
from aiming.base.regular_file import open_ordinary


def test_an_ordinary_file_and_a_link_to_it(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"1,2\r\n")
    (tmp_path / "link").symlink_to(path)
    for one in (path, str(path), tmp_path / "link"):
        with open_ordinary(one) as file:
            assert file.read() == b"1,2\r\n"


def test_a_folder_a_device_a_pipe_and_nothing(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path, code in (
        (tmp_path, errno.EISDIR),
        (Path(os.devnull), errno.EINVAL),
        (pipe, errno.EINVAL),
        (tmp_path / "nothing", errno.ENOENT),
        ("a\0b", errno.EINVAL),
    ):
        with pytest.raises(OSError) as refused:
            open_ordinary(path)
        assert refused.value.errno == code


def test_what_is_no_ordinary_file_is_not_even_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opening alone can wake a device."""
    os.mkfifo(tmp_path / "pipe")
    opened: list[object] = []
    with monkeypatch.context() as patched:
        patched.setattr(os, "open", lambda path, *_: opened.append(path))
        for path in (tmp_path, tmp_path / "pipe"):
            with pytest.raises(OSError):
                open_ordinary(path)
    assert opened == []


def test_a_pipe_that_took_a_files_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    path.touch()
    before = os.stat(path)
    path.unlink()
    os.mkfifo(path)
    free = os.open(os.devnull, os.O_RDONLY)
    os.close(free)
    with monkeypatch.context() as patched:
        patched.setattr(os, "stat", lambda _: before)
        with pytest.raises(OSError, match="pipe"):
            open_ordinary(path)
    # Nothing is left open: the next file has the same number.
    assert os.open(os.devnull, os.O_RDONLY) == free
    os.close(free)


def test_a_frozen_array_is_a_copy_that_cannot_be_written() -> None:
    given = np.array([1.0, 2.0])
    kept = frozen(given)
    given[0] = 5.0
    assert kept.tolist() == [1.0, 2.0]
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 3.0

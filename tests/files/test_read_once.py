"""A file is read once while it stays as it is, and again when it does not."""

import os
from pathlib import Path

import pytest

from aiming.files.read_once import read_once


def test_a_file_is_read_again_only_when_it_has_changed(tmp_path: Path) -> None:
    path, seen = tmp_path / "a.txt", []

    def read(path: Path, *, upper: bool = False) -> str:
        text = path.read_text(encoding="utf-8")
        seen.append(text)
        return text.upper() if upper else text

    path.write_text("one", encoding="utf-8")
    assert [read_once(read, path) for _ in range(3)] == ["one"] * 3
    assert read_once(read, path, upper=True) == "ONE"
    assert seen == ["one", "one"]
    path.write_text("two", encoding="utf-8")
    os.utime(path, ns=(1, 1))
    assert read_once(read, path) == "two"
    path.unlink()
    with pytest.raises(FileNotFoundError):
        read_once(read, path)

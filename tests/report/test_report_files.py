"""Files are written whole or not at all, and only over an earlier answer of the same scenario."""

import errno
import hashlib
import json
import multiprocessing
import os
from pathlib import Path

import pytest

from aiming.report import output_folder as files
from aiming.report.output_folder import (
    LIST_NAME,
    BusyError,
    OutputError,
    locked,
    write_file,
    write_folder,
)

ANSWER = {"answer.json": b"{}\n", "section.svg": b"<svg/>\n"}


def put(folder: Path, content: dict[str, bytes] = ANSWER, **options: object) -> None:
    write_folder(
        folder,
        content,
        scenario=str(options.get("scenario", "scenes/hall.toml")),
        title=str(options.get("title", "Hall")),
        replace=bool(options.get("replace", False)),
    )


def names(folder: Path) -> set[str]:
    return set(os.listdir(folder))


def test_makes_the_folder_and_what_leads_to_it(tmp_path: Path) -> None:
    put(tmp_path / "a" / "b")
    assert names(tmp_path / "a" / "b") == {*ANSWER, LIST_NAME}
    assert (tmp_path / "a" / "b" / "answer.json").read_bytes() == b"{}\n"


def test_same_scenario_renews_its_files_and_removes_stale_ones(tmp_path: Path) -> None:
    put(tmp_path)
    put(tmp_path, {"answer.json": b"new"}, scenario="elsewhere/hall.toml")
    assert names(tmp_path) == {"answer.json", LIST_NAME}
    assert (tmp_path / "answer.json").read_bytes() == b"new"


def test_same_input_same_bytes(tmp_path: Path) -> None:
    put(tmp_path / "one")
    put(tmp_path / "two")
    for name in names(tmp_path / "one"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


@pytest.mark.parametrize("other", ["notes.txt", ".hidden", "photos/"])
def test_other_files_are_refused_and_with_replace_left_alone(tmp_path: Path, other: str) -> None:
    if other.endswith("/"):
        (tmp_path / other).mkdir()
    else:
        (tmp_path / other).write_text("mine")
    before = names(tmp_path)
    with pytest.raises(OutputError, match=r"holds other files \(.*--replace"):
        put(tmp_path)
    assert names(tmp_path) == before
    put(tmp_path, replace=True)
    assert names(tmp_path) == before | {*ANSWER, LIST_NAME}


def test_another_scenario_is_refused_without_replace(tmp_path: Path) -> None:
    put(tmp_path)
    for change in ({"scenario": "church.toml"}, {"title": "Church"}):
        with pytest.raises(OutputError, match=r"another scenario \(hall.toml, \"Hall\"\)"):
            put(tmp_path, {"answer.json": b"church"}, **change)
    assert (tmp_path / "answer.json").read_bytes() == b"{}\n"
    put(tmp_path, {"answer.json": b"church"}, title="Church", replace=True)
    assert names(tmp_path) == {"answer.json", LIST_NAME}


def test_an_answer_without_its_list_counts_as_other_files(tmp_path: Path) -> None:
    (tmp_path / "answer.json").write_text("somebody's")
    with pytest.raises(OutputError, match="holds other files"):
        put(tmp_path)


@pytest.mark.parametrize("listed", ["../outside", "/etc/passwd", "..", "", "a\\b"])
def test_a_list_that_names_files_elsewhere_is_not_believed(tmp_path: Path, listed: str) -> None:
    folder = tmp_path / "out"
    put(folder)
    (tmp_path / "outside").write_text("precious")
    found = json.loads((folder / LIST_NAME).read_text())
    found["files"].append(listed)
    (folder / LIST_NAME).write_text(json.dumps(found))
    put(folder, {"answer.json": b"new"})
    assert (tmp_path / "outside").read_text() == "precious"


@pytest.mark.parametrize("broken", ["", "[]", "{}", '{"files": 3}', "\xff"])
def test_a_broken_list_is_no_list(tmp_path: Path, broken: str) -> None:
    put(tmp_path)
    (tmp_path / LIST_NAME).write_text(broken, encoding="latin-1")
    with pytest.raises(OutputError, match="holds other files"):
        put(tmp_path)


def test_a_link_is_refused_even_with_replace(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("mine")
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "answer.json").symlink_to(precious)
    with pytest.raises(OutputError, match="a link, folder or device"):
        put(folder, replace=True)
    assert precious.read_text() == "mine"
    assert names(folder) == {"answer.json"}


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="not a folder"):
        put(tmp_path / "out")
    with pytest.raises(OutputError, match=r"cannot be written|not a folder"):
        put(tmp_path / "out" / "deeper")


class Disk:
    """A disk that is full after some bytes."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, calls: int) -> None:
        self.left = calls
        monkeypatch.setattr(files.os, "fsync", self)

    def __call__(self, handle: int) -> None:
        self.left -= 1
        if self.left < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("calls", [0, 1, 2])
def test_a_full_disk_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, calls: int
) -> None:
    put(tmp_path)
    before = {name: (tmp_path / name).read_bytes() for name in names(tmp_path)}
    Disk(monkeypatch, calls)
    with pytest.raises(OutputError, match="No space left"):
        put(tmp_path, {"answer.json": b"longer", "section.svg": b"other"})
    assert {name: (tmp_path / name).read_bytes() for name in names(tmp_path)} == before


def test_a_full_disk_leaves_no_new_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Disk(monkeypatch, 0)
    with pytest.raises(OutputError):
        put(tmp_path / "a" / "b")
    assert names(tmp_path) == set()


def test_a_run_cut_short_while_renaming_can_be_repeated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path, {"answer.json": b"old"})
    true_replace = Path.replace

    def dies_at_answer(self: Path, target: Path) -> Path:
        if Path(target).name == "section.svg":
            raise KeyboardInterrupt
        return true_replace(self, target)

    monkeypatch.setattr(Path, "replace", dies_at_answer)
    with pytest.raises(KeyboardInterrupt):
        put(tmp_path)
    monkeypatch.undo()
    (tmp_path / ".aiming-123-4").write_text("half")
    put(tmp_path)
    assert names(tmp_path) == {*ANSWER, LIST_NAME}


def _many(folder: Path, letter: str) -> None:
    for _ in range(15):
        put(folder, {f"hang_sheet_{k}_main.pdf": letter.encode() for k in range(6)})


def test_two_runs_at_once_do_not_mix(tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("fork")
    runs = [spawn.Process(target=_many, args=(tmp_path, letter)) for letter in "AB"]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
        assert run.exitcode == 0
    assert len({(tmp_path / f"hang_sheet_{k}_main.pdf").read_bytes() for k in range(6)}) == 1


def test_a_held_folder_ends_in_a_clear_message(tmp_path: Path) -> None:
    with (
        locked(tmp_path),
        pytest.raises(BusyError, match="another run"),
        locked(tmp_path, longest_wait_s=0.1),
    ):
        raise AssertionError("two holders")
    with locked(tmp_path, longest_wait_s=0.1):
        pass


def test_a_new_file_never_covers_another(tmp_path: Path) -> None:
    target = tmp_path / "hall.toml"
    write_file(target, b"first")
    with pytest.raises(OutputError, match="exists already"):
        write_file(target, b"second")
    assert target.read_bytes() == b"first"
    write_file(target, b"third", replace=True)
    assert target.read_bytes() == b"third"
    assert names(tmp_path) == {"hall.toml"}
    assert target.stat().st_mode & 0o777 == 0o666 & ~_umask()


def test_a_file_is_not_written_through_a_link_or_into_nowhere(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(tmp_path / "absent")
    with pytest.raises(OutputError, match="a link"):
        write_file(tmp_path / "link", b"x", replace=True)
    with pytest.raises(OutputError, match="cannot be written"):
        write_file(tmp_path / "no folder" / "x", b"x")
    with pytest.raises(OutputError, match="device"):
        write_file("/dev/null", b"x", replace=True)


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now


def test_what_a_person_has_changed_is_not_written_over(tmp_path: Path) -> None:
    put(tmp_path)
    (tmp_path / "section.svg").write_bytes(b"<svg>my own line</svg>")
    with pytest.raises(OutputError, match=r"section\.svg"):
        put(tmp_path)
    assert (tmp_path / "section.svg").read_bytes() == b"<svg>my own line</svg>"
    put(tmp_path, replace=True)
    assert (tmp_path / "section.svg").read_bytes() == ANSWER["section.svg"]
    put(tmp_path)


def test_a_changed_file_that_is_no_longer_made_stays_even_with_replace(tmp_path: Path) -> None:
    put(tmp_path, {**ANSWER, "checks.pdf": b"made", "loads.csv": b"made"})
    (tmp_path / "checks.pdf").write_bytes(b"measured on it")
    put(tmp_path, replace=True)
    assert names(tmp_path) == {*ANSWER, LIST_NAME, "checks.pdf"}


@pytest.mark.parametrize("name", ["notes.txt", "my_answer.json", "answer.json.bak", "thesis.pdf"])
def test_a_list_made_by_hand_deletes_nobodys_file(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"mine")
    listed = {"scenario": "hall.toml", "title": "Hall", "files": [name],
              "sha256": {name: [hashlib.sha256(b"mine").hexdigest()]}}  # fmt: skip
    (tmp_path / LIST_NAME).write_text(json.dumps(listed))
    with pytest.raises(OutputError, match="other files"):
        put(tmp_path)
    put(tmp_path, replace=True)
    assert (tmp_path / name).read_bytes() == b"mine"


def test_what_a_kill_leaves_beside_a_table_is_swept(tmp_path: Path) -> None:
    gone = multiprocessing.get_context("fork").Process(target=int)
    gone.start()
    gone.join()
    left, fresh = tmp_path / f".aiming-{gone.pid}-0", tmp_path / f".aiming-{gone.pid}-1"
    mine, notes = tmp_path / f".aiming-{os.getpid()}-99", tmp_path / ".aiming-notes"
    for one in (left, fresh, mine, notes):
        one.write_text("half")
    for one in (left, mine, notes):
        os.utime(one, (0.0, 0.0))
    write_file(tmp_path / "table.csv", b"a")
    assert names(tmp_path) == {"table.csv", fresh.name, mine.name, notes.name}

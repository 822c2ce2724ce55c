"""What is written is written whole or not at all, and never over anything unasked."""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from limited import BROKEN, PATIENCE_S, Commands, Ended
from special_files import KINDS, PLAN

RANGES = PLAN.replace("height = 6.0\ntilt = -25.0", "height = [4.0, 6.0]")
LONG = PLAN + "# what the rigger noted\n" * 400
VARIANTS = PLAN + '[[variant]]\nname = "lower"\nset = { "speaker.main.placement.height" = 5.0 }\n'
TILTS = ("--over", "speaker.main.placement.tilt=-30:0:1")
BESIDE = {
    **KINDS["measured"].beside,
    "ranges.toml": RANGES,
    "long.toml": LONG,
    "variants.toml": VARIANTS,
    "heard.csv": KINDS["measured"].content().decode(),
    "read.csv": "reading,at,value\ninclinometer,,-36\n",
    "box.csv": KINDS["pattern"].content().decode(),
    "hall.dxf": KINDS["drawing"].content().decode(),
}
FOLDERS: dict[str, tuple[str, ...]] = {
    "solve": ("solve", "ranges.toml", "--out"),
    "evaluate": ("evaluate", "plan.toml", "--out"),
    "compare": ("compare", "variants.toml", "--out"),
    "what-if": ("what-if", "plan.toml", *TILTS, "--out"),
    "pattern": ("pattern", "box.csv", "--out"),
    "checks": ("onsite", "plan.toml", "--out"),
    "onsite": ("onsite", "plan.toml", "heard.csv", "--out"),
}
FILES: dict[str, tuple[str, ...]] = {
    "page": ("page", "plan.toml", "--out"),
    "table": ("what-if", "plan.toml", *TILTS, "--table"),
    "new": ("new",),
    "drawn": ("new", "--from", "hall.dxf"),
    "corrected": ("onsite", "long.toml", "heard.csv", "--readings", "read.csv", "--write"),
    "hung": ("onsite", "long.toml", "heard.csv", "--readings", "read.csv", "--write-hung"),
    "coarse": ("onsite", "plan.toml", "--ground", "heard.csv", "--write"),
}
RENEWED = ("page", "table")
"""The files that have a --replace; the others are only ever new."""
REFUSED = 2


@pytest.fixture(scope="module")
def commands() -> Iterator[Commands]:
    with Commands() as helper:
        yield helper


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, content in BESIDE.items():
        (tmp_path / name).write_text(content, encoding="utf-8")
    return tmp_path


def held(folder: Path) -> dict[str, bytes | str]:
    """Everything in a folder: bytes of files, targets of links."""
    found: dict[str, bytes | str] = {}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if path.is_symlink():
            found[name] = f"-> {os.readlink(path)}"
        else:
            found[name] = path.read_bytes() if path.is_file() else "no file"
    return found


def refused(ended: Ended, told: str) -> None:
    assert (ended.code, ended.in_time) == (REFUSED, True), ended.err
    assert told in ended.err and "Traceback" not in ended.err, ended.err


# Whatever is in the way stays as it is.


@pytest.mark.parametrize("name", FOLDERS)
def test_a_strangers_folder_is_refused_before_the_work(
    name: str, commands: Commands, folder: Path
) -> None:
    (folder / "out").mkdir()
    (folder / "out" / "letter.txt").write_text("dear")
    (folder / "file").write_text("no folder")
    (folder / "dangling").symlink_to("nothing")
    before = held(folder)
    targets = {"out": "holds other files (letter.txt)"}
    if name == "pattern":
        targets |= dict.fromkeys(("file", "dangling", "/dev/null"), "not a folder")
    for target, told in targets.items():
        # Were it only refused in the end, the signal would have ended it before.
        drawn = (signal.SIGKILL, "aiming.report.output_folder.write_folder")
        refused(commands.run(folder, *FOLDERS[name], target, signals=drawn), told)
    assert held(folder) == before


@pytest.mark.parametrize("name", FILES)
def test_no_file_is_written_over_unasked(name: str, commands: Commands, folder: Path) -> None:
    end = ".csv" if name == "table" else ".x"
    (folder / f"old{end}").write_text("precious")
    (folder / f"link{end}").symlink_to("old.x")
    (folder / f"dangling{end}").symlink_to("nothing")
    (folder / f"device{end}").symlink_to("/dev/full")
    (folder / f"folder{end}").mkdir()
    os.mkfifo(folder / f"pipe{end}")
    before = held(folder)
    # All of them where two rooms of their own see to it, the others go one of their ways.
    every = ("old", "link", "dangling", "device", "folder", "pipe")
    for target in every if name in ("new", "table") else ("old", "dangling"):
        options = ("--replace",) if name in RENEWED and target != "old" else ()
        ended = commands.run(folder, *FILES[name], f"{target}{end}", *options)
        refused(ended, f"{target}{end}: ")
    assert held(folder) == before


@pytest.mark.parametrize("name", RENEWED)
def test_replace_writes_over_a_file(name: str, commands: Commands, folder: Path) -> None:
    end = ".csv" if name == "table" else ".html"
    for target in (f"old{end}", f"new{end}"):
        (folder / f"old{end}").write_text("precious")
        ended = commands.run(folder, *FILES[name], target, "--replace")
        assert ended.code == 0, ended.err
    assert commands.run(folder, *FILES[name], f"old{end}", "--replace").code == 0
    assert (folder / f"old{end}").read_bytes() == (folder / f"new{end}").read_bytes()


def test_replace_writes_into_a_strangers_folder_and_leaves_what_is_not_ours(
    whole: Path, commands: Commands, folder: Path
) -> None:
    out = folder / "out"
    out.mkdir()
    (out / "letter.txt").write_text("dear")
    assert commands.run(folder, *FOLDERS["pattern"], "out", "--replace").code == 0
    assert held(out) == {**held(whole), "letter.txt": b"dear"}
    # One of the names is taken by a link: nothing is written through it, and nothing else either.
    (out / "pattern.json").unlink()
    (out / "pattern.json").symlink_to(folder / "box.csv")
    before = held(folder)
    refused(commands.run(folder, *FOLDERS["pattern"], "out", "--replace"), "pattern.json: a link")
    assert held(folder) == before


def test_a_table_is_not_kept_in_somebody_elses_file(commands: Commands, folder: Path) -> None:
    (folder / "t.csv.partial").write_text("my own notes, without an end of line")
    (folder / "u.csv.partial").symlink_to("plan.toml")
    os.mkfifo(folder / "v.csv.partial")
    before = held(folder)
    for name, told in (
        ("t", "not the file of a sweep"),
        ("u", "no ordinary"),
        ("v", "no ordinary"),
    ):
        for more in ((), ("--resume",), ("--replace",)):
            refused(commands.run(folder, *FILES["table"], f"{name}.csv", *more), told)
    assert held(folder) == before


# Disks and folders that take nothing.


@pytest.mark.parametrize("name", ["pattern", "page", "table", "new", "hung"])
def test_a_full_disk_leaves_everything_as_it_was(
    name: str, commands: Commands, folder: Path
) -> None:
    arguments, target = {**FOLDERS, **FILES}[name], "out.csv"
    before = held(folder)
    ended = commands.run(folder, *arguments, target, most_bytes=600)
    refused(ended, "cannot be written (File too large)")
    after = held(folder)
    if name == "table":
        # What is done of a sweep may stay, to go on with; the table itself is not there.
        after.pop("out.csv.partial", None)
    assert after == before


@pytest.mark.parametrize("name", ["pattern", "page", "table", "new", "hung"])
def test_a_folder_that_may_only_be_read(name: str, commands: Commands, folder: Path) -> None:
    (folder / "locked").mkdir()
    (folder / "locked").chmod(0o555)
    try:
        ended = commands.run(folder, *{**FOLDERS, **FILES}[name], "locked/new.csv")
        refused(ended, "cannot be written (Permission denied)")
        assert not list((folder / "locked").iterdir())
    finally:
        (folder / "locked").chmod(0o755)


# Signals.

AS_FROM_A_SHELL = ("env", "--default-signal=INT,TERM,HUP")
"""Signals as a person's shell leaves them, however the tests themselves were started."""
SIGNALS = {"SIGINT": 130, "SIGTERM": 143, "SIGHUP": 129}


@pytest.mark.parametrize(
    ("name", "command", "moment"),
    [
        ("SIGINT", "solve", "aiming.analysis.solve.solve"),
        ("SIGTERM", "solve", "aiming.analysis.solve.solve"),
        ("SIGTERM", "solve", "aiming.faces.documents"),
        ("SIGHUP", "pattern", "aiming.report.output_folder.locked"),
    ],
)
def test_a_signal_before_the_writing_leaves_nothing(
    name: str, command: str, moment: str, commands: Commands, folder: Path
) -> None:
    before = held(folder)
    at = (getattr(signal, name), moment)
    ended = commands.run(folder, *FOLDERS[command], "new/out", "--quiet", signals=at)
    assert ended.code == SIGNALS[name]
    assert "written" not in ended.out  # the answer may stand there already
    assert "Traceback" not in ended.err and "Aborted" not in ended.err
    assert held(folder) == before


@pytest.fixture(scope="module")
def whole(commands: Commands, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What `pattern --out` writes."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "box.csv").write_text(BESIDE["box.csv"], encoding="utf-8")
    assert commands.run(folder, *FOLDERS["pattern"], "out").code == 0
    return folder / "out"


@pytest.mark.parametrize(
    ("name", "moment"), [("SIGINT", "_kept"), ("SIGTERM", "_keep_list"), ("SIGHUP", "_kept")]
)
def test_a_signal_amid_the_writing_comes_after_it(
    name: str, moment: str, whole: Path, commands: Commands, folder: Path
) -> None:
    shutil.copytree(whole, folder / "cut")
    (folder / "cut" / "pattern.json").write_text("older")
    at = (getattr(signal, name), f"aiming.report.output_folder.{moment}")
    ended = commands.run(folder, *FOLDERS["pattern"], "cut", "--replace", signals=at)
    assert (ended.code, ended.out, ended.err) == (SIGNALS[name], "", "")
    assert held(folder / "cut") == held(whole)


@pytest.mark.parametrize("name", SIGNALS)
def test_a_signal_to_a_sweep_keeps_what_is_done(
    name: str, commands: Commands, folder: Path
) -> None:
    whole = folder / "whole.csv"
    assert commands.run(folder, *FILES["table"], whole).code == 0
    at = (getattr(signal, name), "aiming.sweep.run.write_table")
    ended = commands.run(folder, *FILES["table"], "t.csv", signals=at)
    assert ended.code == SIGNALS[name]
    assert ended.faults == [
        "stopped: 31 of 31 candidates are kept in t.csv.partial; --resume goes on with them"
    ]
    assert not (folder / "t.csv").exists()
    assert commands.run(folder, *FILES["table"], "t.csv", "--resume").code == 0
    assert (folder / "t.csv").read_bytes() == whole.read_bytes()
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


def test_resume_writes_the_table_that_may_be_replaced(commands: Commands, folder: Path) -> None:
    (folder / "t.csv").write_text("precious")
    at = (signal.SIGINT, "aiming.sweep.run.write_table")
    assert commands.run(folder, *FILES["table"], "t.csv", "--replace", signals=at).code == 130
    assert (folder / "t.csv").read_text() == "precious"
    assert commands.run(folder, *FILES["table"], "t.csv", "--resume").code == 0
    assert (folder / "t.csv").read_text().count("\n") == 32


def started(folder: Path, *arguments: str, **options: int) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [*AS_FROM_A_SHELL, sys.executable, "-m", "aiming", *arguments],
        cwd=folder,
        text=True,
        start_new_session=True,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **options},
    )


def test_a_sweep_that_is_told_to_end_takes_its_workers_along(folder: Path) -> None:
    place = "speaker.main.placement"
    axes = ("--over", f"{place}.height=4:8:0.002", "--over", f"{place}.tilt=-60:0:0.01")
    run = started(folder, "what-if", "plan.toml", *axes, "--table", "t.csv")
    partial = folder / "t.csv.partial"
    until = time.monotonic() + PATIENCE_S
    # Ended amid the first chunk, of 2.4 MB, it keeps nothing and has nothing to say.
    while not (partial.exists() and partial.stat().st_size > 3e6) and time.monotonic() < until:
        time.sleep(0.02)
    os.kill(run.pid, signal.SIGTERM)
    out, err = run.communicate(timeout=PATIENCE_S)
    assert (run.returncode, out) == (143, "")
    assert err.startswith("stopped: ") and err.count("\n") == 1, err
    with contextlib.suppress(ProcessLookupError):
        while time.monotonic() < until:
            os.killpg(run.pid, 0)
            time.sleep(0.02)
        raise AssertionError("workers are left")
    left = {path.name for path in folder.iterdir()} - set(BESIDE)
    assert left == {"t.csv.partial"}


def test_ctrl_c_while_everything_is_being_loaded_is_quiet() -> None:
    program = (
        "import os, runpy, signal, sys\n"
        "class Hook:\n"
        "    def find_spec(self, name, *_):\n"
        "        if name == 'aiming.cli.main': os.kill(os.getpid(), signal.SIGINT)\n"
        "sys.meta_path.insert(0, Hook())\n"
        "runpy.run_module('aiming', run_name='__main__')\n"
    )
    ended = subprocess.run(
        [*AS_FROM_A_SHELL, sys.executable, "-c", program],
        capture_output=True,
        check=False,
    )
    assert (ended.returncode, ended.stdout, ended.stderr) == (-signal.SIGINT, b"", b"")


def test_what_was_told_to_ignore_a_signal_ignores_it(folder: Path) -> None:
    program = (
        "import os, signal\n"
        "signal.signal(signal.SIGHUP, signal.SIG_IGN)\n"
        "from aiming.cli.process import end_cleanly\n"
        "end_cleanly(); os.kill(os.getpid(), signal.SIGHUP); print('goes on')\n"
    )
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert (ended.returncode, ended.stdout) == (0, b"goes on\n")


# Two at once.


def test_two_runs_that_make_the_same_file(folder: Path) -> None:
    runs = [started(folder, "new", "hall.toml") for _ in range(2)]
    told = [run.communicate(timeout=PATIENCE_S)[1] for run in runs]
    codes = [run.returncode for run in runs]
    assert sorted(codes) == [0, REFUSED], told
    assert "exists already, and was left as it is" in told[codes.index(REFUSED)]
    assert (folder / "hall.toml").read_text().endswith("\n")
    assert {path.name for path in folder.iterdir()} == {*BESIDE, "hall.toml"}


# Streams.


@pytest.mark.parametrize(
    "arguments",
    [("schema",), ("solve", "plan.toml", "--json"), ("what-if", "plan.toml", *TILTS), ("--help",)],
    ids=lambda arguments: arguments[0],
)
def test_a_pipe_that_nobody_reads(
    arguments: tuple[str, ...], commands: Commands, folder: Path
) -> None:
    ended = commands.run(folder, *arguments, stdout=BROKEN)
    assert ended.code == 141
    assert "Traceback" not in ended.err and "Broken" not in ended.err


@pytest.mark.parametrize(
    "arguments",
    [("schema",), ("solve", "plan.toml", "--quiet"), ("--version",)],
    ids=lambda arguments: arguments[0],
)
def test_a_full_disk_behind_standard_output_is_told(
    arguments: tuple[str, ...], commands: Commands, folder: Path
) -> None:
    ended = commands.run(folder, *arguments, stdout="/dev/full")
    refused(ended, "standard output: cannot be written (No space left on device)\n")


@pytest.mark.parametrize(
    ("line", "code", "out"),
    [
        ("pattern box.csv --out out --quiet >&- 2>&-", 0, ""),
        ("check nothing.toml 2>&-", 2, ""),
        ("check nothing.toml 2>/dev/full", 2, ""),
        ("check - <&-", 2, ""),
        ("new <&-", 0, "schema = 1"),
    ],
)
def test_streams_that_are_closed_or_full(line: str, code: int, out: str, folder: Path) -> None:
    ended = subprocess.run(
        ["bash", "-c", f"'{sys.executable}' -m aiming {line}"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == code, ended.stderr
    assert "Traceback" not in ended.stderr
    assert out in ended.stdout and (out or not ended.stdout)
    if "--out" in line:
        # No file of ours has taken the number of a stream that was closed.
        assert (folder / "out" / "pattern.json").read_text().startswith("{")

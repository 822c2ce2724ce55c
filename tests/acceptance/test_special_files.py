"""What stands where a file should: read with the same answer, or refused with one clear fault.

Every kind of file that the tool reads, as the command line is given it, in a process that may
neither wait for ever nor fill the memory.
"""

import os
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import ezdxf
import h5py
import numpy as np
import pytest
from limited import Commands, Ended
from special_files import HEAD, KINDS, PLAN, SPEAKER, Kind, drawn

from aiming.base.regular_file import open_ordinary

MOST_BYTES = 1_000_000_000
DIRECT = [name for name in KINDS if name not in ("pattern of a scenario", "sofa of a scenario")]
"""Each reader once; what is no file at all is tried in every place."""
TABLES = [
    name
    for name in DIRECT
    if KINDS[name].text and KINDS[name].name not in ("hall.dxf", "plan.toml")
]
Change = Callable[[Path], object]


@pytest.fixture(scope="module")
def commands() -> Iterator[Commands]:
    with Commands() as helper:
        yield helper


@pytest.fixture(scope="module")
def good(commands: Commands, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What each kind's command prints where its file is good."""
    printed = {}
    for name, kind in KINDS.items():
        folder = tmp_path_factory.mktemp("good")
        kind.put(folder)
        ended = commands.run(folder, *kind.arguments)
        assert ended.code == 0, ended.err
        printed[name] = ended.out
    return printed


def tried(commands: Commands, kind: Kind, folder: Path, change: Change) -> Ended:
    """The kind's command after a change of its good file."""
    change(kind.put(folder))
    ended = commands.run(folder, *kind.arguments)
    assert ended.in_time, "waits for ever"
    assert ended.peak_bytes < MOST_BYTES
    assert "Traceback" not in ended.err
    return ended


def refused(ended: Ended, told: str) -> None:
    """One fault, at a place, that says this."""
    assert (ended.code, ended.out) == (2, "")
    assert len(ended.faults) == 1, ended.err
    file, line, column, _ = ended.err.split(":", 3)
    assert file and int(line) > 0 and int(column) > 0
    assert told in ended.err


def instead(target: str) -> Change:
    """A link to something else in place of the file."""

    def change(path: Path) -> None:
        path.unlink()
        path.symlink_to(target)

    return change


def bytes_changed(by: Callable[[bytes], bytes]) -> Change:
    return lambda path: path.write_bytes(by(path.read_bytes()))


def folder_instead(path: Path) -> None:
    path.unlink()
    path.mkdir()


def pipe_instead(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


NO_FILES: dict[str, Change] = {
    "missing": Path.unlink,
    "dangling": instead("nothing"),
    "loop": lambda path: instead(path.name)(path),
    "folder": folder_instead,
    "pipe without a writer": pipe_instead,
    "nothing": instead("/dev/null"),
    "zeros": instead("/dev/zero"),
    "unreadable": lambda path: path.chmod(0),
}
SAYS = ("no such file", "No such file", "symbolic links", "a folder", "Is a directory",
        "a device or pipe", "Permission denied", "no file", "no ordinary file")  # fmt: skip


@pytest.mark.parametrize("change", NO_FILES.values(), ids=NO_FILES)
@pytest.mark.parametrize("name", KINDS)
def test_no_ordinary_file_is_one_fault(
    name: str, change: Change, commands: Commands, tmp_path: Path
) -> None:
    ended = tried(commands, KINDS[name], tmp_path, change)
    refused(ended, "; ")
    assert any(word in ended.err for word in SAYS), ended.err


@pytest.mark.parametrize("name", KINDS)
def test_a_link_is_followed(
    name: str, commands: Commands, good: dict[str, str], tmp_path: Path
) -> None:
    def linked(path: Path) -> None:
        path.rename(path.with_name("elsewhere"))
        path.symlink_to("elsewhere")

    ended = tried(commands, KINDS[name], tmp_path, linked)
    assert (ended.code, ended.out) == (0, good[name])


SAME: dict[str, Callable[[bytes], bytes]] = {
    "byte order mark": lambda data: b"\xef\xbb\xbf" + data,
    "CRLF": lambda data: data.replace(b"\n", b"\r\n"),
    "CR": lambda data: data.replace(b"\n", b"\r"),
}


@pytest.mark.parametrize("by", SAME.values(), ids=SAME)
@pytest.mark.parametrize("name", [name for name in DIRECT if KINDS[name].text])
def test_marks_and_line_ends_change_nothing(
    name: str,
    by: Callable[[bytes], bytes],
    commands: Commands,
    good: dict[str, str],
    tmp_path: Path,
) -> None:
    ended = tried(commands, KINDS[name], tmp_path, bytes_changed(by))
    assert (ended.code, ended.out) == (0, good[name])


def in_the_middle(data: bytes, what: bytes) -> bytes:
    at = data.index(b"\n", len(data) // 2)
    return data[:at] + what + data[at:]


READ: dict[str, Callable[[bytes], bytes]] = {
    "UTF-16": lambda data: data.decode().encode("utf-16"),
    "Latin-1": lambda data: data + b"# caf\xe9\n",
}


@pytest.mark.parametrize("by", READ.values(), ids=READ)
@pytest.mark.parametrize("name", TABLES)
def test_another_encoding_says_the_same(
    name: str,
    by: Callable[[bytes], bytes],
    commands: Commands,
    good: dict[str, str],
    tmp_path: Path,
) -> None:
    ended = tried(commands, KINDS[name], tmp_path, bytes_changed(by))
    # A pattern's reference is its file, and what its comment says of it.
    assert (ended.code, ended.out.replace(" (café)", "")) == (0, good[name])


@pytest.mark.parametrize("by", READ.values(), ids=READ)
def test_a_scenario_in_another_encoding_is_told_the_wanted_one(
    by: Callable[[bytes], bytes], commands: Commands, tmp_path: Path
) -> None:
    refused(tried(commands, KINDS["scenario"], tmp_path, bytes_changed(by)), "in UTF-8")


UNREAD: dict[str, Callable[[bytes], bytes]] = {
    "UTF-16 without its mark": lambda data: data.decode().encode("utf-16-le"),
    "UTF-8 with a broken byte": lambda data: data + "# café".encode()[:-1] + b" na\xc3\xafve\n",
}


@pytest.mark.parametrize("by", UNREAD.values(), ids=UNREAD)
@pytest.mark.parametrize("name", TABLES)
def test_what_is_in_no_encoding_is_told_the_wanted_one(
    name: str, by: Callable[[bytes], bytes], commands: Commands, tmp_path: Path
) -> None:
    refused(tried(commands, KINDS[name], tmp_path, bytes_changed(by)), "UTF-8")


NO_CONTENT: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda _: b"",
    "zero bytes": lambda _: bytes(1000),
    "a zero byte inside": lambda data: in_the_middle(data, b"\0"),
}


@pytest.mark.parametrize("by", NO_CONTENT.values(), ids=NO_CONTENT)
@pytest.mark.parametrize("name", DIRECT)
def test_empty_files_and_zero_bytes_are_refused(
    name: str, by: Callable[[bytes], bytes], commands: Commands, tmp_path: Path
) -> None:
    if KINDS[name].name == "box.sofa" and by is NO_CONTENT["a zero byte inside"]:
        pytest.skip("an AES69 file is full of them")
    ended = tried(commands, KINDS[name], tmp_path, bytes_changed(by))
    assert ended.code == 2
    assert 1 <= len(ended.faults) <= 2  # an empty scenario lacks a seating and a loudspeaker


def last_line(data: bytes) -> bytes:
    return data.splitlines(keepends=True)[-1]


def wide(data: bytes) -> bytes:
    return b"\n".join(line + b",1" * 100_000 for line in data.splitlines()) + b"\n"


HUGE: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "a million rows": (lambda data: data + last_line(data) * 1_000_000, "t most|in less than that"),
    "100,000 columns": (wide, "at most|Expected newline"),
    "a line of 10 MB": (
        lambda data: data + b"x" * 10_000_000 + b"\n",
        "at most|in less than that|as in the header",
    ),
    "numbers of 100,000 digits": (
        lambda data: data.replace(b"4", b"4" + b"0" * 100_000, 1),
        "at most|a length|a frequency",
    ),
}


@pytest.mark.parametrize("what", HUGE)
@pytest.mark.parametrize("name", TABLES)
def test_what_is_too_large_is_refused_with_its_limit(
    name: str, what: str, commands: Commands, good: dict[str, str], tmp_path: Path
) -> None:
    by, told = HUGE[what]
    data = KINDS[name].content()
    if by(data) == data:
        pytest.skip("this file has no such number")
    ended = tried(commands, KINDS[name], tmp_path, bytes_changed(by))
    assert ended.code == 2
    assert any(word in ended.err for word in told.split("|")), ended.err[:2000]
    assert len(ended.err) < 3000


def test_as_many_rows_as_are_taken_are_read_in_little_memory(
    commands: Commands, tmp_path: Path
) -> None:
    heard = ["position,frequency_hz,level_db"]
    heard += [f"row {row},{f / 4:.2f},{80 + row}" for row in (1, 9) for f in range(1, 99_000)]
    (tmp_path / "plan.toml").write_text(PLAN)
    (tmp_path / "heard.csv").write_text("\n".join(heard) + "\n")
    ended = commands.run(tmp_path, "onsite", "plan.toml", "heard.csv", "--json")
    assert (ended.code, ended.in_time) == (0, True), ended.err
    assert ended.peak_bytes < MOST_BYTES


# Drawings.


def drawing(commands: Commands, folder: Path, content: bytes) -> Ended:
    ended = tried(
        commands,
        KINDS["drawing of a scenario"],
        folder,
        lambda path: path.write_bytes(content),
    )
    return ended


def test_blocks_within_blocks_are_counted_before_they_fill_the_memory(
    commands: Commands, tmp_path: Path
) -> None:
    document = ezdxf.new("R2010", units=6)
    document.blocks.new("0").add_line((4, 0), (12, 0.6), dxfattribs={"layer": "tier"})
    for deep in range(1, 10):
        block = document.blocks.new(str(deep))
        for at in range(10):
            block.add_blockref(str(deep - 1), (at, 0))
    document.modelspace().add_blockref("9", (0, 0))
    refused(drawing(commands, tmp_path, drawn(document)), "more than 100,000 entities")


@pytest.mark.parametrize(("deep", "told"), [(1, "32 deep"), (200, "32 deep")])
def test_blocks_that_hold_themselves_or_go_very_deep(
    deep: int, told: str, commands: Commands, tmp_path: Path
) -> None:
    document = ezdxf.new("R2010", units=6)
    for number in range(deep):
        document.blocks.new(str(number)).add_blockref(str((number + 1) % deep), (0, 0))
    document.modelspace().add_blockref("0", (0, 0))
    refused(drawing(commands, tmp_path, drawn(document)), told)


def test_a_block_that_stands_a_billion_times(commands: Commands, tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=6)
    document.blocks.new("seat").add_line((4, 0), (5, 0), dxfattribs={"layer": "tier"})
    document.modelspace().add_blockref(
        "seat", (0, 0), dxfattribs={"row_count": 32_000, "column_count": 32_000}
    )
    refused(drawing(commands, tmp_path, drawn(document)), "more than 100,000 places")


def test_a_drawing_of_everything_is_refused_by_its_size(commands: Commands, tmp_path: Path) -> None:
    data = KINDS["drawing"].content()
    at = data.index(b"AcDbEntity") - 200
    filler = b"999\n" + b"x" * 90 + b"\n"
    ended = drawing(commands, tmp_path, data[:at] + filler * 300_000 + data[at:])
    refused(ended, "larger than 24 MiB; less, with only the section in it")


def test_a_vertex_count_that_is_claimed_reserves_nothing(
    commands: Commands, good: dict[str, str], tmp_path: Path
) -> None:
    data = KINDS["drawing"].content()
    claimed = data.replace(b" 90\n2\n", b" 90\n2000000000\n")
    assert claimed != data
    ended = drawing(commands, tmp_path, claimed)
    assert ended.code in (0, 2)
    assert ended.code == 2 or ended.out == good["drawing of a scenario"]


# AES69 files.


def sofa(commands: Commands, folder: Path, spoil: Callable[[h5py.File], object]) -> Ended:
    def change(path: Path) -> None:
        with h5py.File(path, "r+") as file:
            spoil(file)

    return tried(commands, KINDS["sofa"], folder, change)


def remade(name: str, **how: object) -> Callable[[h5py.File], object]:
    """The variable made anew, with its attributes."""

    def spoil(file: h5py.File) -> None:
        attributes = dict(file[name].attrs)
        del file[name]
        file.create_dataset(name, **how).attrs.update(attributes)

    return spoil


BILLION = {"shape": (1, 84, 1_000_000_000 // 84), "dtype": "f8"}


@pytest.mark.parametrize("name", ["N", "Data.Real", "Data.Imag", "ReceiverPosition"])
@pytest.mark.parametrize("storage", [{}, {"chunks": (1, 1, 1_000_000), "compression": "gzip"}])
def test_sizes_that_nothing_stands_behind(
    name: str, storage: dict[str, object], commands: Commands, tmp_path: Path
) -> None:
    refused(sofa(commands, tmp_path, remade(name, **BILLION, **storage)), "need; all of them")


def test_more_values_than_any_loudspeaker_has(commands: Commands, tmp_path: Path) -> None:
    huge = {"shape": (10**9, 10**9), "dtype": "f8", "chunks": (1, 1000)}
    refused(sofa(commands, tmp_path, remade("Data.Real", **huge)), "at most 1,000,000,000")


def test_zeros_packed_into_nothing_are_not_unpacked(commands: Commands, tmp_path: Path) -> None:
    """A few hundred kilobytes that would be 160 MB of frequencies."""
    packed = {"data": np.zeros(20_000_000), "chunks": (1_000_000,), "compression": "gzip"}
    refused(sofa(commands, tmp_path, remade("N", **packed)), "at most 10,000,000")


def test_one_block_may_not_claim_gigabytes(commands: Commands, tmp_path: Path) -> None:
    block = {"shape": (1, 84, 4), "maxshape": (None, None, None), "dtype": "f8"}
    ended = sofa(commands, tmp_path, remade("Data.Real", **block, chunks=(1000, 500, 100)))
    refused(ended, "at most 10,000,000 in one")


def test_values_in_another_file_are_not_fetched(commands: Commands, tmp_path: Path) -> None:
    def linked(file: h5py.File) -> None:
        del file["N"]
        file["N"] = h5py.ExternalLink("/dev/zero", "/N")

    def virtual(file: h5py.File) -> None:
        layout = h5py.VirtualLayout(file["Data.Real"].shape, "f8")
        layout[...] = h5py.VirtualSource("other.h5", "x", file["Data.Real"].shape)
        del file["Data.Real"]
        file.create_virtual_dataset("Data.Real", layout)

    zeros = [("/dev/zero", 0, h5py.h5f.UNLIMITED)]
    outside = remade("Data.Real", shape=(1, 84, 4), dtype="f8", external=zeros)
    for number, (spoil, told) in enumerate(
        [(linked, "a link to another file"), (virtual, "another file"), (outside, "another file")]
    ):
        folder = tmp_path / str(number)
        folder.mkdir()
        refused(sofa(commands, folder, spoil), told)


# Scenarios.


@pytest.mark.parametrize(
    "text",
    [
        PLAN + "deep = " + "[" * 10_000 + "]" * 10_000 + "\n",
        PLAN + "deep = " + "{a=" * 10_000 + "1" + "}" * 10_000 + "\n",
    ],
    ids=["lists", "tables"],
)
def test_ten_thousand_levels_are_refused(text: str, commands: Commands, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(text)
    refused(commands.run(tmp_path, "check", "plan.toml"), "nested too deeply; ")


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("x" * 5000, "at most 200 characters"),
        ("ж" * 200, "a file, its path relative to"),  # two bytes each: more than a name may have
        (".", "a file, its path relative to"),
    ],
)
def test_names_that_no_file_can_have(
    name: str, told: str, commands: Commands, tmp_path: Path
) -> None:
    seating = f'[[seating]]\nname = "yard"\nsurvey = "{name}"\n'
    (tmp_path / "plan.toml").write_text(HEAD + seating + SPEAKER + "coverage = 60\n")
    refused(commands.run(tmp_path, "check", "plan.toml"), told)


def test_standard_input_may_be_a_device_or_a_file(commands: Commands, tmp_path: Path) -> None:
    given = tmp_path / "plan.toml"
    given.write_text(PLAN)
    assert commands.run(tmp_path, "check", "-", stdin=given).code == 0
    refused(commands.run(tmp_path, "check", "-", stdin=Path("/dev/zero")), "larger than 8 MiB")


@pytest.mark.parametrize("name", ["loop", "pipe", "/dev/zero", "missing"])
def test_choose_takes_ordinary_pattern_files(name: str, commands: Commands, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN)
    (tmp_path / "loop").symlink_to("loop")
    os.mkfifo(tmp_path / "pipe")
    ended = commands.run(tmp_path, "choose", "plan.toml", "--pattern", name)
    assert (ended.code, len(ended.faults)) == (2, 1)
    assert "no such file" in ended.err


def test_a_pattern_folder_with_a_pipe_in_it(commands: Commands, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN)
    (tmp_path / "all").mkdir()
    os.mkfifo(tmp_path / "all" / "box.csv")
    ended = commands.run(tmp_path, "choose", "plan.toml", "--pattern", "all")
    assert (ended.code, ended.in_time) == (2, True)
    assert len(ended.faults) == 1 and "no ordinary file" in ended.err


# The one door.


def test_a_file_that_vanishes_or_turns_into_a_pipe_while_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.csv"
    path.write_text("x")
    true_open = os.open

    def vanishes(*arguments: object) -> int:
        path.unlink()
        return true_open(*arguments)

    monkeypatch.setattr("aiming.base.regular_file.os.open", vanishes)
    with pytest.raises(FileNotFoundError):
        open_ordinary(path)
    path.write_text("x")

    def turns(*arguments: object) -> int:
        path.unlink()
        os.mkfifo(path)
        return true_open(*arguments)

    monkeypatch.setattr("aiming.base.regular_file.os.open", turns)
    before = len(os.listdir("/proc/self/fd"))
    with pytest.raises(OSError, match="a device or pipe"):
        open_ordinary(path)
    assert len(os.listdir("/proc/self/fd")) == before


def test_the_good_files_are_what_they_say() -> None:
    assert tomllib.loads(PLAN)["title"] == "Tannery yard"
    assert {kind.name.split(".")[-1] for kind in KINDS.values()} == {
        "toml", "csv", "sofa", "dxf", "txt",
    }  # fmt: skip

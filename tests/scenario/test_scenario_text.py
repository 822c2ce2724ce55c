"""Getting at the text: what cannot be read is one clear fault."""

import io
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paths import TESTS

from aiming.base.errors import ScenarioError
from aiming.files.toml_text import LARGEST_BYTES
from aiming.scenario import load

VALID = TESTS / "data" / "scenarios" / "valid"
TEXT = (VALID / "minimal.toml").read_text(encoding="utf-8")
SAMPLE = (VALID / "quarry.toml").read_text(encoding="utf-8")
WORDS = re.compile(r"\w+|\W")


def one_fault(path: object, **options: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        load(str(path), **options)
    assert len(caught.value.faults) == 1
    return str(caught.value)


def test_missing_folder_device_and_no_name(tmp_path: Path) -> None:
    assert "there is no such file; " in one_fault(tmp_path / "none.toml")
    assert "a folder; " in one_fault(tmp_path)
    assert "a device or pipe; " in one_fault("/dev/zero")
    assert "there is no such file" in one_fault("a\0b.toml")
    assert "a folder" in one_fault("")
    (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
    assert "there is no such file" in one_fault(tmp_path / "loop.toml")


def test_unreadable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.toml"
    path.write_text(TEXT)

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert "cannot be read (Permission denied); " in one_fault(path)


def test_too_large(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (LARGEST_BYTES + 1))
    assert one_fault(path).startswith(f"{path}:1:1: text: larger than 8 MiB; ")


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        ".".join("a" * 200_000) + " = 1",
        ".".join(['"a"'] * 200_000) + " = 1",
        "[" + ".".join("a" * 200_000) + "]",
        "a = " + "{a=" * 5000 + "1" + "}" * 5000,
    ],
    ids=["arrays", "dotted", "quoted", "header", "inline"],
)
def test_deep_nesting_is_refused_quickly(text: str) -> None:
    assert re.search(r"nested too deeply; .* 32 levels", one_fault("-", stdin_text=text))


def test_number_with_absurdly_many_digits() -> None:
    assert "valid TOML" in one_fault("-", stdin_text="rows = 1" + "0" * 5000)


def test_bom_and_crlf(tmp_path: Path) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert len(load(path).rows) == len(load("-", stdin_text=TEXT).rows)
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("= 4", "= true").replace("\n", "\r\n").encode())
    assert ":8:15: speaker.main.placement.height: true; " in one_fault(path)


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(TEXT.encode())))
    scenario = load("-")
    assert (scenario.file, scenario.title, scenario.folder) == ("-", "untitled", Path())
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"title = \xff")))
    assert one_fault("-").startswith("-:1:9: text: byte 0xff is no UTF-8")


def test_many_faults_are_counted_not_all_told() -> None:
    text = TEXT + "".join(f'[[variant]]\nname = "{n}"\nbad = 1\n' for n in range(600))
    with pytest.raises(ScenarioError) as caught:
        load("-", stdin_text=text)
    assert len(caught.value.faults) == 501
    assert "more faults from here on" in caught.value.faults[-1].message


PIECES = st.sampled_from(
    ["nan", "inf", "-1", "0", "1e308", "1e-308", "[]", "{}", '""', "true", "[1, 2]",
     "[[0, 0], [1, 1]]", "1979-01-01", '"3,8 m"', "[nan]", "{ a = 1 }",
     "\\", "=", "]", "name", "line", "serves", "\n"]
)  # fmt: skip


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.data())
def test_a_mangled_file_loads_or_gives_faults(data: st.DataObject) -> None:
    words = WORDS.findall(SAMPLE)
    for _ in range(data.draw(st.integers(1, 3))):
        words[data.draw(st.integers(0, len(words) - 1))] = data.draw(PIECES)
    try:
        load("-", stdin_text="".join(words))
    except ScenarioError as error:
        assert error.faults
        assert all(fault.line >= 1 and fault.column >= 1 for fault in error.faults)

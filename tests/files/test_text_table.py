"""The one reader of text tables: what people export, read alike or refused at its place."""

import codecs
from collections.abc import Sequence
from math import inf, isnan
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.errors import ScenarioError
from aiming.files import text_table
from aiming.files.text_table import (
    Faults,
    Heading,
    TextTable,
    check_columns,
    frequency_hz_in,
    heading_of,
    read_cells,
    read_table,
    read_text,
)


def has_level(headings: Sequence[Heading]) -> bool:
    return any(heading.name == "level" for heading in headings)


def table(folder: Path, text: str | bytes, *, coding: str = "utf-8") -> TextTable:
    path = folder / "t.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(coding))
    return read_table(path, file="t.csv", is_header=has_level)


def numbers(read: TextTable) -> list[list[float]]:
    faults = Faults(read.file)
    keys = [heading.name for heading in read.headings]
    rows = [
        read_cells(read, faults, row, keys=keys, wanted="a number", largest=1e6)
        for row in read.rows
    ]
    faults.stop()
    return rows


def refusals(folder: Path, text: str | bytes) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        numbers(table(folder, text))
    return [str(fault) for fault in caught.value.faults]


PLAIN = "frequency,level\n1000,-1.5\n2000,93.25\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", "   "),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        PLAIN.replace(",", " ").replace(".", ","),
        PLAIN.replace(".", ",").replace("-1,5", '"-1,5"').replace("93,25", '"93,25"'),
        PLAIN.replace("\n", "\r\n").replace("-", "\u2212"),
        f"# a note\n\n% another\n{PLAIN}\n\n",
        f"Made in the yard\nno figures yet\n{PLAIN}",
        PLAIN.replace("\n", "\nHz,dB\n", 1),
        f"{PLAIN}End of data\n",
        f"{PLAIN}\nnothing more was measured\n",
        PLAIN.replace("frequency,level", "Frequency (Hz), Level [dB]"),
        PLAIN.replace("frequency,level", "Frequency (Hz) level (dB)").replace(",", "  "),
        PLAIN.replace(",", "\t").replace("frequency\tlevel", "frequency, Hz\tlevel"),
    ],
)
def test_one_table_in_many_hands(text: str, tmp_path: Path) -> None:
    assert numbers(table(tmp_path, text)) == [[1000.0, -1.5], [2000.0, 93.25]]


@pytest.mark.parametrize("coding", ["utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_codings(coding: str, tmp_path: Path) -> None:
    read = table(tmp_path, f"# über alles\n{PLAIN}", coding=coding)
    assert read.comments == ("über alles",)
    assert numbers(read)[1] == [2000.0, 93.25]


@pytest.mark.parametrize(
    ("raw", "line", "fact"),
    [
        (PLAIN.encode("utf-16-le"), 1, "UTF-16"),
        (codecs.BOM_UTF16_LE + b"a\0b", 1, "UTF-16"),
        ("é\nü\n".encode() + b"\xff", 3, "UTF-8"),
        (b"a\nb\x81", 2, "CP1252"),
        (b"a\n\x01\xff", 2, "no text"),
        (b"a\n\nb\0", 3, "zero byte"),
        (b"", 1, "empty"),
        (b"# only\n;;\n", 1, "empty"),
    ],
)
def test_what_is_no_text_is_told_at_its_line(
    raw: bytes, line: int, fact: str, tmp_path: Path
) -> None:
    (found,) = refusals(tmp_path, raw)
    assert found.startswith(f"t.csv:{line}:1: ")
    assert fact in found


def test_size_caps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(text_table, "LARGEST_BYTES", len(PLAIN))
    assert len(table(tmp_path, PLAIN).rows) == 2
    assert "larger than" in refusals(tmp_path, PLAIN + "1")[0]
    monkeypatch.setattr(text_table, "LARGEST_BYTES", 1000)
    monkeypatch.setattr(text_table, "MOST_LINES", 3)
    assert len(table(tmp_path, f"#\n{PLAIN}").rows) == 2
    assert refusals(tmp_path, f"{PLAIN}3,3\n")[0].startswith("t.csv:4:1: ")
    monkeypatch.setattr(text_table, "LONGEST_LINE", len("frequency,level"))
    assert len(table(tmp_path, PLAIN).rows) == 2
    assert refusals(tmp_path, PLAIN.replace("93.25", " " * 11))[0].startswith("t.csv:3:1: ")


def test_holes_and_nulls(tmp_path: Path) -> None:
    (row,) = numbers(table(tmp_path, "level;b;c;d;e;f\n1;;NaN;-inf;-∞;\n"))
    assert (row[0], row[3], row[4]) == (1.0, -inf, -inf)
    assert all(isnan(value) for value in (row[1], row[2], row[5]))


def test_faults_of_cells_stand_at_their_column(tmp_path: Path) -> None:
    found = refusals(tmp_path, 'name,level\n" 1",x\n 2 , inf\n3,1_0\n4,1e7\n')
    assert [one.split(": ")[0] for one in found] == [
        "t.csv:2:6", "t.csv:3:6", "t.csv:4:3", "t.csv:5:3",
    ]  # fmt: skip


def test_a_decimal_comma_beside_points_is_not_guessed(tmp_path: Path) -> None:
    (found,) = refusals(tmp_path, "level;b\n1,500;2\n2.25;2\n")
    assert found.startswith("t.csv:2:1: level: ")
    assert "decimal comma" in found


@pytest.mark.parametrize(
    ("text", "hz"),
    [
        ("1000", 1000.0), ("1k", 1000.0), ("1 kHz", 1000.0), ("1.25k", 1250.0), ("1k25", 1250.0),
        ("31.5", 31.5), ("31,5 Hz", 31.5), ("(500 Hz)", 500.0), ("16K", 16000.0), ("8000hz", 8e3),
        ("", None), ("k", None), ("-1000", None), ("1.5k2", None), ("1e3", None), ("a1k", None),
        ("inf", None), ("1_000", None),
    ],
)  # fmt: skip
def test_frequencies_as_people_head_columns(text: str, hz: float | None) -> None:
    assert frequency_hz_in(text) == hz


@pytest.mark.parametrize(
    ("text", "name", "unit"),
    [
        ("Frequency (Hz)", "frequency", "hz"),
        ("frequency_hz", "frequency", "hz"),
        ("Level [dB SPL]", "level", "db"),
        ("instrument height (mm)", "instrument_height", "mm"),
        ("x_ft", "x", "ft"),
        ("inclination °", "inclination", "deg"),
        ("x", "x", None),
        ("dB", "db", None),
        ("height (yd)", "height_(yd)", None),
    ],
)
def test_headings_and_their_units(text: str, name: str, unit: str | None) -> None:
    assert (heading_of(text).name, heading_of(text).unit) == (name, unit)


def test_a_row_of_units_gives_the_headings_theirs(tmp_path: Path) -> None:
    read = table(tmp_path, "Frequency;Level;x (m)\n[kHz];dB;-\n1;2;3\n")
    assert [read.unit(name) for name in ("frequency", "level", "x", "y")] == [
        "khz",
        "db",
        "m",
        None,
    ]
    assert len(read.rows) == 1


def test_a_row_cut_short_is_no_footer(tmp_path: Path) -> None:
    read = table(tmp_path, "name,level\nA,1\nB\n")
    assert [row.cells[0] for row in read.rows] == ["A", "B"]


def test_columns_are_checked_by_name(tmp_path: Path) -> None:
    read = table(tmp_path, "level,odd,level\n1,2,3\n4,5,6,7\n")
    faults = Faults("t.csv")
    check_columns(read, faults, needed=("level", "where"))
    with pytest.raises(ScenarioError) as caught:
        faults.stop()
    found = sorted(str(fault).split(": ")[:2] for fault in caught.value.faults)
    assert found == [
        ["t.csv:1:1", "where"], ["t.csv:1:11", "level"], ["t.csv:1:7", "odd"], ["t.csv:3:1", "row"],
    ]  # fmt: skip


def test_faults_alike_are_counted(tmp_path: Path) -> None:
    found = refusals(tmp_path, "level,b\n" + "x,1\n" * 40 + "1,y\n")
    assert len(found) == text_table.MOST_OF_A_KIND + 1
    assert found[-2].endswith(f"(and {40 - text_table.MOST_OF_A_KIND} more like it)")
    assert found[-1].startswith("t.csv:42:3: ")


def test_a_table_without_a_header(tmp_path: Path) -> None:
    path = tmp_path / "t.txt"
    path.write_text("* exported\n20 75.1\n25 76.2\n")
    read = read_table(path, file="t", is_header=None)
    assert read.header is None
    assert [row.cells for row in read.rows] == [("20", "75.1"), ("25", "76.2")]
    path.write_text("; exported\nFreq(Hz), SPL(dB)\n20 75.1\n25 76.2\n")
    read = read_table(path, file="t", is_header=None)
    assert [heading.name for heading in read.headings] == ["freq", "spl"]
    assert len(read.rows) == 2


@settings(deadline=None, max_examples=200, derandomize=True)
@given(raw=st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(
    raw: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "any"
    path.write_bytes(raw)
    try:
        assert "\0" not in read_text(path, file="any")
        read_table(path, file="any")
    except ScenarioError as error:
        assert all(fault.line >= 1 and fault.column >= 1 for fault in error.faults)

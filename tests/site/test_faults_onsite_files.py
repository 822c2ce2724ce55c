"""Files of what was measured and read, at their limits: the last that is taken, the first that is
refused, and the place that is told."""

from pathlib import Path

import numpy as np
import pytest
from measured_files import HEAD, refused, written

from aiming.geometry.section import Seating, rows_of
from aiming.site import text_lines as lines
from aiming.site.banding import in_bands, random_error_db
from aiming.site.places import Places, place_points, read_places, refuse_mixed
from aiming.site.readings import Reading, read_readings
from aiming.site.text_lines import (
    Faults,
    Line,
    number_in,
    number_told,
    read_table,
    split,
    text_lines,
)
from aiming.site.traces import Trace, measured_traces, read_measured, read_traces

WITH_COHERENCE = "position,frequency_hz,level_db,coherence\n"


def spot(found: str) -> tuple[int, int]:
    """Line and column of a fault's text."""
    line, column = found.split(": ", maxsplit=1)[0].rsplit(":", 2)[1:]
    return int(line), int(column)


def trace(
    name: str, frequency: list[float], level: list[float], coherence: float = 1.0, line: int = 1
) -> Trace:
    return Trace(
        name, np.array(frequency), np.array(level), np.full(len(level), coherence), "f.txt", line
    )


def test_faults_are_counted_and_told_in_the_order_of_the_file() -> None:
    faults = Faults("x.csv")
    faults.stop()
    faults.add("b", "second; s", key="k", at=(3, 2))
    faults.add("a", "first; f", at=(3, 1))
    faults.add("a", "again; f", at=(9, 1))
    faults.add("c", "third; t", at=(4, 1))
    for line in (5, 6, 7):
        faults.add("c", "third; t", at=(line, 1))
    faults.add("whole", "file; f")
    assert refused(faults.stop) == [
        "x.csv:1:1: text: file; f",
        "x.csv:3:1: text: first; f (and 1 more such line)",
        "x.csv:3:2: k: second; s",
        "x.csv:4:1: text: third; t (and 3 more such lines)",
    ]


def test_a_file_of_just_the_largest_size_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lines, "LARGEST_BYTES", 12)
    fits = written(tmp_path, "a\n\nbc\n234567")
    found = text_lines(fits, file="m", marks=("#",))
    assert found == [(1, "a"), (3, "bc"), (4, "234567")]
    more = written(tmp_path, "a\n\nbc\n2345678")
    assert "larger than 12 bytes" in refused(text_lines, more, file="m", marks=("#",))[0]


def test_what_is_no_text_is_told_at_its_line(tmp_path: Path) -> None:
    path = tmp_path / "b"
    path.write_bytes(b"a\nb\xff\n\xff")
    assert refused(text_lines, path, file="m", marks=("#",)) == [
        "m:2:1: text: bytes that are no UTF-8 text; a text file in UTF-8"
    ]
    path.write_bytes(b"\n\xff")
    assert spot(refused(text_lines, path, file="m", marks=("#",))[0]) == (2, 1)
    path.write_bytes(b"\n\0")
    assert spot(refused(text_lines, path, file="m", marks=("#",))[0]) == (2, 1)
    path.write_bytes(b"\xff")
    assert spot(refused(text_lines, path, file="m", marks=("#",))[0]) == (1, 1)
    path.write_bytes(b"a\n\n b\0\n\0")
    assert refused(text_lines, path, file="m", marks=("#",)) == [
        "m:3:1: text: a zero byte; a text file in UTF-8"
    ]
    path.write_bytes(b"\0")
    assert spot(refused(text_lines, path, file="m", marks=("#",))[0]) == (1, 1)


def test_comments_and_empty_lines_keep_their_numbers(tmp_path: Path) -> None:
    path = written(tmp_path, "# one\r\r\n  # two\r\n b \u22121\n")
    assert text_lines(path, file="m", marks=("#",)) == [(4, " b -1")]


@pytest.mark.parametrize(
    ("text", "separator", "cells", "columns"),
    [
        ("a,b,c", ",", ("a", "b", "c"), (1, 3, 5)),
        (" a , b,c ", ",", ("a", "b", "c"), (2, 6, 8)),
        ("a,,c", ",", ("a", "", "c"), (1, 3, 4)),
        ("1;1;1", ";", ("1", "1", "1"), (1, 3, 5)),
        ("  a \t bb", " ", ("a", "bb"), (3, 7)),
        ('"a,b",c', ",", ("a,b", "c"), (2, 7)),
        ('"x""y",z', ",", ('x"y', "z"), (1, 8)),
        ('"a"b,c', ",", ("ab", "c"), (1, 6)),
        ("abc,,defghi", ",", ("abc", "", "defghi"), (1, 5, 6)),
    ],
)
def test_cells_and_where_they_start(
    text: str, separator: str, cells: tuple[str, ...], columns: tuple[int, ...]
) -> None:
    assert split(7, text, separator) == Line(7, text, cells, columns)


def test_what_is_a_number() -> None:
    assert [number_in(text) for text in ("1.5", "-2", " 3e2 ", "1_000", "inf", "nan", "x", "")] == [
        1.5, -2.0, 300.0, None, None, None, None, None,
    ]  # fmt: skip
    assert number_told("", "a level") == "an empty cell; a level"
    assert number_told("loud", "a level") == '"loud"; a level'
    assert number_told("3,5", "a level").endswith("a decimal point: 3.5")


def test_a_table_reads_what_is_under_each_heading(tmp_path: Path) -> None:
    path = written(tmp_path, "# a note\nB;A\n1; 2\n")
    table = read_table(path, needed=("a",), optional=("b", "c"))
    (row,) = table.rows
    assert table.headings == ("b", "a")
    assert [table.cell(row, name) for name in ("a", "b", "c")] == ["2", "1", ""]
    assert [table.place(row, name) for name in ("a", "b", "c")] == [(3, 4), (3, 1), (3, 1)]
    assert table.header.number == 2


def test_a_header_that_is_wrong_is_told_at_its_column(tmp_path: Path) -> None:
    path = written(tmp_path, "#\na,b,a,a,d\n1,2,3,4,5\n")
    found = refused(read_table, path, needed=("a", "c"), optional=("b",))
    assert [spot(one) for one in found] == [(2, 1), (2, 1), (2, 9)]
    assert "a: the column comes twice; once (and 2 more such lines)" in found[0]
    assert "c: the column is missing from the header; a, c, [b]" in found[1]
    assert 'd: "d" is no column of this table; a, c, [b]' in found[2]
    none = written(tmp_path, "#\na,c\n")
    assert spot(refused(read_table, none, needed=("a", "c"))[0]) == (2, 1)


def test_a_row_of_too_many_or_too_few_cells_is_told(tmp_path: Path) -> None:
    few = refused(read_table, written(tmp_path, "a,b\n1,2\n1\n"), needed=("a", "b"))
    assert few[0].endswith(":3:1: text: 1 cells; 2 as in the header")
    many = refused(read_table, written(tmp_path, "a,b\n1,2\n1,2,3\n"), needed=("a", "b"))
    assert many[0].endswith("3 cells; 2 as in the header (a decimal comma? a decimal point, as in 93.2)")  # fmt: skip  # noqa: E501
    other = refused(read_table, written(tmp_path, "a;b\n1;2;3\n"), needed=("a", "b"))
    assert other[0].endswith("3 cells; 2 as in the header")


@pytest.mark.parametrize(
    "row",
    ["a,1000000,-3,1", "a,1,400,0", "a,1,-400,1", "a,0.5,-3,0.5", "a,1,-3,"],
)
def test_values_at_the_very_limit_are_taken(tmp_path: Path, row: str) -> None:
    (found,) = read_measured(written(tmp_path, WITH_COHERENCE + row + "\n"))
    _, frequency, level, coherence = row.split(",")
    assert found.frequency_hz.tolist() == [float(frequency)]
    assert found.level_db.tolist() == [float(level)]
    assert found.coherence.tolist() == [float(coherence or 1.0)]


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ("a,1000001,-3,1", 3, "frequency_hz: 1000001.0; a frequency in Hz"),
        ("a,0,-3,1", 3, "frequency: 0 Hz after 0 Hz; above 0"),
        ("a,1,401,0", 5, "level_db: 401.0; a level in dB"),
        ("a,1,-401,1", 5, "level_db: -401.0; a level in dB"),
        ("a,1,-3,1.01", 8, "coherence: 1.01; a coherence of 0 to 1"),
        ("a,1,-3,-0.01", 8, "coherence: -0.01; a coherence of 0 to 1"),
    ],
)
def test_values_beyond_the_limit_are_refused(
    tmp_path: Path, row: str, column: int, wanted: str
) -> None:
    (found,) = refused(read_measured, written(tmp_path, f"{WITH_COHERENCE}{row}\n"))
    assert found.endswith(f":2:{column}: {wanted}") or wanted in found
    assert spot(found) == (2, column)


def test_a_fault_in_a_table_is_told_once_and_where(tmp_path: Path) -> None:
    (found,) = refused(read_measured, written(tmp_path, HEAD + "a,100,-1\na,200,x\na,300,-1\n"))
    assert spot(found) == (3, 7)
    (found,) = refused(read_measured, written(tmp_path, HEAD + "a,100,-1\n ,200,-2\n"))
    assert spot(found) == (3, 1)
    (found,) = refused(read_measured, written(tmp_path, HEAD + "a,100,-1\nb,50,-2\na,50,-2\n"))
    assert spot(found) == (4, 3)
    assert "50 Hz after 100 Hz" in found
    (found,) = refused(read_measured, written(tmp_path, HEAD + "a,x,-1\na,50,-2\na,60,-2\n"))
    assert '"x"; a frequency in Hz' in found


def test_magnitudes_that_may_be_linear_are_asked_for(tmp_path: Path) -> None:
    ten = written(tmp_path, "# m\n" + HEAD + "a,1,0.01\na,2,10\n")
    (found,) = refused(read_measured, ten)
    assert "magnitudes of 0.01 to 10 look linear" in found
    assert spot(found) == (3, 1)
    above = written(tmp_path, HEAD + "a,1,0.01\na,2,10.5\n", "above.csv")
    assert read_measured(above)[0].level_db.tolist() == [0.01, 10.5]
    nought = written(tmp_path, HEAD + "a,1,0\na,2,5\n", "nought.csv")
    assert read_measured(nought)[0].level_db.tolist() == [0.0, 5.0]
    (found,) = refused(read_measured, nought, magnitude="linear")
    assert found.endswith(":2:1: magnitude: 0 is no linear magnitude; above 0, or levels in dB")
    read = read_measured(above, magnitude="linear")
    assert read[0].level_db == pytest.approx([-40.0, 20.4238], abs=1e-4)


def test_a_trace_begins_where_its_numbers_do(tmp_path: Path) -> None:
    path = written(tmp_path, "* a\nfreq mag\n0 -9\n0 -9\n10 -1\n20 -2\n", "t.txt")
    (found,) = read_traces({"x": path})
    assert found.line == 3
    assert found.frequency_hz.tolist() == [10.0, 20.0]
    assert found.coherence.tolist() == [1.0, 1.0]
    one = written(tmp_path, "0.5 -1\n", "o.txt")
    assert read_traces({"x": one})[0].frequency_hz.tolist() == [0.5]


@pytest.mark.parametrize(
    ("text", "place", "wanted"),
    [
        ("# a\nf m\n0 -9\n", (3, 1), "no line of both numbers"),
        ("# a\nwords\n", (2, 1), "no line of numbers"),
        ("1 -1\n0 -1\n", (2, 1), "0 Hz after 1 Hz"),
        ("1 -1\n1 -1\n", (2, 1), "1 Hz after 1 Hz"),
        ("1 -1\n2 x\n", (2, 3), '"x"; a magnitude in dB'),
        ("1 -1 2\n2 -1\n", (2, 1), "2 cells; 3 as on the line before"),
        ("# a\n1 0.5\n2 1\n", (2, 1), "look linear"),
        ("1;-1;5\n2;-1,5;5\n", (2, 3), "a decimal comma"),
        ("f,m\n1,0,-3,2\n2,0,-4,1\n", (2, 1), "whole numbers between commas"),
        ("1,0,-3,2,1,1\n2,0,-4,1,1,1\n", (1, 1), "whole numbers between commas"),
        ("1,0,-3,2,1,1,1,1\n2,0,-4,1,1,1,1,1\n", (1, 1), "whole numbers between commas"),
        ("f mag coh\n1 -3 0.5\n2 -3 -0.5\n", (3, 6), "-0.5; a coherence"),
        ("1000,5 -3 7\n2000,5 -4 7\n", (1, 1), "a decimal comma"),
        ("freq,mag\n1000,5 -3\n2000,5 -4\n3000,5 -5\n", (2, 1), "a decimal comma"),
        ("10 -1\nx -2\n30 -3\n", (2, 1), '"x"; a frequency in Hz'),
    ],
)
def test_a_fault_in_a_text_file_is_told_where_it_is(
    tmp_path: Path, text: str, place: tuple[int, int], wanted: str
) -> None:
    (found,) = refused(read_traces, {"x": written(tmp_path, text, "t.txt")})
    assert wanted in found
    assert spot(found) == place


@pytest.mark.parametrize(
    ("text", "level", "coherence"),
    [
        ("10,-1,20\n20,-2,30\n", [-1.0, -2.0], [1.0, 1.0]),  # three whole numbers: a phase
        ("10,-1,20,1\n20,-2,30,0.5\n", [-1.0, -2.0], [1.0, 0.5]),
        ("10,-1,20,1,7\n20,-2,30,0,7\n", [-1.0, -2.0], [1.0, 0.0]),
        ("10 -1 0\n20 -2 1\n", [-1.0, -2.0], [0.0, 1.0]),
        ("10 -1 0\n20 -2 1.01\n", [-1.0, -2.0], [1.0, 1.0]),
        ("10 -1 0\n20 -2 -0.01\n", [-1.0, -2.0], [1.0, 1.0]),
        ("10 -1 0.5\n20 -2 0.5 9\n", [-1.0, -2.0], [0.5, 0.5]),
        ("10 -1 0.5 0.25\n20 -2 0.5 0.75\n", [-1.0, -2.0], [0.25, 0.75]),
        ("Hz dB\n10 -1\n20 -2\n", [-1.0, -2.0], [1.0, 1.0]),
        ("dB Hz\n-1 10\n-2 20\n", [-1.0, -2.0], [1.0, 1.0]),
        ("some words\n10 -1 7\n20 -2 7\n", [-1.0, -2.0], [1.0, 1.0]),
        ("Freq (Hz) SPL (dB)\n10 -1\n20 -2\n", [-1.0, -2.0], [1.0, 1.0]),
        ('"Freq" [Mag] (Coh)\n10 -1 0.5\n20 -2 0.6\n', [-1.0, -2.0], [0.5, 0.6]),
        ("freq mag coh more\n10 -1 0.5\n20 -2 0.6\n", [-1.0, -2.0], [0.5, 0.6]),
        ("title, a long one\nfreq, mag\n10, -1\n20, -2\n", [-1.0, -2.0], [1.0, 1.0]),
        ("a;b\n10 -1\n20 -2\n30 -3\n", [-1.0, -2.0, -3.0], [1.0, 1.0, 1.0]),
        ("10\t-1\n20 -2\n30\t-3\n", [-1.0, -2.0, -3.0], None),
        ("10\t-1\n20\t-2\n30 -3\n40 -4\n", [-1.0, -2.0, -3.0, -4.0], [1.0] * 4),
        ("10,50\n20,60\n", [50.0, 60.0], [1.0, 1.0]),
        ("title\n10,-1\n20,-2\n", [-1.0, -2.0], [1.0, 1.0]),
        ("freq foo\n10 -1\n20 -2\n", [-1.0, -2.0], [1.0, 1.0]),
        ("foo mag\n10 -1\n20 -2\n", [-1.0, -2.0], [1.0, 1.0]),
        ("SPL (dB) Freq (Hz)\n-1 10\n-2 20\n", [-1.0, -2.0], [1.0, 1.0]),
        ("SPL [dB] Freq [Hz]\n-1 10\n-2 20\n", [-1.0, -2.0], [1.0, 1.0]),
        ("(Coh) (Mag) (Freq)\n0.5 -1 10\n0.6 -2 20\n", [-1.0, -2.0], [0.5, 0.6]),
    ],
)
def test_columns_are_told_apart(
    tmp_path: Path, text: str, level: list[float], coherence: list[float] | None
) -> None:
    path = written(tmp_path, text, "t.txt")
    if coherence is None:  # most lines have tabs, so the one that has none is short of a cell
        assert "1 cells; 2 as" in refused(read_traces, {"x": path})[0]
        return
    (found,) = read_traces({"x": path})
    assert found.frequency_hz.tolist() == [10.0, 20.0, 30.0, 40.0][: len(level)]
    assert found.level_db.tolist() == level
    assert found.coherence.tolist() == coherence


def test_positions_in_both_ways_and_too_few_are_told_where(tmp_path: Path) -> None:
    table = written(tmp_path, "#\n" + HEAD + "a,1,-1\n")
    (found,) = refused(measured_traces, table, None)
    assert spot(found) == (3, 1)
    assert 'position: one position, "a"; at least two' in found
    own = written(tmp_path, "#\n1 -1\n", "t.txt")
    (found,) = refused(measured_traces, table, {"a": own})
    assert spot(found) == (2, 1)
    assert "t.txt" in found
    two = measured_traces(None, {"b": own, "c": own})
    assert [one.position for one in two] == ["b", "c"]
    linear = written(tmp_path, HEAD + "a,1,0.1\nb,1,1\n")
    assert measured_traces(linear, None, magnitude="linear")[0].level_db == pytest.approx([-20.0])


BLOCKS = rows_of(
    (
        Seating("stalls", np.array([[4.0, 0.0], [5.8, 0.4]]), row_names=("A", "B", "C")),
        Seating("circle", np.array([[14.0, 4.0], [15.0, 5.0]]), row_names=("A", "AA")),
    )
)


def test_places_are_rows_of_weight_one() -> None:
    names = [trace("row B", [1.0], [0.0]), trace("desk", [1.0], [0.0])]
    found = place_points(tuple(names), BLOCKS, {"Desk": (9.0, 1.5)})
    assert found.x_m.tolist() == [4.9, 9.0]
    assert found.z_m == pytest.approx([1.4, 1.5])
    assert found.weight.tolist() == [1.0, 1.0]
    assert found.seating.tolist() == [0, 0]
    assert found.seatings == BLOCKS.seatings
    one = place_points((names[1],), BLOCKS, {"Desk": (9.0, 1.5)})
    assert one.x_m.tolist() == [9.0]


def test_names_that_are_unknown_are_told_where(tmp_path: Path) -> None:
    names = (
        trace("row B", [1.0], [0.0]),
        trace("zzzz", [1.0], [0.0], line=7),
        trace("A", [1.0], [0.0], line=9),
    )
    first, second = refused(place_points, names, BLOCKS, {})
    assert first == (
        'f.txt:7:1: position: "zzzz" is no position that is known; a row of the scenario, or a '
        "table of coordinates"
    )
    assert second.startswith('f.txt:9:1: position: "A" is in several seatings; with its seating')
    # A table of coordinates goes before the rows.
    found = place_points((trace("A", [1.0], [0.0]),), BLOCKS, {"a": (1.0, 2.0)})
    assert (found.x_m[0], found.z_m[0]) == (1.0, 2.0)


def test_kinds_of_microphone_are_kept_apart() -> None:
    desk, row = trace("desk", [1.0], [0.0]), trace("row B", [1.0], [0.0])
    for kind, height, mixed in [
        ("stand", None, False), ("stand", 1.0, False), ("stand", 0.0, True),
        ("boundary", 0.0, False), ("boundary", None, True), (None, None, False), (None, 0.0, False),
    ]:  # fmt: skip
        table = Places({"Desk": (1.0, 2.0)}, kind, "p.csv")
        refuse_mixed((desk,), table, height)
        if mixed:
            (found,) = refused(refuse_mixed, (desk, row), table, height)
            assert spot(found) == (1, 1)
            assert "at row B; one kind" in found
        else:
            refuse_mixed((desk, row), table, height)


def test_coordinates_in_a_table_and_their_faults(tmp_path: Path) -> None:
    feet = written(tmp_path, "z_ft,position,x_ft,microphone\n1,a,2,Stand\n3,b,4,\n")
    found = read_places(feet, unit="m")
    assert found.points["a"] == (pytest.approx(0.6096), pytest.approx(0.3048))
    assert found.points["b"] == (pytest.approx(1.2192), pytest.approx(0.9144))
    assert found.microphone == "stand"
    assert found.file == str(feet)
    metres = written(tmp_path, "position,x_m,z_m\na,1,2\n")
    assert read_places(metres, unit="ft").points == {"a": (1.0, 2.0)}
    assert read_places(metres, unit="ft").microphone is None
    for head in ("position,x,z,x_ft", "position,x,z_m", "position", "position,x,z,x_m,z_m"):
        text = "#\n" + head + "\n" + ",".join("1" * len(head.split(","))) + "\n"
        (told,) = refused(read_places, written(tmp_path, text), unit="m")
        assert spot(told) == (2, 1)
        assert "the two columns x and z" in told
        given = ", ".join(head.split(",")[1:]) or "neither"
        assert f"x, z: {given}; the two columns x and z" in told
    bad = "position,x,z,microphone\na,1,2,stand\n a,1,far,stand\n,1,2,boundary\nc,1,2,boundary\n"
    found_faults = refused(read_places, written(tmp_path, bad), unit="m")
    assert [spot(one) for one in found_faults] == [(3, 2), (3, 6), (4, 1), (4, 1)]
    assert '"a" again' in found_faults[0]
    assert '"far"; a length' in found_faults[1]
    assert {one.split(":3: ")[-1].split(": ")[1] for one in found_faults[2:]} == {
        "position", "microphone",
    }  # fmt: skip
    lapel = "position,x,z,microphone\na,1,2,stand\nb,1,2,lapel\n"
    (told,) = refused(read_places, written(tmp_path, lapel), unit="m")
    assert spot(told) == (3, 7)


def readings(folder: Path, rows: str, unit: str = "m") -> tuple[Reading, ...]:
    return read_readings(written(folder, "reading,at,value,plus_minus\n" + rows), unit=unit)


@pytest.mark.parametrize(
    ("row", "value", "doubt"),
    [
        ("inclinometer,axis,-90,", -90.0, 0.3),
        ("inclinometer,axis,90,1", 90.0, 1.0),
        ("inclinometer,axis,nose up 5,0.2", 5.0, 0.2),
        ("inclinometer,axis,Nose Down 5°,0.2 deg", -5.0, 0.2),
        ("inclinometer,axis,nose down -5,", -5.0, 0.3),
        ("laser,floor,100 km,100 mm", 1e5, 0.1),
        ("laser,floor,-3,", -3.0, 0.10),
        ("height,,6,", 6.0, 0.03),
        ("height,,20 ft,1 in", 6.096, 0.0254),
        ("load,front,0 N,5 N", 0.0, 5.0),
        ("load,front,100 N,", 100.0, 3.0),
        ("load,front,-100 N,", -100.0, 3.0),
        ("load,front,-100 N,2 %", -100.0, 2.0),
        ("load,front,2 kN,1.5 %", 2000.0, 30.0),
        ("load,front,10 kg,1 kg", 98.0665, 9.80665),
        ("load,front,10 lb,1 lbf", 44.48222, 4.448222),
    ],
)
def test_readings_and_their_doubts(tmp_path: Path, row: str, value: float, doubt: float) -> None:
    (found,) = readings(tmp_path, row + "\n")
    assert found.value == pytest.approx(value, rel=1e-6)
    assert found.doubt == pytest.approx(doubt, rel=1e-6)
    assert found.place == (2, 1)
    assert found.at == row.split(",")[1]


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ("plumb,axis,5,", 1, "inclinometer, laser, load, height"),
        ("inclinometer,axis,90.1,", 19, "degrees from -90 to 90"),
        ("inclinometer,axis,-90.1,", 19, "degrees from -90 to 90"),
        ("inclinometer,axis,1.2.3,", 19, "degrees from -90 to 90"),
        ("laser,floor,100001,", 13, "within 100 km of the datum"),
        ("height,,-100001,", 9, "within 100 km of the datum"),
        ("load,front,1.2.3 N,", 12, "a load with its unit"),
        ("load,front,5 t,", 12, "a load with its unit"),
        ("load,front,5 N,0 %", 16, "0 or less; above 0"),
        ("load,front,5 N,.. %", 16, "0 or less; above 0"),
        ("load,front,0 N,", 12, "0 or less; above 0"),
        ("height,,6,-0.1", 11, "0 or less; above 0"),
        ("laser,floor,6,3 %", 15, "a length"),
        ("inclinometer,axis,5,3 %", 21, "degrees from -90 to 90"),
    ],
)
def test_readings_that_are_refused_are_told_where(
    tmp_path: Path, row: str, column: int, wanted: str
) -> None:
    found = refused(readings, tmp_path, row + "\n")
    assert len(found) == 1, found
    assert wanted in found[0]
    assert spot(found[0]) == (2, column)


def test_rounding_leaves_full_coherence_without_doubt() -> None:
    # The shares of a band add to 1 but for rounding; a root below 0 once came out of it.
    for count in range(50, 400):
        line_hz = np.geomspace(20.0, 20000.0, count)
        full = trace("a", line_hz.tolist(), [0.0] * count)
        doubt = in_bands((full,), (1000.0, 2000.0, 4000.0, 8000.0)).doubt_db
        assert np.abs(doubt).max() < 1e-6


def test_coherence_at_the_least_that_counts() -> None:
    assert np.isfinite(in_bands((trace("a", [1000.0], [-3.0], 0.02),), (1000.0,)).level_db).all()
    assert np.isnan(in_bands((trace("a", [1000.0], [-3.0], 0.0199),), (1000.0,)).level_db).all()
    # √((1 − γ²)/(2·γ²·16)) with γ² = 0.02: 1.2374 of the magnitude.
    assert random_error_db(0.02) == pytest.approx(8.6859 * 1.23744, rel=1e-4)


def test_levels_average_by_energy_and_coherence() -> None:
    # Three equal thirds of an octave, the last half coherent: (1 + 10^0.3 + 0.5·10)/2.5.
    one = Trace("a", np.array([800.0, 1000.0, 1250.0]), np.array([0.0, 3.0, 10.0]),
                np.array([1.0, 1.0, 0.5]), "f", 1)  # fmt: skip
    found = in_bands((one,), (1000.0,))
    wanted = 10.0 * np.log10((1.0 + 10.0**0.3 + 5.0) / 2.5)
    assert found.level_db[0, 0] == pytest.approx(wanted, abs=1e-6)
    assert found.doubt_db[0, 0] == pytest.approx(random_error_db(2.5 / 3.0), rel=1e-9)
    # A line 400 dB below another leaves no logarithm of nothing.
    deep = Trace("a", np.array([800.0, 1000.0, 1250.0]), np.array([-400.0, -400.0, 400.0]),
                 np.array([1.0, 1.0, 0.0]), "f", 1)  # fmt: skip
    assert in_bands((deep,), (1000.0,)).level_db[0, 0] == pytest.approx(100.0)


def test_every_trace_has_its_column_and_the_nearer_band_its_frequency() -> None:
    thirds = (800.0, 1000.0, 1250.0)
    found = in_bands(
        (trace("a", [1000.0], [1.0]), trace("b", [820.0], [2.0]), trace("c", [1200.0], [3.0])),
        thirds,
    )
    assert np.isfinite(found.level_db).tolist() == [
        [False, True, False], [True, False, False], [False, False, True],
    ]  # fmt: skip
    assert found.level_db[1, 0] == 1.0
    assert found.level_db[0, 1] == 2.0
    assert found.level_db[2, 2] == 3.0


def test_lines_at_their_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lines, "MOST_LINES", 2)
    monkeypatch.setattr(lines, "LONGEST_LINE", 5)
    fits = written(tmp_path, "#\n12345\n2\n")
    assert text_lines(fits, file="m", marks=("#",)) == [(2, "12345"), (3, "2")]
    more = written(tmp_path, "#\n1\n2\n\n3\n4\n")
    (found,) = refused(text_lines, more, file="m", marks=("#",))
    assert spot(found) == (5, 1)
    long = written(tmp_path, "#\n12345\n123456\n")
    (found,) = refused(text_lines, long, file="m", marks=("#",))
    assert spot(found) == (3, 1)

"""Reading what was measured: what is accepted, and one clear message for everything else."""

from pathlib import Path

import numpy as np
import pytest
from measured_files import HEAD, refused, written

from aiming.geometry.section import Seating, rows_of
from aiming.site.banding import in_bands, random_error_db
from aiming.site.places import microphones, place_points, read_places, refuse_mixed
from aiming.site.traces import Trace, measured_traces, read_measured, read_traces


def trace(name: str, frequency: list[float], level: list[float], coherence: float = 1.0) -> Trace:
    return Trace(
        name, np.array(frequency), np.array(level), np.full(len(level), coherence), "f.txt", 1
    )


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_the_long_table_is_read_with_any_separator(tmp_path: Path, mark: str) -> None:
    text = (
        "# noise\nposition,frequency_hz,level_db,coherence\nrow 1,1000,-3.5,0.9\nrow 1,2000,-4,\n"
    )
    text += "row 2,1000,-1,1\n"
    found = read_measured(written(tmp_path, text.replace(",", mark)))
    assert [one.position for one in found] == ["row 1", "row 2"]
    assert found[0].frequency_hz.tolist() == [1000.0, 2000.0]
    assert found[0].level_db.tolist() == [-3.5, -4.0]
    assert found[0].coherence.tolist() == [0.9, 1.0]
    assert (found[0].line, found[1].line) == (3, 5)


def test_columns_may_come_in_any_order_with_windows_line_ends(tmp_path: Path) -> None:
    text = "\ufefflevel_db,position,frequency_hz\r\n-3,a,1000\r\n-4,b,1000\r\n"
    found = read_measured(written(tmp_path, text))
    assert [(one.position, one.level_db[0]) for one in found] == [("a", -3.0), ("b", -4.0)]


@pytest.mark.parametrize(
    "text",
    [
        "* exported\n20 -10.5 33 0.2\n1000 -3.5 -10 0.9\n2000 −4 12 0.8\n",
        "20\t-10.5\t33\t0.2\n1000\t-3.5\t-10\t0.9\n2000\t-4\t12\t0.8\n",
        "20;-10.5;33;0.2\n1000;-3.5;-10;0.9\n2000;-4;12;0.8\n",
        "; note\n20,-10.5,33,0.2\n1000,-3.5,-10,0.9\n2000,-4,12,0.8\n",
        "Frequency (Hz), Magnitude (dB), Phase (deg), Coherence\n"
        "20, -10.5, 33, 0.2\n1000, -3.5, -10, 0.9\n2000, -4, 12, 0.8\n",
        "Coherence\tFreq\tMag\n0.2\t20\t-10.5\n0.9\t1000\t-3.5\n0.8\t2000\t-4\n",
        "freq mag coh\n0 -99 0\n20 -10.5 0.2\n1000 -3.5 0.9\n2000 -4 0.8\n",
        "20 -10.5 0.2\n1000 -3.5 0.9\n2000 -4 0.8\n",
    ],
)
def test_a_text_file_per_position_in_the_usual_layouts(tmp_path: Path, text: str) -> None:
    (found,) = read_traces({"row 1": written(tmp_path, text, "t.txt")})
    assert found.frequency_hz.tolist() == [20.0, 1000.0, 2000.0]
    assert found.level_db.tolist() == [-10.5, -3.5, -4.0]
    assert found.coherence.tolist() == [0.2, 0.9, 0.8]


THREE = ("row 2", "row 4", "row 6")
LAYOUTS = {
    "as the check sheet": "position,1000,2k,4 kHz\nrow 2,-3,-4,-5\nrow 4,-6,-7,-8\nrow 6,,,\n",
    "a column a position": "Frequency (Hz);row 2;row 4\n4000;-5,0;-8,0\n2000;-4,0;-7,0\n"
    "1000;-3,0;-6,0\n",
    "takes": HEAD + "row 2,1k,-3\nrow 2,1k,-3\nrow 2,2000,-4\nrow 2,4000,-5\nrow 4,1000,-6\n"
    "row 4,2000,-7\nrow 4,4000,-8\nrow 4,500,-inf\nrow 2,500,\n",
    "a footer": HEAD + "row 2,1000,-3\nrow 2,2000,-4\nrow 2,4000,-5\nrow 4,1000,-6\n"
    "row 4,2000,-7\nrow 4,4000,-8\n\nEnd of data\n",
}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("coding", ["utf-8", "utf-16", "latin-1"])
def test_tables_as_they_come(tmp_path: Path, layout: str, coding: str) -> None:
    path = tmp_path / "m.csv"
    path.write_bytes(LAYOUTS[layout].encode(coding))
    two, four = read_measured(path)
    assert (two.position, four.position) == THREE[:2]
    assert two.frequency_hz.tolist() == four.frequency_hz.tolist() == [1000.0, 2000.0, 4000.0]
    assert two.level_db == pytest.approx([-3.0, -4.0, -5.0])
    assert four.level_db == pytest.approx([-6.0, -7.0, -8.0])


def test_real_and_imaginary_parts_are_read_as_such(tmp_path: Path) -> None:
    # |0.3 + 0.4i| = 0.5: −6.02 dB, at 53.13°.
    text = "Frequency,Real,Imag\n1000,0.3,0.4\n2000,0,-1\n"
    (found,) = read_traces({"a": written(tmp_path, text, "t.txt")})
    assert found.level_db == pytest.approx([-6.0206, 0.0], abs=1e-4)
    assert found.phase_deg == pytest.approx([53.1301, -90.0], abs=1e-4)


def test_one_of_several_traces_goes_by_its_name(tmp_path: Path) -> None:
    path = written(tmp_path, "freq,mag L,mag R\n1000,-3,-4\n2000,-5,-6\n", "t.txt")
    (found,) = read_traces({"a": f"{path}::Mag r"})
    assert found.level_db.tolist() == [-4.0, -6.0]
    assert "one of mag L, mag R" in refused(read_traces, {"a": f"{path}::mid"})[0]


def test_takes_are_averaged_by_energy(tmp_path: Path) -> None:
    one = written(tmp_path, "1000 -3\n2000 -3\n", "a.txt")
    other = written(tmp_path, "1000 -9\n2000 -3\n", "b.txt")
    (found,) = read_traces({"row 1": [one, other]})
    energy = 10.0 * np.log10(0.5 * (10.0**-0.3 + 10.0**-0.9))
    assert found.level_db == pytest.approx([energy, -3.0], abs=1e-9)
    assert found.takes == 2
    assert found.takes_apart_db == pytest.approx(3.0)  # the median of 6 and 0
    table = written(tmp_path, "position,1000,2000\na,-3,-4\nb,-3,-4\na,-5,-8\n", "t.csv")
    apart = {one.position: one.takes_apart_db for one in measured_traces(table, None)}
    assert apart == {"a": pytest.approx(3.0), "b": 0.0}


def test_smoothing_is_a_mean_of_energy_over_so_many_octaves() -> None:
    f = 1000.0 * 2.0 ** (np.arange(-6, 7) / 6.0)
    level = np.where(np.arange(13) == 6, 10.0, 0.0)
    found = Trace("a", f, level, np.ones(13), "f", 1).smoothed(1.0 / 3.0).level_db
    # A third holds the line itself and one a sixth to either side.
    peak = 10.0 * np.log10((10.0 + 1.0 + 1.0) / 3.0)
    assert found == pytest.approx([0.0] * 5 + [peak] * 3 + [0.0] * 5)


def test_coherence_in_percent_is_hundredths(tmp_path: Path) -> None:
    for head, cells in (("coherence (%)", "98"), ("coherence", "98"), ("coherence", "0.98")):
        text = f"freq,mag,{head}\n1000,-3,{cells}\n2000,-3,{cells}\n"
        (found,) = read_traces({"a": written(tmp_path, text, "t.txt")})
        assert found.coherence == pytest.approx([0.98, 0.98])


def test_sets_are_kept_apart(tmp_path: Path) -> None:
    text = "position,frequency_hz,level_db,set\na,1000,-3,first\nb,1000,-4,second\n"
    assert [one.set for one in read_measured(written(tmp_path, text))] == ["first", "second"]


def test_a_third_column_that_leaves_0_to_1_is_phase(tmp_path: Path) -> None:
    text = "20 -10.5 0.2\n1000 -3.5 -170\n2000 -4 0.8\n"
    (found,) = read_traces({"row 1": written(tmp_path, text, "t.txt")})
    assert found.coherence.tolist() == [1.0, 1.0, 1.0]


def test_a_long_table_may_hold_phases(tmp_path: Path) -> None:
    rows = "position,frequency_hz,level_db,phase\n"
    rows += "a,1000,-3,20\na,2000,-4,-170.5\nb,1000,-5,0\nb,2000,-6,\n"
    one, other = read_measured(written(tmp_path, rows))
    assert one.phase_deg == pytest.approx([20.0, -170.5])
    # A phase with a hole is none; nor is one of several takes.
    assert other.phase_deg is None
    assert read_measured(written(tmp_path, f"{rows}a,1000,-3,20\n"))[0].phase_deg is None
    (fault,) = refused(read_measured, written(tmp_path, rows.replace(",20\n", ",late\n")))
    assert ":2:11: phase: " in fault


def test_frequencies_in_kilohertz_by_head_or_by_cell(tmp_path: Path) -> None:
    (found,) = read_traces({"a": written(tmp_path, "freq (kHz),mag\n0.5,-3\n2,-4\n", "t.txt")})
    assert found.frequency_hz == pytest.approx([500.0, 2000.0])
    cells = read_measured(written(tmp_path, HEAD + "a,0.5 kHz,-3\nb,2k,-4\n"))
    assert [one.frequency_hz.tolist() for one in cells] == [[500.0], [2000.0]]


def test_a_coherence_of_nothing_is_one_and_below_nothing_is_none(tmp_path: Path) -> None:
    head = HEAD.replace("\n", ",coherence\n")
    first, _ = read_measured(written(tmp_path, head + "a,1000,-3,0\na,2000,-3,1\nb,1000,-4,1\n"))
    assert first.coherence.tolist() == [0.0, 1.0]
    (fault,) = refused(read_measured, written(tmp_path, head + "a,1000,-3,-0.1\nb,1000,-4,1\n"))
    assert fault.startswith(f"{tmp_path}/m.csv:2:11: coherence: ")


def test_faults_of_cells_stand_at_their_cells(tmp_path: Path) -> None:
    (name,) = refused(read_measured, written(tmp_path, HEAD + "a,1000,-3\n,1000,-4\n"))
    assert ":3:1: position: " in name
    (level,) = refused(read_measured, written(tmp_path, HEAD + "a,1000,-3\nb,1000,loud\n"))
    assert ":3:8: level_db: " in level
    (several,) = refused(read_traces, {
        "a": written(tmp_path, "# by hand\nfreq,mag L,mag R\n1000,-3,-4\n", "t.txt")
    })  # fmt: skip
    assert ":2:1: column: " in several
    (bare,) = refused(read_traces, {"a": written(tmp_path, "1000\n2000\n", "t.txt")})
    assert ":1:1: row: one column" in bare


def test_one_column_beside_the_positions_is_a_table_of_one_band(tmp_path: Path) -> None:
    found = read_measured(written(tmp_path, "position,1000\na,-3\nb,-4\n"))
    assert [(one.position, one.level_db.tolist()) for one in found] == [
        ("a", [-3.0]),
        ("b", [-4.0]),
    ]
    assert [one.coherence.tolist() for one in found] == [[1.0], [1.0]]
    across = read_measured(written(tmp_path, "frequency,a,b\n1000,-3,-4\n"))
    assert [(one.position, one.level_db.tolist()) for one in across] == [
        ("a", [-3.0]),
        ("b", [-4.0]),
    ]


BAD_TABLES = {
    "": "the file is empty",
    "# only words\n": "the file is empty",
    HEAD: "a header and no levels; measured levels",
    "frequency_hz\n1000\n2000\n": "a header and no levels; measured levels",
    "position,frequency_hz\na,1000\n": "level_db: no such column",
    "position,frequency_hz,level_db,gain\na,1,2,3\n": "gain: is no column of this table",
    HEAD + "a,1000,loud\nb,1000,-1\n": '"loud"; a level in dB',
    HEAD + "a,-5,-3\nb,1000,-3\n": '"-5"; a frequency in Hz',
    HEAD + "a,1000,-3,2\nb,1000,-4,1\n": "4 cells; 3 as in the header",
    HEAD + "a,1000,0.7\nb,1000,1.4\n": "magnitudes of 0.7 to 1.4 look linear",
    HEAD + ",1000,-3\nb,1000,-4\n": "an empty cell; the position's name",
    HEAD.replace("\n", ",coherence\n") + "a,1000,-3,120\n": '"120"; a coherence of 0 to 1',
    HEAD + "a,1000,\0\n": "a zero byte",
    "position,1000,loud\na,1,2\n": '"loud"; a frequency, as 1000, 1 kHz or 1k',
}


@pytest.mark.parametrize("text", BAD_TABLES)
def test_a_bad_table_gets_one_clear_message(tmp_path: Path, text: str) -> None:
    faults = refused(read_measured, written(tmp_path, text))
    assert BAD_TABLES[text] in faults[0]
    assert "m.csv:" in faults[0]


BAD_TRACES = {
    "": "the file is empty",
    "freq mag\n0 -99\n": "has no level",
    "words only\n": '"words"; a frequency in Hz',
    "1000 0.5\n2000 1.2\n": "look linear",
    "freq mag coh\n1000 -3 980\n2000 -3 99\n": '"980"; a coherence of 0 to 1',
    "freq,real\n1000,0.3\n2000,0.4\n": "real parts alone; real and imaginary",
    "freq,mag L,mag R\n1000,-3,-4\n2000,-3,-4\n": "several traces, mag L, mag R; say which",
}


@pytest.mark.parametrize("text", BAD_TRACES)
def test_a_bad_text_file_gets_one_clear_message(tmp_path: Path, text: str) -> None:
    faults = refused(read_traces, {"row 1": written(tmp_path, text, "t.txt")})
    assert BAD_TRACES[text] in faults[0]


def test_missing_and_non_text_files_are_told(tmp_path: Path) -> None:
    assert "no such file" in refused(read_measured, tmp_path / "none.csv")[0]
    (tmp_path / "b.csv").write_bytes(b"position\n\0\0ab\n")
    assert "b.csv:2:1" in refused(read_measured, tmp_path / "b.csv")[0]


def test_linear_magnitudes_are_read_once_it_is_said(tmp_path: Path) -> None:
    path = written(tmp_path, "1000 0.5\n2000 2\n", "t.txt")
    (found,) = read_traces({"a": path}, magnitude="linear")
    assert found.level_db == pytest.approx([-6.0206, 6.0206], abs=1e-4)
    (found,) = read_traces({"a": path}, magnitude="db")
    assert found.level_db.tolist() == [0.5, 2.0]
    zero = written(tmp_path, "1000 0\n2000 2\n", "z.txt")
    assert "no linear magnitude" in refused(read_traces, {"a": zero}, magnitude="linear")[0]


def test_fewer_than_two_positions_are_refused(tmp_path: Path) -> None:
    path = written(tmp_path, HEAD + "row 1,1000,-3\n")
    assert "at least two" in refused(measured_traces, path, None)[0]
    both = measured_traces(path, {"row 2": written(tmp_path, "1000 -4\n", "t.txt")})
    assert [one.position for one in both] == ["row 1", "row 2"]
    again = {"row 1": written(tmp_path, "1000 -4\n", "t.txt")}
    assert "each position once" in refused(measured_traces, path, again)[0]


ROWS = rows_of(
    (
        Seating("stalls", np.array([[4.0, 0.0], [8.5, 0.9]]), row_names=("A", "B")),
        Seating("circle", np.array([[14.0, 4.0], [16.0, 5.0]]), row_names=("A", "AA")),
    )
)


@pytest.mark.parametrize(
    "name", ["row B of stalls", "Row  B", "b", "stalls B", "stalls row b", "row B"]
)
def test_rows_go_by_what_people_call_them(name: str) -> None:
    found = place_points((trace(name, [1000.0], [0.0]),), ROWS, {})
    assert found.x_m[0] == pytest.approx(ROWS.x_m[1])
    assert found.names == (name,)


def test_names_that_mean_nothing_or_two_rows_are_refused() -> None:
    one, two = trace("row A", [1000.0], [0.0]), trace("row AAA", [1000.0], [0.0])
    faults = refused(place_points, (one, two), ROWS, {})
    assert "is in several seatings" in faults[0]
    assert 'no position that is known; did you mean "row aa' in faults[1]


def test_coordinates_place_what_is_no_row(tmp_path: Path) -> None:
    path = written(tmp_path, 'position,x,z\nmixing desk,9.2,1.3\ntower,"12 ft 6 in",2\n', "p.csv")
    table = read_places(path, unit="m").points
    assert table == {"mixing desk": (9.2, 1.3), "tower": (pytest.approx(3.81), 2.0)}
    found = place_points((trace("Mixing Desk", [1.0], [0.0]),), ROWS, table)
    assert (found.x_m[0], found.z_m[0]) == (9.2, 1.3)
    assert read_places(path, unit="ft").points["mixing desk"][0] == pytest.approx(9.2 * 0.3048)
    feet = written(tmp_path, "position,x_ft,z_ft,microphone\na,10,5,stand\n", "f.csv")
    assert read_places(feet, unit="m").points == {"a": (pytest.approx(3.048), pytest.approx(1.524))}


BAD_PLACES = {
    "position,x\na,1\n": "z: no such column",
    "position,x_m,z_ft\na,1,1\n": "x and z in one unit",
    "position,x,z\na,1,far\n": '"far"; ',
    "position,x,z\na,1,2\na,1,2\n": '"a" again; each position once',
    "position,x,z,microphone\na,1,2,stand\nb,1,2,boundary\n": "one kind of microphone throughout",
    "position,x,z,microphone\na,1,2,lapel\n": '"lapel"; "stand" or "boundary"',
}


@pytest.mark.parametrize("text", BAD_PLACES)
def test_bad_coordinates_get_one_clear_message(tmp_path: Path, text: str) -> None:
    faults = refused(read_places, written(tmp_path, text, "p.csv"), unit="m")
    assert len(faults) == 1, faults
    assert BAD_PLACES[text] in faults[0]


def test_boundaries_in_the_table_and_stands_at_rows_are_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "position,x,z,microphone\ndesk,9,0,boundary\n", "p.csv")
    table = read_places(path, unit="m")
    mixed = (trace("desk", [1000.0], [0.0]), trace("row B", [1000.0], [0.0]))
    assert "boundary here, stand at row B" in refused(refuse_mixed, mixed, table, None)[0]
    refuse_mixed(mixed, table, 0.0)
    refuse_mixed(mixed[:1], table, None)


def test_microphones_on_the_floor_or_at_a_height() -> None:
    assert microphones(ROWS, None).z_m == pytest.approx(ROWS.z_m)
    assert microphones(ROWS, 0.0).z_m == pytest.approx(ROWS.z_m - 1.2)
    assert microphones(ROWS, 0.5).z_m == pytest.approx(ROWS.z_m - 0.7)


def test_thirds_make_an_octave_by_energy() -> None:
    found = in_bands((trace("a", [800.0, 1000.0, 1250.0], [0.0, 3.0, 10.0]),), (1000.0,))
    energy = 10.0 * np.log10(np.mean(10.0 ** (np.array([0.0, 3.0, 10.0]) / 10.0)))
    assert found.level_db[0, 0] == pytest.approx(energy, abs=0.01)


def test_bands_as_measured_stay_exactly_as_they_are() -> None:
    found = in_bands((trace("a", [1000.0, 2000.0, 4000.0], [-37.27, 12.34, 0.1]),),
                     (1000.0, 2000.0, 8000.0))  # fmt: skip
    assert found.level_db[:2, 0].tolist() == [-37.27, 12.34]
    assert np.isnan(found.level_db[2, 0])


def test_coarse_data_do_not_count_twice() -> None:
    thirds = (800.0, 1000.0, 1250.0, 1600.0, 2000.0)
    found = in_bands((trace("a", [1000.0, 2000.0], [1.0, 2.0]),), thirds)
    assert np.isfinite(found.level_db[:, 0]).tolist() == [False, True, False, False, True]


def test_what_is_not_coherent_counts_less() -> None:
    lines = np.geomspace(710.0, 1410.0, 50)
    level = np.where(lines < 1000.0, 0.0, 20.0)
    half = Trace("a", lines, level, np.where(lines < 1000.0, 1.0, 0.0), "f", 1)
    assert in_bands((half,), (1000.0,)).level_db[0, 0] == pytest.approx(0.0, abs=0.01)
    nothing = Trace("a", lines, level, np.zeros(50), "f", 1)
    assert np.isnan(in_bands((nothing,), (1000.0,)).level_db[0, 0])
    doubt = [in_bands((trace("a", [1000.0], [0.0], c),), (1000.0,)).doubt_db[0, 0]
             for c in (1.0, 0.8, 0.3)]  # fmt: skip
    assert doubt[0] == 0.0 < doubt[1] < doubt[2]
    # √((1 − 0.5)/(2·0.5·16)) = 0.1768 of the magnitude: 1.54 dB.
    assert random_error_db(0.5) == pytest.approx(1.535, abs=0.001)

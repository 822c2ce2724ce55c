"""Pattern files that cannot be used: one clear message each, with the line."""

import re
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paths import TESTS
from pattern_samples import grid, unit, write_sofa

from aiming.base.errors import MissingExtraError, ScenarioError
from aiming.files.pattern_file import read_pattern
from aiming.files.text_table import MOST_OF_A_KIND

FOLDER = TESTS / "data" / "patterns" / "invalid"
FILES = sorted(path for path in FOLDER.iterdir() if path.suffix in {".csv", ".sofa"})


def test_the_folder_is_not_empty() -> None:
    assert len(FILES) > 20


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_message(path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_pattern(path, display=path.name)
    told = path.with_suffix(path.suffix + ".txt").read_text("utf-8").splitlines()
    assert [facts(line) for line in str(caught.value).splitlines()] == [facts(one) for one in told]


def facts(message: str) -> list[str]:
    """Place and key, and the figures and quoted texts of what was found; the words may change."""
    *place, text = message.split(": ", maxsplit=2)
    found = text.split(";")[0]
    return [*place, *re.findall(r'"[^"]*"|-?\d[\d.,]*', found)]


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match=r"^boxes/x\.csv:1:1: file: found no such file"):
        read_pattern(tmp_path / "x.csv", display="boxes/x.csv")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match=r"^x:1:1: file: found Is a directory"):
        read_pattern(tmp_path, display="x")


def test_band_that_the_file_does_not_hold(tmp_path: Path) -> None:
    path = tmp_path / "low.csv"
    path.write_text("# low only\nangle,100,125,160\n-10,-1,-1,-1\n0,0,0,0\n10,-1,-1,-1\n")
    with pytest.raises(ScenarioError) as caught:
        read_pattern(path, bands_hz=(125.0, 1000.0, 8000.0), display="low.csv")
    assert str(caught.value).splitlines() == [
        "low.csv:2:1: bands: found no data for the band 1 kHz; "
        "the file holds frequencies from 100 to 160 Hz",
        "low.csv:2:1: bands: found no data for the band 8 kHz; "
        "the file holds frequencies from 100 to 160 Hz",
    ]


def test_thousands_of_faults_are_cut_short(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("angle,1000\n" + "".join(f"{k / 100},x\n" for k in range(2000)))
    with pytest.raises(ScenarioError) as caught:
        read_pattern(path, display="x.csv")
    assert len(caught.value.faults) == MOST_OF_A_KIND
    assert "more like it" in str(caught.value)


def set_attribute(name: str, key: str, value: str) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        (file[name] if name else file).attrs[key] = np.bytes_(value)

    return change


def put(name: str, values: object) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        attributes = dict(file[name].attrs)
        del file[name]
        file[name] = values
        file[name].attrs.update(attributes)

    return change


def spoil(name: str, place: tuple[int, ...], value: float) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        file[name][place] = value

    return change


def promise_more(**layout: object) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        for name in ("Data.Real", "Data.Imag"):
            del file[name]
            data = file.create_dataset(name, shape=(1, 26, 3), dtype=float, **layout)
            if data.chunks:
                data[:, :13] = 1.0

    return change


def remove(name: str) -> Callable[[h5py.File], None]:
    def change(file: h5py.File) -> None:
        del file[name]

    return change


SPOILED = {
    "wrong convention": (
        set_attribute("", "SOFAConventions", "SimpleFreeFieldHRIR"),
        "SOFAConventions: found SimpleFreeFieldHRIR; FreeFieldDirectivityTF, "
        "as an AES69 file of this kind says",
    ),
    "wrong data type": (
        set_attribute("", "DataType", "FIR"),
        "DataType: found FIR; TF, as an AES69 file of this kind says",
    ),
    "no AES69 file": (
        set_attribute("", "Conventions", "CF-1.6"),
        "Conventions: found CF-1.6; SOFA, as an AES69 file of this kind says",
    ),
    "wrong units of positions": (
        set_attribute("ReceiverPosition", "Units", "radian, radian, metre"),
        "ReceiverPosition:Units: found radian, radian, metre; degree, degree, metre",
    ),
    "wrong units of frequency": (
        set_attribute("N", "Units", "kilohertz"),
        "N:Units: found kilohertz; hertz",
    ),
    "unknown coordinates": (
        set_attribute("ReceiverPosition", "Type", "spherical harmonics"),
        "ReceiverPosition:Type: found spherical harmonics; cartesian or spherical",
    ),
    "Cartesian units for a sphere": (
        set_attribute("SourceView", "Units", "degree"),
        "SourceView:Units: found degree; metre",
    ),
    "no spectra": (
        remove("Data.Imag"),
        "Data.Imag: found no such variable; FreeFieldDirectivityTF must have it",
    ),
    "text for numbers": (put("N", [b"a", b"b", b"c"]), "N: found text or other values; numbers"),
    "frequencies that descend": (
        put("N", [4000.0, 2000.0, 1000.0]),
        "N: found 3 frequencies that do not ascend from 0 Hz or above; ascending frequencies",
    ),
    "fewer frequencies than lines": (
        put("N", [1000.0, 2000.0]),
        "N: found 2 frequencies; 3 as in Data.Real",
    ),
    "NaN in the spectra": (
        spoil("Data.Imag", (0, 7, 1), np.nan),
        "Data.Imag: found nan at [0, 7, 1]; finite numbers",
    ),
    "infinite spectrum": (
        spoil("Data.Real", (0, 25, 2), -np.inf),
        "Data.Real: found -inf at [0, 25, 2]; finite numbers",
    ),
    "NaN in a position": (
        spoil("ReceiverPosition", (4, 1), np.nan),
        "ReceiverPosition: found nan at [4, 1]; numbers up to 1e+09",
    ),
    "dimensions that claim more than is stored": (
        promise_more(chunks=(1, 13, 3)),
        "Data.Real: found 1 of the 2 blocks that its dimensions 1 × 26 × 3 need; all of them",
    ),
    "dimensions without any data": (
        promise_more(),
        "Data.Real: found 0 of the 624 bytes that its dimensions 1 × 26 × 3 need; all of them",
    ),
    "fewer receivers than spectra": (
        lambda file: put("ReceiverPosition", file["ReceiverPosition"][:20])(file),
        "ReceiverPosition: found 20 receivers; 26 as in Data.Real",
    ),
    "receiver at the source": (
        spoil("ReceiverPosition", (3, 2), 0.0),
        "ReceiverPosition: found receiver 3 at the source itself; receivers at a distance",
    ),
    "up along the view": (
        put("SourceUp", [[-2.0, 0.0, 0.0]]),
        "SourceUp: found a vector along the view; a direction across it",
    ),
    "no view": (
        put("SourceView", [[0.0, 0.0, 0.0]]),
        "SourceView: found a vector of no length; a direction",
    ),
    "silent axis": (
        lambda file: [spoil(n, (0, slice(None), 1), 0.0)(file) for n in ("Data.Real", "Data.Imag")],
        "angle: found no sound at all on the axis (0°) at 2 kHz; a level to refer the band to",
    ),
}


def octahedron(
    path: Path, change: Callable[[h5py.File], object] | None, positions: np.ndarray | None = None
) -> Path:
    around = grid(45.0, 45.0)
    # 26 directions: the poles once each.
    once = np.abs(around[:, 1]) < 89.0
    around = np.vstack([around[once], [[0.0, -90.0], [0.0, 90.0]]])
    places = np.column_stack([around, np.full(len(around), 2.0)])
    places = places if positions is None else positions
    return write_sofa(
        path,
        position=places,
        frequency_hz=np.array([1000.0, 2000.0, 4000.0]),
        spectrum=np.ones((1, len(places), 3)),
        change=change,
    )


@pytest.mark.parametrize(("change", "message"), SPOILED.values(), ids=SPOILED)
def test_spoiled_sofa(change: Callable[[h5py.File], None], message: str, tmp_path: Path) -> None:
    path = octahedron(tmp_path / "x.sofa", change)
    with pytest.raises(ScenarioError) as caught:
        read_pattern(path, display="x.sofa")
    assert str(caught.value) == f"x.sofa:1:1: {message}"


def test_the_sofa_that_was_spoiled_is_sound_otherwise(tmp_path: Path) -> None:
    found = read_pattern(octahedron(tmp_path / "x.sofa", None), display="x.sofa")
    assert found.resolution.directions == 26
    assert np.all(found.pattern.level_db == 0.0)


def test_two_patterns_in_one_file(tmp_path: Path) -> None:
    def twice(file: h5py.File) -> None:
        for name in ("Data.Real", "Data.Imag"):
            once = file[name][...]
            put(name, np.concatenate([once, 4.0 * once]))(file)

    path = octahedron(tmp_path / "x.sofa", twice)
    with pytest.raises(ScenarioError, match="one direction measured more than once"):
        read_pattern(path, display="x.sofa")


def test_a_horizontal_arc_says_nothing_about_the_vertical_plane(tmp_path: Path) -> None:
    azimuth = np.arange(0.0, 360.0, 5.0)
    arc = np.column_stack([azimuth, np.zeros(72), np.ones(72)])
    path = octahedron(tmp_path / "x.sofa", None, arc)
    with pytest.raises(ScenarioError, match="found 2 of 72 directions in the vertical plane"):
        read_pattern(path, display="x.sofa")


def test_h5py_is_named_where_it_is_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    path = octahedron(tmp_path / "x.sofa", None)
    monkeypatch.setitem(sys.modules, "h5py", None)
    with pytest.raises(MissingExtraError, match=r"AES69.*h5py: pip install 'aiming\[sofa\]'"):
        read_pattern(path, display="x.sofa")


def test_unit_helper_points_forward_left_and_up() -> None:
    found = unit(np.array([[0.0, 0.0], [90.0, 0.0], [0.0, 90.0]]))
    np.testing.assert_allclose(found, np.eye(3), atol=1e-15)


@settings(deadline=None, derandomize=True, max_examples=300)
@given(
    cuts=st.lists(
        st.tuples(
            st.integers(0, 75),
            st.integers(0, 6),
            st.sampled_from(["", "9", ";", ",", "\t", "\n", "-", "nan", "1e308", "360", "\0", "é"]),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_a_mangled_table_is_read_or_refused(
    cuts: list[tuple[int, int, str]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    text = "# c\nangle;500;1000;2000\n-10;-0,4;-1,1;-2\n0;1;1;1,5\n20;-3;;-5\n"
    for start, length, put_there in cuts:
        text = text[:start] + put_there + text[start + length :]
    path = tmp_path_factory.getbasetemp() / "mangled.csv"
    path.write_text(text, encoding="utf-8")
    try:
        found = read_pattern(path, display="x")
    except ScenarioError as error:
        assert all(fault.line >= 1 and fault.column >= 1 for fault in error.faults)
    else:
        assert np.all(found.pattern.read_db(0.0) == 0.0)


def test_a_damaged_sofa_is_read_or_refused(tmp_path: Path) -> None:
    whole = octahedron(tmp_path / "x.sofa", None).read_bytes()
    random = np.random.default_rng(7)
    refused = 0
    for _ in range(200):
        damaged = bytearray(whole)
        for place in random.integers(0, len(whole), 5):
            damaged[place] = random.integers(0, 256)
        path = tmp_path / "damaged.sofa"
        path.write_bytes(bytes(damaged))
        try:
            read_pattern(path, display="x.sofa")
        except ScenarioError:
            refused += 1
    assert refused > 50

"""AES69 (SOFA) FreeFieldDirectivityTF: any receiver layout, any view, closed forms read back.

The piston's closed form is Kinsler et al., Fundamentals of Acoustics, §7.4 (section from memory).
The independent library is sofar: it wrote data/patterns/piston_by_sofar.sofa, and reads back what
the tests write with h5py.
"""

from pathlib import Path

import h5py
import numpy as np
import pytest
import sofar
from paths import TESTS
from pattern_samples import even_layout, grid, piston, unit, write_sofa

from aiming.base.arrays import FloatArray
from aiming.files.aes69 import _blocks
from aiming.files.pattern_file import read_pattern
from aiming.files.pattern_result import PatternFile
from aiming.speaker.pattern_figures import coverage

HERE = TESTS
HZ = np.array([1000.0, 2000.0, 4000.0])


def lopsided(direction: FloatArray) -> FloatArray:
    """(1, m, 3) pressures of a smooth box that is wider below than above and to its left."""
    forward, left, up = direction.T
    base = 10.0 ** ((-20.0 * (1.0 - forward) + 3.0 * np.sin(left) - 4.0 * np.sin(up)) / 20.0)
    return np.stack([base, base**1.5, base**2], axis=-1)[np.newaxis]


def lopsided_plane_db(angle_deg: FloatArray) -> FloatArray:
    angle = np.radians(angle_deg)
    plane = np.stack([np.cos(angle), np.zeros_like(angle), np.sin(angle)], axis=-1)
    return 20.0 * np.log10(lopsided(plane)[0].T)


def read(path: Path) -> PatternFile:
    return read_pattern(path, display=path.name)


def spherical(azimuth_elevation: FloatArray, radius_m: float = 2.0) -> FloatArray:
    return np.column_stack([azimuth_elevation, np.full(len(azimuth_elevation), radius_m)])


def plain_file(path: Path, step_deg: float = 5.0) -> PatternFile:
    around = grid(step_deg, step_deg)
    write_sofa(path, position=spherical(around), frequency_hz=HZ, spectrum=lopsided(unit(around)))
    return read(path)


def test_grid_of_azimuth_and_elevation(tmp_path: Path) -> None:
    found = plain_file(tmp_path / "a.sofa")
    np.testing.assert_allclose(found.pattern.angle_deg, np.arange(-180.0, 181.0, 5.0), atol=1e-9)
    expected = lopsided_plane_db(found.pattern.angle_deg)
    np.testing.assert_allclose(found.pattern.level_db, expected, atol=1e-9)
    assert found.pattern.band_hz == (1000.0, 2000.0, 4000.0)
    assert (found.resolution.directions, found.resolution.angles) == (2522, 72)
    assert found.notes[0] == "1 kHz is loudest 10° below the axis, +0.4 dB; kept so"
    # Above is softer than below, so a flipped sign would show.
    assert float(found.pattern.read_db(40.0)[0]) < float(found.pattern.read_db(-40.0)[0]) - 4.0


@pytest.mark.parametrize(
    ("view", "up"),
    [
        ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
        ((0.0, 0.0, -2.0), (3.0, 0.0, 0.0)),
        ((1.0, 2.0, -0.5), (0.3, -0.2, 1.0)),
        ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    ],
)
@pytest.mark.parametrize("kind", ["cartesian", "spherical"])
def test_any_view_and_up_vector(
    view: tuple[float, ...], up: tuple[float, ...], kind: str, tmp_path: Path
) -> None:
    reference = plain_file(tmp_path / "a.sofa")
    forward = np.array(view) / np.linalg.norm(view)
    upright = np.array(up) - np.dot(up, forward) * forward
    upright = upright / np.linalg.norm(upright)
    box = unit(grid(5.0, 5.0))
    room = box @ np.stack([forward, np.cross(upright, forward), upright])
    azimuth = np.degrees(np.arctan2(room[:, 1], room[:, 0]))
    elevation = np.degrees(np.arcsin(np.clip(room[:, 2], -1.0, 1.0)))
    position = 3.0 * room
    if kind == "spherical":
        position = np.column_stack([azimuth, elevation, np.full(len(room), 3.0)])
    path = write_sofa(
        tmp_path / "b.sofa", position=position, kind=kind, frequency_hz=HZ,
        spectrum=lopsided(box), view=view, up=up,
    )  # fmt: skip
    found = read(path)
    np.testing.assert_allclose(found.pattern.angle_deg, reference.pattern.angle_deg, atol=1e-9)
    np.testing.assert_allclose(found.pattern.level_db, reference.pattern.level_db, atol=1e-5)


def test_up_turned_over_flips_the_pattern(tmp_path: Path) -> None:
    upright = plain_file(tmp_path / "a.sofa").pattern
    around = grid(5.0, 5.0)
    path = write_sofa(
        tmp_path / "b.sofa", position=spherical(around), frequency_hz=HZ,
        spectrum=lopsided(unit(around)), up=(0.0, 0.0, -1.0),
    )  # fmt: skip
    flipped = read(path).pattern.flipped()
    np.testing.assert_allclose(flipped.level_db, upright.level_db, atol=1e-9)


def test_an_arc_in_the_plane(tmp_path: Path) -> None:
    angle = np.arange(-90.0, 91.0, 2.5)
    radians = np.radians(angle)
    plane = np.stack([np.cos(radians), np.zeros_like(angle), np.sin(radians)], axis=-1)
    path = write_sofa(
        tmp_path / "a.sofa", position=plane, kind="cartesian", frequency_hz=HZ,
        spectrum=lopsided(plane),
    )  # fmt: skip
    found = read(path)
    np.testing.assert_allclose(found.pattern.angle_deg, angle, atol=1e-9)
    np.testing.assert_allclose(found.pattern.level_db, lopsided_plane_db(angle), atol=1e-9)
    assert found.sphere is None
    assert found.notes[-1] == "measured from -90° to 90° only; what lies beyond is unknown"


def test_a_turntable_turns_the_box_before_one_microphone(tmp_path: Path) -> None:
    # Turned nose-down by 30° the box shows the microphone a direction 30° above its axis.
    angle = np.arange(-180.0, 180.0, 10.0)
    radians = np.radians(angle)
    zero = np.zeros_like(angle)
    plane = np.stack([np.cos(radians), zero, np.sin(radians)], axis=-1)
    path = write_sofa(
        tmp_path / "a.sofa", position=np.array([[4.0, 0.0, 0.0]]), kind="cartesian",
        frequency_hz=HZ, spectrum=lopsided(plane)[0][:, np.newaxis],
        view=np.stack([np.cos(radians), zero, -np.sin(radians)], axis=-1),
        up=np.stack([np.sin(radians), zero, np.cos(radians)], axis=-1),
    )  # fmt: skip
    found = read(path).pattern
    np.testing.assert_allclose(found.angle_deg, np.arange(-180.0, 181.0, 10.0), atol=1e-9)
    np.testing.assert_allclose(found.level_db, lopsided_plane_db(found.angle_deg), atol=1e-9)


def test_a_moved_and_turned_array_of_microphones(tmp_path: Path) -> None:
    reference = plain_file(tmp_path / "a.sofa").pattern
    box = unit(grid(5.0, 5.0))
    source, listener = np.array([5.0, -2.0, 1.0]), np.array([4.0, 1.0, 0.0])
    room = source + 2.0 * box
    # The array looks along −y, up stays up, so its left is +x.
    axes = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])

    def place(file: h5py.File) -> None:
        file["SourcePosition"][...] = [source]
        file["ListenerPosition"][...] = [listener]
        file["ListenerView"][...] = [axes[0]]

    path = write_sofa(
        tmp_path / "b.sofa", position=(room - listener) @ axes.T, kind="cartesian",
        frequency_hz=HZ, spectrum=lopsided(box), change=place,
    )  # fmt: skip
    np.testing.assert_allclose(read(path).pattern.level_db, reference.level_db, atol=1e-9)


def test_a_layout_beside_the_plane_is_read_between_and_says_so(tmp_path: Path) -> None:
    layout = even_layout(2500)
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(layout), frequency_hz=HZ,
        spectrum=lopsided(unit(layout)),
    )  # fmt: skip
    found = read(path)
    angle = np.arange(-180.0, 180.0, 1.0)
    # Neighbours stand some 5° apart: a smooth box is met within half a dB all round.
    error = found.pattern.read_db(angle) - lopsided_plane_db(angle)
    assert float(np.max(np.abs(error))) < 0.5
    assert "0 receivers stand in the vertical plane: it is read between receivers" in found.notes[0]
    assert any("the axis itself was not measured" in note for note in found.notes)


def test_a_grid_turned_off_the_plane_is_read_between(tmp_path: Path) -> None:
    around = grid(5.0, 5.0)
    around[:, 0] += 2.5
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(around), frequency_hz=HZ,
        spectrum=lopsided(unit(around)),
    )  # fmt: skip
    found = read(path)
    error = found.pattern.read_db(np.arange(-85.0, 86.0)) - lopsided_plane_db(np.arange(-85.0, 86))
    assert float(np.max(np.abs(error))) < 0.2
    assert "up to 5° apart" in found.notes[0] or "up to 7° apart" in found.notes[0]


def test_half_a_sphere_stays_half(tmp_path: Path) -> None:
    layout = even_layout(2000)
    layout = layout[unit(layout)[:, 0] > 0.0]
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(layout), frequency_hz=HZ,
        spectrum=lopsided(unit(layout)),
    )  # fmt: skip
    found = read(path).pattern
    assert -93.0 < found.angle_deg[0] < -80.0
    assert np.isnan(found.read_db([-120.0, 180.0])).all()


def test_repeated_directions_are_averaged_by_energy(tmp_path: Path) -> None:
    around = grid(10.0, 10.0)
    spectrum = np.ones((1, len(around), 3))
    pole = around[:, 1] == 90.0
    # Half the readings of the pole 1 dB up: the energy mean is 0.529 dB.
    spectrum[0, np.flatnonzero(pole)[::2]] = 10 ** (1.0 / 20.0)
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(around), frequency_hz=HZ, spectrum=spectrum
    )
    found = read(path)
    mean = 10 * np.log10((1 + 10**0.1) / 2)
    np.testing.assert_allclose(found.pattern.read_db(90.0), mean, atol=1e-9)
    assert "70 repeated directions, up to 1.0 dB apart, are averaged" in found.notes


def test_lines_into_bands_by_energy_for_all_directions(tmp_path: Path) -> None:
    around = grid(30.0, 30.0)
    lines = np.arange(0.0, 12001.0, 50.0)
    phase = np.exp(1j * lines / 700.0)
    spectrum = np.broadcast_to(phase, (1, len(around), len(lines))).copy()
    spectrum[:, :, lines > 3000.0] *= 10 ** (-10.0 / 20.0)
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(around), frequency_hz=lines, spectrum=spectrum
    )
    found = read_pattern(path, bands_hz=(1000.0, 4000.0), display="a")
    assert found.pattern.band_hz == (1000.0, 4000.0)
    np.testing.assert_allclose(found.pattern.level_db, 0.0, atol=1e-9)
    # The octave of 4 kHz begins at 2818 Hz; up to half-way past 3000 Hz it is 10 dB louder.
    loud = np.log(np.sqrt(3000.0 * 3050.0) / 2818.3829) / np.log(10**0.3)
    mean_db = 10 * np.log10(loud + 0.1 * (1.0 - loud))
    assert f"({mean_db:.1f} to 0.0 dB)" in found.notes[0]


def test_the_file_that_sofar_wrote() -> None:
    path = HERE / "data" / "patterns" / "piston_by_sofar.sofa"
    found = read(path)
    frequency = np.array([251.18864315, 501.18723363, 1000.0, 1995.26231, 3981.07171, 7943.28235])
    front = np.abs(found.pattern.angle_deg) <= 90.0
    off = np.radians(found.pattern.angle_deg[front])
    for ka, level in zip(3.0 * frequency / 1000.0, found.pattern.level_db, strict=True):
        np.testing.assert_allclose(
            level[front], 20 * np.log10(piston(ka, off)), atol=2e-5, err_msg=f"ka {ka}"
        )
    # Behind the baffle the file says −60 dB.
    assert np.all(found.pattern.level_db[:, ~front] == pytest.approx(-60.0))
    assert found.sphere is not None
    assert found.sphere.direction.shape == (614, 3)


def test_sofar_reads_what_h5py_wrote_here(tmp_path: Path) -> None:
    around = grid(15.0, 15.0)
    spectrum = lopsided(unit(around)) * np.exp(0.3j)
    path = write_sofa(
        tmp_path / "a.sofa", position=spherical(around), frequency_hz=HZ, spectrum=spectrum
    )
    other = sofar.read_sofa(str(path), verify=True, verbose=False)
    power = other.Data_Real**2 + other.Data_Imag**2
    above = np.argmin(np.abs(other.ReceiverPosition - [0.0, 30.0, 2.0]).sum(axis=1))
    axis = np.argmin(np.abs(other.ReceiverPosition - [0.0, 0.0, 2.0]).sum(axis=1))
    expected = 10 * np.log10(power.reshape(len(around), 3)[above] / power.reshape(-1, 3)[axis])
    np.testing.assert_allclose(read(path).pattern.read_db(30.0), expected, atol=1e-9)


def test_the_sample_sphere_agrees_with_the_sample_table() -> None:
    folder = HERE.parent / "scenarios" / "patterns"
    table = read(folder / "invented_horn_60.csv").pattern
    sphere = read(folder / "invented_horn_60.sofa")
    angle = sphere.pattern.angle_deg
    # The table is rounded to 0.1 dB.
    np.testing.assert_allclose(sphere.pattern.level_db, table.read_db(angle), atol=0.0501)
    assert sphere.doubts == ()
    (one,) = [one for one in coverage(sphere.pattern) if one.band_hz == 2000.0]
    assert one.above_deg is not None and one.below_deg is not None
    assert one.below_deg > one.above_deg + 15.0


class Sized:
    """The size and the blocks of a data set."""

    def __init__(self, shape: tuple[int, ...], chunks: tuple[int, ...] | None) -> None:
        self.shape, self.chunks = shape, chunks


@pytest.mark.parametrize(
    ("shape", "chunks"),
    [
        ((1, 65_000, 200), None),
        ((1, 65_000, 200), (1, 7, 200)),
        ((3, 40, 100_000), None),
        ((70_000, 1, 128), (1, 1, 128)),
        ((2, 2, 2), (2, 2, 2)),
    ],
)
def test_blocks_cover_everything_once_and_stay_small(
    shape: tuple[int, ...], chunks: tuple[int, ...] | None
) -> None:
    seen = np.zeros(shape[:2], dtype=int)
    for m, r in _blocks(Sized(shape, chunks)):
        seen[m, r] += 1
        assert (m.stop - m.start) * (r.stop - r.start) * shape[2] <= 4_000_000
        assert chunks is None or r.start % chunks[1] == 0
    assert np.all(seen == 1)

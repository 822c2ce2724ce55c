"""Makes the invented pattern files: `python tests/data/patterns/make_patterns.py`.

Nothing here was measured and no product is meant.  The horn is a formula with the habits of real
data: wider below the axis than above, control lost towards low frequencies, a little unevenness,
sound to the rear.  The piston has a closed form (Kinsler et al., Fundamentals of Acoustics, §7.4)
and is written by sofar, an AES69 library that shares no code with the reader under test; sofar
needs netCDF4 before 1.7.4 to write this convention, so it is left as it is where that is not so.
"""

import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[2]
sys.path[:0] = [str(ROOT), str(HERE.parents[1] / "support")]

from pattern_samples import grid, piston, table_text, unit, write_sofa  # noqa: E402

from aiming.base.bands import OCTAVES_HZ, THIRDS_HZ, exact_midband_hz  # noqa: E402

HORN_HZ = tuple(f for f in THIRDS_HZ if 100.0 <= f <= 16000.0)
ABOVE_DEG, BELOW_DEG, ASIDE_DEG = 20.0, 40.0, 45.0
CONTROL_HZ = 900.0
PISTON_HZ = OCTAVES_HZ[4:10]
PISTON_KA_AT_1KHZ = 3.0


def horn_db(direction: np.ndarray, band_hz: float) -> np.ndarray:
    """Level of the invented horn in box directions (m, 3), 0 dB on axis."""
    forward, left, up = direction.T
    off_deg = np.degrees(np.arccos(np.clip(forward, -1.0, 1.0)))
    across = np.hypot(left, up)
    share = np.where(across > 1e-9, up / np.maximum(across, 1e-9), 1.0)
    half = np.where(share >= 0.0, ABOVE_DEG, BELOW_DEG)
    # Straight behind the box there is neither above nor below.
    behind = (off_deg / 180.0) ** 4
    half = (1.0 - behind) * half + behind * 0.5 * (ABOVE_DEG + BELOW_DEG)
    half = 1.0 / np.sqrt((share / half) ** 2 + (1.0 - share**2) / ASIDE_DEG**2)
    octaves = np.log2(exact_midband_hz(band_hz) / CONTROL_HZ)
    half = half * max(1.0, 2.0**-octaves)
    # Steeper beyond the edge as frequency rises, down to what leaks to the rear.
    front_db = -6.0206 * (off_deg / half) ** (1.8 + 0.2 * max(0.0, octaves))
    rear_db = -12.0 - 5.0 * max(0.0, octaves + 1.0)
    power = (1.0 - 10.0 ** (rear_db / 10.0)) * 10.0 ** (front_db / 10.0) + 10.0 ** (rear_db / 10.0)
    uneven = 0.35 * np.sin(np.radians(off_deg) * (4.0 + 1.5 * octaves) + 2.0 * share) ** 2
    return 10.0 * np.log10(power) - uneven * np.minimum(off_deg / 15.0, 1.0)


def horn_files(folder: Path) -> None:
    angle_deg = np.arange(-180.0, 181.0, 2.5)
    radians = np.radians(angle_deg)
    plane = np.stack([np.cos(radians), np.zeros_like(radians), np.sin(radians)], axis=-1)
    level_db = np.round(np.stack([horn_db(plane, f) for f in HORN_HZ], axis=-1), 1) + 0.0
    text = table_text(angle_deg, HORN_HZ, level_db)
    rows = [",".join(f"{float(c):g}" for c in row.split(",")) for row in text.splitlines()[1:]]
    head = [
        "# Invented horn box, 60° vertical: 20° above and 40° below the axis; not measured",
        "# vertical angle in degrees, positive above the axis of the upright box; levels in dB",
        text.splitlines()[0],
    ]
    (folder / "invented_horn_60.csv").write_text("\n".join(head + rows) + "\n")
    around = grid(10.0, 5.0)
    pressure = np.stack([10.0 ** (horn_db(unit(around), f) / 20.0) for f in HORN_HZ], axis=-1)
    write_sofa(
        folder / "invented_horn_60.sofa",
        position=np.column_stack([around, np.full(len(around), 4.0)]),
        frequency_hz=np.array([exact_midband_hz(f) for f in HORN_HZ]),
        spectrum=pressure[np.newaxis],
        title="Invented horn box, 60° vertical, whole sphere; not measured",
        packed=True,
    )


def piston_by_sofar(path: Path) -> None:
    import sofar

    around = grid(10.0, 10.0)
    off = np.minimum(np.arccos(np.clip(unit(around)[:, 0], -1.0, 1.0)), np.pi / 2)
    rear = unit(around)[:, 0] < -1e-9
    frequency = np.array([exact_midband_hz(f) for f in PISTON_HZ])
    pressure = np.stack([piston(PISTON_KA_AT_1KHZ * f / 1000.0, off) for f in frequency], axis=-1)
    pressure[rear] = 1e-3
    turned = pressure * np.exp(1j * np.arange(len(frequency)))
    sofa = sofar.Sofa("FreeFieldDirectivityTF")
    sofa.GLOBAL_Title = "Invented piston in a baffle, ka 3 at 1 kHz"
    sofa.GLOBAL_Organization = sofa.GLOBAL_AuthorContact = "none: an invented file"
    sofa.GLOBAL_DateCreated = sofa.GLOBAL_DateModified = "2000-01-01 00:00:00"
    sofa.N = frequency
    sofa.ReceiverPosition = np.column_stack([around, np.full(len(around), 2.0)])
    sofa.Data_Real, sofa.Data_Imag = turned.real[np.newaxis], turned.imag[np.newaxis]
    sofa.verify()
    sofar.write_sofa(str(path), sofa)


if __name__ == "__main__":
    horn_files(ROOT / "scenarios" / "patterns")
    import netCDF4

    if tuple(int(n) for n in netCDF4.__version__.split(".")[:3]) < (1, 7, 4):
        piston_by_sofar(HERE / "piston_by_sofar.sofa")
    else:
        print("netCDF4 is too new for sofar to write the piston: left as it is")

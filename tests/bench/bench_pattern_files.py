"""How long reading a pattern file takes: `python tests/bench/bench_pattern_files.py`.

Times are the best of several runs after the imports; memory is the process's peak.
"""

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from pattern_samples import even_layout, grid, piston, table_text, unit, write_sofa

from aiming.base.bands import THIRDS_HZ
from aiming.files.pattern_file import read_pattern


def best_ms(job: Callable[[], object], runs: int = 20) -> float:
    """Shortest of several runs, in ms."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return 1e3 * min(times)


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    folder = Path(tempfile.mkdtemp())
    angle_deg = np.arange(-180.0, 181.0)
    bands = THIRDS_HZ[10:34]
    off = np.radians(np.minimum(np.abs(angle_deg), 90.0))
    level = np.stack([20 * np.log10(np.maximum(piston(f / 400.0, off), 1e-3)) for f in bands], -1)
    table = folder / "table.csv"
    table.write_text(table_text(angle_deg, bands, level))
    csv_ms = best_ms(lambda: read_pattern(table, display="table.csv"))
    print(f"CSV, 361 angles x {len(bands)} bands: {csv_ms:.2f} ms (goal 5)")

    around = grid(5.0, 5.0)
    frequency = np.array(bands[:23])
    theta = np.minimum(np.arccos(np.clip(unit(around)[:, 0], -1.0, 1.0)), np.pi / 2)
    spectrum = np.stack([piston(f / 400.0, theta) for f in frequency], -1)[np.newaxis]
    position = np.column_stack([around, np.full(len(around), 2.0)])
    sofa = write_sofa(
        folder / "sphere.sofa", position=position, frequency_hz=frequency, spectrum=spectrum
    )
    sofa_ms = best_ms(lambda: read_pattern(sofa, display="sphere.sofa"))
    print(f"AES69, {len(around):,} directions x 23 frequencies: {sofa_ms:.1f} ms (goal 50)")

    count, lines = 65_000, 200
    frequency = np.geomspace(50.0, 18000.0, lines)
    layout = even_layout(count)
    large = write_sofa(
        folder / "large.sofa",
        position=np.column_stack([layout, np.full(count, 2.0)]),
        frequency_hz=frequency,
        spectrum=np.ones((1, 2, lines)),
        change=lambda file: _enlarge(file, count, lines, layout),
    )
    before = peak_mb()
    large_ms = best_ms(lambda: read_pattern(large, display="large.sofa"), runs=1)
    print(f"AES69, {count:,} directions x {lines} frequencies: {large_ms / 1e3:.2f} s, "
          f"peak {peak_mb():.0f} MB ({before:.0f} before; goal 1000)")  # fmt: skip


def _enlarge(file: h5py.File, count: int, lines: int, layout: np.ndarray) -> None:
    """The large spectra block by block, so that writing them does not set the peak."""
    for name in ("Data.Real", "Data.Imag"):
        del file[name]
        data = file.create_dataset(name, shape=(1, count, lines), dtype=float, chunks=(1, 500, 200))
        for start in range(0, count, 5000):
            theta = np.arccos(np.clip(unit(layout[start : start + 5000])[:, 0], -1.0, 1.0))
            data[0, start : start + 5000] = np.exp(-(theta[:, np.newaxis] ** 2)) + np.zeros(lines)


if __name__ == "__main__":
    main()

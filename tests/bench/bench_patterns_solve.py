"""How long solving takes with a measured table: `python tests/bench/bench_patterns_solve.py`.

Each scenario is solved with the nominal lobe and with tables of 361 angles × 24 third octaves, as
many design bands in both; the goal is at most twice the time.  Times are the least processor time
of several runs, after the file is loaded.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "support"))

from pattern_samples import table_text

from aiming.analysis.solve import solve
from aiming.base.bands import DEFAULT_DESIGN_HZ, THIRDS_HZ
from aiming.scenario import Scenario, load

THIRDS = THIRDS_HZ[10:34]
ANGLE_DEG = np.arange(-180.0, 181.0)
ROOMS = {
    "raked floor, height and tilt": ("[[4.0, 0.0], [18.0, 1.4], [34.0, 5.0]]", "[4.5, 8.0]"),
    "raked floor, tilt alone": ("[[4.0, 0.0], [18.0, 1.4], [34.0, 5.0]]", "6.0"),
    "flat floor, height and tilt": ("[[3.0, 0.0], [15.0, 0.0]]", "[3.0, 6.0]"),
}


def quadratic(_: float) -> np.ndarray:
    """The lobe that a nominal box has, in whole degrees."""
    return np.asarray(np.maximum(-6.0206 * (ANGLE_DEG / 30.0) ** 2, -24.0))


def horn(band_hz: float) -> np.ndarray:
    """A lopsided lobe that narrows upwards, with ripple and figures of one decimal."""
    half = np.where(ANGLE_DEG > 0, 24.0, 36.0) * max(1.0, 900.0 / band_hz)
    lobe = np.maximum(-6.02 * (np.abs(ANGLE_DEG) / half) ** 1.7, -28.0)
    noise = np.random.default_rng(int(band_hz)).normal(0.0, 0.35, len(ANGLE_DEG))
    ripple = 0.5 * np.cos(np.radians(ANGLE_DEG * 9.0 + band_hz / 40.0)) + noise
    level = lobe + ripple * np.minimum(1.0, np.abs(ANGLE_DEG) / 10.0)
    return np.round(level, 1)


def scenario(folder: Path, room: str, *, pattern: str, bands: tuple[float, ...]) -> Scenario:
    """One room with one pattern and these design bands."""
    line, height = ROOMS[room]
    text = (
        f'[[seating]]\nname = "floor"\nline = {line}\n[[speaker]]\nname = "main"\n'
        f"[speaker.pattern]\n{pattern}\n[speaker.placement]\nheight = {height}\n"
        f"[aim]\nbands = {list(bands)}\n"
    )
    file = folder / "room.toml"
    file.write_text(text)
    return load(str(file))


def best_ms(job: Callable[[], object], runs: int = 7) -> float:
    """Least processor time of several runs, in ms."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        job()
        times.append(time.process_time() - start)
    return 1e3 * min(times)


def main() -> None:
    folder = Path(tempfile.mkdtemp())
    for name, shape in (("lobe", quadratic), ("horn", horn)):
        level = np.stack([shape(band) for band in THIRDS], axis=-1)
        (folder / f"{name}.csv").write_text(table_text(ANGLE_DEG, THIRDS, level))
    for room in ROOMS:
        for bands in (DEFAULT_DESIGN_HZ, THIRDS):
            plain = scenario(folder, room, pattern="coverage = 60", bands=bands)
            base = best_ms(partial(solve, plain))
            print(f"{room}, {len(bands)} design bands: nominal {base:.1f} ms")
            for name in ("lobe", "horn"):
                table = scenario(folder, room, pattern=f'file = "{name}.csv"', bands=bands)
                taken = best_ms(partial(solve, table))
                print(f"    {name} of 361 angles x 24 bands {taken:.1f} ms: "
                      f"{taken / base:.2f} times (goal 2)")  # fmt: skip


if __name__ == "__main__":
    main()

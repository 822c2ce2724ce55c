"""The fixed words once more, number by number: no array, nothing of the program.

A line, its rows, air, lobes, levels and figures, written for scalars from the definitions, to stand
beside what the program answers.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

Point = tuple[float, float]
DOWN_DB = 20.0 * math.log10(2.0)
BANDS = (1000.0, 2000.0, 4000.0, 8000.0)


def write(folder: Path, text: str, name: str = "scene.toml") -> Path:
    """A scenario file in a folder."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def midband_hz(nominal_hz: float) -> float:
    """Exact base-ten mid-band nearest to a nominal frequency (IEC 61260-1)."""
    return math.pow(10.0, round(10.0 * math.log10(nominal_hz)) / 10.0)


def floor_z(line: Sequence[Point], x: float) -> float:
    """Floor under a row: linear, on a riser the later point."""
    z = line[0][1]
    for (x0, z0), (x1, z1) in pairwise(line):
        if x1 == x0 and x >= x0:
            z = z1
        elif x0 <= x <= x1:
            z = z0 + (z1 - z0) * (x - x0) / (x1 - x0)
    return z


def rows(line: Sequence[Point], *, spacing: float = 0.9, ears: float = 1.2) -> list[Point]:
    """Ears of the rows of one line."""
    first, last = line[0][0], line[-1][0]
    count = max(1, round((last - first) / spacing))
    at = [first + (last - first) * k / count for k in range(count)] + [last]
    return [(x, floor_z(line, x) + ears) for x in at]


def absorption(
    hz: float, *, celsius: float = 20.0, humid: float = 50.0, kpa: float = 101.325
) -> float:
    """Pure-tone attenuation in dB/m (ISO 9613-1, equations 3 to 5, from memory)."""
    press = kpa / 101.325
    kelvin = celsius + 273.15
    warm = kelvin / 293.15
    h = humid * 10.0 ** (-6.8346 * (273.16 / kelvin) ** 1.261 + 4.6151) / press
    oxygen = press * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h))
    bound = math.exp(-4.170 * (warm ** (-1.0 / 3.0) - 1.0))
    nitrogen = press * warm**-0.5 * (9.0 + 280.0 * h * bound)
    relaxing = 0.01275 * math.exp(-2239.1 / kelvin) / (oxygen + hz * hz / oxygen)
    relaxing += 0.1068 * math.exp(-3352.0 / kelvin) / (nitrogen + hz * hz / nitrogen)
    return float(8.686 * hz * hz * (1.84e-11 * warm**0.5 / press + warm**-2.5 * relaxing))


def air_db(hz: float, distance_m: float, *, octaves: float = 1.0, **climate: float) -> float:
    """What an octave of pink noise loses on the way: its power summed over 999 parts of ln f."""
    half = math.pow(10.0, 0.15 * octaves)
    parts = [half ** (2.0 * (k + 0.5) / 999.0 - 1.0) for k in range(999)]
    lost = [0.1 * distance_m * absorption(midband_hz(hz) * of, **climate) for of in parts]
    least = min(lost)
    left = math.fsum(math.pow(10.0, least - one) for one in lost) / len(lost)
    return 10.0 * (least - math.log10(left))


def wrapped(degrees: float) -> float:
    """An angle within ±180°."""
    return (degrees + 180.0) % 360.0 - 180.0


def quadratic(phi: float, *, above: float, below: float, lowest: float = -24.0) -> float:
    """The default lobe."""
    half = above if phi >= 0.0 else below
    return max(-DOWN_DB * (phi / half) ** 2, lowest)


def bessel_j1(x: float) -> float:
    """J1 by its series; fine for |x| < 20."""
    return sum(
        (-1.0) ** k / (math.factorial(k) * math.factorial(k + 1)) * (x / 2.0) ** (2 * k + 1)
        for k in range(60)
    )


def piston(phi: float, *, half: float, lowest: float = -24.0) -> float:
    """A piston's lobe, held beyond ±90°."""
    sine = math.sin(math.radians(min(abs(phi), 90.0)))
    x = 2.215089 * sine / math.sin(math.radians(half))
    return 0.0 if x == 0.0 else max(20.0 * math.log10(abs(2.0 * bessel_j1(x) / x)), lowest)


def seen(ear: Point, centre: Point) -> tuple[float, float]:
    """Distance and elevation of an ear from a centre, metres and degrees."""
    dx, dz = ear[0] - centre[0], ear[1] - centre[1]
    return math.hypot(dx, dz), math.degrees(math.atan2(dz, dx))


def level(
    ear: Point,
    centre: Point,
    tilt: float,
    hz: float,
    lobe: Callable[[float], float],
    air: Callable[[float, float], float] = air_db,
) -> float:
    """Pattern, spreading and air at one ear and band."""
    r, elevation = seen(ear, centre)
    return lobe(wrapped(elevation - tilt)) - 20.0 * math.log10(r) - air(hz, r)


def mean(values: Sequence[float], weights: Sequence[float] | None = None) -> float:
    """Weighted mean."""
    weighed = weights or [1.0] * len(values)
    return sum(v * w for v, w in zip(values, weighed, strict=True)) / sum(weighed)


def range_of(values: Sequence[float]) -> float:
    """Largest minus smallest."""
    return max(values) - min(values)


def trapezoid(at: Sequence[float]) -> list[float]:
    """Row weights along x."""
    last = len(at) - 1
    return [(at[min(i + 1, last)] - at[max(i - 1, 0)]) / 2.0 for i in range(last + 1)]


def deviation(by_band: Sequence[Sequence[float]], weights: Sequence[float]) -> float:
    """Root of the mean over bands of the weighted variance about each band's own mean."""
    return math.sqrt(
        mean([mean([(v - mean(b, weights)) ** 2 for v in b], weights) for b in by_band])
    )


def lowest_corner(corners: Sequence[Point], tilt: float, *, flipped: bool = False) -> float:
    """Lowest corner of an outline about its centre: flipped first, then tilted."""
    sign = -1.0 if flipped else 1.0
    t = math.radians(tilt)
    return min(u * math.sin(t) + sign * w * math.cos(t) for u, w in corners)

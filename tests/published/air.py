"""ISO 9613-1:1993 and ISO 9613-2:1996, values of the printed tables."""

from collections.abc import Iterator

import numpy as np

from aiming.analysis.refraction import gradient_per_s, turned_deg
from aiming.base.air import Air, absorption_db_per_m, air_loss, stated_accuracy_percent
from aiming.base.bands import OCTAVES_HZ, Width, exact_midband_hz
from aiming.scenario.scenario import Weather

from .check import Check

# °C, % relative humidity, nominal Hz, dB/km; three figures are printed.
TABLE_1 = (
    (20, 10, 1000, 14.1), (20, 70, 1000, 4.98), (20, 100, 1000, 5.42), (20, 10, 4000, 109),
    (20, 100, 4000, 19.4), (20, 50, 125, 0.445), (20, 70, 125, 0.339), (20, 15, 6300, 175),
    (10, 70, 1000, 3.66), (10, 70, 4000, 32.8), (15, 10, 4000, 87.3), (15, 70, 4000, 26.4),
    (0, 10, 1000, 14.0), (0, 15, 1000, 18.3), (0, 70, 1000, 4.64),
    (30, 50, 1000, 7.03), (30, 10, 4000, 96.0), (30, 70, 4000, 23.1),
    (50, 10, 8000, 155), (50, 70, 8000, 80.3), (-20, 70, 1000, 11.5), (-20, 10, 8000, 10.9),
)  # fmt: skip
# Octaves 63 Hz to 8 kHz.  At 63 Hz half a digit only holds the order of magnitude.
TABLE_2 = {
    (10, 70): "0.1 0.4 1.0 1.9 3.7 9.7 32.8 117",
    (20, 70): "0.1 0.3 1.1 2.8 5.0 9.0 22.9 76.6",
    (30, 70): "0.1 0.3 1.0 3.1 7.4 12.7 23.1 59.3",
    (15, 20): "0.3 0.6 1.2 2.7 8.2 28.2 88.8 202",
    (15, 50): "0.1 0.5 1.2 2.2 4.2 10.8 36.2 129",
    (15, 80): "0.1 0.3 1.1 2.4 4.1 8.3 23.7 82.8",
}
ROUNDED_DOWN = (15, 80, 1000.0)
"""4.156 dB/km, printed as 4.1."""
SPEED_M_S = {-20: 318.93, 0: 331.29, 10: 337.30, 20: 343.20, 30: 349.00, 40: 354.71}
# °C, % relative humidity, Hz, ± %: usual air; over 5 % of water, under 0.05 %, under 0.005 %; low f
ACCURACY = (
    (20, 50, 1000, 10.0), (50, 70, 8000, 20.0), (-20, 10, 8000, 20.0), (-20, 0.1, 1000, 50.0),
    (20, 50, 20, 50.0),
)  # fmt: skip


def db_per_km(celsius: float, humidity: float, nominal_hz: float) -> float:
    here = Air(temperature_c=celsius, humidity_percent=humidity)
    return 1000.0 * float(absorption_db_per_m(exact_midband_hz(nominal_hz), here))


# °C, %, m: by how much the mid-band tone overstates what the 8 kHz octave of pink noise loses, dB.
TONE_OVER_OCTAVE_DB = {
    (20, 50, 60): 0.182, (20, 50, 100): 0.838, (20, 30, 60): 0.709, (10, 40, 100): 1.880,
}  # fmt: skip
REMARK_KM_KHZ2: dict[Width, float] = {"octave": 3.0, "third": 6.0}


def tone_over_band_db(
    celsius: float, humidity: float, distance_m: float, width: Width = "octave"
) -> float:
    here = Air(temperature_c=float(celsius), humidity_percent=float(humidity))
    band = air_loss((8000.0,), here, width=width).at_db(np.array([float(distance_m)]))[0, 0]
    return db_per_km(celsius, humidity, 8000.0) * distance_m / 1000.0 - float(band)


def remark_db(width: Width) -> float:
    """Where the standard's remark ends at 8 kHz, in usual rooms: the largest difference there."""
    away = 1000.0 * REMARK_KM_KHZ2[width] / (exact_midband_hz(8000.0) / 1000.0) ** 2
    return max(
        abs(tone_over_band_db(celsius, humidity, away, width))
        for celsius in (10, 15, 20)
        for humidity in (30, 40, 50, 60, 70)
    )


TURNED_DEG = {50: 0.835, 100: 1.670}
"""By metres: a ray of radius c/(dc/dz) = 3,432 m turns so far."""
ARC = "arc of a circle; its radius in an architectural-acoustics text, after Kinsler et al."


def warm_gradient_per_s() -> float:
    """Of 1 K more for each metre of height, at 20 °C."""
    weather = Weather(temperature_gradient_c_m=1.0)
    return gradient_per_s(weather, low_m=1.2, high_m=6.0, c_m_s=343.2, temperature_c=20.0)


def checks() -> Iterator[Check]:
    topic = "Air"
    for throw, turned in TURNED_DEG.items():
        yield Check(
            topic, f"sound bent over {throw} m where its speed grows by 0.1 m/s a metre of height",
            ARC, "C", turned, 0.001, "°",
            lambda r=throw: turned_deg(r, 0.1, c_m_s=343.2),
        )  # fmt: skip
    yield Check(
        topic, "growth of the speed of sound with height for 1 K a metre, 20 °C",
        ARC, "C", 0.58537, 1e-4, "1/s", warm_gradient_per_s,
    )  # fmt: skip
    for (celsius, humidity, away), printed in TONE_OVER_OCTAVE_DB.items():
        yield Check(
            topic, f"8 kHz tone over octave of pink noise, {celsius} °C, {humidity} %, {away} m",
            "power of 20,001 tones summed over ln f", "C", printed, 0.002, "dB",
            lambda c=celsius, h=humidity, r=away: tone_over_band_db(c, h, r),
        )  # fmt: skip
    for width, product in REMARK_KM_KHZ2.items():
        yield Check(
            topic, f"tone against {width} of pink noise where path times f² is {product:g} "
            "km·kHz², 10 to 20 °C, 30 to 70 %, at most",
            "ISO 9613-1:1993, 8.2: ±0.5 dB", "M", 0.5, 0.25, "dB", lambda w=width: remark_db(w),
        )  # fmt: skip
    for celsius, humidity, hz, printed in TABLE_1:
        yield Check(
            topic, f"absorption at {celsius} °C, {humidity} %, {hz} Hz",
            "ISO 9613-1:1993, Table 1", "V", printed, 0.005 * printed, "dB/km",
            lambda c=celsius, h=humidity, f=hz: db_per_km(c, h, f),
        )  # fmt: skip
    for (celsius, humidity), row in TABLE_2.items():
        for hz, text in zip(OCTAVES_HZ[2:10], row.split(), strict=True):
            half_digit = 0.05 if "." in text else 0.5
            yield Check(
                topic, f"absorption at {celsius} °C, {humidity} %, octave {hz:g} Hz",
                "ISO 9613-2:1996, Table 2", "V", float(text),
                0.06 if (celsius, humidity, hz) == ROUNDED_DOWN else half_digit, "dB/km",
                lambda c=celsius, h=humidity, f=hz: db_per_km(c, h, f),
            )  # fmt: skip
    for celsius, speed in SPEED_M_S.items():
        yield Check(
            topic, f"speed of sound at {celsius} °C", "ISO 9613-1:1993, A.5", "V", speed, 0.01,
            "m/s", lambda c=celsius: Air(temperature_c=c).speed_of_sound_m_s,
        )  # fmt: skip
    for celsius, humidity, hz, percent in ACCURACY:
        yield Check(
            topic, f"stated accuracy at {celsius} °C, {humidity:g} %, {hz} Hz",
            "ISO 9613-1:1993, clause 7", "V2", percent, 0.1, "%",
            lambda c=celsius, h=humidity, f=hz: stated_accuracy_percent(
                f, Air(temperature_c=c, humidity_percent=h)
            ),
        )  # fmt: skip

"""Speed of sound, the accuracy that the standard states at every limit it names, and speech.

ISO 9613-1:1993: (A.5), and clause 7: ±10 % from 0.05 % to 5 % of water, −20 °C to 50 °C, below
200 kPa, 4·10⁻⁴ Hz/Pa to 10 Hz/Pa; ±20 % from 0.005 % of water; otherwise ±50 %.  Male speech: IEC
60268-16:2011 Table A.4 and the 2020 edition.
"""

import pytest

from aiming.base.air import Air, absorption_db_per_m, stated_accuracy_percent
from aiming.base.bands import DEFAULT_DESIGN_HZ, SPEECH_2011_DB, SPEECH_2020_DB, THIRDS_HZ


@pytest.mark.parametrize(
    ("temperature_c", "speed_m_s"), [(20.0, 343.2), (0.0, 331.29), (40.0, 354.71), (-20.0, 318.93)]
)
def test_speed_of_sound(temperature_c: float, speed_m_s: float) -> None:
    assert Air(temperature_c).speed_of_sound_m_s == pytest.approx(speed_m_s, abs=0.02)


# Saturated vapour by (B.3): 2.306 % of the air at 20 °C, 12.18 % at 50 °C, 0.124 % at −20 °C.
ACCURACIES = [
    (1000.0, Air(20.0, 50.0), 10.0),
    # Temperature: each limit belongs to the range.
    (1000.0, Air(50.0, 20.0), 10.0),
    (1000.0, Air(52.0, 20.0), 20.0),
    (1000.0, Air(-20.0, 80.0), 10.0),
    (1000.0, Air(-21.0, 80.0), 20.0),
    # Pressure: below 200 kPa.
    (1000.0, Air(20.0, 50.0, 199.0), 10.0),
    (1000.0, Air(20.0, 50.0, 200.0), 50.0),
    # Frequency to pressure: both limits belong to the range.
    (40.0, Air(20.0, 50.0, 100.0), 10.0),
    (39.0, Air(20.0, 50.0, 100.0), 50.0),
    (1e6, Air(20.0, 50.0, 100.0), 10.0),
    (1.05e6, Air(20.0, 50.0, 100.0), 50.0),
    # Water: 0.0528 %, 0.0512 %, 0.0484 %, 0.0051 %, 0.0049 %; 4.87 %, 5.24 %.
    (1000.0, Air(20.0, 2.29), 10.0),
    (1000.0, Air(20.0, 2.22), 10.0),
    (1000.0, Air(20.0, 2.10), 20.0),
    (1000.0, Air(20.0, 0.221), 20.0),
    (1000.0, Air(20.0, 0.212), 50.0),
    (1000.0, Air(50.0, 40.0), 10.0),
    (1000.0, Air(50.0, 43.0), 20.0),
    (10.0, Air(20.0, 50.0, 250.0), 50.0),
]


@pytest.mark.parametrize(("frequency_hz", "air", "percent"), ACCURACIES)
def test_stated_accuracy(frequency_hz: float, air: Air, percent: float) -> None:
    assert stated_accuracy_percent(frequency_hz, air) == percent


def test_saturated_vapour() -> None:
    """The figures that the list above rests on."""
    for temperature_c, saturated in ((20.0, 2.306), (50.0, 12.18), (-20.0, 0.1237)):
        assert Air(temperature_c, 100.0).water_percent == pytest.approx(saturated, rel=0.001)


def test_a_published_value() -> None:
    """ISO 9613-1:1993 Table 1: 20 °C, 50 %, 1 kHz: 4.66 dB/km."""
    assert 1e3 * float(absorption_db_per_m(1000.0, Air())) == pytest.approx(4.66, abs=0.01)


def test_the_speech_spectra_as_printed() -> None:
    """125 Hz to 8 kHz, dB re the A-weighted level; the bands that are designed for unless said."""
    octaves = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
    of_2011 = (2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8)
    of_2020 = (-2.5, 0.5, 0.0, -6.0, -12.0, -18.0, -24.0)
    assert {band: of_2011[place] for place, band in enumerate(octaves)} == SPEECH_2011_DB
    assert {band: of_2020[place] for place, band in enumerate(octaves)} == SPEECH_2020_DB
    assert DEFAULT_DESIGN_HZ == (1000.0, 2000.0, 4000.0, 8000.0)
    assert all(band in THIRDS_HZ for band in (*octaves, *DEFAULT_DESIGN_HZ))

"""IEC 61260-1:2014, Octave-band and fractional-octave-band filters: mid-bands and edges.

Clauses 5.2 (G = 10^0.3), 5.4 (exact mid-bands), 5.6 (band edges); nominal names by ISO 266.
Printed values: bands.py.
"""

import itertools

import pytest

from aiming.base.bands import (
    OCTAVE_RATIO,
    OCTAVES_HZ,
    THIRDS_HZ,
    band_key,
    band_label,
    edges_hz,
    exact_midband_hz,
    width_of,
)


def test_ratio() -> None:
    """5.2: G = 10^(3/10)."""
    assert pytest.approx(1.9952623149688795, rel=1e-15) == OCTAVE_RATIO


def test_exact_thirds_are_powers_of_g() -> None:
    """5.4: 1000·G^(k/3) for the thirds; nominal 10 Hz is k = −20."""
    assert len(THIRDS_HZ) == 34
    for k, nominal in enumerate(THIRDS_HZ, start=-20):
        assert exact_midband_hz(nominal) == pytest.approx(1000.0 * OCTAVE_RATIO ** (k / 3), 1e-13)


def test_nominal_names() -> None:
    """ISO 266: no exact mid-band departs from its nominal name by over 1.5 %."""
    for nominal in THIRDS_HZ:
        assert exact_midband_hz(nominal) == pytest.approx(nominal, rel=0.015)
    assert OCTAVES_HZ[0] == 16.0
    assert OCTAVES_HZ[-1] == 16000.0


def test_bands_touch() -> None:
    """Upper edge of one band is the lower edge of the next, to rounding."""
    for one, following in itertools.pairwise(THIRDS_HZ):
        upper = edges_hz(exact_midband_hz(one), per_octave=3)[1]
        lower = edges_hz(exact_midband_hz(following), per_octave=3)[0]
        assert upper == pytest.approx(lower, rel=1e-13)


def test_names() -> None:
    assert [band_key(f) for f in (31.5, 1000.0, 12500.0)] == ["31.5", "1000", "12500"]
    assert [band_label(f) for f in (31.5, 1000.0, 6300.0)] == ["31.5 Hz", "1 kHz", "6.3 kHz"]
    assert width_of((1000.0, 2000.0)) == "octave"
    assert width_of((1000.0, 1250.0)) == "third"

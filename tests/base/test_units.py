"""Lengths, masses and forces as people write and read them.

Exact factors: the international yard and pound agreement of 1959 (1 ft = 0.3048 m, 1 lb =
0.45359237 kg) and standard gravity 9.80665 m/s² (3rd CGPM, 1901).
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aiming.base.units import (
    FOOT_M,
    G_M_S2,
    INCH_M,
    POUND_FORCE_N,
    POUND_KG,
    Unit,
    both_forces_text,
    both_lengths_text,
    force_text,
    length_text,
    mass_text,
    parse_length_m,
    parse_load_n,
    parse_mass_kg,
    parse_tilt_deg,
    plain_length_text,
    tilt_text,
    x_text,
)

UNITS: tuple[Unit, Unit] = ("m", "ft")


def test_factors() -> None:
    assert FOOT_M == 0.3048
    assert INCH_M == 0.0254
    assert POUND_KG == 0.45359237
    assert G_M_S2 == 9.80665
    assert math.isclose(POUND_FORCE_N, 4.4482216152605, rel_tol=1e-15)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("12 ft 6 in", 3.81),
        ("12'6\"", 3.81),
        ("12' 6 1/2\"", 3.8227),
        ("12 ft 6.5 in", 3.8227),
        ("12'-6\"", 3.81),
        ("12′ 6″", 3.81),
        ("12ft6in", 3.81),
        ("12 feet 6 inches", 3.81),
        ("12 FT 6 IN", 3.81),
        ("12 ft", 3.6576),
        ("0.5 ft", 0.1524),
        ("6.5 in", 0.1651),
        ("1/2 in", 0.0127),
        ("3 1/8 in", 0.079375),
        ("3.8 m", 3.8),
        ("3.8m", 3.8),
        (".5 m", 0.5),
        ("240 mm", 0.24),
        ("35 cm", 0.35),
        ("1.5 km", 1500.0),
        ("-3.8 m", -3.8),
        ("−3.8 m", -3.8),
        ("+3.8 m", 3.8),
        ("-1 ft 6 in", -0.4572),
        ("  3.8 m  ", 3.8),
    ],
)
@pytest.mark.parametrize("unit", UNITS)
def test_text_with_its_own_unit(text: str, metres: float, unit: Unit) -> None:
    # The nearest double to the exact value, whatever the scenario's unit.
    assert parse_length_m(text, unit) == metres


@pytest.mark.parametrize("value", [5, 5.0, "5", "5.0", " +5 "])
def test_bare_number_is_in_the_scenarios_unit(value: object) -> None:
    assert parse_length_m(value, "m") == 5.0
    assert parse_length_m(value, "ft") == 1.524


@pytest.mark.parametrize(
    "value",
    [
        "", " ", "m", "abc", "3.8 yards", "12 ft 6", "6 1/2", "12 in 6 ft", "12.5 ft 6 in",
        "12 ft -6 in", "3.8 m 2 cm", "3 8 m", "1e3 m", "nan", "inf", "nan m", "- m", "--3 m",
        "1/2/3 in", "²m", "1_000 m", "٣ m", "9" * 100 + " m",
        math.nan, math.inf, -math.inf, 10**400, True, False, None, [1.0], {"m": 1.0},
    ],
)  # fmt: skip
def test_refused(value: object) -> None:
    with pytest.raises(ValueError, match=r'a length such as 3\.8, "3\.8 m", "240 mm"'):
        parse_length_m(value, "m")


def test_decimal_comma_is_refused_with_a_hint() -> None:
    with pytest.raises(ValueError, match=r'^"3,8 m".* a decimal point, as in "3\.8 m"'):
        parse_length_m("3,8 m", "m")


def test_too_many_inches_and_no_fraction() -> None:
    with pytest.raises(ValueError, match="less than 12 in after the feet"):
        parse_length_m("12 ft 12 in", "ft")
    with pytest.raises(ValueError, match="other than 0"):
        parse_length_m("1/0 in", "ft")


def test_screens() -> None:
    assert length_text(6.2, "m") == "6.20 m"
    assert length_text(-6.2, "m") == "-6.20 m"
    assert length_text(-0.001, "m") == "0.00 m"
    assert length_text(6.2, "ft") == "20 ft 4 1/8 in"
    assert length_text(3.048, "ft") == "10 ft 0 in"
    assert length_text(-0.0127, "ft") == "-0 ft 0 1/2 in"
    assert length_text(0.30479, "ft") == "1 ft 0 in"
    assert length_text(-0.0001, "ft") == "0 ft 0 in"
    assert both_lengths_text(6.2, "m") == "6.20 m (20 ft 4 1/8 in)"
    assert both_lengths_text(6.2, "ft") == "20 ft 4 1/8 in (6.20 m)"
    assert tilt_text(-14.34) == "nose down 14.3°"
    assert tilt_text(3.0) == "nose up 3.0°"
    assert tilt_text(-0.04) == tilt_text(0.0) == "level 0.0°"
    assert x_text(-1.2, "m") == "1.20 m behind the datum"
    assert x_text(1.2, "m") == "1.20 m in front of the datum"
    assert x_text(-1.2, "ft") == "3 ft 11 1/4 in behind the datum"
    assert x_text(0.0, "m") == x_text(-0.001, "ft") == "at the datum"
    assert mass_text(26.0, "m") == "26.0 kg"
    assert mass_text(26.0, "ft") == "57.3 lb"
    assert force_text(26.0 * G_M_S2, "m") == "0.255 kN"
    assert both_forces_text(26.0 * G_M_S2, "ft") == "57.3 lbf (0.255 kN)"


@settings(deadline=None, derandomize=True)
@given(st.floats(-1e5, 1e5), st.sampled_from(UNITS), st.sampled_from(UNITS))
def test_what_is_printed_reads_back(length_m: float, unit: Unit, scenario_unit: Unit) -> None:
    """To half a centimetre, or to a sixteenth of an inch."""
    half_step = 0.005 if unit == "m" else INCH_M / 16.0
    text = length_text(length_m, unit)
    assert abs(parse_length_m(text, scenario_unit) - length_m) <= half_step + 1e-9
    assert length_text(parse_length_m(text, scenario_unit), unit) == text


@settings(deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(0, 11), st.integers(0, 63))
def test_feet_inches_and_fractions_are_exact(feet: int, inches: int, part: int) -> None:
    metres = (feet * 12 * 64 + inches * 64 + part) * 254 / (64 * 10_000)
    assert parse_length_m(f"{feet} ft {inches} {part}/64 in", "m") == metres


@settings(deadline=None, derandomize=True)
@given(st.decimals(-1000, 1000, places=3))
def test_a_number_and_its_text_are_one_length(number: object) -> None:
    assert parse_length_m(float(str(number)), "ft") == parse_length_m(f"{number} ft", "m")


@settings(deadline=None, derandomize=True)
@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        assert math.isfinite(parse_length_m(text, "m"))
    except ValueError as error:
        assert ";" in str(error)


@pytest.mark.parametrize(
    ("text", "newtons"),
    [("50 kg", 50 * G_M_S2), ("330 lb", 330 * POUND_KG * G_M_S2), ("1.5 kN", 1500.0), ("9N", 9.0),
     ("100 lbf", 100 * POUND_KG * G_M_S2), ("57 LBS", 57 * POUND_KG * G_M_S2)],
)  # fmt: skip
def test_loads_and_masses_of_one_text(text: str, newtons: float) -> None:
    assert parse_load_n(text) == pytest.approx(newtons, rel=1e-12)
    assert parse_mass_kg(text) == pytest.approx(newtons / G_M_S2, rel=1e-12)


def test_a_mass_in_kilograms_is_that_number() -> None:
    assert parse_mass_kg("26.3 kg") == 26.3


@pytest.mark.parametrize("text", ["", "26", "7 stone", "-3 kg", "3,5 kg", "kg", "1e3 kg"])
def test_what_is_no_load(text: str) -> None:
    for parse in (parse_load_n, parse_mass_kg):
        with pytest.raises(ValueError, match=r" a (load|mass) such as"):
            parse(text)


@pytest.mark.parametrize(
    ("text", "deg"),
    [("nose down 12", -12.0), ("nose up 3", 3.0), ("Nose Down 7.5°", -7.5), ("down 4 deg", -4.0),
     ("nose down 0", 0.0)],
)  # fmt: skip
def test_tilts_as_people_say_them(text: str, deg: float) -> None:
    assert parse_tilt_deg(text) == deg
    assert parse_tilt_deg(tilt_text(deg)) == deg if deg else True


@pytest.mark.parametrize("text", ["12", "nose 12", "nose down", "nose down -12", "left 4"])
def test_what_is_no_tilt(text: str) -> None:
    with pytest.raises(ValueError, match="nose down 12"):
        parse_tilt_deg(text)


def test_a_length_is_short_and_a_page_is_none() -> None:
    """With spaces, 60 characters are read and 61 refused."""
    assert parse_length_m("3.8 m".ljust(60), "ft") == 3.8
    with pytest.raises(ValueError, match="a length such as"):
        parse_length_m("3.8 m".ljust(61), "ft")


def test_a_length_as_a_file_would_have_it() -> None:
    assert plain_length_text(4.2, "m") == "4.2 m"
    assert plain_length_text(13.75 * FOOT_M, "ft") == "13.75 ft"

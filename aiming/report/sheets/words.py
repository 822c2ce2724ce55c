"""Figures as the rigger reads them: both unit systems, the scenario's own first."""

from math import ceil, floor

from ...base.units import FOOT_M, G_M_S2, POUND_FORCE_N, POUND_KG, Unit, length_text
from .sheet_page import TIED


def _tied(text: str) -> str:
    return text.replace(" ", TIED)


def inches_text(length_m: float) -> str:
    """To an eighth, every part said: "19 ft 0 5/8 in", "0 ft 1 5/8 in", "3 ft 0 in"."""
    return _tied(length_text(length_m, "ft").replace("-", "−"))


def millimetres_text(length_m: float) -> str:
    """In metres to the millimetre: "5.812 m"."""
    text = f"{length_m:.3f}"
    return _tied(("0.000" if float(text) == 0.0 else text).replace("-", "−") + " m")


def lengths_text(length_m: float, unit: Unit) -> tuple[str, str]:
    """The length in the scenario's unit, and in the other: to the millimetre, to an eighth."""
    both = millimetres_text(length_m), inches_text(length_m)
    return both if unit == "m" else (both[1], both[0])


def small_text(length_m: float, unit: Unit) -> str:
    """A short distance: "42 mm (1 5/8 in)", or the other way round."""
    millimetres = _tied(f"{1000.0 * length_m:.0f} mm")
    inches = inches_text(length_m).removeprefix(_tied("0 ft "))
    if "/" in inches:
        inches = inches.removeprefix(_tied("0 "))
    return f"{millimetres} ({inches})" if unit == "m" else f"{inches} ({millimetres})"


def masses_text(force_n: float, unit: Unit) -> str:
    """What a load weighs: "11.8 kg   26.0 lb"."""
    kilograms = _tied(f"{force_n / G_M_S2:.1f} kg")
    pounds = _tied(f"{force_n / G_M_S2 / POUND_KG:.1f} lb")
    return f"{kilograms}  {pounds}" if unit == "m" else f"{pounds}  {kilograms}"


def mass_range_text(range_n: tuple[float, float], unit: Unit) -> str:
    """ "11.2 to 12.4 kg", in the scenario's own system; never wider than it is."""
    per = G_M_S2 if unit == "m" else POUND_FORCE_N
    low, high = ceil(range_n[0] / per * 10.0 - 1e-9) / 10, floor(range_n[1] / per * 10 + 1e-9) / 10
    return _tied(f"{low:.1f} to {high:.1f} {'kg' if unit == 'm' else 'lb'}")


def most_mass_text(force_n: float, unit: Unit) -> str:
    """ "63.7 kg", rounded down: what must not be read over."""
    per = G_M_S2 if unit == "m" else POUND_FORCE_N
    most = floor(force_n / per * 10.0 + 1e-9) / 10.0
    return _tied(f"{most:.1f} {'kg' if unit == 'm' else 'lb'}")


def forces_text(force_n: float, unit: Unit) -> str:
    """The same as a force: "0.116 kN   26.0 lbf"."""
    kilonewtons = _tied(f"{force_n / 1000.0:.3f} kN")
    pounds = _tied(f"{force_n / POUND_FORCE_N:.1f} lbf")
    return f"{kilonewtons}  {pounds}" if unit == "m" else f"{pounds}  {kilonewtons}"


def side_text(x_m: float, unit: Unit) -> str:
    """ "0.110 m (4 3/8 in) behind", "at the datum"."""
    shown, other = lengths_text(abs(x_m), unit)
    if shown == lengths_text(0.0, unit)[0]:
        return _tied("at the datum")
    other = other.removeprefix(_tied("0 ft "))
    return f"{shown} ({other}){TIED}{'behind' if x_m < 0.0 else 'in front'}"


def slope_text(elevation_deg: float) -> str:
    """ "8.6° down", "3.0° up", "0.0° level": what an inclinometer shows."""
    shown = f"{abs(elevation_deg):.1f}°"
    if float(shown[:-1]) == 0.0:
        return "0.0° level"
    return f"{shown} {'down' if elevation_deg < 0.0 else 'up'}"


def slopes_text(one_deg: float, other_deg: float) -> str:
    """ "8.6° to 10.7° down", "0.0° to 0.8° down", "1.0° down to 2.0° up"."""
    first, last = sorted((one_deg, other_deg), key=abs)
    start, end = slope_text(first), slope_text(last)
    if start == end:
        return start
    same = start.split()[1] in ("level", end.split()[1])
    return f"{start.split()[0]} to {end}" if same else f"{start} to {end}"


def paper_metres(inches: float, scale: float) -> float:
    """What an inch of paper stands for at 1 to scale, in metres."""
    return inches * FOOT_M / 12.0 * scale


def inside_slopes_text(range_deg: tuple[float, float], cut: tuple[bool, bool]) -> str:
    """A tolerance as slopes_text has it; an end at which something stops is rounded inwards."""
    low, high = range_deg
    inner = (
        ceil(10.0 * low - 1e-6) / 10.0 if cut[0] else low,
        floor(10.0 * high + 1e-6) / 10.0 if cut[1] else high,
    )
    return slopes_text(*inner) if inner[0] <= inner[1] else slope_text(0.5 * (low + high))

"""Figures as the rigger reads them: both unit systems, the scenario's own first."""

from ...base.units import FOOT_M, G_M_S2, POUND_FORCE_N, POUND_KG, Unit, length_text


def lengths_text(length_m: float, unit: Unit) -> tuple[str, str]:
    """The length in the scenario's unit, and in the other."""
    other: Unit = "ft" if unit == "m" else "m"
    return length_text(length_m, unit), length_text(length_m, other)


def small_text(length_m: float, unit: Unit) -> str:
    """A short distance: "42 mm (1 5/8 in)", or the other way round."""
    millimetres = f"{1000.0 * length_m:.0f} mm"
    inches = length_text(length_m, "ft").removeprefix("0 ft ").replace("-0 ft ", "-")
    return f"{millimetres} ({inches})" if unit == "m" else f"{inches} ({millimetres})"


def masses_text(force_n: float, unit: Unit) -> str:
    """What a load weighs: "11.8 kg   26.0 lb"."""
    kilograms, pounds = f"{force_n / G_M_S2:.1f} kg", f"{force_n / G_M_S2 / POUND_KG:.1f} lb"
    return f"{kilograms}  {pounds}" if unit == "m" else f"{pounds}  {kilograms}"


def forces_text(force_n: float, unit: Unit) -> str:
    """The same as a force: "0.116 kN   26.0 lbf"."""
    kilonewtons, pounds = f"{force_n / 1000.0:.3f} kN", f"{force_n / POUND_FORCE_N:.1f} lbf"
    return f"{kilonewtons}  {pounds}" if unit == "m" else f"{pounds}  {kilonewtons}"


def side_text(x_m: float, unit: Unit) -> str:
    """ "0.11 m (4 3/8 in) behind", "at the datum"."""
    shown, other = lengths_text(abs(x_m), unit)
    if shown == length_text(0.0, unit):
        return "at the datum"
    other = other.removeprefix("0 ft ")
    return f"{shown} ({other}) {'behind' if x_m < 0.0 else 'in front'}"


def slope_text(elevation_deg: float) -> str:
    """ "8.6° down", "3.0° up", "0.0° level": what an inclinometer shows."""
    shown = f"{abs(elevation_deg):.1f}°"
    if float(shown[:-1]) == 0.0:
        return "0.0° level"
    return f"{shown} {'down' if elevation_deg < 0.0 else 'up'}"


def slopes_text(one_deg: float, other_deg: float) -> str:
    """ "8.6° to 10.7° down", "1.0° down to 2.0° up"."""
    first, last = sorted((one_deg, other_deg), key=abs)
    start, end = slope_text(first), slope_text(last)
    if start == end:
        return start
    same = start.split()[1] == end.split()[1]
    return f"{start.split()[0]} to {end}" if same else f"{start} to {end}"


def paper_metres(inches: float, scale: float) -> float:
    """What an inch of paper stands for at 1 to scale, in metres."""
    return inches * FOOT_M / 12.0 * scale

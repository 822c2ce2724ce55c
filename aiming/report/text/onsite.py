"""What was found on site, as text 80 columns wide."""

from ...base.bands import band_label
from ...base.units import Unit, length_text, tilt_text, x_text
from ...scenario.scenario import Scenario
from ...site.ground_trial import GroundFound
from ...site.model import Found, Interval, PositionFound, ReadingFound
from .terminal import Terminal, labelled, printable

_NAME = 24
_BANDS_AT_ONCE = 7
_ALWAYS = (
    "In the section only: nothing is claimed beside it. This is no rigging design; local rules, "
    "the maker's data and a competent person come first."
)


def onsite_text(scenario: Scenario, found: Found, *, terminal: Terminal | None = None) -> str:
    """Advice first, then what it rests on; ends in a line break."""
    shown = terminal or Terminal()
    unit = scenario.units
    lines = [shown.bold(f"{printable(found.title)}: {printable(found.speaker)} on site"[:80])]
    lines += labelled("advice", printable(found.advice))
    lines += labelled("planned", _planned(found, unit))
    lines += _quantities(found, unit)
    lines += _readings(found.readings, unit)
    if found.positions:
        lines += ["", *_positions(found.positions, found.bands_hz)]
        lines += ["", *labelled("noise", noise_text(found))]
    for note in found.notes:
        lines += labelled("note", printable(f"{note}."))
    lines += labelled("limits", _ALWAYS)
    return shown.shown("\n".join(lines) + "\n")


def ground_found_text(found: GroundFound, *, terminal: Terminal | None = None) -> str:
    """A trial's result; ends in a line break."""
    shown = terminal or Terminal()
    lines = [shown.bold(f"{printable(found.trial.speaker)} on the ground")]
    lines += labelled("advice", printable(found.advice))
    lines += ["", *_positions(found.positions, found.trial.bands_hz)]
    for note in found.trial.notes:
        lines += labelled("note", printable(f"{note}."))
    return shown.shown("\n".join(lines) + "\n")


def noise_text(found: Found) -> str:
    """The noise model, so that a reader can judge the intervals."""
    return (
        f"intervals are 90 %, for a site error of {found.site_db:g} dB at every position, shared "
        f"by its bands, and {found.band_db:g} dB in every band (standard deviations); every band "
        "has its own unknown gain; height and pattern are taken as planned where nothing else is "
        "said."
    )


def interval_text(one: Interval, unit: str, *, decimals: int = 1) -> str:
    """ "−1.8° (−3.2° to −0.4°)"."""
    value, low, high = (f"{of:+.{decimals}f}{unit}" for of in (one.value, one.low, one.high))
    return f"{value} ({low} to {high})".replace("-", "−")


def _planned(found: Found, unit: Unit) -> str:
    plan = found.plan
    return (
        f"{tilt_text(float(plan.tilt_deg))}, height {length_text(float(plan.height_m), unit)}, "
        f"{x_text(float(plan.x_m), unit)} ({printable(found.datum)}); spread "
        f"{_db(found.planned_coverage.spread_db)}."
    )


def _quantities(found: Found, unit: Unit) -> list[str]:
    lines = []
    if found.tilt_error_deg is not None:
        text = f"hung minus planned {interval_text(found.tilt_error_deg, '°')}"
        lines += labelled("tilt", f"{text}, positive up.")
    if found.levels_tilt_error_deg is not None and found.confirmed is not None:
        text = interval_text(found.levels_tilt_error_deg, "°")
        lines += labelled("levels", f"by themselves {text}.")
    if found.height_error_m is not None:
        text = interval_text(found.height_error_m, " m", decimals=2)
        lines += labelled("height", f"hung minus planned {text}.")
    if found.pattern_scale is not None:
        scale = found.pattern_scale
        text = f"{scale.value:.2f} ({scale.low:.2f} to {scale.high:.2f}) times as wide"
        lines += labelled("pattern", f"{text} as its data.")
    return lines


def _readings(readings: tuple[ReadingFound, ...], unit: Unit) -> list[str]:
    lines = []
    for one in readings:
        if one.tilt_deg is not None:
            says = f"{tilt_text(one.tilt_deg.value)} ±{one.tilt_deg.half:.1f}°"
        elif one.height_m is not None:
            height = length_text(one.height_m.value, unit)
            says = f"height {height} ±{length_text(one.height_m.half, unit)}"
        else:
            says = "tells neither tilt nor height"
        lines += labelled("reading", f"{printable(one.text)}: {says}.")
    return lines


def _positions(positions: tuple[PositionFound, ...], bands_hz: tuple[float, ...]) -> list[str]:
    """Measured minus planned, and minus what was found, band by band."""
    lines = ["measured minus planned / minus found, dB, each band about its own gain"]
    for start in range(0, len(bands_hz), _BANDS_AT_ONCE):
        bands = bands_hz[start : start + _BANDS_AT_ONCE]
        wide = 13 if len(bands) <= 4 else 8
        lines.append(
            f"{'position':<{_NAME}}" + "".join(f"{band_label(band):>{wide}}" for band in bands)
        )
        for one in positions:
            name = printable(one.name)
            name = name if len(name) < _NAME else f"{name[: _NAME - 2]}…"
            lines.append(
                f"{name:<{_NAME}}" + "".join(f"{_pair(one, band, wide):>{wide}}" for band in bands)
            )
    return lines


def _pair(one: PositionFound, band: float, wide: int) -> str:
    measured = one.measured_db[band]
    if measured is None:
        return "-"
    planned, found = one.predicted_db[band], one.found_db[band]
    shown = [_difference(measured, planned), _difference(measured, found)]
    return " /".join(shown) if wide > 8 else shown[0]


def _difference(measured: float, other: float | None) -> str:
    if other is None:
        return "?"
    # Adding 0 takes the sign from a rounded −0.
    return f"{round(measured - other, 1) + 0.0:+.1f}".replace("-", "−")


def _db(value_db: float | None) -> str:
    return "not known" if value_db is None else f"{value_db:.1f} dB"

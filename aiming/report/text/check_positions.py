"""Where to put the microphone, and the trial on the ground: text to take along."""

import math

from ...base.bands import band_label
from ...base.units import Unit, length_text, tilt_text
from ...scenario.scenario import Scenario
from ...site.check_plan import CheckPlan
from ...site.ground_trial import EDGE_RULE, GroundTrial
from .terminal import labelled, printable

_NAME = 22
_ABOUT = 47
"""Columns before those of the bands, and how many of those fit into 80 columns."""
_BANDS_AT_ONCE = 5


def check_text(scenario: Scenario, plan: CheckPlan) -> str:
    """The check positions, ending in a line break."""
    unit = scenario.units
    lines = [
        f"Check positions for {printable(plan.speaker)}, "
        f"{tilt_text(float(plan.plan.tilt_deg))}, acoustic centre at "
        f"{length_text(float(plan.plan.height_m), unit)}",
        *labelled("datum", printable(scenario.datum)),
        *labelled("mic", f"{microphone_text(plan, unit)}."),
        "",
    ]
    for start in range(0, len(plan.bands_hz), _BANDS_AT_ONCE):
        lines += _table(plan, unit, slice(start, start + _BANDS_AT_ONCE))
        lines.append("")
    lines += labelled("read", RELATIVE)
    for number, check in enumerate(plan.checks, start=1):
        lines += labelled(f"{number}", check.reason)
    lines += labelled("tells", telling_text(plan))
    return "\n".join(lines) + "\n"


RELATIVE = (
    "levels are relative to the first position, band by band: only differences between positions "
    "count, so gain and EQ stay as they are from the first to the last."
)


def microphone_text(plan: CheckPlan, unit: Unit) -> str:
    """What kind of microphone stands where, and what never to mix."""
    if plan.mic_height_m is None:
        return "at ear height on a stand, at every position; none on the floor"
    if plan.mic_height_m == 0.0:
        return "flat on the floor, a boundary, at every position; none on a stand"
    height = length_text(plan.mic_height_m, unit)
    return f"{height} above the floor on a stand, at every position; none on the floor"


def telling_text(plan: CheckPlan) -> str:
    """How well these positions would tell the tilt."""
    three, every = plan.tilt_doubt_deg
    if not math.isfinite(every) or every > 45.0:
        return "these positions cannot tell the tilt: an inclinometer does."
    first = f"the first three tell the tilt to about ±{three:.0f}°, " if three < 45.0 else ""
    return (
        f"{first}all together to about ±{every:.0f}° (90 %, with ordinary "
        "reflections and a pattern within a tenth of its data). An "
        "inclinometer tells it better; these say whether the coverage is as planned."
    )


def _table(plan: CheckPlan, unit: Unit, which: slice) -> list[str]:
    bands = plan.bands_hz[which]
    head = f"   {'position':<{_NAME}}{'from':>8}{'throw':>8}{'off':>7}"
    under = f"   {'':<{_NAME}}{'datum':>8}{'':>8}{'axis':>7}"
    head += "".join(f"{band_label(band):>7}" for band in bands)
    lines = [head, under]
    for number, (name, check) in enumerate(zip(plan.names, plan.checks, strict=True), start=1):
        shown = printable(name)
        shown = shown if len(shown) < _NAME else f"{shown[: _NAME - 2]}…"
        lines.append(
            f"{number:>2} {shown:<{_NAME}}{_short(check.x_m, unit):>8}"
            f"{_short(check.distance_m, unit):>8}{check.off_axis_deg:>6.1f}°"
            + "".join(f"{level:>+7.1f}" for level in check.levels_db[which])
        )
    return lines


def _short(length_m: float, unit: Unit) -> str:
    """To the centimetre, or the tenth of a foot."""
    return f"{length_m:.2f} m" if unit == "m" else f"{length_m / 0.3048:.1f} ft"


def ground_text(scenario: Scenario, trial: GroundTrial) -> str:
    """The layout of a trial on the ground, ending in a line break."""
    unit = scenario.units
    lines = [
        f"Trial of {printable(trial.speaker)} on the ground, d = "
        f"{length_text(trial.distance_m, unit)}",
        *labelled(
            "box",
            "on its side, so that its vertical pattern lies in the ground plane, its acoustic "
            "centre near the ground; microphones flat on the ground, all of them.",
        ),
        "",
        f"   {'position':<14}{'ahead':>9}{'aside':>9}{'off axis':>10}"
        + "".join(f"{band_label(band):>7}" for band in trial.bands_hz[-_BANDS_AT_ONCE:]),
    ]
    for number, point in enumerate(trial.points, start=1):
        levels = list(point.levels_db.values())[-_BANDS_AT_ONCE:]
        lines.append(
            f"{number:>2} {point.name:<14}{_short(point.ahead_m, unit):>9}"
            f"{_short(abs(point.aside_m), unit):>9}{point.off_axis_deg:>9.1f}°"
            + "".join("      ?" if one is None else f"{one:>+7.1f}" for one in levels)
        )
    side = "top" if any(point.aside_m > 0.0 for point in trial.points) else "bottom"
    lines += ["", *labelled("aside", f"on the side where the box has its {side}.")]
    lines += labelled("expect", EDGE_RULE)
    for note in trial.notes:
        lines += labelled("note", f"{note}.")
    return "\n".join(lines) + "\n"

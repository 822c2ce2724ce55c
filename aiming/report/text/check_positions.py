"""Where to put the microphone, and the trial on the ground: text to take along."""

from ...base.bands import band_label
from ...base.units import FOOT_M, Unit, both_lengths_text, length_text, signed_text, tilt_text
from ...scenario.scenario import Scenario
from ...site.check_plan import CheckPlan
from ...site.ground_trial import EDGE_RULE, GroundTrial
from .terminal import cut, labelled, printable

_NAME = 22
_BANDS_AT_ONCE = 5
"""So many fit into 80 columns."""


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
    lines += labelled(
        "walk", "in this order, front to back; take a spare one where one cannot be reached."
    )
    lines += labelled("place", SLIPS[1])
    lines += labelled("beware", SLIPS[0])
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
    """What these positions would tell: the level of rows, then how little of the tilt."""
    told = plan.told
    if told is None:
        return (
            "nothing by levels, since too few rows are known: read the tilt from an inclinometer."
        )
    text = (
        f"what rows hear to about ±{told.row_db:.1f} dB, to ±{told.worst_row_db:.1f} dB at the "
        f"worst row (90 %), and the tilt to no better than ±{told.tilt_deg:.0f}°: read that from "
        "an inclinometer. "
    )
    if told.blind_deg is None:
        return f"{text}The levels could not contradict an inclinometer, whatever it reads."
    return (
        f"{text}The levels could contradict an inclinometer that is wrong by {told.blind_deg:.0f}° "
        "or more."
    )


SLIPS = (
    "no level can show a row that was counted wrong by one: take the distance by laser from the "
    "datum, and a photograph of each microphone with its row.",
    "put the microphone in the row named, at the seat nearest to the line of the loudspeaker's "
    "axis; where an aisle runs there, in the aisle. On a stand the floor's bounce is in the model; "
    "flat on the floor only where it is open and hard.",
)


def _table(plan: CheckPlan, unit: Unit, which: slice) -> list[str]:
    bands = plan.bands_hz[which]
    head = f"   {'position':<{_NAME}}{'from':>8}{'throw':>8}{'off':>7}"
    under = f"   {'':<{_NAME}}{'datum':>8}{'':>8}{'axis':>7}"
    head += "".join(f"{band_label(band):>7}" for band in bands)
    lines = [head, under]
    for number, (name, check) in enumerate(zip(plan.names, plan.checks, strict=True), start=1):
        shown = cut(printable(f"spare: {name}" if check.spare else name), _NAME - 1)
        lines.append(
            f"{number:>2} {shown:<{_NAME}}{_short(check.x_m, unit):>8}"
            f"{_short(check.distance_m, unit):>8}{_signed(check.off_axis_deg):>6}°"
            + "".join(f"{_signed(level):>7}" for level in check.levels_db[which])
        )
    return lines


def _signed(value: float) -> str:
    """ "+2.3", "−37.3", "0.0"."""
    return f"{'+' if value > 0.05 else ''}{signed_text(value, '')}"


def _short(length_m: float, unit: Unit) -> str:
    """To the centimetre, or the tenth of a foot."""
    return f"{length_m:.2f} m" if unit == "m" else f"{length_m / FOOT_M:.1f} ft"


def ground_text(scenario: Scenario, trial: GroundTrial) -> str:
    """The layout of a trial on the ground, ending in a line break."""
    unit = scenario.units
    lines = [
        f"Trial of {printable(trial.speaker)} on the ground, d = "
        f"{both_lengths_text(trial.distance_m, unit)}",
        *labelled("box", f"{LAID}."),
    ]
    if trial.coverage_deg is not None:
        lines += labelled("data", f"coverage {trial.coverage_deg:.0f}° between both edges.")
    lines += [
        "",
        f"   {'position':<16}{'ahead':>8}{'aside':>8}{'off axis':>9}"
        + "".join(f"{band_label(band):>7}" for band in trial.bands_hz[-_BANDS_AT_ONCE:]),
    ]
    for number, point in enumerate(trial.points, start=1):
        levels = list(point.levels_db.values())[-_BANDS_AT_ONCE:]
        lines.append(
            f"{number:>2} {point.name:<16}{_short(point.ahead_m, unit):>8}"
            f"{_short(abs(point.aside_m), unit):>8}{_signed(point.off_axis_deg):>8}°"
            + "".join("      ?" if one is None else f"{_signed(one):>7}" for one in levels)
        )
    lines += ["", *labelled("aside", f"{side_text(trial)}.")]
    lines += labelled("expect", f"{EDGE_RULE}.")
    lines += labelled("walk", f"{LINE_WALK}.")
    lines += labelled("also", f"{OTHER_PLANE}.")
    for note in trial.notes:
        lines += labelled("note", f"{note}.")
    return "\n".join(lines) + "\n"


LAID = (
    "on its side, so that its vertical pattern lies in the ground plane, its acoustic centre near "
    "the ground; microphones flat on open, hard ground, all of them"
)
OTHER_PLANE = (
    "for the horizontal pattern stand it upright, or turn it over so that its high-frequency "
    "driver is nearest the ground (common practice); its edges are at half the horizontal coverage"
)
LINE_WALK = (
    'add positions on the line from the edge at d to the axis at 2d, "line at 0.25" and the like, '
    "as many as you like to walk: they add nothing to the estimate and much to the eye"
)


def side_text(trial: GroundTrial) -> str:
    """On which side of the box each edge lies."""
    near = "top" if (trial.edge_deg or 0.0) > 0.0 else "bottom"
    return (
        f"edge at d and halfway lie on the side where the box has its {near}, the side that is to "
        "face the near seats; the other edge on the other side"
    )

"""The answer in the words of the people who hang it."""

import math

from ...base.arrays import FloatArray
from ...base.units import G_M_S2, Unit, length_text, mass_text, tilt_text, x_text
from ...results.answer import Answer, Bind, SpeakerAnswer, Window

LIMITS = {
    "axis_on_audience": "the axis has to meet the audience",
    "rigging": "the rigging holds no steeper tilt",
    "headroom": "the lines need what is left under the steel",
    "max_front_elevation_deg": "the front row may look up no steeper",
    "height high": "the height range ends at its top",
    "height low": "the height range ends at its bottom",
    "trim high": "the trim range ends at its top",
    "trim low": "the trim range ends at its bottom",
    "x high": "the x range ends at its front",
    "x low": "the x range ends at its back",
    "tilt high": "the tilt range ends at its top",
    "tilt low": "the tilt range ends at its bottom",
    "softest_db": "the softest row may be no softer",
}
"""What holds an answer; a name that is not here is shown as it is."""


def db_text(value_db: float | None, *, signed: bool = False) -> str:
    """ "4.3 dB", "unknown"; with its sign where it is a difference."""
    if value_db is None or not math.isfinite(value_db):
        return "unknown"
    shown = f"{value_db:+.1f}" if signed else f"{value_db:.1f}"
    if float(shown) == 0.0:
        shown = "0.0"
    return f"{shown} dB".replace("-", "−")


ALIKE_DB = 0.01
"""Rows this near to the loudest or the softest are as loud; the first of them is named."""


def loudest_softest(level_db: FloatArray) -> tuple[int, int]:
    """Places of the loudest and of the softest in (n,) known levels, the first of those alike."""
    loud = level_db >= level_db.max() - ALIKE_DB
    soft = level_db <= level_db.min() + ALIKE_DB
    return int(loud.argmax()), int(soft.argmax())


def rows_within_text(percent: float | None) -> str:
    """ "all rows within ±3 dB", "83 % of rows within ±3 dB"."""
    if percent is None:
        return "how many rows lie within ±3 dB is unknown"
    return "all rows within ±3 dB" if percent > 99.95 else f"{percent:.0f} % of rows within ±3 dB"


def left_text(answer: Answer, one: SpeakerAnswer) -> str:
    """ ", rows 1–2 left to a front fill"; nothing where none is."""
    left = one.left_to_fill
    return "" if left is None else f", {rows_text(answer, sorted(left.rows))} left to a front fill"


def mass_of_text(force_n: float, unit: Unit) -> str:
    """ "12.0 kg", "26.5 lb": what hangs there would weigh as much."""
    return mass_text(force_n / G_M_S2, unit).replace("-", "−")


def throw_m(one: SpeakerAnswer) -> float | None:
    """From the acoustic centre to the aim point; None where there is none."""
    if one.aim_point is None:
        return None
    return math.hypot(one.aim_point[0] - one.x_m, one.aim_point[1] - one.height_m)


def row_text(answer: Answer, row: int) -> str:
    """ "row 16", with the seating where there are several."""
    name = f"row {answer.rows.name[row]}"
    return name if len(answer.scenario.seatings) == 1 else f"{name} of {answer.rows.seating[row]}"


def rows_text(answer: Answer, rows: list[int]) -> str:
    """ "rows A–C, 14 of the circle": runs of neighbours, seating by seating."""
    seating, runs = answer.rows.seating, list[list[int]]()
    for row in rows:
        if runs and row == runs[-1][-1] + 1 and seating[row] == seating[row - 1]:
            runs[-1].append(row)
        else:
            runs.append([row])
    shown = []
    for run, after in zip(runs, [*runs[1:], None], strict=True):
        first, last = answer.rows.name[run[0]], answer.rows.name[run[-1]]
        text = first if len(run) == 1 else f"{first}–{last}"
        ends_here = after is None or seating[after[0]] != seating[run[0]]
        if len(answer.scenario.seatings) > 1 and ends_here:
            text += f" of {seating[run[0]]}"
        shown.append(text)
    return f"row{'s' if len(rows) > 1 else ''} {', '.join(shown)}"


def from_datum_text(x_m: float, unit: Unit) -> str:
    """ "0.50 m behind", "at the datum": where it is plain what from."""
    return x_text(x_m, unit).replace(" behind the datum", " behind").replace(" of the datum", "")


def height_word(one: SpeakerAnswer) -> str:
    """What its height is told by: "trim", "lowest corner", or "centre" without an outline."""
    if one.trim_m == one.height_m:
        return "centre"
    return "trim" if one.mount == "flown" else "lowest corner"


def window_text(one: SpeakerAnswer, unit: Unit) -> str | None:
    """ "nose down 12.9° to 15.6°, trim 6.01 to 6.44 m"; None where there is none."""
    if one.window is None:
        return None
    text, drop = tilts_text(*one.window.tilt_deg), one.height_m - one.trim_m
    low, high = (length_text(height - drop, unit) for height in one.window.height_m)
    if low == high:
        return text
    return f"{text}, {height_word(one)} {low.removesuffix(' m')} to {high}"


def window_cost_text(window: Window, *, several: bool) -> str:
    """ "for up to 0.5 dB more spread", and whose it is where there are several loudspeakers."""
    whose = " of all together" if window.of == "all" else " by itself"
    return f"for up to {window.within_db:g} dB more spread{whose if several else ''}"


RULES = {
    "axis_on_audience": "the axis leaves the audience",
    "softest_db": "the softest row is too soft",
    "tilt low": "your tilt range ends",
    "tilt high": "your tilt range ends",
    "rigging": "the rigging cannot hold it",
    "max_front_elevation_deg": "the front row looks up too steeply",
}
"""What happens beyond the end of a tolerance where a rule of the file ends it, not the sound."""


def ruled_text(one: SpeakerAnswer, unit: Unit) -> str:
    """ "beyond 8.6° and 5.12 m the axis leaves the audience", to be read after the window's text.

    Empty where the sound ends every side.
    """
    window, drop = one.window, one.height_m - one.trim_m
    if window is None:
        return ""
    crosses_level = window.tilt_deg[0] < 0.0 < window.tilt_deg[1]
    tilts = [tilt_text(t) if crosses_level else f"{abs(t):.1f}°" for t in window.tilt_deg]
    heights = [length_text(height - drop, unit) for height in window.height_m]
    ends: dict[str, list[str]] = {}
    for rules, texts in ((window.tilt_rules, tilts), (window.height_rules, heights)):
        for rule, text in zip(rules, texts, strict=True):
            if rule is not None:
                ends.setdefault(RULES.get(rule, f"`{rule}` ends it"), []).append(text)
    told = [
        f"beyond {'these ends' if len(at) == 4 else ' and '.join(at)} {happens}"
        for happens, at in ends.items()
    ]
    return ", ".join(told)


def tilts_text(one_deg: float, other_deg: float) -> str:
    """ "nose down 12.9° to 15.6°", "nose down 1.0° to nose up 2.0°": less steep first."""
    first, last = sorted((one_deg, other_deg), key=abs)
    start, end = tilt_text(first), tilt_text(last)
    if start == end:
        return start
    same = start.split()[:2] == end.split()[:2] and start.startswith("nose")
    return f"{start} to {end.split()[-1] if same else end}"


def held_text(one: SpeakerAnswer, unit: Unit) -> str | None:
    """What holds the answer and what lies past it, in words; None where nothing holds it."""
    told = [
        f"{LIMITS.get(bind.limit, bind.limit)} ({_past_text(bind, unit)})" for bind in one.binds
    ]
    return "; ".join(told) or None


def _past_text(bind: Bind, unit: Unit) -> str:
    """ "up to 0.50 m past that would gain 0.3 dB"."""
    if bind.gains_db == 0.0:
        return "going past that gains nothing"
    step = f"{bind.step:g}°" if bind.unit == "°" else f"{bind.step:g} dB"
    if bind.unit == "m":
        step = length_text(bind.step, unit)
    return f"going up to {step} past that gains {db_text(max(bind.gains_db, 0.1))}"

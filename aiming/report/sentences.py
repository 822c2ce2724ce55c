"""What the summary says of one loudspeaker, each with the word that stands before it."""

import math

from ..answer.curves import served_curve
from ..answer.explain import SpeakerExplanation
from ..answer.model import Answer, SpeakerAnswer
from ..arrays import FloatArray
from ..bands import band_label
from ..scenario.scenario import Scenario
from ..units import length_text, tilt_text, x_text
from .sound_sentences import lobe_sentence, lobe_text
from .words import (
    db_text,
    held_text,
    orientation_text,
    row_text,
    rows_text,
    throw_m,
    window_text,
)

Sentence = tuple[str, str]
"""Label and text."""
OBJECTIVES = {"spread": "spread", "worst band": "worst-band spread", "deviation": "deviation"}


def aim_sentence(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> Sentence:
    """Where it points, where it hangs, what the axis meets."""
    unit = scenario.units
    trim = "" if one.trim_m == one.height_m else f" (trim {length_text(one.trim_m, unit)})"
    text = (
        f"{tilt_text(one.tilt_deg)}, acoustic centre {length_text(one.height_m, unit)} above "
        f"{scenario.datum}{trim}, {x_text(one.x_m, unit)}; {orientation_text(one)}. "
    )
    throw = throw_m(one)
    if throw is None or one.aim_row is None:
        text += "The axis meets no seating that it serves."
    else:
        row = row_text(scenario, answer, one.aim_row)
        text += f"The axis meets the ears of {row}, {length_text(throw, unit)} away."
    return one.name, text


def heard_sentence(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> Sentence:
    """How even it is, and which rows are not."""
    if one.spread_db is None or one.rows_within_3db_percent is None:
        return "heard", "The pattern data do not reach every row: the spread is unknown."
    rows, level = served_curve(scenario, answer, one.name)
    loudest, softest = int(rows[level.argmax()]), int(rows[level.argmin()])
    text = (
        f"{one.rows_within_3db_percent:.0f} % of rows within ±3 dB; spread "
        f"{db_text(one.spread_db)}{lobe_text(one)} from "
        f"{row_text(scenario, answer, loudest)} (loudest) to "
        f"{row_text(scenario, answer, softest)} (softest); by band {_by_band(one)}."
    )
    return "heard", " ".join([text, *uneven_texts(scenario, answer, one)])


def uneven_texts(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> list[str]:
    """Which rows are too soft, and why, and which are too loud; nothing where none is.

    Nor anything where a level is unknown: a mean over the known rows alone would mislead.
    """
    if one.spread_db is None:
        return []
    rows, level = served_curve(scenario, answer, one.name)
    seen = answer.rows.by_speaker[one.name]
    texts = []
    soft, loud = rows[level < -3.0], rows[level > 3.0]
    front = _front_run(answer, one, [int(row) for row in rows], level)
    rest = [int(row) for row in soft if int(row) not in front]
    if front:
        away = abs(float(seen.off_axis_deg[front[0]]))
        after = [int(row) for row in rows if row > front[-1]]
        first, last = answer.rows.name[front[0]], answer.rows.name[(after or front)[0]]
        which = rows_text(scenario, answer, front)
        texts.append(f"{which} too soft, {away:.0f}° off axis: fill needed from {first} to {last}.")
    if rest:
        where = rows_text(scenario, answer, rest)
        far = length_text(float(seen.distance_m[rest].max()), scenario.units)
        texts.append(f"{where} too soft, up to {far} away.")
    if len(loud):
        texts.append(f"{rows_text(scenario, answer, [int(row) for row in loud])} too loud.")
    return [text[:1].upper() + text[1:] for text in texts]


def _front_run(answer: Answer, one: SpeakerAnswer, rows: list[int], level: FloatArray) -> list[int]:
    """Soft rows from the first row on, in front of the loudspeaker and nearer than its aim."""
    throw, run = throw_m(one), []
    distance = answer.rows.by_speaker[one.name].distance_m
    for row, of in zip(rows, level, strict=True):
        if (
            not of < -3.0
            or answer.rows.x_m[row] < one.x_m
            or throw is None
            or distance[row] > throw
        ):
            break
        run.append(row)
    return run


def _by_band(one: SpeakerAnswer) -> str:
    parts = [
        f"{band_label(band)} {db_text(of.spread_db).removesuffix(' dB')}"
        for band, of in one.by_band.items()
    ]
    return ", ".join(parts)


def proof_sentence(scenario: Scenario, one: SpeakerAnswer) -> Sentence | None:
    """The best there is, how well that is proven, and what was taken instead."""
    if one.best is None or one.gap_db is None:
        return None
    best, unit = one.best, scenario.units
    text = (
        f"best {OBJECTIVES[scenario.aim.objective]} in the ranges {best.objective_db:.2f} dB, "
        f"proven to within {max(one.gap_db, 0.01):.2f} dB"
    )
    if best.height_m > one.height_m + 0.005:
        text += (
            f" ({length_text(best.height_m, unit)}, {tilt_text(best.tilt_deg)}); taken: the "
            f"lowest place within {scenario.aim.lower_if_within_db:g} dB"
        )
    return "proof", text + "."


def window_sentence(scenario: Scenario, one: SpeakerAnswer) -> Sentence | None:
    """How far tilt and height may be off."""
    text = window_text(one, scenario.units)
    if text is None or one.window is None:
        return None
    return "window", f"{text}, for at most {one.window.within_db:g} dB more spread."


def held_sentence(told: SpeakerExplanation | None) -> Sentence | None:
    """Why the best aim is the common shortcut, where it is."""
    if told is None or not told.held_at_last_row:
        return None
    return "held", (
        "the aim is held at the last row: box too wide or too low for this audience; the best "
        "aim that still meets it is the axis on that row."
    )


def shortcut_sentence(one: SpeakerAnswer, told: SpeakerExplanation | None) -> Sentence | None:
    """Against the common practice, and which limits hold the answer."""
    if told is not None and told.held_at_last_row:
        return None
    text = (
        f"axis at the last row from here ({tilt_text(one.shortcut.tilt_deg)}): "
        f"{db_text(one.shortcut.spread_db)}."
    )
    held = held_text(one)
    return "shortcut", text if held is None else f"{text} The best is held by: {held}."


def explained(scenario: Scenario, one: SpeakerAnswer, told: SpeakerExplanation) -> list[Sentence]:
    """What other choices would buy and cost, the weightiest first."""
    found: list[Sentence | None] = [
        _distance(scenario, told),
        _front(told),
        _height(told),
        lobe_sentence(one),
    ]
    return [one for one in found if one is not None]


def _distance(scenario: Scenario, told: SpeakerExplanation) -> Sentence | None:
    if not told.mostly_distance:
        return None
    text = f"distance alone spreads the level by {told.distance_loss_db:.1f} dB, whatever the tilt"
    if told.helping_height_m is not None:
        helping = length_text(told.helping_height_m, scenario.units)
        return "distance", f"{text}; from {helping} up it would be 1 dB better."
    return "distance", f"{text}; no height nearby helps."


def beyond_sentence(told: SpeakerExplanation | None) -> Sentence | None:
    """The price of pointing over the audience's heads."""
    steps = [] if told is None else list(told.past_last_row)
    steps = [one for one in steps if one.above_last_row_deg > 0.0][:3]
    if not steps:
        return None
    first, *rest = steps
    text = (
        f"above the last row by {first.above_last_row_deg:g}°: spread {first.spread_db:.1f} dB, "
        f"last row {db_text(first.last_row_change_db, signed=True)}, "
        f"{_share_text(first.missed_share_percent)} of the pattern misses the audience"
    )
    parts = [
        f"{one.above_last_row_deg:g}°: {one.spread_db:.1f}, "
        f"{db_text(one.last_row_change_db, signed=True).removesuffix(' dB')}, "
        f"{_share_text(one.missed_share_percent)}"
        for one in rest
    ]
    return "beyond", f"{'; '.join([text, *parts])}."


def _front(told: SpeakerExplanation) -> Sentence | None:
    if len(told.front_rows) < 2:
        return None
    parts = [f"{one.given_away}: {one.spread_db:.1f}" for one in told.front_rows]
    text = f"best spread with front rows left to a fill: {', '.join(parts)} dB"
    if told.knee is None:
        return "front", f"{text}; none is worth giving away."
    knee = next(one for one in told.front_rows if one.given_away == told.knee)
    return "front", f"{text}; knee at {told.knee} ({tilt_text(knee.tilt_deg)})."


def _height(told: SpeakerExplanation) -> Sentence | None:
    parts = [
        f"one metre {'lower' if one.change_m < 0 else 'higher'} {one.spread_db:.1f} dB "
        f"({tilt_text(one.tilt_deg)})"
        for one in told.height_trade
        if one.change_m
    ]
    return ("height", f"best spread {', '.join(parts)}.") if parts else None


def _share_text(percent: float) -> str:
    return "an unknown share" if math.isnan(percent) else f"{percent:.0f} %"

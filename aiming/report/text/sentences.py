"""What the summary says of one loudspeaker, each with the word that stands before it."""

import math

import numpy as np

from ...analysis.section_map import served_curve
from ...base.arrays import FloatArray
from ...base.bands import band_label
from ...base.units import Unit, length_text, tilt_text, x_text
from ...results.answer import Answer, SpeakerAnswer
from ...results.explanation import SpeakerExplanation
from ...scenario.scenario import Scenario
from .words import (
    db_text,
    held_text,
    orientation_text,
    row_text,
    rows_text,
    throw_m,
    tilts_text,
    window_text,
)

Sentence = tuple[str, str]
"""Label and text."""
OBJECTIVES = {"spread": "spread", "worst band": "worst-band spread", "deviation": "deviation"}


def aim_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence:
    """Where it points, where it hangs, what the axis meets."""
    scenario = answer.scenario
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
        row = row_text(answer, one.aim_row)
        text += f"The axis meets the ears of {row}, {length_text(throw, unit)} away."
    return one.name, text


def heard_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence:
    """How even it is, and which rows are not."""
    if one.spread_db is None or one.rows_within_3db_percent is None:
        return "heard", "The pattern data do not reach every row: the spread is unknown."
    rows, level = served_curve(answer, one.name)
    loudest, softest = int(rows[level.argmax()]), int(rows[level.argmin()])
    text = (
        f"{one.rows_within_3db_percent:.0f} % of rows within ±3 dB; spread "
        f"{db_text(one.spread_db)}{lobe_text(one)} from "
        f"{row_text(answer, loudest)} (loudest) to "
        f"{row_text(answer, softest)} (softest); by band {_by_band(one)}."
    )
    return "heard", " ".join([text, *uneven_texts(answer, one)])


def uneven_texts(answer: Answer, one: SpeakerAnswer) -> list[str]:
    """Which rows are too soft, and why, and which are too loud; nothing where none is.

    Nor anything where a level is unknown: a mean over the known rows alone would mislead.
    """
    if one.spread_db is None:
        return []
    rows, level = served_curve(answer, one.name)
    seen = answer.rows.by_speaker[one.name]
    texts = []
    soft, loud = rows[level < -3.0], rows[level > 3.0]
    front = _front_run(answer, one, [int(row) for row in rows], level)
    rest = [int(row) for row in soft if int(row) not in front]
    if front:
        away = abs(float(seen.off_axis_deg[front[0]]))
        after = [int(row) for row in rows if row > front[-1]]
        first, last = answer.rows.name[front[0]], answer.rows.name[(after or front)[0]]
        which = rows_text(answer, front)
        texts.append(f"{which} too soft, {away:.0f}° off axis: fill needed from {first} to {last}.")
    if rest:
        where = rows_text(answer, rest)
        far = length_text(float(seen.distance_m[rest].max()), answer.scenario.units)
        texts.append(f"{where} too soft, up to {far} away.")
    if len(loud):
        texts.append(f"{rows_text(answer, [int(row) for row in loud])} too loud.")
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


# What the summary says of tone, absolute level, other shapes of lobe and flipping.

_WEIGHTED = {"A": "dB, A-weighted,", "Z": "dB, unweighted,"}


def tone_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """The worst tonal change over the audience, and where lower bands are not known."""
    tone = one.tone
    if tone is None or tone.range_db is None:
        return None
    low, high = band_label(tone.low_hz), band_label(tone.high_hz)
    text = f"{high} against {low} changes by {tone.range_db:.1f} dB over the rows"
    if tone.worst_change_db is not None and tone.worst_row is not None:
        duller = tone.rows.change_db[list(tone.rows.row).index(tone.worst_row)] < 0.0
        text = (
            f"worst at {row_text(answer, tone.worst_row)}: {high} comes "
            f"{tone.worst_change_db:.1f} dB {'softer' if duller else 'louder'} against {low} than "
            "at the aim point"
        )
    nominal = answer.scenario.speaker(one.name).nominal
    if nominal is not None and nominal.control_from_hz is None:
        text += "; lower bands are not known, for want of control_from_hz"
    return "tone", f"{text}."


def level_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """What arrives at the softest row, against the level wanted."""
    output = one.output
    if output is None:
        return None
    name = "pink noise" if output.programme == "pink" else output.programme
    unit, parts = _WEIGHTED[output.weighting], []
    greatest, one_watt = output.greatest, output.one_watt
    if greatest is not None and greatest.softest is not None:
        row = row_text(answer, greatest.softest.row)
        level = greatest.softest.level_db
        text = f"{name} at the greatest output gives {level:.1f} {unit} at {row} (softest)"
        if greatest.headroom_db is not None:
            word = "over" if greatest.headroom_db >= 0.0 else "under"
            text += f", {abs(greatest.headroom_db):.1f} dB {word} the {output.target_db:g} wanted"
        if greatest.limited_by_hz is not None:
            text += f"; {band_label(greatest.limited_by_hz)} reaches its limit first"
        parts.append(text)
    if one_watt is not None and one_watt.softest is not None:
        row = row_text(answer, one_watt.softest.row)
        level = one_watt.softest.level_db
        text = f"1 W of {name} gives {level:.1f} {unit} at {row}"
        if one_watt.needed_w is not None:
            text += f", and {output.target_db:g} takes {_watts(one_watt.needed_w)}"
        parts.append(text)
    return ("level", f"{'; '.join(parts)}.") if parts else None


def lobe_text(one: SpeakerAnswer) -> str:
    """ " (4.9 to 10.1 dB by the lobe's shape)"; nothing where the pattern is measured."""
    spread = None if one.lobe_family is None else one.lobe_family.spread_db
    if spread is None:
        return ""
    low, high = (f"{value:.1f}" for value in spread)
    return "" if low == high else f" ({low} to {high} dB as the lobe may be shaped)"


def lobe_sentence(one: SpeakerAnswer) -> Sentence | None:
    """The family of lobes with this coverage angle."""
    family = one.lobe_family
    if family is None or family.best_tilt_deg is None:
        return None
    parts = [f"{lobe.lobe} {db_text(lobe.spread_db).removesuffix(' dB')}" for lobe in family.lobes]
    return "lobe", (
        f"spread here by shape of lobe: {', '.join(parts)} dB; best tilts "
        f"{tilts_text(*family.best_tilt_deg)}."
    )


def flip_sentence(told: SpeakerExplanation | None) -> Sentence | None:
    """What flipping wins or loses, per band."""
    if told is None or len(told.flips) < 2:
        return None
    parts = [f"{one.orientation} {one.spread_db:.1f} dB" for one in told.flips]
    first, second = told.flips[:2]
    gains = [
        f"{band_label(band)} {second.band_spread_db[band] - spread:+.1f}".replace("-", "−")
        for band, spread in first.band_spread_db.items()
        if math.isfinite(spread) and math.isfinite(second.band_spread_db[band])
    ]
    return "flip", (
        f"best spread {', '.join(parts)}; {second.orientation} against {first.orientation} by "
        f"band: {', '.join(gains)} dB."
    )


def _watts(power_w: float) -> str:
    """ "0.35 W", "48 W", "1200 W": two figures, as an amplifier is chosen."""
    return f"{float(f'{power_w:.2g}'):g} W"


# What the summary says of the room: where sound lands, what surfaces send back, who sees what.

_NAMED_PERCENT = 5.0
"""Surfaces that get less are not named."""


def lands_sentence(one: SpeakerAnswer) -> Sentence | None:
    """Which share of its sound in the section lands where."""
    lands = one.lands_percent
    if lands is None or lands.beneath_floors is None or lands.nowhere is None:
        return None
    seating = sum(of or 0.0 for of in lands.seating.values())
    text = f"{seating:.0f} % of its sound in the section on seating"
    if lands.surface:
        each = {name: of or 0.0 for name, of in lands.surface.items()}
        most = sorted(each, key=lambda name: -each[name])[:3]
        named = [f"{name} {each[name]:.0f} %" for name in most if each[name] >= _NAMED_PERCENT]
        text += f", {sum(each.values()):.0f} % on surfaces"
        text += f" ({', '.join(named)})" if named else ""
    if lands.beneath_floors >= 1.0:
        text += f", {lands.beneath_floors:.0f} % on the undersides of floors"
    return "lands", f"{text}, {lands.nowhere:.0f} % past everything."


def points_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """The strongest reflection at each watched point."""
    found, points = one.reflections, answer.scenario.points
    if found is None or not points:
        return None
    level, texts = found.design_level_db, []
    for point in points:
        here = [
            index
            for index, name in enumerate(found.point)
            if name == point.name and np.isfinite(level[index])
        ]
        if not here:
            texts.append(f"{point.name}: no first reflection in the section")
            continue
        worst = max(here, key=lambda index: float(level[index]))
        texts.append(
            f"{point.name}: off {found.surface[worst]} "
            f"{found.delay_ms[worst]:.0f} ms after the direct sound, {abs(level[worst]):.1f} dB "
            f"{'softer' if level[worst] < 0.0 else 'louder'} than it"
        )
    return "points", "; ".join(texts) + "."


def sight_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """Who sees the focus past the cabinet, how high it seems, what it is near."""
    scenario = answer.scenario
    room, unit = one.room, scenario.units
    if room is None or (scenario.focus is None and scenario.aim.max_front_elevation_deg is None):
        return None
    parts = [f"seen {room.front_elevation_deg:.0f}° up from the front row"]
    if room.hides_focus_from is not None and scenario.speaker(one.name).cabinet is not None:
        lost = list(room.hides_focus_from)
        parts.append(
            f"it takes the focus from {rows_text(answer, lost)}"
            if lost
            else "it takes the focus from no row"
        )
    if room.over_heads_m is not None:
        parts.append(f"{length_text(room.over_heads_m, unit)} over heads")
    if room.nearest_surface is not None:
        near = room.nearest_surface
        parts.append(f"{length_text(near.distance_m, unit)} from {near.name}")
    return "view", "; ".join(parts) + "."


# What a degree and a hand's breadth cost, in a sentence.

_NAMES = {"spread": "spread", "worst band": "worst-band spread", "deviation": "deviation"}


def tolerance_sentence(scenario: Scenario, one: SpeakerAnswer) -> tuple[str, str] | None:
    """Label and sentence; None where the scenario gives no tolerance."""
    found = one.tolerance
    if found is None:
        return None
    unit = scenario.units
    parts = []
    if found.tilt_deg > 0.0:
        parts.append(f"{found.tilt_deg:g}° off in tilt costs {db_text(found.tilt_costs_db)}")
    if place := _place(found.height_m, found.x_m, unit):
        parts.append(f"{place} {db_text(found.place_costs_db)}")
    if not parts:
        return None
    what = _NAMES[found.objective]
    together = f", together {db_text(found.costs_db)}" if len(parts) == 2 else ""
    aimed = "; placed so that this is least" if scenario.aim.at_worst else ""
    text = (
        f"{', '.join(parts)}{together}: {what} at most {db_text(found.worst_db)} within the "
        f"tolerance, proven{aimed}."
    )
    return "tolerance", text


def _place(height_m: float, x_m: float, unit: Unit) -> str:
    """The sizes of a place's tolerance, each with its direction."""
    sizes = [(height_m, "in height"), (x_m, "in x")]
    return " and ".join(f"{length_text(size, unit)} {way}" for size, way in sizes if size > 0.0)

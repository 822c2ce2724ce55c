"""Every sentence that the summary says, by topic, each with the word that stands before it.

Where it hangs · how even it is · how well that is proven · other choices · loads · tone and level ·
the room · what a small error costs · several loudspeakers.
"""

import math
from collections.abc import Sequence

import numpy as np

from ...base.arrays import FloatArray
from ...base.bands import band_label
from ...base.units import Unit, length_text, tilt_text, x_text
from ...results.answer import Answer, BandFigures, SpeakerAnswer, Together
from ...results.choices import WORTH_DB, Choice, printed
from ...results.explanation import SpeakerExplanation
from ...results.groups import TogetherProof
from .groups import adds_sentence, fill_sentence, pair_sentence
from .words import (
    db_text,
    height_word,
    held_text,
    left_text,
    loudest_softest,
    mass_of_text,
    row_text,
    rows_text,
    rows_within_text,
    ruled_text,
    throw_m,
    tilts_text,
    window_cost_text,
    window_text,
)

Sentence = tuple[str, str]
"""Label and text."""
OBJECTIVES = {
    "spread": "spread",
    "worst band": "spread of the worst band",
    "deviation": "deviation",
}
DETAILS = ("tone", "row by row")
"""What the full summary has beyond the first screen, in a word or two each."""


# Where it hangs and points.


def set_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence:
    """How to set one loudspeaker by itself."""
    rows = answer.scenario.rows.of(answer.scenario.speaker(one.name).serves)
    last = "the last, " if len(rows) and one.aim_row == int(rows[-1]) else ""
    return "SET", f"{_place_text(answer, one)}; {_axis_text(answer, one, last)}"


def datum_sentence(answer: Answer) -> Sentence:
    """What heights and distances are measured from."""
    return "DATUM", answer.scenario.datum


def _place_text(answer: Answer, one: SpeakerAnswer) -> str:
    """ "nose down 8.6°, upright, 0.50 m behind the datum; trim 5.12 m (centre 5.32 m)"."""
    unit = answer.scenario.units
    centre, trim = length_text(one.height_m, unit), length_text(one.trim_m, unit)
    height = f"{height_word(one)} {trim}"
    if one.trim_m != one.height_m:
        height += f" (centre {centre})"
    return f"{tilt_text(one.tilt_deg)}, {one.orientation}, {x_text(one.x_m, unit)}; {height}"


def _axis_text(answer: Answer, one: SpeakerAnswer, last: str = "") -> str:
    throw = throw_m(one)
    if throw is None or one.aim_row is None:
        return "axis on no seating that it serves"
    away = length_text(throw, answer.scenario.units)
    return f"axis on {row_text(answer, one.aim_row)}, {last}{away} away"


# How even it is, and which rows are not.


def evenness_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence:
    """The spread, its ends, and how many rows lie within 3 dB."""
    if one.spread_db is None or one.rows_within_3db_percent is None:
        return "EVENNESS", "unknown: the pattern data do not reach every row"
    alone = answer.curves.alone[one.name]
    loudest, softest = (int(alone.rows[place]) for place in loudest_softest(alone.level_db))
    return "EVENNESS", _spread_text(answer, one, loudest, softest) + left_text(answer, one)


def together_sentence(answer: Answer) -> Sentence:
    """All loudspeakers, all rows."""
    found = answer.together
    if found is None or found.spread_db is None:
        return "TOGETHER", "unknown: the pattern data do not reach every row"
    loudest, softest = loudest_softest(answer.rows.design_level_db)
    return "TOGETHER", _spread_text(answer, found, loudest, softest)


def _spread_text(answer: Answer, of: SpeakerAnswer | Together, loudest: int, softest: int) -> str:
    return (
        f"{db_text(of.spread_db)}: {row_text(answer, loudest)} loudest, "
        f"{row_text(answer, softest)} softest; {rows_within_text(of.rows_within_3db_percent)}"
    )


def band_sentence(by_band: dict[float, BandFigures]) -> Sentence:
    """The spread in each design band."""
    parts = [
        f"{band_label(band)} {db_text(of.spread_db).removesuffix(' dB')}"
        for band, of in by_band.items()
    ]
    return "BY BAND", f"{' · '.join(parts)} dB"


def uneven_sentences(answer: Answer, one: SpeakerAnswer | None) -> list[Sentence]:
    """Which rows are too soft, and which too loud, for one by itself or (None) for all together.

    Nothing where a level is unknown: a mean over the known rows alone would mislead.
    """
    if one is not None:
        if one.spread_db is None:
            return []
        alone = answer.curves.alone[one.name]
        rows, level = alone.rows, alone.level_db
        front = _front_run(answer, one, rows.tolist(), level)
    else:
        if answer.together is None or answer.together.spread_db is None:
            return []
        level = answer.curves.design_db
        rows, front = np.arange(len(level)), []
    soft = [int(row) for row in rows[level < -3.0] if int(row) not in front]
    loud = [int(row) for row in rows[level > 3.0]]
    found: list[Sentence] = []
    if front and one is not None:
        away = abs(float(answer.rows.by_speaker[one.name].off_axis_deg[front[0]]))
        text = f"{rows_text(answer, front)}, {away:.0f}° off the axis: a job for a front fill"
        found.append(("TOO SOFT", text))
    if soft:
        far = ""
        if one is not None:
            distance = float(answer.rows.by_speaker[one.name].distance_m[soft].max())
            up_to = "up to " if len(soft) > 1 else ""
            far = f", {up_to}{length_text(distance, answer.scenario.units)} away"
        found.append(("TOO SOFT", f"{rows_text(answer, soft)}{far}"))
    if loud:
        found.append(("TOO LOUD", rows_text(answer, loud)))
    return found


def _front_run(answer: Answer, one: SpeakerAnswer, rows: list[int], level: FloatArray) -> list[int]:
    """Soft rows from the first row on, in front of the loudspeaker and nearer than its aim."""
    throw, run = throw_m(one), []
    distance = answer.rows.by_speaker[one.name].distance_m
    for row, of in zip(rows, level, strict=True):
        behind = answer.rows.x_m[row] < one.x_m
        if not of < -3.0 or behind or throw is None or distance[row] > throw:
            break
        run.append(row)
    return run


# How well that is proven, and what limits it.


def proof_sentence(answer: Answer, one: SpeakerAnswer, *, brief: bool = False) -> Sentence | None:
    """The best there is, how well that is proven, and what was taken instead; brief: less."""
    best, scenario = one.best, answer.scenario
    if best is None or one.gap_db is None:
        return None
    what = OBJECTIVES[scenario.aim.objective]
    least = f"nothing in your ranges has a {what} below {best.objective_db - one.gap_db:.2f} dB"
    if best.height_m <= one.height_m + 0.005:
        return "PROOF", f"{least}; this has {best.objective_db:.2f} dB"
    if brief:
        return "PROOF", f"{least}; this {'stands' if one.mount == 'stacked' else 'hangs'} lower"
    return "PROOF", (
        f"the least {what} in your ranges is {best.objective_db:.2f} dB "
        f"({length_text(best.height_m, scenario.units)}, {tilt_text(best.tilt_deg)}), proven to "
        f"{max(one.gap_db, 0.01):.2f} dB; this is the lowest place within "
        f"{scenario.aim.lower_if_within_db:g} dB of it"
    )


def alone_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """The best that one of several could do by itself, where all were chosen together."""
    if one.best is None:
        return None
    place = (
        f"{length_text(one.best.height_m, answer.scenario.units)}, {tilt_text(one.best.tilt_deg)}"
    )
    return "by itself", (
        f"aimed for its own rows alone it could reach {one.best.objective_db:.2f} dB ({place})."
    )


_LITTLE_PROVEN_DB = 3.0
"""From here on a proven gap says little."""
_NOTHING_DB = 0.05
_LONG_S = 40
"""Seconds of search worth a try: they bring the shipped hall of four to 0.06 dB for any two."""


def together_proof_sentence(answer: Answer, *, brief: bool = False) -> Sentence | None:
    """What is proven of loudspeakers that were chosen together; brief: for the first screen.

    A loudspeaker with what hangs under it is aimed as one: its proof is that of both.
    """
    together = answer.together
    proof = None if together is None else together.proof
    if together is None or proof is None:
        aimed = _aimed(answer)
        return proof_sentence(answer, aimed[0]) if len(aimed) == 1 else None
    parts = [_brief_proof(proof) if brief else _full_proof(proof)]
    if not brief and together.one_by_one_db is not None:
        parts.append(f"aimed one by one they would come to {db_text(together.one_by_one_db)}")
    if not brief and together.coherent_spread_db is not None:
        parts.append(
            f"with the phase of their arrivals counted they come to "
            f"{db_text(together.coherent_spread_db)}"
        )
    higher = together.higher_ceilings
    if higher is not None:
        if together.spread_db is not None and _gains_nothing(answer, together.spread_db):
            parts.append("higher ceilings: no gain" if brief else "higher ceilings gain nothing")
        else:
            would = ":" if brief else " would give"
            parts.append(
                f"ceilings {higher.by_db:g} dB higher{would} {db_text(higher.objective_db)}"
            )
    return "PROOF", "; ".join(parts)


def _aimed(answer: Answer) -> list[SpeakerAnswer]:
    """Those that do not hang under another."""
    return [one for one in answer.speakers if one.hung_under is None]


def _gains_nothing(answer: Answer, spread_db: float) -> bool:
    """Whether higher ceilings leave the spread what it is."""
    higher = answer.together.higher_ceilings if answer.together else None
    spread = answer.scenario.aim.objective == "spread"
    return spread and higher is not None and spread_db - higher.objective_db < _NOTHING_DB


def _brief_proof(proof: TogetherProof) -> str:
    """As far as it closes, in one line; else step by step, in two."""
    if proof.gap_db is not None and proof.gap_db <= proof.each_alone_gap_db + _NOTHING_DB:
        return f"nothing in your ranges is {proof.gap_db:.2f} dB better"
    text = f"moving any one gains at most {proof.each_alone_gap_db:.2f} dB"
    if proof.pairs_gap_db is not None:
        text += f", two neighbours {proof.pairs_gap_db:.2f} dB"
    if proof.gap_db is None or proof.gap_db > _LITTLE_PROVEN_DB:
        return f"{text}, all at once: not proven (try --prove {_LONG_S})"
    return f"{text}, all at once {proof.gap_db:.2f} dB"


def _full_proof(proof: TogetherProof) -> str:
    parts = []
    if proof.gap_db is not None:
        parts.append(_nothing_better(proof.gap_db))
    else:
        parts.append(
            "whether other places in your ranges are better is not proven (a longer search: "
            f"--prove {_LONG_S})"
        )
    if proof.gains_gap_db is not None:
        parts.append(f"other gains would gain at most {proof.gains_gap_db:.2f} dB")
    parts.append(f"moving any one of them, at most {proof.each_alone_gap_db:.2f} dB")
    if proof.pairs_gap_db is not None:
        parts.append(f"moving two neighbours, at most {proof.pairs_gap_db:.2f} dB")
    return "; ".join(parts)


def _nothing_better(gap_db: float) -> str:
    if gap_db > _LITTLE_PROVEN_DB:
        return f"other places may be better by up to {gap_db:.1f} dB: the search was not finished"
    return f"nothing in your ranges is better by more than {gap_db:.2f} dB"


def held_by_sentence(answer: Answer) -> Sentence | None:
    """The loudspeaker whose distances alone keep the loudest and the softest row apart.

    Nothing where higher ceilings would help: then a gain mends it.
    """
    together = answer.together
    held = None if together is None else together.held_by
    if together is None or together.spread_db is None or together.proof is None:
        return None
    if not _gains_nothing(answer, together.spread_db):
        return None
    if held is None or held.speaker is None or held.near_row is None or held.far_row is None:
        return None
    away = answer.rows.by_speaker[held.speaker].distance_m
    near, far = (
        f"{length_text(float(away[row]), answer.scenario.units)} from {row_text(answer, row)}"
        for row in (held.near_row, held.far_row)
    )
    return "HELD BY", (f"{held.speaker}, {near} (loud) and {far} (soft): no gain mends that")


def within_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """How far tilt and height may be off."""
    window, unit = one.window, answer.scenario.units
    if window is None:
        return None
    ruled = ruled_text(one, unit)
    cost = window_cost_text(window, several=len(answer.speakers) > 1)
    return "SET WITHIN", f"{window_text(one, unit)}, {cost}{f'; {ruled}' if ruled else ''}"


def limits_sentence(one: SpeakerAnswer, unit: Unit) -> Sentence | None:
    """Which limits keep the answer from being better."""
    held = held_text(one, unit)
    return None if held is None else ("limits", f"what keeps the best from being better: {held}.")


def last_row_sentence(one: SpeakerAnswer, told: SpeakerExplanation | None) -> Sentence:
    """Against the common practice of the axis on the last row."""
    if told is None or not told.held_at_last_row:
        there = tilt_text(one.shortcut.tilt_deg)
        if there == tilt_text(one.tilt_deg):
            return "last row", "the axis is on the last row."
        return "last row", (
            f"with the axis on the last row from here ({there}) the spread would be "
            f"{db_text(one.shortcut.spread_db)}."
        )
    past = [step for step in told.past_last_row if step.above_last_row_deg > 0.0]
    best = min(past, key=lambda step: step.spread_db, default=None)
    text = "the axis is on the last row, where `axis_on_audience` holds it"
    if best is None or one.spread_db is None or best.spread_db >= one.spread_db:
        return "last row", f"{text}; past it the spread is no smaller."
    return "last row", (
        f"{text}; {best.above_last_row_deg:g}° past it the spread would be "
        f"{db_text(best.spread_db)}, and the last row would get "
        f"{_change_text(best.last_row_change_db)}."
    )


def _change_text(change_db: float) -> str:
    """ "0.3 dB less than now", "as much as now"."""
    if abs(change_db) < 0.05:
        return "as much as now"
    return f"{db_text(abs(change_db))} {'more' if change_db > 0.0 else 'less'} than now"


# Other choices: what they buy and cost.

_FIRST = 4
"""So many stand on the first screen: front rows, axis, evenest and turned come before others."""


def better_choices(answer: Answer, one: SpeakerAnswer | None) -> list[Sentence]:
    """Choices that are much better in spread or rows, with what takes them: for first reading.

    A price is told where it is as large as what makes a choice worth a look.

    one: whose; None for those of all loudspeakers
    """
    mine = printed(answer.choices, speaker=None if one is None else one.name)
    found = []
    for choice in mine[1:]:
        if choice.kind == "best" or choice.worth(mine[0]) < 1.0:
            continue
        text = f"{choice.name}: {db_text(choice.spread_db)}"
        softer = _softer_db(choice, mine[0])
        if (choice.spread_db or 0.0) > (mine[0].spread_db or 0.0):
            text += f" with {rows_within_text(choice.rows_within_3db_percent)}"
        elif softer >= WORTH_DB:
            text += f", but the softest row {db_text(softer)} softer"
        found.append(("CHOICES", f"{text} ({choice.set_text})"))
    return found[:_FIRST]


def choice_sentences(answer: Answer, one: SpeakerAnswer | None) -> list[Sentence]:
    """The other choices for one loudspeaker, or for all, a line each; the label stands once."""
    mine = printed(answer.choices, speaker=None if one is None else one.name)
    return [
        ("" if place else "choices", f"{_choice_text(answer, choice, mine[0])}.")
        for place, choice in enumerate(mine[1:])
    ]


def _choice_text(answer: Answer, choice: Choice, taken: Choice) -> str:
    """ "2 front rows left to a fill: 3.3 dB at nose down 14.3°, centre 7.18 m", and its price."""
    rows = rows_within_text(choice.rows_within_3db_percent)
    text = f"{choice.name}: {db_text(choice.spread_db)}, {rows}"
    if choice.tilt_deg is not None and choice.height_m is not None:
        height = length_text(choice.height_m, answer.scenario.units)
        text += f", at {tilt_text(choice.tilt_deg)}, centre {height}"
    softer = _softer_db(choice, taken)
    if softer <= -0.05:  # less is printed as nothing
        text += f", the softest row {db_text(-softer)} louder"
    prices = {
        "range": "lies outside your ranges",
        "worst case": f"within the tolerance may come to {db_text(choice.worst_db)}",
        "softest row": f"makes the softest row {db_text(softer)} softer",
        "sound that misses": f"sends {_share_text(choice.misses_percent)} of its sound past the "
        "seats",
    }
    price = _listed([told for cost, told in prices.items() if cost in choice.costs])
    text = f"{text}, but {price}" if price else text
    return f"{text} ({choice.set_text})" if choice.set else text


def _softer_db(choice: Choice, taken: Choice) -> float:
    """How much softer the softest row would be; 0 where that is unknown."""
    if taken.softest_db is None or choice.softest_db is None:
        return 0.0
    return taken.softest_db - choice.softest_db


def _listed(parts: list[str]) -> str:
    """ "a, b and c"."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))


def explained(answer: Answer, told: SpeakerExplanation) -> list[Sentence]:
    """What other choices would buy and cost, the weightiest first."""
    found = [
        beyond_sentence(told),
        _distance(answer, told),
        _front(answer, told),
        flip_sentence(told),
    ]
    return [said for said in found if said is not None]


def _distance(answer: Answer, told: SpeakerExplanation) -> Sentence | None:
    if not told.mostly_distance:
        return None
    text = (
        f"distance and air alone make the rows differ by {told.distance_loss_db:.1f} dB, whatever "
        "the tilt"
    )
    if told.helping_height_m is not None:
        helping = length_text(told.helping_height_m, answer.scenario.units)
        return "distance", f"{text}; hung at {helping} or higher it would be 1 dB better."
    return "distance", f"{text}; no height nearby helps."


_PRICE_ABOVE = "spread {}, the last row {}, {} of the sound past the seats"


def beyond_sentence(told: SpeakerExplanation) -> Sentence | None:
    """The price of pointing over the audience's heads."""
    steps = [step for step in told.past_last_row if step.above_last_row_deg > 0.0][:3]
    if not steps:
        return None
    parts = [
        f"by {step.above_last_row_deg:g}°: {_PRICE_ABOVE if place == 0 else '{}, {}, {}'}".format(
            db_text(step.spread_db),
            db_text(step.last_row_change_db, signed=True),
            _share_text(step.missed_share_percent),
        )
        for place, step in enumerate(steps)
    ]
    return "aim higher", f"aimed above the last row {'; '.join(parts)}."


def _front(answer: Answer, told: SpeakerExplanation) -> Sentence | None:
    if len(told.front_rows) < 2:
        return None
    none, *some = told.front_rows
    left = next(one for one in answer.speakers if one.name == told.speaker).left_to_fill
    more = "" if left is None else " more"
    parts = [
        f"{one.spread_db:.1f} dB for {one.given_away}{more} row{'s' * (one.given_away > 1)}"
        if one is some[0]
        else f"{one.spread_db:.1f} for {one.given_away}"
        for one in some
    ]
    all_ = "all rows" if left is None else f"all but {rows_text(answer, sorted(left.rows))}"
    text = (
        f"the best spread over {all_} is {none.spread_db:.1f} dB; with{more} front rows left to a "
        f"front fill it is {', '.join(parts)}"
    )
    if told.knee is None:
        return "front rows", f"{text}; leaving any{more} gains little."
    knee = next(one for one in told.front_rows if one.given_away == told.knee)
    gains = f"leaving {told.knee}{more} is worth most ({tilt_text(knee.tilt_deg)})"
    return "front rows", f"{text}; {gains}."


def _share_text(percent: float | None) -> str:
    return "an unknown share" if percent is None or math.isnan(percent) else f"{percent:.0f} %"


# What holds it.


def loads_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """What each point bears, as a mass, and its share of the allowed load; or when a stack tips."""
    unit = answer.scenario.units
    if one.loads is not None:
        parts, of = [], " of the allowed load"
        for point in one.loads.points:
            used = "" if point.utilisation is None else f" ({100.0 * point.utilisation:.0f} %{of})"
            parts.append(f"{point.name} {mass_of_text(point.tension_n, unit)}{used}")
            of = ""
        return "LOADS", ", ".join(parts)
    if one.stack is not None:
        front, rear = (edge.tip_deg for edge in (one.stack.front, one.stack.rear))
        return (
            "STANDS",
            f"it would tip forwards on a slope of {front:.0f}°, backwards on {rear:.0f}°",
        )
    return None


# Tone, absolute level, other shapes of pattern, flipping.

_WEIGHTED = {"A": "dB, A-weighted,", "Z": "dB, unweighted,"}


def tone_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """The worst change of tone over the audience, and where lower bands are not known."""
    tone = one.tone
    if tone is None or tone.range_db is None:
        return None
    low, high = band_label(tone.low_hz), band_label(tone.high_hz)
    text = f"{high} against {low} changes by {tone.range_db:.1f} dB over the rows"
    if tone.worst_change_db is not None and tone.worst_row is not None:
        duller = tone.rows.change_db[list(tone.rows.row).index(tone.worst_row)] < 0.0
        text = (
            f"{row_text(answer, tone.worst_row)} hears it {'dullest' if duller else 'brightest'}: "
            f"{high} against {low} is {tone.worst_change_db:.1f} dB "
            f"{'lower' if duller else 'higher'} than at the aim point"
        )
    nominal = answer.scenario.speaker(one.name).nominal
    if nominal is not None and nominal.control_from_hz is None:
        text += "; lower bands are not known, since control_from_hz is not given"
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
        text = f"{name} at the greatest level gives {level:.1f} {unit} at {row}, the softest"
        if greatest.headroom_db is not None:
            word = "more" if greatest.headroom_db >= 0.0 else "less"
            text += (
                f": {abs(greatest.headroom_db):.1f} dB {word} than the {output.target_db:g} dB "
                "wanted"
            )
        if greatest.limited_by_hz is not None:
            text += f"; {band_label(greatest.limited_by_hz)} reaches its limit first"
        parts.append(text)
    if one_watt is not None and one_watt.softest is not None:
        row = row_text(answer, one_watt.softest.row)
        level = one_watt.softest.level_db
        text = f"1 W of {name} gives {level:.1f} {unit} at {row}"
        if one_watt.needed_w is not None:
            text += f"; {output.target_db:g} dB there takes {_watts(one_watt.needed_w)}"
        parts.append(text)
    return ("level", f"{'; '.join(parts)}.") if parts else None


def _watts(power_w: float) -> str:
    """ "0.35 W", "48 W", "1200 W": two figures, as an amplifier is chosen."""
    return f"{float(f'{power_w:.2g}'):g} W"


def lobe_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """What other shapes with the same coverage angle would give."""
    family = one.lobe_family
    if family is None or family.spread_db is None:
        return None
    parts = [
        f"{db_text(lobe.spread_db)} with a {lobe.lobe} lobe"
        if place == 0
        else f"{db_text(lobe.spread_db)} with a {lobe.lobe} one"
        for place, lobe in enumerate(family.lobes)
    ]
    text = "only the coverage angle is known"
    here = "the spread here is"
    if beyond := list(family.beyond_rows):
        text += f", which says nothing of {rows_text(answer, beyond)}, beyond its edges"
        here = f"without {'that row' if len(beyond) == 1 else 'those rows'} {here}"
    low, high = family.spread_db
    wrong = f"with the angle up to {family.doubt_percent:g} % wrong"
    all_ = wrong if family.doubt_percent else "in all"
    text += f"; {here} {', '.join(parts)}; {all_} it lies between {low:.1f} and {high:.1f} dB"
    if family.best_tilt_deg is not None:
        text += f"; the best tilt is {tilts_text(*family.best_tilt_deg)}"
    return "pattern", f"{text}."


def flip_sentence(told: SpeakerExplanation) -> Sentence | None:
    """What flipping wins or loses, per band."""
    if len(told.flips) < 2:
        return None
    parts = [f"{one.orientation} {one.spread_db:.1f} dB" for one in told.flips]
    first, second = told.flips[:2]
    gains = [
        f"{band_label(band)} {second.band_spread_db[band] - spread:+.1f}".replace("-", "−")
        for band, spread in first.band_spread_db.items()
        if math.isfinite(spread) and math.isfinite(second.band_spread_db[band])
    ]
    return "flipping", (
        f"the best spread is {', '.join(parts)}; {second.orientation} against "
        f"{first.orientation}, band by band, it changes by {', '.join(gains)} dB."
    )


# The room: where sound lands, what surfaces send back, who sees what.

_NAMED_PERCENT = 5.0
"""Surfaces that get less are not named."""


def lands_sentence(one: SpeakerAnswer) -> Sentence | None:
    """Which share of its sound in the section lands where."""
    lands = one.lands_percent
    if lands is None or lands.beneath_floors is None or lands.nowhere is None:
        return None
    seating = sum(of or 0.0 for of in lands.seating.values())
    text = f"{seating:.0f} % of its sound in the section lands on seating"
    if lands.surface:
        each = {name: of or 0.0 for name, of in lands.surface.items()}
        most = sorted(each, key=lambda name: -each[name])[:3]
        named = [f"{name} {each[name]:.0f} %" for name in most if each[name] >= _NAMED_PERCENT]
        text += f", {sum(each.values()):.0f} % on surfaces"
        text += f" ({', '.join(named)})" if named else ""
    if lands.beneath_floors >= 1.0:
        text += f", {lands.beneath_floors:.0f} % on the undersides of floors"
    return "where to", f"{text}; {lands.nowhere:.0f} % leaves the section."


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
            texts.append(f"no first reflection in the section reaches {point.name}")
            continue
        worst = max(here, key=lambda index: float(level[index]))
        texts.append(
            f"{found.surface[worst]} sends sound to {point.name} "
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
    parts = [f"the front row sees it {room.front_elevation_deg:.0f}° above the horizontal"]
    if room.hides_focus_from is not None and scenario.speaker(one.name).cabinet is not None:
        lost = list(room.hides_focus_from)
        parts.append(
            f"it hides the focus from {rows_text(answer, lost)}"
            if lost
            else "it hides the focus from nobody"
        )
    if room.over_heads_m is not None:
        parts.append(f"it hangs {length_text(room.over_heads_m, unit)} over heads")
    if room.nearest_surface is not None:
        near = room.nearest_surface
        parts.append(f"it is {length_text(near.distance_m, unit)} from {near.name}")
    return "view", "; ".join(parts) + "."


# What a degree and a hand's breadth cost.


def tolerance_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """None where the scenario gives no tolerance."""
    found, unit = one.tolerance, answer.scenario.units
    if found is None:
        return None
    parts = []
    if found.tilt_deg > 0.0:
        parts.append(f"{found.tilt_deg:g}° off in tilt costs {db_text(found.tilt_costs_db)}")
    if place := _sizes_text(found.height_m, found.x_m, unit):
        parts.append(f"{place} {db_text(found.place_costs_db)}")
    if not parts:
        return None
    together = f", both {db_text(found.costs_db)}" if len(parts) == 2 else ""
    aimed = "; this place makes that least" if answer.scenario.aim.at_worst else ""
    return "tolerance", (
        f"{', '.join(parts)}{together}: within the tolerance the {OBJECTIVES[found.objective]} is "
        f"at most {db_text(found.worst_db)}, proven{aimed}."
    )


def _sizes_text(height_m: float, x_m: float, unit: Unit) -> str:
    """The sizes of a place's tolerance, each with its direction."""
    sizes = [(height_m, "in height"), (x_m, "in x")]
    return " and ".join(f"{length_text(size, unit)} {way}" for size, way in sizes if size > 0.0)


# What the full summary says beyond the first screen, loudspeaker by loudspeaker.


def details_of(answer: Answer) -> list[tuple[str, list[Sentence]]]:
    """(name, sentences) of each; the name is empty where there is one loudspeaker alone."""
    found = []
    several = len(answer.speakers) > 1
    if said := choice_sentences(answer, None):
        found.append(("all together", said))
    jointly = answer.together is not None and answer.together.proof is not None
    each_proven = not jointly and len(_aimed(answer)) > 1
    for place, one in enumerate(answer.speakers):
        told = answer.explanation.speakers[place] if answer.explanation else None
        alone: Sequence[Sentence | None] = ()
        if several:
            alone = (
                ("alone", evenness_sentence(answer, one)[1]),
                within_sentence(answer, one),
                alone_sentence(answer, one) if jointly else None,
                proof_sentence(answer, one) if each_proven else None,
                fill_sentence(answer, one),
                pair_sentence(one),
                adds_sentence(one, answer),
            )
        chosen = [
            *alone,
            last_row_sentence(one, told),
            None if jointly else limits_sentence(one, answer.scenario.units),
            *choice_sentences(answer, one),
            *(explained(answer, told) if told else ()),
            lobe_sentence(answer, one),
            tolerance_sentence(answer, one),
            level_sentence(answer, one),
            tone_sentence(answer, one),
            points_sentence(answer, one),
            sight_sentence(answer, one),
            lands_sentence(one),
        ]
        sentences = [(said[0].lower(), said[1]) for said in chosen if said is not None]
        found.append((one.name if several else "", sentences))
    return found

"""The few figures that go on every drawing, and the words that never leave it."""

from ...base.units import length_text, tilt_text, x_text
from ...results.answer import Answer, SpeakerAnswer
from ...scenario.scenario import Scenario
from ..text import words as say
from ..text.groups import pair_sentence, setting_text
from . import style as look

Line = tuple[str, str, str]
"""Text, weight, colour."""


def key_figures(answer: Answer) -> list[Line]:
    """What stops first, then loudspeaker by loudspeaker; shorter where there are several."""
    lines: list[Line] = [
        (f"STOP: {one.text}", "bold", look.STOP)
        for one in answer.cautions
        if one.severity == "stop"
    ]
    several = len(answer.speakers) > 1
    if several and answer.together is not None:
        together = f"Together: spread {say.db_text(answer.together.spread_db)} over all rows"
        lines.append((together, "bold", look.INK))
    for index, one in enumerate(answer.speakers):
        ink = look.nth(look.SPEAKER_INKS, index) if several else look.INK
        head = f"{one.name}: {tilt_text(one.tilt_deg)}, {one.mount}, {one.orientation}"
        lines.append((head, "bold", ink))
        texts = _whole(answer, one)
        if several:
            texts = _short(answer.scenario, one, crowded=len(answer.speakers) > _ROOMY)
        lines += [(text, "normal", look.INK) for text in texts]
    return lines


def standing_text(answer: Answer) -> str:
    """The plain cautions that go on every drawing, one after another, with what was assumed."""
    plain = [
        one.text for one in answer.cautions if one.code in ("no-rigging-design", "section-only")
    ]
    assumed = [
        f"{one.speaker}: {one.text}." for one in answer.cautions if one.code == "body-assumed"
    ]
    return " ".join([*plain, *assumed, f"aiming {answer.version}."])


_ROOMY = 3
"""Of more loudspeakers than these, two lines each have room."""


def _short(scenario: Scenario, one: SpeakerAnswer, *, crowded: bool) -> list[str]:
    unit = scenario.units
    place = f"centre {length_text(one.height_m, unit)}, {say.from_datum_text(one.x_m, unit)}"
    throw = say.throw_m(one)
    if throw is not None:
        place += f"; throw {length_text(throw, unit)}"
    tilts = "" if one.window is None else f"; set within {say.tilts_text(*one.window.tilt_deg)}"
    setting, pair = setting_text(one), pair_sentence(one)
    more = [setting] if setting is not None else []
    if pair is not None:
        more.append(pair[1].removesuffix("."))
    alone = f"by itself {say.db_text(one.spread_db)}"
    return [place, "; ".join([*more, alone])] if crowded else [place, *more, f"{alone}{tilts}"]


def _whole(answer: Answer, one: SpeakerAnswer) -> list[str]:
    unit = answer.scenario.units
    texts = [
        f"acoustic centre {length_text(one.height_m, unit)} above the datum, "
        f"{x_text(one.x_m, unit)}"
    ]
    if one.trim_m != one.height_m:
        texts.append(f"trim (lowest point of the cabinet) {length_text(one.trim_m, unit)}")
    throw = say.throw_m(one)
    if throw is None or one.aim_row is None:
        texts.append("the axis meets no seating that it serves")
    else:
        row = say.row_text(answer, one.aim_row)
        texts.append(f"throw {length_text(throw, unit)}, to the ears of {row}")
    window = say.window_text(one, unit)
    if window is not None and one.window is not None:
        texts.append(f"set within {window}, {say.window_cost_text(one.window, several=False)}")
        if ruled := say.ruled_text(one, unit):
            texts.append(ruled)
    texts.append(
        f"spread {say.db_text(one.spread_db)}, worst band {say.db_text(one.worst_band_spread_db)}; "
        f"{say.rows_within_text(one.rows_within_3db_percent)}{say.left_text(answer, one)}"
    )
    if one.gap_db is not None and one.best is not None:
        best = say.db_text(one.best.objective_db)
        texts.append(f"best in your ranges {best}, proven to {one.gap_db:.2f} dB")
    held = say.held_text(one, unit)
    if held is not None:
        texts.append(f"what limits it: {held}")
    return texts

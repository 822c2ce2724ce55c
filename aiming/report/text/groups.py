"""What a loudspeaker is set to among others, and what it adds to them, in words."""

from ...results.answer import Answer, SpeakerAnswer
from .words import db_text, row_text

Sentence = tuple[str, str]
"""Label and text."""


def setting_text(one: SpeakerAnswer) -> str | None:
    """ "gain −10.9 dB, delay 59.7 ms" of a fill, or of any that is delayed; None for others."""
    if one.match is None and one.delay_ms == 0.0:
        return None
    return f"gain {db_text(one.gain_db, signed=True)}, delay {one.delay_ms:.1f} ms"


def fill_sentence(answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """Gain and delay of a fill, and how it meets its main at the handover row."""
    match = one.match
    if match is None:
        return None
    text = f"it fills for {match.main}"
    level, time = match.handover_re_main_db, match.handover_after_main_ms
    if match.handover_row is not None and level is not None and time is not None:
        row = row_text(answer, match.handover_row)
        text += (
            f"; at {row}, its handover row, it is {_level_text(level, match.main)} and "
            f"{abs(time):.1f} ms {'later' if time >= 0.0 else 'earlier'}"
        )
        if match.at_ceiling:
            text += "; its ceiling lets it be no louder"
    return "fills", text + "."


def pair_sentence(one: SpeakerAnswer) -> Sentence | None:
    """A loudspeaker and the one under it, which are aimed together."""
    pair = one.pair
    if pair is None:
        return None
    within = pair.rows_within_3db_percent
    share = "" if within is None else f", {within:.0f} % of rows within ±3 dB"
    return "pair", (
        f"{pair.under} hangs under it, splay {pair.splay_deg:.1f}°: both together spread "
        f"{db_text(pair.spread_db)} over their rows{share}."
    )


def adds_sentence(one: SpeakerAnswer, answer: Answer) -> Sentence | None:
    """What all would be without it."""
    adds, all_ = one.adds, answer.together
    if adds is None or all_ is None or adds.spread_without_db is None:
        return None
    text = f"without it the spread over all rows would be {db_text(adds.spread_without_db)}"
    without, with_ = adds.rows_within_3db_without_percent, all_.rows_within_3db_percent
    if without is not None and with_ is not None:
        text += f", with {without:.0f} % of rows within ±3 dB instead of {with_:.0f} %"
    return "adds", text + "."


def _level_text(against_db: float, main: str) -> str:
    if abs(against_db) < 0.05:
        return f"as loud as {main}"
    return f"{db_text(abs(against_db))} {'louder' if against_db > 0.0 else 'softer'} than {main}"

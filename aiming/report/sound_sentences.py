"""What the summary says of tone, absolute level, other shapes of lobe and flipping."""

import math

from ..answer.explain import SpeakerExplanation
from ..answer.model import Answer, SpeakerAnswer
from ..bands import band_label
from ..scenario.scenario import Scenario
from .words import db_text, row_text, tilts_text

Sentence = tuple[str, str]
"""Label and text."""
_WEIGHTED = {"A": "dB, A-weighted,", "Z": "dB, unweighted,"}


def tone_sentence(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """The worst tonal change over the audience, and where lower bands are not known."""
    tone = one.tone
    if tone is None or tone.range_db is None:
        return None
    low, high = band_label(tone.low_hz), band_label(tone.high_hz)
    text = f"{high} against {low} changes by {tone.range_db:.1f} dB over the rows"
    if tone.worst_change_db is not None and tone.worst_row is not None:
        duller = tone.change_db[list(tone.row).index(tone.worst_row)] < 0.0
        text = (
            f"worst at {row_text(scenario, answer, tone.worst_row)}: {high} comes "
            f"{tone.worst_change_db:.1f} dB {'softer' if duller else 'louder'} against {low} than "
            "at the aim point"
        )
    nominal = scenario.speaker(one.name).nominal
    if nominal is not None and nominal.control_from_hz is None:
        text += "; lower bands are not known, for want of control_from_hz"
    return "tone", f"{text}."


def level_sentence(scenario: Scenario, answer: Answer, one: SpeakerAnswer) -> Sentence | None:
    """What arrives at the softest row, against the level wanted."""
    output = one.output
    if output is None:
        return None
    name = "pink noise" if output.programme == "pink" else output.programme
    unit, parts = _WEIGHTED[output.weighting], []
    greatest, one_watt = output.greatest, output.one_watt
    if greatest is not None and greatest.softest is not None:
        row = row_text(scenario, answer, greatest.softest)
        level = greatest.total_db[greatest.softest]
        text = f"{name} at the greatest output gives {level:.1f} {unit} at {row} (softest)"
        if greatest.headroom_db is not None:
            word = "over" if greatest.headroom_db >= 0.0 else "under"
            text += f", {abs(greatest.headroom_db):.1f} dB {word} the {output.target_db:g} wanted"
        if greatest.limited_by_hz is not None:
            text += f"; {band_label(greatest.limited_by_hz)} reaches its limit first"
        parts.append(text)
    if one_watt is not None and one_watt.softest is not None:
        row = row_text(scenario, answer, one_watt.softest)
        level = one_watt.total_db[one_watt.softest]
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
